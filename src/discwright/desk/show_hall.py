"""The press hall put together: each press with what is on it, what waits for a first-off, what waits for a press."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from discwright.acts.hall_ledger import kept_schedule
from discwright.desk.csv_words import csv_of
from discwright.desk.hall_forms import Said, said_form
from discwright.desk.hall_parts import (
    PressCard,
    RunLink,
    SaidField,
    SaidForm,
    ScheduleBlock,
    StamperLine,
    StamperSet,
    WaitingRow,
    WaitingSide,
)
from discwright.desk.page_parts import Option
from discwright.desk.run_words import made_words, run_badge, run_href
from discwright.desk.show_board import title_href
from discwright.desk.show_family import part_link
from discwright.desk.show_schedule import schedule_of
from discwright.desk.works_parts import Badge
from discwright.desk.works_time import due_words, since_words
from discwright.desk.works_words import late_words
from discwright.works.allocation import bin_order
from discwright.works.family import Family, Part
from discwright.works.people import Person, may_record
from discwright.works.possible import expected
from discwright.works.run_standing import RunStanding, at_work, run_standing
from discwright.works.standing import standings
from discwright.works.store.ledger import Ledger
from discwright.works.store.look import titles_with_negatives
from discwright.works.yard import Run, edition_code

#: What a press is called that nobody named.
NAMELESS = "Press without a name"
BEGIN = "/hall/begin"
#: Columns of the presses as CSV.
PRESS_COLUMNS = (
    "press", "edition", "title", "side", "stamper", "state", "pressings_made", "press_life_pressings", "run",
    "run_state", "run_made_pressings", "run_planned_pressings",
)  # fmt: skip
#: Columns of what waits for a press as CSV.
WAITING_COLUMNS = (
    "edition", "title", "side", "stamper", "state", "pressings_made", "press_life_pressings", "due",
)  # fmt: skip


def hall_families(ledger: Ledger) -> tuple[Family, ...]:
    """Every title that has something at a press, or that could go to one.

    Parameters
    ----------
    ledger : Ledger
    """
    return tuple(ledger.family(title) for title in titles_with_negatives(ledger))


def run_link(family: Family, run: Run, standing: RunStanding, now: datetime) -> RunLink:
    """A run to go to.

    Parameters
    ----------
    family : Family
    run : Run
    standing : RunStanding
    now : datetime
    """
    percent = min(100, round(100 * run.made / run.planned)) if run.planned else 0
    return RunLink(
        run.id, run_href(run.id), edition_code(family.title, run.edition), family.name or family.title, run.press,
        run_badge(standing), made_words(run), percent, bool(run.planned), since_words(run.last_at, now),
    )  # fmt: skip


def runs_with(family: Family, part: Part, now: datetime) -> tuple[RunLink, ...]:
    """Runs that were pressed with a part, the last begun first.

    Parameters
    ----------
    family : Family
    part : Part
    now : datetime
    """
    own = [run for run in family.yard.runs.values() if part.id in run.stampers.values()]
    return tuple(run_link(family, run, run_standing(family, run), now) for run in reversed(own))


# Presses -----------------------------------------------------------------------------------------------


def at_presses(families: Iterable[Family]) -> dict[str, list[tuple[Family, str, list[Part]]]]:
    """Negatives by press, and in each by edition.

    Parameters
    ----------
    families : iterable of Family

    Returns
    -------
    dict of str to list
        Title, edition and its negatives by side, by the name of the press; presses in the order of their numbers.
    """
    found: dict[str, dict[tuple[str, str], tuple[Family, str, list[Part]]]] = {}
    for family in families:
        for part in family.parts.values():
            if part.state == "at_press":
                own = found.setdefault(part.press, {})
                own.setdefault((family.title, part.edition), (family, part.edition, []))[2].append(part)
    for sets in found.values():
        for _, _, parts in sets.values():
            parts.sort(key=lambda one: (one.side, one.id))
    return {press: list(found[press].values()) for press in sorted(found, key=lambda one: (bin_order(one), one))}


def press_cards(families: Iterable[Family], person: Person, said: Said, now: datetime) -> tuple[PressCard, ...]:
    """Every press that has something on it.

    Parameters
    ----------
    families : iterable of Family
    person : Person
    said : Said
        A form that was sent and not taken.
    now : datetime
    """
    return tuple(
        PressCard(
            f"Press {press}" if press else NAMELESS,
            tuple(_set(family, edition, press, parts, person, said, now) for family, edition, parts in sets),
        )
        for press, sets in at_presses(families).items()
    )


def _set(
    family: Family, edition: str, press: str, parts: list[Part], person: Person, said: Said, now: datetime
) -> StamperSet:
    own = {one.id for one in parts}
    working = [
        run for run in family.yard.runs.values()
        if run.press == press and not own.isdisjoint(run.stampers.values()) and at_work(family, run)
    ]  # fmt: skip
    run = working[-1] if working else None
    code = edition_code(family.title, edition)
    missing = [side for side in _sides(family, edition) if side not in {one.side for one in parts}]
    lacking = f"Side {' and '.join(missing)} is not in this press." if missing else ""
    form = None
    if run is None and not missing and may_record(person, "run_begun"):
        form = begin_form(family, edition, press, parts, person, said)
    return StamperSet(
        code, family.name or family.title, title_href(family.title),
        tuple(stamper_line(family, one) for one in parts),
        run_link(family, run, run_standing(family, run), now) if run is not None else None, lacking, form,
    )  # fmt: skip


def _sides(family: Family, edition: str) -> list[str]:
    return [one.side for one in standings(family) if one.edition == edition]


def stamper_line(family: Family, part: Part) -> StamperLine:
    """A negative with what is used up of its press life."""
    return StamperLine(
        part.side, part_link(part), f"{family.pressings_of(part)} of {family.limits.press_life} pressings"
    )


def begin_form(
    family: Family, edition: str, press: str, parts: list[Part], person: Person, said: Said
) -> SaidForm:  # fmt: skip
    """The form that begins a run with stampers that are at one press.

    Parameters
    ----------
    family : Family
    edition, press : str
    parts : list of Part
        Negatives of this edition at this press.
    person : Person
    said : Said
    """
    code = edition_code(family.title, edition)
    fields = [_stamper_field(family, side, parts) for side in dict.fromkeys(one.side for one in parts)]
    fields += [
        SaidField("planned", "Pressings planned", unit="pressings", number=True),
        SaidField("compound", "Batch of the compound", hint="Printed on its bag"),
    ]
    id_ = f"begin-{parts[0].id}"
    hidden = (("form", id_), ("edition", code), ("press", press))
    where = f"press {press}" if press else "the press"
    return said_form(
        id_, BEGIN, "Begin the run", fields, said, person, hidden=hidden,
        label=f"Begin a run of {code} on {where}",
    )  # fmt: skip


def _stamper_field(family: Family, side: str, parts: list[Part]) -> SaidField:
    options = tuple(
        Option(one.id, f"{one.id}, {family.pressings_of(one)} of {family.limits.press_life}", number == 0)
        for number, one in enumerate(one for one in parts if one.side == side)
    )
    return SaidField(f"stamper-{side}", f"Stamper of side {side}", options=options, needed=True)


def tape_form(person: Person, said: Said) -> SaidForm | None:
    """The form that begins a run of tapes; None for whoever may not."""
    if not may_record(person, "run_begun"):
        return None
    fields = (
        SaidField("edition", "Code of the edition", hint="Catalogue number, slash, id of the edition", needed=True),
        SaidField("press", "Where it is copied", hint="Name of the slaves or the room"),
        SaidField("planned", "Copies planned", unit="copies", number=True),
    )
    return said_form("begin-tape", BEGIN, "Begin the copies", fields, said, person, hidden=(("form", "begin-tape"),))


# What waits --------------------------------------------------------------------------------------------


def first_off_runs(families: Iterable[Family], now: datetime) -> tuple[RunLink, ...]:
    """Runs in a press whose first disc was not inspected, or missed a limit; those that wait longest first."""
    found = []
    for family in families:
        for run in family.yard.runs.values():
            standing = run_standing(family, run)
            if standing.waits[:1] in (("first_off",), ("first_off_missed",)):
                found.append((run.last_at, run_link(family, run, standing, now)))
    return tuple(link for _, link in sorted(found, key=lambda one: (one[0], one[1].id)))


def waiting_parts(families: Iterable[Family]) -> list[tuple[Family, str, dict[str, list[Part]]]]:
    """Negatives that could go to a press now, by edition and side.

    Parameters
    ----------
    families : iterable of Family
    """
    found = []
    for family in families:
        editions: dict[str, dict[str, list[Part]]] = {}
        for part in family.parts.values():
            if part.kind == "stamper" and expected(family, part) == ("put_to_press",):
                editions.setdefault(part.edition, {}).setdefault(part.side, []).append(part)
        found += [(family, edition, sides) for edition, sides in editions.items()]
    return sorted(found, key=lambda one: (_late_at(one[0], one[1]) or "~", one[0].title, one[1]))


def _late_at(family: Family, edition: str) -> str:
    return min((one.late_at for one in standings(family) if one.edition == edition and one.late_at), default="")


def waiting_rows(families: Iterable[Family], now: datetime) -> tuple[WaitingRow, ...]:
    """Editions whose stampers wait for a press, what is due first.

    Parameters
    ----------
    families : iterable of Family
    now : datetime
    """
    return tuple(_waiting(family, edition, sides, now) for family, edition, sides in waiting_parts(families))


def _waiting(family: Family, edition: str, sides: Mapping[str, list[Part]], now: datetime) -> WaitingRow:
    missing = [one for one in _sides(family, edition) if one not in sides]
    badge = Badge("waiting", f"waits for side {' and '.join(missing)}") if missing else Badge("ready", "ready to press")
    return WaitingRow(
        edition_code(family.title, edition), family.name or family.title, title_href(family.title),
        tuple(
            WaitingSide(side, tuple(stamper_line(family, one) for one in parts))
            for side, parts in sorted(sides.items())
        ),
        badge, _due(family, edition), late_words(_late_at(family, edition), now),
    )  # fmt: skip


def _due(family: Family, edition: str) -> str:
    return due_words(next((str(one.get("due") or "") for one in family.editions if one["id"] == edition), ""))


def counts(presses: tuple[PressCard, ...], first_offs: tuple[RunLink, ...], waiting: int) -> tuple[Badge, ...]:
    """The whole hall in words."""
    runs = [one.run for press in presses for one in press.sets if one.run is not None]
    idle = sum(all(one.run is None for one in press.sets) for press in presses)
    told = [Badge("pressing", f"{len(runs)} run{'' if len(runs) == 1 else 's'} in the presses")]
    if first_offs:
        told.append(Badge("waiting", f"{len(first_offs)} wait{'s' if len(first_offs) == 1 else ''} for a first-off"))
    if idle:
        told.append(Badge("unplanned", f"{idle} press{'' if idle == 1 else 'es'} with stampers and no run"))
    recalled = sum(one.badge.state == "stop" for one in runs)
    if recalled:
        told.insert(0, Badge("stop", f"{recalled} of a recalled part"))
    if waiting:
        told.append(Badge("in-hand", f"{waiting} edition{'' if waiting == 1 else 's'} waiting for a press"))
    return tuple(told)


# Tables ------------------------------------------------------------------------------------------------


def press_csv(families: Iterable[Family]) -> str:
    """Every press as CSV, a line for each negative on it."""
    rows: list[tuple[Any, ...]] = []
    for press, sets in at_presses(families).items():
        for family, edition, parts in sets:
            for part in parts:
                runs = [one for one in family.yard.runs.values() if part.id in one.stampers.values()]
                run = next((one for one in reversed(runs) if at_work(family, one)), None)
                rows.append(
                    (press, edition_code(family.title, edition), family.name, part.side, part.id, part.state,
                     family.pressings_of(part), family.limits.press_life)
                    + ((run.id, run_badge(run_standing(family, run)).words, run.made, run.planned or "")
                       if run is not None else ("", "", "", ""))
                )  # fmt: skip
    return csv_of(PRESS_COLUMNS, rows)


def waiting_csv(families: Iterable[Family]) -> str:
    """What waits for a press as CSV, a line for each negative."""
    rows = [
        (edition_code(family.title, edition), family.name, side, part.id, part.state, family.pressings_of(part),
         family.limits.press_life, _due(family, edition))
        for family, edition, sides in waiting_parts(families)
        for side, parts in sorted(sides.items())
        for part in parts
    ]  # fmt: skip
    return csv_of(WAITING_COLUMNS, rows)


#: Id of the form that plans the hall.
PLANNING = "planning"

# The schedule ------------------------------------------------------------------------------------------


def schedule_block(ledger: Ledger) -> ScheduleBlock:
    """The schedule that is kept, with what is late and why; that none is, where none is.

    Parameters
    ----------
    ledger : Ledger
    """
    return schedule_of(kept_schedule(ledger))


def planning_form(person: Person, said: Said) -> SaidForm | None:
    """The form that plans the hall anew; None for who may not.

    Parameters
    ----------
    person : Person
    said : Said
    """
    if not may_record(person, "run_begun"):
        return None
    words = "Plan the hall from where things stand, and go by it"
    return said_form(PLANNING, "/hall/schedule", words, (), said, person, told=False)
