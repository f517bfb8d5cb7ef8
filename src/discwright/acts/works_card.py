"""The run card of what is to be grown next on a part, with the ledger's head printed on it."""

from __future__ import annotations

from pathlib import Path

from discwright.acts.plate import CardLabel, PlateOrder, plate, write_card
from discwright.acts.plate_report import PlateReport
from discwright.acts.works_look import part_for
from discwright.errors import CallError
from discwright.works.parts import GROWS
from discwright.works.store.ledger import Ledger


def write_part_card(
    ledger: Ledger, number: str, path: Path, order: PlateOrder | None = None, *, settings: Path | None = None
) -> PlateReport:
    """Write the run card for growing the next part on one.

    Parameters
    ----------
    ledger : Ledger
    number : str
        Of the part that goes into the bath; its code opens that part.
    path : pathlib.Path
        A PDF that is not there yet.
    order : PlateOrder, optional
        How it is grown; the house's usual run without it.
    settings : pathlib.Path, optional
        A house file of plating settings.

    Returns
    -------
    PlateReport

    Raises
    ------
    CallError
        If there is no such part, nothing grows on it, or the file is there already.
    """
    family, part = part_for(ledger, number)
    if part.kind not in GROWS:
        raise CallError(f"{part.id} is a {part.kind}, and nothing is grown on it; scan what goes into the bath.")
    report = plate(order or PlateOrder(GROWS[part.kind]), settings=settings)
    _, head = ledger.head()
    # What is to be grown has no number yet: the card goes with what it is grown on.
    side = f"{part.side} ({part.edition})" if part.edition else part.side
    label = CardLabel(part.id, family.name, family.title, side, part.id, head)
    write_card(report, path, label)
    return report
