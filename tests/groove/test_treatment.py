"""The chain of treatments: what each takes out, what it leaves alone, and what it says it did."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from discwright.errors import CallError, SettingsError
from discwright.groove.curve import wall_response
from discwright.groove.treatment import CHUNK, CurvatureLimit, Treating, TreatmentReport
from discwright.programme.title import Treatment

Single = NDArray[np.float32]
RATES = [44_100, 48_000, 88_200, 96_000, 192_000]
OPEN = CurvatureLimit(np.array([0.0]), np.array([1e9]))


def treat(
    x: NDArray[np.floating], rate: int, *treatments: Treatment, limit: CurvatureLimit | None = OPEN
) -> tuple[Single, tuple[TreatmentReport, ...]]:
    chain = Treating(treatments, rate, limit)
    blocks = list(chain.blocks([np.asarray(x, dtype=np.float32)]))
    return np.concatenate(blocks) if blocks else np.zeros((0, 2), dtype=np.float32), chain.reports


def tone(hz: float, rate: int, seconds: float = 1.0, left: float = 0.5, right: float = 0.5) -> Single:
    wave = np.sin(2 * np.pi * hz * np.arange(round(seconds * rate)) / rate)
    return np.stack([left * wave, right * wave], axis=1).astype(np.float32)


def music(seconds: float, rate: int, seed: int = 3) -> Single:
    rng = np.random.default_rng(seed)
    return (np.cumsum(rng.standard_normal((round(seconds * rate), 2)), axis=0) % 2 - 1).astype(np.float32) * 0.5


def amplitude(x: NDArray[np.floating], hz: float, rate: int) -> float:
    """By hand: of the sine at `hz` in the second half of x, over whole periods."""
    n = round(math.floor(len(x) / 2 / rate * hz) / hz * rate)
    wave = np.exp(-2j * np.pi * hz * np.arange(n) / rate)
    return float(2 * abs(np.mean(np.asarray(x[-n:], dtype=np.float64) * wave)))


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize(
    ("treatment", "corner"),
    [
        (Treatment("bass_blend", below=150.0), 150.0),
        (Treatment("bass_blend", below=300.0), 300.0),
        (Treatment("low_cut", below=20.0), 20.0),
        (Treatment("high_cut", above=16_000.0), 16_000.0),
    ],
)
def test_the_corner_lies_where_it_is_written(rate: int, treatment: Treatment, corner: float) -> None:
    """Published (definition of the Butterworth response): 1/sqrt(2) at the corner; 0.05 dB for the measurement."""
    out, _ = treat(tone(corner, rate, 2.0, 0.5, -0.5), rate, treatment)
    for c in (0, 1):
        assert 20 * math.log10(amplitude(out[:, c], corner, rate) / 0.5) == pytest.approx(-3.0103, abs=0.05)


@pytest.mark.parametrize("rate", [44_100, 192_000])
@pytest.mark.parametrize("octaves", [1, 2, 3])
def test_twelve_decibels_an_octave(rate: int, octaves: int) -> None:
    """Published: |H|² = 1/(1 + (corner/f)^4) of the second-order Butterworth high-pass, f far below the sample rate."""
    hz = 200.0 / 2**octaves
    out, _ = treat(tone(hz, rate, 2.0, 0.5, -0.5), rate, Treatment("bass_blend", below=200.0))
    wanted = 0.5 / math.sqrt(1 + (200.0 / hz) ** 4)
    assert amplitude(out[:, 0], hz, rate) == pytest.approx(wanted, rel=2e-3)


@pytest.mark.parametrize("rate", RATES)
def test_the_blend_leaves_the_lateral_half(rate: int) -> None:
    """By hand: what leaves one channel goes to the other."""
    x = music(1.5, rate)
    out, _ = treat(x, rate, Treatment("bass_blend", below=150.0))
    assert not np.array_equal(out, x)
    lateral = (x.astype(np.float64).sum(axis=1) / 2, out.astype(np.float64).sum(axis=1) / 2)
    assert np.abs(lateral[1] - lateral[0]).max() <= 1e-6


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_a_mono_side_passes_the_blend_bit_by_bit(rate: int) -> None:
    """By hand: no side signal, nothing to take out."""
    x = music(2.0, rate)
    x[:, 1] = x[:, 0]
    out, (report,) = treat(x, rate, Treatment("bass_blend", below=150.0))
    assert np.array_equal(out, x)
    assert report.first is report.last is None
    assert report.spans == ()
    assert report.seconds == report.worst == 0.0
    assert report.greatest_db == -math.inf
    assert report.sentence() == "bass blend below 150 Hz: nothing there to take out"


def test_what_turns_mono_is_mono_again() -> None:
    """By hand: the tail of the blend at 150 Hz falls by e every 1.5 ms, to -187 dB within 40 ms."""
    x = music(2.0, 44_100)
    x[44_100:, 1] = x[44_100:, 0]
    out, _ = treat(x, 44_100, Treatment("bass_blend", below=150.0))
    assert np.array_equal(out[46_000:], x[46_000:])
    assert not np.array_equal(out[44_100:44_200], x[44_100:44_200])


CHAIN = (
    Treatment("treble_limit"),
    Treatment("low_cut", below=20.0),
    Treatment("bass_blend", below=150.0),
    Treatment("high_cut", above=17_000.0),
)
_X = music(3.2, 44_100, seed=9)
_LIMIT = CurvatureLimit(np.array([0.0, 3.0]), np.array([4000.0, 2500.0]))
_KEPT: list[tuple[Single, tuple[TreatmentReport, ...]]] = []


@settings(max_examples=10, deadline=None)
@given(st.lists(st.integers(0, 150_000), max_size=8))
def test_bits_and_reports_do_not_depend_on_the_blocks(cuts: list[int]) -> None:
    """By hand: any division gives the same bits and the same words."""
    if not _KEPT:
        _KEPT.append(treat(_X, 44_100, *CHAIN, limit=_LIMIT))
    wanted, reports = _KEPT[0]
    chain = Treating(CHAIN, 44_100, _LIMIT)
    out = np.concatenate(list(chain.blocks(np.split(_X, sorted(cuts)))))
    assert out.shape == _X.shape
    assert np.array_equal(out, wanted)
    assert chain.reports == reports


def test_the_order_of_action() -> None:
    """By hand: filters as they are written, the limiter last; by another road: one after the other."""
    out, reports = treat(_X, 44_100, *CHAIN, limit=_LIMIT)
    assert [r.kind for r in reports] == ["low_cut", "bass_blend", "high_cut", "treble_limit"]
    step = _X
    for one in (*CHAIN[1:], CHAIN[0]):
        step, _ = treat(step, 44_100, one, limit=_LIMIT)
    assert np.array_equal(out, step)
    assert reports[-1].left is not None
    assert reports[-1].left <= 1.0


def test_nothing_asked_for_is_nothing_done() -> None:
    """By hand."""
    out, reports = treat(_X, 44_100, limit=None)
    assert np.array_equal(out, _X)
    assert reports == ()


@pytest.mark.parametrize("n", [0, 1, 2, 441, CHUNK - 1, CHUNK, CHUNK + 1])
def test_any_length(n: int) -> None:
    """By hand: as long as the input; silence stays silence, and the reports say so."""
    out, reports = treat(np.zeros((n, 2)), 44_100, *CHAIN)
    assert np.array_equal(out, np.zeros((n, 2), dtype=np.float32))
    assert all(r.first is None and r.seconds == 0 for r in reports)
    out, _ = treat(np.full((n, 2), 0.5), 44_100, *CHAIN)
    assert out.shape == (n, 2)
    assert np.isfinite(out).all()


def test_a_chain_may_be_used_twice() -> None:
    """By hand: nothing lingers from the first time."""
    chain = Treating(CHAIN, 44_100, _LIMIT)
    first = np.concatenate(list(chain.blocks([_X])))
    reports = chain.reports
    assert np.array_equal(np.concatenate(list(chain.blocks([_X]))), first)
    assert chain.reports == reports


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_the_blend_reports_a_planted_burst(rate: int) -> None:
    """By hand: half a second of vertical 40 Hz at 0.1, of which |H| = 1/sqrt(1 + (40/150)^4) lies below the corner."""
    x = np.zeros((4 * rate, 2), dtype=np.float32)
    x[2 * rate : 2 * rate + rate // 2] = tone(40.0, rate, 0.5, 0.1, -0.1)
    _, (report,) = treat(x, rate, Treatment("bass_blend", below=150.0))
    assert report.corner == 150.0
    assert report.first == pytest.approx(2.0, abs=0.011)
    # The tail falls below 1e-4 some 10 ms after the end.
    assert report.last == pytest.approx(2.52, abs=0.02)
    assert report.seconds == pytest.approx(0.52, abs=0.02)
    assert 2.0 <= report.worst <= 2.5
    # 50 ms are two whole periods: the level is that of the sine, but for its begin and end (0.3 dB).
    assert report.greatest_db == pytest.approx(20 * math.log10(0.1 / math.sqrt(1 + (40 / 150) ** 4)), abs=0.3)
    assert len(report.spans) == 1
    assert report.spans[0] == (report.first, report.last)
    words = report.sentence()
    assert words.startswith("bass blend below 150 Hz: side signal taken out, most at 0:02.")
    assert words.endswith(f"({report.greatest_db:.1f} dBFS), {report.seconds * 1000:.0f} ms in all")


def test_a_cut_reports_what_it_takes_and_not_what_it_turns() -> None:
    """By hand: 200 Hz above a low cut at 20 Hz loses 1 % of its amplitude to the completing filter."""
    _, (report,) = treat(tone(200.0, 44_100, 2.0, 1.0, 0.0), 44_100, Treatment("low_cut", below=20.0))
    middle = [s for s in report.spans if s[0] < 1.0 < s[1]]
    assert middle
    _, (quiet,) = treat(tone(2000.0, 44_100, 2.0, 0.5, 0.0), 44_100, Treatment("low_cut", below=20.0))
    # By hand: 0.5·(20/2000)² = 5e-5, below what counts; only the begin of the tone, half a wave of one sign, passes.
    assert quiet.last is not None
    assert quiet.last < 0.2
    _, (high,) = treat(tone(12_000.0, 44_100, 1.0, 0.5, 0.5), 44_100, Treatment("high_cut", above=12_000.0))
    assert high.greatest_db == pytest.approx(20 * math.log10(0.5 / math.sqrt(2)), abs=0.2)
    assert high.seconds == pytest.approx(1.0, abs=0.02)
    assert high.sentence().startswith("high cut above 12000 Hz: treble taken out of both channels, most at 0:0")


def test_the_limiter_reports_a_planted_burst() -> None:
    """By hand: a tone at 8 kHz of which half is allowed has to come down by 6.02 dB and half a percent."""
    rate = 48_000
    x = np.zeros((5 * rate, 2), dtype=np.float32)
    n = rate // 10
    x[3 * rate : 3 * rate + n] = tone(8000.0, rate, 0.1) * np.sin(np.pi * np.arange(n) / n)[:, None] ** 2
    limit = float(abs(wall_response(8000.0, 10.0, 2))) * 0.25
    allowed = CurvatureLimit(np.array([0.0]), np.array([limit]))
    out, (report,) = treat(x, rate, Treatment("treble_limit"), limit=allowed)
    touched = np.flatnonzero((out != x).any(axis=1))
    assert report.corner is None
    assert report.greatest_db == pytest.approx(20 * math.log10(2 / 0.995), abs=0.05)
    assert report.worst == pytest.approx(3.05, abs=0.01)
    # By hand: sin² is above a half in the middle 50 ms; 3 ms of fade before, 6 ms of hold and fade after.
    assert report.first == pytest.approx(3.025 - 0.003, abs=0.001)
    assert report.last == pytest.approx(3.075 + 0.006, abs=0.001)
    assert report.seconds == pytest.approx(report.last - report.first, abs=1e-9)
    assert report.first <= touched[0] / rate
    assert touched[-1] / rate < report.last
    assert report.spans == ((report.first, report.last),)
    assert report.left is not None
    assert 0.98 < report.left <= 1.0
    words = report.sentence()
    assert words.startswith("treble limit: treble lowered where the playing tip could not follow, most at 0:03.")
    assert words.endswith(f" (-{report.greatest_db:.1f} dB), {report.seconds * 1000:.0f} ms in all")


def test_the_limiter_says_where_nothing_was_done_or_not_enough() -> None:
    """By hand."""
    _, (report,) = treat(tone(1000.0, 44_100), 44_100, Treatment("treble_limit"))
    assert (report.greatest_db, report.seconds, report.first) == (0.0, 0.0, None)
    assert report.sentence() == "treble limit: nothing bends more sharply than the playing tip can follow"
    over = replace(report, first=1.0, last=192.5, seconds=84.2, worst=192.4, greatest_db=3.12, left=1.25)
    assert over.sentence() == (
        "treble limit: treble lowered where the playing tip could not follow, most at 3:12.4 (-3.1 dB), 84.2 s in all; "
        "still 1.25 × the limit in places: lower the side"
    )


def test_the_twenty_greatest_spans_are_kept() -> None:
    """By hand: thirty bursts, each a little louder than the one before; those 100 ms apart stay apart."""
    rate = 44_100
    x = np.zeros((32 * rate // 2, 2), dtype=np.float32)
    for k in range(30):
        at = (k + 1) * rate // 2
        x[at : at + rate // 5] = tone(50.0, rate, 0.2, 0.1 + 0.01 * k, -0.1 - 0.01 * k)
    _, (report,) = treat(x, rate, Treatment("bass_blend", below=150.0))
    assert len(report.spans) == 20
    assert [round(2 * begin) for begin, _ in report.spans] == list(range(11, 31))
    assert report.first == pytest.approx(0.5, abs=0.011)
    assert report.worst == pytest.approx(15.1, abs=0.1)


@pytest.mark.parametrize(
    ("treatment", "words"),
    [
        (Treatment("low_cut"), "The low cut has no corner; write below_hz."),
        (Treatment("high_cut", below=100.0), "The high cut has no corner; write above_hz."),
        (
            Treatment("high_cut", above=19_845.0),
            "The high cut above 19845 Hz cannot be made at 44100 Hz; write a corner above 0 and below 19845 Hz.",
        ),
        (
            Treatment("bass_blend", below=0.0),
            "The bass blend below 0 Hz cannot be made at 44100 Hz; write a corner above 0 and below 19845 Hz.",
        ),
        (
            Treatment("low_cut", below=math.nan),
            "The low cut below nan Hz cannot be made at 44100 Hz; write a corner above 0 and below 19845 Hz.",
        ),
        (
            Treatment("widen"),
            "There is no treatment “widen”; write one of low_cut, high_cut, bass_blend, treble_limit.",
        ),
    ],
)
def test_what_cannot_be_made_is_refused(treatment: Treatment, words: str) -> None:
    """By hand."""
    with pytest.raises(SettingsError) as refused:
        Treating((treatment,), 44_100)
    assert str(refused.value) == words


def test_wrong_calls_are_refused() -> None:
    """By hand."""
    limiter = Treatment("treble_limit")
    with pytest.raises(SettingsError, match=r"more than once for a side; write it once\.$"):
        Treating((limiter, limiter), 44_100, OPEN)
    with pytest.raises(CallError, match=r"give a CurvatureLimit\.$"):
        Treating((limiter,), 44_100)
    chain = Treating((), 44_100)
    with pytest.raises(CallError, match=r"take all blocks first\.$"):
        _ = chain.reports
    with pytest.raises(CallError, match=r"give \(n, 2\), left then right\.$"):
        list(chain.blocks([np.zeros((4, 1), dtype=np.float32)]))
