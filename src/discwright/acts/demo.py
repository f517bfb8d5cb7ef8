"""Make the invented demo programme and plan both its sides."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from discwright.acts.plan import PlanReport, plan_file
from discwright.errors import CallError
from discwright.files.audio_write import write_wav
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
        write_wav(audio, _told(side, tell), SAMPLE_RATE_HZ)
        out = place / f"side-{side.letter.lower()}"
        report = plan_file(audio, out=out, bands=_bands(side), progress=tell)
        results.append(DemoResult(side.title, side.letter, audio, out / PICTURE, report))
    return tuple(results)


def _bands(side: DemoSide) -> tuple[tuple[float, float], ...]:
    return tuple((band.start_s, band.end_s) for band in side.bands)


def _told(side: DemoSide, tell: Callable[[str, float], None]) -> Iterator[NDArray[np.float32]]:
    """The side's blocks, with word of how far it has come."""
    done = 0
    for block in side.blocks(SAMPLE_RATE_HZ):
        yield block
        done += len(block)
        tell(f"playing side {side.letter}", done / (side.duration_s * SAMPLE_RATE_HZ))
