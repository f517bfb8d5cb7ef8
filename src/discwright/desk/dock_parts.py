"""What the pages between stock and dock are made of; each number already the text a person reads."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.desk.works_parts import Badge

# Stock and orders --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class EditionStock:
    """What there is of one edition.

    Attributes
    ----------
    code, name, href : str
        Code, name of the title, and address of its family.
    may, to_inspect, held, to_stock, aside : str
        Discs that may be sent, wait for inspection, stand in refused lots, are in no bin yet, are recalled.
    ordered : str
        Discs that orders wait for.
    badge : Badge
        Whether they are enough.
    """

    code: str
    name: str
    href: str
    may: str
    to_inspect: str
    held: str
    to_stock: str
    aside: str
    ordered: str
    badge: Badge


@dataclass(frozen=True)
class BinRow:
    """Discs of one run in one place.

    Attributes
    ----------
    edition, run, run_href : str
    bin : str
        Empty where they are in none.
    count : str
    badge : Badge
        Whether they may be sent.
    """

    edition: str
    run: str
    run_href: str
    bin: str
    count: str
    badge: Badge


@dataclass(frozen=True)
class OrderRow:
    """A line of an order.

    Attributes
    ----------
    number : int
        On its page, from 1.
    order, account, home, edition, edition_href : str
    count, packed, sent : str
    wanted, late : str
        The day, and by how much it is late.
    badge : Badge
    key : str
        For cancelling it once; empty where that cannot be.
    """

    number: int
    order: str
    account: str
    home: str
    edition: str
    edition_href: str
    count: str
    packed: str
    sent: str
    wanted: str
    late: str
    badge: Badge
    key: str


@dataclass(frozen=True)
class LineFindingRow:
    """Something about one line of a file of orders.

    Attributes
    ----------
    line, column, value, severity, remedy : str
    """

    line: str
    column: str
    value: str
    severity: str
    remedy: str


@dataclass(frozen=True)
class PromiseRow:
    """An open line of an order, and what becomes of it.

    Attributes
    ----------
    order, href, account, home, edition : str
    count, here, missing : str
        Discs that are open, stand in bins, and that nothing is planned for.
    wanted, day : str
        When it is wanted, and when the last of it will be there.
    badge : Badge
    why : str
    """

    order: str
    href: str
    account: str
    home: str
    edition: str
    count: str
    here: str
    missing: str
    wanted: str
    day: str
    badge: Badge
    why: str


@dataclass(frozen=True)
class DayRow:
    """What is wanted by one day.

    Attributes
    ----------
    day, lines, count : str
    late, unplanned, in_time : str
        Lines of it.
    badge : Badge
    """

    day: str
    lines: str
    count: str
    late: str
    unplanned: str
    in_time: str
    badge: Badge


# The dock and after ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ScanAnswer:
    """What came of a scan.

    Attributes
    ----------
    badge : Badge
        Its shape and word, to be seen from afar.
    sentence : str
    code : str
        What was scanned, so that it can be read.
    href : str
        The carton; empty where there is none.
    """

    badge: Badge
    sentence: str
    code: str
    href: str


@dataclass(frozen=True)
class AccountMissing:
    """Cartons of an account that have not gone on yet.

    Attributes
    ----------
    account, home, cartons, discs : str
    """

    account: str
    home: str
    cartons: str
    discs: str


@dataclass(frozen=True)
class LoadedRow:
    """A carton that went on.

    Attributes
    ----------
    when, sscc, href, account, edition, count, vehicle : str
    """

    when: str
    sscc: str
    href: str
    account: str
    edition: str
    count: str
    vehicle: str


@dataclass(frozen=True)
class VehicleRow:
    """What one vehicle has.

    Attributes
    ----------
    vehicle, cartons, discs, mass, csv_href : str
    """

    vehicle: str
    cartons: str
    discs: str
    mass: str
    csv_href: str


@dataclass(frozen=True)
class RecalledRun:
    """A run that is recalled, or would be.

    Attributes
    ----------
    run, href, edition, name : str
    why, why_href : str
        Number of what was recalled or refused; empty where nothing is.
    made, in_bins : str
    badge : Badge
    """

    run: str
    href: str
    edition: str
    name: str
    why: str
    why_href: str
    made: str
    in_bins: str
    badge: Badge


@dataclass(frozen=True)
class ReachedRow:
    """An account that has discs of a run, or was about to get them.

    Attributes
    ----------
    number : int
        On its page, from 1.
    account, home, run, run_href : str
    sent, here : str
        Discs that have left, and those that are here still.
    many : str
        How many cartons.
    cartons : tuple of (str, str, str)
        Number of each, its address, and where it is.
    badge : Badge
        Told or not.
    key : str
        For writing down once that it was told; empty where that cannot be.
    """

    number: int
    account: str
    home: str
    run: str
    run_href: str
    sent: str
    here: str
    many: str
    cartons: tuple[tuple[str, str, str], ...]
    badge: Badge
    key: str


@dataclass(frozen=True)
class DescentSide:
    """Where one side of the discs in a carton comes from.

    Attributes
    ----------
    side : str
    parts : tuple of (str, str)
        Number and address of the stamper and of everything above it, the lacquer last.
    plan, plan_href : str
        Fingerprint, and the planned side where the folder holds it.
    """

    side: str
    parts: tuple[tuple[str, str], ...]
    plan: str
    plan_href: str
