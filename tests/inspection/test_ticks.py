"""Ticks and pops planted by hand: each found, at its place, with its channel and size; sharp music is none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from invented import RATE, above, lay, piece, play, struck
from numpy.typing import NDArray

from discwright.inspection.defects import HEARD_DB
from discwright.inspection.difference import Block, differences, noise_of
from discwright.inspection.ticks import LEAST_DB, Tick, TickFinder

Floats = NDArray[np.float64]


def found_in(programme: Floats, audio: NDArray[np.float32]) -> list[Tick]:
    pair, laid = lay(programme, audio)
    finder = TickFinder(RATE, noise_of(laid))
    ticks: list[Tick] = []
    for block in differences(pair, laid):
        ticks += finder.push(block)
    ticks += finder.finish()
    return ticks


@dataclass(frozen=True)
class Planted:
    """One tick, its size over masking by definition, dB."""

    time: float
    channel: str
    size_db: float
    shape: str = "sharp"


def wave(shape: str, rng: np.random.Generator) -> Floats:
    t = np.arange(round(0.004 * RATE)) / RATE
    if shape == "sharp":
        return np.where(np.arange(len(t)) < 2, 1.0, 0.0)
    if shape == "ringing":
        return np.asarray(np.exp(-t / 4e-4) * np.sin(2 * np.pi * 6000 * t + 0.5))
    return np.asarray(rng.standard_normal(len(t)) * np.exp(-t / 3e-4))


def plant(programme: Floats, noise_db: float, ticks: list[Planted], seed: int = 3) -> NDArray[np.float32]:
    """By definition: peak above 2 kHz over the larger of the music's 20 ms and the noise's plus 12 dB."""
    rng = np.random.default_rng(seed)
    noise = 10 ** (noise_db / 20) * rng.standard_normal(programme.shape)
    music, floor = above(programme), np.sqrt(np.mean(above(noise) ** 2, axis=0)) * 10 ** (12 / 20)
    audio = programme + noise
    for one in ticks:
        at = round(one.time * RATE)
        shape = np.zeros(RATE // 5)
        shape[RATE // 10 : RATE // 10 + round(0.004 * RATE)] = wave(one.shape, rng)
        high = np.abs(above(shape[:, None])[:, 0])
        peak = int(np.argmax(high)) - RATE // 10
        near = slice(at + peak - RATE // 100, at + peak + RATE // 100)
        masks = np.maximum(np.sqrt(np.mean(music[near] ** 2, axis=0)), floor)
        sides = {"left": [1.0, 0.0], "right": [0.0, 1.0], "both": [1.0, 1.0]}[one.channel]
        mask = min(mask for mask, side in zip(masks, sides, strict=True) if side)
        gain = 10 ** (one.size_db / 20) * mask / high.max()
        piece_of = shape[RATE // 10 : RATE // 10 + 300]
        audio[at : at + len(piece_of)] += gain * piece_of[:, None] * np.array(sides)
    return audio.astype(np.float32)


def near(ticks: list[Tick], time: float, within: float = 0.001) -> Tick:
    close = [one for one in ticks if abs(one.time - time) < within]
    assert len(close) == 1, (time, ticks)
    return close[0]


@pytest.fixture(scope="module")
def music() -> Floats:
    return piece(20.0, seed=12)


@pytest.mark.parametrize("noise_db", [-60.0, -45.0])
def test_each_is_found_with_channel_and_size(music: Floats, noise_db: float) -> None:
    rng = np.random.default_rng(4)
    times = np.arange(1.0, 19.0, 0.6) + rng.uniform(-0.1, 0.1, 30)
    ticks = [
        Planted(float(t), ("left", "right", "both")[k % 3], float(rng.uniform(8.0, 26.0)),
                ("sharp", "ringing", "grain")[k % 4 % 3])
        for k, t in enumerate(times)
    ]  # fmt: skip
    found = found_in(music, plant(music, noise_db, ticks))
    assert len(found) == len(ticks)  # none missed, none false
    errors = []
    for one in ticks:
        tick = near(found, one.time)
        assert not tick.pop
        assert tick.channel == one.channel
        assert tick.duration < 0.005
        errors.append(tick.size_db - one.size_db)
    # By the definition; noise under a tick moves its peak, most where both are of a size.
    assert abs(float(np.median(errors))) < 0.5
    assert float(np.max(np.abs(errors))) < 3.0


def test_sizes_without_noise_are_those_of_the_definition(music: Floats) -> None:
    ticks = [Planted(1.5 + 1.1 * k, ("left", "right", "both")[k % 3], 10.0 + k) for k in range(15)]
    found = found_in(music, plant(music, -90.0, ticks))
    for one in ticks:
        assert near(found, one.time).size_db == pytest.approx(one.size_db, abs=0.5)


@pytest.mark.parametrize("noise_db", [-60.0, -45.0])
def test_drums_and_castanets_are_no_ticks(noise_db: float) -> None:
    sharp = struck(24.0)
    rng = np.random.default_rng(1)
    disc = play(
        sharp, noise_dbfs=noise_db, speed_error_percent=0.3, off_centre_mm=0.4, tilt_db_per_decade=2.0,
        crosstalk_db=-25.0,
    )  # fmt: skip
    assert found_in(sharp, disc.audio) == []
    # And a tick among them is still one.
    ticks = [Planted(float(t), "left", 14.0) for t in rng.uniform(1.0, 23.0, 8)]
    found = [one for one in found_in(sharp, plant(sharp, noise_db, ticks)) if one.size_db >= HEARD_DB]
    assert [one.time for one in found] == pytest.approx(sorted(one.time for one in ticks), abs=0.001)


@pytest.mark.parametrize("wrongs", [{}, {"noise_dbfs": -60.0}, {"noise_dbfs": -45.0, "noise_colour": "groove"}])
def test_nothing_is_found_where_nothing_is(music: Floats, wrongs: dict[str, Any]) -> None:
    disc = play(music, speed_error_percent=-0.4, off_centre_mm=0.5, warp_mm=1.0, gain_db=-10.0, **wrongs)
    assert found_in(music, disc.audio) == []


def test_a_tick_below_what_is_told_is_not(music: Floats) -> None:
    assert found_in(music, plant(music, -50.0, [Planted(4.0 + k, "both", LEAST_DB - 4.0) for k in range(8)])) == []


def test_a_pop_is_told_from_a_tick(music: Floats) -> None:
    audio = music + 1e-3 * np.random.default_rng(2).standard_normal(music.shape)
    t = np.arange(round(0.02 * RATE)) / RATE
    pop = 0.5 * np.exp(-t / 0.004) * np.sin(2 * np.pi * 400 * t)
    for time in (5.0, 9.3):
        at = round(time * RATE)
        audio[at : at + len(t)] += pop[:, None]
    found = found_in(music, audio.astype(np.float32))
    assert [one.pop for one in found] == [True, True]
    assert [one.time for one in found] == pytest.approx([5.0, 9.3], abs=0.004)
    assert [one.channel for one in found] == ["both", "both"]
    assert all(0.003 < one.duration < 0.03 for one in found)


def test_nothing_is_lost_or_told_twice_where_blocks_meet() -> None:
    rng = np.random.default_rng(8)
    n = 6 * RATE
    spare = 1e-4 * rng.standard_normal((2, n, 2)).astype(np.float32)
    places = np.arange(RATE // 4, n - 1000, 5003)
    spare[0, places, 0] = 0.1
    music = np.zeros_like(spare)
    noise = np.full((2, 2), 1e-4)
    for size in (n, 70_000, 30_011, 9999):
        finder = TickFinder(RATE, noise)
        found: list[Tick] = []
        for at in range(0, n, size):
            found += finder.push(Block(at, spare[:, at : at + size], music[:, at : at + size], None))
        found += finder.finish()
        assert [round(one.time * RATE) for one in found] == places.tolist()
        assert {one.channel for one in found} == {"left"}
        # By hand: 0.1 over 1e-4 and 12 dB.
        assert [one.size_db for one in found] == pytest.approx([48.0] * len(places), abs=0.1)


def test_channels_of_a_tick_by_hand() -> None:
    n = 3 * RATE
    spare, music = np.zeros((2, n, 2), dtype=np.float32), np.zeros((2, n, 2), dtype=np.float32)
    for k, pair in enumerate([(0.1, 0.0), (0.0, 0.1), (0.1, 0.06), (0.02, 0.1)]):
        spare[0, (k + 1) * RATE // 2] = pair
    finder = TickFinder(RATE, np.full((2, 2), 1e-4))
    found = [*finder.push(Block(0, spare, music, None)), *finder.finish()]
    assert [one.channel for one in found] == ["left", "right", "both", "right"]


def test_what_is_always_left_of_loud_music_is_no_tick() -> None:
    # By hand: a tenth of the music is left over everywhere, peaks and all.
    music = np.tile(above(struck(6.0, seed=4))[None].astype(np.float32), (2, 1, 1))
    finder = TickFinder(RATE, np.full((2, 2), 1e-5))
    assert [*finder.push(Block(0, 0.1 * music, music, None)), *finder.finish()] == []
