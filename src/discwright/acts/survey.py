"""Survey an audio file: what the approved programme is, before anything is planned."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from discwright.files.audio import AudioFile, open_audio

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from discwright.programme.survey import Survey


@dataclass(frozen=True)
class SurveyReport:
    """A survey and the file it is of.

    Attributes
    ----------
    path : str
        As it was given.
    sha256 : str
        Of the file's bytes.
    survey : Survey
    """

    path: str
    sha256: str
    survey: Survey

    def as_dict(self) -> dict[str, Any]:
        """The report as plain JSON values: `path`, `sha256` and every key of the survey."""
        return {"path": self.path, "sha256": self.sha256} | self.survey.as_dict()


def survey(path: str | os.PathLike[str], progress: Callable[[float], None] | None = None) -> SurveyReport:
    """Read a programme from end to end and measure it.

    Parameters
    ----------
    path : str or os.PathLike
    progress : callable, optional
        Called with the share read so far, from 0 to 1.

    Raises
    ------
    AudioError
        If the file is missing, broken, shorter than its header says or not fit for a disc.
    """
    # The meters bring SciPy with them, which no help page should wait for.
    from discwright.programme.survey import survey_programme

    with open_audio(path) as audio:
        readings = survey_programme(_watched(audio, progress), audio.header.sample_rate_hz, audio.header.channels)
        return SurveyReport(os.fspath(path), audio.sha256, readings)


def _watched(audio: AudioFile, progress: Callable[[float], None] | None) -> Iterator[NDArray[np.float32]]:
    for block in audio.blocks():
        yield block
        if progress is not None:
            progress(audio.frames_read / audio.header.frames)
