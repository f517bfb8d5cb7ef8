"""Long audio put down in a file without a name, to be read again from any place: memory does not grow with a side."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable
from types import TracebackType

import numpy as np
from numpy.typing import NDArray

from discwright.errors import AudioError

Single = NDArray[np.float32]
_FRAME_BYTES = 8


class SampleStore:
    """Stereo samples on disk; use it in a ``with`` statement.

    Attributes
    ----------
    rate : int
        Hz.
    frames : int
        Frames put down so far.
    """

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self.frames = 0
        self._file = tempfile.TemporaryFile(buffering=0)  # noqa: SIM115 - closed by close()

    def __enter__(self) -> SampleStore:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let the disk have its room back."""
        self._file.close()

    def add(self, block: Single) -> None:
        """Put more frames down at the end.

        Parameters
        ----------
        block : ndarray, shape (m, 2)

        Raises
        ------
        AudioError
            If the disk is full.
        """
        if len(block) == 0:
            return
        view = np.ascontiguousarray(block, dtype=np.float32).data.cast("B")
        try:
            while len(view):
                view = view[self._file.write(view) :]
        except OSError as trouble:
            raise AudioError(
                f"there is no room to work in {tempfile.gettempdir()} ({trouble.strerror}); make some, or set TMPDIR."
            ) from None
        self.frames += len(block)

    def fill(self, blocks: Iterable[Single]) -> SampleStore:
        """Put all blocks down.

        Parameters
        ----------
        blocks : iterable of ndarray, shape (m, 2)
        """
        for block in blocks:
            self.add(block)
        return self

    def read(self, first: int, count: int) -> Single:
        """Frames from any place; zeros before the first and after the last.

        Parameters
        ----------
        first, count : int

        Returns
        -------
        ndarray, shape (count, 2), float32
        """
        out = np.zeros((max(count, 0), 2), dtype=np.float32)
        begin, end = max(first, 0), min(first + count, self.frames)
        if end > begin:
            piece = out[begin - first : end - first].data.cast("B")
            at = begin * _FRAME_BYTES
            while len(piece):
                done = os.preadv(self._file.fileno(), [piece], at)
                if done == 0:
                    raise AudioError("the working file was cut short by something else; start again.")
                piece, at = piece[done:], at + done
        return out
