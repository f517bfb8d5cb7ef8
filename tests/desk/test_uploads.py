"""Uploads in a folder of their own, driven as the routes drive them."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import hashlib
import json
import os
import shutil
import time
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

import pytest

from discwright.desk import uploads
from discwright.desk.upload_pieces import UploadRefused
from discwright.desk.uploads import MOST_UPLOADS, PIECE_BYTES, Upload, Uploads


@pytest.fixture
def store(tmp_path: Path) -> Uploads:
    return Uploads(tmp_path / "uploads")


@pytest.fixture(scope="session")
def short(tmp_path_factory: pytest.TempPathFactory, side: Path) -> bytes:
    """Two seconds of the side, whole."""
    import soundfile

    samples, rate = soundfile.read(side, frames=88_200)
    path = tmp_path_factory.mktemp("short") / "short.wav"
    soundfile.write(path, samples, rate, subtype="PCM_16")
    return path.read_bytes()


async def pieces(*chunks: bytes) -> AsyncIterator[bytes]:
    for chunk in chunks:
        yield chunk


def send(store: Uploads, upload: str, offset: int, *chunks: bytes) -> int:
    return asyncio.run(store.append(upload, offset, pieces(*chunks)))


def finish(store: Uploads, upload: str, sha256: str | None = None, place: Path | None = None) -> Upload:
    return asyncio.run(store.finish(upload, sha256, place))


def sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def sent(store: Uploads, content: bytes, name: str = "side.wav") -> str:
    """A file all of which has arrived."""
    upload = store.begin(name, len(content)).id
    for at in range(0, len(content), PIECE_BYTES):
        send(store, upload, at, content[at : at + PIECE_BYTES])
    return upload


def refused(act: Callable[[], Any]) -> UploadRefused:
    with pytest.raises(UploadRefused) as caught:
        act()
    assert str(caught.value).endswith(".")
    assert 400 <= caught.value.status < 500
    return caught.value


def test_a_file_arrives_in_pieces_is_checked_and_lies_ready(store: Uploads, short: bytes) -> None:
    upload = store.begin("../Side A.wav", len(short))
    assert (upload.name, upload.offset, upload.state) == ("Side A.wav", 0, "arriving")
    half = len(short) // 2
    assert send(store, upload.id, 0, short[:100], short[100:half]) == half
    assert store.status(upload.id).offset == half
    assert send(store, upload.id, half, short[half:]) == len(short)
    assert store.status(upload.id).state == "whole"
    done = finish(store, upload.id, sha256(short).upper())
    assert done.ready == store.place / upload.id / "ready" / "Side A.wav"
    assert done.ready.read_bytes() == short
    assert (done.state, done.words) == ("ready", "WAV, stereo, 44.1 kHz, 0:02.0")
    assert finish(store, upload.id, sha256(short)) == store.status(upload.id) == done, "once more changes nothing"
    assert send(store, upload.id, len(short), b"") == len(short)


def test_a_hash_may_be_announced_at_the_beginning(store: Uploads, short: bytes) -> None:
    upload = store.begin("a.wav", len(short), sha256(short)).id
    send(store, upload, 0, short)
    assert refused(lambda: finish(store, upload, "0" * 64)).status == 422
    assert finish(store, upload).ready


def test_a_finished_file_can_go_to_its_place_at_once(store: Uploads, short: bytes, tmp_path: Path) -> None:
    place = tmp_path / "title"
    place.mkdir()
    (place / "side.wav").write_bytes(b"another")
    upload = sent(store, short)
    done = finish(store, upload, sha256(short), place)
    assert done.ready == place / "side 2.wav"
    assert done.ready.read_bytes() == short
    assert (place / "side.wav").read_bytes() == b"another"
    assert store.lying() == ()
    again = sent(store, short)
    assert refused(lambda: finish(store, again, sha256(short), tmp_path / "missing")).status == 404
    assert store.status(again).ready, "the checked file is still there"


@pytest.mark.parametrize(
    ("name", "size", "digest", "status"),
    [
        ("side.mp3", 10, None, 415),
        ("", 10, None, 415),
        ("side.wav", 0, None, 400),
        ("side.wav", -1, None, 400),
        ("side.wav", (8 << 30) + 1, None, 413),
        ("side.wav", 10**4000, None, 413),
        ("side.wav", 10, "abc", 400),
        ("side.wav", 10, "g" * 64, 400),
    ],
)
def test_what_cannot_be_announced(store: Uploads, name: str, size: int, digest: str | None, status: int) -> None:
    assert refused(lambda: store.begin(name, size, digest)).status == status
    assert not store.place.exists()


def test_the_limit_can_be_set(tmp_path: Path) -> None:
    store = Uploads(tmp_path, limit_bytes=1000)
    assert store.begin("a.wav", 1000).size == 1000
    why = refused(lambda: store.begin("a.wav", 1001))
    assert str(why) == "A file may have 1 kB at most; send it in parts."


def test_room_on_the_disk_is_counted_with_what_others_still_send(
    store: Uploads, monkeypatch: pytest.MonkeyPatch
) -> None:
    free = (1 << 29) + 3000  # half a GiB is left alone
    usage = shutil._ntuple_diskusage(free, 0, free)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage)
    store.begin("a.wav", 2000)
    why = refused(lambda: store.begin("b.wav", 1001))
    assert str(why) == "The disk has room for 1 kB, and this file has 1 kB; make room first."
    assert store.begin("b.wav", 1000)


def test_not_more_than_so_many_lie_about(store: Uploads) -> None:
    for _ in range(MOST_UPLOADS):
        store.begin("a.wav", 1)
    assert refused(lambda: store.begin("a.wav", 1)).status == 429


def test_a_piece_fits_only_where_the_last_one_ended(store: Uploads) -> None:
    upload = store.begin("a.wav", 100).id
    send(store, upload, 0, b"a" * 10)
    for offset in (0, 9, 11, 100, 1 << 62, -1):
        why = refused(lambda offset=offset: send(store, upload, offset, b"b"))  # type: ignore[misc]
        assert (why.status, why.offset, why.busy) == (409, 10, False)
    assert send(store, upload, 10, b"") == 10
    assert (store.place / upload / "part").read_bytes() == b"a" * 10


def test_no_more_than_was_announced_and_no_more_than_a_piece(store: Uploads, monkeypatch: pytest.MonkeyPatch) -> None:
    upload = store.begin("a.wav", 100).id
    why = refused(lambda: send(store, upload, 0, b"a" * 101))
    assert (why.status, why.offset) == (413, 100)
    monkeypatch.setattr(uploads, "PIECE_BYTES", 20)
    upload = store.begin("a.wav", 100).id
    assert refused(lambda: send(store, upload, 0, b"a" * 15, b"b" * 6)).offset == 20
    assert send(store, upload, 20, b"b" * 20) == 40


def test_of_two_at_once_the_second_is_told_where_the_first_is(store: Uploads) -> None:
    upload = store.begin("a.wav", 100).id
    send(store, upload, 0, b"a" * 10)

    async def both() -> UploadRefused:
        entered, leave = asyncio.Event(), asyncio.Event()

        async def slow() -> AsyncIterator[bytes]:
            yield b"b" * 5
            entered.set()
            await leave.wait()
            yield b"c" * 5

        first = asyncio.create_task(store.append(upload, 10, slow()))
        await entered.wait()
        with pytest.raises(UploadRefused) as caught:
            await store.append(upload, 10, pieces(b"x" * 10))
        with pytest.raises(UploadRefused, match="is being sent or checked already"):
            await store.finish(upload, "0" * 64)
        leave.set()
        assert await first == 20
        return caught.value

    why = asyncio.run(both())
    assert (why.status, why.offset, why.busy) == (409, 10, True)
    assert (store.place / upload / "part").read_bytes() == b"a" * 10 + b"b" * 5 + b"c" * 5
    assert send(store, upload, 20, b"d") == 21, "and the way is free again"


def test_a_full_disk_keeps_what_fitted(store: Uploads, monkeypatch: pytest.MonkeyPatch) -> None:
    upload = store.begin("a.wav", 100).id
    written = os.pwrite

    def full(fd: int, data: bytes, at: int) -> int:
        if at >= 7:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return written(fd, data[: 7 - at], at)

    with monkeypatch.context() as patched:
        patched.setattr(os, "pwrite", full)
        why = refused(lambda: send(store, upload, 0, b"abcdefghij"))
    assert (why.status, why.offset) == (413, 7)
    assert send(store, upload, 7, b"hij") == 10
    assert (store.place / upload / "part").read_bytes() == b"abcdefghij"


def test_half_an_upload_survives_a_restart(store: Uploads, short: bytes) -> None:
    upload = store.begin("side.wav", len(short)).id
    send(store, upload, 0, short[:1000])
    again = Uploads(store.place)
    (half,) = again.half()
    assert (half.id, half.name, half.arrived, half.percent) == (upload, "side.wav", "1 kB", 100_000 // len(short))
    send(again, upload, 1000, short[1000:])
    finish(again, upload, sha256(short))
    assert again.half() == ()
    assert [one.state for one in Uploads(store.place).lying()] == ["ready"]


def test_a_wrong_hash_keeps_the_file_where_it_is(store: Uploads, short: bytes) -> None:
    upload = sent(store, short)
    why = refused(lambda: finish(store, upload, "0" * 64))
    assert str(why) == "side.wav did not arrive as it was sent; remove it and send it again."
    assert refused(lambda: finish(store, upload)).status == 400
    assert finish(store, upload, sha256(short)).ready


def test_what_is_not_all_there_cannot_be_finished(store: Uploads, short: bytes) -> None:
    upload = store.begin("side.wav", len(short)).id
    send(store, upload, 0, short[:-500])
    why = refused(lambda: finish(store, upload, sha256(short)))
    assert (str(why), why.offset) == ("500 bytes of side.wav are missing; send the rest.", len(short) - 500)


@pytest.mark.parametrize("content", [b"not audio", b"RIFF" + bytes(100)])
def test_what_does_not_sound_never_gets_ready(store: Uploads, content: bytes) -> None:
    upload = sent(store, content)
    why = refused(lambda: finish(store, upload, sha256(content)))
    assert why.status == 422
    assert str(store.place) not in str(why)
    assert store.status(upload).state == "whole"
    assert not (store.place / upload / "ready").exists()


def test_a_closed_desk_stops_its_checks(store: Uploads, short: bytes) -> None:
    upload = sent(store, short)
    store._closing.set()
    assert refused(lambda: store._finish(upload, sha256(short), None)).busy
    store.close()
    assert refused(lambda: finish(store, upload, sha256(short))).busy
    assert finish(Uploads(store.place), upload, sha256(short)).ready


@pytest.mark.parametrize(
    "upload", ["", "..", "../..", "0" * 31, "0" * 33, "A" * 32, "0" * 32, "%2e%2e", "\0" * 32, "..\\"]
)
def test_an_unknown_id_reaches_nothing(store: Uploads, upload: str) -> None:
    store.begin("a.wav", 10)
    for act in (
        lambda: store.status(upload),
        lambda: send(store, upload, 0, b"a"),
        lambda: finish(store, upload, "0" * 64),
        lambda: store.drop(upload),
    ):
        assert refused(act).status == 404
    assert len(store.lying()) == 1


@pytest.mark.parametrize(
    "about",
    [
        "",
        "{",
        "[]",
        "null",
        '{"name": "../../x.wav", "size": 1}',
        '{"name": 5, "size": 1}',
        '{"name": "a.wav", "size": 0}',
    ],
)
def test_a_folder_that_somebody_else_wrote_is_no_upload(store: Uploads, about: str) -> None:
    upload = store.begin("a.wav", 10).id
    whole = {"sha256": None, "words": ""}
    with contextlib.suppress(ValueError, TypeError):
        about = json.dumps({**json.loads(about), **whole})
    (store.place / upload / "about.json").write_text(about)
    assert refused(lambda: store.status(upload)).status == 404
    assert store.lying() == ()
    store.drop(upload)
    assert os.listdir(store.place) == []


def test_dropping_while_a_piece_arrives_ends_it(store: Uploads) -> None:
    upload = store.begin("a.wav", 100).id

    async def dropping() -> AsyncIterator[bytes]:
        yield b"a" * 10
        store.drop(upload)
        yield b"b" * 10

    with pytest.raises(UploadRefused) as caught:
        asyncio.run(store.append(upload, 0, dropping()))
    assert caught.value.status == 404
    assert os.listdir(store.place) == []


def test_a_title_takes_all_its_files_or_none(store: Uploads, short: bytes, tmp_path: Path) -> None:
    first, second = sent(store, short, "one.wav"), sent(store, short, "two.wav")
    finish(store, first, sha256(short))
    with pytest.raises(UploadRefused, match=r"two\.wav has not been checked yet"), store.taking([first, second]):
        pass
    finish(store, second, sha256(short))

    def no_title() -> None:
        with store.taking([second, first]) as files:
            assert [file.name for file in files] == ["two.wav", "one.wav"]
            assert refused(lambda: store.drop(first)).status == 409
            raise RuntimeError

    with pytest.raises(RuntimeError):
        no_title()
    assert len(store.lying()) == 2
    with store.taking([second, first]) as files:
        for file in files:
            file.rename(tmp_path / file.name)
    assert store.lying() == ()
    assert (tmp_path / "one.wav").read_bytes() == short


def test_files_of_one_name_do_not_meet_in_a_title(store: Uploads, short: bytes) -> None:
    ids = [sent(store, short, name) for name in ("01.wav", "01.WAV", "01.wav")]
    for upload in ids:
        finish(store, upload, sha256(short))

    def no_title() -> None:
        with store.taking(ids) as files:
            assert [file.name for file in files] == ["01.wav", "01 2.WAV", "01 3.wav"]
            assert all(file.read_bytes() == short for file in files)
            raise RuntimeError

    for _ in range(2):
        with pytest.raises(RuntimeError):
            no_title()
    assert len(store.lying()) == 3


def test_what_nobody_went_on_with_is_swept_after_a_week(store: Uploads) -> None:
    day = 86_400.0
    old, kept, busy = (store.begin(f"{name}.wav", 100).id for name in "abc")
    (store.place / "keep.txt").write_text("not ours")
    (store.place / ".new-left").mkdir()
    store.sweep(time.time() + 6.9 * day)
    assert len(store.lying()) == 3

    async def sweeping() -> AsyncIterator[bytes]:
        yield b"a"
        now = time.time()
        for path in store.place.rglob("*"):
            os.utime(path, (now - 8 * day, now - 8 * day))
        os.utime(store.place / kept / "part", (now - 6 * day, now - 6 * day))
        store.sweep()

    assert asyncio.run(store.append(busy, 0, sweeping())) == 1
    assert {one.id for one in store.lying()} == {kept, busy}
    assert old not in os.listdir(store.place)
    assert sorted(os.listdir(store.place)) == sorted([kept, busy, "keep.txt"])


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    why = refused(lambda: Uploads(tmp_path / "file" / "uploads").begin("a.wav", 10))
    assert str(why) == "The file cannot be kept (Not a directory); check the disk."
