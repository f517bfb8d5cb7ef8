"""Lot after lot of one edition: where the switching rules have brought each class of defects."""

from __future__ import annotations

from discwright.works.switching import LotResult, Restart, Switching, follow_classes
from discwright.works.yard import Lot, Yard


def series_of(yard: Yard, edition: str) -> dict[str, Switching]:
    """Where each class of defects stands after all lots of an edition; what was never inspected is left out.

    Parameters
    ----------
    yard : Yard
    edition : str

    Returns
    -------
    dict of str to Switching
        By class of defects. A lot that was sorted after it had been refused counts once, as refused.
    """
    happened: list[tuple[int, dict[str, LotResult | Restart]]] = [
        (one.seq, {one.defect_class: Restart(one.why)}) for one in yard.restarts if one.edition == edition
    ]
    for run in yard.runs.values():
        if run.edition == edition:
            happened += [(lot.seq, _results(lot, f"{run.id} lot {lot.number}")) for lot in run.lots]
    standing: dict[str, Switching] = {}
    for _, results in sorted(happened, key=lambda one: one[0]):
        standing = follow_classes(standing, results)
    return standing


def _results(lot: Lot, name: str) -> dict[str, LotResult | Restart]:
    return {
        one["class"]: LotResult(
            one["found"] <= one["accept"], one["accept"], bool(one.get("passes_tighter", 0)), steady=not lot.unsteady,
            authority_agrees=bool(lot.reduced_agreed), lot=name,
        )
        for one in lot.results
    }  # fmt: skip
