"""Stations of a works: which steps are taken where. What a person may do there besides, her roles say."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.works.events import EVENTS
from discwright.works.family import Family, Part
from discwright.works.possible import GROW, expected

#: Done to a part anywhere.
_ANYWHERE = ("handed_over", "vaulted", "scrapped")


@dataclass(frozen=True)
class Station:
    """A place where parts are worked on.

    Attributes
    ----------
    id, words : str
    kinds : tuple of str
        Names of the events that happen there; `plated` stands for growing too.
    """

    id: str
    words: str
    kinds: tuple[str, ...]


STATIONS = {
    one.id: one
    for one in (
        Station("cutting", "cutting", ("checked_under_the_microscope", *_ANYWHERE)),
        Station(
            "plating", "plating",
            ("checked_under_the_microscope", "silvered", "plated", "separated", "passivated", "weighed", "measured",
             *_ANYWHERE),
        ),
        Station(
            "finishing", "finishing", ("back_sanded", "centred", "trimmed", "formed", "weighed", "measured", *_ANYWHERE)
        ),
        Station(
            "listening", "listening",
            ("test_played", "approved", "refused", "recalled", "checked_under_the_microscope", *_ANYWHERE),
        ),
        Station("press", "press", ("put_to_press", "taken_off", "centred", "trimmed", "formed", *_ANYWHERE)),
        Station("packing", "packing and vault", _ANYWHERE),
        Station("anywhere", "anywhere", tuple(EVENTS)),
    )
}  # fmt: skip
DEFAULT = "anywhere"
#: Stations that a part is sent to, in the order in which they are looked through.
_WHERE = ("cutting", "plating", "finishing", "listening", "press", "packing")


def station(id_: str) -> Station:
    """A station by its id; the one for everything where there is none of it."""
    return STATIONS.get(id_, STATIONS[DEFAULT])


def place_of(kind: str) -> Station:
    """Where a step is taken.

    Parameters
    ----------
    kind : str
        Name of an event, or :data:`discwright.works.possible.GROW`.
    """
    event = "plated" if kind == GROW else kind
    known = (STATIONS[one] for one in _WHERE if event in STATIONS[one].kinds)
    return next(known, STATIONS[DEFAULT])


def belongs_elsewhere(family: Family, part: Part, here: Station) -> str:
    """Where a part belongs that waits for something else than what is done here; empty where it is right.

    Parameters
    ----------
    family : Family
    part : Part
    here : Station
    """
    waits = expected(family, part)
    if not waits or any(("plated" if kind == GROW else kind) in here.kinds for kind in waits):
        return ""
    there = place_of(waits[0])
    return f"{part.id} belongs to {there.words}: it waits to be {_waits(waits[0])}, which is not done at {here.words}."


def _waits(kind: str) -> str:
    return "grown from" if kind == GROW else EVENTS[kind].words
