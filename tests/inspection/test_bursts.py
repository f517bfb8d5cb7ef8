"""Faults that last, in cells made by hand and on spoiled discs: swish, dropout, and nothing where nothing is."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from invented import RATE, TURN_S, lay, piece, play
from numpy.typing import NDArray
from spoiler import Dropout, Swish

from discwright.inspection.bursts import DROPOUT_S, SWISH_S, Burst, find_dropouts, find_swishes
from discwright.inspection.difference import CELL_S, Cells, CellSums, differences, noise_of

Floats = NDArray[np.float64]
NOISE = np.full(2, 1e-3)


def cells(seconds: float, seed: int = 1) -> Cells:
    """Music at 0.1 in both bands, noise at 1e-3 left over, cell by cell."""
    rng = np.random.default_rng(seed)
    n = round(seconds / CELL_S)
    spare = NOISE[0] ** 2 * rng.gamma(50.0, 1 / 50.0, (n, 2, 2))
    music = np.full((n, 2, 2), 1e-2)
    return Cells(spare, music, np.zeros((n, 2)))


def span(begin: float, end: float) -> slice:
    return slice(round(begin / CELL_S), round(end / CELL_S))


def test_a_swish_by_hand() -> None:
    made = cells(20.0)
    made.expected[:, 0] = 1e-8
    made.spare[span(8.0, 8.3), 0, 0] *= 100.0
    (found,) = find_swishes(made, NOISE)
    assert (found.kind, found.channel) == ("swish", "left")
    assert found.begin == pytest.approx(8.0, abs=0.03)
    assert found.end == pytest.approx(8.3, abs=0.03)
    # By hand: 20 dB over what is usual, of which twice as much masks.
    assert found.size_db == pytest.approx(17.0, abs=0.5)


@pytest.mark.parametrize(
    ("seconds", "times", "music"),
    [(SWISH_S / 2, 100.0, 1e-8), (1.0, 2.0, 1e-8), (0.3, 100.0, 1e-2)],
    ids=["too short", "too weak", "under louder music"],
)
def test_no_swish_by_hand(seconds: float, times: float, music: float) -> None:
    made = cells(20.0)
    made.expected[:, 0] = music
    made.spare[span(8.0, 8.0 + seconds), 0] *= times
    assert find_swishes(made, NOISE) == []


def test_what_is_always_left_of_loud_music_is_no_swish() -> None:
    made = cells(30.0)
    loud = span(10.0, 10.5)
    made.expected[loud] *= 30.0
    made.spare[:] = made.expected * 1e-2
    assert find_swishes(made, NOISE) == []


def test_a_dropout_by_hand() -> None:
    made = cells(20.0)
    gone = span(5.0, 5.1)
    # By hand: nine tenths of the amplitude are missing: the difference is -0.9 of what was expected.
    made.spare[gone, :, 1] = 0.81 * made.expected[gone, :, 1]
    made.product[gone, 1] = -0.9 * made.expected[gone, :, 1].sum(axis=1)
    (found,) = find_dropouts(made, np.full((2, 2), 1e-3))
    assert (found.kind, found.channel) == ("dropout", "right")
    assert found.begin == pytest.approx(5.0, abs=0.015)
    assert found.end == pytest.approx(5.1, abs=0.015)
    assert found.size_db == pytest.approx(20.0, abs=0.2)  # by hand: a tenth is left


@pytest.mark.parametrize("left", [0.5, 1.0, 1.5])
def test_music_that_is_only_softer_or_out_of_place_has_not_dropped_out(left: float) -> None:
    made = cells(20.0)
    gone = span(5.0, 5.1)
    made.spare[gone] = (1 - left) ** 2 * made.expected[gone]
    made.product[gone] = -(1 - left) * made.expected[gone].sum(axis=1)
    assert find_dropouts(made, np.full((2, 2), 1e-3)) == []
    # Out of place: as loud as it should be, and nothing alike.
    made.spare[gone] = 2 * made.expected[gone]
    made.product[gone] = -made.expected[gone].sum(axis=1)
    assert find_dropouts(made, np.full((2, 2), 1e-3)) == []


def test_silence_and_moments_hold_nothing() -> None:
    quiet = cells(10.0)
    quiet.expected[:] = 0.0
    assert find_dropouts(quiet, np.full((2, 2), 1e-3)) == []
    assert find_swishes(quiet, NOISE) == []
    short = cells(2 * CELL_S)
    assert find_swishes(short, NOISE) == find_dropouts(short, np.full((2, 2), 1e-3)) == []


def bursts_of(programme: Floats, **wrongs: Any) -> list[Burst]:
    pair, laid = lay(programme, play(programme, **wrongs).audio)
    sums = CellSums(RATE)
    for block in differences(pair, laid):
        sums.add(block)
    noise = noise_of(laid)
    return [*find_swishes(sums.result(), noise[0]), *find_dropouts(sums.result(), noise)]


@pytest.fixture(scope="module")
def music() -> Floats:
    return piece(20.0, seed=14)


@pytest.mark.parametrize("channel", ["left", "right", "both"])
def test_dropouts_of_a_spoiled_disc(music: Floats, channel: str) -> None:
    planted = [Dropout(4.0, 0.05, 40.0, channel), Dropout(9.5, 0.2, 30.0, channel), Dropout(14.2, 0.03, 40.0, channel)]
    found = bursts_of(music, dropouts=tuple(planted), noise_dbfs=-60.0, speed_error_percent=0.3, off_centre_mm=0.3)
    assert [one.kind for one in found] == ["dropout"] * 3
    for one, wanted in zip(found, planted, strict=True):
        assert one.channel == channel
        assert one.begin == pytest.approx(wanted.start_s, abs=0.015)
        assert one.end - one.begin == pytest.approx(wanted.duration_s, abs=0.02)
        assert one.end - one.begin >= DROPOUT_S


def test_swishes_of_a_spoiled_disc(music: Floats) -> None:
    soft = 0.03 * music
    found = bursts_of(soft, swishes=(Swish(6.0, 4, 60.0, 20.0, "both"),), noise_dbfs=-65.0)
    assert [one.kind for one in found] == ["swish"] * 4
    # By hand: once a turn, a sixth of a turn long; its ends are soft.
    assert [one.begin for one in found] == pytest.approx([6.0 + k * TURN_S for k in range(4)], abs=0.04)
    assert [one.end - one.begin for one in found] == pytest.approx([TURN_S / 6] * 4, abs=0.08)
    assert {one.channel for one in found} == {"both"}


@pytest.mark.parametrize("noise_dbfs", [None, -60.0, -45.0])
def test_a_clean_disc_has_none(music: Floats, noise_dbfs: float | None) -> None:
    assert bursts_of(music, noise_dbfs=noise_dbfs, speed_error_percent=0.5, off_centre_mm=0.5, crosstalk_db=-25.0) == []
