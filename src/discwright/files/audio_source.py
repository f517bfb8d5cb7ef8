"""An open audio file: the pieces its head is read from, and the form every refusal takes."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from discwright.errors import AudioError

LOWEST_RATE_HZ = 44_100
HIGHEST_RATE_HZ = 192_000

AGAIN = "send the whole file again"
EXPORT = "export the programme again"


@dataclass(frozen=True)
class AudioHeader:
    """What an audio file says of itself.

    Attributes
    ----------
    path : str
        The path as it was given.
    container : {"WAV", "RF64", "BW64", "AIFF", "AIFC", "FLAC", "OGG"}
    subtype : str
        How samples are stored: ``"PCM_16"``, ``"PCM_24"``, ``"PCM_32"``, ``"FLOAT"``, ``"DOUBLE"``,
        ``"VORBIS"`` or ``"OPUS"``.
    sample_rate_hz : int
    channels : {1, 2}
    frames : int
        Samples per channel, as the header says.
    """

    path: str
    container: str
    subtype: str
    sample_rate_hz: int
    channels: int
    frames: int


class Source:
    """An open file from which pieces are taken; a piece that is not there is a refusal."""

    def __init__(self, fd: int, name: str) -> None:
        self.fd = fd
        self.name = name
        self.size = os.fstat(fd).st_size

    def refusal(self, wrong: str, remedy: str) -> AudioError:
        return AudioError(f"{self.name} {wrong}; {remedy}.")

    def peek(self, offset: int, count: int) -> bytes:
        """Up to `count` bytes at `offset`, fewer at the end of the file."""
        if offset >= self.size:
            return b""
        try:
            return os.pread(self.fd, count, offset)
        except OSError as trouble:
            raise self.refusal(f"cannot be read ({trouble.strerror})", "copy it to a sound disk") from None

    def take(self, offset: int, count: int) -> bytes:
        """Exactly `count` bytes at `offset`."""
        piece = self.peek(offset, count)
        if len(piece) != count:
            raise self.refusal(f"breaks off inside its header, at byte {self.size}", AGAIN)
        return piece

    def header(self, container: str, subtype: str, rate_hz: int, channels: int, frames: int) -> AudioHeader:
        """The header, if a disc can be cut from what it says."""
        if channels not in (1, 2):
            raise self.refusal(f"has {channels} channels", "send a stereo or mono mix")
        if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
            raise self.refusal(f"runs at {rate_hz} Hz", "send the original at 44100 to 192000 Hz")
        if frames <= 0:
            raise self.refusal("has a header but no samples", EXPORT)
        return AudioHeader(self.name, container, subtype, rate_hz, channels, frames)


@contextmanager
def open_ordinary(path: str | os.PathLike[str]) -> Iterator[int]:
    """Descriptor of an ordinary file with something in it, closed at the end.

    Parameters
    ----------
    path : str or os.PathLike

    Raises
    ------
    AudioError
        If there is no such file, it is a folder, a device or empty, or may not be read.
    """
    name = os.fspath(path)
    try:
        # Without O_NONBLOCK a named pipe would hold the caller until somebody writes to it.
        fd = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK)
    except (FileNotFoundError, NotADirectoryError, ValueError):
        raise AudioError(f"{name} does not exist; check the name and the folder.") from None
    except OSError as trouble:
        raise AudioError(
            f"{name} cannot be opened ({trouble.strerror}); make it readable or copy it elsewhere."
        ) from None
    try:
        facts = os.fstat(fd)
        if stat.S_ISDIR(facts.st_mode):
            raise AudioError(f"{name} is a folder, not an audio file; name one file inside it.")
        if not stat.S_ISREG(facts.st_mode):
            raise AudioError(f"{name} is not an ordinary file; save the audio to a file first.")
        if facts.st_size == 0:
            raise AudioError(f"{name} is empty (0 bytes); {AGAIN}.")
        yield fd
    finally:
        os.close(fd)
