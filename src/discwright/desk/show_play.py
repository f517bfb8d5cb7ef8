"""A test play put together: its measures, its faults with their places on the disc, its findings."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from discwright.desk.inspect_parts import FaultRow, KindRow, PlayMeasureRow, ResponseRow
from discwright.desk.looking import clock3
from discwright.desk.page_parts import Fact
from discwright.desk.words import Words, at_clock, figures, level, minus
from discwright.desk.works_parts import Badge
from discwright.faults import KINDS, counted

#: Faults that a page shows; of more than these the largest.
MOST_ROWS = 1000
#: What every measure is called.
_NAMES = {
    "speed_error_percent": "speed, fast is positive", "wow_flutter_weighted_percent": "wow and flutter, weighted",
    "wow_peak_percent": "wow, greatest", "eccentricity_mm": "hole off the spiral's centre",
    "eccentricity_angle_deg": "in this direction", "level_db": "level of the capture", "balance_db": "balance, left "
    "louder is positive", "separation_db": "separation", "noise_db": "surface noise in quiet places",
    "rumble_db": "rumble", "start_s": "programme begins in the capture at",
}  # fmt: skip
_UNITS = {"deg": "°", "um": "µm"}
_BEST = {"more": "more is better", "less": "less is better"}
NOT_MEASURED = "not measured"


def number_of(value: object) -> float | None:
    """A number of a report; None for anything else.

    Parameters
    ----------
    value : object
    """
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)


def verdict_badge(report: Mapping[str, Any]) -> Badge:
    """The verdict in a word and a shape."""
    return Badge("ready", "pass") if report.get("verdict") == "pass" else Badge("stop", "stop")


def verdict_sentence(report: Mapping[str, Any]) -> str:
    """What the verdict rests on."""
    open_findings = [one for one in report.get("findings", ()) if not one.get("accepted")]
    stops = sum(one.get("severity") == "stop" for one in open_findings)
    warns = sum(one.get("severity") == "warn" for one in open_findings)
    counts = ((stops, "stop"), (warns, "warning"))
    told = [f"{count} {word}{'' if count == 1 else 's'}" for count, word in counts if count]
    return f"{_counted(report['defects'])}; {' and '.join(told) or 'nothing speaks against it'}."


def _counted(defects: Sequence[Mapping[str, Any]]) -> str:
    told = counted(defects)
    return f"{told[:1].upper()}{told[1:]}"


# Measures ----------------------------------------------------------------------------------------------


def measure_rows(report: Mapping[str, Any], words: Words) -> tuple[PlayMeasureRow, ...]:
    """Every measure with its unit, what is best, and its limit; those with a limit first.

    Parameters
    ----------
    report : mapping
    words : Words
    """
    limits = report.get("limits", {})
    order = sorted(report["measures"], key=lambda name: (limits.get(name, {}).get("limit") is None, _rank(name)))
    return tuple(_measure(name, report["measures"][name], limits.get(name, {}), words) for name in order)


def _rank(name: str) -> int:
    return list(_NAMES).index(name) if name in _NAMES else len(_NAMES)


def _measure(name: str, told: object, about: Mapping[str, Any], words: Words) -> PlayMeasureRow:
    unit, best = str(about.get("unit", "")), about.get("best")
    value, limit = number_of(told), number_of(about.get("limit"))
    factor, shown = (1e-3 * words.unit("mm")[1], words.unit("mm")[0]) if unit == "mm" else (1.0, _UNITS.get(unit, unit))

    def text(one: float | None) -> str:
        return "" if one is None else figures(one * factor + 0.0)

    aim = _BEST.get(str(best)) or text(number_of(best))
    return PlayMeasureRow(
        _NAMES.get(name, name.rpartition("_")[0].replace("_", " ")), text(value) or NOT_MEASURED, shown, aim,
        text(limit), _kept(value, best, limit),
    )  # fmt: skip


def _kept(value: float | None, best: object, limit: float | None) -> Badge | None:
    """Whether a measure keeps its limit."""
    if value is None or limit is None:
        return None
    good = value >= limit if best == "more" else value <= limit if best == "less" else abs(value) <= limit
    return Badge("ready", "within") if good else Badge("warn", "beyond")


def response_rows(report: Mapping[str, Any]) -> tuple[ResponseRow, ...]:
    """The response by third octaves; what could not be measured is left open."""
    rows = []
    for one in report.get("response", ()):
        frequency, left, right = (number_of(one.get(key)) for key in ("frequency_hz", "left_db", "right_db"))
        if frequency is not None and (left is not None or right is not None):
            hertz = f"{frequency:g} Hz" if frequency < 1000 else f"{frequency / 1000:g} kHz"
            rows.append(ResponseRow(hertz, *("" if one is None else level(one) for one in (left, right))))
    return tuple(rows)


def play_facts(report: Mapping[str, Any]) -> tuple[Fact, ...]:
    """What the capture is, and how distortion grows toward the centre."""
    capture = report.get("capture", {})
    rate, seconds = number_of(capture.get("sample_rate_hz")), number_of(capture.get("duration_s"))
    facts = [
        Fact("held against", str(report.get("reference", ""))),
        Fact("length of the capture", at_clock(seconds)),
        Fact("sample rate", f"{rate / 1000:g} kHz" if rate else ""),
        Fact("replay curve", {True: "in the capture", False: "added here"}.get(capture.get("replay_curve"), "")),
    ]
    for one in report.get("distortion", ()):
        at, measured, foretold = (
            number_of(one.get(key)) for key in ("time_s", "measured_percent", "predicted_percent")
        )  # fmt: skip
        if at is not None and measured is not None:
            hint = f"the proof foretold {figures(foretold)} %" if foretold is not None else ""
            facts.append(Fact(f"distortion about {at_clock(at)}", f"{figures(measured)} %", hint))
    return tuple(one for one in facts if one.value)


# Faults ------------------------------------------------------------------------------------------------


def place_um(radius_mm: float, angle_deg: float) -> tuple[float, float]:
    """A place on the disc map: µm to the right and down from the centre; the music runs anticlockwise from 12 o'clock.

    Parameters
    ----------
    radius_mm, angle_deg : float
    """
    angle = math.radians(angle_deg)
    return (round(-1e3 * radius_mm * math.sin(angle), 2) + 0.0, round(-1e3 * radius_mm * math.cos(angle), 2) + 0.0)


def shown_faults(report: Mapping[str, Any]) -> list[tuple[int, Mapping[str, Any]]]:
    """The faults of a report that a page shows, each with its number along the groove."""
    numbered = list(enumerate(report["defects"], 1))
    if len(numbered) <= MOST_ROWS:
        return numbered

    def smallness(one: tuple[int, Mapping[str, Any]]) -> tuple[bool, float]:
        return one[1].get("audible") is not True, -(number_of(one[1].get("size_db")) or 0.0)

    return sorted(sorted(numbered, key=smallness)[:MOST_ROWS], key=lambda one: one[0])


def fault_rows(report: Mapping[str, Any], words: Words) -> tuple[FaultRow, ...]:
    """Faults as rows, along the groove.

    Parameters
    ----------
    report : mapping
    words : Words
    """
    return tuple(_fault(number, one, words) for number, one in shown_faults(report))


def _fault(number: int, one: Mapping[str, Any], words: Words) -> FaultRow:
    time, turn, radius, angle, lasts, size = (
        number_of(one.get(key)) for key in ("time_s", "turn", "radius_mm", "angle_deg", "duration_s", "size_db")
    )
    x, y = place_um(radius or 0.0, angle or 0.0)
    kind = str(one["kind"])
    return FaultRow(
        number=number, kind=kind, shape=f"fault-{kind}", channel=str(one.get("channel", "")), when=_at(time),
        turn="" if turn is None else str(math.floor(turn)),
        radius="" if radius is None else words.radius(radius * 1e-3), angle="" if angle is None else f"{angle:.1f}°",
        size="" if size is None or kind in ("skip", "repeat") else level(size), duration=_lasting(lasts),
        heard=one.get("audible") is True, at_s=time or 0.0, size_db=size or 0.0, x_um=x, y_um=y,
    )  # fmt: skip


def _at(time: float | None) -> str:
    return "" if time is None else clock3(time)


def _lasting(seconds: float | None) -> str:
    if not seconds:
        return ""
    return f"{seconds * 1e3:.1f} ms" if seconds < 0.1 else f"{minus(seconds, 2)} s"


def kind_rows(report: Mapping[str, Any]) -> tuple[KindRow, ...]:
    """The kinds of fault that a play found, in their own order."""
    counts = Counter(str(one["kind"]) for one in report["defects"])
    heard = Counter(str(one["kind"]) for one in report["defects"] if one.get("audible") is True)
    found = [kind for kind in KINDS if counts[kind]]
    return tuple(KindRow(one, f"fault-{one}", f"{counts[one]}, {heard[one] or 'none'} heard") for one in found)


def left_out(report: Mapping[str, Any]) -> str:
    """How many faults a page leaves out, or nothing."""
    more = len(report["defects"]) - MOST_ROWS
    return f"{more} more, the smallest of those that are not heard, stand in inspect.json." if more > 0 else ""
