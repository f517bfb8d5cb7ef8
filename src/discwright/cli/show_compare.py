"""Two plans side by side as a few lines for a person: what was asked otherwise and what came of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from discwright.units import clock

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.files.compare import Comparison
    from discwright.files.house import Difference

_COLOUR = {"stop": "bold red", "warn": "yellow", "note": "cyan"}
#: Key, word, what follows the numbers, unit, decimals, and the words for more and for less.
_LINES = (
    ("level_db", "level", "", "dB", 2, "won", "lost"),
    ("radius_used_mm", "radius", " used", "mm", 3, "more", "less"),
    ("spare_mm", "spare", "", "mm", 3, "won", "lost"),
    ("mean_pitch_um", "pitch", " mean", "µm", 2, "wider", "narrower"),
    ("min_land_um", "land", " at the least", "µm", 2, "wider", "narrower"),
)


def show_compare(comparison: Comparison, console: Console) -> None:
    """Print a comparison.

    Parameters
    ----------
    comparison : Comparison
    console : rich.console.Console
    """
    if comparison.alike:
        _line(console, "The two plans are alike.")
        return
    _show_programme(comparison.programme, console)
    for item in comparison.settings:
        _line(console, f"{'setting':8}  {item.key}  {_plain(item.old)} → {_plain(item.new)}")
    for key, word, after, unit, decimals, more, less in _LINES:
        measure = comparison.measures[key]
        if measure.old is None and measure.new is None:
            continue
        old, new = (_fixed(value, decimals, key == "level_db") for value in (measure.old, measure.new))
        verdict = ""
        if measure.change is not None:
            size = f"{abs(measure.change):.{decimals}f}"
            same = float(size) == 0.0
            verdict = ", the same" if same else f", {size} {unit} {more if measure.change > 0 else less}"
        _line(console, f"{word:8}  {old} → {new} {unit}{after}{verdict}")
    for word, findings in (("gained", comparison.gained), ("cured", comparison.cured)):
        for finding in findings:
            _show_finding(word, finding, finding, console)
    for before, now in comparison.changed:
        _show_finding("changed", before, now, console)
    for finding in comparison.kept:
        _show_finding("kept", finding, finding, console)
    old_ready, new_ready = ("ready to cut" if ready else "not ready to cut" for ready in comparison.ready)
    counts = f"{len(comparison.gained)} gained, {len(comparison.cured)} cured, {len(comparison.changed)} changed"
    _line(console, f"{counts}, {len(comparison.kept)} kept: {_arrow(old_ready, new_ready)}.")


def _show_programme(programme: tuple[Difference, ...], console: Console) -> None:
    """The audio in one line; its hashes say no more than that it is another."""
    if not programme:
        return
    keys = {item.key for item in programme}
    same = "another" if "sha256" in keys else "the same"
    parts = [
        f"{item.key} {_plain(item.old)} → {_plain(item.new)}"
        for item in programme
        if item.key not in ("sha256", "frames")
    ]
    _line(console, f"{'audio':8}  {', '.join([same, *parts])}")


def _show_finding(word: str, old: dict[str, Any], new: dict[str, Any], console: Console) -> None:
    """One finding of either plan, or of both with what changed in it."""
    from rich.text import Text

    line = Text(f"{word:8}  ")
    line.append(f"{_arrow(old['severity'], new['severity']):8} ", style=_COLOUR.get(new["severity"], ""))
    line.append(f"{new['code']:13} ")
    time, turn, radius = (new.get(key) for key in ("time_s", "turn", "radius_mm"))
    if time is not None and turn is not None and radius is not None:
        line.append(f"{clock(time):>8}  turn {turn:5.1f}  r {radius:6.2f} mm  ")
    if time is not None or new["limit"]:
        line.append(f"{_numbers(old['value'], new['value'])} against {_numbers(old['limit'], new['limit'])} ")
        line.append(f"{new['unit']}. ")
    line.append(new["remedy"])
    if new.get("accepted"):
        line.append(f" Accepted: {new['accepted']}")
    console.print(line, soft_wrap=True)


def _line(console: Console, text: str) -> None:
    from rich.text import Text

    console.print(Text(text), soft_wrap=True)


def _arrow(old: str, new: str) -> str:
    return old if old == new else f"{old} → {new}"


def _numbers(old: float, new: float) -> str:
    """Four figures as on the sheet, and as many as it takes to see a change."""
    if old == new:
        return f"{new:.4g}" if abs(new) < 1000 else f"{new:.0f}"
    figures = next(n for n in range(4, 18) if f"{old:.{n}g}" != f"{new:.{n}g}")
    return f"{old:.{figures}g} → {new:.{figures}g}"


def _fixed(value: float | None, decimals: int, signed: bool) -> str:
    if value is None:
        return "none"
    shown = round(value, decimals) + 0.0  # +0.0, never -0.0
    return f"{shown:+.{decimals}f}" if signed else f"{shown:.{decimals}f}"


def _plain(value: Any) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value:.10g}"
    return str(value)
