"""What is promised and what will be late: every open line of an order against stock, the hall and the day it is wanted.

Discs go to the orders in the order in which they are wanted, first those that stand in the bins, then those that wait
to be inspected or stocked, then what the presses will make.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from discwright.works.order_lines import OrderLine

#: Later than every day that anybody writes.
_NO_DAY = "9999-99-99"
STATES = {
    "here": "in stock",
    "coming": "in time",
    "late": "late",
    "unplanned": "nothing planned",
}


@dataclass(frozen=True)
class Supply:
    """Discs that will be there.

    Attributes
    ----------
    edition : str
    count : int
    day : str
        From when on, ISO 8601; empty for now.
    why : str
        From where, in words.
    """

    edition: str
    count: int
    day: str = ""
    why: str = ""


@dataclass(frozen=True)
class Promise:
    """One open line of an order.

    Attributes
    ----------
    line : OrderLine
        With what is still to be packed as its count.
    here : int
        Discs of it that stand in the bins.
    day : str
        When the last of it will be there; empty for now, and where nobody can say.
    state : str
        One of :data:`STATES`.
    missing : int
        Discs that nothing is planned for.
    why : str
        What it waits for.
    """

    line: OrderLine
    here: int
    day: str
    state: str
    missing: int
    why: str


@dataclass
class _Pot:
    """A supply while it is shared out."""

    supply: Supply
    left: int


def promises(orders: Sequence[OrderLine], supplies: Iterable[Supply], today: str) -> tuple[Promise, ...]:
    """Hold every line against what is there and what is coming.

    Parameters
    ----------
    orders : sequence of OrderLine
        What is open of each.
    supplies : iterable of Supply
    today : str
        ISO 8601.

    Returns
    -------
    tuple of Promise
        Late and unplanned ones first, each by the day it is wanted.
    """
    coming: dict[str, list[_Pot]] = defaultdict(list)
    for one in sorted(supplies, key=lambda one: (one.day != "", one.day)):
        coming[one.edition].append(_Pot(one, one.count))
    found = [
        _promise(line, coming[line.edition], today)
        for line in sorted(orders, key=lambda one: (one.wanted or _NO_DAY, one.order, one.edition))
    ]
    order = {"unplanned": 0, "late": 1, "coming": 2, "here": 3}
    return tuple(sorted(found, key=lambda one: order[one.state]))


def _promise(line: OrderLine, coming: list[_Pot], today: str) -> Promise:
    """Take what one line needs off what is coming."""
    left, here, day, why = line.count, 0, "", ""
    for pot in coming:
        got = min(left, pot.left)
        if not got:
            continue
        pot.left -= got
        left -= got
        if pot.supply.day:
            day, why = max(day, pot.supply.day), pot.supply.why
        else:
            here += got
    if left:
        return Promise(line, here, "", "unplanned", left, "no press is planned for it")
    late = bool(line.wanted) and (day or today) > line.wanted
    state = "late" if late else "coming" if day else "here"
    return Promise(line, here, day, state, 0, why or ("it was wanted before today" if late else ""))
