"""At the dock: cartons scanned into a vehicle, opened again, followed back to the plan and forward to the account."""

from __future__ import annotations

from typing import Any

from discwright.acts.works import Hand
from discwright.errors import CallError
from discwright.works import run_events as r
from discwright.works.family import Family
from discwright.works.gs1 import read_sscc
from discwright.works.store.ledger import Ledger, Outcome
from discwright.works.store.look import titles_of
from discwright.works.yard import Packed, Run


def carton_for(ledger: Ledger, code: str) -> tuple[Family, Packed]:
    """A carton and its title.

    Parameters
    ----------
    ledger : Ledger
    code : str
        Its SSCC, as it was typed or scanned.

    Raises
    ------
    CallError
        If it is none, or none that was packed here.
    """
    sscc = read_sscc(code)
    for title in titles_of(ledger, "carton", sscc):
        family = ledger.family(title)
        if sscc in family.yard.cartons:
            return family, family.yard.cartons[sscc]
    raise CallError(f"{sscc}: is no carton that was packed here; look at its label.")


def cartons_of(ledger: Ledger, code: str) -> list[tuple[Family, Packed]]:
    """The carton that was scanned, or all cartons of the bundle that was.

    Parameters
    ----------
    ledger : Ledger
    code : str
        SSCC of a carton or of a bundle.

    Raises
    ------
    CallError
        If it is neither.
    """
    sscc = read_sscc(code)
    titles = titles_of(ledger, "bundle", sscc)
    if not titles:
        return [carton_for(ledger, code)]
    found = [
        (family, one)
        for family in (ledger.family(title) for title in titles)
        for one in family.yard.cartons.values()
        if one.bundle == sscc and not one.opened
    ]
    if not found:
        raise CallError(f"{sscc}: every carton of this bundle was opened again; pack it anew.")
    return found


def load(ledger: Ledger, code: str, dock: str, hand: Hand, *, vehicle: str = "") -> tuple[Outcome, ...]:
    """Scan a carton, or a bundle, into a vehicle: all of it or none.

    Parameters
    ----------
    ledger : Ledger
    code : str
        SSCC of a carton or of a bundle.
    dock : str
    hand : Hand
    vehicle : str

    Returns
    -------
    tuple of Outcome
        One for each carton. Where one is refused (wrong dock, recalled run, loaded before) none is written.
    """
    orders = []
    for number, (family, one) in enumerate(cartons_of(ledger, code)):
        own = Hand(hand.by, hand.station, f"{hand.key}-{number}" if hand.key else "", hand.accepted)
        event = r.Loaded(sscc=one.sscc, dock=" ".join(dock.split()), vehicle=vehicle)
        orders.append(own.order(event, family.title))
    return ledger.append_together(orders)


def open_carton(ledger: Ledger, code: str, bin_: str, hand: Hand) -> Outcome:
    """Open a carton that is still here; its discs go back into a bin.

    Parameters
    ----------
    ledger : Ledger
    code : str
        Its SSCC.
    bin_ : str
    hand : Hand
    """
    family, one = carton_for(ledger, code)
    return ledger.append(hand.order(r.CartonOpened(sscc=one.sscc, bin=" ".join(bin_.split())), family.title))


def run_descent(family: Family, run: Run) -> dict[str, Any]:
    """Where a run comes from: for each side its stamper, everything that was grown from, and the plan.

    Parameters
    ----------
    family : Family
    run : Run

    Returns
    -------
    dict
        ``run``, ``title``, ``edition``, ``press``, ``recalled`` (number of what was recalled, or None) and
        ``sides``, each with ``side``, ``stamper``, ``up`` (to the lacquer) and ``plan_fingerprint``.
    """
    sides = []
    for side, number in sorted(run.stampers.items()):
        part = family.parts[number]
        lacquer = family.lacquer(part)
        sides.append(
            {
                "side": side,
                "stamper": number,
                "up": [one.id for one in family.ancestors(part)],
                "plan_fingerprint": lacquer.fingerprint,
            }
        )
    return {
        "run": run.id,
        "title": family.title,
        "edition": run.edition,
        "press": run.press,
        "recalled": family.recalled_for(run) or None,
        "sides": sides,
    }


def carton_descent(ledger: Ledger, code: str) -> dict[str, Any]:
    """A carton with its account, its run, and from there back to the plans of its sides.

    Parameters
    ----------
    ledger : Ledger
    code : str
        Its SSCC.

    Raises
    ------
    CallError
        If there is no such carton.
    """
    family, one = carton_for(ledger, code)
    about = {
        "sscc": one.sscc,
        "account": one.account,
        "order": one.order,
        "count": one.count,
        "bundle": one.bundle or None,
        "dock": one.dock or None,
        "packed_at": one.at,
        "loaded_at": one.loaded_at or None,
        "opened": one.opened,
    }
    return about | run_descent(family, family.yard.runs[one.run])
