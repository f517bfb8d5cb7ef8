"""A layout as a few lines for a person: the best splits of each edition and what to think of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from discwright.units import clock

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.acts.layout import Candidate, EditionLayout, LayoutReport


def show_layout(report: LayoutReport, console: Console) -> None:
    """Print a layout.

    Parameters
    ----------
    report : LayoutReport
    console : rich.console.Console
    """
    title = report.title
    console.print(f"{title.name}{f', {title.catalogue}' if title.catalogue else ''}", style="bold", soft_wrap=True)
    for one in report.editions:
        _show_edition(one, console)


def _show_edition(one: EditionLayout, console: Console) -> None:
    edition = one.edition
    quantity = f", {edition.quantity} copies" if edition.quantity else ""
    due = f", due {edition.due}" if edition.due else ""
    console.print(f"\n{edition.id}: {edition.format}{quantity}{due}", style="bold", soft_wrap=True)
    for number, candidate in enumerate(one.candidates, 1):
        _show_candidate(number, candidate, console)
    for remark in one.remarks:
        console.print(f"  {remark}", soft_wrap=True)


def _show_candidate(number: int, candidate: Candidate, console: Console) -> None:
    console.print(f"  {number}. weakest side {candidate.weakest_db:+.1f} dB", soft_wrap=True)
    for letter, fit in zip(candidate.letters, candidate.fits, strict=True):
        stopped = "" if fit.ready else "  does not fit"
        console.print(
            f"     {letter}  {clock(fit.duration):>7}  {fit.level_db:+5.1f} dB  {fit.spare * 1e3:5.1f} mm to spare  "
            f"inner groove {_worry(fit.inner_share)}  {' '.join(fit.bands)}{stopped}",
            soft_wrap=True,
        )


def _worry(share: float) -> str:
    """How much of the innermost band the playing tip cannot follow."""
    return "clean  " if share == 0 else f"{share * 100:.3f} %"
