"""A chain measured whole: what was done to the signals is found again, and what is no signal is told for what it is."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest
import soxr
from scipy import signal

from discwright.errors import AudioError

sys.path.insert(0, str(Path(__file__).parent))
from chain_captures import LATE_S, RATE, both, late, measured, noise, signals, stretch, tone


@pytest.fixture(scope="module")
def whole() -> object:
    """The signals as they are."""
    return measured(signals())


def test_the_signals_themselves_are_a_perfect_chain(whole) -> None:
    """by hand: nothing between, so nothing to see but dither of 24 bits."""
    assert (whole.what, whole.found, whole.asked) == ("signals", 125, 125)
    assert (whole.start, whole.speed) == (pytest.approx(0.0, abs=1e-7), pytest.approx(0.0, abs=1e-10))
    assert whole.gain_db == pytest.approx((0.0, 0.0), abs=1e-4)
    assert all(abs(one) < 5e-4 for row in whole.response for one in (row.left_db, row.right_db))
    assert [row.frequency for row in whole.response][:3] == [20.0, 25.0, 31.5]
    assert len(whole.response) == 31
    assert max(tone.worse[1].thd for tone in whole.tones) < 1e-5
    assert whole.noise_dbfs == pytest.approx(20 * math.log10(0.5 * 2.0**-23 * math.sqrt(2 * 19_980 / 22_050)), abs=0.1)
    assert whole.separation_db > 140.0
    wiring = whole.wiring
    assert (wiring.reversed_left, wiring.reversed_right, wiring.opposed, wiring.swapped) == (False,) * 4


def test_every_tone_is_known_by_what_was_played(whole) -> None:
    for one in whole.tones:
        assert one.worse[1].frequency == pytest.approx(one.nominal, rel=2e-8)
        assert one.worse[1].level_dbfs == pytest.approx(one.played_dbfs, abs=2e-4)
        assert one.side == one.played_side
    assert len(whole.tones) == 31 + 31 + 21 + 6 + 20


def test_a_chain_wired_wrong_with_a_leak_is_seen_through() -> None:
    """Channels crossed, one of them reversed and 2 dB softer, and 40.0 and 46.0 dB between them."""
    played = late()
    left, right = played[:, 1], -(10 ** (-2 / 20)) * played[:, 0]
    report = measured(np.stack([left + 10 ** (-46 / 20) * right, right + 0.01 * left], axis=1))
    assert (report.wiring.swapped, report.wiring.opposed) == (True, True)
    assert (report.wiring.reversed_left, report.wiring.reversed_right) == (False, True)
    assert report.separation_db == pytest.approx(40.0, abs=0.01)
    by_channel = {one.worse[0]: one.separation_db for one in report.separations if one.about_hz == 1000.0}
    assert by_channel == pytest.approx({"left": 40.0, "right": 46.0}, abs=0.01)
    assert report.balance_db == pytest.approx(2.0, abs=1e-3)
    assert report.gain_db == pytest.approx((0.0, -2.0), abs=1e-3)
    assert report.start == pytest.approx(-LATE_S, abs=1e-6)
    assert 0 < report.found < report.asked


@pytest.mark.parametrize("parts", [1 + 1e-7, 1.001, 1 / 1.03])
def test_the_speed_error_is_good_to_a_hundredth_of_a_ppm(parts: float) -> None:
    """by another road: resampled by a library to so many times the rate, and captured as if at the rate."""
    heard = soxr.resample(stretch(172.0, 240.0), RATE * parts, RATE, quality="VHQ")
    report = measured(heard)
    assert report.what == "signals"
    assert 1e6 * report.speed == pytest.approx(1e6 * (parts - 1.0), abs=0.01)
    assert report.response_from == "sweep"
    assert all(abs(row.left_db) < 0.02 for row in report.response if row.frequency < 19_000.0)


def test_a_capture_at_another_rate_is_measured_as_it_is() -> None:
    heard = soxr.resample(stretch(175.0, 212.0), RATE, 96_000, quality="VHQ")
    report = measured(heard, 96_000)
    assert (report.speed, report.sample_rate_hz) == (pytest.approx(0.0, abs=1e-9), 96_000)
    assert report.gain_db[0] == pytest.approx(0.0, abs=1e-3)
    assert [one.nominal for one in report.tones][-6:] == [1000.0] * 6


def test_a_filter_and_a_polynomial_come_out_as_they_are() -> None:
    """by another road: the filter's own response within 0.02 dB; by hand: the harmonics of x + 0.02·x² + 0.05·x³."""
    played = stretch(172.0, 236.0)
    bent = played + 0.02 * played**2 + 0.05 * played**3
    sections = signal.butter(2, [15.0, 18_000.0], "bandpass", fs=RATE, output="sos")
    report = measured(signal.sosfilt(sections, bent, axis=0))
    hz = np.array([row.frequency for row in report.response])
    wanted = 20 * np.log10(np.abs(signal.sosfreqz(sections, np.append(hz, 1000.0), fs=RATE)[1]))
    for side in ("left_db", "right_db"):
        assert [getattr(row, side) for row in report.response] == pytest.approx(wanted[:-1] - wanted[-1], abs=0.02)
    level = {one.played_dbfs: one.worse[1] for one in report.tones}
    for dbfs in (-3.0, -30.0):
        peak = 10 ** (dbfs / 20)
        first = 1.0 + 0.0375 * peak**2
        assert level[dbfs].harmonics[:2] == pytest.approx((0.01 * peak / first, 0.0125 * peak**2 / first), rel=2e-3)
    swept = next(row for row in report.harmonics if row.frequency == 1000.0)
    assert swept.left[:2] == pytest.approx((0.001, 0.000125), rel=0.01)


def test_noise_and_hum_are_those_that_were_added() -> None:
    played = stretch(240.6, 299.6)
    added = noise(len(played) / RATE, 1e-4)
    added[:, 1] += tone(150.03, len(played) / RATE, 1e-3)[: len(added)]
    report = measured(played + added)
    left, right = report.noise
    assert left.level_dbfs == pytest.approx(20 * math.log10(1e-4 * math.sqrt(2 * 19_980 / 22_050)), abs=0.03)
    assert [(line.order, round(line.level_dbfs, 1)) for line in right.hum] == [(3, -60.0)]
    assert (left.hum, right.mains) == ((), 50.0)
    assert report.noise_dbfs == right.level_dbfs


def test_a_capture_with_a_piece_cut_out_is_measured_on_both_sides() -> None:
    """Of the pass of third octaves that the cut goes through, the longer part counts."""
    cut = np.concatenate([stretch(60.0, 90.0), stretch(120.0, 215.0)])
    report = measured(cut)
    assert report.what == "signals"
    for one in report.tones:
        assert one.worse[1].frequency == pytest.approx(one.nominal, rel=1e-7)
        assert one.worse[1].level_dbfs == pytest.approx(one.played_dbfs, abs=1e-3)
    found = {(one.nominal, one.played_dbfs) for one in report.tones}
    assert {(31.5, -20.0), (20.0, -10.0), (1000.0, -1.0)} <= found
    assert not {(1000.0, -20.0), (16_000.0, -20.0)} & found
    assert report.response_from == "sweep"


def test_a_capture_that_ends_in_the_middle_is_measured_as_far_as_it_goes() -> None:
    report = measured(stretch(120.0, 181.3))
    assert (report.what, report.noise, report.separation_db) == ("signals", None, None)
    assert report.response_from == "tones"
    assert [row.frequency for row in report.response if row.left_db is None] == []


def test_one_swept_sine_is_enough() -> None:
    report = measured(stretch(189.6, 212.0))
    assert (report.what, report.response_from, report.tones) == ("signals", "sweep", ())
    assert report.speed is None, "a swept sine alone shows the speed to a thousandth, and that is not told"
    assert all(row.right_db is None and abs(row.left_db) < 0.01 for row in report.response)


def test_a_mono_capture_has_one_channel() -> None:
    report = measured(stretch(172.0, 240.0).mean(axis=1), channels=1)
    assert (report.separation_db, report.balance_db, report.wiring.swapped) == (None, None, None)
    assert all(row.right_db is None and abs(row.left_db) < 0.01 for row in report.response)
    assert report.gain_db == (pytest.approx(0.0, abs=1e-3), None)


def test_full_scale_is_counted() -> None:
    report = measured(np.clip(1.5 * both(tone(1000.0, 3.0, 1.0)), -1.0, 1.0))
    assert min(report.full_scale) > 1000
    assert report.tones[0].worse[1].thd > 0.1


def test_tones_of_another_origin() -> None:
    """Stepped without pauses, and a second one at other levels: the response is that of the first series."""
    steps = [31.5, 100.0, 315.0, 1000.0, 3150.0, 10_000.0]
    sound = np.concatenate([tone(f, 1.0, 0.2 if f != 3150.0 else 0.1) for f in steps] + [tone(1000.0, 1.0, 0.02)])
    report = measured(both(sound))
    assert (report.what, report.start, report.speed) == ("tones", None, None)
    assert [one.worse[1].frequency for one in report.tones] == pytest.approx([*steps, 1000.0], rel=1e-6)
    assert [row.frequency for row in report.response] == steps
    assert [row.left_db for row in report.response] == pytest.approx([0, 0, 0, 0, -6.0206, 0], abs=1e-3)
    assert report.tones[-1].nominal is None


def test_one_side_after_the_other_shows_the_separation() -> None:
    silent = np.zeros(2 * RATE)
    left, right = tone(1000.0, 2.0, 0.5), tone(1000.0, 2.0, 0.4)
    sound = np.stack([np.concatenate([left, silent, 0.001 * right]), np.concatenate([0.01 * left, silent, right])], 1)
    report = measured(sound + noise(6.0, 1e-5))
    assert [one.side for one in report.tones] == ["left", "right"]
    assert report.separation_db == pytest.approx(40.0, abs=0.01)
    assert report.noise_dbfs == pytest.approx(20 * math.log10(1e-5 * math.sqrt(2 * 19_980 / 22_050)), abs=0.2)


def test_two_tones_of_another_origin_are_a_pair() -> None:
    played = tone(250.0, 3.0, 0.4) + tone(8000.0, 3.0, 0.1)
    report = measured(both(played + 0.01 * played**2))
    assert (report.tones, len(report.pairs)) == ((), 1)
    assert report.pairs[0].worse.second == pytest.approx(2 * 0.01 * 0.4, rel=1e-4)


def test_opposed_channels_are_seen_by_any_tone() -> None:
    sound = both(tone(1000.0, 2.0)) * (1.0, -1.0)
    assert measured(sound).wiring.opposed is True
    assert measured(both(tone(1000.0, 2.0))).wiring.opposed is False


def test_a_chain_at_rest_is_measured_by_its_noise() -> None:
    quiet = noise(6.0, 1e-4) + both(tone(50.0, 6.0, 1e-3) + tone(150.0, 6.0, 3e-4))
    report = measured(quiet)
    assert (report.what, report.tones, report.response) == ("quiet", (), ())
    assert [line.order for line in report.noise[0].hum] == [1, 3]


def melody() -> np.ndarray:
    """Plucked notes with overtones, one a third of a second, each dying away."""
    notes = []
    for k in range(48):
        frequency = 220.0 * 2.0 ** ([0, 3, 5, 7, 10, 12][k * 5 % 6] / 12)
        time = np.arange(RATE // 3) / RATE
        notes.append(sum(np.sin(2 * np.pi * n * frequency * time) / n for n in range(1, 9)) * np.exp(-4 * time) * 0.2)
    return both(np.concatenate(notes))


@pytest.mark.parametrize(
    ("sound", "words"),
    [
        (np.zeros((3 * RATE, 2)), "holds no test signal: 3.00 s of digital silence, every sample is zero; "),
        (noise(12.0, 0.1), "holds no test signal: 0:12.0 of sound up to -16.9 dBFS without a strongest frequency, as "),
        (both(tone(1000.0, 0.15)), "holds no test signal: with 0.15 s it is too short for one; "),
        (
            melody(),
            "holds no test signal: 0:16.0 of sound up to -15.2 dBFS whose strongest frequency lies between 220 Hz",
        ),
    ],
    ids=["silence", "noise", "short", "music"],
)
def test_what_is_no_signal_is_told_for_what_it_is(sound: np.ndarray, words: str) -> None:
    with pytest.raises(AudioError) as refusal:
        measured(sound)
    assert str(refusal.value).startswith(f"capture.wav {words}")
    assert str(refusal.value).endswith(
        "; capture what discwright chain --make FILE writes, or steady tones of half a second and more."
    )


def test_the_demos_music_is_no_signal() -> None:
    from discwright.programme.demo import demo_sides

    for side in demo_sides()[:2]:
        music, count = [], 0
        for block in side.blocks():
            music.append(block)
            count += len(block)
            if count > 40 * RATE:
                break
        with pytest.raises(AudioError, match="places where a tone stands still for a moment"):
            measured(np.concatenate(music))
