"""The test signals as a WAV file of whole numbers, the same bytes for the same call."""

from __future__ import annotations

import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from discwright.errors import CallError


def write_signals(path: Path, blocks: Iterable[NDArray[np.int32]], sample_rate_hz: int, bits: int) -> None:
    """Write blocks as one stereo file that is not there yet; nothing is left behind when that fails.

    Parameters
    ----------
    path : pathlib.Path
    blocks : iterable of ndarray of int32, shape (n, 2)
        The sample in the upper bits.
    sample_rate_hz : int
    bits : {16, 24}

    Raises
    ------
    CallError
        If something lies there, or the file cannot be written.
    """
    if path.suffix.lower() != ".wav":
        raise CallError(f"{path}: the signals are a WAV file; choose a name that ends with .wav.")
    if path.exists():
        raise CallError(f"{path}: is there already and is not written over; choose another name or move it away.")
    part = path.with_name(f".{path.name}.part")
    try:
        with soundfile.SoundFile(part, "w", sample_rate_hz, 2, f"PCM_{bits}", format="WAV") as file:
            for block in blocks:
                file.write(block)
        os.replace(part, path)
    except (OSError, soundfile.LibsndfileError) as trouble:
        raise CallError(f"{path}: cannot be written ({trouble}); check the folder and the disk.") from None
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
