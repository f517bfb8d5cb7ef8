"""The stock put together: what stands in which bin, what waits, what is held, what is recalled and set aside."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from discwright.desk.dock_parts import BinRow, EditionStock
from discwright.desk.dock_words import discs, number
from discwright.desk.page_parts import Fact
from discwright.desk.run_words import run_href
from discwright.desk.show_board import title_href
from discwright.desk.works_parts import Badge
from discwright.works.allocation import bin_order
from discwright.works.family import Family
from discwright.works.yard import edition_code

MAY, TO_INSPECT, HELD, TO_STOCK, ASIDE = "may be sent", "waits for inspection", "held", "in no bin", "recalled"
#: A shape beside each state of discs that have left the press and are not packed.
STATES = {
    MAY: Badge("ready", MAY), TO_INSPECT: Badge("waiting", TO_INSPECT), HELD: Badge("failed", "held: lot refused"),
    TO_STOCK: Badge("in-hand", "accepted, in no bin yet"), ASIDE: Badge("stop", "recalled: set aside"),
}  # fmt: skip
HEADS = ("edition", "title", "run", "bin", "state", "count_discs")


@dataclass(frozen=True)
class Standing:
    """Discs of one run in one place and state.

    Attributes
    ----------
    edition, name, title, run, bin, state : str
    count : int
    """

    edition: str
    name: str
    title: str
    run: str
    bin: str
    state: str
    count: int


def standings(families: Sequence[Family]) -> list[Standing]:
    """Everything that was pressed and is not packed, by edition, bin and run."""
    found = [one for family in families for one in _of_title(family)]
    return sorted(found, key=lambda one: (bin_order(one.edition), not one.bin, bin_order(one.bin), bin_order(one.run)))


def _of_title(family: Family) -> Iterator[Standing]:
    for run in family.yard.runs.values():
        code, aside = edition_code(family.title, run.edition), bool(family.recalled_for(run))
        places = [(bin_, MAY, count) for bin_, count in run.bins.items()]
        places += [("", TO_INSPECT, run.to_inspect), ("", HELD, run.held), ("", TO_STOCK, run.to_stock)]
        for bin_, state, count in places:
            if count > 0:
                yield Standing(code, family.name, family.title, run.id, bin_, ASIDE if aside else state, count)


def totals(rows: Sequence[Standing], ordered: int) -> tuple[Fact, ...]:
    """The whole stock in a few numbers."""
    count = {state: sum(one.count for one in rows if one.state == state) for state in STATES}
    return (
        Fact("may be sent", number(count[MAY]), "in bins"),
        Fact("waits for inspection", number(count[TO_INSPECT]), "good at the press, in no lot yet"),
        Fact("held", number(count[HELD]), "in refused lots that nobody has decided about"),
        Fact("in no bin yet", number(count[TO_STOCK]), "of accepted lots"),
        Fact("recalled", number(count[ASIDE]), "set aside, wherever it stands"),
        Fact("orders wait for", number(ordered), "discs that are not packed yet"),
    )


def edition_rows(families: Sequence[Family], rows: Sequence[Standing]) -> tuple[EditionStock, ...]:
    """One row for each edition that was pressed or is ordered."""
    ordered: dict[str, int] = {}
    about: dict[str, Family] = {}
    for family in families:
        for run in family.yard.runs.values():
            about[edition_code(family.title, run.edition)] = family
        for one in family.yard.orders.values():
            about[one.line.edition] = family
            ordered[one.line.edition] = ordered.get(one.line.edition, 0) + one.open
    count: dict[tuple[str, str], int] = {}
    for one_place in rows:
        key = one_place.edition, one_place.state
        count[key] = count.get(key, 0) + one_place.count
    return tuple(
        _edition(code, about[code], {state: count.get((code, state), 0) for state in STATES}, ordered.get(code, 0))
        for code in sorted(about, key=bin_order)
    )


def _edition(code: str, family: Family, count: dict[str, int], ordered: int) -> EditionStock:
    short = ordered - count[MAY]
    if short > 0:
        badge = Badge("warn", f"{discs(short)} short")
    else:
        badge = Badge("ready", "enough") if ordered else Badge("stored", "nobody waits")
    return EditionStock(
        code, family.name or family.title, title_href(family.title), number(count[MAY]), number(count[TO_INSPECT]),
        number(count[HELD]), number(count[TO_STOCK]), number(count[ASIDE]), number(ordered), badge,
    )  # fmt: skip


def bin_rows(rows: Sequence[Standing]) -> tuple[BinRow, ...]:
    """Places as a table has them."""
    return tuple(
        BinRow(one.edition, one.run, run_href(one.run), one.bin, number(one.count), STATES[one.state]) for one in rows
    )


def csv_rows(rows: Sequence[Standing]) -> Iterator[tuple[object, ...]]:
    """The same for a file."""
    for one in rows:
        yield one.edition, one.name, one.run, one.bin, one.state, one.count
