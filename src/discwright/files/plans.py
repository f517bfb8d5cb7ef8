"""A plan on disk: `plan.json`, `spiral.csv` and `disc.png` in one folder, written aside and renamed."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

from discwright import __version__
from discwright.errors import CallError
from discwright.files.settings import setup_as_plain
from discwright.groove.ladder import Rung
from discwright.groove.table import SpiralRows
from discwright.groove.treatment import TreatmentReport
from discwright.plan import Plan
from discwright.programme.title import SideLabel, Treatment
from discwright.units import lines_per_inch

PLAN, SPIRAL, PICTURE = "plan.json", "spiral.csv", "disc.png"
SHEET, SVG, REMOVED = "sheet.pdf", "spiral.svg", "removed.wav"
GCODE, AIR_RUN, CONTROL, CONTROL_SCALE = "lathe.ngc", "air-run.ngc", "control.wav", "control.toml"
#: Every file that may stand in a plan's folder; the plan itself comes last.
KEPT_FILES = (SPIRAL, PICTURE, SHEET, SVG, REMOVED, GCODE, AIR_RUN, CONTROL, CONTROL_SCALE, PLAN)
COLUMNS = "time_s,turn,zone,radius_mm,pitch_um,depth_um,land_um,groove_speed_mm_s"


@dataclass(frozen=True)
class Piece:
    """A range of an audio file that stands on a side.

    Attributes
    ----------
    path : str
    first, frames : int
        Within the file.
    gap : int
        Frames of silence after it.
    trim_db : float
    """

    path: str
    first: int
    frames: int
    gap: int
    trim_db: float


@dataclass(frozen=True)
class Source:
    """The audio a plan was made from.

    Attributes
    ----------
    path : str
        As given; several with commas between.
    sha256 : str
        Of the file's bytes, or of all files and of which samples of each stand where.
    pieces : tuple of Piece
        What stands where; empty where it is one whole file.
    """

    path: str
    sha256: str
    pieces: tuple[Piece, ...] = ()


def spiral_csv(rows: SpiralRows, turn_time: float) -> str:
    """The spiral as CSV text: lengths with six decimals in mm and four in µm.

    Parameters
    ----------
    rows : SpiralRows
    turn_time : float, s
    """
    speed = 2 * np.pi * rows.radius / turn_time
    # What rounds to nothing is 0, not -0.
    time, turn = np.round(rows.time, 9) + 0.0, np.round(rows.turn, 9) + 0.0
    pitch = np.round(rows.pitch * 1e6, 4) + 0.0
    lines = [COLUMNS]
    for t, angle, zone, radius, advance, depth, land, v in zip(
        time.tolist(), turn.tolist(), rows.zone.tolist(), (rows.radius * 1e3).tolist(), pitch.tolist(),
        (rows.depth * 1e6).tolist(), (rows.land * 1e6).tolist(), (speed * 1e3).tolist(), strict=True,
    ):  # fmt: skip
        clear = "" if land != land else f"{land:.4f}"
        lines.append(f"{t:.9f},{angle:.9f},{zone},{radius:.6f},{advance:.4f},{depth:.4f},{clear},{v:.4f}")
    return "\n".join(lines) + "\n"


def fingerprint(plan: Plan, source: Source, treatments: tuple[Treatment, ...] = ()) -> str:
    """Hash of the audio, its treatments, the resolved settings and the program and solver versions.

    Parameters
    ----------
    plan : Plan
    source : Source
    treatments : tuple of Treatment

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    knot = {
        "audio": source.sha256,
        "bands": _bands(plan),
        "level_db": _level_db(plan),
        "settings": setup_as_plain(plan.setup),
        "version": __version__,
        "solver": _solver(),
    }
    if treatments:
        knot["treatments"] = [_treatment(one) for one in treatments]
    text = json.dumps(knot, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def plan_as_dict(
    plan: Plan,
    source: Source,
    csv: str,
    label: SideLabel | None = None,
    treatments: tuple[Treatment, ...] = (),
    reports: tuple[TreatmentReport, ...] = (),
) -> dict[str, Any]:
    """Everything `plan.json` holds.

    Parameters
    ----------
    plan : Plan
    source : Source
    csv : str
        The text of `spiral.csv`.
    label : SideLabel, optional
        Of a side of a title.
    treatments : tuple of Treatment
    reports : tuple of TreatmentReport
        What each did.
    """
    land = plan.land_least
    exact = plan.exact_radius_used
    document: dict[str, Any] = {
        "fingerprint": fingerprint(plan, source, treatments),
        "version": __version__,
        "spiral_sha256": hashlib.sha256(csv.encode()).hexdigest(),
        "programme": {
            "path": source.path,
            "sha256": source.sha256,
            "sample_rate_hz": plan.programme.sample_rate_hz,
            "frames": plan.programme.frames,
            "duration_s": round(plan.programme.duration, 9),
        },
        "format": plan.setup.disc.name,
        "level_db": _level_db(plan),
        "settings": setup_as_plain(plan.setup) | {"bands": _bands(plan), "solver": _solver()},
        "turns": round(plan.turns, 6),
        "start_radius_mm": round(plan.start_radius * 1e3, 6),
        "end_radius_mm": round(plan.end_radius * 1e3, 6),
        "radius_used_mm": round(plan.radius_used * 1e3, 6),
        "spare_mm": round(plan.spare * 1e3, 6),
        "mean_pitch_um": round(plan.mean_pitch * 1e6, 4),
        "mean_lines_per_inch": round(lines_per_inch(plan.mean_pitch), 3),
        "min_land_um": round(land * 1e6, 4) if np.isfinite(land) else None,
        "min_depth_um": round(plan.depth_least * 1e6, 4),
        "max_depth_um": round(plan.depth_greatest * 1e6, 4),
        "exact": None
        if exact is None
        else {
            "radius_used_mm": round(exact * 1e3, 6),
            "gap_percent": round((plan.radius_used / exact - 1) * 100, 6),
        },
        "findings": [finding.as_dict() for finding in plan.findings],
        "ready": plan.ready,
    }
    if source.pieces:
        document["programme"]["pieces"] = [
            {
                "path": one.path,
                "first_frame": one.first,
                "frames": one.frames,
                "gap_frames": one.gap,
                "trim_db": one.trim_db,
            }
            for one in source.pieces
        ]
    if label is not None:
        document["title"] = _titled(plan, label)
    if treatments:
        document["settings"]["treatments"] = [_treatment(one) for one in treatments]
        document["treatments"] = [_treated(one) for one in reports]
    if plan.rungs:
        document["ladder"] = [_rung(one) for one in plan.rungs]
        document["prices"] = [
            {
                "level_db": round(one.level_db, 1) + 0.0,
                "spare_mm": round(one.spare * 1e3, 4),
                "playing_time_min": round(one.minutes, 3),
            }
            for one in plan.prices
        ]
    return document


def plan_json(document: dict[str, Any]) -> str:
    """The text of `plan.json`.

    Parameters
    ----------
    document : dict
        What :func:`plan_as_dict` made.
    """
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    # A file name that is no UTF-8 holds lone surrogates: JSON's own escape keeps them.
    return text.encode("utf-8", "backslashreplace").decode()


@contextmanager
def new_folder(out: Path) -> Iterator[Path]:
    """A folder to write in, which takes the place of `out` when the block ends well.

    In a folder that is there already only the plan's own files are exchanged; whatever else lies in it is
    not touched. Nothing is left behind when the block fails.

    Parameters
    ----------
    out : pathlib.Path

    Raises
    ------
    CallError
        If `out` is a file, holds something other than a plan, or cannot be written.
    """
    check_folder(out)
    fresh = not out.exists()
    place = out.parent if fresh else out
    made = [folder for folder in (place, *place.parents) if not folder.exists()]
    try:
        place.mkdir(parents=True, exist_ok=True)
        part = Path(tempfile.mkdtemp(prefix=".plan.part-", dir=place))
    except OSError as trouble:
        raise _unwritable(out, trouble) from None
    try:
        yield part
        if fresh:
            # mkdtemp keeps the folder private; a plan is as readable as any other file of the user's.
            mask = os.umask(0)
            os.umask(mask)
            part.chmod(0o777 & ~mask)
            part.rename(out)
        else:
            _exchange(part, out)
    except OSError as trouble:
        raise CallError(f"{out}: could not be written ({trouble.strerror}); check the disk.") from None
    finally:
        shutil.rmtree(part, ignore_errors=True)
        for folder in made:
            with suppress(OSError):  # it is not empty: the plan lies there
                folder.rmdir()


def check_folder(out: Path) -> None:
    """Refuse a place where a plan must not or cannot be written, before anything is computed for it.

    Parameters
    ----------
    out : pathlib.Path

    Raises
    ------
    CallError
    """
    try:
        if out.is_dir():
            if any(out.iterdir()) and not (out / PLAN).is_file():
                raise CallError(f"{out}: holds files but no plan; choose an empty or a new folder.")
        elif out.exists() or out.is_symlink():
            raise CallError(f"{out}: is a file, and a plan needs a folder; choose another name.")
        place = next(folder for folder in (out, *out.parents) if folder.exists())
        if not place.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
        if not os.access(place, os.W_OK | os.X_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    except OSError as trouble:
        raise _unwritable(out, trouble) from None


def _unwritable(out: Path, trouble: OSError) -> CallError:
    return CallError(f"{out}: cannot be written ({trouble.strerror}); choose another folder.")


def _exchange(part: Path, out: Path) -> None:
    """Put a new plan's files in the place of an old one's, or leave the old one as it was."""
    old = part / "old"
    old.mkdir()
    kept = [name for name in KEPT_FILES if (out / name).exists()]
    try:
        for name in kept:
            (out / name).rename(old / name)
        for name in KEPT_FILES:
            if (part / name).exists():
                (part / name).rename(out / name)
    except BaseException:
        for name in KEPT_FILES:
            if (old / name).exists():
                (old / name).replace(out / name)
            elif name not in kept:
                (out / name).unlink(missing_ok=True)
        raise


def _titled(plan: Plan, label: SideLabel) -> dict[str, Any]:
    ids = label.band_ids or ("",) * len(label.band_names)
    trims = label.trims_db or (0.0,) * len(label.band_names)
    radius = np.interp([start for start, _ in plan.bands], plan.rows.time, plan.rows.radius)
    return {
        "name": label.title,
        "edition": label.edition,
        "side": label.letter,
        "matrix": label.matrix,
        "people": list(label.people),
        "bands": [
            {
                "id": id_,
                "name": name,
                "isrc": isrc,
                "trim_db": trim,
                "start_s": round(start, 6),
                "end_s": round(end, 6),
                "turn": round(start / plan.setup.disc.turn_time, 4),
                "radius_mm": round(float(r) * 1e3, 4),
            }
            for id_, name, isrc, trim, (start, end), r in zip(
                ids, label.band_names, label.isrcs, trims, plan.bands, radius, strict=True
            )
        ],
    }


def _treatment(one: Treatment) -> dict[str, Any]:
    corners = {"below_hz": one.below, "above_hz": one.above}
    return {"kind": one.kind} | {key: value for key, value in corners.items() if value is not None}


def _treated(one: TreatmentReport) -> dict[str, Any]:
    acted = one.first is not None
    return {
        "kind": one.kind,
        "corner_hz": one.corner,
        "acting_s": round(one.seconds, 4),
        "worst_s": round(one.worst, 4) if acted else None,
        "greatest_db": round(one.greatest_db, 2) if acted else None,
        "spans": [{"start_s": round(start, 4), "end_s": round(end, 4)} for start, end in one.spans],
    }


def _rung(one: Rung) -> dict[str, Any]:
    return {
        "limit": one.limit,
        "level_db": round(one.level_db, 1) + 0.0,
        "time_s": None if one.time is None else round(one.time, 4),
        "turn": None if one.turn is None else round(one.turn, 4),
        "radius_mm": None if one.radius is None else round(one.radius * 1e3, 4),
    }


def _solver() -> str:
    return f"highspy {version('highspy')}"


def _level_db(plan: Plan) -> float:
    """As it is kept: 0 and -0 are one level and one fingerprint."""
    return round(plan.level_db, 6) + 0.0


def _bands(plan: Plan) -> list[dict[str, float]]:
    return [{"start_s": round(start, 6), "end_s": round(end, 6)} for start, end in plan.bands]
