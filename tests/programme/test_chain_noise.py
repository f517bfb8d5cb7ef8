"""Noise of a known rms, lines of the mains that were planted, and nothing at all."""

from __future__ import annotations

import math

import numpy as np
import pytest

from discwright.programme.chain_noise import read_noise

RATE = 48_000


def noise(seconds: float, rms: float, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal((round(seconds * RATE), 2)) * rms


def hum(sound: np.ndarray, mains: float, levels: dict[int, float]) -> np.ndarray:
    time = np.arange(len(sound)) / RATE
    lines = [10 ** (level / 20) * np.sin(2 * np.pi * order * mains * time) for order, level in levels.items()]
    sound = sound.copy()
    sound[:, 0] += np.sum(lines, axis=0)
    return sound


def test_white_noise_reads_its_rms() -> None:
    """by hand: of a rms σ over 24 kHz, 20 Hz to 20 kHz hold √(19980/24000); a full-scale sine has 1/√2."""
    left, right = read_noise((noise(20.0, 1e-3) * (1.0, 0.1)).astype(np.float32), RATE)
    wanted = 20.0 * math.log10(1e-3 * math.sqrt(2.0 * 19_980 / 24_000))
    assert (left.level_dbfs, right.level_dbfs) == (
        pytest.approx(wanted, abs=0.03),
        pytest.approx(wanted - 20, abs=0.03),
    )
    assert (left.mains, left.hum) == (None, ())


@pytest.mark.parametrize("mains", [50.02, 49.9, 60.03])
def test_lines_of_the_mains_are_found_where_they_are(mains: float) -> None:
    planted = {1: -70.0, 2: -85.0, 3: -80.0, 10: -80.0}
    left, right = read_noise(hum(noise(30.0, 1e-4), mains, planted).astype(np.float32), RATE)
    assert left.mains == round(mains)
    assert {line.order: line.level_dbfs for line in left.hum} == pytest.approx(planted, abs=0.3)
    assert [line.frequency for line in left.hum] == pytest.approx([order * mains for order in planted], abs=0.05)
    assert right.hum == ()


def test_a_tone_beside_the_mains_is_no_hum() -> None:
    sound = hum(noise(20.0, 1e-4), 55.0, {1: -60.0}).astype(np.float32)
    assert read_noise(sound, RATE)[0].hum == ()


def test_noise_alone_shows_no_line() -> None:
    """A false line would be told of every quiet chain; forty stretches, long and short."""
    for seed in range(40):
        found = read_noise(noise(2.0 if seed % 2 else 12.0, 1e-4, seed).astype(np.float32), RATE)
        assert [one.hum for one in found] == [(), ()]


def test_a_short_stretch_is_measured_too() -> None:
    left, _ = read_noise(hum(noise(1.0, 1e-4), 50.0, {1: -60.0}).astype(np.float32), RATE)
    assert [line.order for line in left.hum] == [1]
    assert left.hum[0].level_dbfs == pytest.approx(-60.0, abs=0.3)


def test_digital_silence_has_no_level() -> None:
    left, right = read_noise(np.zeros((RATE, 2), dtype=np.float32), RATE)
    assert left == right
    assert left.level_dbfs is None
