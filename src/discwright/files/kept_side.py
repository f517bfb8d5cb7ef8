"""A side that was planned and kept, opened again: its settings, its spiral and the very audio it was planned from."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from discwright.errors import AudioError, CallError
from discwright.files.audio import read_head
from discwright.files.compare import read_plan, setup_from_plan
from discwright.files.plans import COLUMNS, PLAN, SPIRAL
from discwright.files.side_audio import BandRange, SideAudio
from discwright.groove.equipment import Setup
from discwright.groove.table import SpiralRows
from discwright.plan import Order
from discwright.programme.title import TitleBand, Treatment

Float = NDArray[np.float64]


@dataclass(frozen=True)
class KeptSide:
    """One kept side.

    Attributes
    ----------
    folder : pathlib.Path
    document : dict
        What `plan.json` holds.
    setup : Setup
    level_db : float
    bands : tuple of (float, float), s
    treatments : tuple of Treatment
    rows : SpiralRows
        The spiral; radius and depth are linear between rows.
    audio : SideAudio
    """

    folder: Path
    document: dict[str, Any]
    setup: Setup
    level_db: float
    bands: tuple[tuple[float, float], ...]
    treatments: tuple[Treatment, ...]
    rows: SpiralRows
    audio: SideAudio

    @property
    def order(self) -> Order:
        """What would be asked for to plan this side once more, just as it is."""
        return Order(
            self.setup,
            self.level_db,
            band_starts=tuple(start for start, _ in self.bands),
            band_ends=tuple(end for _, end in self.bands),
        )


def open_kept(folder: Path) -> KeptSide:
    """Open a folder that `plan --out` made, and its audio, and see that both are still what they were.

    Parameters
    ----------
    folder : pathlib.Path
        Or its `plan.json`.

    Returns
    -------
    KeptSide

    Raises
    ------
    CallError
        If there is no plan, or its spiral is missing or was changed.
    SettingsError
        If its settings are no whole setup.
    AudioError
        If the audio is missing or is not what was planned.
    """
    document = read_plan(folder)
    place = folder if folder.is_dir() else folder.parent
    rows = read_spiral(place, document)
    settings = document["settings"]
    try:
        bands = tuple((float(one["start_s"]), float(one["end_s"])) for one in settings["bands"])
        treatments = tuple(
            Treatment(str(one["kind"]), one.get("below_hz"), one.get("above_hz"))
            for one in settings.get("treatments", ())
        )
        ranges = [_piece(piece, place) for piece in _pieces(document)]
        rate, frames = int(document["programme"]["sample_rate_hz"]), int(document["programme"]["frames"])
        sha256 = document["programme"]["sha256"]
    except (KeyError, TypeError, ValueError, AttributeError):
        raise CallError(f"{place / PLAN}: is no whole plan; keep the plan again with --out.") from None
    audio = SideAudio(ranges)
    changed = (audio.programme.frames, audio.programme.sample_rate_hz) != (frames, rate)
    if not changed:
        audio.read_hashes()
        changed = audio.sha256 != sha256
    if changed:
        raise AudioError(
            f"{document['programme']['path']}: is not the programme that {place} was planned from (its fingerprint "
            "differs); bring that one back, or plan the side again."
        )
    return KeptSide(
        place, document, setup_from_plan(document), float(document["level_db"]), bands, treatments, rows, audio
    )


def read_spiral(place: Path, document: Mapping[str, Any]) -> SpiralRows:
    """The spiral of a kept plan.

    Parameters
    ----------
    place : pathlib.Path
        The plan's folder.
    document : dict
        What its `plan.json` holds.

    Returns
    -------
    SpiralRows

    Raises
    ------
    CallError
        If `spiral.csv` is missing or is not the plan's.
    """
    file = place / SPIRAL
    try:
        text = file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        raise CallError(f"{file}: cannot be read, and the plan is no good without it; plan the side again.") from None
    if hashlib.sha256(text.encode()).hexdigest() != document.get("spiral_sha256"):
        raise CallError(f"{file}: is not the spiral that {PLAN} beside it names; plan the side again.")
    cells = list(zip(*(line.split(",") for line in text.splitlines()[1:]), strict=True))
    columns = dict(zip(COLUMNS.split(","), cells, strict=True))

    def numbers(name: str) -> Float:
        return np.array([float(cell) if cell else np.nan for cell in columns[name]])

    return SpiralRows(
        time=numbers("time_s"),
        turn=numbers("turn"),
        zone=np.array(columns["zone"]),
        radius=numbers("radius_mm") * 1e-3,
        pitch=numbers("pitch_um") * 1e-6,
        depth=numbers("depth_um") * 1e-6,
        land=numbers("land_um") * 1e-6,
    )


def audio_state(place: Path, document: Mapping[str, Any]) -> Literal["same", "changed", "missing"]:
    """Hold the audio of a kept plan against what was planned, without decoding it.

    Parameters
    ----------
    place : pathlib.Path
        The plan's folder.
    document : dict
        What its `plan.json` holds.

    Returns
    -------
    {"same", "changed", "missing"}
    """
    pieces = _pieces(document)
    if not all(Path(_found(str(piece["path"]), place)).is_file() for piece in pieces):
        return "missing"
    try:
        audio = SideAudio([_piece(piece, place) for piece in pieces])
        audio.read_hashes()
    except AudioError:  # shorter, or no audio any more
        return "changed"
    return "same" if audio.sha256 == document["programme"]["sha256"] else "changed"


def _pieces(document: Mapping[str, Any]) -> list[dict[str, Any]]:
    """What stands on the side; a plan without that list is of one whole file."""
    programme = document["programme"]
    if "pieces" in programme:
        return list(programme["pieces"])
    if "title" in document and len(document["settings"]["bands"]) > 1:
        raise CallError(
            "this plan was kept by a version that did not note which samples stand where; plan the title again."
        )
    return [{"path": programme["path"], "first_frame": 0, "frames": None, "gap_frames": 0, "trim_db": 0.0}]


def _piece(piece: Mapping[str, Any], place: Path) -> BandRange:
    path = _found(str(piece["path"]), place)
    header = read_head(path)
    frames = header.frames if piece["frames"] is None else int(piece["frames"])
    first = int(piece["first_frame"])
    if first + frames > header.frames:
        raise AudioError(f"{path}: is shorter than it was when the side was planned; bring that one back.")
    band = replace(TitleBand("", "", str(path)), trim_db=float(piece["trim_db"]))
    return BandRange(band, header, first, frames, int(piece["gap_frames"]))


def _found(path: str, place: Path) -> str:
    """The file as it was named; or, where the folder has moved, by its name near the plan."""
    if Path(path).exists():
        return path
    near = (place / path, *(folder / Path(path).name for folder in (place, place.resolve().parent)))
    return next((str(one) for one in near if one.is_file()), path)
