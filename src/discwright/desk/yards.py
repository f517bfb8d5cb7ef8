"""What is beyond the presses, kept in memory beside the ledger: a scan at the dock waits for one title, not for all."""

from __future__ import annotations

import threading
from functools import cache, cached_property
from weakref import WeakKeyDictionary

from discwright.acts.packings import Kept, Packing, packings
from discwright.files.packing_settings import PackingSettings, load_packing
from discwright.works.chain import BEGIN
from discwright.works.family import Family
from discwright.works.store.ledger import Ledger
from discwright.works.store.look import families_beyond


@cache
def house() -> PackingSettings:
    """How this house packs: cartons, bundles, weights, labels."""
    return load_packing()


class Yards:
    """Every title that has a run or an order, as all of them stood after one line of the ledger.

    Parameters
    ----------
    families : dict of str to Family
        By catalogue number.
    head : tuple of int and str
        Number and hash of that line.
    """

    def __init__(self, families: dict[str, Family], head: tuple[int, str]) -> None:
        self._by_title = families
        self.head = head

    @cached_property
    def families(self) -> tuple[Family, ...]:
        """The titles by their catalogue numbers."""
        return tuple(self._by_title[title] for title in sorted(self._by_title))

    @cached_property
    def cartons(self) -> tuple[Kept, ...]:
        """Every carton that is one still."""
        return tuple(
            Kept(family, carton)
            for family in self.families
            for carton in family.yard.cartons.values()
            if not carton.opened
        )

    @cached_property
    def packings(self) -> tuple[Packing, ...]:
        """Every packing, by its numbers."""
        return packings(self.families, house().rules)

    def after(self, ledger: Ledger) -> Yards:
        """The same as they stand now; only titles with new lines are read.

        Parameters
        ----------
        ledger : Ledger
        """
        head = ledger.head()
        if head == self.head:
            return self
        seq, hash_ = self.head
        known = ledger.line(seq) if seq else None
        if (known.hash if known is not None else BEGIN) != hash_:
            return whole(ledger)  # another ledger stands in its place
        changed = {line.title for line in ledger.lines(after=seq)}
        now = {title: family for title in changed if _counts(family := ledger.family(title))}
        kept = {title: family for title, family in self._by_title.items() if title not in changed}
        return Yards(kept | now, head)


def _counts(family: Family) -> bool:
    return bool(family.yard.runs or family.yard.orders)


def whole(ledger: Ledger) -> Yards:
    """All of it, read anew.

    Parameters
    ----------
    ledger : Ledger
    """
    head = ledger.head()  # first, so that what is written meanwhile counts as new
    return Yards({family.title: family for family in families_beyond(ledger)}, head)


_known: WeakKeyDictionary[Ledger, Yards] = WeakKeyDictionary()
_lock = threading.Lock()


def yards(ledger: Ledger) -> Yards:
    """What is beyond the presses, as it stands now.

    Parameters
    ----------
    ledger : Ledger
    """
    with _lock:
        before = _known.get(ledger)
        now = whole(ledger) if before is None else before.after(ledger)
        _known[ledger] = now
    return now
