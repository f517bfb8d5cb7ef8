"""Where a title's discs stand, from the press to the dock: runs and their lots, bins, orders, cartons."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from discwright.works.order_lines import OrderLine, StockLine

_REFUSED = "refused"


@dataclass(frozen=True)
class Lot:
    """Discs of a run that were inspected together.

    Attributes
    ----------
    number : int
        Within the run, from 1.
    count : int
    verdict : str
        ``"accepted"`` or ``"refused"``.
    results : tuple of dict
        Plan and result of each class of defects.
    defects : tuple of dict
        What was seen.
    scrapped : int
        Bad discs of the sample.
    disposition : str
        What became of a refused lot; empty while nobody decided.
    good : int
        Discs that count: all but the scrapped ones of an accepted lot, what a decision left of a refused one.
    level : str
        Inspection level.
    seq : int
        Line it was inspected at.
    at : str
    unsteady, reduced_agreed : str
        Why production is not steady; who agrees to reduced inspection.
    """

    number: int
    count: int
    verdict: str
    results: tuple[dict[str, Any], ...] = ()
    defects: tuple[dict[str, Any], ...] = ()
    scrapped: int = 0
    disposition: str = ""
    good: int = 0
    level: str = ""
    seq: int = 0
    at: str = ""
    unsteady: str = ""
    reduced_agreed: str = ""

    @property
    def held(self) -> int:
        """Discs that nobody has decided about."""
        return self.count - self.scrapped if self.verdict == _REFUSED and not self.disposition else 0


@dataclass(frozen=True)
class Run:
    """What one set of stampers made in one press.

    Attributes
    ----------
    id, edition, press, compound : str
    stampers : dict of str to str
        Number of the stamper of each side.
    planned, made, good : int
    first_off : str
        ``"pass"``, ``"stop"`` or empty.
    lots : tuple of Lot
    bins : dict of str to int
        Discs in each bin.
    packed, out : int
        Discs in cartons (sent or not), and taken out of stock otherwise.
    verdict : str
        ``"recalled"`` where the run itself was.
    begun : int
        Line it began at.
    begun_at, last_at : str
    """

    id: str
    edition: str
    press: str = ""
    compound: str = ""
    stampers: dict[str, str] = field(default_factory=dict)
    planned: int = 0
    made: int = 0
    good: int = 0
    first_off: str = ""
    lots: tuple[Lot, ...] = ()
    bins: dict[str, int] = field(default_factory=dict)
    packed: int = 0
    out: int = 0
    verdict: str = ""
    begun: int = 0
    begun_at: str = ""
    last_at: str = ""

    @property
    def to_inspect(self) -> int:
        """Good discs that are in no lot yet."""
        return self.good - sum(one.count for one in self.lots)

    @property
    def held(self) -> int:
        """Discs of refused lots that nobody has decided about."""
        return sum(one.held for one in self.lots)

    @property
    def stocked(self) -> int:
        """Discs in bins."""
        return sum(self.bins.values())

    @property
    def to_stock(self) -> int:
        """Discs of accepted lots that are in no bin yet."""
        return sum(one.good for one in self.lots) - self.stocked - self.packed - self.out


@dataclass(frozen=True)
class Ordered:
    """A line of an order as it stands.

    Attributes
    ----------
    line : OrderLine
    packed, loaded : int
        Discs of it in cartons, and of these in vehicles.
    cancelled : bool
    seq : int
        Line of the ledger it came with.
    at : str
    """

    line: OrderLine
    packed: int = 0
    loaded: int = 0
    cancelled: bool = False
    seq: int = 0
    at: str = ""

    @property
    def open(self) -> int:
        """Discs still to be packed."""
        return 0 if self.cancelled else max(0, self.line.count - self.packed)


@dataclass(frozen=True)
class Packed:
    """A carton as it stands.

    Attributes
    ----------
    sscc, order, account, edition, run : str
    bins : dict of str to int
        How many out of which bin.
    bundle, dock : str
    at, loaded_at, vehicle : str
    opened : bool
        Its discs are back in a bin.
    capacity : int
        Discs of a full one; 0 where nobody said.
    """

    sscc: str
    order: str
    account: str
    edition: str
    run: str
    bins: dict[str, int]
    bundle: str = ""
    dock: str = ""
    at: str = ""
    loaded_at: str = ""
    vehicle: str = ""
    opened: bool = False
    capacity: int = 0

    @property
    def count(self) -> int:
        """Discs in it."""
        return sum(self.bins.values())


@dataclass(frozen=True)
class Restarted:
    """Inspection of a class of defects of an edition was taken up again after a stop."""

    seq: int
    edition: str
    defect_class: str
    why: str


@dataclass(frozen=True)
class Yard:
    """All of a title that is beyond its stampers.

    Attributes
    ----------
    runs : dict of str to Run
    orders : dict of (str) to Ordered
        By :func:`order_key`.
    cartons : dict of str to Packed
        By their SSCC.
    told : tuple of (str, str)
        Accounts, each with the recalled run it was told of.
    restarts : tuple of Restarted
        Inspections that were stopped and taken up again.
    """

    runs: dict[str, Run] = field(default_factory=dict)
    orders: dict[str, Ordered] = field(default_factory=dict)
    cartons: dict[str, Packed] = field(default_factory=dict)
    told: tuple[tuple[str, str], ...] = ()
    restarts: tuple[Restarted, ...] = ()

    def with_run(self, run: Run) -> Yard:
        """The yard with one run as it is now.

        Parameters
        ----------
        run : Run
        """
        return replace(self, runs=self.runs | {run.id: run})

    def stock(self) -> Iterator[StockLine]:
        """What stands in the bins.

        Yields
        ------
        StockLine
            The edition as its run names it.
        """
        for run in self.runs.values():
            for bin_, count in sorted(run.bins.items()):
                if count:
                    yield StockLine(run.edition, run.id, count, bin_)


def order_key(order: str, edition: str) -> str:
    """What a line of an order is known by within a title.

    Parameters
    ----------
    order, edition : str
    """
    return f"{order}\n{edition}"


def edition_code(title: str, edition: str) -> str:
    """What an edition of a title is called on orders, stock lists and cartons.

    Parameters
    ----------
    title : str
        Catalogue number.
    edition : str
    """
    return f"{title}/{edition}" if edition else title


def title_of(code: str) -> tuple[str, str]:
    """Catalogue number and edition of a code.

    Parameters
    ----------
    code : str
        As :func:`edition_code` makes it.

    Returns
    -------
    title, edition : str
    """
    title, slash, edition = code.rpartition("/")
    return (title, edition) if slash else (edition, "")


def yard_from(plain: Mapping[str, Any]) -> Yard:
    """A yard out of plain values, as ``dataclasses.asdict`` makes them.

    Parameters
    ----------
    plain : mapping
    """
    return Yard(
        {id_: _run_from(one) for id_, one in plain.get("runs", {}).items()},
        {key: Ordered(**one | {"line": OrderLine(**one["line"])}) for key, one in plain.get("orders", {}).items()},
        {sscc: Packed(**one) for sscc, one in plain.get("cartons", {}).items()},
        tuple((account, run) for account, run in plain.get("told", ())),
        tuple(Restarted(**one) for one in plain.get("restarts", ())),
    )


def _run_from(plain: dict[str, Any]) -> Run:
    lots = tuple(
        Lot(**one | {"results": tuple(one["results"]), "defects": tuple(one["defects"])}) for one in plain["lots"]
    )
    return Run(**plain | {"lots": lots})
