"""A few seconds about a fault, in three versions that begin at one sample: programme, capture, difference."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
import soundfile

from discwright.desk.plays import Play
from discwright.errors import CallError

VERSIONS = ("programme", "capture", "difference")
#: So much is heard before a fault, and so much after it has begun; of one that lasts, no more than the last, s.
BEFORE_S, AFTER_S, MOST_S = 1.0, 1.5, 8.0


@dataclass(frozen=True)
class Stretch:
    """A stretch of a play.

    Attributes
    ----------
    first, frames, sample_rate : int
    """

    first: int
    frames: int
    sample_rate: int

    @property
    def start(self) -> float:
        """s from the first sample of music."""
        return self.first / self.sample_rate


def stretch_at(play: Play, at: float, lasts: float = 0.0) -> Stretch:
    """The stretch about a moment.

    Parameters
    ----------
    play : Play
    at, lasts : float, s
        When a fault begins, and how long it lasts.

    Raises
    ------
    CallError
        If the play has no sound, or the moment lies outside it.
    """
    rate, frames = _length(play)
    if not -0.05 <= at <= frames / rate + 0.05:
        raise CallError("there is no music at this place; choose one within the programme.")
    wanted = round(min(BEFORE_S + max(lasts, 0.0) + AFTER_S, MOST_S) * rate)
    count = min(frames, wanted)
    first = min(max(0, round((at - BEFORE_S) * rate)), frames - count)
    return Stretch(first, count, rate)


def wav_of(play: Play, version: str, first: int, frames: int) -> bytes:
    """A stretch of one version as a WAV file, 24 bits.

    Parameters
    ----------
    play : Play
    version : str
        One of :data:`VERSIONS`.
    first, frames : int

    Raises
    ------
    CallError
        If there is no such version, or no such stretch.
    """
    if version not in VERSIONS:
        raise CallError(f"a play can be heard as {', '.join(VERSIONS)}; choose one of them.")
    rate, length = _length(play)
    if first < 0 or not 0 < frames <= MOST_S * rate + 1 or first + frames > length:
        raise CallError("there is no such stretch of this play; load the page again.")
    with _open(_file(play, version)) as sound:
        sound.seek(first)
        read = sound.read(frames, dtype="float64", always_2d=True)
    out = BytesIO()
    soundfile.write(out, np.clip(read, -1.0, 1.0 - 2.0**-23), rate, format="WAV", subtype="PCM_24")
    return out.getvalue()


def _length(play: Play) -> tuple[int, int]:
    """Sample rate and frames, alike in every version."""
    found = set()
    for version in VERSIONS:
        with _open(_file(play, version)) as sound:
            found.add((int(sound.samplerate), int(sound.frames)))
    if len(found) != 1:
        raise CallError("the sounds of this play do not fit together; play it once more.")
    return found.pop()


def _file(play: Play, version: str) -> Path:
    return play.result / f"{version}.flac"


def _open(path: Path) -> soundfile.SoundFile:
    try:
        return soundfile.SoundFile(path)
    except (OSError, soundfile.LibsndfileError):
        raise CallError("the sound of this play is not here, or no longer; play it once more.") from None
