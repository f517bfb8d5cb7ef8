"""Audio files, read to their last sample or refused with a reason.

    with open_audio("side-a.wav") as audio:
        for block in audio.blocks():
            ...                            # float32, shape (m, 2), left then right
        audio.sha256

A file from outside is decoded in a child process (:mod:`discwright.files.decode`), so that the worst
it can do is to be refused. Memory does not grow with its length.
"""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Iterator
from contextlib import ExitStack
from types import TracebackType

import numpy as np
from numpy.typing import NDArray

from discwright.errors import AudioError, CallError
from discwright.files.audio_decoders import Child, Decoder, Here, Stopped
from discwright.files.audio_head import head_of, read_head
from discwright.files.audio_source import AGAIN, AudioHeader, open_ordinary
from discwright.units import clock

__all__ = ["AudioFile", "AudioHeader", "open_audio", "read_head"]

_HASH_BYTES = 1 << 20


def open_audio(path: str | os.PathLike[str], *, isolated: bool = True) -> AudioFile:
    """Open an audio file for reading; use it in a ``with`` statement.

    WAV, RF64, BW64, AIFF and AIFF-C, FLAC and Ogg (Vorbis, Opus) are read, mono or stereo, from
    44.1 to 192 kHz.

    Parameters
    ----------
    path : str or os.PathLike
    isolated : bool
        Decode in a child process. False is for files that discwright wrote itself.

    Returns
    -------
    AudioFile

    Raises
    ------
    AudioError
        If the file is missing, broken, shorter than its header says or not fit for a disc.
    """
    return AudioFile(path, isolated=isolated)


class AudioFile:
    """An open audio file; made by :func:`open_audio`.

    Attributes
    ----------
    header : AudioHeader
    frames_read : int
        Samples per channel that the latest :meth:`blocks` have handed out.
    """

    header: AudioHeader
    frames_read: int

    def __init__(self, path: str | os.PathLike[str], *, isolated: bool) -> None:
        self._name = os.fspath(path)
        self._isolated = isolated
        self._fingerprint: _Fingerprint | None = None
        self._closed = False
        self.frames_read = 0
        with ExitStack() as stack:
            self._fd = stack.enter_context(open_ordinary(path))
            self._before = _mark(self._fd)
            self.header = head_of(self._fd, self._name)
            self._decoder = self._start_decoder()
            stack.callback(self._stop)
            self._check_agreed()
            self._unread = True
            self._open = stack.pop_all()

    def __enter__(self) -> AudioFile:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """End the child and the hashing, wait for both, and close the file."""
        self._closed = True
        self._open.close()

    def blocks(self, frames: int = 1 << 18) -> Iterator[NDArray[np.float32]]:
        """The samples from the first to the last; each call starts again from the first.

        Parameters
        ----------
        frames : int
            Samples per channel in a block; only the last block is shorter.

        Yields
        ------
        numpy.ndarray
            float32, shape (m, 2), C-contiguous, left then right, 1.0 = full scale; mono stands in
            both. Samples above full scale are kept.

        Raises
        ------
        CallError
            If `frames` is below 1, or the file is closed or was started again meanwhile.
        AudioError
            If the file cannot be decoded to the end its header promises, holds NaN or infinite
            samples, or changed while it was read.
        """
        if frames < 1:
            raise CallError(f"A block of {frames} frames holds nothing; ask for 1 or more.")
        self._check_open()
        if not self._unread:
            self._decoder.close()
            self._decoder = self._start_decoder()
            self._check_agreed()
        self._unread = False
        self.frames_read = 0
        self._start_fingerprint()
        return self._blocks(self._decoder, min(frames, self.header.frames))

    @property
    def sha256(self) -> str:
        """Hexadecimal SHA-256 of the file's bytes; waits until they are all hashed.

        Raises
        ------
        AudioError
            If the file could not be read, or changed since it was opened.
        """
        self._check_open()
        digest = self._start_fingerprint().result()
        if isinstance(digest, OSError):
            raise AudioError(f"{self._name} cannot be read ({digest.strerror}); copy it to a sound disk.")
        self._check_unchanged()
        return digest

    def _blocks(self, decoder: Decoder, frames: int) -> Iterator[NDArray[np.float32]]:
        promised, channels = self.header.frames, self.header.channels
        # Whole numbers cannot be NaN or infinite; every other way of storing samples can.
        may_be_wild = not self.header.subtype.startswith("PCM")
        try:
            while True:
                self._check_current(decoder)
                block = np.empty((frames, channels), dtype=np.float32)
                block = block[: self._read_into(decoder, block)]
                if may_be_wild:
                    self._check_finite(block)
                self.frames_read += len(block)
                if self.frames_read > promised or (len(block) == 0 and self.frames_read < promised):
                    raise AudioError(
                        f"{self._name} holds {self.frames_read} frames where its header promises {promised}; {AGAIN}."
                    )
                if len(block) == 0:
                    break
                yield block if channels == 2 else np.repeat(block, 2, axis=1)
        finally:
            decoder.close()
        self._check_unchanged()

    def _start_decoder(self) -> Decoder:
        try:
            return Child(self._fd) if self._isolated else Here(self._fd)
        except Stopped as trouble:
            raise AudioError(f"{self._name} cannot be decoded ({trouble}); {trouble.remedy}.") from None

    def _read_into(self, decoder: Decoder, block: NDArray[np.float32]) -> int:
        try:
            return decoder.read_into(block)
        except Stopped as trouble:
            at, end = (clock(n / self.header.sample_rate_hz) for n in (self.frames_read, self.header.frames))
            raise AudioError(
                f"{self._name} cannot be decoded beyond {at} of {end} ({trouble}); {trouble.remedy}."
            ) from None

    def _check_agreed(self) -> None:
        """Refuse a file in which the decoder finds something else than the header says."""
        for field, found in self._decoder.facts.items():
            if getattr(self.header, field) != found:
                raise AudioError(
                    f"{self._name} contradicts itself: its header says {field} "
                    f"{getattr(self.header, field)}, its samples {found}; export the programme again."
                )

    def _check_finite(self, block: NDArray[np.float32]) -> None:
        # Largest and smallest carry NaN along and need no second array.
        if len(block) == 0 or np.isfinite([block.max(), block.min()]).all():
            return
        row, column = np.argwhere(~np.isfinite(block))[0]
        frame = self.frames_read + int(row)
        channel = "only" if block.shape[1] == 1 else ("left", "right")[column]
        raise AudioError(
            f"{self._name} has a sample that is no number ({block[row, column]}) in its {channel} channel at "
            f"{clock(frame / self.header.sample_rate_hz)}, frame {frame}; export the programme again."
        )

    def _check_open(self) -> None:
        if self._closed:
            raise CallError(f"{self._name} is closed; read it inside its “with” statement.")

    def _check_current(self, decoder: Decoder) -> None:
        self._check_open()
        if decoder is not self._decoder:
            raise CallError(f"{self._name} was started again meanwhile; read one set of blocks at a time.")

    def _check_unchanged(self) -> None:
        if _mark(self._fd) != self._before:
            raise AudioError(f"{self._name} changed while it was read; wait for it and start again.")

    def _start_fingerprint(self) -> _Fingerprint:
        if self._fingerprint is None:
            self._fingerprint = _Fingerprint(self._fd)
        return self._fingerprint

    def _stop(self) -> None:
        self._decoder.close()
        if self._fingerprint is not None:
            self._fingerprint.stop()


def _mark(fd: int) -> tuple[int, int]:
    """Size and time of last change, which together show that somebody wrote to the file."""
    facts = os.fstat(fd)
    return facts.st_size, facts.st_mtime_ns


class _Fingerprint:
    """SHA-256 of an open file, computed in a thread beside the decoding."""

    def __init__(self, fd: int) -> None:
        self._fd = fd
        self._stopped = threading.Event()
        self._digest: str | OSError = ""
        self._thread = threading.Thread(target=self._run, name="sha256", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        digest, piece, at = hashlib.sha256(), memoryview(bytearray(_HASH_BYTES)), 0
        try:
            # preadv leaves the position alone, which belongs to the decoder.
            while not self._stopped.is_set() and (count := os.preadv(self._fd, [piece], at)):
                digest.update(piece[:count])
                at += count
        except OSError as trouble:
            self._digest = trouble
        else:
            self._digest = digest.hexdigest()

    def result(self) -> str | OSError:
        self._thread.join()
        return self._digest

    def stop(self) -> None:
        self._stopped.set()
        self._thread.join()
