"""True peak against the conformance signals; flat tops, silences and clicks planted on purpose."""

import numpy as np
import pytest
from scipy import signal

from discwright.programme.peaks import (
    Click,
    ClickFinder,
    ClippedRun,
    ClippingFinder,
    PeakMeter,
    Silence,
    SilenceFinder,
    peak_findings,
)

RATE = 48000


def fed(meter, sound, piece=20000):
    for at in range(0, len(sound), piece):
        meter.feed(np.asfortranarray(sound[at : at + piece]))
    return meter.result()


def both(wave):
    return np.column_stack([wave, wave]).astype(np.float32)


def sine(hz, seconds=1.0, amplitude=1.0, phase_deg=0.0, rate=RATE):
    return amplitude * np.sin(2 * np.pi * hz * np.arange(round(seconds * rate)) / rate + np.radians(phase_deg))


def music(seed=0, seconds=4.0, rms=0.1):
    """Something like music: noise that falls by 12 dB an octave from 500 Hz, with an envelope of notes."""
    rng = np.random.default_rng(seed)
    n = round(seconds * RATE)
    soft = signal.sosfilt(signal.butter(2, 500.0, fs=RATE, output="sos"), rng.normal(size=(2, n)))
    notes = np.repeat(rng.uniform(0.2, 1.0, n // 4800 + 1), 4800)[:n]
    smooth = signal.sosfiltfilt(signal.butter(1, 20.0, fs=RATE, output="sos"), notes)
    wave = soft * smooth
    return (rms * wave / wave.std()).T.astype(np.float32)


@pytest.mark.parametrize(
    ("case", "divisor", "phase_deg", "amplitude", "expected"),
    [
        # published: EBU Tech 3341, cases 15 to 19, tolerance +0.2 −0.4 dB
        ("3341-15", 4, 0.0, 0.5, -6.0),
        ("3341-16", 4, 45.0, 0.5, -6.0),
        ("3341-17", 6, 60.0, 0.5, -6.0),
        ("3341-18", 8, 67.5, 0.5, -6.0),
        ("3341-19", 4, 45.0, 1.41, 3.0),
    ],
)
@pytest.mark.parametrize("rate", [44100, 48000])
def test_true_peak_conforms(case, divisor, phase_deg, amplitude, expected, rate):
    wave = sine(rate / divisor, 1.0, amplitude, phase_deg, rate)
    # Faded at both ends: a sine that starts at full level overshoots in truth.
    wave *= signal.windows.tukey(wave.size, 0.2)
    _, true = fed(PeakMeter(rate), both(wave))
    for channel in true:
        error = 20 * np.log10(channel) - expected
        assert -0.4 <= error <= 0.2, case


def test_true_peak_is_never_below_the_sample_peak():
    wave = sine(RATE / 4, 0.5, 0.5)
    sample, true = fed(PeakMeter(RATE), np.column_stack([wave, -0.5 * wave]).astype(np.float32))
    # by hand: samples at 0, ±amplitude
    assert sample == pytest.approx((0.5, 0.25), abs=1e-6)
    assert true[0] >= sample[0]
    assert true[1] >= sample[1]


def test_one_sample_has_a_peak():
    sample, true = fed(PeakMeter(RATE), np.array([[0.5, -0.25]], dtype=np.float32))
    assert sample == (0.5, 0.25)
    assert true == (0.5, 0.25)


def test_clipping_at_full_scale_is_found_and_timed():
    wave = np.clip(sine(1000.0, 1.0, 1.2), -1.0, 1.0)
    wave[RATE // 2 :] *= 0.5
    runs = fed(ClippingFinder(RATE), np.column_stack([wave, 0.9 * sine(997.0)]).astype(np.float32))
    # by hand: 500 whole periods, a top and a bottom each; asin(1/1.2) leaves 8.9 of 24 samples in each half
    assert len(runs) == 1000
    assert {run.channel for run in runs} == {"left"}
    assert {run.samples for run in runs} <= {8, 9}
    assert runs[0].time_s == pytest.approx(np.arcsin(1 / 1.2) / (2 * np.pi * 1000.0), abs=1.01 / RATE)
    assert [run.time_s for run in runs] == sorted(run.time_s for run in runs)


@pytest.mark.parametrize("offset", [0.0, 0.02])
def test_clipping_turned_down_afterwards_is_still_found(offset):
    sound = music(1, rms=0.18)
    clipped = (np.clip(sound, -0.5, 0.5) * 10 ** (-1 / 20) + np.float32(offset)).astype(np.float32)
    assert fed(ClippingFinder(RATE), sound) == ()
    runs = fed(ClippingFinder(RATE), clipped)
    # by another road: sample after sample in plain Python
    assert len(runs) > 200
    assert [(round(run.time_s * RATE), run.channel, run.samples) for run in runs] == flat_tops(clipped)


def flat_tops(sound):
    """Start, channel and length of runs of four or more at the top, left by a step of 0.1 % or more."""
    found = []
    for channel, wave in (("left", sound[:, 0].tolist()), ("right", sound[:, 1].tolist())):
        top, bottom, start = max(wave), min(wave), 0
        for at in range(1, len(wave)):
            value = wave[at - 1]
            if wave[at] == value:
                continue
            extreme = top if value > 0 else bottom
            at_the_top = abs(value) >= 0.999 * abs(extreme)
            if at - start >= 4 and at_the_top and abs(wave[at] - value) >= 0.001 * abs(value):
                found.append((start, channel, at - start))
            start = at
    return sorted(found)


def test_a_run_across_two_pieces_is_one_run():
    wave = sine(100.0, 1.0, 0.7)
    wave[19998:20003] = 1.0
    runs = fed(ClippingFinder(RATE), np.column_stack([0.5 * wave, wave]).astype(np.float32), piece=20000)
    # by hand; the same shape at half level lies flat at the left channel's own peak
    assert runs == (
        ClippedRun(19998 / RATE, "left", 5),
        ClippedRun(19998 / RATE, "right", 5),
    )


@pytest.mark.parametrize("hz", [20.0, 50.0, 120.0])
@pytest.mark.parametrize("amplitude", [0.12, 0.5, 1.0])
def test_the_round_top_of_a_low_note_in_16_bits_is_not_clipped(hz, amplitude):
    wave = np.round(32767 * sine(hz, 2.0, amplitude)) / 32768
    assert fed(ClippingFinder(RATE), both(wave)) == ()


def test_the_list_of_clipped_runs_keeps_the_thousand_longest():
    wave = np.clip(sine(2000.0, 1.0, 1.5), -1.0, 1.0)
    wave[40000:40030] = 1.0
    wave[40030] = 0.0
    runs = fed(ClippingFinder(RATE), both(wave))
    assert len(runs) == 1000
    assert max(run.samples for run in runs) >= 30


def test_digital_silence_is_listed_from_half_a_second():
    sound = music(2)
    sound[RATE : RATE + 24000] = 0.0
    sound[2 * RATE : 2 * RATE + 23998] = 0.0
    sound[3 * RATE : 3 * RATE + 30000] = 0.01
    sound[3 * RATE : 3 * RATE + 30000, 1] = -0.02
    # by hand: 24000 samples are half a second, 23998 are not; standing still elsewhere is silence too
    assert fed(SilenceFinder(RATE), sound) == (
        Silence(1.0, 0.5),
        Silence(3.0, 0.625),
    )


def test_silence_in_one_channel_is_not_digital_silence():
    sound = music(3)
    sound[:, 1] = 0.0
    assert fed(SilenceFinder(RATE), sound) == ()


def test_silence_reaches_to_the_end():
    # by hand
    assert fed(SilenceFinder(RATE), np.zeros((RATE, 2), dtype=np.float32)) == (Silence(0.0, 1.0),)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("at", [3, 20001, 19999, 65536, 191990])
def test_one_wrong_sample_is_found(at, sign):
    sound = music(4)
    sound[at, 1] += sign * 0.1
    assert fed(ClickFinder(RATE), sound) == (Click(at / RATE, "right"),)


def test_a_sample_lost_in_music_is_found():
    sound = music(5, rms=0.2)
    at = int(np.argmax(np.abs(sound[:, 0])))
    sound[at, 0] = 0.0
    assert fed(ClickFinder(RATE), sound) == (Click(at / RATE, "left"),)


def strokes():
    """Drum strokes: noise that starts at once and dies away."""
    rng = np.random.default_rng(6)
    wave = np.zeros(4 * RATE)
    for at in range(5000, wave.size - 9600, 12000):
        wave[at : at + 9600] += 0.5 * rng.normal(size=9600) * np.exp(-np.arange(9600) / 800)
    return wave


def buzz():
    """A raw sawtooth at 110 Hz."""
    return 0.5 * signal.sawtooth(2 * np.pi * 110.0 * np.arange(4 * RATE) / RATE)


def corners():
    return 0.5 * signal.sawtooth(2 * np.pi * 55.0 * np.arange(4 * RATE) / RATE, 0.5)


@pytest.mark.parametrize(
    "wave",
    [strokes(), buzz(), corners(), np.clip(sine(300.0, 4.0, 1.5), -1, 1), np.sign(sine(80.3, 4.0)) * 0.5],
    ids=["strokes", "sawtooth", "triangle", "clipped", "square"],
)
def test_music_and_its_edges_are_not_clicks(wave):
    assert fed(ClickFinder(RATE), both(wave)) == ()


def test_a_train_of_pulses_is_a_tone_and_not_clicks():
    sound = music(9)
    sound[::400] += 0.1
    assert fed(ClickFinder(RATE), sound) == ()


def test_music_alone_has_no_clicks():
    assert fed(ClickFinder(RATE), music(7, seconds=10.0)) == ()


@pytest.mark.parametrize("piece", [37, 1000, 4801])
def test_finders_do_not_depend_on_the_pieces(piece):
    sound = music(8, seconds=1.0, rms=0.3)
    sound = np.clip(sound, -0.6, 0.6)
    sound[20000, 0] += 0.3
    sound[10000:36000] = 0.0
    sound[30000, 1] = 0.3
    for finder in (ClippingFinder, SilenceFinder, ClickFinder):
        assert fed(finder(RATE), sound, piece) == fed(finder(RATE), sound, len(sound))


def found(*, sample=(-3.0, -3.0), true=(-2.9, -2.9), clipped=(), silences=(), clicks=()):
    return peak_findings(sample, true, 10.0, tuple(clipped), tuple(silences), tuple(clicks))


def test_clean_peaks_have_no_finding():
    assert found() == []
    assert found(sample=(None, None), true=(None, None)) == []


def test_one_finding_tells_of_all_clipped_runs_and_points_to_the_longest():
    (finding,) = found(clipped=[ClippedRun(1.0, "left", 4), ClippedRun(2.0, "right", 9)])
    assert (finding.code, finding.severity, finding.time_s, finding.value) == ("clipped", "warn", 2.0, 2)
    assert finding.remedy == (
        "2 clipped runs, the longest 9 samples in the right channel. "
        "Ask for a transfer that is not clipped, or listen here first."
    )


def test_one_finding_tells_of_all_clicks():
    (finding,) = found(clicks=[Click(1.5, "left")])
    assert (finding.code, finding.severity, finding.time_s) == ("click", "warn", 1.5)
    assert finding.remedy.startswith("1 click of a single sample, the first in the left channel.")


def test_only_silence_inside_is_a_finding():
    assert found(silences=[Silence(0.0, 1.0), Silence(9.0, 1.0)]) == []
    (finding,) = found(silences=[Silence(0.0, 1.0), Silence(4.0, 0.8), Silence(9.0, 1.0)])
    assert (finding.code, finding.severity, finding.time_s, finding.value) == ("silence", "note", 4.0, 0.8)


def test_peaks_above_full_scale_are_noted_once():
    assert [f.code for f in found(sample=(0.1, -1.0), true=(0.2, -1.0))] == ["over_full_scale"]
    assert [f.code for f in found(sample=(-0.1, -1.0), true=(0.2, -1.0))] == ["true_peak"]
