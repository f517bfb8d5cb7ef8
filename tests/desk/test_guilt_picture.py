"""The face of a disc with its spots: where a place lies, that shapes differ, what is drawn and what is not."""

from __future__ import annotations

import re
from itertools import combinations

import pytest

from discwright.desk.guilt_picture import STYLES, face_picture, on_face, play_style, shape_path
from discwright.desk.show_guilt import letter_of
from discwright.files.settings import shipped
from discwright.groove.equipment import DiscFormat
from discwright.inspection.spots import Fault, Play, Spot, find_spots

DISC = shipped(DiscFormat)["12in-33"]


@pytest.mark.parametrize(
    ("angle", "x", "y"), [(0.0, 0.0, -100.0), (90.0, -100.0, 0.0), (180.0, 0.0, 100.0), (270.0, 100.0, 0.0)]
)
def test_angles_run_against_the_clock_from_the_top(angle: float, x: float, y: float) -> None:
    # by hand, as on the disc map: y grows downward, so that a quarter turn on lies to the left.
    assert on_face(100.0, angle) == (pytest.approx(x, abs=1e-9), pytest.approx(y, abs=1e-9))


def test_neighbouring_plays_differ_in_shape_and_line() -> None:
    looks = [(shape_path(play, 0.0, 0.0), play_style(play)) for play in range(40)]
    assert len(set(looks)) == 40
    shapes = [re.sub(r"[-\d. ]", "", path) + path for path, _ in looks[:7]]
    assert all(one != other for one, other in combinations(shapes, 2))
    assert len({style for _, style in looks}) == STYLES


def test_a_shape_stays_within_its_reach() -> None:
    for play in range(7):
        numbers = [float(one) for one in re.findall(r"-?\d+\.\d+", shape_path(play, 50.0, 50.0, 4.0))]
        assert all(abs(one) <= 50 + 4 * 1.1 + 0.01 for one in numbers)


def picture(*spots: Spot, chosen: int = 0, exact: bool = True) -> object:
    numbered = list(enumerate(spots, 1))
    return face_picture(DISC, numbered, {"a": 0, "b": 1}, chosen, lambda turn: 140.0 - turn, exact, 0)


def test_each_play_is_drawn_at_its_own_place() -> None:
    plays = [
        Play("a", "M", (Fault("tick", 4, 90.0, radius_mm=120.0, audible=True),)),
        Play("b", "S", (Fault("tick", 4, 91.0, audible=False),)),
    ]
    drawn = picture(*find_spots(plays, 2.0), chosen=1)
    # by hand: 120 mm at 90° is 120 to the left; the circle of the first play begins 3.6 further left.
    assert drawn.marks[0].path.startswith("M-123.60 0.00a")  # type: ignore[attr-defined]
    assert [one.soft for one in drawn.marks] == [False, False]  # type: ignore[attr-defined]
    assert drawn.ring  # type: ignore[attr-defined]
    assert [one.words for one in drawn.labels] == ["1"]  # type: ignore[attr-defined]
    assert drawn.note == ""  # type: ignore[attr-defined]
    about = picture(*find_spots(plays[1:], 2.0), exact=False)
    assert "it is about that of the turn" in about.note  # type: ignore[attr-defined]
    assert about.marks[0].soft  # type: ignore[attr-defined]


def test_a_scratch_is_a_line_over_its_turns() -> None:
    ticks = tuple(Fault("tick", turn, 0.0, radius_mm=140.0 - turn, audible=True) for turn in range(5))
    (mark,) = picture(*find_spots([Play("a", "M", ticks)], 2.0)).marks  # type: ignore[attr-defined]
    assert mark.path.endswith("M0.00 -140.00L0.00 -136.00")


def test_letters_of_plays() -> None:
    # by hand, as columns of a sheet are counted.
    assert [letter_of(number) for number in (0, 25, 26, 51, 52, 701, 702)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]
