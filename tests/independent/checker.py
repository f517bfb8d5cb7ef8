"""Judge a plan by another road: the walls sample by sample, then every rule against the written spiral.

`check_plan` finds the facts from `spiral.csv`, the settings and the audio; `disagreements` holds them
against what the plan says and what the design asks. The physics is in `walls.py`, shared with nothing.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf
from walls import FINE_TURNS, TIME_STEP, Floats, Floats32, Spiral, depth_range, lands, make_walls, read_spiral

RADIUS_STEP_UM = 1e-3  # a radius written to six decimals of a millimetre


@dataclass(frozen=True)
class CheckResult:
    """What the spiral and the audio say by themselves. Lengths in µm unless the name says otherwise."""

    sha256: str
    audio_sha256: str
    frames: int
    sample_rate_hz: int
    turns: float
    start_radius_mm: float
    end_radius_mm: float
    last_radius_mm: float
    least_land_um: float
    least_land_time_s: float
    least_land_unguarded_um: float
    walls_cross: bool
    land_column_error_um: float
    land_column_error_time_s: float
    missing_lands: int
    least_depth_um: float
    greatest_depth_um: float
    pitch_min_um: float
    pitch_max_um: float
    pitch_step_um: float
    pitch_step_limit_um: float
    depth_step_um: float
    depth_step_limit_um: float
    pitch_error_um: float
    outward_step_um: float
    traverse_mm_s: float
    fine_start_error_s: float
    lead_in_pitch_error_um: float
    lead_out_turns: float
    lead_out_pitch_min_um: float
    lead_out_pitch_max_um: float
    final_radius_mm: float
    off_grid_rows: int
    disordered_rows: int
    misplaced_zones: int
    has_end_row: bool
    turn_error: float
    speed_error_mm_s: float
    slope: float
    slope_time_s: float
    curvature_share_percent: float


def compare_lands(spiral: Spiral, first: int, land: Floats32, rate: int) -> tuple[float, float, int]:
    """Greatest difference from the land column (m), where (s), and how many lands the column lacks."""
    end = (first + len(land) - 1) / rate
    rows = np.flatnonzero((spiral.time >= -FINE_TURNS * spiral.turn_time - 1e-9) & (spiral.time < end - 1e-9))
    begin = np.ceil(spiral.time[rows] * rate - 1e-6).astype(np.int64) - first
    keep = np.diff(begin, append=len(land)) > 0
    rows = rows[keep]
    least = np.minimum.reduceat(land, begin[keep]).astype(np.float64)
    written = spiral.land[rows]
    whole = np.append(spiral.time[1:], math.inf)[rows] <= end + 1e-9
    both = np.isfinite(least) & np.isfinite(written) & whole
    missing = int(np.count_nonzero(np.isfinite(least) & np.isnan(written) & whole))
    error = np.abs(least - written)[both]
    if not error.size:
        return math.inf, math.nan, missing
    return float(error.max()), float(spiral.time[rows[both][error.argmax()]]), missing


def _largest(values: Floats) -> float:
    return float(np.nanmax(values, initial=0.0))


def check_rows(spiral: Spiral, settings: dict[str, Any]) -> dict[str, Any]:
    """Everything the rows say without the audio."""
    disc, lathe, t = settings["format"], settings["lathe"], spiral.time
    step, turn_time = np.diff(t), spiral.turn_time
    derived = -turn_time * np.diff(spiral.radius) / step
    slewed = spiral.within("fine", "music")
    steps = np.abs(np.diff(spiral.pitch))[slewed[:-1] & slewed[1:]]
    lead_out = np.flatnonzero(spiral.within("lead_out"))
    halt = np.flatnonzero(spiral.within("stop"))
    on_grid = np.abs(t * spiral.sectors / turn_time - np.round(t * spiral.sectors / turn_time)) < 1e-9
    on_grid |= (t == spiral.duration) | (t == -FINE_TURNS * turn_time)
    begun, over = t >= -1e-9, t > spiral.duration - TIME_STEP
    fine = (t >= -FINE_TURNS * turn_time - 1e-9) & ~begun
    right = np.where(over, spiral.within("lead_out", "stop"), spiral.within("music", "join"))
    right = np.where(begun, right, np.where(fine, spiral.within("fine"), spiral.within("lead_in")))
    end_time = t[halt[0]] if halt.size else t[-1]
    rounding = RADIUS_STEP_UM * turn_time / step
    loose = ~on_grid[:-1] | ~on_grid[1:]  # a time off the grid is known to a microsecond, and so is the step
    rounding += np.where(loose, np.abs(derived) * 1e6 * 1e-6 / step, 0.0)
    return {
        "start_radius_mm": float(np.interp(0.0, t, spiral.radius)) * 1e3,
        "end_radius_mm": float(np.interp(spiral.duration, t, spiral.radius)) * 1e3,
        "last_radius_mm": max(disc["innermost_radius_mm"], disc["locked_radius_mm"] + disc["lead_out_pitch_min_mm"]),
        "pitch_min_um": float(spiral.pitch[slewed].min()) * 1e6,
        "pitch_max_um": float(spiral.pitch[slewed].max()) * 1e6,
        "pitch_step_um": _largest(steps) * 1e6,
        "pitch_step_limit_um": lathe["pitch_slew_um_per_turn"] / spiral.sectors,
        "depth_step_um": _largest(np.abs(np.diff(spiral.depth))[slewed[:-1]]) * 1e6,
        "depth_step_limit_um": lathe["depth_slew_um_per_turn"] / spiral.sectors,
        "pitch_error_um": _largest(np.abs(derived - spiral.pitch[:-1]) * 1e6 - rounding),
        "outward_step_um": _largest(np.diff(spiral.radius)) * 1e6,
        "traverse_mm_s": _largest(np.abs(derived)) / turn_time * 1e3,
        "fine_start_error_s": float(
            np.abs(spiral.written_time[spiral.zone == "fine"] + FINE_TURNS * turn_time).min(initial=math.inf)
        ),
        "lead_in_pitch_error_um": _largest(
            np.abs(spiral.pitch[spiral.zone == "lead_in"] - disc["lead_in_pitch_mm"] * 1e-3) * 1e6
        ),
        "lead_out_turns": float(end_time - spiral.duration) / turn_time,
        "lead_out_pitch_min_um": float(np.nanmin(spiral.pitch[lead_out], initial=math.inf)) * 1e6,
        "lead_out_pitch_max_um": _largest(spiral.pitch[lead_out]) * 1e6,
        "final_radius_mm": float(spiral.radius[-1]) * 1e3,
        "off_grid_rows": int(np.count_nonzero(~on_grid & spiral.within("fine", "music", "join"))),
        "disordered_rows": int(np.count_nonzero(step <= 0)),
        "misplaced_zones": int(np.count_nonzero(~right)),
        "has_end_row": bool(np.any(t == spiral.duration)),
        "turn_error": _largest(np.abs(spiral.turn - t / turn_time)),
        "speed_error_mm_s": _largest(np.abs(spiral.speed - 2 * np.pi * spiral.radius / turn_time)) * 1e3,
    }


def check_plan(plan_dir: Path, audio_path: Path) -> CheckResult:
    """Recompute everything in a plan directory from its spiral, its settings and the audio.

    Raises
    ------
    ValueError
        If the columns of `spiral.csv` are not the agreed ones.
    """
    plan = json.loads((plan_dir / "plan.json").read_text(encoding="utf-8"))
    samples, rate = sf.read(audio_path, dtype="float32", always_2d=True)
    if samples.shape[1] == 1:
        samples = np.repeat(samples, 2, axis=1)
    frames = len(samples)
    spiral = read_spiral(plan_dir / "spiral.csv", plan["settings"], frames / rate)
    found = check_rows(spiral, plan["settings"])
    walls, limits = make_walls(samples, rate, plan, spiral)
    del samples
    bare = float(lands(spiral, walls, 0.0)[1].min()) * 1e6
    first, land = lands(spiral, walls, plan["settings"]["practice"]["sync_guard_ms"] * 1e-3)
    error, error_time, missing = compare_lands(spiral, first, land, rate)
    least_depth, greatest_depth = depth_range(spiral, walls)
    return CheckResult(
        **found,
        **limits,
        sha256=spiral.sha256,
        audio_sha256=hashlib.sha256(audio_path.read_bytes()).hexdigest(),
        frames=frames,
        sample_rate_hz=rate,
        turns=spiral.duration / spiral.turn_time,
        least_land_um=float(land.min()) * 1e6,
        least_land_time_s=float(first + land.argmin()) / rate,
        least_land_unguarded_um=bare,
        walls_cross=bare < 0 or least_depth < 0,
        land_column_error_um=error * 1e6,
        land_column_error_time_s=error_time,
        missing_lands=missing,
        least_depth_um=least_depth * 1e6,
        greatest_depth_um=greatest_depth * 1e6,
    )


Rules = Iterator[tuple[bool, str]]


def _same(plan: dict[str, Any], key: str, truth: float, tolerance: float) -> tuple[bool, str]:
    return abs(plan[key] - truth) <= tolerance, f"plan says {key} {plan[key]}, it is {truth:.6g}"


def _identity_rules(r: CheckResult, plan: dict[str, Any]) -> Rules:
    """Hashes, lengths, columns and grid: is this the plan of this programme?"""
    programme = plan["programme"]
    yield plan["spiral_sha256"] == r.sha256, "spiral_sha256 is not the hash of spiral.csv"
    yield programme["sha256"] == r.audio_sha256, "programme sha256 is not the hash of the audio file"
    yield programme["frames"] == r.frames, f"frames {programme['frames']} for {r.frames}"
    yield programme["sample_rate_hz"] == r.sample_rate_hz, f"sample rate is {r.sample_rate_hz} Hz"
    yield r.off_grid_rows == 0, f"{r.off_grid_rows} rows off the sector grid"
    yield r.disordered_rows == 0, f"{r.disordered_rows} rows out of order"
    yield r.misplaced_zones == 0, f"{r.misplaced_zones} rows in the wrong zone"
    yield r.has_end_row, "the end of the music has no row"
    yield r.turn_error <= 1e-4, f"turn column is wrong by {r.turn_error:.6f}"
    yield r.speed_error_mm_s <= 0.01, f"groove speed is wrong by {r.speed_error_mm_s:.4f} mm/s"


def _wall_rules(r: CheckResult, plan: dict[str, Any], tol: float) -> Rules:
    """Land and depth, sample by sample."""
    practice = plan["settings"]["practice"]
    yield _same(plan, "min_land_um", r.least_land_um, tol)
    yield _same(plan, "min_depth_um", r.least_depth_um, tol)
    yield _same(plan, "max_depth_um", r.greatest_depth_um, tol)
    yield not r.walls_cross, "walls cross"
    where = f"at {r.least_land_time_s:.3f} s"
    yield (
        r.least_land_um >= practice["land_min_um"] - tol,
        f"land {r.least_land_um:.2f} µm {where} is too thin",
    )
    least, greatest = r.least_depth_um, r.greatest_depth_um
    yield least >= practice["depth_min_um"] - tol, f"depth {least:.2f} µm is too shallow"
    yield greatest <= practice["depth_max_um"] + tol, f"depth {greatest:.2f} µm is too deep"
    where = f"{r.land_column_error_um:.3f} µm at {r.land_column_error_time_s:.3f} s"
    yield r.land_column_error_um <= tol, f"land column is wrong by {where}"
    yield r.missing_lands == 0, f"land column lacks {r.missing_lands} rows"


def _lathe_rules(r: CheckResult, plan: dict[str, Any]) -> Rules:
    """Pitch, its rate, the rate of depth and the way of the carriage."""
    lathe = plan["settings"]["lathe"]
    low, high, rounded = r.pitch_min_um, r.pitch_max_um, 2e-4
    yield low >= lathe["pitch_min_um"] - rounded, f"pitch {low:.4f} µm is below the lathe's"
    yield high <= lathe["pitch_max_um"] + rounded, f"pitch {high:.4f} µm is above the lathe's"
    step, limit = r.pitch_step_um, r.pitch_step_limit_um
    yield step <= limit + rounded, f"pitch slew {step:.4f} µm per sector, {limit:.4f} allowed"
    step, limit = r.depth_step_um, r.depth_step_limit_um
    yield step <= limit + rounded, f"depth slew {step:.4f} µm per sector, {limit:.4f} allowed"
    yield r.pitch_error_um <= rounded, f"pitch column differs from the radius by {r.pitch_error_um:.4f} µm"
    yield r.outward_step_um <= 0, f"radius grows by {r.outward_step_um:.4f} µm"
    yield r.traverse_mm_s <= lathe["traverse_max_mm_s"] + 1e-3, f"traverse of {r.traverse_mm_s:.3f} mm/s"


def _format_rules(r: CheckResult, plan: dict[str, Any], tol: float) -> Rules:
    """Where the music lies, lead-in, lead-out and the numbers that follow from the radii."""
    disc = plan["settings"]["format"]
    start, locked = disc["outermost_radius_mm"], disc["locked_radius_mm"]
    used = r.start_radius_mm - r.end_radius_mm
    pitch = used / r.turns * 1e3
    yield _same(plan, "start_radius_mm", r.start_radius_mm, 1e-3)
    yield _same(plan, "end_radius_mm", r.end_radius_mm, 1e-3)
    yield _same(plan, "radius_used_mm", used, 1e-3)
    yield _same(plan, "spare_mm", r.end_radius_mm - r.last_radius_mm, 2e-3)
    yield _same(plan, "turns", r.turns, 1e-3)
    yield _same(plan, "mean_pitch_um", pitch, 0.01)
    yield _same(plan, "mean_lines_per_inch", 25400 / pitch, 0.1)
    yield abs(r.start_radius_mm - start) <= 1e-5, f"music starts at {r.start_radius_mm:.6f} mm, not {start}"
    yield r.fine_start_error_s <= TIME_STEP, f"fine pitch starts {r.fine_start_error_s:.6f} s off"
    yield r.lead_in_pitch_error_um <= tol, f"lead-in pitch is off by {r.lead_in_pitch_error_um:.2f} µm"
    if r.end_radius_mm < r.last_radius_mm - 1e-5:
        yield not plan["ready"], "the side does not fit and is called ready"
        return
    low, high = r.lead_out_pitch_min_um, r.lead_out_pitch_max_um
    yield low >= disc["lead_out_pitch_min_mm"] * 1e3 - tol, f"lead-out pitch {low:.1f} µm is too fine"
    yield high <= disc["lead_out_pitch_max_mm"] * 1e3 + tol, f"lead-out pitch {high:.1f} µm is too coarse"
    yield r.lead_out_turns >= 1 - 1e-6, f"lead-out of {r.lead_out_turns:.4f} turns"
    yield abs(r.final_radius_mm - locked) <= 1e-3, f"spiral ends at {r.final_radius_mm:.4f} mm, not {locked}"


def _finding_rules(r: CheckResult, plan: dict[str, Any]) -> Rules:
    """Does the plan say what it should about slope, curvature, readiness and the optimum?"""
    codes = {f["code"] for f in plan["findings"]}
    stopped = any(f["severity"] == "stop" for f in plan["findings"])
    yield plan["ready"] != stopped, "ready does not agree with the findings"
    limit = math.tan(math.radians(plan["settings"]["cutting_tip"]["clearance_deg"]))
    yield "slope" in codes or r.slope <= 1.02 * limit, f"slope {r.slope:.3f} has no finding"
    yield "slope" not in codes or r.slope >= 0.98 * limit, f"a finding on slope, which is {r.slope:.3f}"
    allowed, share = plan["settings"]["practice"]["curvature_share_max_percent"], r.curvature_share_percent
    yield "curvature" in codes or share <= 1.2 * allowed, f"{share:.3f} % beyond curvature has no finding"
    if plan["exact"] is not None:
        optimum = plan["exact"]["radius_used_mm"]
        gap = 100 * ((r.start_radius_mm - r.end_radius_mm) / optimum - 1)
        yield abs(plan["exact"]["gap_percent"] - gap) <= 0.01, f"gap is {gap:.4f} %"
        yield gap >= -0.01, f"the plan is {-gap:.4f} % tighter than what it calls the optimum"


def disagreements(result: CheckResult, plan: dict[str, Any], tolerance_um: float = 0.5) -> list[str]:
    """Sentences on every rule the spiral breaks and every number of the plan that is not so.

    The tolerance on walls is 0.5 µm: 0.1 dB of curve is 1.2 % of the few tens of µm an edge
    moves. Written radii and pitches have only their own rounding for an excuse.
    """
    rules = chain(
        _identity_rules(result, plan),
        _wall_rules(result, plan, tolerance_um),
        _lathe_rules(result, plan),
        _format_rules(result, plan, tolerance_um),
        _finding_rules(result, plan),
    )
    return [text for holds, text in rules if not holds]
