"""The signals: laid out alike at every rate, gentle in the treble, the same samples for the same call."""

from __future__ import annotations

import math
from itertools import islice, pairwise

import numpy as np
import pytest

from discwright.errors import CallError
from discwright.programme.chain_signals import (
    CHIRP_GAP_S,
    CHIRP_S,
    RATES_HZ,
    SWEEP_S,
    THIRDS_HZ,
    chirp_at,
    duration,
    pieces,
    signal_blocks,
    sweep_at,
    sweep_rate,
    wave_of,
)


def test_stretches_follow_one_another_and_begin_on_a_sample_of_every_rate() -> None:
    found = pieces()
    assert all(one.end <= other.start for one, other in pairwise(found))
    assert found[-1].end < duration() == pytest.approx(300.0, abs=1.0)
    for piece in found:
        for rate in RATES_HZ:
            assert piece.start * rate == pytest.approx(round(piece.start * rate), abs=1e-6)


def test_every_block_begins_with_a_chirp() -> None:
    found = pieces()
    first = {piece.block: piece for piece in reversed(found)}
    assert {one.kind for one in first.values()} == {"chirp"}
    assert sum(piece.kind == "chirp" for piece in found) == len(first) == 11
    for piece in found:
        if piece.kind == "chirp" and piece is not found[-1]:
            following = found[found.index(piece) + 1]
            assert following.start - piece.start == pytest.approx(CHIRP_S + CHIRP_GAP_S)


def test_every_third_octave_is_played_at_two_levels_and_1_khz_at_nine() -> None:
    tones = [piece for piece in pieces() if piece.kind == "tone" and piece.side == "both"]
    for frequency in THIRDS_HZ:
        assert {-40.0, -20.0} <= {piece.level_dbfs for piece in tones if piece.frequency == frequency}
    assert len({piece.level_dbfs for piece in tones if piece.frequency == 1000.0}) == 9


def test_the_treble_is_gentle_to_a_cutting_head() -> None:
    """house rule: nothing above 2 kHz passes −20 dBFS, also as one of two."""
    for piece in pieces():
        level = piece.level_dbfs
        if piece.kind == "pair":
            level += 20.0 * math.log10(1.0 / (1.0 + piece.ratio))
        if max(piece.frequency, piece.second) > 2000.0 or piece.kind == "sweep":
            assert level <= -20.0


def test_the_swept_sine_rises_evenly_by_octaves() -> None:
    """by another road: zero crossings around the moment at which it passes 1 kHz and 10 kHz."""
    for frequency in (1000.0, 10_000.0):
        middle = sweep_rate() * math.log(frequency / 5.0)
        time = middle + np.linspace(-20.0 / frequency, 20.0 / frequency, 40_001)
        ups = np.flatnonzero(np.diff(np.signbit(sweep_at(time)).astype(int)) == -1)
        period = float(np.median(np.diff(time[ups])))
        assert 1.0 / period == pytest.approx(frequency, rel=0.005)
    assert sweep_at(np.array([-0.1, 0.0, SWEEP_S, SWEEP_S + 1.0])) == pytest.approx(0.0)


def test_a_pair_peaks_at_its_level() -> None:
    for piece in pieces():
        if piece.kind == "pair":
            wave = wave_of(piece, 1.0 + np.arange(200_000) * 1e-7)
            assert 20.0 * math.log10(np.abs(wave).max()) == pytest.approx(piece.level_dbfs, abs=0.01)


def test_the_same_call_makes_the_same_samples() -> None:
    one, other = (list(islice(signal_blocks(44_100, 16), 4)) for _ in range(2))
    assert all(np.array_equal(a, b) for a, b in zip(one, other, strict=True))
    assert all(not (block & 0xFFFF).any() for block in one), "16 bits stand in the upper half"
    assert all(not (block & 0xFF).any() for block in islice(signal_blocks(44_100, 24), 4))


def test_a_pause_holds_dither_of_half_a_step() -> None:
    """by hand: triangular dither of 1/6 and rounding of 1/12 of a step squared."""
    pause = next(signal_blocks(48_000, 16)) / 2.0**16
    assert float(np.sqrt(np.mean(np.square(pause)))) == pytest.approx(0.5, rel=0.02)


def test_a_chirp_stands_in_the_samples_where_it_should() -> None:
    blocks = signal_blocks(48_000, 24)
    next(blocks)
    sound = next(blocks) / 2.0**31
    wanted = chirp_at(np.arange(len(sound)) / 48_000)
    assert sound[:, 0] == pytest.approx(wanted, abs=3e-7)
    assert sound[:, 1] == pytest.approx(wanted, abs=3e-7)


@pytest.mark.parametrize(
    ("rate", "bits", "words"),
    [
        (8000, 24, "signals are not made at 8000 Hz; choose from 44100, 48000, 88200, 96000, 176400, 192000."),
        (48_000, 8, "signals are not made with 8 bits; choose 16 or 24."),
    ],
)
def test_what_cannot_be_made_is_refused_before_anything_is(rate: int, bits: int, words: str) -> None:
    with pytest.raises(CallError) as refusal:
        signal_blocks(rate, bits)
    assert str(refusal.value) == words
