"""What stands at a place of the disc, how far two places lie apart, what is in view: in numbers and in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from discwright.desk.opened import OpenPlan
from discwright.desk.words import Words, at_clock, figures, level, minus
from discwright.errors import CallError
from discwright.units import clock

#: A pair of name and value, ready to be read.
Pair = Sequence[str]
ZONES = {
    "lead_in": "lead-in", "fine": "fine pitch before the music", "music": "music", "join": "join between bands",
    "lead_out": "lead-out", "stop": "locked groove",
}  # fmt: skip
#: Nobody looks at more than this, m from the centre.
_FURTHEST = 1.0


@dataclass(frozen=True)
class PlaceFacts:
    """What stands at a place.

    Attributes
    ----------
    on : str
        ``"land"``, ``"inner wall"``, ``"outer wall"``, ``"groove"``, ``"label"``, ``"hole"`` or ``"beside the disc"``.
    radius_mm, angle_deg : float
        Angle anticlockwise from 12 o'clock, the way the music runs.
    time_s, turn : float or None
        Of the groove there, or of the nearest.
    band : int or None
    depth_um, width_um, land_um, pitch_um, groove_speed_mm_s : float or None
    level_db, slope_deg, curvature_percent, echo_db : float or None
        Depth of the cut at the place; the others of the groove there or of the nearest.
    words : list of (name, value)
        In the person's units.
    """

    on: str
    radius_mm: float
    angle_deg: float
    time_s: float | None
    turn: float | None
    band: int | None
    depth_um: float | None
    width_um: float | None
    land_um: float | None
    pitch_um: float | None
    groove_speed_mm_s: float | None
    level_db: float | None
    slope_deg: float | None
    curvature_percent: float | None
    echo_db: float | None
    words: list[Pair]


@dataclass(frozen=True)
class TimeFacts:
    """Where a moment lies on the disc; x to the right and y down from its centre."""

    time_s: float
    turn: float
    radius_mm: float
    x_um: float
    y_um: float
    words: list[Pair]


@dataclass(frozen=True)
class RulerFacts:
    """How far two places lie apart."""

    distance_um: float
    radial_um: float
    turns: float | None
    angle_deg: float
    words: list[Pair]


@dataclass(frozen=True)
class ViewFacts:
    """What is in view: in sentences, and from when to when it is played; None where it shows no groove."""

    sentences: list[str]
    from_s: float | None
    to_s: float | None


def look_at(plan: OpenPlan, x: float, y: float, words: Words) -> PlaceFacts:
    """What stands at a place.

    Parameters
    ----------
    plan : OpenPlan
    x, y : float, m
        To the right and down from the disc's centre.
    words : Words

    Raises
    ------
    CallError
        If the place is nowhere near the disc.
    """
    radius, angle = _polar(x, y)
    on = _body(plan, radius)
    time: float | None = None
    depth = 0.0
    if on == "":
        surface = plan.cut or plan.still
        sight = surface.look(np.array([x]), np.array([y]))
        wall, depth = int(sight.wall[0]), float(sight.depth[0])
        walls = {0: "land", -1: "inner wall", 1: "outer wall"}
        on = walls[wall] if plan.cut is not None or wall == 0 else "groove"
        time = float(sight.time[0]) if wall else plan.time_near(x, y)
    pairs: list[Pair] = [("here", on), ("radius", words.radius(radius, 3)), ("angle", f"{math.degrees(angle):.1f}°")]
    values = _Values.at(plan, time) if time is not None else _Values()
    if time is not None:
        pairs += [("time", clock3(time)), ("turn", minus(time / plan.setup.disc.turn_time, 2))]
        pairs += values.pairs(words)
    if depth > 0:
        pairs.insert(1, ("deep here", words.small(depth)))
    return PlaceFacts(
        on, round(radius * 1e3, 6), round(math.degrees(angle), 4), _rounded(time, 1, 6),
        _rounded(None if time is None else time / plan.setup.disc.turn_time, 1, 6), values.band,
        _rounded(depth, 1e6, 4), _rounded(values.width, 1e6, 4), _rounded(values.land, 1e6, 4),
        _rounded(values.pitch, 1e6, 4), _rounded(values.speed, 1e3, 4), _rounded(values.level_db, 1, 3),
        _rounded(values.slope, 180 / math.pi, 4), _rounded(values.curvature, 100, 3), _rounded(values.echo, 1, 3),
        pairs,
    )  # fmt: skip


@dataclass(frozen=True)
class _Values:
    """Numbers of the groove at one time, SI; None where nobody knows."""

    band: int | None = None
    zone: str = ""
    width: float | None = None
    land: float | None = None
    pitch: float | None = None
    speed: float | None = None
    level_db: float | None = None
    slope: float | None = None
    curvature: float | None = None
    echo: float | None = None

    @classmethod
    def at(cls, plan: OpenPlan, time: float) -> _Values:
        rows, disc = plan.rows, plan.setup.disc
        row = max(0, min(int(np.searchsorted(rows.time, time, side="right")) - 1, len(rows.time) - 2))
        surface = plan.cut or plan.still
        inner, outer = (float(edge[0]) for edge in surface.groove_at(np.array([time])))
        land = float(rows.land[row])
        prepared = plan.prepared
        sector = None if prepared is None else prepared.measures.sector_at(time)
        bands = [i for i, (start, end) in enumerate(plan.bands, 1) if start <= time <= end]
        found = cls(
            band=bands[0] if bands else None,
            zone=str(rows.zone[row]),
            width=outer - inner,
            land=None if math.isnan(land) else land,
            pitch=float(rows.pitch[row]),
            speed=2 * math.pi * float(np.interp(time, rows.time, rows.radius)) / disc.turn_time,
        )
        if prepared is None or sector is None:
            return found
        asked = prepared.measures
        return cls(
            found.band, found.zone, found.width, found.land, found.pitch, found.speed, float(asked.level_db[sector]),
            float(asked.slope[sector]), float(asked.curvature[sector]), float(asked.echo[sector]),
        )  # fmt: skip

    def pairs(self, words: Words) -> list[Pair]:
        """Names and values, those that are known."""
        told: list[Pair] = [("groove", ZONES[self.zone] if self.band is None else f"band {self.band}")]
        for name, value in (("width", self.width), ("land outside", self.land)):
            if value is not None:
                told.append((name, words.small(value)))
        if self.pitch is not None and self.speed is not None:
            told += [("pitch", words.pitch(self.pitch)), ("groove speed", words.speed(self.speed))]
        if self.level_db is not None:
            told.append(("level", level(self.level_db) if self.level_db > -100 else "silence"))
        if self.slope is not None:
            told.append(("slope", f"{math.degrees(self.slope):.1f}°"))
        if self.curvature is not None:
            told.append(("curvature", f"{figures(100 * self.curvature)} % of the tip's reach"))
        if self.echo:
            told.append(("echo", f"{self.echo:.1f} dB"))
        return told


def look_up(plan: OpenPlan, time: float, words: Words) -> TimeFacts:
    """Where a moment lies on the disc.

    Parameters
    ----------
    plan : OpenPlan
    time : float, s
        Before the music it is negative.
    words : Words

    Raises
    ------
    CallError
        If the spiral does not last so long.
    """
    rows = plan.rows
    first, last = float(rows.time[0]), float(rows.time[-1])
    if not first - 1e-6 <= time <= last + 1e-6:
        raise CallError(f"the spiral lasts from {at_clock(first)} to {clock(last)}; choose a time between.")
    x, y = (float(one[0]) for one in plan.still.place_of(np.array([time])))
    radius = float(np.interp(time, rows.time, rows.radius))
    turn = time / plan.setup.disc.turn_time
    pairs: list[Pair] = [
        ("time", clock3(time)),
        ("turn", minus(turn, 2)),
        ("radius", words.radius(radius, 3)),
        *_Values.at(plan, time).pairs(words),
    ]
    return TimeFacts(
        round(time, 6), round(turn, 6), round(radius * 1e3, 6), round(x * 1e6, 3), round(y * 1e6, 3), pairs
    )


def measure(plan: OpenPlan, first: tuple[float, float], second: tuple[float, float], words: Words) -> RulerFacts:
    """How far two places lie apart: straight, along the radius, in turns and in angle.

    Parameters
    ----------
    plan : OpenPlan
    first, second : (float, float), m
        To the right and down from the disc's centre.
    words : Words

    Raises
    ------
    CallError
        If a place is nowhere near the disc.
    """
    (r1, a1), (r2, a2) = _polar(*first), _polar(*second)
    distance = math.hypot(second[0] - first[0], second[1] - first[1])
    apart = abs((a2 - a1 + math.pi) % (2 * math.pi) - math.pi)
    times = [plan.time_near(*place) if _body(plan, r) == "" else None for place, r in ((first, r1), (second, r2))]
    turns = None
    if times[0] is not None and times[1] is not None:
        turns = (times[1] - times[0]) / plan.setup.disc.turn_time
    pairs: list[Pair] = [("distance", words.length(distance)), ("along the radius", words.length(abs(r2 - r1)))]
    if turns is not None:
        pairs.append(("turns between", minus(abs(turns), 2)))
    pairs.append(("angle between", f"{math.degrees(apart):.2f}°"))
    return RulerFacts(
        round(distance * 1e6, 4), round(abs(r2 - r1) * 1e6, 4), _rounded(turns, 1, 5),
        round(math.degrees(apart), 5), pairs,
    )  # fmt: skip


def describe(plan: OpenPlan, x: float, y: float, wide: float, high: float, words: Words) -> ViewFacts:
    """The text twin of a view: where it is, which turns and bands it shows, which findings lie in it.

    Parameters
    ----------
    plan : OpenPlan
    x, y : float, m
        Of its middle, to the right and down from the disc's centre.
    wide, high : float, m
    words : Words

    Raises
    ------
    CallError
        If there is no such view.
    """
    radius, angle = _polar(x, y)
    if not (0 < wide < 10 and 0 < high < 10):
        raise CallError("a view must be wider than nothing and smaller than a room; zoom in or out.")
    disc, rows = plan.setup.disc, plan.rows
    sentences = [f"The view is {words.length(wide)} wide and {words.length(high)} high."]
    if wide > disc.disc_diameter and radius < 0.25 * disc.disc_diameter:
        sentences.append("It shows the whole disc.")
    else:
        oclock = (12 - math.degrees(angle) / 30 - 1e-9) % 12
        sentences.append(
            f"Its middle lies {words.radius(radius)} from the centre, at {round(oclock * 2) / 2 or 12:g} o'clock."
        )
    times = rows.time
    px, py = plan.still.place_of(times)
    inside = (np.abs(px - x) <= wide / 2) & (np.abs(py - y) <= high / 2)
    near = plan.time_near(x, y)
    if not inside.any() and near is not None and abs(float(np.interp(near, times, rows.radius)) - radius) < wide:
        inside = np.abs(times - near) <= plan.setup.disc.turn_time / 64
    shown = times[inside]
    if len(shown):
        sentences += _turns_in_view(plan, shown)
    else:
        sentences.append(f"There is no groove in it, only {_body(plan, radius) or 'land'}.")
    first, last = (round(float(shown.min()), 4), round(float(shown.max()), 4)) if len(shown) else (None, None)
    return ViewFacts(sentences + _findings_in_view(plan, x, y, wide, high), first, last)


def _turns_in_view(plan: OpenPlan, times: np.ndarray) -> list[str]:
    disc = plan.setup.disc
    first, last = float(times.min()), float(times.max())
    names = [i for i, (start, end) in enumerate(plan.bands, 1) if start <= last and end >= first]
    turns = f"turns {minus(first / disc.turn_time, 1)} to {minus(last / disc.turn_time, 1)}"
    told = f"It shows {turns}, played from {at_clock(first)} to {at_clock(last)}"
    if names:
        told += f", of band {names[0]}" if len(names) == 1 else f", of bands {names[0]} to {names[-1]}"
    return [told + "."]


def _findings_in_view(plan: OpenPlan, x: float, y: float, wide: float, high: float) -> list[str]:
    told = []
    for number, one in enumerate(plan.plan.document["findings"], 1):
        if one.get("time_s") is None:
            continue
        px, py = (float(c[0]) for c in plan.still.place_of(np.array([float(one["time_s"])])))
        if abs(px - x) <= wide / 2 and abs(py - y) <= high / 2:
            told.append(f"{number}, {one['severity']} {str(one['code']).replace('_', ' ')} at {clock(one['time_s'])}")
    return [f"Findings in view: {'; '.join(told)}."] if told else ["No finding lies in view."]


def clock3(seconds: float) -> str:
    """Minutes, seconds and thousandths: `17:02.417`."""
    thousandths = round(abs(seconds) * 1000)
    minutes, rest = divmod(thousandths, 60_000)
    return f"{'−' if seconds < 0 and thousandths else ''}{minutes}:{rest / 1000:06.3f}"


def _polar(x: float, y: float) -> tuple[float, float]:
    """Radius and angle anticlockwise from 12 o'clock, 0 to 2π."""
    radius = math.hypot(x, y)
    if not radius <= _FURTHEST:  # also where it is no number
        raise CallError("this place is nowhere near the disc; choose one on it.")
    return radius, math.atan2(-x, -y) % (2 * math.pi)


def _body(plan: OpenPlan, radius: float) -> str:
    """What the place is part of; empty for the disc's own surface."""
    disc = plan.setup.disc
    if radius > disc.disc_diameter / 2:
        return "beside the disc"
    if radius < disc.hole_diameter / 2:
        return "hole"
    return "label" if radius < disc.label_diameter / 2 else ""


def _rounded(value: float | None, factor: float, decimals: int) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    return round(value * factor, decimals) + 0.0
