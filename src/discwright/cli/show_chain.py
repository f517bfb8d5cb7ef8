"""A chain as a few lines for a person: what was found, response, distortion, noise, wiring, findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from discwright.cli.show_plan import show_finding
from discwright.findings import count_words
from discwright.units import clock

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.acts.chain import CaptureReport, ChainsReport
    from discwright.programme.chain_report import ChainReport, Tone

#: Tones in the table; more are summed up by their level.
_TONES_SHOWN = 12
_ROWS_HZ = (20.0, 31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16_000.0, 20_000.0)


def show_made(made: Mapping[str, Any], console: Console) -> None:
    """Say what was written.

    Parameters
    ----------
    made : mapping
        `path`, `duration_s`, `sample_rate_hz`, `bits`.
    console : rich.console.Console
    """
    console.print(
        f"{made['path']}: {clock(made['duration_s'])} of signals at {made['sample_rate_hz']} Hz, {made['bits']} bits.",
        soft_wrap=True,
    )
    console.print(
        "Play it through the chain without touching anything, capture what comes back, and measure that: "
        "discwright chain FILE.",
        soft_wrap=True,
    )


def show_chains(report: ChainsReport, picture: Path | None, console: Console) -> None:
    """Print one capture or several, and what changed between them.

    Parameters
    ----------
    report : ChainsReport
    picture : pathlib.Path or None
        Where it was drawn.
    console : rich.console.Console
    """
    for k, one in enumerate(report.captures):
        if k:
            console.print()
        _show(one, console)
    if len(report.captures) > 1:
        for change in report.changes():
            _show_change(change, console)
    if picture is not None:
        console.print(f"picture   {picture}", soft_wrap=True)
    findings = tuple(finding for one in report.captures for finding in one.report.findings)
    within = "within the limits" if not findings else "look at the findings before anything goes through it"
    words = count_words(findings)
    console.print(f"{words[:1].upper()}{words[1:]}: {within}.", soft_wrap=True)


def _show(one: CaptureReport, console: Console) -> None:
    report = one.report
    console.print(
        f"Chain     {Path(one.path).name}: {clock(report.length)}, {report.sample_rate_hz} Hz, "
        f"{'mono' if report.channels == 1 else 'stereo'}; {_what(report)}",
        soft_wrap=True,
    )
    if report.start is not None:
        speed = "" if report.speed is None else f", speed {_signed(report.speed * 1e6)} ppm"
        console.print(f"begins    {report.start + 0.0:.4f} s{speed}", soft_wrap=True)
    _show_response(report, console)
    _show_tones(report.tones, console)
    for pair in report.pairs:
        worse = pair.worse
        console.print(
            f"pair      {worse.low:.0f} and {worse.high:.0f} Hz at {worse.level_dbfs:.1f} dBFS: {worse.kind} "
            f"{_percent(worse.total)} ({_percent(worse.second)} second, {_percent(worse.third)} third order)",
            soft_wrap=True,
        )
    if report.separation_db is not None:
        console.print(f"apart     {report.separation_db:.1f} dB between the channels at 1 kHz", soft_wrap=True)
    _show_rest(report, console)
    for finding in report.findings:
        show_finding(finding, console)


def _what(report: ChainReport) -> str:
    if report.what == "signals":
        return f"the signals, {report.found} of {report.asked} stretches"
    if report.what == "quiet":
        return "the chain at rest"
    tones, pairs = len(report.tones), len(report.pairs)
    words = f"{tones} steady tone{'s' if tones != 1 else ''}"
    return words + (f" and {pairs} pair{'s' if pairs != 1 else ''}" if pairs else "")


def _show_response(report: ChainReport, console: Console) -> None:
    if any(gain is not None for gain in report.gain_db):
        balance = "" if report.balance_db is None else f", balance {_signed(report.balance_db)} dB"
        gains = ", ".join(
            f"{name} {_signed(gain)} dB"
            for name, gain in zip(("left", "right"), report.gain_db, strict=True)
            if gain is not None
        )
        console.print(f"gain      {gains} at 1 kHz{balance}", soft_wrap=True)
    rows = [row for row in report.response if row.frequency in _ROWS_HZ] or list(report.response[:_TONES_SHOWN])
    if not rows:
        return
    console.print("response  " + "".join(f"{_short(row.frequency):>7}" for row in rows) + "  Hz", soft_wrap=True)
    for name, values in (("left", [r.left_db for r in rows]), ("right", [r.right_db for r in rows])):
        if any(value is not None for value in values):
            cells = "".join(f"{'–' if value is None else _signed(value):>7}" for value in values)
            console.print(f"{name:>8}  {cells}  dB", soft_wrap=True)


def _show_tones(tones: Sequence[Tone], console: Console) -> None:
    """Each tone; or of many the worst at each level."""
    if len(tones) <= _TONES_SHOWN:
        for tone in tones:
            _show_tone("tone", tone, "", console)
        return
    levels: dict[int, list[Tone]] = {}
    for tone in tones:
        level = tone.worse[1].level_dbfs if tone.played_dbfs is None else tone.played_dbfs
        levels.setdefault(round(level), []).append(tone)
    for level in sorted(levels):
        worst = max(levels[level], key=lambda tone: tone.worse[1].thd)
        many = len(levels[level])
        _show_tone("worst", worst, f"; of {many} tones at {level} dBFS" if many > 1 else "", console)


def _show_tone(word: str, tone: Tone, more: str, console: Console) -> None:
    channel, one = tone.worse
    where = "" if len(tone.readings) > 1 else f", {channel} alone"
    console.print(
        f"{word:9} {one.frequency:12.5f} Hz {one.level_dbfs:7.2f} dBFS  distortion {_percent(one.thd)}, "
        f"with noise {_percent(one.thdn)}{where}{more}",
        soft_wrap=True,
    )


def _show_rest(report: ChainReport, console: Console) -> None:
    if report.noise is not None:
        level = "digital silence" if report.noise_dbfs is None else f"{report.noise_dbfs:.1f} dBFS, 20 Hz to 20 kHz"
        lines = [(line.level_dbfs, line.frequency) for one in report.noise for line in one.hum]
        hum = f"; hum {max(lines)[0]:.1f} dBFS at {max(lines)[1]:.1f} Hz" if lines else ""
        console.print(f"noise     {level}{hum}", soft_wrap=True)
    wiring = report.wiring
    if wiring.opposed is None and wiring.swapped is None:
        return
    words = []
    if wiring.opposed is not None:
        words.append("one channel is reversed" if wiring.opposed else "both channels the same way up")
    if wiring.swapped is not None:
        words.append("left and right exchanged" if wiring.swapped else "left is left")
    console.print(f"wiring    {', '.join(words)}", soft_wrap=True)


def _show_change(change: dict[str, Any], console: Console) -> None:
    rows = [
        (row["frequency_hz"], value)
        for row in change["response"]
        for value in (row["left_db"], row["right_db"])
        if value is not None
    ]
    words = []
    if rows:
        frequency, value = max(rows, key=lambda row: abs(row[1]))
        words.append(f"response {_signed(value)} dB at most, at {_short(frequency)} Hz")
    for name, key in (("separation", "separation_db"), ("noise", "noise_db"), ("balance", "balance_db")):
        if change[key] is not None:
            words.append(f"{name} {_signed(change[key])} dB")
    names = f"{Path(change['path']).name} less {Path(change['against']).name}"
    console.print(f"\nchange    {names}: {', '.join(words) or 'nothing that both have'}", soft_wrap=True)


def _short(frequency: float) -> str:
    return f"{frequency / 1000:g}k" if frequency >= 1000 else f"{frequency:g}"


def _signed(value: float) -> str:
    """With a sign, but never of nothing."""
    rounded = round(value, 2) + 0.0
    return f"{rounded:+.2f}" if rounded else "0.00"


def _percent(share: float) -> str:
    percent = 100.0 * share
    return f"{percent:.3f} %" if percent >= 0.01 else f"{percent:.1e} %" if percent >= 1e-6 else "none"
