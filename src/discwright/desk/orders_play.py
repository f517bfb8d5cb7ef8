"""Plays that a person asks for: a capture that has arrived, held against the plan its part was cut from."""

from __future__ import annotations

from discwright.desk.jobs import Job
from discwright.desk.listening import check_shipped_name
from discwright.desk.plays import About, Play
from discwright.desk.shelf import KeptPlan, Shelf
from discwright.desk.state import OpenFolder
from discwright.errors import CallError
from discwright.works.family import Family, Part
from discwright.works.parts import MASTER, STAMPER

#: Letters of the name of a pressing.
_MOST_LETTERS = 100


def plan_of_part(shelf: Shelf, family: Family, part: Part) -> KeptPlan | None:
    """The plan a part's lacquer was cut from, where the folder holds it; of several alike the newest.

    Parameters
    ----------
    shelf : Shelf
    family : Family
    part : Part
    """
    return plan_with(shelf, family.lacquer(part).fingerprint)


def plan_with(shelf: Shelf, fingerprint: str) -> KeptPlan | None:
    """The plan with a fingerprint, kept ones before what-ifs and then the newest; None where the folder has none.

    Parameters
    ----------
    shelf : Shelf
    fingerprint : str
    """
    fits = [one for one in shelf.found().plans.values() if fingerprint and one.document["fingerprint"] == fingerprint]
    return max(fits, key=lambda one: (not one.what_if, one.made), default=None)


def no_play_words(shelf: Shelf | None, family: Family, part: Part) -> str:
    """Why a part cannot be played against the programme here; empty where it can.

    Parameters
    ----------
    shelf : Shelf or None
        None where no folder is open.
    family : Family
    part : Part
    """
    if part.kind == MASTER:
        return "A master is a negative and no disc to play; play one of its mothers."
    if shelf is None:
        return "No folder is open that could hold the plan it was cut from; start the desk with that folder."
    if plan_of_part(shelf, family, part) is None:
        return "The plan it was cut from is not in this folder; open the folder that holds it."
    return ""


def begin_play(
    folder: OpenFolder, family: Family, part: Part, upload: str, *, tip: str, pressing: str, by: str, at: str
) -> tuple[Play, Job]:
    """Take a capture that has arrived out of the uploads, and inspect it.

    Parameters
    ----------
    folder : OpenFolder
    family : Family
    part : Part
        A lacquer or a mother, or the stamper of a pressing that was played.
    upload : str
        Its id; checked to its end.
    tip : str
        Playing tip of the proof; the plan's own where it is empty.
    pressing : str
        Which pressing was played.
    by, at : str
        Who sent it, and when.

    Raises
    ------
    CallError
        If the part cannot be played here, the upload is not ready, or the folder cannot be written.
    """
    why = no_play_words(folder.shelf, family, part)
    if why:
        raise CallError(why)
    plan = plan_of_part(folder.shelf, family, part)
    assert plan is not None
    check_shipped_name(tip or None, plan.document["settings"])
    fingerprint = str(plan.document["fingerprint"])
    pressed = pressing.strip()[:_MOST_LETTERS] if part.kind == STAMPER else ""
    with folder.uploads.taking([upload]) as (capture,):
        about = About(
            part.id, family.title, part.edition, part.side, fingerprint, tip, pressed, capture.name, by, at
        )  # fmt: skip
        play = folder.plays.begin(about, capture)
    return play, order_play(folder, play, tip)


def order_play(folder: OpenFolder, play: Play, tip: str) -> Job:
    """Inspect a play whose capture lies here: for the first time, or once more.

    Parameters
    ----------
    folder : OpenFolder
    play : Play
    tip : str
        Playing tip of the proof; the plan's own where it is empty.

    Raises
    ------
    CallError
        If it was kept, its capture or its plan is not here, or it is being inspected.
    """
    going = job_of(folder, play)
    if going is not None and not going.ended:
        return going
    if play.kept:
        raise CallError("this play stands in the ledger as it is; send the capture again to inspect it anew.")
    capture, plan = play.capture, plan_with(folder.shelf, play.about.fingerprint)
    if capture is None:
        raise CallError("the capture lies here no more; send it again on the page of its part.")
    if plan is None:
        raise CallError("the plan it was cut from is not in this folder; open the folder that holds it.")
    check_shipped_name(tip or None, plan.document["settings"])
    arguments = {"capture": str(capture), "plan": str(plan.folder), "tip": tip or None, "out": str(play.result)}
    job = folder.jobs.start("play", f"play {play.about.part} against the programme", arguments, play.about.part)
    folder.plays.note_job(play, job.id, tip)
    return job


def job_of(folder: OpenFolder, play: Play) -> Job | None:
    """The job that inspects a play, or did last; None where it is forgotten.

    Parameters
    ----------
    folder : OpenFolder
    play : Play
    """
    return next((one for one in folder.jobs.all() if one.id == play.about.job), None)
