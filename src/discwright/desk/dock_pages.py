"""The contract of every page between stock and dock, as `pages` has them for the folder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from discwright.desk.dock_parts import (
    AccountMissing,
    BinRow,
    DayRow,
    DescentSide,
    EditionStock,
    LineFindingRow,
    LoadedRow,
    OrderRow,
    PromiseRow,
    ReachedRow,
    RecalledRun,
    ScanAnswer,
    VehicleRow,
)
from discwright.desk.packing_parts import AccountWaiting, CartonCard, CartonRow, PackingLink, ShortRow, WalkRow
from discwright.desk.page_parts import Fact, Frame, Option
from discwright.desk.works_parts import Badge, Paging


@dataclass(frozen=True)
class StockPage:
    """What there is, by edition and by bin.

    Attributes
    ----------
    frame : Frame
    facts : tuple of Fact
    asked : str
        What the lists are narrowed to.
    editions : tuple of EditionStock
    bins : tuple of BinRow
    paging : Paging
        Of the editions; the bins are theirs.
    csv_href : str
    """

    template: ClassVar[str] = "dock/stock.html"
    frame: Frame
    facts: tuple[Fact, ...]
    asked: str
    editions: tuple[EditionStock, ...]
    bins: tuple[BinRow, ...]
    paging: Paging
    csv_href: str


@dataclass(frozen=True)
class OrdersPage:
    """Lines of orders, and where a file of them is taken in.

    Attributes
    ----------
    frame : Frame
    filters : tuple of Option
        Address and words of each state.
    state, asked : str
        What the list is narrowed to.
    rows : tuple of OrderRow
    paging : Paging
    csv_href : str
    may_take : bool
    key : str
        For taking a file once.
    said, sentence : str
        What was taken, or why nothing was.
    file : str
        Name of the file that was brought.
    findings : tuple of LineFindingRow
    more : str
        That there are more of them.
    heads : str
        The heads of a file.
    """

    template: ClassVar[str] = "dock/orders.html"
    frame: Frame
    filters: tuple[Option, ...]
    state: str
    asked: str
    rows: tuple[OrderRow, ...]
    paging: Paging
    csv_href: str
    may_take: bool
    key: str
    said: str
    sentence: str
    file: str
    findings: tuple[LineFindingRow, ...]
    more: str
    heads: str


@dataclass(frozen=True)
class PromisesPage:
    """What is promised and what will be late.

    Attributes
    ----------
    frame : Frame
    today : str
    counts : tuple of Badge
    whole : bool
        All promises are listed, not only those in trouble.
    rows : tuple of PromiseRow
    paging : Paging
    days : tuple of DayRow
    """

    template: ClassVar[str] = "dock/promises.html"
    frame: Frame
    today: str
    counts: tuple[Badge, ...]
    whole: bool
    rows: tuple[PromiseRow, ...]
    paging: Paging
    days: tuple[DayRow, ...]


@dataclass(frozen=True)
class PackingPage:
    """The packing bench: what waits, and what was packed last.

    Attributes
    ----------
    frame : Frame
    facts : tuple of Fact
    rule : str
    rules : tuple of Option
        Who comes first where an edition is short.
    rule_words : str
    accounts : tuple of AccountWaiting
    paging : Paging
    short : tuple of ShortRow
    more_short : str
        That there are more of them.
    last : tuple of PackingLink
    may_pack : bool
    may_any : bool
        Something can be packed.
    key : str
    prefix : str
        GS1 prefix of this works; asked for where it is empty.
    dock, countries, own : str
        For everybody, by country, by account.
    per_carton, per_bundle : str
    how : str
        All these in a few words.
    sentence : str
        Why nothing was packed.
    zone : str
    """

    template: ClassVar[str] = "dock/packing.html"
    frame: Frame
    facts: tuple[Fact, ...]
    rule: str
    rules: tuple[Option, ...]
    rule_words: str
    accounts: tuple[AccountWaiting, ...]
    paging: Paging
    short: tuple[ShortRow, ...]
    more_short: str
    last: tuple[PackingLink, ...]
    may_pack: bool
    may_any: bool
    key: str
    prefix: str
    dock: str
    countries: str
    own: str
    per_carton: str
    per_bundle: str
    how: str
    sentence: str
    zone: str


@dataclass(frozen=True)
class PackedPage:
    """One packing: its walks to the bins, its cartons, one of them large.

    Attributes
    ----------
    frame : Frame
    id : str
    facts : tuple of Fact
    badge : Badge
    card : CartonCard or None
        None where only the lists are shown.
    walks : tuple of WalkRow
    more_walks, walks_href : str
        That there are more of them, and where all are.
    cartons : tuple of CartonRow
    paging : Paging
        Of the cartons.
    labels : tuple of Option
        Address and words of each portion.
    papers : tuple of Option
        Page sizes of labels.
    dpi, sender : str
        Of the label printer of this device.
    sentence : str
        What is wrong with what was scanned.
    zone : str
    """

    template: ClassVar[str] = "dock/packed.html"
    frame: Frame
    id: str
    facts: tuple[Fact, ...]
    badge: Badge
    card: CartonCard | None
    walks: tuple[WalkRow, ...]
    more_walks: str
    walks_href: str
    cartons: tuple[CartonRow, ...]
    paging: Paging
    labels: tuple[Option, ...]
    papers: tuple[Option, ...]
    dpi: str
    sender: str
    sentence: str
    zone: str


@dataclass(frozen=True)
class DockPage:
    """Scan to load.

    Attributes
    ----------
    frame : Frame
    dock, vehicle : str
        Empty until they were chosen.
    docks : tuple of Option
        Docks that something is packed for.
    key : str
        Each scan has this with its own number behind it.
    answer : ScanAnswer or None
    missing, held : str
        How many are still to come, and how many are recalled.
    waiting : tuple of AccountMissing
    more_waiting : str
        That there are more of them.
    vehicles : tuple of VehicleRow
    loaded : tuple of LoadedRow
    day, zone : str
    may_load : bool
    """

    template: ClassVar[str] = "dock/dock.html"
    frame: Frame
    dock: str
    vehicle: str
    docks: tuple[Option, ...]
    key: str
    answer: ScanAnswer | None
    missing: str
    held: str
    waiting: tuple[AccountMissing, ...]
    more_waiting: str
    vehicles: tuple[VehicleRow, ...]
    loaded: tuple[LoadedRow, ...]
    day: str
    zone: str
    may_load: bool


@dataclass(frozen=True)
class RecallsPage:
    """What is recalled, and whom to tell; or whom a recall would reach.

    Attributes
    ----------
    frame : Frame
    asked : str
        Number of the part or run; empty for all that is recalled.
    sentence : str
        Why there is nothing.
    counts : tuple of Badge
    runs : tuple of RecalledRun
    rows : tuple of ReachedRow
    csv_href : str
    """

    template: ClassVar[str] = "dock/recalls.html"
    frame: Frame
    asked: str
    sentence: str
    counts: tuple[Badge, ...]
    runs: tuple[RecalledRun, ...]
    rows: tuple[ReachedRow, ...]
    csv_href: str


@dataclass(frozen=True)
class CartonPage:
    """Where a carton, or each carton of a bundle, goes and comes from.

    Attributes
    ----------
    frame : Frame
    what, sscc : str
        Carton or bundle, and its number to be read aloud.
    badge : Badge
    facts : tuple of Fact
    links : tuple of Option
        Order, run, packing, title: address and words.
    sides : tuple of DescentSide
    recalled, recalled_href : str
        Number of what was recalled, where something was.
    cartons : tuple of CartonRow
        Of a bundle; the other cartons of the carton's own.
    """

    template: ClassVar[str] = "dock/carton.html"
    frame: Frame
    what: str
    sscc: str
    badge: Badge
    facts: tuple[Fact, ...]
    links: tuple[Option, ...]
    sides: tuple[DescentSide, ...]
    recalled: str
    recalled_href: str
    cartons: tuple[CartonRow, ...]


DocksPage = StockPage | OrdersPage | PromisesPage | PackingPage | PackedPage | DockPage | RecallsPage | CartonPage
DOCK_PAGES: tuple[type[DocksPage], ...] = (
    StockPage, OrdersPage, PromisesPage, PackingPage, PackedPage, DockPage, RecallsPage, CartonPage,
)  # fmt: skip
