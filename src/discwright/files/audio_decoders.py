"""The two decoders behind one face: in this process, or in a child that may fall over.

What goes wrong in either comes out as :class:`Stopped`; :mod:`discwright.files.audio` knows the name
of the file and how far it was read, and makes the sentence.
"""

from __future__ import annotations

import fcntl
import json
import os
import select
import signal
import subprocess
import sys
from contextlib import suppress
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from discwright.files import decode
from discwright.files.audio_source import AGAIN

#: How long the child may be silent: disks on a network sleep, but not longer than this.
STALL_S = 60.0

_PROGRAM = decode.__file__
_PIPE_BYTES = 1 << 20
_MOST_RECORD_BYTES = decode.RECORD_FRAMES * 2 * 4
#: Just enough of our surroundings for the child to find its libraries.
_PASSED_ON = ("HOME", "LD_LIBRARY_PATH", "PYTHONHOME", "PYTHONPATH")


class Stopped(Exception):
    """The decoder could not go on.

    The message goes into the middle of a sentence and `remedy` to its end.
    """

    def __init__(self, words: str, remedy: str = AGAIN) -> None:
        super().__init__(words)
        self.remedy = remedy


class Decoder(Protocol):
    """What both decoders offer; each raises :class:`Stopped` where it cannot go on.

    Attributes
    ----------
    facts : dict of str to int
        ``sample_rate_hz``, ``channels`` and ``frames`` as the decoder finds them.
    """

    facts: dict[str, int]

    def read_into(self, block: NDArray[np.float32]) -> int:
        """Fill `block`, shape (n, channels), and tell how many frames came; fewer only at the end."""

    def close(self) -> None:
        """Give everything back; a second time does nothing."""


class Here:
    """Decoding in this process.

    Parameters
    ----------
    fd : int
        Descriptor of the audio file; its position is moved, and it is left open.

    Raises
    ------
    Stopped
        If the decoder does not take the file.
    """

    def __init__(self, fd: int) -> None:
        try:
            self._sound = decode.Sound(fd)
        except (OSError, RuntimeError, MemoryError) as trouble:
            raise Stopped(decode.reason(trouble)) from None
        self.facts = self._sound.facts

    def read_into(self, block: NDArray[np.float32]) -> int:
        try:
            return self._sound.read_into(block)
        except (OSError, RuntimeError, MemoryError) as trouble:
            raise Stopped(decode.reason(trouble)) from None

    def close(self) -> None:
        self._sound.close()


class Child:
    """Decoding in a child process; see :mod:`discwright.files.decode` for what it sends.

    Parameters
    ----------
    fd : int
        Descriptor of the audio file; the child shares its position.

    Raises
    ------
    Stopped
        If the child does not start, or does not take the file.
    """

    def __init__(self, fd: int) -> None:
        self._process = _start(fd)
        assert self._process.stdout is not None
        self._out = self._process.stdout
        self._pending = 0  # bytes of samples still to come in the present record
        self._ended = False
        self._trouble: Stopped | None = None
        self._ready = select.poll()
        self._ready.register(self._out, select.POLLIN)
        try:
            with suppress(OSError, AttributeError):  # not everywhere, not for everyone, not needed
                fcntl.fcntl(self._out, fcntl.F_SETPIPE_SZ, _PIPE_BYTES)
            self.facts = self._opening()
        except BaseException:
            self.close()
            raise

    def read_into(self, block: NDArray[np.float32]) -> int:
        rest = block.data.cast("B")
        try:
            while rest and not self._ended:
                rest = rest[self._some(rest) :]
        except Stopped as trouble:
            self._ended, self._trouble = True, trouble
        frames = int(len(block) - -(-len(rest) // block[0].nbytes))
        # What came before the trouble is handed out first, so that its place is known.
        if frames == 0 and self._trouble is not None:
            raise self._trouble
        return frames

    def close(self) -> None:
        self._ended = True
        if not self._out.closed:
            self._process.kill()
            self._process.wait()
            self._out.close()

    def _some(self, rest: memoryview) -> int:
        """Samples into the start of `rest`, as far as the present record goes; the number of bytes."""
        if self._pending == 0:
            self._pending = self._length()
        if self._pending == 0:
            self._check_ending()
        count = min(self._pending, len(rest))
        self._fill(rest[:count])
        self._pending -= count
        return count

    def _opening(self) -> dict[str, int]:
        """What the decoder finds in the file before the first sample."""
        size = self._length()
        if size == 0:
            self._check_ending()
        facts = self._words(size)
        if set(facts) != {"sample_rate_hz", "channels", "frames"} or {*map(type, facts.values())} != {int}:
            raise Stopped("the decoder lost its way")
        return facts

    def _check_ending(self) -> None:
        """Read the last record, which tells whether the samples before it are all there are."""
        self._ended = True
        trouble = self._words(self._length()).get("trouble", "the decoder lost its way")
        if trouble is not None:
            raise Stopped(trouble)

    def _length(self) -> int:
        size = bytearray(4)
        self._fill(memoryview(size))
        length = int.from_bytes(size, "little")
        if length > _MOST_RECORD_BYTES:
            raise Stopped("the decoder lost its way")
        return length

    def _words(self, size: int) -> dict[str, Any]:
        body = bytearray(size)
        self._fill(memoryview(body))
        try:
            return dict(json.loads(body))
        except (ValueError, TypeError):
            raise Stopped("the decoder lost its way") from None

    def _fill(self, rest: memoryview) -> None:
        """Wait for bytes from the child until `rest` is full."""
        while rest:
            if not self._ready.poll(STALL_S * 1000.0):
                raise Stopped(f"the decoder has been silent for {STALL_S:g} s", "copy it to a near disk")
            count = os.readv(self._out.fileno(), [rest])
            if count == 0:
                raise Stopped(self._how_it_died())
            rest = rest[count:]

    def _how_it_died(self) -> str:
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(STALL_S)
        code = self._process.returncode or 0
        if code == -signal.SIGXCPU:
            return "it takes more time than a decoder may use"
        if code < 0:
            return f"the decoder crashed with signal {-code}"
        return "the decoder ended without a word"


def _start(fd: int) -> subprocess.Popen[bytes]:
    environment = {name: os.environ[name] for name in _PASSED_ON if name in os.environ}
    try:
        # By its path and with -P: the child imports neither the rest of the package nor a module
        # that happens to lie in the folder it is started from.
        return subprocess.Popen(
            [sys.executable, "-P", "-B", _PROGRAM],
            stdin=fd,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            bufsize=0,
            env=environment | {"OPENBLAS_NUM_THREADS": "1"},
        )
    except OSError as trouble:
        raise Stopped(f"no decoder could be started: {trouble.strerror}", "close other programs") from None
