"""The board put together from the ledger: every title, where its sides are, what they wait for, what is late."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from datetime import UTC, datetime
from urllib.parse import quote
from zoneinfo import ZoneInfo

from discwright.desk.csv_words import csv_of, moment_cell
from discwright.desk.dock_words import number_href
from discwright.desk.run_words import run_href
from discwright.desk.shelf import Found
from discwright.desk.works_parts import Badge, BoardRow, FoundRow, NewTitle, Paging, SidePlace
from discwright.desk.works_time import at_words, due_words, now_stamp, since_words, span_words
from discwright.desk.works_words import late_words, state_badge, waits_words
from discwright.errors import CallError
from discwright.works.family import Family
from discwright.works.parts import RUN, is_number_of
from discwright.works.standing import SideStanding
from discwright.works.store import look
from discwright.works.store.backup import last_backup
from discwright.works.store.ledger import Ledger
from discwright.works.store.restore import last_drill

#: After so many days without a good restore the board warns (from memory: a restore a quarter is common practice).
_DRILL_DAYS = 92
#: Columns of the board as CSV; times are in the works' zone, with its offset.
COLUMNS = (
    "catalogue", "title", "edition", "side", "format", "part", "state", "waits_for", "since", "late_from", "late",
    "due", "pressings_made", "pressings_ordered",
)  # fmt: skip


def new_key() -> str:
    """An idempotency key for a form: made here, because browsers make none over plain http."""
    return secrets.token_hex(12)


def title_href(catalogue: str) -> str:
    """Address of a title's family; a catalogue number may hold anything."""
    return f"/works/titles/{quote(catalogue, safe='')}"


def part_href(number: str) -> str:
    """Address of a part's page, or of a run's; empty for neither."""
    if is_number_of(RUN, number):
        return run_href(number)
    return f"/works/parts/{number}" if number else ""


def counts(board: look.Board) -> tuple[Badge, ...]:
    """The whole board in words."""
    late = Badge("warn", f"{board.late_titles} late") if board.late_titles else Badge("ready", "nothing is late")
    finished = board.all_titles - board.open_titles
    return (late, Badge("in-hand", f"{board.open_titles} in the works"), Badge("done", f"{finished} finished"))


def board_rows(board: look.Board, zone: ZoneInfo, now: datetime) -> tuple[BoardRow, ...]:
    """The titles of one page, as the ledger sorts them: late ones first."""
    return tuple(_row(one, zone, now) for one in board.titles)


def _row(one: look.BoardTitle, zone: ZoneInfo, now: datetime) -> BoardRow:
    late = min((side.late_at for side in one.sides if side.late_at), default="")
    places = tuple(side_place(one.family, side, zone, now) for side in one.sides)
    return BoardRow(one.family.title, one.family.name, title_href(one.family.title), late_words(late, now), places)


def side_place(family: Family, side: SideStanding, zone: ZoneInfo, now: datetime) -> SidePlace:
    """Where one side is."""
    due = next((str(one.get("due") or "") for one in family.editions if one["id"] == side.edition), "")
    made = f"{side.pressings} of {side.quantity} pressings" if side.quantity else ""
    return SidePlace(
        side.edition, side.side, side.format, side.part, part_href(side.part), state_badge(side.state),
        waits_words(side.waits_for), since_words(side.since, now), at_words(side.since, zone),
        late_words(side.late_at, now), due_words(due), made,
    )  # fmt: skip


def paging(first: int, shown: int, total: int, address: str) -> Paging:
    """Which titles of how many are shown; `address` ends where the number of the first is to be written."""
    if not shown:
        return Paging("no titles", f"{address}0" if first else "", "")
    earlier = f"{address}{max(0, first - look.PAGE)}" if first else ""
    later = f"{address}{first + look.PAGE}" if first + shown < total else ""
    all_of_them = f"{total} {'title' if total == 1 else 'titles'}"
    words = all_of_them if shown == total else f"titles {first + 1} to {first + shown} of {total}"
    return Paging(words, earlier, later)


def board_csv(ledger: Ledger, finished: bool, zone: ZoneInfo) -> str:
    """The whole board, a line for each side."""
    now = now_stamp(ledger)
    return csv_of(COLUMNS, (_cells(family, side, zone, now) for family, side in _all_sides(ledger, finished)))


def _cells(family: Family, side: SideStanding, zone: ZoneInfo, now: str) -> tuple[object, ...]:
    late = bool(side.late_at) and side.late_at < now
    due = next((str(one.get("due") or "") for one in family.editions if one["id"] == side.edition), "")
    return (
        family.title, family.name, side.edition, side.side, side.format, side.part, state_badge(side.state).words,
        waits_words(side.waits_for), moment_cell(side.since, zone), moment_cell(side.late_at, zone),
        "yes" if late else "no", due_words(due), side.pressings, side.quantity or "",
    )  # fmt: skip


def _all_sides(ledger: Ledger, finished: bool) -> Iterator[tuple[Family, SideStanding]]:
    first, now = 0, now_stamp(ledger)
    while True:
        board = look.board(ledger, now, first=first, finished=finished)
        for one in board.titles:
            for side in one.sides:
                yield one.family, side
        if len(board.titles) < look.PAGE:
            return
        first += look.PAGE


def found_rows(ledger: Ledger, text: str) -> tuple[FoundRow, ...]:
    """Everything a number leads to."""
    return tuple(
        FoundRow(
            one.what, one.shown, one.title, one.part,
            number_href(one.what, one.shown) or part_href(one.part) or title_href(one.title),
        )
        for one in look.search(ledger, text)
    )  # fmt: skip


def new_titles(ledger: Ledger, found: Found) -> tuple[NewTitle, ...]:
    """Titles of the folder that the ledger does not know yet."""
    return tuple(
        NewTitle(one.id, one.title.name, one.title.catalogue, new_key())
        for one in found.titles.values()
        if one.title is not None and one.title.catalogue and not is_taken_in(ledger, one.title.catalogue)
    )


def is_taken_in(ledger: Ledger, catalogue: str) -> bool:
    """The ledger knows a title."""
    try:
        ledger.family(catalogue)
    except CallError:
        return False
    return True


def clock_now(ledger: Ledger) -> datetime:
    """Now, by the ledger's clock."""
    return ledger.clock().astimezone(UTC)


def drill_badge(ledger: Ledger, now: datetime) -> Badge:
    """How old the last good restore is, for a backup that was never restored is none; and how old the last backup."""
    last, kept = last_drill(ledger), last_backup(ledger)
    backup = "no backup was made" if kept is None else f"the last backup was {span_words(_age_s(kept.at, now))} ago"
    if last is None:
        return Badge("warn", f"no restore was ever tried; {backup}")
    age = _age_s(last.at, now)
    state = "ready" if age < _DRILL_DAYS * 86_400 else "warn"
    return Badge(state, f"the last good restore was {span_words(age)} ago; {backup}")


def _age_s(at: str, now: datetime) -> float:
    return (now - datetime.fromisoformat(at)).total_seconds()
