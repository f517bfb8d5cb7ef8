"""Make the invented demo programme and plan both its sides."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from discwright.acts.plan import PlanReport, plan_file
from discwright.errors import CallError
from discwright.files.plans import PICTURE
from discwright.programme.demo import DemoSide, demo_sides

SAMPLE_RATE_HZ = 44_100


@dataclass(frozen=True)
class DemoResult:
    """One side of the demo, made and planned.

    Attributes
    ----------
    title, letter : str
    audio, picture : pathlib.Path
    report : PlanReport
    """

    title: str
    letter: str
    audio: Path
    picture: Path
    report: PlanReport


def write_demo(
    folder: str | os.PathLike[str], progress: Callable[[str, float], None] | None = None
) -> tuple[DemoResult, ...]:
    """Write the demo's sides as 24-bit WAV and a plan of each beside them.

    Parameters
    ----------
    folder : str or os.PathLike
        Made where it does not exist.
    progress : callable, optional
        Called with a step's name and the fraction of it done.

    Returns
    -------
    tuple of DemoResult

    Raises
    ------
    CallError
        If the folder cannot be written.
    """
    tell = progress or (lambda _step, _done: None)
    place = Path(folder)
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as trouble:
        raise CallError(f"{place}: cannot be made ({trouble.strerror}); choose another folder.") from None
    results = []
    for side in demo_sides():
        audio = place / f"side-{side.letter.lower()}.wav"
        _write_audio(side, audio, tell)
        out = place / f"side-{side.letter.lower()}"
        report = plan_file(audio, out=out, bands=_bands(side), progress=tell)
        results.append(DemoResult(side.title, side.letter, audio, out / PICTURE, report))
    return tuple(results)


def _bands(side: DemoSide) -> tuple[tuple[float, float], ...]:
    return tuple((band.start_s, band.end_s) for band in side.bands)


def _write_audio(side: DemoSide, path: Path, tell: Callable[[str, float], None]) -> None:
    """Synthesise one side, beside its place and renamed."""
    part = path.with_name(f".{path.name}.part")
    try:
        with soundfile.SoundFile(part, "w", SAMPLE_RATE_HZ, 2, "PCM_24", format="WAV") as file:
            done = 0
            for block in side.blocks(SAMPLE_RATE_HZ):
                file.write(np.asarray(block, dtype=np.float32))
                done += len(block)
                tell(f"playing side {side.letter}", done / (side.duration_s * SAMPLE_RATE_HZ))
        os.replace(part, path)
    except (OSError, soundfile.LibsndfileError) as trouble:
        raise CallError(f"{path}: cannot be written ({trouble}); check the folder and the disk.") from None
    finally:
        part.unlink(missing_ok=True)
