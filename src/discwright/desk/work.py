"""One job's child process: `python -m discwright.desk.work JOB_FOLDER`; see :mod:`discwright.desk.jobs` for the files.

Everything is made in the job's own `out` and put in its place at the very end, in one moment that no stop divides:
whatever stops a job before that, its folder is all there is of it.

Standard input is a pipe from the desk that nothing is ever written to. When it ends, the desk has gone.
"""

from __future__ import annotations

import errno
import hashlib
import os
import shutil
import signal
import sys
import time
import traceback
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from threading import Event, Thread
from types import FrameType
from typing import Any

from discwright.desk.children import GRACE_S
from discwright.desk.expected import stages_of
from discwright.desk.forecast import Forecast, Paces
from discwright.desk.jobs import JOB, LOG, OUT, PROGRESS, RESULT, TROUBLE, read_json, write_json
from discwright.errors import CallError, DiscwrightError
from discwright.files.plans import PLAN

Tell = Callable[[str, float], None]

#: Lets the desk's answers go first.
NICE = 5
#: Progress is written so often, s.
PROGRESS_S = 0.25
#: What every plan of the desk gets besides the plan itself; what is large is made when it is asked for.
SMALL_FILES = ("sheet", "svg", "gcode")
#: What this machine has learned about its own pace, beside the jobs.
PACES = "paces.json"
#: Exit code of a job that was stopped.
_STOPPED = 130


@dataclass(frozen=True)
class Move:
    """A finished folder and where it goes.

    Attributes
    ----------
    made, place : pathlib.Path
    taken : str
        What to do where something lies there already: ``"next"``, take the name with -2, -3 … after it; ``"refuse"``,
        let it be and say so; ``"replace"``, put this in the place of what is of no use any more.
    """

    made: Path
    place: Path
    taken: str = "refuse"


@dataclass
class Made:
    """What a job came to.

    Attributes
    ----------
    result : dict
        JSON values.
    moves : list of Move
    names : str
        Key of the result that tells the names the moved folders got; none where it is empty.
    """

    result: dict[str, Any] = field(default_factory=dict)
    moves: list[Move] = field(default_factory=list)
    names: str = ""


def plan(arguments: Mapping[str, Any], place: Path, tell: Tell) -> Made:
    """Plan sides of a title and make them ready to be looked at.

    Parameters
    ----------
    arguments : dict
        `title_file`; `edition` and `side`, null for all; `out`, the folder the plans go to; `cache`, where what is made
        for looking is kept.
    place : pathlib.Path
        For everything unfinished.
    tell : callable
        Called with a step's name and the fraction of it done.
    """
    from discwright.acts.title import Choice, plan_title

    choice = Choice(edition=arguments.get("edition"), side=arguments.get("side"))
    reports = plan_title(arguments["title_file"], choice, out=place / "plans", only=SMALL_FILES, progress=tell)
    folders = [one.folder for one in reports if one.folder is not None]
    out = Path(arguments["out"])
    moves = [Move(one, out / one.name, "next") for one in folders]
    return Made({}, [*_ready_to_look(folders, arguments, place, tell), *moves], "plans")


def layout(arguments: Mapping[str, Any], place: Path, tell: Tell) -> Made:
    """Find the best sides of an edition of a title, or of all: `title_file`, `edition`."""
    from discwright.acts.layout import layout as lay_out

    path = Path(arguments["title_file"])
    sha256 = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""
    report = lay_out(path, edition=arguments.get("edition"), progress=tell)
    return Made(report.as_dict() | {"sha256": sha256})


def what_if(arguments: Mapping[str, Any], place: Path, tell: Tell) -> Made:
    """Plan a kept side again with something otherwise: `folder`, `changes`, `out`, `cache`."""
    from discwright.acts.what_if import Changes
    from discwright.acts.what_if import what_if as plan_again

    changes = Changes.from_plain(arguments.get("changes", {}))
    tell("opening the plan", 0.0)
    made = place / "plan"
    plan_again(arguments["folder"], changes, out=made, only=SMALL_FILES, progress=tell)
    out = Path(arguments["out"])
    return Made({"plan": out.name}, [*_ready_to_look([made], arguments, place, tell), Move(made, out)])


def ladder(arguments: Mapping[str, Any], place: Path, tell: Tell) -> Made:
    """Find the limits of a kept side and what each level costs: as a what-if that changes nothing else."""
    changes = dict(arguments.get("changes", {})) | {"ladder": True}
    return what_if(dict(arguments) | {"changes": changes}, place, tell)


def make(arguments: Mapping[str, Any], place: Path, tell: Tell) -> Made:
    """Write a file that a kept plan's folder lacks: `folder`, `name`."""
    from discwright.acts.what_if import make_file

    tell("opening the plan", 0.0)
    written = make_file(arguments["folder"], arguments["name"], tell, place)
    return Made({"files": [one.name for one in written]})


def prepare(arguments: Mapping[str, Any], place: Path, tell: Tell) -> Made:
    """Make a kept plan ready to be looked at and heard: `folder`, `cache`, the very place."""
    from discwright.acts.look import prepare as make_ready
    from discwright.acts.look import read_prepared

    tell("opening the plan", 0.0)
    made, goal = place / "cache", Path(arguments["cache"])
    if read_prepared(goal) is not None:
        return Made()
    make_ready(Path(arguments["folder"]), made, tell)
    return Made(moves=[Move(made, goal, "replace")])


def play(arguments: Mapping[str, Any], place: Path, tell: Tell) -> Made:
    """Hold a capture against a kept plan: `capture`, `plan`, `tip`, `out`."""
    from discwright.desk.work_inspect import inspect_into

    result, made, goal = inspect_into(arguments, place, tell)
    return Made(result, [Move(made, goal, "replace")])


Kind = Callable[[Mapping[str, Any], Path, Tell], Made]
KINDS: dict[str, Kind] = {
    "plan": plan, "layout": layout, "what_if": what_if, "ladder": ladder, "make": make, "prepare": prepare,
    "play": play,
}  # fmt: skip


def _ready_to_look(folders: list[Path], arguments: Mapping[str, Any], place: Path, tell: Tell) -> list[Move]:
    """What looking at new plans needs; a plan is as good without, so what goes wrong here only goes to the log."""
    moves: list[Move] = []
    for folder in folders if arguments.get("cache") else ():
        tell("opening the plan", 0.0)
        try:
            from discwright.acts.look import prepare as make_ready
            from discwright.acts.look import read_prepared
            from discwright.desk.shelf import KeptPlan

            key = KeptPlan("", folder, read_json(folder / PLAN), datetime.now(UTC)).cache_key
            made, goal = place / "cache" / key, Path(arguments["cache"]) / key
            if read_prepared(goal) is None:
                make_ready(folder, made, tell)
                moves.append(Move(made, goal, "replace"))
        except Exception:
            traceback.print_exc()
    return moves


def put_in_place(moves: Sequence[Move]) -> list[Path]:
    """Put finished folders where they belong: all, or none of them.

    Parameters
    ----------
    moves : sequence of Move

    Returns
    -------
    list of pathlib.Path
        Where each has got to.

    Raises
    ------
    CallError
        If a place is taken or cannot be written.
    """
    done: list[Path] = []
    try:
        for one in moves:
            place = _moved(one)
            done.append(place)
    except OSError as trouble:
        for one, place in zip(moves, done, strict=False):
            with suppress(OSError):
                place.rename(one.made)
        failed = moves[len(done)].place
        raise CallError(f"{failed}: cannot be written ({trouble.strerror}); check folder and disk.") from None
    return done


def _moved(move: Move) -> Path:
    """One folder put in its place, in one step: a folder that holds something is never written over."""
    move.place.parent.mkdir(parents=True, exist_ok=True)
    if move.taken == "replace":
        shutil.rmtree(move.place, ignore_errors=True)
    place, number = move.place, 1
    while True:
        try:
            if place.is_symlink():
                raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))
            _rename(move.made, place)
            return place
        except OSError as trouble:
            if move.taken != "next" or trouble.errno not in (errno.EEXIST, errno.ENOTEMPTY, errno.ENOTDIR):
                raise
        number += 1
        place = move.place.with_name(f"{move.place.name}-{number}")


def _rename(made: Path, place: Path) -> None:
    """Also to another disk, where the folder is first brought beside its place."""
    try:
        made.rename(place)
    except OSError as trouble:
        if trouble.errno != errno.EXDEV:
            raise
        part = place.with_name(f".{place.name}.part")
        try:
            shutil.copytree(made, part)
            part.rename(place)
        finally:
            shutil.rmtree(part, ignore_errors=True)


class Asked:
    """Whether the job was asked to stop; an interrupt that a library swallows is not lost."""

    def __init__(self) -> None:
        self.stop = Event()
        self._deaf = False

    def listen(self) -> None:
        """Take interrupts, whatever whoever started the desk thinks of them."""
        signal.signal(signal.SIGINT, self._press)

    def check(self) -> None:
        """Stop now if it was asked for and nobody stopped.

        Raises
        ------
        KeyboardInterrupt
        """
        if self.stop.is_set():
            raise KeyboardInterrupt

    def no_more(self) -> None:
        """From here on the job cannot be stopped: what it has made is being put in its place.

        Raises
        ------
        KeyboardInterrupt
            If it was asked for just before.
        """
        self._deaf = True
        self.check()

    def _press(self, _number: int, _frame: FrameType | None) -> None:
        if not self._deaf and not self.stop.is_set():
            self.stop.set()
            raise KeyboardInterrupt


def main() -> int:
    """Do the job whose folder is named on the command line.

    Returns
    -------
    int
        Exit code.
    """
    place, asked = Path(sys.argv[1]), Asked()
    asked.listen()
    os.nice(NICE)
    Thread(target=_follow, args=(place,), daemon=True).start()
    order = read_json(place / JOB)
    try:
        _do(place, str(order["kind"]), order["arguments"], asked)
    except KeyboardInterrupt:
        shutil.rmtree(place / OUT, ignore_errors=True)  # the desk does it too, if it is still there
        return _STOPPED
    except Exception as trouble:
        if asked.stop.is_set():  # extension modules report an interrupt as a failed import
            return _STOPPED
        sentence = _sentence(trouble, place, str(order.get("words", "the job")))
        write_json(place / TROUBLE, {"state": "failed", "sentence": sentence})
        return 1
    return 0


def _do(place: Path, kind: str, arguments: Mapping[str, Any], asked: Asked) -> None:
    paces = Paces.read(place.parent.parent / PACES)
    try:
        forecast = Forecast(stages_of(kind, arguments), paces)
    except (DiscwrightError, OSError, KeyError, TypeError, ValueError):  # the act will say it better
        forecast = Forecast((), paces)
    if kind not in KINDS:
        raise CallError(f"there is no work called “{kind}”; choose from {', '.join(KINDS)}.")

    def tell(step: str, done: float) -> None:
        asked.check()
        forecast.tell(step, done)

    ended = Event()
    writer = Thread(target=_write_progress, args=(place, forecast, ended), daemon=True)
    writer.start()
    try:
        made = KINDS[kind](arguments, place / OUT, tell)
    finally:
        ended.set()
        writer.join()
    asked.no_more()
    places = put_in_place(made.moves)
    if made.names:
        names = [one.name for one, move in zip(places, made.moves, strict=True) if move.taken == "next"]
        made.result[made.names] = names
    write_json(place / RESULT, made.result)
    with suppress(OSError):
        forecast.finish().write(place.parent.parent / PACES)


def _write_progress(place: Path, forecast: Forecast, ended: Event) -> None:
    while True:
        now = forecast.look()
        left = None if now.seconds_left is None else round(now.seconds_left, 1)
        with suppress(OSError):
            write_json(place / PROGRESS, {"step": now.step, "done": round(now.done, 4), "seconds_left": left})
        if ended.wait(PROGRESS_S):
            return


def _sentence(trouble: Exception, place: Path, words: str) -> str:
    """What a person is told; of trouble that is none of ours, the log keeps everything."""
    if isinstance(trouble, DiscwrightError):
        return str(trouble).replace("\n", " ")
    traceback.print_exc()
    if isinstance(trouble, MemoryError):
        return "there was not memory enough; close other programs and start it again."
    return f"something went wrong inside “{words}” ({type(trouble).__name__}); see {place / LOG}, and report it."


def _follow(place: Path) -> None:
    """Wait for the desk to go; then stop, as it would have had us stopped."""
    with suppress(OSError):
        while os.read(0, 1):
            pass
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(GRACE_S)
    shutil.rmtree(place / OUT, ignore_errors=True)
    if os.getpgrp() == os.getpid():
        os.killpg(os.getpid(), signal.SIGKILL)
    os._exit(_STOPPED)


if __name__ == "__main__":
    raise SystemExit(main())
