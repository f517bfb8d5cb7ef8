"""Is it the file that was sent, and does it sound to its end? Asked of every upload before it counts."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from pathlib import Path

from discwright.desk.upload_pieces import UploadRefused
from discwright.errors import AudioError
from discwright.files.audio import AudioHeader, open_audio
from discwright.units import clock

_READ_BYTES = 1 << 20


def hash_of(file: Path, go_on: Callable[[], None]) -> str:
    """SHA-256 of a file, hexadecimal; all of it is safely on the disk by then.

    Parameters
    ----------
    file : pathlib.Path
    go_on : callable
        Called again and again; it raises where the work is to stop.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    digest, block = hashlib.sha256(), memoryview(bytearray(_READ_BYTES))
    with file.open("rb", buffering=0) as source:
        while count := source.readinto(block):
            digest.update(block[:count])
            go_on()
        os.fsync(source.fileno())
    return digest.hexdigest()


def sound_of(file: Path, name: str, go_on: Callable[[], None]) -> str:
    """What sounds in a file, after it was decoded to its last sample in a child process.

    Parameters
    ----------
    file : pathlib.Path
    name : str
        What its sender knows it by.
    go_on : callable
        As for :func:`hash_of`.

    Returns
    -------
    str
        For example ``WAV, stereo, 96 kHz, 21:40.0``.

    Raises
    ------
    UploadRefused
        If it is no audio, breaks off, or is not fit for a disc.
    """
    try:
        with open_audio(file) as audio:
            for _ in audio.blocks():
                go_on()
            return _words(audio.header)
    except AudioError as trouble:
        # The sentence begins with a path that means nothing to the sender.
        raise UploadRefused(422, str(trouble).replace(os.fspath(file), name)) from None


def _words(header: AudioHeader) -> str:
    channels = "stereo" if header.channels == 2 else "mono"
    length = clock(header.frames / header.sample_rate_hz)
    return f"{header.container}, {channels}, {header.sample_rate_hz / 1000:g} kHz, {length}"
