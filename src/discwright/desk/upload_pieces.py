"""A piece of an upload on its way to the disk, and the form in which uploads are refused."""

from __future__ import annotations

import asyncio
import errno
import os
from collections.abc import AsyncIterable, Iterator
from contextlib import contextmanager

from discwright.errors import CallError

#: How long a piece may stand still before its sender counts as gone: it would keep others from going on.
STALL_S = 20.0
#: What is gathered in memory before it is written.
_WRITE_BYTES = 1 << 20
_DISK_FULL = (errno.ENOSPC, errno.EDQUOT)


class UploadRefused(CallError):
    """Something that cannot be done with an upload.

    Attributes
    ----------
    status : int
        HTTP status, 400 to 499.
    offset : int or None
        Where to go on, bytes, if that helps.
    busy : bool
        Somebody else is at this upload; later it may go.
    """

    def __init__(self, status: int, sentence: str, offset: int | None = None, busy: bool = False) -> None:
        super().__init__(sentence)
        self.status = status
        self.offset = offset
        self.busy = busy


def unknown() -> UploadRefused:
    """What is said of an upload that is not there."""
    return UploadRefused(404, "There is no such upload; begin it again.")


async def take_piece(fd: int, at: int, room: int, stream: AsyncIterable[bytes]) -> bool:
    """Write a piece of a file as it arrives; the disk is waited for in a thread.

    Parameters
    ----------
    fd : int
        Descriptor of the file.
    at, room : int
        Where in it the piece belongs, and the most that is taken, bytes.
    stream : asynchronous iterable of bytes
        What came before it broke off is written.

    Returns
    -------
    bool
        False where more came than there is room for.

    Raises
    ------
    UploadRefused
        If the stream stands still, or the disk is full.
    """
    waiting = bytearray()
    chunks = aiter(stream)
    try:
        while True:
            async with asyncio.timeout(STALL_S):
                chunk = await anext(chunks)
            waiting += chunk[:room]
            if len(chunk) > room:
                return False
            room -= len(chunk)
            if len(waiting) >= _WRITE_BYTES:
                done, waiting = waiting, bytearray()
                await asyncio.to_thread(_write, fd, at, done)
                at += len(done)
    except StopAsyncIteration:
        return True
    except TimeoutError:
        raise UploadRefused(408, "The piece stopped arriving; go on from what is there.") from None
    finally:
        if waiting:
            await asyncio.to_thread(_write, fd, at, waiting)


def _write(fd: int, at: int, data: bytearray) -> None:
    with disk_troubles(), memoryview(data) as rest:
        done = 0
        while done < len(rest):
            done += os.pwrite(fd, rest[done:], at + done)


@contextmanager
def disk_troubles() -> Iterator[None]:
    """Turn what the disk refuses into a sentence.

    Raises
    ------
    UploadRefused
    """
    try:
        yield
    except OSError as trouble:
        if trouble.errno in _DISK_FULL:
            raise UploadRefused(413, "The disk is full; make room on it, then go on.") from None
        if isinstance(trouble, FileNotFoundError):
            raise unknown() from None
        raise UploadRefused(400, f"The file cannot be kept ({trouble.strerror}); check the disk.") from None


def amount(count: int) -> str:
    """A number of bytes as people say it."""
    for unit, size, digits in (("GB", 10**9, 2), ("MB", 10**6, 0), ("kB", 10**3, 0)):
        if count >= size:
            return f"{count / size:.{digits}f} {unit}"
    return f"{count} bytes"
