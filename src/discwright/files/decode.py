"""The decoder, run as a program of its own: a bad file can only end the child.

The child is started on this file by its path, so that it loads NumPy and soundfile but nothing of
the package. It takes the open audio file as its standard input and writes records to its
standard output, each a length in bytes (32 bits, little-endian) and so many bytes:

    {"sample_rate_hz": 44100, "channels": 2, "frames": 26460000}    what the decoder finds
    float32, channels interleaved                                   samples, any number of times
    (nothing)                                                       no more samples
    {"trouble": null}                                               or why it stopped

How long a record may take is the parent's to decide; what a decoder may use is bounded here.
"""

from __future__ import annotations

import io
import json
import os
import resource
import signal
import struct
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

#: Frames per record: few enough for the cache, and to tell within half a second where a file breaks.
RECORD_FRAMES = 1 << 14

_MEMORY_BYTES = 3 << 29
#: A minute of processor time for the smallest file and a second more for each megabyte: about
#: a hundred times what the slowest decoder here (Opus) takes.
_PROCESSOR_S = 60
_BYTES_PER_PROCESSOR_S = 1_000_000


class Renamed(io.RawIOBase):
    """A BW64 file that reads as RF64, the name under which libsndfile knows the same layout.

    Parameters
    ----------
    fd : int
        Descriptor of the file, left open.
    """

    def __init__(self, fd: int) -> None:
        self._file = io.FileIO(fd, closefd=False)

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        return self._file.seek(offset, whence)

    def tell(self) -> int:
        return self._file.tell()

    def readinto(self, buffer: Any) -> int:
        at = self._file.tell()
        count = self._file.readinto(buffer) or 0
        if at < 4:
            patch = b"RF64"[at : at + count]
            buffer[: len(patch)] = patch
        return count


class Sound:
    """An audio file being decoded from its first sample.

    Parameters
    ----------
    fd : int
        Descriptor of the file; its position is moved, and it is left open.

    Raises
    ------
    OSError, RuntimeError, MemoryError, ImportError
        If the decoder does not take the file; see :func:`reason`.
    """

    def __init__(self, fd: int) -> None:
        import soundfile

        os.lseek(fd, 0, os.SEEK_SET)
        source = Renamed(fd) if os.pread(fd, 4, 0) == b"BW64" else fd
        self._file = soundfile.SoundFile(source, closefd=False)
        # Otherwise soundfile seeks after every read, and where a file ends early it is the seek that
        # fails, before the samples that did come are handed out.
        self._file.seekable = lambda: False
        self.facts = {
            "sample_rate_hz": int(self._file.samplerate),
            "channels": int(self._file.channels),
            "frames": int(self._file.frames),
        }

    def read_into(self, block: NDArray[np.float32]) -> int:
        """Fill `block`, shape (n, channels), and tell how many frames came; fewer only at the end."""
        return len(self._file.read(out=block))

    def close(self) -> None:
        self._file.close()


def reason(trouble: BaseException) -> str:
    """An exception of the decoder in a few words, for the middle of a sentence."""
    if isinstance(trouble, MemoryError):
        return "it asks for more memory than a decoder may use"
    words = str(getattr(trouble, "error_string", trouble)).removeprefix("Error : ").strip(" .")
    return words or type(trouble).__name__


def serve(fd: int, out: int) -> None:
    """Decode the file at `fd` into records at `out`.

    Parameters
    ----------
    fd, out : int
        Descriptors of the audio file and of the pipe.
    """
    import numpy as np

    trouble = None
    try:
        sound = Sound(fd)
        _record(out, json.dumps(sound.facts).encode())
        block = np.empty((RECORD_FRAMES, sound.facts["channels"]), dtype=np.float32)
        while count := sound.read_into(block):
            _record(out, block[:count].data.cast("B"))
    except BrokenPipeError:
        return  # the parent has heard enough
    except (OSError, RuntimeError, MemoryError, ImportError) as error:
        trouble = reason(error)
    _record(out, b"")
    _record(out, json.dumps({"trouble": trouble}).encode())


def _record(out: int, body: bytes | memoryview) -> None:
    os.write(out, struct.pack("<I", len(body)))
    rest = memoryview(body)
    while rest:
        rest = rest[os.write(out, rest) :]


def restrain(file_bytes: int) -> None:
    """Bound this process: memory, processor time, no file written, no core left behind.

    Parameters
    ----------
    file_bytes : int
        Size of the file to be decoded.
    """
    seconds = _PROCESSOR_S + file_bytes // _BYTES_PER_PROCESSOR_S
    for what, soft, hard in (
        (resource.RLIMIT_AS, _MEMORY_BYTES, _MEMORY_BYTES),
        (resource.RLIMIT_CPU, seconds, seconds + 5),
        (resource.RLIMIT_FSIZE, 0, 0),
        (resource.RLIMIT_CORE, 0, 0),
    ):
        ceiling = resource.getrlimit(what)[1]
        if ceiling != resource.RLIM_INFINITY:
            soft, hard = min(soft, ceiling), min(hard, ceiling)
        resource.setrlimit(what, (soft, hard))


def main() -> None:
    """Decode standard input into records on standard output."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent, which then ends us
    restrain(os.fstat(sys.stdin.fileno()).st_size)
    serve(sys.stdin.fileno(), sys.stdout.fileno())


if __name__ == "__main__":
    main()
