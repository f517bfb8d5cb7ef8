"""How well a report of `discwright inspect --json` tells what was planted on a spoiled disc.

Tolerant in form (a value may be missing, a turn may be whole), strict in numbers: what is not told is not right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

from spoiler_truth import Truth

#: What was promised of an inspection.
FOUND_SHARE, FALSE_PER_5_MIN, PLACE_MS, ANGLE_DEG = 0.97, 1.0, 1.0, 1.0
SPEED_PERCENT, ECCENTRICITY_MM, RESPONSE_DB, SEPARATION_DB = 0.005, 0.01, 0.3, 1.0
#: A tick below this size is not asked for, dB; a reported one within this of a planted one is that one, s.
SIZE_DB, NEAR_S = 6.0, 0.003
#: A jump of the tip is heard around its place, s; a programme is compared from 40 Hz to 15 kHz.
JUMP_S, RANGE_HZ = 0.05, (39.0, 15_000.0)
SHORT = ("tick", "pop", "scratch", "crackle")

Plain = dict[str, Any]


@dataclass(frozen=True)
class Score:
    """One disc's result; an error is NaN where the report does not tell or nothing was planted.

    Attributes
    ----------
    planted, found : int
        Ticks, pops, and those of scratches, at least 6 dB above what masks them.
    false : int
        Reported as tick, pop, scratch or crackle where nothing was planted.
    false_per_5_min : float
    place_ms, angle_deg : float
        Worst of the found ones.
    turn : float
        Worst error of the turn.
    kinds_right : int
        Found ones that were called what they are.
    start_ms, speed_percent, eccentricity_mm, response_db, separation_db, level_db, balance_db, noise_db : float
        Reported less true; `response_db` is the greatest magnitude, and each side is 0 dB at 1 kHz.
    response_at : str
        Where the response is worst.
    size_db : float
        Median of reported less true size.
    others : dict
        Of swishes, dropouts, skips, repeats and crackle: found and planted.
    missed, invented : list of dict
        The planted ones not found and the reported ones that are not there.
    shortfalls : list of str
        What was promised and not kept, in words.
    """

    planted: int
    found: int
    false: int
    false_per_5_min: float
    place_ms: float
    angle_deg: float
    turn: float
    kinds_right: int
    start_ms: float
    speed_percent: float
    eccentricity_mm: float
    response_db: float
    response_at: str
    separation_db: float
    level_db: float
    balance_db: float
    noise_db: float
    size_db: float
    others: dict[str, tuple[int, int]]
    missed: list[Plain] = field(default_factory=list)
    invented: list[Plain] = field(default_factory=list)
    shortfalls: list[str] = field(default_factory=list)

    @property
    def found_share(self) -> float:
        """Of the planted ones, 1.0 where there were none."""
        return self.found / self.planted if self.planted else 1.0

    @property
    def passes(self) -> bool:
        """Whether every promise was kept."""
        return not self.shortfalls


def judge(report: Plain, truth: Truth | Plain) -> Score:
    """Hold a report against the truth.

    Parameters
    ----------
    report : dict
        As `inspect --json` printed it.
    truth : Truth or dict
        The spoiler's, or what `Truth.as_dict` made.

    Returns
    -------
    Score
    """
    known = truth.as_dict() if isinstance(truth, Truth) else truth
    defects = list(report.get("defects") or [])
    measures = report.get("measures") or {}
    pairs, missed = _matched(defects, known)
    invented = [one for one in defects if one.get("kind") in SHORT and not _is_planted(one, known)]
    planted = [one for one in known["ticks"] if _is_asked_for(one)]
    minutes_5 = known["programme_s"] / 300
    response, where = _response(report.get("response") or [], known)
    out = Score(
        planted=len(planted), found=len(planted) - len(missed), false=len(invented),
        false_per_5_min=len(invented) / minutes_5,
        place_ms=_worst(abs(told["time_s"] - one["time_s"]) * 1e3 for told, one in pairs),
        angle_deg=_worst(_angle(told.get("angle_deg"), one["angle_deg"]) for told, one in pairs),
        turn=_worst(_turn(told.get("turn"), one["turn"]) for told, one in pairs),
        kinds_right=sum(told.get("kind") == one["kind"] for told, one in pairs),
        start_ms=1e3 * _less(measures.get("start_s"), known["start_s"]),
        speed_percent=_less(measures.get("speed_error_percent"), known["speed_error_percent"]),
        eccentricity_mm=_less(measures.get("eccentricity_mm"), known["eccentricity_mm"]),
        response_db=response, response_at=where,
        separation_db=_less(measures.get("separation_db"), known["separation_db"]),
        level_db=_less(measures.get("level_db"), known["level_db"]),
        balance_db=_less(measures.get("balance_db"), known["balance_db"]),
        noise_db=_less(measures.get("noise_db"), known["noise_dbfs"]),
        size_db=_median([_less(told.get("size_db"), one["size_db"]) for told, one in pairs]),
        others=_others(defects, known), missed=missed, invented=invented,
    )  # fmt: skip
    out.shortfalls.extend(_shortfalls(out, known))
    return out


def _shortfalls(score: Score, known: Plain) -> list[str]:
    out = []
    if score.found_share < FOUND_SHARE:
        out.append(f"found {score.found} of {score.planted} ticks")
    if score.false_per_5_min > FALSE_PER_5_MIN:
        out.append(f"{score.false_per_5_min:.1f} false ticks per five minutes")
    if score.found:
        out += _over("a tick's place", score.place_ms, PLACE_MS, "ms")
        out += _over("a tick's angle", score.angle_deg, ANGLE_DEG, "°")
    out += _over("speed", score.speed_percent, SPEED_PERCENT, "%")
    out += _over("eccentricity", score.eccentricity_mm, ECCENTRICITY_MM, "mm")
    out += _over(f"response at {score.response_at}", score.response_db, RESPONSE_DB, "dB")
    if known["separation_db"] is not None:
        out += _over("separation", score.separation_db, SEPARATION_DB, "dB")
    return out


def _over(what: str, error: float, limit: float, unit: str) -> list[str]:
    if math.isnan(error):
        return [f"{what} is not told"]
    return [f"{what} is {error:+.4g} {unit} off, limit {limit:g}"] if abs(error) > limit else []


def _is_asked_for(one: Plain) -> bool:
    """Crackle is a region: its single ticks are no promise."""
    return one["kind"] != "crackle" and one["size_db"] >= SIZE_DB


def _matched(defects: list[Plain], known: Plain) -> tuple[list[tuple[Plain, Plain]], list[Plain]]:
    """Planted ticks with the nearest report of each, and those without one."""
    short = [one for one in defects if one.get("kind") in SHORT and one.get("time_s") is not None]
    pairs, missed = [], []
    for one in known["ticks"]:
        if not _is_asked_for(one):
            continue
        near = min(short, key=lambda told: abs(told["time_s"] - one["time_s"]), default=None)
        if near is not None and abs(near["time_s"] - one["time_s"]) <= NEAR_S:
            pairs.append((near, one))
        else:
            missed.append(one)
    return pairs, missed


def _is_planted(told: Plain, known: Plain) -> bool:
    """Whether anything planted explains a report: a tick near it, a jump, or a region that it lies in."""
    begin = told.get("time_s")
    if begin is None:
        return False
    length = (told.get("duration_s") or 0.0) if told["kind"] == "crackle" else 0.0
    if any(begin - NEAR_S <= one["time_s"] <= begin + length + NEAR_S for one in known["ticks"]):
        return True
    for one in known["others"]:
        slack = JUMP_S if one["kind"] in ("skip", "repeat") else NEAR_S
        landing = one["time_s"] + (one["size_db"] * known["turn_s"] if one["kind"] == "skip" else 0.0)
        for place in {one["time_s"], landing}:
            if begin + length >= place - slack and begin <= place + one["duration_s"] + slack:
                return True
    return False


def _others(defects: list[Plain], known: Plain) -> dict[str, tuple[int, int]]:
    """Longer faults: a report of that kind that overlaps each, give or take a tenth of a turn for jumps."""
    out: dict[str, tuple[int, int]] = {}
    for one in known["others"]:
        kind = "crackle" if one["kind"] == "crackle region" else one["kind"]
        slack = known["turn_s"] / 10
        hit = any(
            told.get("kind") == kind and told.get("time_s") is not None
            and told["time_s"] <= one["time_s"] + one["duration_s"] + slack
            and told["time_s"] + (told.get("duration_s") or 0.0) >= one["time_s"] - slack
            for told in defects
        )  # fmt: skip
        found, planted = out.get(kind, (0, 0))
        out[kind] = (found + hit, planted + 1)
    return out


def _response(told: list[Plain], known: Plain) -> tuple[float, str]:
    """The worst third octave from 40 Hz to 15 kHz; not told where one is missing."""
    true = {
        row["frequency_hz"]: row["db"] for row in known["response"] if RANGE_HZ[0] <= row["frequency_hz"] <= RANGE_HZ[1]
    }
    worst, where = 0.0, ""
    for side in ("left_db", "right_db"):
        rows = {row["frequency_hz"]: row.get(side) for row in told}
        middle = _nearest(rows, 1000.0)
        for frequency, level in true.items():
            value = _nearest(rows, frequency)
            if value is None or middle is None:
                return math.nan, f"{frequency:g} Hz {side[:-3]}"
            error = (value - middle) - (level - true[1000.0])
            if abs(error) > abs(worst):
                worst, where = error, f"{frequency:g} Hz {side[:-3]}"
    return worst, where


def _nearest(rows: dict[float, float | None], frequency: float) -> float | None:
    """The row of a third octave, by nominal or exact frequency."""
    near = min(rows, key=lambda f: abs(math.log(f / frequency)), default=None)
    return rows[near] if near is not None and abs(math.log2(near / frequency)) < 0.1 else None


def _angle(told: float | None, true: float) -> float:
    return math.nan if told is None else abs((told - true + 180) % 360 - 180)


def _turn(told: float | None, true: float) -> float:
    return math.nan if told is None else min(abs(told - true), abs(told - math.floor(true)))


def _less(told: float | None, true: float | None) -> float:
    return math.nan if told is None or true is None else told - true


def _worst(errors: Any) -> float:
    """The greatest; NaN if one of them is or there is none."""
    values = list(errors)
    return math.nan if not values or any(math.isnan(one) for one in values) else max(values)


def _median(values: list[float]) -> float:
    known = sorted(one for one in values if not math.isnan(one))
    return known[len(known) // 2] if known else math.nan
