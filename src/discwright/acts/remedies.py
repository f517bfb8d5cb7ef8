"""What a finding offers to try: its remedy as changes for a what-if, with decibels from the physics of its sentence.

A remedy that no change of level, equipment or treatment can express has no offer: mend a click, set a value in the
practice's own file, move a band outward. Where a treble limit works, a lower level makes it work less, and what it
held down falls by fewer decibels than the level: there no offer counts them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from discwright.acts.changes import Changes
from discwright.files.compare import setup_from_plan
from discwright.files.settings import shipped
from discwright.groove.equipment import PlayingTip, Setup
from discwright.groove.grid import lay_grid
from discwright.groove.heard import WIDER, contact_width
from discwright.groove.limits import down
from discwright.groove.rows import silent_radius_used
from discwright.plan import LEVEL_RANGE_DB
from discwright.programme.title import Treatment


@dataclass(frozen=True)
class Offer:
    """Something that can be tried.

    Attributes
    ----------
    words : str
        What it would do.
    changes : Changes
    """

    words: str
    changes: Changes


#: Where a sentence names no decibels, only a spiral tells how many are enough.
_FIT = Offer("Look for the highest level that nothing stops", Changes(fit="cut"))


def remedy(finding: Mapping[str, Any], document: Mapping[str, Any]) -> Offer | None:
    """What can be tried against a finding of a plan, or of a proof of it.

    Parameters
    ----------
    finding : dict
        As it stands in `plan.json`.
    document : dict
        The plan: what its `plan.json` holds.

    Returns
    -------
    Offer or None
        None where nothing that can be tried would cure it.

    Raises
    ------
    SettingsError
        If the plan's settings are no whole setup.
    """
    offer = _OFFERS.get(str(finding["code"]))
    return None if offer is None else offer(finding, document)


def _slope(finding: Mapping[str, Any], document: Mapping[str, Any]) -> Offer | None:
    """The edge's velocity goes with the level, and so does the tangent of its angle."""
    if _limited_db(document) > 0:
        return _FIT
    value, limit = (math.tan(math.radians(finding[key])) for key in ("value", "limit"))
    return _lower(value / limit, document)


def _head(finding: Mapping[str, Any], document: Mapping[str, Any]) -> Offer | None:
    """Velocity, acceleration and the root of heat go with the level."""
    if _limited_db(document) > 0:
        return _FIT
    return _lower(finding["value"] / finding["limit"], document)


def _sibilance(finding: Mapping[str, Any], document: Mapping[str, Any]) -> Offer | None:
    """A burst goes with the level; one that a limit lowers is held against the reach of a finer tip as it was before.

    A treble limit is no cure itself: it acts on peaks, and a burst, judged by its energy, may splatter far within
    the tip's reach.
    """
    ratio, limited_db = finding["value"] / finding["limit"], _limited_db(document)
    if limited_db > 0:
        own = document["settings"]["tip"]["side_radius_um"]
        return _finer(document, own / (ratio * 10.0 ** (limited_db / 20.0)))
    return _lower(ratio, document)


def _depth(finding: Mapping[str, Any], document: Mapping[str, Any]) -> Offer | None:
    """What lies below the least depth goes with the level; a groove too narrow says nothing of how much it lacks."""
    least, greatest = (document["settings"]["practice"][key] for key in ("depth_min_um", "depth_max_um"))
    if finding["value"] <= greatest:
        return _FIT
    return _lower((finding["value"] - least) / (greatest - least), document)


def _radius(finding: Mapping[str, Any], document: Mapping[str, Any]) -> Offer | None:
    """The radius used is a convex function of gain: the chord to silence asks for enough."""
    setup = setup_from_plan(document)
    silent = setup.disc.outermost_radius - _silent_radius_used(document, setup)
    limit, end = finding["limit"] * 1e-3, finding["value"] * 1e-3
    if silent < limit:
        return None  # too long at any level
    return _lower((silent - end) / max(silent - limit, 1e-9), document)


def _silent_radius_used(document: Mapping[str, Any], setup: Setup) -> float:
    bands = [(one["start_s"], one["end_s"]) for one in document["settings"]["bands"]]
    joins = tuple((end, start) for (_, end), (start, _) in pairwise(bands))
    programme = document["programme"]
    duration = programme["frames"] / programme["sample_rate_hz"]
    grid = lay_grid(duration, setup.disc.turn_time, setup.lathe.sectors_per_turn, joins)
    return silent_radius_used(grid, setup)


def _curvature(_finding: Mapping[str, Any], document: Mapping[str, Any]) -> Offer | None:
    tip = document["settings"]["tip"]["name"]
    if any(one["kind"] == "treble_limit" for one in _treatments(document)):
        return _finer(document, document["settings"]["tip"]["side_radius_um"])
    wanted = (*_as_treatments(document), Treatment("treble_limit"))
    return Offer(f"Limit the treble where the {tip} tip cannot follow", Changes(treatments=wanted))


def _vertical_bass(finding: Mapping[str, Any], document: Mapping[str, Any]) -> Offer | None:
    """The blend the sentence names, in the place of a lower one."""
    named = re.search(r"below (\d+) Hz", str(finding["remedy"]))
    there = [one for one in _as_treatments(document) if one.kind == "bass_blend"]
    if named is None or any((one.below or 0.0) >= float(named[1]) for one in there):
        return None
    others = tuple(one for one in _as_treatments(document) if one.kind != "bass_blend")
    wanted = (Treatment("bass_blend", below=float(named[1])), *others)
    return Offer(f"Blend the bass to lateral below {named[1]} Hz", Changes(treatments=wanted))


def _heard_distortion(finding: Mapping[str, Any], document: Mapping[str, Any]) -> Offer | None:
    """Distortion goes with the tip's side radius and with the level, to first order."""
    ratio = finding["value"] / finding["limit"]
    return _finer(document, _played(finding, document).side_radius * 1e6 / ratio) or _lower(ratio, document)


def _heard_treble(finding: Mapping[str, Any], document: Mapping[str, Any]) -> Offer | None:
    """How much finer it must be, only another proof tells: the next one."""
    return _finer(document, _played(finding, document).side_radius * 1e6)


def _heard_width(finding: Mapping[str, Any], document: Mapping[str, Any]) -> Offer | None:
    """A tip that fits into the narrowest groove."""
    narrowest = finding["limit"] * 1e-6
    fitting = [one for one in shipped(PlayingTip).values() if contact_width(one) <= WIDER * narrowest]
    return _play_with(max(fitting, key=lambda one: one.radius)) if fitting else None


_OFFERS: dict[str, Callable[[Mapping[str, Any], Mapping[str, Any]], Offer | None]] = {
    "radius": _radius,
    "slope": _slope,
    "head_velocity": _head,
    "head_acceleration": _head,
    "head_heat": _head,
    "depth": _depth,
    "land": lambda _finding, _document: _FIT,
    "curvature": _curvature,
    "sibilance": _sibilance,
    "vertical_bass": _vertical_bass,
    "heard_distortion": _heard_distortion,
    "heard_treble": _heard_treble,
    "heard_width": _heard_width,
}


def _lower(ratio: float, document: Mapping[str, Any]) -> Offer | None:
    """So many decibels less as the sentence says: to the next tenth, so that they are enough."""
    if not math.isfinite(ratio) or ratio <= 0:
        return None
    step = down(ratio)
    level_db = round(document["level_db"] - float(step), 6)
    if level_db < LEVEL_RANGE_DB[0]:
        return None
    return Offer(f"Lower the side {step} dB, to {level_db + 0.0:+.1f} dB", Changes(level_db=level_db))


def _limited_db(document: Mapping[str, Any]) -> float:
    """The most by which a treble limit lowered anything on the side, dB; 0 where there is none."""
    reports = document.get("treatments", ())
    return max((one["greatest_db"] or 0.0 for one in reports if one["kind"] == "treble_limit"), default=0.0)


def _played(finding: Mapping[str, Any], document: Mapping[str, Any]) -> PlayingTip:
    """The tip of a proof's finding, which names it; the plan's own where it is none of the shipped."""
    tips = shipped(PlayingTip)
    words = re.match(r"(?:With )?([\w.-]+)", str(finding["remedy"]))
    return tips.get(words[1] if words else "") or setup_from_plan(document).tip


def _finer(document: Mapping[str, Any], side_radius_um: float) -> Offer | None:
    """The coarsest shipped tip that is finer than the plan's own and no coarser than asked for."""
    own = document["settings"]["tip"]["side_radius_um"]
    most = min(side_radius_um, own)
    known = shipped(PlayingTip).values()
    finer = [one for one in known if one.side_radius * 1e6 <= most + 1e-9 and one.side_radius * 1e6 < own - 1e-9]
    return _play_with(max(finer, key=lambda one: one.side_radius)) if finer else None


def _play_with(tip: PlayingTip) -> Offer:
    return Offer(f"Play it with {tip.name}", Changes(tip=tip.name))


def _treatments(document: Mapping[str, Any]) -> list[dict[str, Any]]:
    return list(document["settings"].get("treatments", ()))


def _as_treatments(document: Mapping[str, Any]) -> tuple[Treatment, ...]:
    return tuple(Treatment(one["kind"], one.get("below_hz"), one.get("above_hz")) for one in _treatments(document))
