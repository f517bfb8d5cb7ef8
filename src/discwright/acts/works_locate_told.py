"""The search for a guilty part in sentences, and as plain JSON values."""

from __future__ import annotations

from typing import Any

from discwright.acts.works_locate import PartGuilt, SideGuilt, SpotGuilt, TitleGuilt, best, pays_to_play, played
from discwright.inspection.remaking import Choice, Way
from discwright.inspection.spots import Play

INDEPENDENT = "taken together as if the spots had nothing to do with each other"


def way_words(way: Way, parents: bool = True) -> str:
    """A way to a good stamper: ``grow a new mother from MA12-3, then a stamper``.

    Parameters
    ----------
    way : Way
    parents : bool
        Name the part it goes on from.
    """
    if not way.makes:
        return f"press from {way.start}"
    first, *rest = way.makes
    origin = f" from {way.start}" if way.start and parents else ""
    made = f"cut a new {first}" if not way.start else f"grow a new {first}{origin}"
    return ", then ".join([made, *(f"a {kind}" for kind in rest)])


def days_words(days: float) -> str:
    """``2.5 days``.

    Parameters
    ----------
    days : float
    """
    return "at once" if days == 0 else f"{days:.1f} day{'' if round(days, 1) == 1.0 else 's'}"


def advice(side: SideGuilt) -> str:
    """What is best done with a side, in a sentence.

    Parameters
    ----------
    side : SideGuilt
    """
    chosen = best(side)
    if chosen is None:
        return _nothing(side)
    act = f"{way_words(chosen.way)}: {_cost(chosen)}"
    if side.first is not None and pays_to_play(side):
        mean = f"{days_words(side.first.days)}, on the mean {side.first.expected_days:.1f} with what follows"
        return f"Play {side.first.part} first, for it would tell most: {mean}; without it, {act}."
    again = "another" if any(one.part == side.next_play for one in side.plays) else "a"
    tell = f"; {again} play of {side.next_play} would tell most" if side.next_play else ""
    return f"{_upper(act)}{tell}."


def _cost(chosen: Choice) -> str:
    if abs(chosen.expected_days - chosen.way.days) < 0.05:
        return days_words(chosen.way.days)
    return f"{days_words(chosen.way.days)}, on the mean {chosen.expected_days:.1f} with what follows where it fails"


def _nothing(side: SideGuilt) -> str:
    if side.spots:
        return "No play found a fault that is heard; nothing need be made again."
    if side.plays:
        return "No play found a fault; nothing need be made again."
    if side.placeless:
        return "Faults were heard and nobody said where; enter them with turn and angle."
    return "Nothing was played yet; play a mother or a pressing first."


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


# As JSON -----------------------------------------------------------------------------------------------


def guilt_as_dict(found: TitleGuilt, spot: dict[tuple[str, str], SpotGuilt] | None = None) -> dict[str, Any]:
    """What was found, as plain JSON values.

    Parameters
    ----------
    found : TitleGuilt
    spot : dict of (str, str) to SpotGuilt, optional
        Of each edition and side only this one.
    """
    sides = [
        _side(one, None if spot is None else spot[one.edition, one.side])
        for one in found.sides if spot is None or (one.edition, one.side) in spot
    ]  # fmt: skip
    return {"title": found.family.title, "name": found.family.name, "sides": sides}


def _side(side: SideGuilt, only: SpotGuilt | None) -> dict[str, Any]:
    spots = side.spots if only is None else (only,)
    return {
        "edition": side.edition,
        "side": side.side,
        "speed_rpm": round(side.disc.revolutions_per_second * 60.0, 6),
        "plays": [_play(one) for one in side.plays],
        "placeless_plays": side.placeless,
        "spots": [spot_as_dict(one) for one in spots],
        "parts": [part_as_dict(one) for one in side.parts],
        "next_play": side.next_play or None,
        "play_first": None
        if side.first is None
        else {
            "part": side.first.part,
            "days": side.first.days,
            "expected_days": side.first.expected_days,
            "pays": pays_to_play(side),
        },
        "choices": [_choice(one) for one in side.choices],
        "days": {kind: {"days": one.days, "measured": one.measured} for kind, one in side.paces.items()},
        "advice": advice(side),
        "assumption": f"probabilities of parts are {INDEPENDENT}",
    }


def _play(play: Play) -> dict[str, Any]:
    return {
        "seq": int(play.id),
        "part": play.part,
        "pressing": play.pressing or None,
        "at": play.at.partition("#")[0],
        "by_ear": play.by_ear,
        "whole": play.whole,
        "faults": len(play.faults),
    }


def spot_as_dict(one: SpotGuilt) -> dict[str, Any]:
    """A spot and who may be guilty of it.

    Parameters
    ----------
    one : SpotGuilt
    """
    spot, guilt = one.spot, one.guilt
    return {
        "number": one.number,
        "kind": spot.kind,
        "turn": spot.turn,
        "last_turn": spot.last_turn,
        "angle_deg": round(spot.angle_deg, 3),
        "radius_mm": spot.radius_mm,
        "size_db": spot.size_db,
        "audible": spot.audible,
        "heard": [int(play) for play in spot.heard],
        "missed": [int(play) for play in spot.missed],
        "posterior": guilt.posterior,
        "carries": guilt.carries,
        "none": guilt.none,
        "next_test": guilt.next_test or None,
        "expected_fall_bits": guilt.expected_fall_bits,
    }


def part_as_dict(one: PartGuilt) -> dict[str, Any]:
    """A part over all spots that are heard.

    Parameters
    ----------
    one : PartGuilt
    """
    return {
        "id": one.part.id,
        "kind": one.part.kind,
        "parent": one.part.parent or None,
        "heads": one.heads,
        "carries": one.carries,
        "word": one.word,
        "falls": list(one.falls),
        "remedy": way_as_dict(one.way),
    }


def way_as_dict(way: Way) -> dict[str, Any]:
    """A way to a good stamper.

    Parameters
    ----------
    way : Way
    """
    return {"start": way.start or None, "makes": list(way.makes), "days": way.days, "words": way_words(way)}


def _choice(one: Choice) -> dict[str, Any]:
    return way_as_dict(one.way) | {"sound": one.sound, "expected_days": one.expected_days}


def heard_of(side: SideGuilt, one: SpotGuilt) -> list[tuple[str, int, int]]:
    """Of each part or pressing that was played: in how many of how many plays it was heard.

    Parameters
    ----------
    side : SideGuilt
    one : SpotGuilt
    """
    told: dict[str, list[int]] = {}
    plays = {play.id: play for play in side.plays}
    for heard, names in ((1, one.spot.heard), (0, one.spot.missed)):
        for name in names:
            count = told.setdefault(played(plays[name]), [0, 0])
            count[0] += heard
            count[1] += 1
    return [(part, heard, of) for part, (heard, of) in told.items()]
