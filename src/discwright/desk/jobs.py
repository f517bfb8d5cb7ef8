"""Long work: each job a child process with a folder of its own, where everything about it is kept.

    JOBS/ID/job.json        what was asked for
            process.json    the child, by number and time of birth
            progress.json   how far it is, written by the child
            result.json     what came of it, or
            trouble.json    why nothing did: one of the two ends a job
            stop            somebody asked for it to be stopped
            aside           nobody wants to see it in lists any more
            log.txt         what the child said
            out/            everything unfinished, deleted when the child has gone

What is said of a job comes from these files and from its child, never from a clock: it is done when its child has
written a result and gone, and a child that goes without one has failed, whoever ended it.
"""

from __future__ import annotations

import json
import re
import secrets
import shutil
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import RLock, Thread
from typing import Any

from discwright.desk.children import Child, birth
from discwright.errors import CallError

JOB, PROCESS, PROGRESS, RESULT, TROUBLE, STOP, ASIDE, LOG, OUT = (
    "job.json", "process.json", "progress.json", "result.json", "trouble.json", "stop", "aside", "log.txt", "out",
)  # fmt: skip
#: Jobs that run at once; others wait.
AT_ONCE = 2
#: Ended jobs are remembered: so many, so long.
REMEMBERED, REMEMBERED_FOR = 60, timedelta(days=30)

_PROGRAM = "discwright.desk.work"
_ID = re.compile(r"[0-9a-f]{16}")


class NoSuchJobError(CallError):
    """There is no job of this id, or no longer."""


@dataclass(frozen=True)
class Job:
    """A long piece of work at one moment.

    Attributes
    ----------
    id : str
        Random; never a path.
    kind : str
        One of :data:`discwright.desk.work.KINDS`.
    words, about : str
        What it does, for people; what it belongs to, as whoever started it said.
    arguments : dict
        What it was started with.
    state : str
        ``"waiting"``, ``"running"``, ``"done"``, ``"failed"`` or ``"stopped"``.
    step : str
        What it is at.
    done : float
        0 to 1, of the whole.
    seconds_left : float or None, s
        None while nobody knows.
    sentence : str
        Why it failed; empty otherwise.
    result : dict
        Empty until it is done.
    started : datetime
        When it was asked for, UTC.
    aside : bool
        It has ended and was put aside.
    """

    id: str
    kind: str
    words: str
    about: str
    arguments: Mapping[str, Any]
    state: str
    step: str
    done: float
    seconds_left: float | None
    sentence: str
    result: Mapping[str, Any]
    started: datetime
    aside: bool = False

    @property
    def ended(self) -> bool:
        """It is done, failed or stopped, and nothing about it changes any more."""
        return self.state not in ("waiting", "running")


def write_json(path: Path, value: object) -> None:
    """Write a file beside its place and put it there whole.

    Parameters
    ----------
    path : pathlib.Path
    value : object

    Raises
    ------
    OSError
    """
    part = path.with_name(f".{path.name}.part")
    part.write_text(json.dumps(value, ensure_ascii=True, allow_nan=False) + "\n", encoding="utf-8")
    part.replace(path)


def read_json(path: Path) -> dict[str, Any]:
    """What a file holds; nothing where it is missing or broken.

    Parameters
    ----------
    path : pathlib.Path
    """
    try:
        value = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return value if isinstance(value, dict) else {}


class Jobs:
    """The long work of one opened folder; one desk at a time.

    Parameters
    ----------
    folder : pathlib.Path
        Made where it does not exist. Jobs that an earlier desk has left there are taken over: those whose child still
        runs go on, those that waited wait again, all others have failed.

    Raises
    ------
    OSError
        If it cannot be made.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = RLock()
        self._waiting: list[str] = []
        self._children: dict[str, Child] = {}
        self._ended: dict[str, Job] = {}
        self._asked: set[str] = set()
        self._closed = False
        folder.mkdir(parents=True, exist_ok=True)
        with self._lock:
            self._take_over()
            self.forget_old()
            self._go_on()

    def start(self, kind: str, words: str, arguments: Mapping[str, Any], about: str = "") -> Job:
        """Start a job, or let it wait for its turn.

        Parameters
        ----------
        kind : str
            One of :data:`discwright.desk.work.KINDS`.
        words : str
            What it does, for people.
        arguments : dict
            JSON values; paths are absolute.
        about : str
            What it belongs to.

        Raises
        ------
        CallError
            If it cannot be written down, or the desk is being closed.
        """
        with self._lock:
            if self._closed:
                raise CallError("the desk is being closed; open it again and start this once more.")
            id_, started = secrets.token_hex(8), datetime.now(UTC)
            place = self.folder / id_
            try:
                (place / OUT).mkdir(parents=True)
                write_json(
                    place / JOB,
                    {
                        "id": id_, "kind": kind, "words": words, "about": about, "arguments": dict(arguments),
                        "started": started.isoformat(timespec="microseconds"),
                    },
                )  # fmt: skip
            except OSError as trouble:
                shutil.rmtree(place, ignore_errors=True)
                raise CallError(f"{self.folder}: cannot be written ({trouble.strerror}); check the disk.") from None
            self._waiting.append(id_)
            self._go_on()
        self.forget_old()
        return self.get(id_)

    def get(self, id_: str) -> Job:
        """A job as it is now.

        Parameters
        ----------
        id_ : str

        Raises
        ------
        NoSuchJobError
        """
        job = self._read(id_) if _ID.fullmatch(id_) else None
        if job is None:
            raise NoSuchJobError("there is no such job, or no longer; look at the list of work.")
        return job

    def all(self) -> list[Job]:
        """Every job that is remembered, newest first."""
        found = [self._read(one.name) for one in self.folder.iterdir() if _ID.fullmatch(one.name)]
        return sorted((one for one in found if one is not None), key=lambda one: (one.started, one.id), reverse=True)

    def stop(self, id_: str) -> Job:
        """Stop a job: when this returns, nothing of it runs and nothing unfinished is left.

        Parameters
        ----------
        id_ : str

        Raises
        ------
        NoSuchJobError
        """
        with self._lock:
            self.get(id_)
            if id_ in self._waiting:
                self._waiting.remove(id_)
                self._end(id_, None, stopped=True)
            child = self._children.get(id_)
            if child is not None:
                self._asked.add(id_)
        if child is not None:
            # First the word to the child, then the note of it: a busy disk may keep that waiting for seconds.
            child.stop()
            self._ask(id_)
        return self.get(id_)

    def put_aside(self, id_: str) -> Job:
        """Take a job that has ended out of the lists; what came of it stays.

        Parameters
        ----------
        id_ : str

        Raises
        ------
        CallError
            If there is no such job, or it still goes on.
        """
        if not self.get(id_).ended:
            raise CallError("this work still goes on; stop it first.")
        with suppress(OSError):
            (self.folder / id_ / ASIDE).touch()
        with self._lock:
            self._ended.pop(id_, None)
        return self.get(id_)

    def close(self) -> None:
        """The desk goes down: stop everything, and start nothing more."""
        with self._lock:
            self._closed = True
            for id_ in self._waiting:
                self._end(id_, None, stopped=True)
            self._waiting.clear()
            children = dict(self._children)
            for id_ in children:
                self._ask(id_)
        stops = [Thread(target=child.stop) for child in children.values()]
        for one in stops:
            one.start()
        for one in stops:
            one.join()

    def forget_old(self) -> None:
        """Delete what is kept of jobs that ended long ago, and folders that hold no job."""
        now = datetime.now(UTC)
        with self._lock:
            ended = [one for one in self.all() if one.ended]
            old = ended[REMEMBERED:] + [one for one in ended[:REMEMBERED] if now - one.started > REMEMBERED_FOR]
            mine = {*self._waiting, *self._children}
            names = [one.name for one in self.folder.iterdir() if _ID.fullmatch(one.name)]
            broken = [name for name in names if name not in mine and self._read(name) is None]
            for id_ in [*(one.id for one in old), *broken]:
                shutil.rmtree(self.folder / id_, ignore_errors=True)
                self._ended.pop(id_, None)

    def _take_over(self) -> None:
        """What an earlier desk has left: children that run, jobs that waited, and the dead."""
        for job in reversed(self.all()):
            place = self.folder / job.id
            if (place / RESULT).exists() or (place / TROUBLE).exists():
                continue
            known = read_json(place / PROCESS)
            pid, born = known.get("pid"), known.get("born")
            if isinstance(pid, int) and born and birth(pid) == born:
                self._mind(job.id, Child(pid, str(born)))
            elif known or (place / STOP).exists():
                self._end(job.id, None, stopped=(place / STOP).exists())
            else:
                self._waiting.append(job.id)
        self._ended.clear()

    def _go_on(self) -> None:
        """Start those whose turn it is."""
        while self._waiting and len(self._children) < AT_ONCE and not self._closed:
            id_ = self._waiting.pop(0)
            try:
                self._launch(id_)
            except OSError as trouble:
                self._trouble(id_, f"it could not be started ({trouble.strerror}); close other programs and try again.")

    def _launch(self, id_: str) -> None:
        place = self.folder / id_
        (place / OUT).mkdir(exist_ok=True)
        child = Child.start(_PROGRAM, str(place), place / LOG, place / OUT)
        self._mind(id_, child)
        # Without it a later desk would not know the child; the child itself ends with this one all the same.
        with suppress(OSError):
            write_json(place / PROCESS, {"pid": child.pid, "born": child.born})

    def _mind(self, id_: str, child: Child) -> None:
        """Have somebody wait for a child's end."""

        def wait() -> None:
            code = child.wait()
            asked = id_ in self._asked or (self.folder / id_ / STOP).exists()
            self._end(id_, code, stopped=asked, ours=child.ours)
            with self._lock:
                del self._children[id_]
                self._go_on()
            child.settled.set()

        self._children[id_] = child
        Thread(target=wait, name=f"job {id_}", daemon=True).start()

    def _ask(self, id_: str) -> None:
        with suppress(OSError):
            (self.folder / id_ / STOP).touch()

    def _end(self, id_: str, code: int | None, stopped: bool, ours: bool = False) -> None:
        """Nothing unfinished stays, and a job without a result or a word of its child gets one from us."""
        place = self.folder / id_
        shutil.rmtree(place / OUT, ignore_errors=True)
        if (place / RESULT).exists() or (place / TROUBLE).exists():
            return
        if stopped:
            self._trouble(id_, "", "stopped")
        else:
            self._trouble(id_, _why(code, place) if ours else "it ended with the desk that ran it; start it again.")

    def _trouble(self, id_: str, sentence: str, state: str = "failed") -> None:
        with suppress(OSError):  # then it is found to have ended without a word
            write_json(self.folder / id_ / TROUBLE, {"state": state, "sentence": sentence})

    def _read(self, id_: str) -> Job | None:
        known = self._ended.get(id_)
        if known is not None:
            return known
        with self._lock:
            state = "waiting" if id_ in self._waiting else "running" if id_ in self._children else ""
        place = self.folder / id_
        try:
            asked = read_json(place / JOB)
            job = _job(place, asked, state)
        except (KeyError, TypeError, ValueError):
            return None
        if not state:
            self._ended[id_] = job
        return job


def _job(place: Path, asked: Mapping[str, Any], state: str) -> Job:
    """A job from its files; `state` is empty where its child has gone."""
    told = read_json(place / PROGRESS)
    done, left = told.get("done"), told.get("seconds_left")
    done = float(done) if isinstance(done, int | float) else 0.0
    left = float(left) if isinstance(left, int | float) and state == "running" else None
    result: Mapping[str, Any] = {}
    sentence = ""
    if not state:
        result, trouble = read_json(place / RESULT), read_json(place / TROUBLE)
        state = "done" if (place / RESULT).exists() else str(trouble.get("state", "failed"))
        sentence = str(trouble.get("sentence", "" if state == "done" else _why(None, place)))
        done = 1.0 if state == "done" else done
    return Job(
        id=place.name, kind=str(asked["kind"]), words=str(asked["words"]), about=str(asked["about"]),
        arguments=dict(asked["arguments"]), state=state, step=str(told.get("step", "")), done=done,
        seconds_left=left, sentence=sentence, result=result,
        started=datetime.fromisoformat(str(asked["started"])), aside=(place / ASIDE).exists(),
    )  # fmt: skip


def _why(code: int | None, place: Path) -> str:
    """A sentence for a child that went without a word."""
    if code is not None and code < 0:
        return (
            f"it was ended from outside (signal {-code}), perhaps for want of memory; close other programs and start "
            "it again."
        )
    log = Path(*(place / LOG).parts[-4:])  # from the opened folder on
    return f"it ended without a word; see {log}, and start it again."
