"""Faults with their places, and what their neighbours make of them: scratches, crackle, what belongs to a jump."""

from __future__ import annotations

import json

import numpy as np
import pytest

from discwright.inspection.bursts import Burst
from discwright.inspection.defects import (
    CRACKLE_TICKS,
    HEARD_DB,
    SCRATCH_TICKS,
    Defect,
    Face,
    all_defects,
    crackles,
    scratches,
)
from discwright.inspection.jumps import Stretch
from discwright.inspection.ticks import Tick

TURN_S = 1.8
#: From 120 mm inward, 100 µm a turn.
FACE = Face(TURN_S, lambda time: 0.120 - time / TURN_S * 100e-6)
ONE_WAY = (Stretch(0.0, 100.0, 0.0),)


def tick(time: float, size_db: float = 15.0, channel: str = "left", pop: bool = False) -> Tick:
    return Tick(time, channel, 1e-4, size_db, pop)


def kinds(found: tuple[Defect, ...] | list[Defect]) -> list[str]:
    return [one.kind for one in found]


def test_a_place_by_hand() -> None:
    (found,) = all_defects(FACE, [tick(9.45, 12.34, "right")], [], ONE_WAY)
    # By hand: 9.45 s are five turns and a quarter.
    assert found.turn == pytest.approx(5.25)
    assert found.angle == pytest.approx(90.0)
    assert found.radius == pytest.approx(0.119475)
    assert (found.kind, found.channel, found.audible) == ("tick", "right", True)
    assert found.as_dict() == {
        "time_s": 9.45, "kind": "tick", "turn": 5.25, "radius_mm": 119.475, "angle_deg": 90.0, "channel": "right",
        "duration_s": 0.0001, "size_db": 12.3, "audible": True,
    }  # fmt: skip
    json.dumps(found.as_dict(), allow_nan=False)


def test_an_angle_just_before_the_seam() -> None:
    before, after = all_defects(FACE, [tick(2 * TURN_S - 1e-4), tick(2 * TURN_S + 1e-4)], [], ONE_WAY)
    assert before.angle == pytest.approx(359.98, abs=0.001)
    assert after.angle == pytest.approx(0.02, abs=0.001)


def test_heard_from_six_decibels_on() -> None:
    found = all_defects(FACE, [tick(1.0, HEARD_DB - 0.1), tick(2.0, HEARD_DB), tick(3.0, 20.0, pop=True)], [], ONE_WAY)
    assert [one.audible for one in found] == [False, True, True]
    assert kinds(found) == ["tick", "tick", "pop"]


@pytest.mark.parametrize("angle", [0.0, 0.3, 359.8, 123.0])
@pytest.mark.parametrize("jitter", [0.0, 0.9])
def test_a_scratch_is_a_tick_once_a_turn(angle: float, jitter: float) -> None:
    rng = np.random.default_rng(3)
    turns = 10 + angle / 360 + np.arange(6) + rng.uniform(-jitter, jitter, 6) / 360
    found = all_defects(FACE, [tick(float(t) * TURN_S) for t in turns], [], ONE_WAY)
    assert kinds(found) == ["scratch"] * 6


def test_one_turn_may_be_missing_of_a_scratch() -> None:
    turns = np.array([3, 4, 6, 7, 8]) + 0.4
    assert kinds(all_defects(FACE, [tick(float(t) * TURN_S) for t in turns], [], ONE_WAY)) == ["scratch"] * 5


def test_a_scratch_may_wander() -> None:
    turns = 5 + np.arange(8) * (1 + 1.5 / 360)
    assert kinds(all_defects(FACE, [tick(float(t) * TURN_S) for t in turns], [], ONE_WAY)) == ["scratch"] * 8


@pytest.mark.parametrize(
    "turns",
    [[5.1, 6.1, 7.1], [5.1, 6.12, 7.14, 8.16], [5.1, 9.1, 13.1, 17.1], [5.1, 5.3, 5.6, 5.9]],
    ids=["too few", "no steady angle", "far apart", "within one turn"],
)
def test_no_scratch(turns: list[float]) -> None:
    assert len(turns) >= SCRATCH_TICKS - 1
    assert kinds(all_defects(FACE, [tick(t * TURN_S) for t in turns], [], ONE_WAY)) == ["tick"] * len(turns)


def test_two_scratches_and_a_tick_between() -> None:
    ticks = [tick((5 + k + at) * TURN_S) for k in range(5) for at in (0.2, 0.6)] + [tick(6.4 * TURN_S)]
    found = all_defects(FACE, ticks, [], ONE_WAY)
    assert kinds(found).count("scratch") == 10
    assert [one.turn for one in found if one.kind == "tick"] == pytest.approx([6.4])


def test_crackle_is_many_ticks_in_a_second() -> None:
    rng = np.random.default_rng(1)
    times = np.sort(rng.uniform(20.0, 21.5, 40))
    sizes = rng.uniform(5.0, 18.0, 40)
    ticks = [tick(float(t), float(s), "both") for t, s in zip(times, sizes, strict=True)]
    first, region, last = all_defects(FACE, [tick(10.0), *ticks, tick(30.0)], [], ONE_WAY)
    assert kinds([first, region, last]) == ["tick", "crackle", "tick"]
    assert region.time == pytest.approx(times[0])
    assert region.duration == pytest.approx(times[-1] - times[0])
    assert region.size_db == pytest.approx(np.median(sizes))
    assert region.channel == "both"
    assert region.audible


def test_a_few_ticks_together_are_no_crackle() -> None:
    ticks = [tick(20.0 + 0.08 * k) for k in range(CRACKLE_TICKS - 1)]
    assert kinds(all_defects(FACE, ticks, [], ONE_WAY)) == ["tick"] * (CRACKLE_TICKS - 1)
    assert kinds(all_defects(FACE, [*ticks, tick(20.95)], [], ONE_WAY)) == ["crackle"]


def test_two_regions_stay_two() -> None:
    ticks = [
        tick(at + 0.05 * k, channel=channel) for at, channel in ((20.0, "left"), (25.0, "right")) for k in range(20)
    ]
    found = all_defects(FACE, ticks, [], ONE_WAY)
    assert [(one.kind, one.channel) for one in found] == [("crackle", "left"), ("crackle", "right")]


def test_a_scratch_through_crackle_stays_a_scratch() -> None:
    face_ticks = [FACE.defect("tick", (10 + k + 0.3) * TURN_S, "left", 1e-4, 12.0, True) for k in range(5)]
    assert kinds(crackles(scratches(face_ticks))) == ["scratch"] * 5


def test_skip_and_repeat_by_hand() -> None:
    ways = (Stretch(0.0, 20.0, 0.5), Stretch(20.0, 40.0, -1.3), Stretch(40.0, 60.0, 2.3))
    skip, repeat = all_defects(FACE, [], [], ways)
    assert (skip.kind, skip.time, skip.channel, skip.audible) == ("skip", 20.0, "both", True)
    assert skip.duration == pytest.approx(1.8)
    assert (repeat.kind, repeat.time) == ("repeat", 40.0)
    assert repeat.duration == pytest.approx(3.6)
    assert repeat.turn == pytest.approx(40.0 / 1.8)


def test_what_lies_at_a_jump_is_the_jump() -> None:
    ways = (Stretch(0.0, 20.0, 0.0), Stretch(20.0, 60.0, -1.8))
    ticks = [tick(19.97), tick(20.9), tick(21.84), tick(22.0), tick(19.9)]
    bursts = [Burst("dropout", 20.2, 21.5, "both", 30.0), Burst("swish", 30.0, 30.3, "left", 8.0)]
    found = all_defects(FACE, ticks, bursts, ways)
    assert [(one.kind, round(one.time, 2)) for one in found] == [
        ("tick", 19.9), ("skip", 20.0), ("tick", 22.0), ("swish", 30.0),
    ]  # fmt: skip


def test_ticks_within_what_lasts_belong_to_it() -> None:
    swish = Burst("swish", 10.0, 10.3, "right", 8.0)
    found = all_defects(FACE, [tick(10.1), tick(10.305), tick(10.5)], [swish], ONE_WAY)
    assert kinds(found) == ["swish", "tick"]
    assert found[0].duration == pytest.approx(0.3)
    assert found[0].audible


def test_all_come_by_time() -> None:
    rng = np.random.default_rng(2)
    ticks = [tick(float(t)) for t in rng.uniform(0, 90, 60)]
    found = all_defects(FACE, ticks, [Burst("dropout", 50.0, 50.1, "both", 20.0)], ONE_WAY)
    assert [one.time for one in found] == sorted(one.time for one in found)
    assert all_defects(FACE, [], [], ONE_WAY) == ()
