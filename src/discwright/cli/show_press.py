"""What an order needs as a few lines for a person: how many to start, each thing with its day, press, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from discwright.acts.press_cautions import DEFER
from discwright.cli.show_plan import show_finding
from discwright.findings import count_words
from discwright.units import clock

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.acts.press import PressReport
    from discwright.acts.press_report import DiscNeeds, Need, Ordered
    from discwright.acts.press_tape_report import TapeNeeds

_UNITS = {"pieces": "", "kg": " kg", "m": " m"}


def show_press(report: PressReport, console: Console) -> None:
    """Print what the editions of a title need.

    Parameters
    ----------
    report : PressReport
    console : rich.console.Console
    """
    from discwright.acts.press_report import DiscNeeds

    for k, one in enumerate(report.editions):
        if k:
            console.print()
        if isinstance(one, DiscNeeds):
            _show_disc(one, console)
        else:
            _show_tape(one, console)
        for finding in one.findings:
            show_finding(finding, console)
        if isinstance(one, DiscNeeds):
            console.print("care      Hot work: hands out of the press; hot vinyl, steam and oil burn.", soft_wrap=True)
            console.print(f"          {DEFER}", soft_wrap=True)
        console.print(_last_words(one), soft_wrap=True)


def _show_disc(one: DiscNeeds, console: Console) -> None:
    asked, discs = one.asked, "1 disc" if one.discs == 1 else f"{one.discs} discs"
    console.print(
        f"Order     {asked.edition.id} ({one.format}): {asked.good} good, {discs} of {one.sides} sides{_due(one)}",
        soft_wrap=True,
    )
    each = "" if one.discs == 1 else " of each disc"
    _show_start(one, f"pressings{each}", console)
    _show_table(one, console)
    console.print(
        f"a side    {_stampers(one.parts.stampers)} ({one.mean.stampers:.2f} expected, {one.parts.stampers_begun} to "
        f"grow), life {one.life.mean:g} ± {one.life.cv * 100:g} %; all steps come out together with "
        f"{one.chance * 100:.1f} %",
        soft_wrap=True,
    )
    shot = one.shot
    console.print(
        f"shot      {shot.mass * 1e3:.1f} g: a disc of {shot.disc * 1e3:g} g and {shot.flash * 100:g} % flash, "
        f"{shot.thickness * 1e3:.2f} mm thick in the mean",
        soft_wrap=True,
    )
    console.print(
        f"press     {one.seconds / 3600:.1f} h ({one.mean_seconds / 3600:.1f} expected) at {one.cycle:g} s a disc, "
        f"{_stampers(one.changes)} put in{_span(one)}",
        soft_wrap=True,
    )
    cool = one.cooling
    console.print(
        f"cooling   {cool.mean:.1f} s at the label ({cool.thickness * 1e3:g} mm, from {cool.hot_c:g} to "
        f"{cool.open_c:g} °C), {cool.centre:.1f} s to its middle: a floor, not the cycle",
        soft_wrap=True,
    )
    if one.overrun is not None:
        console.print(
            f"overrun   {one.overrun.quantity:.0f} pay best; {one.most} at most by the usual terms", soft_wrap=True
        )


def _show_tape(one: TapeNeeds, console: Console) -> None:
    asked, how = one.asked, one.copying
    tapes = "1 tape" if len(one.tapes) == 1 else f"{len(one.tapes)} tapes"
    console.print(f"Order     {asked.edition.id} (tape): {asked.good} good, {tapes}{_due(one)}", soft_wrap=True)
    _show_start(one, "copies", console)
    _show_table(one, console)
    for tape in one.tapes:
        console.print(
            f"pass      sides {', '.join(tape.letters)}: {clock(how.pass_seconds(tape.seconds))} at {how.ratio:g} "
            f"times {how.speed * 100:g} cm/s, {how.length(tape.seconds):.1f} m of tape",
            soft_wrap=True,
        )
        for band in tape.order:
            way = "backwards" if band.backwards else "forwards"
            console.print(
                f"          {clock(band.start):>7} to {clock(band.end):>7}  side {tape.letters[band.side]}  "
                f"{band.band:<20} {way}",
                soft_wrap=True,
            )
    longest = max(tape.seconds for tape in one.tapes)
    console.print(
        f"copying   {one.seconds / 3600:.1f} h with {how.slaves} slaves, {how.per_hour(longest):.0f} copies an hour; "
        "copies end at their heads and are not rewound",
        soft_wrap=True,
    )


def _show_start(one: Ordered, what: str, console: Console) -> None:
    asked = one.asked
    console.print(
        f"start     {one.start} {what} ({one.mean_start:.1f} expected): with {asked.probability * 100:g} % enough are "
        f"good, {asked.share * 100:g} % of them being good",
        soft_wrap=True,
    )


def _show_table(one: Ordered, console: Console) -> None:
    console.print(f"{'need':<10}{'':18}{'count':>12}{'to begin':>12}{'expected':>12}   by", soft_wrap=True)
    for need in one.needs:
        by = "-" if need.by is None else need.by.isoformat()
        console.print(
            f"{'':10}{need.what:<18}{_count(need.count, need):>12}{_count(need.begun, need):>12}"
            f"{_mean(need):>12}   {by}",
            soft_wrap=True,
        )


def _count(value: float, need: Need) -> str:
    return f"{value:.0f}" if need.unit == "pieces" else f"{value:.1f}{_UNITS[need.unit]}"


def _mean(need: Need) -> str:
    return f"{need.expected:.1f}{_UNITS[need.unit]}"


def _stampers(count: int) -> str:
    return "1 stamper" if count == 1 else f"{count} stampers"


def _due(one: Ordered) -> str:
    return "" if one.asked.due is None else f", due {one.asked.due.isoformat()}"


def _span(one: DiscNeeds) -> str:
    if one.dates is None:
        return ""
    return f"; from {one.dates.press_start.isoformat()} to {one.dates.press_end.isoformat()}"


def _last_words(one: Ordered) -> str:
    """What was found, and what to do first."""
    words = count_words(one.findings)
    words = f"{words[:1].upper()}{words[1:]}"
    first = one.first
    if first is None or first.by is None:
        return f"{words}."
    return f"{words}. First: {_count(first.count, first)} {first.what} by {first.by.isoformat()}."
