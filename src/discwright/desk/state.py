"""What the desk has open: a folder with its titles and plans, long work, spots heard last."""

from __future__ import annotations

import fcntl
import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from discwright.desk.jobs import Jobs
from discwright.desk.listening import Listening
from discwright.desk.opened import OpenPlans
from discwright.desk.recent import remember
from discwright.desk.shelf import NotThereError, Shelf
from discwright.desk.uploads import Uploads
from discwright.errors import CallError


@dataclass(frozen=True)
class OpenFolder:
    """One opened folder.

    Attributes
    ----------
    shelf : Shelf
    plans : OpenPlans
    jobs : Jobs
    uploads : Uploads
    listening : Listening
    lock : file
        Held while it is open.
    """

    shelf: Shelf
    plans: OpenPlans
    jobs: Jobs
    uploads: Uploads
    listening: Listening
    lock: IO[str]

    def close(self) -> None:
        """Stop what runs and let others open the folder."""
        self.jobs.close()
        self.uploads.close()
        self.lock.close()


@dataclass
class Desk:
    """The desk of one process.

    Attributes
    ----------
    address : str
        Where it is served, for whoever opens the same folder twice.
    network : bool
        Others in the network can reach it.
    """

    address: str = ""
    network: bool = False
    _open: OpenFolder | None = field(default=None)

    @property
    def is_open(self) -> bool:
        """A folder is open."""
        return self._open is not None

    @property
    def folder(self) -> OpenFolder:
        """The opened folder.

        Raises
        ------
        NotThereError
            If none is.
        """
        if self._open is None:
            raise NotThereError("no folder is open yet; choose a recent one, or start the desk with a folder.")
        return self._open

    def open(self, folder: Path) -> None:
        """Open a folder, and close the one before.

        Parameters
        ----------
        folder : pathlib.Path

        Raises
        ------
        CallError
            If it is no folder, cannot be written, or is open at another desk.
        """
        place = folder.resolve()
        if not place.is_dir():
            raise CallError(f"{folder}: is not a folder; name one with titles, or an empty one to begin in.")
        shelf = Shelf(place)
        try:
            shelf.own.mkdir(exist_ok=True)
            lock = _lock(shelf.own / "open", folder, self.address)
        except OSError as trouble:
            raise CallError(
                f"{folder}: cannot be written ({trouble.strerror}), and the desk keeps its work there; choose a folder "
                "of your own."
            ) from None
        self.close()
        shelf.tidy()
        uploads = Uploads(shelf.own / "uploads")
        uploads.sweep()
        self._open = OpenFolder(shelf, OpenPlans(shelf), Jobs(shelf.own / "jobs"), uploads, Listening(), lock)
        remember(place)

    def close(self) -> None:
        """Stop everything."""
        if self._open is not None:
            self._open.close()
            self._open = None


def _lock(path: Path, folder: Path, address: str) -> IO[str]:
    """One desk a folder: two would stop each other's work."""
    file = path.open("a+", encoding="utf-8")
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        file.seek(0)
        where = file.read().strip()
        file.close()
        raise CallError(
            f"{folder}: is open at another desk{f', {where}' if where else ''}; use that one, or close it first."
        ) from None
    os.ftruncate(file.fileno(), 0)
    file.write(f"{address}\n")
    file.flush()
    return file
