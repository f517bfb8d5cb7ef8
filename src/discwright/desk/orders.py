"""Long work that a person can ask for, the same from a page and from the API."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from discwright.acts.look import read_prepared
from discwright.acts.what_if import Changes, missing_files
from discwright.desk.jobs import Job
from discwright.desk.listening import check_shipped_name
from discwright.desk.shelf import KeptPlan, KeptTitle
from discwright.desk.state import OpenFolder
from discwright.errors import CallError
from discwright.files.compare import setup_from_plan
from discwright.programme.title import TAPE, Edition, Title
from discwright.units import number

#: Fields of the what-if form that name equipment.
NAMES = ("format", "lathe", "head", "cutting_tip", "tip", "practice")
#: Fields that hold the corner of a treatment, and its key in plain form.
CORNERS = {"bass_blend_hz": "below_hz", "low_cut_hz": "below_hz", "high_cut_hz": "above_hz"}
_BUSY = ("waiting", "running")


def order_plan(folder: OpenFolder, kept: KeptTitle, edition: str, side: str) -> Job:
    """Plan a side, an edition, or everything on disc.

    Parameters
    ----------
    folder : OpenFolder
    kept : KeptTitle
    edition, side : str
        Empty for all.

    Raises
    ------
    CallError
    """
    title = _readable(kept)
    chosen = _edition(title, edition) if edition else None
    if chosen is not None and chosen.format == TAPE:
        raise CallError("a tape has no side to cut; choose a disc.")
    if side and chosen is not None and chosen.sides and side not in [one.letter for one in chosen.sides]:
        raise CallError("this edition has no such side; choose one of those shown.")
    what = f"{edition} side {side}" if side else f"all sides of {edition}" if edition else "all sides"
    arguments = {
        "title_file": str(kept.path),
        "edition": edition or None,
        "side": side or None,
        "out": str(kept.path.parent),
        "cache": str(folder.shelf.own / "cache"),
    }
    return _once(folder, "plan", f"plan {what}", arguments, kept.id)


def order_layout(folder: OpenFolder, kept: KeptTitle, edition: str) -> Job:
    """Find the best sides of an edition, or of all.

    Raises
    ------
    CallError
    """
    title = _readable(kept)
    chosen = [_edition(title, edition)] if edition else list(title.editions)
    arguments = {
        "title_file": str(kept.path),
        "edition": edition or None,
        "keys": {one.id: layout_key(title, one) for one in chosen},
    }
    return _once(folder, "layout", f"lay out {edition or 'every edition'}", arguments, kept.id)


def layout_key(title: Title, edition: Edition) -> str:
    """Everything a layout hangs on: the same as long as bands and edition are, whatever sides are fixed.

    Parameters
    ----------
    title : Title
    edition : Edition
    """
    bands = tuple(replace(one, line=0) for one in title.bands)
    return hashlib.sha256(repr((bands, replace(edition, sides=()))).encode("utf-8", "backslashreplace")).hexdigest()


def layouts_of(folder: OpenFolder, kept: KeptTitle) -> dict[str, Mapping[str, Any]]:
    """The newest layout of each edition that still holds."""
    found: dict[str, Mapping[str, Any]] = {}
    title = kept.title
    if title is None:
        return found
    keys = {one.id: layout_key(title, one) for one in title.editions}
    for job in folder.jobs.all():
        if job.kind != "layout" or job.about != kept.id or job.state != "done":
            continue
        asked = job.arguments.get("keys", {})
        for one in job.result.get("editions", ()):
            if asked.get(one["id"]) == keys.get(one["id"], ""):
                found.setdefault(one["id"], one)
    return found


def order_what_if(folder: OpenFolder, plan: KeptPlan, changes: Changes) -> Job:
    """Plan a side again with something otherwise, beside the old plan.

    Raises
    ------
    CallError
    """
    for name in NAMES:
        check_shipped_name(getattr(changes, name), plan.document["settings"])
    changes.applied(setup_from_plan(plan.document))  # refuses at once what the job would refuse later
    out = folder.shelf.new_what_if(plan)
    arguments = {"folder": str(plan.folder), "changes": changes.as_plain(), "out": str(out)}
    arguments["cache"] = str(folder.shelf.own / "cache")
    kind, words = ("ladder", "find the ladder of") if changes.ladder else ("what_if", "what if:")
    return folder.jobs.start(kind, f"{words} {plan.name}", arguments, plan.base or plan.id)


def order_file(folder: OpenFolder, plan: KeptPlan, name: str) -> Job:
    """Make a file that a kept plan lacks.

    Raises
    ------
    CallError
    """
    if name not in missing_files(plan.document, plan.folder):
        raise CallError("this file is there already or cannot be made of this plan; look at the list of files.")
    return _once(folder, "make", f"write {name} of {plan.name}", {"folder": str(plan.folder), "name": name}, plan.id)


def order_preparation(folder: OpenFolder, plan: KeptPlan, again: bool = False) -> Job | None:
    """Make a plan ready to be looked at and heard; None where it is.

    Parameters
    ----------
    folder : OpenFolder
    plan : KeptPlan
    again : bool
        Also where that failed or was stopped before.
    """
    cache = folder.shelf.cache(plan)
    if read_prepared(cache) is not None:
        return None
    arguments = {"folder": str(plan.folder), "cache": str(cache)}
    known = _last(folder, "prepare", arguments, plan.id)
    over = () if again else ("failed", "stopped")
    if known is not None and known.state in (*_BUSY, *over):
        return known
    return folder.jobs.start("prepare", f"make {plan.name} ready to be looked at and heard", arguments, plan.id)


def changes_of(fields: Mapping[str, str], plan: KeptPlan) -> Changes:
    """What the what-if form asks for.

    Parameters
    ----------
    fields : mapping of str to str
        As the form sends them; what is empty or missing stays as the plan was made. Treatments stay if none of their
        fields is there; if one is, an empty corner means none of that kind.
    plan : KeptPlan

    Raises
    ------
    CallError
    """
    plain: dict[str, Any] = {key: fields[key] for key in NAMES if fields.get(key)}
    wanted = fields.get("level", "fixed")
    if wanted in ("cut", "clean"):
        plain["fit"] = wanted
    elif wanted == "fixed" and fields.get("level_db"):
        plain["level_db"] = number(fields["level_db"], "level")
    elif wanted != "fixed":
        raise CallError("the level is either this level, the highest that cuts, or the highest that plays; choose one.")
    if not any(key in fields for key in (*CORNERS, "treble_limit")):
        return Changes.from_plain(plain)
    treatments: list[dict[str, Any]] = []
    for key, corner in CORNERS.items():
        if fields.get(key):
            words = key.removesuffix("_hz").replace("_", " ")
            treatments.append({"kind": key.removesuffix("_hz"), corner: number(fields[key], words)})
    if fields.get("treble_limit"):
        treatments.append({"kind": "treble_limit"})
    if _same_treatments(treatments, plan.document["settings"].get("treatments", [])):
        return Changes.from_plain(plain)
    return Changes.from_plain(plain | {"treatments": treatments})


def _same_treatments(new: list[dict[str, Any]], old: list[dict[str, Any]]) -> bool:
    def key(one: Mapping[str, Any]) -> str:
        return str(one["kind"])

    return sorted(new, key=key) == sorted(old, key=key)


def _readable(kept: KeptTitle) -> Title:
    if kept.title is None:
        raise CallError("the title file has faults; mend those named on the title's page first.")
    return kept.title


def _edition(title: Title, id_: str) -> Edition:
    for one in title.editions:
        if one.id == id_:
            return one
    raise CallError("this title has no such edition, or no longer; look at its page again.")


def _last(folder: OpenFolder, kind: str, arguments: Mapping[str, Any], about: str) -> Job | None:
    same = (one for one in folder.jobs.all() if (one.kind, one.about) == (kind, about) and one.arguments == arguments)
    return next(same, None)


def _once(folder: OpenFolder, kind: str, words: str, arguments: dict[str, Any], about: str) -> Job:
    """Start it, or find that it is being done: a button pressed twice, or in two tabs."""
    known = _last(folder, kind, arguments, about)
    if known is not None and known.state in _BUSY:
        return known
    return folder.jobs.start(kind, words, arguments, about)
