"""Levels foretold from what bands took where they were laid."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support import coarse_setup

from discwright.files.settings import load_setup
from discwright.groove.band_trace import BandTrace, predict_level, unknown_trace

SETUP = load_setup("12in-33")
#: By hand: 146.3 - 60.325 mm.
ROOM = 85.975e-3
#: What silence takes a turn, and the pitch of a join.
SILENT, JOIN = 40e-6, 1e-3
#: The prediction is looked for to so much, dB.
FINE = 0.006


def band(turns: float, modulated: float, gain: float = 1.0, steep: float = 0.0, gap: float = 0.0) -> BandTrace:
    return BandTrace(turns, gap, gain, modulated, np.full(4, steep))


def test_room_alone_by_hand() -> None:
    # By hand: 1000 turns leave 45.975 mm for the music, which takes 20 mm at 0 dB, growing with gain to the 1.06.
    expected = 20 * math.log10((ROOM - 1000 * SILENT) / 20e-3) / 1.06
    assert predict_level([band(1000.0, 20e-3)], SETUP) == pytest.approx(expected, abs=FINE)


def test_two_bands_and_a_join_by_hand() -> None:
    # By hand: the join takes a turn and a half at 1 mm; the gap after the last band does not count.
    expected = 20 * math.log10((ROOM - 1000 * SILENT - 1.5 * JOIN) / 20e-3) / 1.06
    traces = [band(400.0, 15e-3, gap=1.5), band(600.0, 5e-3, gap=99.0)]
    assert predict_level(traces, SETUP) == pytest.approx(expected, abs=FINE)
    assert predict_level(traces[::-1], SETUP) < expected - 1.0, "now the long gap counts"


def test_what_was_laid_at_another_gain() -> None:
    # By hand: 10 mm at -6 dB are 10 mm · 2^1.06 (for a gain of one half) at 0 dB.
    half = [band(1000.0, 10e-3, gain=0.5)]
    assert predict_level(half, SETUP) == pytest.approx(
        predict_level([band(1000.0, 10e-3 * 2**1.06)], SETUP), abs=FINE
    )  # fmt: skip


def test_slope_alone_by_hand() -> None:
    # By hand: 2π · 146.3 mm / 1.8 s = 51.068 cm/s clears 45°; an edge at 5.1068 cm/s may grow by 20 dB, at the rim.
    (level,) = (predict_level([replace(band(0.001, 0.0), steepness=np.array([5.1068e-2]))], SETUP),)
    assert level == pytest.approx(20.0, abs=0.01)
    # Half way in, at 73.15 mm, 6.02 dB less: 1828.75 turns of silence take half of that radius.
    inner = [band(1828.75, 0.0), replace(band(0.001, 0.0), steepness=np.array([5.1068e-2]))]
    assert predict_level(inner, SETUP) == pytest.approx(20 - 6.02, abs=0.02)


def test_steep_bands_belong_outside() -> None:
    steep, plain = band(300.0, 1e-4, steep=0.1), band(1500.0, 1e-4, steep=0.01)
    assert predict_level([steep, plain], SETUP) > predict_level([plain, steep], SETUP) + 3.0


def test_where_a_limit_of_the_band_itself_caps_it() -> None:
    # By hand: a gain of two is 6.02 dB, wherever the band lies.
    capped = replace(band(10.0, 1e-5), cap=2.0)
    for traces in ([capped], [band(500.0, 1e-4), capped], [capped, band(500.0, 1e-4)]):
        assert predict_level(traces, SETUP) == pytest.approx(20 * math.log10(2.0), abs=FINE)


@pytest.mark.parametrize(("turns", "fits"), [(2149.0, True), (2150.0, False)])
def test_even_silence_is_too_long(turns: float, fits: bool) -> None:
    # By hand: 85.975 mm / 40 µm = 2149.4 turns.
    assert (predict_level([unknown_trace(turns, 0.0)], SETUP) > -math.inf) == fits


def test_joins_alone_can_be_too_long() -> None:
    # By hand: 86 turns of 1 mm.
    assert predict_level([band(1.0, 0.0, gap=86.0), band(1.0, 0.0)], SETUP) == -math.inf


def test_ends_of_the_range() -> None:
    # By hand: nothing limits 10 turns below 24 dB; steep beyond all measure stays at -40 dB.
    assert predict_level([band(10.0, 0.0)], SETUP) == pytest.approx(24.0, abs=FINE)
    assert predict_level([band(10.0, 0.0, steep=1e6)], SETUP) == pytest.approx(-40.0, abs=FINE)


def test_an_unknown_band_takes_sixty_microns_a_turn() -> None:
    # Regression only: 60 µm beyond silence at 0 dB before anything is known.
    trace = unknown_trace(700.0, 1.1)
    assert (trace.turns, trace.gap_turns, trace.gain) == (700.0, 1.1, 1.0)
    assert trace.modulated == pytest.approx(700 * 60e-6)
    assert predict_level([trace], SETUP) > 0.0


BANDS = st.lists(
    st.builds(
        band,
        st.floats(1.0, 400.0),
        st.floats(0.0, 30e-3),
        st.floats(0.1, 8.0),
        st.floats(0.0, 0.3),
        st.floats(0.0, 3.0),
    ),
    min_size=1,
    max_size=4,
)


@given(traces=BANDS, more=st.floats(1.01, 3.0), data=st.data())
def test_more_of_anything_never_raises_the_level(traces: list[BandTrace], more: float, data: st.DataObject) -> None:
    setup = coarse_setup()
    level = predict_level(traces, setup)
    i = data.draw(st.integers(0, len(traces) - 1))
    one = traces[i]
    for heavier in (
        replace(one, turns=one.turns * more, modulated=one.modulated),
        replace(one, modulated=one.modulated * more),
        replace(one, steepness=one.steepness * more),
        replace(one, gap_turns=one.gap_turns * more),
        replace(one, gain=one.gain / more),
        replace(one, cap=1.0),
    ):
        assert predict_level([*traces[:i], heavier, *traces[i + 1 :]], setup) <= level + FINE
    assert predict_level([*traces, one], setup) <= level + FINE
    assert level == -math.inf or -40.0 <= level <= 24.0


@given(traces=BANDS, gain=st.floats(0.25, 4.0))
def test_a_louder_programme_is_laid_so_much_lower(traces: list[BandTrace], gain: float) -> None:
    """By another road: the same programme at another gain has everything else scaled, and the level with it."""
    level = predict_level(traces, SETUP)
    louder = [replace(t, steepness=t.steepness * gain, gain=t.gain / gain) for t in traces]
    expected = level - 20 * math.log10(gain)
    if min(level, expected) > -39.9 and max(level, expected) < 23.9:
        assert predict_level(louder, SETUP) == pytest.approx(expected, abs=2 * FINE)
