"""A proof as a few lines for a person: what each tip makes of the side, and where it is worst."""

from __future__ import annotations

from typing import TYPE_CHECKING

from discwright.cli.show_plan import show_finding
from discwright.units import clock

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.acts.proof_report import ProofReport, TipProof
    from discwright.groove.tone import Spectrum


def show_proof(report: ProofReport, console: Console) -> None:
    """Print a proof.

    Parameters
    ----------
    report : ProofReport
    console : rich.console.Console
    """
    side, place = report.side, report.place
    where = "" if report.at_radius is None else f", played as if at {report.at_radius * 1e3:.1f} mm"
    console.print(
        f"Proof     {side.name}, {side.setup.disc.name}, {side.level_db + 0.0:+.1f} dB, "
        f"{clock(report.start)} to {clock(report.end)}{where}",
        soft_wrap=True,
    )
    heard = ", ".join(effect.replace("_", " ") for effect in report.effects) or "the replay curve alone"
    console.print(f"player    {report.player}: {heard}", soft_wrap=True)
    for one in report.tips:
        treble = "no treble to judge" if one.treble_db is None else f"treble {one.treble_db:+.1f} dB"
        console.print(
            f"tip       {one.name}: distortion {100 * one.median_distortion:.1f} % as a rule, "
            f"{100 * one.worst_distortion:.1f} % at worst, {treble}",
            soft_wrap=True,
        )
    for one in report.tips[1:]:
        _show_against(report.tips[0], one, console)
    for one in report.tips:
        if one.spots:
            console.print(f"worst     with {one.name}:", soft_wrap=True)
        for spot in one.spots:
            console.print(
                f"          {clock(spot.time):>7}  turn {spot.time / place.turn_time:6.1f}  "
                f"r {place.radius_at(spot.time) * 1e3:6.2f} mm  {100 * spot.distortion:5.1f} %, most near "
                f"{spot.octave_hz:g} Hz",
                soft_wrap=True,
            )
    for one in report.tips:
        for finding in one.findings:
            show_finding(finding, console)
    if report.gain_db:
        console.print(f"Written {-report.gain_db:.1f} dB lower than it was, so that nothing clips.", soft_wrap=True)
    for one in report.tips:
        _show_files(one, console)
    if report.picture is not None:
        console.print(f"Picture: {report.picture}", soft_wrap=True)


def _show_against(first: TipProof, other: TipProof, console: Console) -> None:
    """How a tip differs from the first one."""
    if first.median_distortion == 0.0:
        return
    words = f"{other.name} makes {other.median_distortion / first.median_distortion:.2f} × the distortion"
    if first.treble_db is not None and other.treble_db is not None:
        words += f" of {first.name} and gives back {other.treble_db - first.treble_db:+.1f} dB of treble"
    else:
        words += f" of {first.name}"
    console.print(f"differ    {words}", soft_wrap=True)


def _show_files(one: TipProof, console: Console) -> None:
    if one.audio is not None:
        console.print(f"Audio with {one.name}: {one.audio}", soft_wrap=True)
    if one.difference is not None:
        console.print(f"What it changes: {one.difference}", soft_wrap=True)


def show_tone(spectrum: Spectrum, console: Console) -> None:
    """Print the harmonics of a tone on the bench.

    Parameters
    ----------
    spectrum : Spectrum
    console : rich.console.Console
    """
    tone, plain = spectrum.tone, spectrum.as_dict()
    console.print(
        f"Tone      {tone.frequency:g} Hz, {tone.velocity * 100:g} cm/s {tone.modulation}, groove speed "
        f"{tone.speed * 100:.2f} cm/s, q {plain['q']:.4f}, slope {plain['slope']:.3f}",
        soft_wrap=True,
    )
    console.print(f"kept      {100 * spectrum.fundamental_gain:.2f} % of the fundamental")
    console.print("order     velocity  displacement   across: velocity  displacement")
    for own, other in zip(plain["harmonics"], plain["other_plane"], strict=True):
        console.print(
            f"{own['order']:>5}  {own['velocity_percent']:9.4f} %  {own['displacement_percent']:10.4f} %  "
            f"{other['velocity_percent']:15.4f} %  {other['displacement_percent']:10.4f} %"
        )
