"""Discs into cartons, cartons into bundles: what a packer takes from which bin, and which number goes on what.

A carton has one account, one order, one edition and one run. A bundle goes to one address. Only the last carton of a
run for a line is part-filled, and it says so.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from discwright.errors import CallError
from discwright.works.allocation import Allocation, Granted, Pick, Short, bin_order
from discwright.works.gs1 import Serials
from discwright.works.order_lines import OrderLine

#: More than so many discs no carton holds, more cartons no bundle.
PER_CARTON_MOST, PER_BUNDLE_MOST = 1000, 100


@dataclass(frozen=True)
class PackRules:
    """How many discs a full carton holds, and how many cartons a full bundle.

    Raises
    ------
    CallError
        If there are none, or more than anybody packs.
    """

    per_carton: int = 25
    per_bundle: int = 4

    def __post_init__(self) -> None:
        for what, count, most in (
            ("carton", self.per_carton, PER_CARTON_MOST), ("bundle", self.per_bundle, PER_BUNDLE_MOST),
        ):  # fmt: skip
            if not 1 <= count <= most:
                raise CallError(f"a {what} of {count} cannot be packed; give 1 to {most}.")


@dataclass(frozen=True, slots=True)
class Consignee:
    """Where cartons go: an account at one address."""

    account: str
    name: str
    address_1: str
    address_2: str
    city: str
    region: str
    postcode: str
    country: str


@dataclass(frozen=True, slots=True)
class Carton:
    """One carton.

    Attributes
    ----------
    number : int
        Of this packing, from 1.
    sscc : str or None
        None where it was packed without a GS1 prefix.
    consignee : Consignee
    order, edition, run : str
    picks : tuple of Pick
        Out of which bins; more than one only where a bin ended within it.
    count, capacity : int
        Discs in it, and in a full one.
    place, of : int
        Which of the consignee's cartons it is, and how many those are.
    bundle : int
        Number of the bundle it lies in.
    """

    number: int
    sscc: str | None
    consignee: Consignee
    order: str
    edition: str
    run: str
    picks: tuple[Pick, ...]
    count: int
    capacity: int
    place: int
    of: int
    bundle: int

    @property
    def account(self) -> str:
        """Account it goes to."""
        return self.consignee.account

    @property
    def full(self) -> bool:
        """No disc more would go in."""
        return self.count == self.capacity

    @property
    def bin(self) -> str:
        """The bin, or the bins with a plus between them."""
        return " + ".join(pick.bin for pick in self.picks)

    @property
    def key(self) -> str:
        """What it is known by at the dock: its SSCC, else its number."""
        return self.sscc or str(self.number)


@dataclass(frozen=True, slots=True)
class Bundle:
    """Cartons strapped together, all for one consignee.

    Attributes
    ----------
    number : int
    sscc : str or None
    consignee : Consignee
    cartons : tuple of Carton
    full : bool
        No carton more would go on.
    """

    number: int
    sscc: str | None
    consignee: Consignee
    cartons: tuple[Carton, ...]
    full: bool

    @property
    def account(self) -> str:
        """Account it goes to."""
        return self.consignee.account

    @property
    def count(self) -> int:
        """Discs in it."""
        return sum(one.count for one in self.cartons)

    @property
    def key(self) -> str:
        """What it is known by at the dock: its SSCC, else ``B`` and its number."""
        return self.sscc or f"B{self.number}"


@dataclass(frozen=True, slots=True)
class PickRow:
    """One walk to a bin.

    Attributes
    ----------
    bin, edition, run, account, order : str
    count : int
    first, last : int
        Numbers of the cartons the discs go into.
    """

    bin: str
    edition: str
    run: str
    account: str
    order: str
    count: int
    first: int
    last: int


@dataclass(frozen=True)
class Packed:
    """All that was packed.

    Attributes
    ----------
    cartons : tuple of Carton
    bundles : tuple of Bundle
    short : tuple of Short
    rules : PackRules
    next_serial : int or None
        First serial number that is still free; None without a GS1 prefix.
    """

    cartons: tuple[Carton, ...]
    bundles: tuple[Bundle, ...]
    short: tuple[Short, ...]
    rules: PackRules
    next_serial: int | None = None

    @property
    def consignees(self) -> tuple[Consignee, ...]:
        """Everybody who gets something, in the order of the cartons."""
        return tuple(dict.fromkeys(one.consignee for one in self.bundles))

    @property
    def pick_list(self) -> tuple[PickRow, ...]:
        """What to take from where, in bin order."""
        rows: dict[tuple[object, ...], list[tuple[int, int]]] = defaultdict(list)
        for one in self.cartons:
            for pick in one.picks:
                key = (pick.bin, one.edition, one.run, one.consignee, one.order)
                rows[key].append((one.number, pick.count))
        made = (
            PickRow(bin_, edition, run, to.account, order, sum(n for _, n in into), into[0][0], into[-1][0])  # type: ignore[attr-defined, arg-type]
            for (bin_, edition, run, to, order), into in rows.items()
        )
        return tuple(sorted(made, key=lambda one: (bin_order(one.bin), one.bin, one.edition, one.run, one.first)))


def consignee_of(line: OrderLine) -> Consignee:
    """Where a line of an order goes.

    Parameters
    ----------
    line : OrderLine
    """
    return Consignee(
        line.account, line.name, line.address_1, line.address_2, line.city, line.region, line.postcode, line.country
    )


def pack(allocation: Allocation, rules: PackRules, serials: Serials | None = None) -> Packed:
    """Put what was granted into cartons and bundles.

    Parameters
    ----------
    allocation : Allocation
        Made with the same number of discs for a carton.
    rules : PackRules
    serials : Serials or None
        Where the SSCCs come from: cartons first, then bundles, in their order. Without, nothing has an SSCC.

    Returns
    -------
    Packed

    Raises
    ------
    CallError
        If there are not enough serial numbers left.
    """
    at: dict[Consignee, list[Granted]] = defaultdict(list)
    for one in allocation.granted:
        if one.picks:
            at[consignee_of(one.line)].append(one)
    cartons: list[Carton] = []
    bundles: list[Bundle] = []
    for to in sorted(at, key=_consignee_order):
        own = _cartons_for(to, at[to], rules, len(cartons))
        for start in range(0, len(own), rules.per_bundle):
            lying = tuple(
                replace(one, bundle=len(bundles) + 1, place=start + k, of=len(own))
                for k, one in enumerate(own[start : start + rules.per_bundle], 1)
            )
            cartons += lying
            bundles.append(Bundle(len(bundles) + 1, None, to, lying, len(lying) == rules.per_bundle))
    if serials is None:
        return Packed(tuple(cartons), tuple(bundles), allocation.short, rules)
    return _numbered(cartons, bundles, allocation.short, rules, serials)


def _consignee_order(one: Consignee) -> tuple[object, ...]:
    return (bin_order(one.account), one.account, one.name, one.address_1, one.address_2, one.city, one.postcode)


def _cartons_for(to: Consignee, granted: Iterable[Granted], rules: PackRules, before: int) -> list[Carton]:
    """The cartons of one consignee by order, edition and run, full ones first."""
    made: list[Carton] = []
    lines = sorted(
        granted, key=lambda one: (bin_order(one.line.order), one.line.order, one.line.edition, one.line.line)
    )
    for one in lines:
        by_run: dict[str, list[Pick]] = defaultdict(list)
        for pick in one.picks:
            by_run[pick.run].append(pick)
        for run, picks in by_run.items():
            for part in _filled(picks, rules.per_carton):
                number, count = before + len(made) + 1, sum(pick.count for pick in part)
                line = one.line
                made.append(
                    Carton(number, None, to, line.order, line.edition, run, part, count, rules.per_carton, 0, 0, 0)
                )
    return made


def _filled(picks: Sequence[Pick], per_carton: int) -> list[tuple[Pick, ...]]:
    """Picks of one run cut into cartons; bins are emptied in their order."""
    cartons: list[tuple[Pick, ...]] = []
    filling: list[Pick] = []
    room = per_carton
    merged = [
        Pick(run, bin_, sum(one.count for one in group))
        for (run, bin_), group in groupby(
            sorted(picks, key=lambda one: (bin_order(one.bin), one.bin)), lambda one: (one.run, one.bin)
        )
    ]
    for pick in merged:
        count = pick.count
        while count:
            got = min(room, count)
            filling.append(Pick(pick.run, pick.bin, got))
            room, count = room - got, count - got
            if not room:
                cartons.append(tuple(filling))
                filling, room = [], per_carton
    return [*cartons, tuple(filling)] if filling else cartons


def _numbered(
    cartons: Sequence[Carton], bundles: Sequence[Bundle], short: tuple[Short, ...], rules: PackRules, serials: Serials
) -> Packed:
    """The same with an SSCC on each."""
    numbers = serials.take(len(cartons) + len(bundles))
    named = tuple(replace(one, sscc=sscc) for one, sscc in zip(cartons, numbers, strict=False))
    strapped = []
    for one, sscc in zip(bundles, numbers[len(cartons) :], strict=True):
        first = one.cartons[0].number - 1
        strapped.append(replace(one, sscc=sscc, cartons=named[first : first + len(one.cartons)]))
    return Packed(named, tuple(strapped), short, rules, serials.first + len(numbers))
