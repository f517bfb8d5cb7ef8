"""A plating run as a few lines for a person: the plate, each step, what grows, what is worth a word."""

from __future__ import annotations

from typing import TYPE_CHECKING

from discwright.cli.show_plan import show_finding
from discwright.files.run_card_words import duration_words, step_words
from discwright.findings import count_words
from discwright.works.metals import AMPERE_HOUR, DM2, GRAM, MICRON

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.acts.plate_report import PlateReport, Weighing
    from discwright.works.plating import PlatingRun
    from discwright.works.plating_queue import Queue

#: So many parts of a queue are printed; the JSON has them all.
_PARTS_SHOWN = 24


def show_plate(report: PlateReport, console: Console) -> None:
    """Print a plating run.

    Parameters
    ----------
    report : PlateReport
    console : rich.console.Console
    """
    run = report.run
    hole = f" with a hole of {report.hole * 1e3:g} mm" if report.hole else ""
    console.print(
        f"Plate     {report.kind} in {run.metal.name}, {report.diameter * 1e3:g} mm{hole}, {run.area / DM2:.2f} dm², "
        f"target {run.target / MICRON:g} µm, efficiency {run.efficiency * 100:g} %",
        soft_wrap=True,
    )
    if report.silver_mass is not None:
        console.print(f"silver    {report.silver_mass / GRAM:.3f} g on the lacquer", soft_wrap=True)
    _show_steps(run, console)
    console.print(
        f"grows     {run.thickness / MICRON:.1f} µm mean, {run.thin / MICRON:.1f} µm at the thin place, "
        f"{run.mass / GRAM:.1f} g in {duration_words(run.seconds)}, {run.charge / AMPERE_HOUR:.1f} Ah, "
        f"{run.most_current:.1f} A at most",
        soft_wrap=True,
    )
    if report.weighing is not None:
        _show_weighing(report.weighing, console)
    if report.queue is not None:
        _show_queue(report.queue, console)
    for finding in report.findings:
        show_finding(finding, console)
    if report.card is not None:
        console.print(f"card      {report.card}", soft_wrap=True)
    words = count_words(report.findings)
    console.print(f"{words[:1].upper()}{words[1:]}.", soft_wrap=True)


def _show_steps(run: PlatingRun, console: Console) -> None:
    charge = 0.0
    for k, one in enumerate(run.steps, 1):
        charge += one.charge * run.area
        ends = {f"{run.area * density:.1f}": None for density in (one.step.first, one.last)}
        console.print(
            f"step {k:<4} {step_words(one.step, one.last):>11} A/dm²  {' to '.join(ends):>14} A  "
            f"{duration_words(one.seconds):>10}  {one.thickness / MICRON:7.1f} µm  "
            f"{charge / AMPERE_HOUR:7.1f} Ah so far",
            soft_wrap=True,
        )


def _show_weighing(weighing: Weighing, console: Console) -> None:
    following = weighing.next_run
    console.print(
        f"weighed   {weighing.gained / GRAM:g} g for {weighing.charge / AMPERE_HOUR:g} Ah: efficiency "
        f"{weighing.efficiency * 100:.1f} %; next run {duration_words(following.seconds)}, "
        f"{following.charge / AMPERE_HOUR:.1f} Ah for {following.thickness / MICRON:.1f} µm",
        soft_wrap=True,
    )


def _show_queue(queue: Queue, console: Console) -> None:
    for place in queue.places[:_PARTS_SHOWN]:
        console.print(
            f"part {place.part:<4} tank {place.tank:<3}  {_hours(place.start):>7} to {_hours(place.end)}",
            soft_wrap=True,
        )
    if len(queue.places) > _PARTS_SHOWN:
        console.print(f"          and {len(queue.places) - _PARTS_SHOWN} more; --json prints them all", soft_wrap=True)
    console.print(
        f"queue     {len(queue.places)} parts in {queue.tanks} tanks, {_hours(queue.turn_round)} between two: "
        f"done after {_hours(queue.seconds)}",
        soft_wrap=True,
    )


def _hours(seconds: float) -> str:
    """`17:45`, hours and minutes, as a clock that begins with the queue."""
    hours, minutes = divmod(round(seconds / 60.0), 60)
    return f"{hours}:{minutes:02d}"
