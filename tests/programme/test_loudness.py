"""Loudness against the conformance signals of the standards, levels against arithmetic.

Signals and readings: reference/cutting.md, sections 10.1 and 10.2.
"""

import math

import numpy as np
import pyloudnorm
import pytest
from scipy import signal

from discwright.programme.loudness import (
    LevelMeter,
    Levels,
    Loudness,
    LoudnessMeter,
    hop_frames,
    k_weighting,
    level_findings,
)

RATE = 48000


def sine(level_dbfs, seconds, hz=1000.0, rate=RATE):
    """A sine of a peak level in dBFS, the same in both channels, shape (n, 2)."""
    t = np.arange(round(seconds * rate)) / rate
    wave = 10 ** (level_dbfs / 20) * np.sin(2 * np.pi * hz * t)
    return np.column_stack([wave, wave]).astype(np.float32)


def steps(*parts):
    """Sines of (level_dbfs, seconds) one after another."""
    return np.concatenate([sine(level, seconds) for level, seconds in parts])


def fed(meter, sound, rate=RATE):
    piece = 10 * hop_frames(rate)
    for at in range(0, len(sound), piece):
        meter.feed(np.asfortranarray(sound[at : at + piece]))
    return meter.result()


def loudness(sound, rate=RATE) -> Loudness:
    return fed(LoudnessMeter(rate), sound, rate)


def levels(sound, rate=RATE) -> Levels:
    return fed(LevelMeter(rate), sound, rate)


def stereo(left, right):
    return np.column_stack([left, right]).astype(np.float32)


def gain_db(sections, hz, rate):
    _, response = signal.sosfreqz(sections, np.atleast_1d(hz), fs=rate)
    return 20 * np.log10(np.abs(response))


def test_the_coefficients_at_48_khz_are_those_printed_in_the_standard():
    # published: ITU-R BS.1770, tables 1 and 2; the gain that holds 997 Hz moves the shelf's numerator by 1e-6
    shelf, high_pass = k_weighting(48000)
    printed = [
        1.53512485958697,
        -2.69169618940638,
        1.19839281085285,
        1.0,
        -1.69065929318241,
        0.73248077421585,
    ]
    np.testing.assert_allclose(shelf, printed, rtol=1e-5)
    np.testing.assert_allclose(high_pass, [1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621], rtol=1e-10)


@pytest.mark.parametrize(
    ("hz", "gain"),
    # by another road: the printed coefficients worked out in reference 10.1
    [
        (20.0, -13.275),
        (31.5, -7.790),
        (50.0, -3.934),
        (63.0, -2.664),
        (100.0, -1.134),
        (200.0, -0.265),
        (500.0, 0.043),
        (997.0, 0.691),
        (1000.0, 0.698),
        (2000.0, 3.071),
        (4000.0, 3.968),
        (10000.0, 4.042),
        (20000.0, 4.043),
    ],
)
def test_k_weighting_has_the_gain_of_the_table(hz, gain):
    assert gain_db(k_weighting(48000), hz, 48000)[0] == pytest.approx(gain, abs=0.001)


@pytest.mark.parametrize("rate", [44100, 88200, 96000, 176400, 192000])
def test_k_weighting_is_the_same_at_every_rate(rate):
    hz = np.geomspace(20.0, 16000.0, 50)
    # published: BS.1770 asks the response of 48 kHz of every rate; 0.02 dB is a fifth of a meter's tolerance
    np.testing.assert_allclose(gain_db(k_weighting(rate), hz, rate), gain_db(k_weighting(48000), hz, 48000), atol=0.02)


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_a_full_scale_sine_of_997_hz_in_one_channel_reads_minus_3_01(rate):
    sound = sine(0.0, 5.0, hz=997.0, rate=rate)
    both = loudness(sound, rate).integrated_lufs
    sound[:, 1] = 0.0
    # published: BS.1770-4, −3.01 LKFS; computed −3.0103, and 3.0103 more in both channels
    assert loudness(sound, rate).integrated_lufs == pytest.approx(-3.0103, abs=0.005)
    assert both == pytest.approx(0.0, abs=0.005)


@pytest.mark.parametrize(
    ("case", "parts", "expected"),
    [
        # published: EBU Tech 3341, cases 1 to 5, tolerance 0.1 LU
        ("3341-1", [(-23, 20)], -23.0),
        ("3341-2", [(-33, 20)], -33.0),
        ("3341-3", [(-36, 10), (-23, 60), (-36, 10)], -23.0),
        ("3341-4", [(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23.0),
        ("3341-5", [(-26, 20), (-20, 20.1), (-26, 20)], -23.0),
    ],
)
def test_integrated_loudness_conforms(case, parts, expected):
    assert loudness(steps(*parts)).integrated_lufs == pytest.approx(expected, abs=0.1), case


@pytest.mark.parametrize(
    ("parts", "computed"),
    [
        # published meter readings of the official files: reference 10.2
        ([(-36, 10), (-23, 60), (-36, 10)], -23.014),
        ([(-26, 20), (-20, 20.1), (-26, 20)], -22.979),
        ([(-20, 20), (-30, 20)], -22.59),
        ([(-50, 20), (-35, 20), (-20, 20), (-35, 20), (-50, 20)], -24.49),
    ],
)
def test_integrated_loudness_reads_what_other_meters_read(parts, computed):
    assert loudness(steps(*parts)).integrated_lufs == pytest.approx(computed, abs=0.01)


def test_short_term_and_momentary_loudness_conform():
    # published: EBU Tech 3341, cases 1, 9 and 12, tolerance 0.1 LU
    steady = loudness(sine(-23, 20))
    assert steady.loudest_3s.lufs == pytest.approx(-23.0, abs=0.1)
    assert steady.loudest_400ms.lufs == pytest.approx(-23.0, abs=0.1)
    assert loudness(steps(*[(-20, 1.34), (-30, 1.66)] * 5)).loudest_3s.lufs == pytest.approx(-23.0, abs=0.1)
    pulsed = loudness(steps(*[(-20, 0.18), (-30, 0.22)] * 25))
    assert pulsed.loudest_400ms.lufs == pytest.approx(-23.0, abs=0.1)


@pytest.mark.parametrize(
    ("case", "parts", "expected"),
    [
        # published: EBU Tech 3342, cases 1 to 4, tolerance 1 LU
        ("3342-1", [(-20, 20), (-30, 20)], 10.0),
        ("3342-2", [(-20, 20), (-15, 20)], 5.0),
        ("3342-3", [(-40, 20), (-20, 20)], 20.0),
        ("3342-4", [(-50, 20), (-35, 20), (-20, 20), (-35, 20), (-50, 20)], 15.0),
    ],
)
def test_loudness_range_conforms(case, parts, expected):
    assert loudness(steps(*parts)).loudness_range_lu == pytest.approx(expected, abs=1.0), case


def test_integrated_loudness_agrees_with_pyloudnorm():
    rng = np.random.default_rng(1)
    envelope = np.repeat(rng.uniform(0.001, 0.3, 30), RATE // 2)
    sound = (rng.normal(size=(envelope.size, 2)) * envelope[:, None]).astype(np.float32)
    # by another road: the same standard, gated by another program
    other = pyloudnorm.Meter(RATE, filter_class="DeMan").integrated_loudness(sound.astype(np.float64))
    assert loudness(sound).integrated_lufs == pytest.approx(other, abs=0.001)


def test_the_loudest_windows_say_where_they_start():
    found = loudness(steps((-30, 5), (-12, 0.4), (-30, 5), (-20, 3), (-30, 5)))
    # by hand: the burst starts at 5.0 s; over 3 s the passage from 10.4 s outweighs it (0.030 to 0.028)
    assert found.loudest_400ms.time_s == pytest.approx(5.0, abs=0.11)
    assert found.loudest_3s.time_s == pytest.approx(10.4, abs=0.11)


@pytest.mark.parametrize("seconds", [0.0, 0.05, 0.39])
def test_what_is_shorter_than_400_ms_has_no_loudness(seconds):
    found = loudness(sine(-20, seconds))
    assert found.integrated_lufs is None
    assert found.loudest_400ms.lufs is found.loudest_400ms.time_s is found.loudness_range_lu is None


def test_silence_has_no_loudness():
    found = loudness(np.zeros((5 * RATE, 2), dtype=np.float32))
    assert found.integrated_lufs is found.loudness_range_lu is found.loudest_3s.lufs is None


def test_levels_of_a_sine_and_of_its_soft_passage():
    found = levels(steps((-10, 6), (-40, 6)))
    # by hand: a sine's rms lies 3.0103 dB under its peak
    assert found.loudest.level_dbfs == pytest.approx(-13.0103, abs=0.001)
    assert found.softest.level_dbfs == pytest.approx(-43.0103, abs=0.001)
    assert found.loudest.time_s == pytest.approx(0.0, abs=3.0)
    assert found.softest.time_s >= 6.0


def test_silence_and_the_last_of_a_fade_are_no_soft_passage():
    silence = np.zeros((5 * RATE, 2), dtype=np.float32)
    found = levels(np.concatenate([silence, sine(-20, 4), sine(-30, 4), sine(-80, 5), silence]))
    # by hand: −30 − 3.01; the hum at −80 and the silence lie below the gate
    assert found.softest.level_dbfs == pytest.approx(-33.0103, abs=0.01)


def test_the_noise_floor_is_that_of_the_quietest_second_which_is_not_dead():
    rng = np.random.default_rng(2)
    hiss = rng.normal(0.0, 1e-4, (2 * RATE, 2)).astype(np.float32)
    dead = np.zeros((2 * RATE, 2), dtype=np.float32)
    found = levels(np.concatenate([sine(-20, 3), hiss, sine(-20, 3), dead]))
    # by hand: 20·log10(1e-4)
    assert found.noise_floor_dbfs == pytest.approx(-80.0, abs=0.2)
    assert levels(dead).noise_floor_dbfs is None


def test_direct_current_is_read_and_kept_out_of_the_levels():
    sound = sine(-20, 4) + np.array([0.25, -0.5], dtype=np.float32)
    found = levels(sound)
    # by hand
    assert found.dc == pytest.approx((0.25, -0.5), abs=1e-6)
    assert found.loudest.level_dbfs == pytest.approx(-23.0103, abs=0.001)
    assert found.correlation == pytest.approx(1.0, abs=1e-6)


def test_direct_current_alone_is_silence():
    found = levels(np.full((4 * RATE, 2), 0.1, dtype=np.float32))
    assert found.rms == (0.0, 0.0)
    assert found.correlation is found.loudest.level_dbfs is found.softest.level_dbfs is None


def test_correlation_of_a_known_mixture():
    rng = np.random.default_rng(3)
    a, b = rng.normal(0.0, 0.1, (2, 10 * RATE))
    # by hand: left a, right 0.6 a + 0.8 b correlate by 0.6
    assert levels(stereo(a, 0.6 * a + 0.8 * b)).correlation == pytest.approx(0.6, abs=0.01)
    assert levels(stereo(a, -a)).correlation == pytest.approx(-1.0, abs=1e-9)
    assert levels(stereo(a, 0.0 * a)).correlation is None


NOISE = np.random.default_rng(4).normal(0.0, 0.1, (2, 4 * RATE))


@pytest.mark.parametrize(
    ("left", "right", "code", "severity"),
    [
        (NOISE[0], NOISE[0], "mono", "note"),
        (NOISE[0], 0 * NOISE[0], "one_channel", "warn"),
        (0 * NOISE[0], 0 * NOISE[0], "no_sound", "warn"),
        (NOISE[0], -0.5 * NOISE[0], "polarity", "warn"),
        (NOISE[0], NOISE[1] / 1.25, "balance", "note"),
        (NOISE[0] + 0.002, NOISE[1], "dc", "note"),
    ],
)
def test_each_trouble_between_the_channels_has_its_own_finding(left, right, code, severity):
    findings = level_findings(levels(stereo(left, right)))
    assert [(f.code, f.severity) for f in findings] == [(code, severity)]
    assert math.isfinite(findings[0].value)


def test_an_ordinary_stereo_pair_has_no_finding():
    assert level_findings(levels(stereo(NOISE[0], 0.9 * NOISE[1] + 0.0005))) == []
