"""What the packing bench is made of: what waits, what is short, packings with their walks and cartons."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.desk.works_parts import Badge


@dataclass(frozen=True)
class AccountWaiting:
    """An account whose orders wait to be packed.

    Attributes
    ----------
    account, home : str
    lines, count, can : str
        Lines, discs of them, and discs that can be packed now.
    wanted : str
        The earliest day.
    badge : Badge
        All of it, some of it or nothing is there.
    may : bool
        Something of it can be packed.
    """

    account: str
    home: str
    lines: str
    count: str
    can: str
    wanted: str
    badge: Badge
    may: bool


@dataclass(frozen=True)
class ShortRow:
    """A line that cannot get all it ordered.

    Attributes
    ----------
    account, order, edition, wanted, ordered, granted, missing : str
    """

    account: str
    order: str
    edition: str
    wanted: str
    ordered: str
    granted: str
    missing: str


@dataclass(frozen=True)
class PackingLink:
    """A packing, to go on with.

    Attributes
    ----------
    href, when, cartons, discs, accounts : str
    badge : Badge
        How much of it is gone.
    """

    href: str
    when: str
    cartons: str
    discs: str
    accounts: str
    badge: Badge


@dataclass(frozen=True)
class WalkRow:
    """One walk to a bin.

    Attributes
    ----------
    bin, edition, run, account, order, count, cartons : str
    """

    bin: str
    edition: str
    run: str
    account: str
    order: str
    count: str
    cartons: str


@dataclass(frozen=True)
class CartonRow:
    """A carton of a packing.

    Attributes
    ----------
    number, href, sscc, account, edition, count, bundle, dock : str
    fill, badge : Badge
        Full or not; where it is.
    """

    number: str
    href: str
    sscc: str
    account: str
    edition: str
    count: str
    bundle: str
    dock: str
    fill: Badge
    badge: Badge


@dataclass(frozen=True)
class CartonCard:
    """One carton, large.

    Attributes
    ----------
    number, of : str
        Which of the packing, and of how many.
    sscc, sscc_words, href : str
    account : str
    address : tuple of str
    order, edition, run, run_href : str
    picks : tuple of (str, str)
        Bin and count.
    count, capacity : str
    fill, badge : Badge
    place, bundle, dock : str
    mass, caution : str
        What it weighs, and that it is too much for one person.
    bundle_mass, bundle_caution : str
    back_href, next_href, label_href : str
        Empty where there is none.
    key : str
        For opening it once; empty where that cannot be.
    bin : str
        Where its discs would go.
    """

    number: str
    of: str
    sscc: str
    sscc_words: str
    href: str
    account: str
    address: tuple[str, ...]
    order: str
    edition: str
    run: str
    run_href: str
    picks: tuple[tuple[str, str], ...]
    count: str
    capacity: str
    fill: Badge
    badge: Badge
    place: str
    bundle: str
    dock: str
    mass: str
    caution: str
    bundle_mass: str
    bundle_caution: str
    back_href: str
    next_href: str
    label_href: str
    key: str
    bin: str
