"""Programme and capture side by side: the sinc between samples, a map along which to read, frames in order."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from invented import RATE, Held, held
from numpy.typing import NDArray

from discwright.inspection.frames import Batch, Pair, Part, sinc_taps
from discwright.inspection.jumps import Stretch
from discwright.inspection.timemap import BEYOND, STEP, TimeMap

Floats = NDArray[np.float64]


def sine(frequency: float, at: Floats) -> Floats:
    return np.stack([np.sin(2 * np.pi * frequency * at), np.cos(2 * np.pi * frequency * at)], axis=1)


def straight(seconds: float, start: float = 0.0, slope: float = 1.0, stretches: tuple[Stretch, ...] = ()) -> TimeMap:
    time = np.arange(-BEYOND, seconds + BEYOND + STEP, STEP)
    return TimeMap(
        time, start + slope * time, np.full(len(time), 1e-6), stretches or (Stretch(0.0, seconds, 0.0),)
    )  # fmt: skip


def test_the_sinc_is_flat_and_passes_samples_themselves() -> None:
    taps = sinc_taps()
    middle = taps.shape[1] // 2 - 1
    for row, at in ((0, middle), (-1, middle + 1)):
        assert taps[row, at] == pytest.approx(1.0, abs=1e-6)
        assert np.abs(np.delete(taps[row], at)).max() < 1e-6
    assert taps.sum(axis=1) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("share", [0.001, 0.1, 0.3, 0.42])
def test_any_place_between_samples_is_read(share: float) -> None:
    frequency = share * RATE
    capture = held(sine(frequency, np.arange(RATE) / RATE))
    pair = Pair(held(np.zeros((RATE, 2))), capture)
    # By hand: the sine itself, 0.3 % slower and 0.1 s later.
    got = pair.aligned(straight(1.0, 0.1, 1.003), 1000, 20_000)
    expected = sine(frequency, 0.1 + 1.003 * np.arange(1000, 21_000) / RATE)
    gain = np.sum(got * expected, axis=0) / np.sum(expected**2, axis=0)
    assert np.abs(20 * np.log10(gain)).max() < 0.01
    # Regression only: what is left of the image at the top end; 90 dB down below 0.4 of the rate.
    assert np.abs(got - expected).max() < (2.5e-3 if share > 0.4 else 3e-5)


def test_beyond_the_capture_it_is_still() -> None:
    pair = Pair(held(np.ones((RATE, 2))), held(np.ones((RATE, 2))))
    got = pair.aligned(straight(1.0), -100, RATE + 200)
    assert not got[:80].any()
    assert got[150 : RATE + 50] == pytest.approx(1.0, abs=1e-5)
    assert not got[RATE + 120 :].any()


def test_a_jump_is_read_on_both_sides() -> None:
    ramp = np.arange(3 * RATE, dtype=np.float64)[:, None] / RATE * np.ones(2)
    ways = (Stretch(0.0, 1.0, 0.0), Stretch(1.0, 2.0, 0.5))
    got = Pair(held(ramp), held(ramp)).aligned(straight(2.0, stretches=ways), 0, 2 * RATE)[:, 0]
    time = np.arange(2 * RATE) / RATE
    expected = time + np.where(time >= 1.0, 0.5, 0.0)
    assert got[100:-100] == pytest.approx(expected[100:-100], abs=1e-4)  # by hand, through the cut itself


def test_two_rates_are_no_pair() -> None:
    with pytest.raises(ValueError, match="44100 and 48000 Hz"):
        Pair(held(np.zeros((10, 2))), Held(48_000, np.zeros((10, 2), dtype=np.float32)))


@pytest.mark.parametrize("seconds", [0.02, 1.0, 30.0])
def test_every_frame_comes_once_and_in_order(seconds: float) -> None:
    rng = np.random.default_rng(1)
    audio = rng.standard_normal((round(seconds * RATE), 2)).astype(np.float32)
    pair, hop = Pair(held(audio), held(audio)), 2048
    batches = list(pair.each(straight(seconds), 4096, hop, lambda batch: batch))
    middle = np.concatenate([one.middle for one in batches])
    assert middle == pytest.approx(np.arange(-(-len(audio) // hop) + 1) * hop / RATE)
    for one in batches:
        assert isinstance(one, Batch)
        assert one.programme.shape == one.capture.shape == (len(one.middle), 2, 2049)
        assert np.abs(one.programme - one.capture).max() < 2e-3 * np.abs(one.programme).max()


def test_a_frame_is_a_windowed_spectrum_around_its_middle() -> None:
    rng = np.random.default_rng(2)
    audio = rng.standard_normal((RATE, 2)).astype(np.float32)
    (batch,) = Pair(held(audio), held(audio)).each(straight(1.0), 1024, 5120, lambda batch: batch)
    window = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(1024) / 1024)
    expected = np.fft.rfft(audio[10_240 - 512 : 10_240 + 512] * window[:, None], axis=0).T  # by another road
    assert batch.programme[2] == pytest.approx(expected, abs=1e-3)


def test_what_tells_time_lies_where_the_music_moves() -> None:
    # By hand: steady noise tells in the middle of a frame, a hit of two milliseconds where it is, silence anywhere.
    rng = np.random.default_rng(2)
    audio = np.zeros((2 * RATE, 2), dtype=np.float32)
    audio[:RATE] = rng.standard_normal((RATE, 2))
    audio[round(1.5 * RATE) : round(1.502 * RATE)] = rng.standard_normal((88, 2))
    batches = list(Pair(held(audio), held(audio)).each(straight(2.0), 4096, 1024, lambda batch: batch))
    middle, told = (np.concatenate([getattr(one, name) for one in batches]) for name in ("middle", "told"))
    steady = (middle > 0.1) & (middle < 0.9)
    assert np.abs(told - middle)[steady].max() < 0.008
    hit = np.abs(middle - 1.501) < 0.04
    assert np.count_nonzero(hit) >= 3
    assert told[hit] == pytest.approx(1.501, abs=4096 / 16 / RATE)
    assert told[middle > 1.7] == pytest.approx(middle[middle > 1.7])
    assert (np.diff(told) > -1e-9).all()


def test_a_part_is_still_around_itself() -> None:
    whole = held(np.ones((10 * RATE, 2)))
    part = Part(whole, 2.0, 7.0)
    assert (part.rate, part.frames) == (RATE, 7 * RATE)
    for first, count in ((0, RATE), (RATE, 3 * RATE), (6 * RATE, 2 * RATE), (9 * RATE, 10), (-5, 10), (2 * RATE, RATE)):
        at = np.arange(first, first + count)
        assert np.array_equal(part.read(first, count)[:, 1], (at >= 2 * RATE) & (at < 7 * RATE))
    assert Part(whole, 0.0, 99.0).frames == 10 * RATE
    assert all(a <= b for a, b in pairwise([0, part.frames, whole.frames]))
