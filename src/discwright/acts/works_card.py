"""The run card of a part, or of what is grown on it next, with the ledger's head printed on it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from discwright.acts.plate import CardLabel, PlateOrder, plate, write_card
from discwright.acts.plate_report import PlateReport
from discwright.acts.works_look import part_for
from discwright.errors import CallError
from discwright.works.family import Family, Part
from discwright.works.history import corrected
from discwright.works.parts import GROWS, LACQUER
from discwright.works.store.ledger import Ledger


def write_part_card(
    ledger: Ledger,
    number: str,
    path: Path,
    order: PlateOrder | None = None,
    *,
    own: bool = False,
    settings: Path | None = None,
) -> PlateReport:
    """Write the run card for growing the next part on one, or that of the part itself.

    Parameters
    ----------
    ledger : Ledger
    number : str
        Of the part; its code opens it. What is to be grown has no number yet: the card goes with what it is grown on.
    path : pathlib.Path
        A PDF that is not there yet.
    order : PlateOrder, optional
        How it is grown; the house's usual run without it. A plate that it does not name is as wide as the blank that
        the lacquer was cut on.
    own : bool
        The card of the part itself.
    settings : pathlib.Path, optional
        A house file of plating settings.

    Returns
    -------
    PlateReport

    Raises
    ------
    CallError
        If there is no such part, it is not grown or nothing grows on it, or the file is there already.
    """
    family, part = part_for(ledger, number)
    if own and not part.parent:
        raise CallError(
            f"{part.id} is a {part.kind}, which is cut and not grown; print the card of what is grown on it."
        )
    if not own and part.kind not in GROWS:
        raise CallError(f"{part.id} is a {part.kind}, and nothing is grown on it; scan what goes into the bath.")
    under = family.parts[part.parent] if own else part
    wanted = order or PlateOrder(part.kind if own else GROWS[part.kind])
    if wanted.grown_on is None:
        wanted = replace(wanted, grown_on=LACQUER if under.kind == LACQUER else "metal")
    if wanted.plate is None and wanted.diameter is None:
        wanted = replace(wanted, diameter=_blank(ledger, family, part))
    report = plate(wanted, settings=settings)
    side = f"{part.edition} {part.side}".strip()
    label = CardLabel(part.id, family.name, family.title, side, under.id, ledger.head()[1])
    return write_card(report, path, label)


def _blank(ledger: Ledger, family: Family, part: Part) -> float | None:
    """Diameter of the blank its lacquer was cut on, m; None where the ledger does not say."""
    born = family.lacquer(part).born
    lines = corrected(list(ledger.lines(title=family.title)))
    blank_mm = next((line.data.get("blank_mm") for line in lines if line.seq == born), None)
    return None if blank_mm is None else float(blank_mm) * 1e-3
