"""At the press: a run begun with its stampers, pressed, put into stock. What the first disc says is in `first_off`."""

from __future__ import annotations

from collections.abc import Mapping

from discwright.acts.works import Hand
from discwright.errors import CallError
from discwright.works import run_events as r
from discwright.works.family import Family
from discwright.works.parts import read_number
from discwright.works.store.ledger import Ledger, Outcome
from discwright.works.yard import Run, title_of


def run_for(ledger: Ledger, number: str) -> tuple[Family, Run]:
    """A run and its title.

    Parameters
    ----------
    ledger : Ledger
    number : str
        As it was typed or scanned.

    Raises
    ------
    CallError
        If no run has it.
    """
    family, wanted = ledger.family_of(number), read_number(number)
    run = family.yard.runs.get(wanted)
    if run is None:
        what = "a part and no run" if wanted in family.parts else "no run that counts: it was undone"
        raise CallError(f"{wanted} is {what}; give the number on the card of the run, RU….")
    return family, run


def begin_run(
    ledger: Ledger, edition: str, stampers: Mapping[str, str], hand: Hand, *, press: str = "", planned: int = 0,
    compound: str = "",
) -> Outcome:  # fmt: skip
    """A set of stampers begins to press.

    Parameters
    ----------
    ledger : Ledger
    edition : str
        Its code: catalogue number, a slash, id of the edition.
    stampers : mapping of str to str
        Number of the stamper by the letter of its side.
    hand : Hand
    press : str
        Where the stampers are, if it is not said.
    planned : int
    compound : str
        Batch of the compound.

    Returns
    -------
    Outcome
        Its line's part is the number of the run.

    Raises
    ------
    CallError
        If the code or a number is none.
    """
    title, id_ = title_of(" ".join(edition.split()))
    if not id_:
        raise CallError(f"“{edition[:60]}” is no edition; write the catalogue number, a slash and the edition's id.")
    family = ledger.family(title)
    numbers = {side.strip(): read_number(number) for side, number in stampers.items()}
    places = {family.parts[one].press for one in numbers.values() if one in family.parts}
    event = r.RunBegun(
        edition=id_, press=press or (places.pop() if len(places) == 1 else ""), stampers=numbers, planned=planned,
        compound=compound,
    )  # fmt: skip
    return ledger.append(hand.order(event, family.title))


def press_run(ledger: Ledger, number: str, count: int, good: int, hand: Hand) -> Outcome:
    """So many were pressed, so many of them good.

    Parameters
    ----------
    ledger : Ledger
    number : str
        Of the run.
    count, good : int
    hand : Hand
    """
    run_for(ledger, number)
    return ledger.append(hand.order(r.RunPressed(count=count, good=good), part=number))


def stock_run(ledger: Ledger, number: str, bin_: str, hand: Hand, *, count: int | None = None) -> Outcome:
    """Put accepted discs into a bin.

    Parameters
    ----------
    ledger : Ledger
    number : str
        Of the run.
    bin_ : str
    hand : Hand
    count : int, optional
        All that are accepted and in no bin yet, if it is not said.
    """
    _, run = run_for(ledger, number)
    event = r.Stocked(bin=" ".join(bin_.split()), count=run.to_stock if count is None else count)
    return ledger.append(hand.order(event, part=run.id))


def take_out(ledger: Ledger, number: str, bin_: str, count: int, hand: Hand, *, note: str = "") -> Outcome:
    """Take discs out of a bin that are not sent: broken, kept, played.

    Parameters
    ----------
    ledger : Ledger
    number : str
        Of the run.
    bin_ : str
    count : int
    hand : Hand
    note : str
        What for.
    """
    _, run = run_for(ledger, number)
    event = r.TakenOut(bin=" ".join(bin_.split()), count=count, note=note)
    return ledger.append(hand.order(event, part=run.id))
