"""What the desk has open: a folder with its titles and plans, long work, spots heard last."""

from __future__ import annotations

import fcntl
import os
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import IO

from discwright.desk.jobs import Jobs
from discwright.desk.listening import Listening
from discwright.desk.opened import OpenPlans
from discwright.desk.plays import Plays
from discwright.desk.recent import remember
from discwright.desk.shelf import NotThereError, Shelf
from discwright.desk.uploads import Uploads
from discwright.errors import CallError
from discwright.works.store.connect import FILE
from discwright.works.store.ledger import Ledger, begin_ledger, open_ledger
from discwright.works.store.people import any_people


class OpenLedger:
    """The ledger of a folder: its own, there from the moment it is begun, or one that others share.

    Parameters
    ----------
    address : str
        As :func:`discwright.works.store.ledger.open_ledger` reads it, or nothing.
    folder : pathlib.Path or None
        Whose own ledger it is where no address is given.

    Raises
    ------
    LedgerError
        If the address holds none, or the ledger cannot be used.
    """

    def __init__(self, address: str, folder: Path | None) -> None:
        self._folder = folder
        self._lock = Lock()
        self._peopled = False
        self._ledger = open_ledger(address) if address else None
        _ = self.present

    @property
    def present(self) -> Ledger | None:
        """The ledger, also where somebody else began it meanwhile."""
        if self._ledger is None and self._folder is not None and (self._folder / FILE).is_file():
            with self._lock:
                self._ledger = self._ledger or open_ledger(str(self._folder / FILE))
        return self._ledger

    @property
    def peopled(self) -> bool:
        """Somebody can sign in, or once could: people are closed and never forgotten."""
        if not self._peopled and (ledger := self.present) is not None:
            self._peopled = any_people(ledger)
        return self._peopled

    def begin(self) -> Ledger:
        """The ledger, begun where there is none.

        Raises
        ------
        LedgerError
            If it cannot be.
        """
        if (ledger := self.present) is not None:
            return ledger
        if self._folder is None:
            raise NotThereError("no folder is open that could hold a ledger; open one first.")
        with self._lock:
            self._ledger = self._ledger or begin_ledger(str(self._folder / FILE))
        return self._ledger

    def close(self) -> None:
        """Let the database go."""
        if self._ledger is not None:
            self._ledger.close()
            self._ledger = None


@dataclass(frozen=True)
class OpenFolder:
    """One opened folder.

    Attributes
    ----------
    shelf : Shelf
    plans : OpenPlans
    jobs : Jobs
    uploads : Uploads
    plays : Plays
    listening : Listening
    lock : file
        Held while it is open.
    books : OpenLedger
        Whose ledger it is.
    """

    shelf: Shelf
    plans: OpenPlans
    jobs: Jobs
    uploads: Uploads
    plays: Plays
    listening: Listening
    lock: IO[str]
    books: OpenLedger

    @property
    def ledger(self) -> Ledger | None:
        """The ledger of the folder; None where none was begun."""
        return self.books.present

    def begin_ledger(self) -> Ledger:
        """The ledger of the folder, begun where there is none.

        Raises
        ------
        LedgerError
            If it cannot be.
        """
        return self.books.begin()

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
    shared : OpenLedger or None
        The ledger for whatever folder is open; None where each has its own.
    """

    address: str = ""
    network: bool = False
    shared: OpenLedger | None = None
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

    @property
    def books(self) -> OpenLedger | None:
        """The ledger people are known by; None where no folder is open and none is shared."""
        return self._open.books if self._open is not None else self.shared

    def open(self, folder: Path) -> None:
        """Open a folder, and close the one before.

        Parameters
        ----------
        folder : pathlib.Path

        Raises
        ------
        CallError
            If it is no folder, cannot be written, is open at another desk, or nobody could sign in to it.
        LedgerError
            If it has a ledger that cannot be used.
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
        try:
            books = self.shared or OpenLedger("", place)
            if self.network and not books.peopled:
                raise CallError(nobody_in(f"{folder}: has"))
        except BaseException:
            lock.close()
            raise
        self._close_folder()
        shelf.tidy()
        uploads = Uploads(shelf.own / "uploads")
        uploads.sweep()
        plays = Plays(shelf.own / "plays")
        plays.sweep()
        jobs = Jobs(shelf.own / "jobs")
        self._open = OpenFolder(shelf, OpenPlans(shelf), jobs, uploads, plays, Listening(), lock, books)
        remember(place)

    def close(self) -> None:
        """Stop everything."""
        self._close_folder()
        if self.shared is not None:
            self.shared.close()

    def _close_folder(self) -> None:
        if self._open is not None:
            self._open.close()
            if self._open.books is not self.shared:
                self._open.books.close()
            self._open = None


def nobody_in(what: str) -> str:
    """Why a network cannot be let in.

    Parameters
    ----------
    what : str
        Where nobody is known.
    """
    return (
        f"{what} nobody who could sign in, and others in the network are let in by sign-in only; run `discwright works "
        "init` if there is no ledger yet, then `discwright works people add NAME --role keeper`."
    )


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
