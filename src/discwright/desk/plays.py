"""Test plays at the desk: what was captured of a part, and what came of holding it against the programme.

Each has a folder of its own under ``FOLDER/.desk/plays/``:

    ID/play.json        of which part, from which plan, with which tip, who sent it and when
       sent/NAME        the capture as it was sent
       result/          what the inspection made: inspect.json, inspect.png, programme.flac, capture.flac,
                        difference.flac
       kept.json        the line of the ledger it was kept in, once it was

A play begins when its capture has arrived; its job fills `result`. One that is not kept is swept away after a month.
"""

from __future__ import annotations

import re
import secrets
import shutil
import threading
import time
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from discwright.desk.file_names import put_into
from discwright.desk.jobs import read_json, write_json
from discwright.desk.shelf import NotThereError
from discwright.errors import CallError
from discwright.faults import KINDS

#: Days after it was sent that a play which was not kept is thrown away.
KEPT_DAYS = 30
#: Plays that may lie about at once, those that were kept not among them: each holds a side four times over.
MOST_PLAYS = 40
ABOUT, KEPT, SENT, RESULT, REPORT = "play.json", "kept.json", "sent", "result", "inspect.json"
#: Files of a result that a page may ask for.
FILES = ("inspect.png", "inspect.json", "programme.flac", "capture.flac", "difference.flac")
#: What stands before a play's id where the ledger tells of its report.
_REPORT_NAME = "desk play "
_ID = re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True)
class About:
    """What a play is of.

    Attributes
    ----------
    part, title, edition, side : str
        Number of the part, catalogue number, and which side.
    fingerprint : str
        Of the plan its lacquer was cut from.
    tip : str
        Playing tip of the proof it is held against.
    pressing : str
        Of a stamper: which of its pressings was played.
    capture : str
        Name of the file that was sent.
    by, at : str
        Who sent it, and when, ISO 8601 in UTC.
    job : str
        The job that inspected it last.
    """

    part: str
    title: str
    edition: str
    side: str
    fingerprint: str
    tip: str
    pressing: str
    capture: str
    by: str
    at: str
    job: str = ""


@dataclass(frozen=True)
class Play:
    """One play.

    Attributes
    ----------
    id : str
        Random; never a path.
    folder : pathlib.Path
    about : About
    kept : int
        Number of the line it was kept in; 0 where it never was.
    """

    id: str
    folder: Path
    about: About
    kept: int

    @property
    def result(self) -> Path:
        """Where what came of it lies."""
        return self.folder / RESULT

    @property
    def done(self) -> bool:
        """It was inspected."""
        return (self.result / REPORT).is_file()

    @property
    def capture(self) -> Path | None:
        """The file as it was sent; None where it lies here no more."""
        with suppress(OSError):
            return next(iter((self.folder / SENT).iterdir()), None)
        return None

    @property
    def name(self) -> str:
        """How the ledger calls its report."""
        return f"{_REPORT_NAME}{self.id}"

    def report(self) -> dict[str, Any]:
        """What was found, as `inspect --json` prints it; empty where there is nothing yet."""
        return read_report(self.result / REPORT)


class Plays:
    """All plays of an opened folder.

    Parameters
    ----------
    place : pathlib.Path
        Folder they lie in; it is made with the first of them.
    """

    def __init__(self, place: Path) -> None:
        self.place = place
        self._lock = threading.Lock()

    def begin(self, about: About, capture: Path) -> Play:
        """A new play; the capture is moved into its folder.

        Parameters
        ----------
        about : About
        capture : pathlib.Path

        Raises
        ------
        CallError
            If too many lie here already, or the folder cannot be written.
        """
        with self._lock:
            if sum(not one.kept for one in self.all()) >= MOST_PLAYS:
                raise CallError(f"{MOST_PLAYS} plays lie here that were not kept; keep or drop some first.")
            id_ = secrets.token_hex(8)
            part = self.place / f".new-{id_}"
            try:
                (part / SENT).mkdir(parents=True)
                write_json(part / ABOUT, asdict(about))
                put_into(capture, part / SENT)
                part.rename(self.place / id_)
            except OSError as trouble:
                with suppress(OSError, StopIteration):
                    next((part / SENT).iterdir()).rename(capture)
                shutil.rmtree(part, ignore_errors=True)
                raise CallError(f"the capture cannot be kept ({trouble.strerror}); check the disk.") from None
        return self.get(id_)

    def get(self, id_: str) -> Play:
        """A play by its id.

        Parameters
        ----------
        id_ : str

        Raises
        ------
        NotThereError
        """
        found = self._read(id_) if _ID.fullmatch(id_) else None
        if found is None:
            raise NotThereError("this play is not in the folder, or no longer; go back to the part's page.")
        return found

    def all(self) -> list[Play]:
        """Every play, newest first."""
        with suppress(OSError):
            names = [one.name for one in self.place.iterdir() if _ID.fullmatch(one.name)]
            found = [one for one in map(self._read, names) if one is not None]
            return sorted(found, key=lambda one: (one.about.at, one.id), reverse=True)
        return []

    def of_parts(self, parts: Iterable[str]) -> list[Play]:
        """The plays of some parts, newest first.

        Parameters
        ----------
        parts : iterable of str
            Their numbers.
        """
        wanted = set(parts)
        return [one for one in self.all() if one.about.part in wanted]

    def note_job(self, play: Play, job: str, tip: str) -> None:
        """Remember which job inspects it now, and with which tip.

        Raises
        ------
        CallError
            If that cannot be written.
        """
        _written(play.folder / ABOUT, asdict(play.about) | {"job": job, "tip": tip})

    def note_kept(self, play: Play, seq: int) -> None:
        """Remember the line of the ledger it was kept in: from then on it is not swept away.

        Raises
        ------
        CallError
            If that cannot be written.
        """
        _written(play.folder / KEPT, {"seq": seq})

    def drop(self, play: Play) -> None:
        """Throw a play away, capture and all."""
        gone = play.folder.with_name(f".gone-{play.id}")
        with suppress(OSError):
            play.folder.rename(gone)  # by one step, so that nobody meets half a play
        shutil.rmtree(gone, ignore_errors=True)

    def sweep(self, now_s: float | None = None) -> None:
        """Throw away what nobody kept for a month, and what was left half done.

        Parameters
        ----------
        now_s : float or None, s
            Since 1970; None for the clock.
        """
        oldest = (time.time() if now_s is None else now_s) - KEPT_DAYS * 86_400
        for one in self.all():
            with suppress(OSError):
                if not one.kept and max(path.stat().st_mtime for path in (one.folder, *one.folder.iterdir())) < oldest:
                    self.drop(one)
        for left in (*self.place.glob(".new-*"), *self.place.glob(".gone-*")):
            shutil.rmtree(left, ignore_errors=True)

    def _read(self, id_: str) -> Play | None:
        folder = self.place / id_
        told = read_json(folder / ABOUT)
        names = [one.name for one in fields(About)]
        if not told or not all(isinstance(told.get(name, ""), str) for name in names):
            return None
        seq = read_json(folder / KEPT).get("seq", 0)
        about = About(**{name: told.get(name, "") for name in names})
        return Play(id_, folder, about, seq if isinstance(seq, int) else 0)


def _written(path: Path, value: dict[str, Any]) -> None:
    try:
        write_json(path, value)
    except OSError as trouble:
        raise CallError(f"the play cannot be kept ({trouble.strerror}); check the disk.") from None


def read_report(path: Path) -> dict[str, Any]:
    """A report of an inspection; empty where it is missing or none that can be shown.

    Parameters
    ----------
    path : pathlib.Path
    """
    told = read_json(path)
    defects = told.get("defects")
    if not isinstance(defects, list) or not isinstance(told.get("measures"), dict):
        return {}
    return told if all(isinstance(one, dict) and one.get("kind") in KINDS for one in defects) else {}
