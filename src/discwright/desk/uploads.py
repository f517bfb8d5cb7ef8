"""Uploads: files that arrive in pieces, survive an interruption, and count only once they were heard to their end.

Each has a folder of its own under ``FOLDER/.desk/uploads/``:

    ID/about.json      name, size and hash as they were announced
    ID/part            what has arrived; its length is the offset to go on at
    ID/ready/NAME      the whole file, once its hash and its sound were checked

Nothing of this is remembered elsewhere, so a desk that is started again goes on where it was.
"""

from __future__ import annotations

import asyncio
import json
import os
import re
import secrets
import shutil
import threading
import time
from collections.abc import AsyncIterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from discwright.desk.file_names import clean_name, put_into
from discwright.desk.title_parts import HalfUpload
from discwright.desk.upload_check import hash_of, sound_of
from discwright.desk.upload_pieces import UploadRefused, amount, disk_troubles, take_piece, unknown
from discwright.errors import CallError

#: The most that one PUT carries, and the largest file, bytes.
PIECE_BYTES = 8 << 20
LIMIT_BYTES = 8 << 30
#: Uploads that may lie about at once, half or whole.
MOST_UPLOADS = 200
#: Days after its last piece that an upload is kept.
KEPT_DAYS = 7
#: What an upload must leave free on the disk, for the plans to be made of it.
_LEFT_FREE_BYTES = 1 << 29
_ABOUT, _PART, _READY = "about.json", "part", "ready"
_ID = re.compile(r"[0-9a-f]{32}")
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Upload:
    """How far an upload is.

    Attributes
    ----------
    id, name : str
        The name as it will be on the disk.
    size, offset : int
        Bytes that were announced, and that have arrived.
    sha256 : str or None
        As announced; as found once the file is ready.
    words : str
        What sounds in it, once it is ready.
    ready : pathlib.Path or None
        The checked file.
    """

    id: str
    name: str
    size: int
    offset: int
    sha256: str | None = None
    words: str = ""
    ready: Path | None = None

    @property
    def state(self) -> str:
        """``"arriving"``, ``"whole"`` (all there, not yet checked) or ``"ready"``."""
        if self.ready is not None:
            return "ready"
        return "whole" if self.offset == self.size else "arriving"


class Uploads:
    """All uploads of an opened folder.

    Parameters
    ----------
    place : pathlib.Path
        Folder they lie in; it is made with the first upload.
    limit_bytes : int
        Largest file that is taken.
    """

    def __init__(self, place: Path, limit_bytes: int = LIMIT_BYTES) -> None:
        self.place = place
        self.limit_bytes = limit_bytes
        self._busy: set[str] = set()
        self._guarding = threading.Lock()
        # Two at a time: a check decodes a whole side, and the machine has other work.
        self._checks = ThreadPoolExecutor(2, thread_name_prefix="upload-check")
        self._closing = threading.Event()

    def close(self) -> None:
        """Stop the checks that run; what has arrived stays and can be checked again."""
        self._closing.set()
        self._checks.shutdown()

    def begin(self, name: str, size: int, sha256: str | None = None) -> Upload:
        """Announce a file.

        Parameters
        ----------
        name : str
            As the sender calls it.
        size : int
            Bytes.
        sha256 : str or None
            Hexadecimal, where it is known already.

        Raises
        ------
        UploadRefused
            If name, size or hash cannot be used, or there is no room.
        """
        upload = Upload(secrets.token_hex(16), self._name(name), self._size(size), 0, _checked_hash(sha256))
        self.sweep()
        with disk_troubles():
            self.place.mkdir(parents=True, exist_ok=True)
            self._check_room(size)
            part = self.place / f".new-{upload.id}"
            try:
                part.mkdir()
                _write_about(part, upload)
                (part / _PART).touch()
                part.rename(self.place / upload.id)
            finally:
                shutil.rmtree(part, ignore_errors=True)
        return upload

    def status(self, upload: str) -> Upload:
        """How far an upload is.

        Parameters
        ----------
        upload : str
            Its id.

        Raises
        ------
        UploadRefused
            If there is no such upload.
        """
        folder = self._folder(upload)
        try:
            about = json.loads((folder / _ABOUT).read_text(encoding="utf-8"))
            name, size = about["name"], int(about["size"])
            if clean_name(name) != name or size < 1:  # a folder may come from somebody else
                raise ValueError
            ready = next(iter((folder / _READY).iterdir()), None) if (folder / _READY).is_dir() else None
            offset = min((ready or folder / _PART).stat().st_size, size)
            return Upload(upload, name, size, offset, about["sha256"], about["words"], ready)
        except (OSError, ValueError, KeyError, TypeError, CallError):
            raise unknown() from None

    def lying(self) -> tuple[Upload, ...]:
        """All uploads, half and whole, by name."""
        found = []
        for folder in self._folders():
            with suppress(UploadRefused):  # dropped meanwhile, or no upload at all
                found.append(self.status(folder.name))
        return tuple(sorted(found, key=lambda one: (one.name, one.id)))

    def half(self) -> tuple[HalfUpload, ...]:
        """The uploads that wait for their rest, as the titles page shows them."""
        return tuple(
            HalfUpload(one.id, one.name, amount(one.offset), amount(one.size), 100 * one.offset // one.size)
            for one in self.lying()
            if one.ready is None
        )

    async def append(self, upload: str, offset: int, stream: AsyncIterable[bytes]) -> int:
        """Take a piece.

        Parameters
        ----------
        upload : str
        offset : int
            Where the piece belongs, bytes; only where the last one ended.
        stream : asynchronous iterable of bytes
            What breaks off midway leaves what came until then.

        Returns
        -------
        int
            Where the next piece belongs, bytes.

        Raises
        ------
        UploadRefused
            If the piece does not belong there, is too long or stands still, another is being taken, the disk is
            full, or there is no such upload.
        """
        with self._held(upload):
            there = await asyncio.to_thread(self.status, upload)
            if offset != there.offset:
                raise UploadRefused(
                    409, f"{there.name} has arrived up to byte {there.offset}; go on there.", there.offset
                )
            room = min(PIECE_BYTES, there.size - offset)
            if there.ready is not None:
                return there.offset  # nothing is left to be sent
            try:
                fd = os.open(self._folder(upload) / _PART, os.O_WRONLY | os.O_CLOEXEC | os.O_NOFOLLOW)
            except OSError:
                raise unknown() from None
            try:
                fitted = await take_piece(fd, offset, room, stream)
            except UploadRefused as refused:
                refused.offset = os.fstat(fd).st_size
                raise
            finally:
                offset = os.fstat(fd).st_size
                os.close(fd)
            self.status(upload)  # dropped meanwhile?
        if not fitted:
            raise UploadRefused(413, "That was more than the piece may hold; send the rest as another piece.", offset)
        return offset

    async def finish(self, upload: str, sha256: str | None = None, place: Path | None = None) -> Upload:
        """Check the whole file: its hash, then its sound to the last sample, decoded in a child process.

        Parameters
        ----------
        upload : str
        sha256 : str or None
            Hexadecimal; None where it was announced at the beginning.
        place : pathlib.Path or None
            Folder to move the file to, after which the upload is gone. None keeps it ready in the upload's own folder.

        Returns
        -------
        Upload
            `ready` is where the file lies. A second time does nothing more.

        Raises
        ------
        UploadRefused
            If something is missing or wrong; what has arrived stays.
        """
        self._check_open()
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(self._checks, self._finish, upload, sha256, place)

    @contextmanager
    def taking(self, uploads: Sequence[str]) -> Iterator[tuple[Path, ...]]:
        """The files of ready uploads, for somebody who moves them away; where that goes well the uploads are gone.

        No two of them have the same name, so that they fit into one folder.

        Parameters
        ----------
        uploads : sequence of str
            Ids.

        Raises
        ------
        UploadRefused
            If one is not ready, not there, or somebody else is at it.
        """
        with ExitStack() as held:
            files = []
            for upload in uploads:
                held.enter_context(self._held(upload))
                there = self.status(upload)
                if there.ready is None:
                    raise UploadRefused(409, f"{there.name} has not been checked yet; wait until it is ready.")
                files.append(there.ready)
            yield tuple(_apart(files))
            for upload in uploads:
                self._remove(self._folder(upload))

    def drop(self, upload: str) -> None:
        """Throw an upload away, also while a piece of it arrives.

        Parameters
        ----------
        upload : str

        Raises
        ------
        UploadRefused
            If there is no such upload, or a title is just being made of it.
        """
        folder = self._folder(upload)
        if not folder.is_dir():
            raise unknown()
        with self._guarding:
            taken = upload in self._busy and (folder / _READY).is_dir()
        if taken:
            raise UploadRefused(409, "This file is just being put into its place; wait a moment.", busy=True)
        self._remove(folder)

    def sweep(self, now_s: float | None = None) -> None:
        """Throw away what nobody went on with for a week.

        Parameters
        ----------
        now_s : float or None, s
            Since 1970; None for the clock.
        """
        oldest = (time.time() if now_s is None else now_s) - KEPT_DAYS * 86_400
        for folder in self._folders(leftovers=True):
            with suppress(OSError):
                newest = max(path.stat().st_mtime for path in (folder, *folder.iterdir()))
                if newest < oldest and folder.name not in self._busy:
                    self._remove(folder)

    def _folder(self, upload: str) -> Path:
        if not _ID.fullmatch(upload):
            raise unknown()
        return self.place / upload

    def _folders(self, leftovers: bool = False) -> list[Path]:
        try:
            names = os.listdir(self.place)
        except OSError:
            return []
        known = [name for name in names if _ID.fullmatch(name) or (leftovers and name.startswith((".new-", ".gone-")))]
        return [self.place / name for name in sorted(known)]

    def _remove(self, folder: Path) -> None:
        # Away by one step, so that nobody meets half an upload.
        gone = folder.with_name(f".gone-{folder.name.removeprefix('.gone-')}")
        with suppress(OSError):
            folder.rename(gone)
        shutil.rmtree(gone, ignore_errors=True)

    @contextmanager
    def _held(self, upload: str) -> Iterator[None]:
        """Keep an upload for oneself."""
        with self._guarding:
            if upload in self._busy:
                there = self.status(upload)
                raise UploadRefused(
                    409, f"{there.name} is being sent or checked already; wait for that.", there.offset, busy=True
                )
            self._busy.add(upload)
        try:
            yield
        finally:
            with self._guarding:
                self._busy.discard(upload)

    def _name(self, name: str) -> str:
        try:
            return clean_name(name)
        except CallError as trouble:
            raise UploadRefused(415, str(trouble)) from None

    def _size(self, size: int) -> int:
        if size < 1:
            raise UploadRefused(400, "An empty file holds no sound; choose another.")
        if size > self.limit_bytes:
            raise UploadRefused(413, f"A file may have {amount(self.limit_bytes)} at most; send it in parts.")
        return size

    def _check_room(self, size: int) -> None:
        lying = self.lying()
        if len(lying) >= MOST_UPLOADS:
            raise UploadRefused(429, f"{len(lying)} uploads lie here already; make titles of them or remove some.")
        owed = sum(one.size - one.offset for one in lying)
        free = shutil.disk_usage(self.place).free - owed - _LEFT_FREE_BYTES
        if size > free:
            raise UploadRefused(
                413, f"The disk has room for {amount(max(free, 0))}, and this file has {amount(size)}; make room first."
            )

    def _finish(self, upload: str, sha256: str | None, place: Path | None) -> Upload:
        with self._held(upload):
            there = self.status(upload)
            wanted = _checked_hash(sha256) or there.sha256
            if wanted is None:
                raise UploadRefused(400, "The hash of the file is missing; send its SHA-256.")
            if there.offset < there.size:
                missing = amount(there.size - there.offset)
                raise UploadRefused(409, f"{missing} of {there.name} are missing; send the rest.", there.offset)
            if there.sha256 not in (None, wanted):
                raise _differs(there)
            with disk_troubles():
                done = there if there.ready else self._check(there, wanted)
                if place is None or done.ready is None:
                    return done
                final = put_into(done.ready, place)
                self._remove(self._folder(upload))
                return replace(done, ready=final)

    def _check(self, there: Upload, wanted: str) -> Upload:
        """Hash, sound, and the move to the ready files."""
        folder = self._folder(there.id)
        part = folder / _PART
        if hash_of(part, self._check_open) != wanted:
            raise _differs(there)
        checked = replace(there, sha256=wanted, words=sound_of(part, there.name, self._check_open))
        _write_about(folder, checked)
        (folder / _READY).mkdir(exist_ok=True)
        ready = folder / _READY / there.name
        part.rename(ready)
        return replace(checked, ready=ready)

    def _check_open(self) -> None:
        if self._closing.is_set():
            raise UploadRefused(409, "The desk is being closed; check the file when it runs again.", busy=True)


def _write_about(folder: Path, upload: Upload) -> None:
    about: dict[str, Any] = {key: getattr(upload, key) for key in ("name", "size", "sha256", "words")}
    part = folder / f".{_ABOUT}"
    part.write_text(json.dumps(about), encoding="utf-8")
    part.replace(folder / _ABOUT)


def _apart(files: Sequence[Path]) -> Iterator[Path]:
    """The same files under names that can lie side by side: of two sides `01.wav` one becomes `01 2.wav`."""
    taken: set[str] = set()
    for file in files:
        count, name = 1, file.name
        while name.casefold() in taken:
            count += 1
            name = f"{file.stem} {count}{file.suffix}"
        taken.add(name.casefold())
        yield file if count == 1 else file.rename(file.with_name(name))


def _differs(there: Upload) -> UploadRefused:
    return UploadRefused(422, f"{there.name} did not arrive as it was sent; remove it and send it again.")


def _checked_hash(sha256: str | None) -> str | None:
    if sha256 is not None and not _SHA256.fullmatch(sha256.lower()):
        raise UploadRefused(400, "That is no SHA-256; send its 64 hexadecimal digits.")
    return sha256 and sha256.lower()
