"""What the page of patterns shows of the works: a side's place, a small family, steps of a station, all invented."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.desk.show_family import part_link
from discwright.desk.station_parts import DoneLine, StepButton, StepReason
from discwright.desk.tree_picture import TreePicture, tree_pictures
from discwright.desk.works_parts import Badge, LineRow, PartLink, SidePlace
from discwright.works.family import Family, Part


@dataclass(frozen=True)
class WorksSamples:
    """One of every element of the works.

    Attributes
    ----------
    places : tuple of SidePlace
    tree : TreePicture
    steps : tuple of StepButton
    done : DoneLine
    lines : tuple of LineRow
    links : tuple of PartLink
    """

    places: tuple[SidePlace, ...]
    tree: TreePicture
    steps: tuple[StepButton, ...]
    done: DoneLine
    lines: tuple[LineRow, ...]
    links: tuple[PartLink, ...]


def works_samples() -> WorksSamples:
    """Samples of a works that is not there."""
    family = _family()
    late = frozenset({"MO9003-6"})
    return WorksSamples(
        places=(
            SidePlace("lp", "A", "12in-33", "ST9004-1", "#works", Badge("pressing", "at the press"),
                      "the end of the run", "3 hours", "2031-04-02 09:14", "", "2031-05-30", "0 of 300 pressings"),
            SidePlace("lp", "B", "12in-33", "", "", Badge("chosen", "planned"), "the cut", "6 days",
                      "2031-03-27 16:02", "late by 2 days", "2031-03-31", ""),
        ),
        tree=tree_pictures(family, late)[0],
        steps=(
            StepButton(1, "passivated", "Passivated", "", True, False, False, False, False, "#works", ()),
            StepButton(2, "weighed", "Weighed", "", False, False, False, True, False, "#works", ()),
            StepButton(3, "scrapped", "Scrapped", "", False, False, False, False, True, "#works", ()),
            StepButton(4, "grow", "Grow a stamper", "", False, True, True, False, False, "#works",
                       (StepReason("stop", "MO9003-6 was not passivated since it was last grown from."),)),
        ),
        done=DoneLine("41", "Done: ST9004-1 put to press.", "", "", "", "", ()),
        lines=(
            LineRow("41", "2031-04-02 09:14", "Ada", "press", "put to press", "press P2", "", "", False,
                    "", "", ""),
            LineRow("42", "2031-04-02 09:15", "Ada", "press", "taken off", "64 pressings", "", "", False,
                    "640 pressings", "", ""),
            LineRow("43", "2031-04-02 09:16", "Ben", "press", "scrapped", "", "the wrong one", "", True,
                    "", "", ""),
        ),
        links=tuple(part_link(one) for one in family.parts.values()),
    )  # fmt: skip


def _family() -> Family:
    marks = ("XYZ 1 A", "M1")
    parts = (
        Part("LA9001-0", "lacquer", "A", "lp", state="spent", marks=marks[:1], children=("MA9002-8",)),
        Part("MA9002-8", "master", "A", "lp", "LA9001-0", "vaulted", marks=marks[:1], children=("MO9003-6",)),
        Part("MO9003-6", "mother", "A", "lp", "MA9002-8", "separated", marks=marks, played=True, faults=0,
             children=("ST9004-1",)),
        Part("ST9004-1", "stamper", "A", "lp", "MO9003-6", "at_press", marks=marks, pressings=420),
    )  # fmt: skip
    return Family("XYZ 1", parts={one.id: one for one in parts})
