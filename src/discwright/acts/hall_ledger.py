"""The press hall and the ledger: what has to be pressed, the schedule that is kept, and what it will give."""

from __future__ import annotations

from discwright.works.promise import Supply
from discwright.works.store.ledger import Ledger


def planned_supplies(ledger: Ledger) -> list[Supply]:
    """What the kept schedule will give, by edition and day."""
    del ledger
    return []
