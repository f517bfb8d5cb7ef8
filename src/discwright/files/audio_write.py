"""Audio written by discwright: 24-bit WAV, the same bytes for the same samples, beside its place and renamed."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from discwright.errors import CallError


def write_wav(path: Path, blocks: Iterable[NDArray[np.float32]], sample_rate_hz: int) -> None:
    """Write blocks as one stereo file; nothing is left behind when that fails.

    Parameters
    ----------
    path : pathlib.Path
    blocks : iterable of ndarray, shape (n, 2), float32, 1.0 = full scale
    sample_rate_hz : int

    Raises
    ------
    CallError
        If the file cannot be written.
    """
    part = path.with_name(f".{path.name}.part")
    try:
        with soundfile.SoundFile(part, "w", sample_rate_hz, 2, "PCM_24", format="WAV") as file:
            for block in blocks:
                file.write(block)
        os.replace(part, path)
    except (OSError, soundfile.LibsndfileError) as trouble:
        raise CallError(f"{path}: cannot be written ({trouble}); check the folder and the disk.") from None
    finally:
        part.unlink(missing_ok=True)
