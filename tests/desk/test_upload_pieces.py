"""Pieces on their way to the disk, through real descriptors."""

from __future__ import annotations

import asyncio
import errno
import os
from collections.abc import AsyncIterator, Iterable
from pathlib import Path

import pytest

from discwright.desk import upload_pieces
from discwright.desk.upload_pieces import UploadRefused, amount, take_piece


async def arriving(chunks: Iterable[bytes], then: Exception | None = None) -> AsyncIterator[bytes]:
    for chunk in chunks:
        yield chunk
    if then is not None:
        raise then


def take(path: Path, at: int, room: int, stream: AsyncIterator[bytes]) -> bool:
    fd = os.open(path, os.O_WRONLY | os.O_CREAT)
    try:
        return asyncio.run(take_piece(fd, at, room, stream))
    finally:
        os.close(fd)


def test_a_piece_lands_where_it_belongs(tmp_path: Path) -> None:
    # Larger than what is gathered in memory, in uneven chunks.
    content = os.urandom(3_000_001)
    path = tmp_path / "part"
    path.write_bytes(b"before")
    assert take(path, 6, len(content), arriving(content[at : at + 70_001] for at in range(0, len(content), 70_001)))
    assert path.read_bytes() == b"before" + content


def test_what_is_too_much_is_not_taken(tmp_path: Path) -> None:
    path = tmp_path / "part"
    assert not take(path, 0, 5, arriving([b"abc", b"defg", b"h"]))
    assert path.read_bytes() == b"abcde"
    assert take(path, 5, 2, arriving([b"fg", b""])), "just full is not too much"


def test_what_came_before_a_break_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "part"
    with pytest.raises(ConnectionResetError):
        take(path, 0, 100, arriving([b"abc", b"def"], ConnectionResetError()))
    assert path.read_bytes() == b"abcdef"


def test_a_sender_that_stands_still_counts_as_gone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(upload_pieces, "STALL_S", 0.05)

    async def still() -> AsyncIterator[bytes]:
        yield b"abc"
        await asyncio.Event().wait()

    with pytest.raises(UploadRefused, match="go on from what is there") as caught:
        take(tmp_path / "part", 0, 100, still())
    assert caught.value.status == 408
    assert (tmp_path / "part").read_bytes() == b"abc"


@pytest.mark.parametrize(
    ("code", "status", "sentence"),
    [
        (errno.ENOSPC, 413, "The disk is full; make room on it, then go on."),
        (errno.EDQUOT, 413, "The disk is full; make room on it, then go on."),
        (errno.EIO, 400, "The file cannot be kept (Input/output error); check the disk."),
        (errno.ENOENT, 404, "There is no such upload; begin it again."),
    ],
)
def test_a_disk_that_refuses_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, status: int, sentence: str
) -> None:
    written = os.pwrite

    def half(fd: int, data: bytes, at: int) -> int:
        if at >= 2:
            raise OSError(code, os.strerror(code))
        return written(fd, data[:2], at)

    monkeypatch.setattr(os, "pwrite", half)
    with pytest.raises(UploadRefused) as caught:
        take(tmp_path / "part", 0, 100, arriving([b"abcdef"]))
    assert (str(caught.value), caught.value.status) == (sentence, status)
    assert (tmp_path / "part").read_bytes() == b"ab", "what fitted stays"


def test_amounts_as_people_say_them() -> None:
    # By hand; thousands, as disks are sold.
    assert [amount(n) for n in (0, 999, 1000, 8 << 20, 734_003_200, 8 << 30)] == [
        "0 bytes", "999 bytes", "1 kB", "8 MB", "734 MB", "8.59 GB",
    ]  # fmt: skip
