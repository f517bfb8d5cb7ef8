"""Packings as they were made, out of the cartons that the ledger has: for labels, lists and papers that are made again.

Whatever is packed at once gets its numbers at once: first the cartons, then the bundles. So the numbers alone tell
which cartons were packed together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby

from discwright.errors import CallError
from discwright.works import packing as p
from discwright.works.allocation import Pick, bin_order
from discwright.works.family import Family
from discwright.works.order_lines import OrderLine
from discwright.works.yard import Packed, order_key


@dataclass(frozen=True)
class Kept:
    """A carton of the ledger, with the title it belongs to."""

    family: Family
    carton: Packed

    @property
    def line(self) -> OrderLine:
        """Line of the order it was packed for."""
        return self.family.yard.orders[order_key(self.carton.order, self.carton.edition)].line

    @property
    def recalled(self) -> str:
        """Number of what was recalled, a part or its run; empty where nothing was."""
        return self.family.recalled_for(self.family.yard.runs[self.carton.run])


@dataclass(frozen=True)
class Packing:
    """Cartons that were packed at once.

    Attributes
    ----------
    kept : tuple of Kept
        In the order of their numbers.
    rules : PackRules
        What full ones hold, where a carton does not say it itself.
    """

    kept: tuple[Kept, ...]
    rules: p.PackRules

    @property
    def id(self) -> str:
        """Number of the first carton, which stands for the packing."""
        return self.kept[0].carton.sscc

    @property
    def at(self) -> str:
        """When it was packed, ISO 8601 in UTC."""
        return min(one.carton.at for one in self.kept)

    @cached_property
    def packed(self) -> p.Packed:
        """The same as it came out of packing: cartons, bundles, and what the pick list is made of."""
        cartons = tuple(_cartons(self.kept, self.rules))
        bundles = tuple(
            p.Bundle(number, self.kept[own[0].number - 1].carton.bundle, own[0].consignee, tuple(own),
                     len(own) == self.rules.per_bundle)
            for number, own in ((number, list(group)) for number, group in groupby(cartons, lambda one: one.bundle))
        )  # fmt: skip
        return p.Packed(cartons, bundles, (), self.rules)

    @cached_property
    def there(self) -> p.Packed:
        """The same without what was opened again: what labels and lists are made of."""
        opened = {number for number, one in enumerate(self.kept, 1) if one.carton.opened}
        bundles = (
            replace(one, cartons=tuple(own), full=len(own) == self.rules.per_bundle)
            for one in self.packed.bundles
            if (own := [carton for carton in one.cartons if carton.number not in opened])
        )
        cartons = tuple(one for one in self.packed.cartons if one.number not in opened)
        return p.Packed(cartons, tuple(bundles), (), self.rules)


def packings(families: Iterable[Family], rules: p.PackRules) -> tuple[Packing, ...]:
    """Every packing, in the order of its numbers.

    Parameters
    ----------
    families : iterable of Family
    rules : PackRules
        Of the house.

    Returns
    -------
    tuple of Packing
    """
    return tuple(Packing(tuple(own), rules) for own in _together(_all_cartons(families)))


def packing_with(found: Iterable[Packing], sscc: str) -> tuple[Packing, int]:
    """The packing that a carton or a bundle belongs to.

    Parameters
    ----------
    found : iterable of Packing
    sscc : str

    Returns
    -------
    packing : Packing
    number : int
        Of the carton within it, or of the first one of the bundle.

    Raises
    ------
    CallError
        If no such carton or bundle was packed here.
    """
    for packing in found:
        for number, one in enumerate(packing.kept, 1):
            if sscc in (one.carton.sscc, one.carton.bundle):
                return packing, number
    raise CallError(f"{sscc[:20]}: is no carton that was packed here; look at its label.")


def _all_cartons(families: Iterable[Family]) -> list[Kept]:
    """All cartons by the numbers on their labels; the check digit is none of it."""
    found = [Kept(family, carton) for family in families for carton in family.yard.cartons.values()]
    return sorted(found, key=lambda one: one.carton.sscc[:-1])


def _together(cartons: Sequence[Kept]) -> Iterator[list[Kept]]:
    """Cartons whose numbers follow each other, up to the numbers of their bundles."""
    own: list[Kept] = []
    for one in cartons:
        if own and int(one.carton.sscc[:-1]) != int(own[-1].carton.sscc[:-1]) + 1:
            yield own
            own = []
        own.append(one)
    if own:
        yield own


def _cartons(kept: Sequence[Kept], rules: p.PackRules) -> Iterator[p.Carton]:
    """The cartons with their places among those of the same address."""
    homes = [p.consignee_of(one.line) for one in kept]
    of = Counter(homes)
    met: dict[p.Consignee, int] = {}
    bundles: dict[str, int] = {}
    for number, (one, home) in enumerate(zip(kept, homes, strict=True), 1):
        met[home] = met.get(home, 0) + 1
        carton = one.carton
        picks = tuple(
            Pick(carton.run, bin_, count)
            for bin_, count in sorted(carton.bins.items(), key=lambda pair: (bin_order(pair[0]), pair[0]))
        )
        yield p.Carton(
            number, carton.sscc, home, carton.order, carton.edition, carton.run, picks, carton.count,
            carton.capacity or max(rules.per_carton, carton.count), met[home], of[home],
            bundles.setdefault(carton.bundle, len(bundles) + 1),
        )  # fmt: skip
