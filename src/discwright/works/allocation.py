"""Who gets how many when there is too little, and out of which run and bin.

First how many each line of an order gets, edition by edition: everything where there is enough, else by a rule that is
said in words. Then from where: a line is served from one run where one has enough, else in whole cartons from as few
runs as can be. Nothing depends on chance: the same lines give the same shares.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import groupby

from discwright.errors import CallError
from discwright.works.order_lines import OrderLine, StockLine

#: What each rule does, in words for the page and the paper.
RULES = {
    "date": "The earliest day wanted is served first and lines without a day last; lines of the same day share in "
    "proportion to count × weight.",
    "weight": "The heaviest weight is served first, within it the earliest day wanted; lines of the same weight and "
    "day share in proportion to their counts.",
    "fair": "All lines share in proportion to count × weight, whatever day they are wanted.",
}
_ROUNDING = (
    "Nobody gets more than was ordered; whole discs go by the largest remainder, ties to the line that came first."
)
#: Later than every day that anybody writes.
_NO_DAY = "9999-99-99"
Place = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Pick:
    """So many discs of one run out of one bin."""

    run: str
    bin: str
    count: int


@dataclass(frozen=True, slots=True)
class Granted:
    """What one line of an order gets.

    Attributes
    ----------
    line : OrderLine
    picks : tuple of Pick
        A run's picks stand together, in bin order.
    """

    line: OrderLine
    picks: tuple[Pick, ...]

    @property
    def count(self) -> int:
        """Discs it gets."""
        return sum(pick.count for pick in self.picks)

    @property
    def missing(self) -> int:
        """Discs it does not get: a backorder."""
        return self.line.count - self.count


@dataclass(frozen=True, slots=True)
class Short:
    """A line that does not get all it ordered."""

    account: str
    edition: str
    order: str
    wanted: str
    ordered: int
    granted: int
    line: int = 0

    @property
    def missing(self) -> int:
        """Discs that are kept as a backorder."""
        return self.ordered - self.granted


@dataclass(frozen=True)
class Allocation:
    """Who gets what, and what is left.

    Attributes
    ----------
    granted : tuple of Granted
        One for each line of the orders, in their order.
    left : tuple of StockLine
        What stays in the bins.
    rule, rule_words : str
        The rule, and what it does.
    short_editions : tuple of str
        Editions of which there is too little: only for these the rule mattered.
    """

    granted: tuple[Granted, ...]
    left: tuple[StockLine, ...]
    rule: str
    rule_words: str
    short_editions: tuple[str, ...] = field(default=())

    @property
    def short(self) -> tuple[Short, ...]:
        """Every line that is short, in the order of the orders."""
        return tuple(_short(one) for one in self.granted if one.missing)


def allocate(
    orders: Sequence[OrderLine], stock: Sequence[StockLine], *, rule: str = "date", per_carton: int = 25
) -> Allocation:
    """Share out what is there.

    Parameters
    ----------
    orders : sequence of OrderLine
    stock : sequence of StockLine
    rule : {"date", "weight", "fair"}
        Who comes first where an edition is short; see :data:`RULES`.
    per_carton : int
        Discs of a full carton, so that cartons are filled from one run.

    Returns
    -------
    Allocation

    Raises
    ------
    CallError
        If there is no such rule, or a count or weight that cannot be shared.
    """
    if rule not in RULES:
        raise CallError(f"there is no rule “{rule}”; choose from {', '.join(RULES)}.")
    _check(orders, stock, per_carton)
    wanted: dict[str, list[int]] = defaultdict(list)
    for number, one in enumerate(orders):
        wanted[one.edition].append(number)
    there: dict[str, list[StockLine]] = defaultdict(list)
    for stored in stock:
        there[stored.edition].append(stored)
    picks: dict[int, tuple[Pick, ...]] = {}
    left: list[StockLine] = []
    short: list[str] = []
    for edition in sorted(wanted.keys() | there.keys()):
        numbers = wanted[edition]
        lines = [orders[number] for number in numbers]
        have = sum(one.count for one in there[edition])
        counts = share(lines, have, rule)
        if sum(counts) < sum(one.count for one in lines):
            short.append(edition)
        bins = _Bins(there[edition], per_carton)
        # The largest first: what is left over of a run then fits a smaller one.
        for k in sorted(range(len(lines)), key=lambda k: (-counts[k], k)):
            picks[numbers[k]] = bins.serve(counts[k])
        left += bins.left()
    return Allocation(
        granted=tuple(Granted(one, picks[number]) for number, one in enumerate(orders)),
        left=tuple(left),
        rule=rule,
        rule_words=f"{RULES[rule]} {_ROUNDING}",
        short_editions=tuple(short),
    )


def share(lines: Sequence[OrderLine], have: int, rule: str) -> list[int]:
    """How many each line of one edition gets.

    Parameters
    ----------
    lines : sequence of OrderLine
    have : int
        Discs that are there.
    rule : {"date", "weight", "fair"}

    Returns
    -------
    list of int
        None is above what was ordered; together they are `have`, or all that was ordered where that is less.
    """
    counts = [one.count for one in lines]
    if sum(counts) <= have:
        return counts
    granted = [0] * len(lines)
    turn = _TURNS[rule]
    for _, group in groupby(sorted(range(len(lines)), key=lambda k: (turn(lines[k]), k)), lambda k: turn(lines[k])):
        members = list(group)
        asked = [counts[k] for k in members]
        weights = [Fraction(1) if rule == "weight" else Fraction(lines[k].weight) for k in members]
        for k, got in zip(members, fair_share(asked, weights, have), strict=True):
            granted[k] = got
            have -= got
    return granted


def fair_share(asked: Sequence[int], weights: Sequence[Fraction], have: int) -> list[int]:
    """Whole shares in proportion to asked × weight, none above what was asked, by the largest remainder.

    Parameters
    ----------
    asked : sequence of int
    weights : sequence of Fraction
        Above zero.
    have : int

    Returns
    -------
    list of int

    Notes
    -----
    What the heavy ones cannot use goes to the others. Every share is the exact one rounded down or up (Hamilton's
    method), and exact fractions keep ties ties.
    """
    have = min(have, sum(asked))
    exact = [Fraction(0)] * len(asked)
    open_, rest = [k for k in range(len(asked)) if asked[k]], Fraction(have)
    while open_ and rest:
        scale = rest / sum(asked[k] * weights[k] for k in open_)
        full = [k for k in open_ if weights[k] * scale >= 1]
        for k in full or open_:
            exact[k] = Fraction(asked[k]) if full else asked[k] * weights[k] * scale
            rest -= exact[k]
        open_ = [k for k in open_ if weights[k] * scale < 1] if full else []
    shares = [int(one) for one in exact]
    order = sorted(range(len(asked)), key=lambda k: (shares[k] - exact[k], k))
    for k in order[: have - sum(shares)]:
        shares[k] += 1
    return shares


def bin_order(name: str) -> tuple[tuple[int, str], ...]:
    """Key that sorts bins as they stand: A-2 before A-10.

    Parameters
    ----------
    name : str
    """
    return tuple((int(part), "") if part.isdigit() else (-1, part) for part in re.findall(r"[0-9]{1,18}|[^0-9]+", name))


_TURNS: dict[str, Callable[[OrderLine], tuple[object, ...]]] = {
    "date": lambda one: (one.wanted or _NO_DAY,),
    "weight": lambda one: (-one.weight, one.wanted or _NO_DAY),
    "fair": lambda one: (),
}


class _Bins:
    """The bins of one edition while they are emptied."""

    def __init__(self, stock: Iterable[StockLine], per_carton: int) -> None:
        self._per_carton = per_carton
        self._stock = sorted(stock, key=lambda one: (bin_order(one.bin), one.bin, bin_order(one.run), one.run))
        self._there = {k: one.count for k, one in enumerate(self._stock)}
        self._of_run: dict[str, list[int]] = defaultdict(list)  # in the order of their first bins
        for k, one in enumerate(self._stock):
            self._of_run[one.run].append(k)
        self._total = {run: sum(self._there[k] for k in bins) for run, bins in self._of_run.items()}

    def serve(self, count: int) -> tuple[Pick, ...]:
        """Take so many discs; that they are there was seen to before."""
        picks: list[Pick] = []
        while count:
            run = self._enough(count)
            if run is not None:
                return (*picks, *self._take(run, count))
            # No run has it all: whole cartons first, from the run that has most of them.
            run = max(self._total, key=lambda one: self._total[one] // self._per_carton)
            full = min(self._total[run], count) // self._per_carton * self._per_carton
            if not full:
                run = max(self._total, key=lambda one: self._total[one])
                full = self._total[run]
            picks += self._take(run, full)
            count -= full
        return tuple(picks)

    def _enough(self, count: int) -> str | None:
        """The run that has enough and would be left with least; of equals the first in bin order."""
        return min(
            (run for run, have in self._total.items() if have >= count), key=self._total.__getitem__, default=None
        )

    def _take(self, run: str, count: int) -> list[Pick]:
        picks = []
        self._total[run] -= count
        for k in self._of_run[run]:
            got = min(count, self._there[k])
            if got:
                self._there[k] -= got
                count -= got
                picks.append(Pick(run, self._stock[k].bin, got))
        return picks

    def left(self) -> list[StockLine]:
        """What was not taken."""
        return [
            StockLine(one.edition, one.run, self._there[k], one.bin, one.line)
            for k, one in enumerate(self._stock)
            if self._there[k]
        ]


def _short(one: Granted) -> Short:
    line = one.line
    return Short(line.account, line.edition, line.order, line.wanted, line.count, one.count, line.line)


def _check(orders: Sequence[OrderLine], stock: Sequence[StockLine], per_carton: int) -> None:
    if per_carton < 1:
        raise CallError(f"a carton of {per_carton} holds nothing; give 1 or more.")
    for one in orders:
        if one.count < 1:
            raise CallError(f"order {one.order} asks for {one.count} of {one.edition}; an order is for 1 or more.")
        if not 0.0 < one.weight < 1e9:
            raise CallError(f"account {one.account} has a weight of {one.weight:g}; give one above zero.")
    for stored in stock:
        if stored.count < 0:
            raise CallError(f"bin {stored.bin} holds {stored.count} of {stored.edition}; count it again.")
