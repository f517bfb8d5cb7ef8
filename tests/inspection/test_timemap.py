"""The map of time from measured delays: motions put in by hand come out, doubts and outliers count for little."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from discwright.inspection.coarse import Line
from discwright.inspection.jumps import Stretch
from discwright.inspection.timemap import BEYOND, STEP, Delays, Swings, TimeMap, first_map, refine

Float = NDArray[np.float64]

TURN_S, SECONDS = 1.8, 60.0
LINE = Line(3.0, 1.001, 9, 9, 9, 0.9, np.zeros(3))


def known(*stretches: Stretch) -> TimeMap:
    return first_map(LINE, stretches or (Stretch(0.0, SECONDS, 0.0),), SECONDS)


def measured(late: Float, time: Float, doubt: float = 1e-6, seed: int = 1) -> Delays:
    rng = np.random.default_rng(seed)
    return Delays(time, late + doubt * rng.standard_normal(len(time)), np.full(len(time), doubt))


def frames(step: float = 0.05) -> Float:
    return np.arange(0.0, SECONDS, step)


def motion(time: Float) -> Float:
    """Speed 0.05 % off the line, half a millisecond once a turn and a fifth of one twice, s."""
    turn = 2 * np.pi * time / TURN_S
    return 4e-4 + 5e-4 * time + 5e-4 * np.sin(turn + 0.7) + 2e-4 * np.cos(2 * turn - 1.0)


def error(laid: TimeMap, late: Float) -> Float:
    """Of a map whose departure from the first one is known, s."""
    at = laid.time
    return laid.at(at) - (LINE.start + LINE.stretch * at) - late


def test_a_first_map_is_its_line() -> None:
    laid = known()
    assert laid.time[0] == pytest.approx(-BEYOND)
    assert np.diff(laid.time) == pytest.approx(STEP)
    time = np.array([-10.0, 0.0, 17.5, SECONDS, 99.0])
    assert laid.at(time) == pytest.approx(3.0 + 1.001 * time)  # by hand; beyond its ends too


def test_jumps_count_from_their_beginning() -> None:
    laid = known(Stretch(0.0, 20.0, 0.0), Stretch(20.0, 30.0, -1.8), Stretch(30.0, SECONDS, 0.25))
    assert laid.offsets(np.array([19.999, 20.0, 29.0, 30.0, 80.0])).tolist() == [0.0, -1.8, -1.8, 0.25, 0.25]
    assert laid.at(np.array([25.0]))[0] == pytest.approx(3.0 + 1.001 * 25.0 - 1.8)


def test_a_motion_put_in_comes_out() -> None:
    time = frames()
    laid, swings = refine(known(), measured(motion(time), time), TURN_S)
    inside = (laid.time > 0.0) & (laid.time < SECONDS)
    off = error(laid, motion(laid.time))[inside]
    assert np.std(off) < 1e-6  # by hand: no worse than what was measured
    assert np.abs(off).max() < 5e-6
    # By hand: sin(x + 0.7) = 0.644 cos x + 0.765 sin x; cos(2x - 1) = 0.540 cos 2x + 0.841 sin 2x.
    middle = slice(len(time) // 4, -len(time) // 4)
    assert swings.once[middle] == pytest.approx(np.tile(5e-4 * np.array([0.6442, 0.7648]), (600, 1)), abs=2e-6)
    assert swings.twice[middle] == pytest.approx(np.tile(2e-4 * np.array([0.5403, 0.8415]), (600, 1)), abs=2e-6)
    assert swings.unsteady < 2e-6


def test_the_doubt_is_about_right() -> None:
    time = frames()
    errors, doubts = [], []
    for seed in range(8):
        laid, _ = refine(known(), measured(motion(time), time, 2e-5, seed), TURN_S)
        inside = (laid.time > 1.0) & (laid.time < SECONDS - 1.0)
        errors.append(error(laid, motion(laid.time))[inside])
        doubts.append(laid.doubt[inside])
    # By hand: the standard deviation it says, give or take; correlated errors make it no sharper.
    assert 0.5 < np.std(errors) / np.sqrt(np.mean(np.square(doubts))) < 2.0


def test_silence_is_gone_through_as_before() -> None:
    time = frames()
    delays = measured(motion(time), time)
    delays.doubt[(time > 20.0) & (time < 26.0)] = np.inf
    delays.delay[(time > 20.0) & (time < 26.0)] = 0.03
    laid, _ = refine(known(), delays, TURN_S)
    off = np.abs(error(laid, motion(laid.time)))
    inside = (laid.time > 0.0) & (laid.time < SECONDS)
    assert off[inside].max() < 1e-4  # the promise for silence
    assert off[inside & ((laid.time < 19.9) | (laid.time > 26.1))].max() < 5e-6
    assert laid.doubt[np.searchsorted(laid.time, 23.0)] > 5 * np.median(laid.doubt[inside])


def test_wild_measurements_count_for_little() -> None:
    time = frames()
    delays = measured(motion(time), time)
    delays.delay[::17] += np.random.default_rng(2).choice([-1e-3, 1e-3], len(delays.delay[::17]))
    laid, _ = refine(known(), delays, TURN_S)
    inside = (laid.time > 1.0) & (laid.time < SECONDS - 1.0)
    assert np.abs(error(laid, motion(laid.time)))[inside].max() < 5e-5  # by hand: a twentieth of it


def test_flutter_is_followed_and_told() -> None:
    time = frames(0.01)
    flutter = 2e-5 * np.sin(2 * np.pi * 6.0 * time)
    laid, swings = refine(known(), measured(motion(time) + flutter, time), TURN_S)
    inside = (laid.time > 1.0) & (laid.time < SECONDS - 1.0)
    off = error(laid, motion(laid.time) + 2e-5 * np.sin(2 * np.pi * 6.0 * laid.time))
    assert np.abs(off)[inside].max() < 5e-6
    assert swings.unsteady == pytest.approx(2.1e-5, rel=0.05)  # by hand: √(0.5/0.455) of the peak, as told


def test_rounds_do_not_pile_up() -> None:
    time = frames()
    once, _ = refine(known(), measured(motion(time), time), TURN_S)
    # The second round measures against the first's map: nothing is left but noise.
    twice, swings = refine(once, measured(np.zeros(len(time)), time, seed=5), TURN_S)
    inside = (once.time > 0.5) & (once.time < SECONDS - 0.5)
    assert np.abs(error(twice, motion(twice.time)))[inside].max() < 5e-6
    assert np.hypot(*swings.once[len(time) // 2]) == pytest.approx(5e-4, abs=3e-6)  # the whole, not the rest


def test_what_a_jump_was_off_by_goes_to_its_stretch() -> None:
    # By hand: the tip fell 1.8123 s back, the first guess said 1.79.
    ways = (Stretch(0.0, 30.0, 0.0), Stretch(30.0, SECONDS, 1.79))
    time = frames()
    late = motion(time) + np.where(time >= 30.0, 0.0223, 0.0)
    laid, swings = refine(known(*ways), measured(late, time), TURN_S)
    assert laid.stretches[1].offset == pytest.approx(1.8123, abs=1e-5)
    assert laid.stretches[0].offset == 0.0
    true = motion(laid.time) + np.where(laid.time >= 30.0, 1.8123, 0.0)
    inside = (laid.time > 0.0) & (laid.time < SECONDS) & (np.abs(laid.time - 30.0) > 0.06)
    assert np.abs(error(laid, true))[inside].max() < 5e-6
    # The speed beside the jump is not taken for wow.
    assert np.abs(np.diff(laid.flat, 2)).max() < 5e-6
    assert swings.unsteady < 3e-6


def test_perfect_measurements_are_no_trouble() -> None:
    time = frames()
    laid, _ = refine(known(), Delays(time, np.zeros(len(time)), np.full(len(time), 1e-12)), TURN_S)
    assert np.isfinite(laid.doubt).all()
    assert np.abs(error(laid, np.zeros(len(laid.time)))).max() < 1e-7


@pytest.mark.parametrize("count", [1, 2, 5])
def test_hardly_a_measurement_is_no_trouble(count: int) -> None:
    time = np.linspace(0.0, SECONDS, count)
    laid, swings = refine(known(), Delays(time, np.zeros(count), np.full(count, np.inf)), TURN_S)
    assert np.isfinite(laid.at(laid.time)).all()
    assert isinstance(swings, Swings)
