"""What a playing adds: nothing in a clean one, and the very thing that was added in another, sample by sample."""

from __future__ import annotations

import numpy as np
import pytest
from invented import RATE, lay, piece, play
from numpy.typing import NDArray
from scipy import signal

from discwright.inspection.align import Alignment
from discwright.inspection.difference import (
    CELL_S,
    Block,
    CellSums,
    band_masks,
    differences,
    noise_of,
)
from discwright.inspection.frames import Pair

Floats = NDArray[np.float64]
SECONDS = 12.0


@pytest.fixture(scope="module")
def music() -> Floats:
    return piece(SECONDS, seed=7)


@pytest.fixture(scope="module")
def clean(music: Floats) -> tuple[Pair, Alignment]:
    return lay(music, play(music, speed_error_percent=0.2, off_centre_mm=0.2, gain_db=-3.0).audio)


def whole(pair: Pair, laid: Alignment) -> tuple[list[Block], Floats, Floats]:
    blocks = list(differences(pair, laid, whole=True))
    spare = np.concatenate([one.spare for one in blocks], axis=1)
    wide = np.concatenate([one.whole[0] for one in blocks if one.whole is not None])
    return blocks, spare.astype(np.float64), wide.astype(np.float64)


def db(x: Floats) -> float:
    return float(10 * np.log10(np.mean(np.square(x)) + 1e-20))


def test_blocks_join_from_the_first_sample_to_the_last(music: Floats, clean: tuple[Pair, Alignment]) -> None:
    blocks, spare, _ = whole(*clean)
    at = 0
    for one in blocks:
        assert one.first == at
        assert one.spare.shape == one.expected.shape == (2, at + one.spare.shape[1] - at, 2)
        at += one.spare.shape[1]
    assert at == len(music) == spare.shape[1]


def test_a_clean_playing_leaves_next_to_nothing(music: Floats, clean: tuple[Pair, Alignment]) -> None:
    _, spare, wide = whole(*clean)
    # Regression only: the music is 55 dB above what is left of it, and 50 dB above 2 kHz.
    assert db(wide[RATE:-RATE]) < db(music) - 3.0 - 55.0
    assert db(spare[0, RATE:-RATE]) < db(music) - 70.0


def test_expectation_and_difference_are_the_capture(clean: tuple[Pair, Alignment]) -> None:
    pair, laid = clean
    for one in differences(pair, laid, whole=True):
        assert one.whole is not None
        total = one.whole[0] + one.whole[1]
        heard = pair.aligned(laid.map, one.first, len(total))
        assert np.abs(total - heard).max() < 1e-5  # by another road: read along the map alone, to the last sample


def test_a_tick_is_left_over_as_it_was(music: Floats) -> None:
    rng = np.random.default_rng(1)
    added = np.zeros_like(music)
    at = round(5.3 * RATE)
    added[at : at + 60, 0] = 0.05 * rng.standard_normal(60)
    pair, laid = lay(music, (music + added).astype(np.float32))
    _, spare, wide = whole(pair, laid)
    near = slice(at - 300, at + 400)
    assert np.abs(wide[near] - added[near]).max() < 0.03 * np.abs(added).max()
    sections = signal.butter(4, 2000.0, "highpass", fs=RATE, output="sos")
    expected = signal.sosfiltfilt(sections, added, axis=0)
    assert (
        np.abs(spare[0, near] - expected[near]).max() < 0.03 * np.abs(added).max()
    )  # by another road: the definition's own filter


def test_the_masks_are_a_butterworth_run_both_ways() -> None:
    ticks, pops = band_masks(4096, RATE)
    frequency = np.fft.rfftfreq(4096, 1 / RATE)
    sections = signal.butter(4, 2000.0, "highpass", fs=RATE, output="sos")
    _, response = signal.sosfreqz(sections, worN=frequency, fs=RATE)
    low = frequency < 8000.0  # the bilinear transform bends what lies higher
    assert np.abs(ticks[low] - np.abs(response[low]) ** 2).max() < 0.02  # by another road
    assert ticks[np.argmin(np.abs(frequency - 2000.0))] == pytest.approx(0.5, abs=0.02)
    assert pops[np.argmin(np.abs(frequency - 200.0))] == pytest.approx(0.5, abs=0.06)
    assert (ticks + pops <= 1.0 + 1e-6).all()


@pytest.mark.parametrize("dbfs", [-45.0, -60.0])
def test_surface_noise_in_each_band(music: Floats, dbfs: float) -> None:
    disc = play(music, noise_dbfs=dbfs)
    _, laid = lay(music, disc.audio)
    ticks, pops = noise_of(laid)
    assert disc.truth.noise_above_2khz_dbfs is not None
    # The spoiler's own measure of what it added; what is left of the music may add to it.
    assert 20 * np.log10(ticks) == pytest.approx(disc.truth.noise_above_2khz_dbfs, abs=0.5)
    # By hand: white noise between 200 Hz and 2 kHz is 1.8 of 22.05 kHz.
    assert 20 * np.log10(pops) == pytest.approx(dbfs + 10 * np.log10(1800 / 22_050), abs=1.0)


def blocks_of(spare: NDArray[np.float32], expected: NDArray[np.float32], sizes: list[int]) -> list[Block]:
    found, at = [], 0
    for size in sizes:
        found.append(Block(at, spare[:, at : at + size], expected[:, at : at + size], None))
        at += size
    return found


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_cells_are_five_milliseconds_whatever_the_blocks(rate: int) -> None:
    rng = np.random.default_rng(3)
    spare = rng.standard_normal((2, rate, 2)).astype(np.float32)
    expected = rng.standard_normal((2, rate, 2)).astype(np.float32)
    sums = CellSums(rate)
    for one in blocks_of(spare, expected, [7, 100, 12_345, 1, 30_000]):
        sums.add(one)
    cells = sums.result()
    edges = np.round(np.arange(len(cells.spare) + 1) * (CELL_S * rate)).astype(int)
    assert edges[-1] > 42_000
    for k in (0, 1, 57, len(cells.spare) - 1):
        part = slice(edges[k], edges[k + 1])
        assert cells.spare[k] == pytest.approx(np.mean(spare[:, part].astype(float) ** 2, axis=1), rel=1e-5)
        assert cells.expected[k] == pytest.approx(np.mean(expected[:, part].astype(float) ** 2, axis=1), rel=1e-5)
        product = np.mean(spare[:, part].astype(float) * expected[:, part], axis=1).sum(axis=0)
        assert cells.product[k] == pytest.approx(product, abs=1e-5)


def test_no_cell_of_a_moment() -> None:
    sums = CellSums(RATE)
    sums.add(Block(0, np.zeros((2, 10, 2), np.float32), np.zeros((2, 10, 2), np.float32), None))
    assert len(sums.result().spare) == len(sums.result().product) == 0
