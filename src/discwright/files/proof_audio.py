"""Audio of a proof: written beside its place, scaled only where it would clip, and all put in place together."""

from __future__ import annotations

import math
import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from types import TracebackType

import numpy as np
import soundfile
from numpy.typing import NDArray

from discwright.errors import CallError
from discwright.files.plans import KEPT_FILES, PLAN

Float = NDArray[np.float64]

#: How each ending is written: container and samples.
ENDINGS = {".flac": ("FLAC", "PCM_24"), ".wav": ("WAV", "FLOAT")}
_BLOCK = 1 << 18


def check_audio_place(path: Path) -> None:
    """Refuse a place where a proof cannot be written, before anything is computed for it.

    Parameters
    ----------
    path : pathlib.Path

    Raises
    ------
    CallError
    """
    if path.suffix.lower() not in ENDINGS:
        raise CallError(f"{path}: a proof is written as {' or '.join(ENDINGS)}; give it such a name.")
    if path.is_dir():
        raise CallError(f"{path}: is a folder; name a file in it.")
    if not path.parent.is_dir():
        raise CallError(f"{path}: there is no folder {path.parent}; make it first.")
    if not os.access(path.parent, os.W_OK | os.X_OK):
        raise CallError(f"{path}: the folder cannot be written to; choose another.")


def check_overwrites(places: Iterable[Path], sources: Iterable[str]) -> None:
    """Refuse to write a proof over what it is made from: the programme, or a plan's own files.

    Parameters
    ----------
    places : iterable of pathlib.Path
        Everything that will be written.
    sources : iterable of str
        Paths of the programme's audio.

    Raises
    ------
    CallError
    """
    taken = {os.path.realpath(source) for source in sources}
    for place in places:
        if os.path.realpath(place) in taken:
            raise CallError(f"{place}: is the programme itself; choose another name for the proof.")
        if place.name in KEPT_FILES and (place.parent / PLAN).exists():
            raise CallError(f"{place}: is a file of the plan there; choose another name for the proof.")


class ProofFiles:
    """Every file of one proof: all of them are put in place by :meth:`finish`, or none.

    Parameters
    ----------
    sample_rate_hz : int
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate = sample_rate_hz
        self._open: dict[Path, soundfile.SoundFile] = {}
        self._left_over: list[Path] = []
        self._peak = 0.0

    def __enter__(self) -> ProofFiles:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, at: TracebackType | None) -> None:
        for file in self._open.values():
            file.close()
        for part in self._left_over:
            with suppress(OSError):
                part.unlink(missing_ok=True)
        if isinstance(value, soundfile.LibsndfileError):
            raise CallError(f"the proof cannot be written ({value}); check the folder and the disk.") from None

    def write(self, path: Path, block: Float) -> None:
        """Write on.

        Parameters
        ----------
        path : pathlib.Path
            Where the file will stand.
        block : ndarray, shape (n, 2), 1.0 = full scale
        """
        if path not in self._open:
            part = self._part(path, "float")
            self._open[path] = soundfile.SoundFile(part, "w", self._rate, 2, "FLOAT", format="RF64")
        self._open[path].write(block)
        if path.suffix.lower() == ".flac" and len(block):
            self._peak = max(self._peak, float(np.abs(block).max()))

    def finish(self) -> float:
        """Put all files in place.

        Returns
        -------
        float, dB
            What all of them were lowered by, so that none clips and they stay comparable; 0.0 as a rule.

        Raises
        ------
        CallError
            If the disk is full or the place has gone.
        """
        # 24-bit files end just below full scale; a tenth of a decibel is a number one can remember.
        gain_db = 0.0 if self._peak <= 1.0 - 2.0**-23 else -math.ceil(200 * math.log10(self._peak) + 0.1) / 10
        done = []
        try:
            for path, file in self._open.items():
                file.close()
                done.append((self._final(path, Path(file.name), 10 ** (gain_db / 20)), path))
            for part, path in done:
                os.replace(part, path)
        except OSError as trouble:
            raise CallError(
                f"the proof cannot be written ({trouble.strerror}); check the folder and the disk."
            ) from None
        return gain_db

    def _part(self, path: Path, word: str) -> Path:
        part = path.with_name(f".{path.name}.{word}.part")
        self._left_over.append(part)
        return part

    def _final(self, path: Path, floating: Path, gain: float) -> Path:
        container, samples = ENDINGS[path.suffix.lower()]
        part = self._part(path, container.lower())
        with (
            soundfile.SoundFile(floating) as source,
            soundfile.SoundFile(part, "w", self._rate, 2, samples, format=container) as target,
        ):
            for block in source.blocks(_BLOCK, dtype="float64"):
                target.write(block * gain if gain != 1.0 else block)
        floating.unlink()
        return part
