"""Does the spoiler do what it says? Judged by zero crossings, differences and tones: other roads than its own."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import spoiler
from numpy.typing import NDArray
from scipy import signal
from spoiler import Crackle, Dropout, Jump, Pop, Scratch, Spoil, Spoiled, Swish, spoil
from spoiler_judge import judge
from spoiler_sound import interpolate
from spoiler_wrongs import SHAPES

Floats = NDArray[np.float64]

RATE, TURN_S, RPM = 48_000, 1.8, 100 / 3
HERE = Path(__file__).resolve().parent


def held(radius_m: float) -> Any:
    """A groove that stays at one radius."""
    return lambda t: np.full(np.shape(t), radius_m)


def spiral(t: Floats) -> Floats:
    """A groove with 100 µm from turn to turn."""
    return 0.120 - np.asarray(t) / TURN_S * 100e-6


def tone(hz: float, seconds: float, rate: int = RATE, sides: tuple[float, float] = (0.5, 0.5)) -> Floats:
    wave = np.sin(2 * np.pi * hz * np.arange(round(seconds * rate)) / rate)
    return wave[:, None] * np.array(sides)


def music(seconds: float, rate: int = RATE) -> Floats:
    """Noise that falls with frequency, swells twice a second and is quiet in between: a stand-in for a piece."""
    rng = np.random.default_rng(5)
    x = signal.lfilter([1.0], [1.0, -0.9], rng.standard_normal((round(seconds * rate), 2)), axis=0)
    swell = 0.02 + np.abs(np.sin(2 * np.pi * np.arange(len(x)) / rate)) ** 2
    return 0.1 * x * swell[:, None]


def deviation(x: Floats, hz: float, rate: int = RATE, crossings: int = 40) -> tuple[Floats, Floats]:
    """Time and relative frequency of a tone, from its upward zero crossings, some of them at a time."""
    k = np.flatnonzero((x[:-1] < 0) & (x[1:] >= 0))
    k = k[(k > rate // 10) & (k < len(x) - rate // 10)]  # a tone that begins or ends has no frequency
    at = (k + x[k] / (x[k] - x[k + 1])) / rate
    return 0.5 * (at[crossings:] + at[:-crossings]), crossings / (at[crossings:] - at[:-crossings]) / hz - 1


def amplitude(x: Floats, hz: float, rate: int = RATE) -> float:
    """Of one tone in the middle of a signal, by correlation under a window."""
    x = x[len(x) // 4 : -len(x) // 4]
    window = np.hanning(len(x))
    wave = np.exp(-2j * np.pi * hz * np.arange(len(x)) / rate)
    return float(2 * np.abs(np.sum(x * window * wave)) / window.sum())


def rms_db(x: Floats) -> Floats:
    out: Floats = 10 * np.log10(np.mean(np.square(x, dtype=float), axis=0))
    return out


def play(programme: Floats, radius: Any = spiral, seed: int = 1, **wrongs: Any) -> Spoiled:
    return spoil(programme, RATE, radius, RPM, Spoil(**wrongs), seed=seed)


def test_nothing_is_shared_with_what_it_tests() -> None:
    for name in ("", "_judge", "_map", "_sound", "_truth", "_wrongs"):
        assert "discwright." not in (HERE / f"spoiler{name}.py").read_text(encoding="utf-8").replace("`discwright ", "")


def test_nothing_asked_for_changes_nothing() -> None:
    x = music(2.0)
    disc = play(x)
    assert disc.audio.shape == x.shape
    assert np.max(np.abs(disc.audio - x)) < 1e-5  # by another road: the programme itself
    assert disc.truth.start_s == 0.0
    assert disc.truth.faults == []


@pytest.mark.parametrize("hz", [20.0, 1000.0, 12_345.6, 18_000.0])
def test_interpolation_is_clean(hz: float) -> None:
    rate = 44_100
    x = tone(hz, 0.4, rate, (1.0, 0.5))
    place = np.linspace(2000.0, 15_000.0, 20_011)
    exact = np.sin(2 * np.pi * hz * place / rate)
    error = interpolate(x, place) - exact[:, None] * np.array([1.0, 0.5])
    assert 20 * math.log10(np.max(np.abs(error))) < -90  # by another road: the tone itself, in closed form


def test_interpolation_ends_where_the_programme_ends() -> None:
    x = np.ones((100, 2))
    assert np.all(interpolate(x, np.array([-40.0, 140.0])) == 0.0)
    assert interpolate(x, np.array([50.3]))[0] == pytest.approx([1.0, 1.0], abs=1e-4)


def test_speed_error_raises_the_pitch() -> None:
    disc = play(tone(1000.0, 4.0), speed_error_percent=0.3, start_s=0.7, after_s=0.4)
    _, off = deviation(disc.audio[RATE:-RATE, 0], 1000.0)
    assert np.mean(off) == pytest.approx(0.003, abs=1e-6)  # by hand: 0.3 % fast
    assert len(disc.audio) / RATE == pytest.approx(0.7 + 4.0 / 1.003 + 0.4, abs=1e-4)  # by hand
    assert not np.any(disc.audio[: round(0.69 * RATE)])


@pytest.mark.parametrize(("radius_m", "percent"), [(0.1463, 0.137), (0.0603, 0.332)])
def test_hole_off_centre_is_the_published_wow(radius_m: float, percent: float) -> None:
    disc = play(tone(3150.0, 8.0), held(radius_m), off_centre_mm=0.2, off_centre_angle_deg=90.0)
    at, off = deviation(disc.audio[:, 0].astype(float), 3150.0)
    assert 100 * np.max(off) == pytest.approx(percent, abs=0.002)  # published: e/r, worked for these radii
    assert -100 * np.min(off) == pytest.approx(percent, abs=0.002)
    fast = at[np.argmax(off)] % TURN_S / TURN_S * 360
    assert fast == pytest.approx(90.0, abs=3.0)  # by hand: farthest from the spindle, the groove runs fastest
    assert disc.truth.eccentricity_mm == pytest.approx(0.2, abs=1e-4)
    assert disc.truth.eccentricity_angle_deg == pytest.approx(90.0, abs=0.1)
    assert disc.truth.wow_peak_percent == pytest.approx(percent, abs=0.002)


def test_saddle_warp_swings_twice_a_turn() -> None:
    disc = play(tone(3150.0, 8.0), held(0.1), warp_mm=1.0, warp_waves=2)
    at, off = deviation(disc.audio[:, 0].astype(float), 3150.0)
    # by hand: half a rise of 1 mm at the rim, (100/150.5)² of it here, two a turn, pivot over arm 20/230, over r
    expected = 0.5e-3 * (0.1 / 0.1505) ** 2 * 2 * 20 / 230 / 0.1
    assert np.max(off) == pytest.approx(expected, rel=0.03)
    twice = np.exp(-2j * np.pi * 2 * at / TURN_S)
    whole = at < 7.2
    assert abs(np.mean((off * twice)[whole])) * 2 == pytest.approx(expected, rel=0.05)
    assert disc.truth.eccentricity_mm == pytest.approx(0.0, abs=1e-5)


def test_tilted_disc_looks_like_a_hole_off_centre() -> None:
    disc = play(tone(3150.0, 8.0), held(0.1), warp_mm=1.0, warp_waves=1)
    # by hand: the way is late by rise·pivot/arm, as e·sin would be
    assert disc.truth.eccentricity_mm == pytest.approx(0.5 * 0.1 / 0.1505 * 20 / 230, rel=0.01)


def test_flutter_is_as_deep_as_asked_for() -> None:
    disc = play(tone(3150.0, 4.0), flutter_percent=0.1, flutter_hz=8.0)
    _, off = deviation(disc.audio[:, 0].astype(float), 3150.0, crossings=20)
    assert 100 * np.max(off) == pytest.approx(0.1, abs=0.003)  # by hand


def test_map_there_and_back_with_everything_together() -> None:
    disc = play(
        music(9.0), start_s=2.3, speed_error_percent=-0.5, off_centre_mm=0.5, warp_mm=1.5, flutter_percent=0.1,
        warp_angle_deg=20.0,
    )  # fmt: skip
    time = np.linspace(0.0, 8.99, 5000)
    assert np.max(np.abs(disc.truth.map.programme_time(disc.truth.capture_time(time)) - time)) < 1e-8


def test_another_sample_rate() -> None:
    for rate in (44_100, 96_000):
        disc = play(tone(1000.0, 3.0), sample_rate=rate)
        assert disc.sample_rate == rate
        assert amplitude(disc.audio[:, 0], 1000.0, rate) == pytest.approx(0.5, rel=1e-4)


def test_gain_balance_and_crosstalk() -> None:
    disc = play(tone(997.0, 3.0, sides=(0.5, 0.0)), gain_db=-6.0, balance_db=1.0, crosstalk_db=-25.0)
    left, right = (amplitude(disc.audio[:, c], 997.0) for c in (0, 1))
    assert 20 * math.log10(left / 0.5) == pytest.approx(-5.5, abs=0.01)  # by hand
    assert 20 * math.log10(right / left) == pytest.approx(-25.0 - 1.0, abs=0.01)  # by hand


@pytest.mark.parametrize("phase", ["minimum", "zero"])
def test_tilt_of_the_response(phase: str) -> None:
    tones = {hz: tone(hz, 3.0, sides=(0.1, 0.1)) for hz in (40.0, 200.0, 1000.0, 5000.0, 15_000.0)}
    disc = play(sum(tones.values(), np.zeros((3 * RATE, 2))), tilt_db_per_decade=-3.0, tilt_phase=phase)
    for hz in tones:
        got = 20 * math.log10(amplitude(disc.audio[:, 1], hz) / 0.1)
        assert got == pytest.approx(-3.0 * math.log10(hz / 1000), abs=0.05)  # by hand
        assert disc.truth.response_db(np.array([hz]))[0] == pytest.approx(got, abs=0.02)


def test_phase_of_the_response_is_told_apart_from_the_time_map() -> None:
    disc = play(tone(5000.0, 3.0), tilt_db_per_decade=-3.0)
    crossing, _ = deviation(disc.audio[:, 0].astype(float), 5000.0, crossings=2)
    late = (np.median(crossing * 5000.0 % 1.0 + 0.5) % 1.0 - 0.5) / 5000.0
    assert disc.truth.late(np.array([5000.0]))[0] == pytest.approx(late, abs=0.1e-6)
    even = play(tone(5000.0, 1.0), tilt_db_per_decade=-3.0, tilt_phase="zero")
    assert even.truth.late(np.array([5000.0]))[0] == pytest.approx(0.0, abs=1e-9)


def test_zero_phase_delays_nothing_and_minimum_phase_rings_only_after() -> None:
    click = np.zeros((RATE, 2))
    click[RATE // 2] = 0.5
    even = play(click, tilt_db_per_decade=-4.0, tilt_phase="zero").audio[:, 0]
    before, after = even[RATE // 2 - 400 : RATE // 2], even[RATE // 2 + 1 : RATE // 2 + 401]
    assert np.max(np.abs(before[::-1] - after)) < 1e-6
    late = play(click, tilt_db_per_decade=-4.0, tilt_phase="minimum").audio[:, 0]
    assert np.max(np.abs(late[: RATE // 2])) < 1e-3 * np.max(np.abs(late))


@pytest.mark.parametrize(("kind", "hz", "db"), [("shelf", 20_000.0, 2.82), ("resonance", 14_000.0, 3.0)])
def test_treble(kind: str, hz: float, db: float) -> None:
    disc = play(music(1.0), treble_db=3.0, treble_kind=kind)
    assert disc.truth.response_db(np.array([hz]))[0] == pytest.approx(db, abs=0.03)  # by hand, from the formulas
    assert disc.truth.response_db(np.array([100.0]))[0] == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("colour", ["white", "groove"])
def test_noise_has_its_level_everywhere(colour: str) -> None:
    disc = play(np.zeros((4 * RATE, 2)), start_s=1.0, after_s=1.0, noise_dbfs=-55.0, noise_colour=colour)
    assert rms_db(disc.audio) == pytest.approx([-55.0, -55.0], abs=0.01)
    assert np.corrcoef(disc.audio.T)[0, 1] == pytest.approx(0.0, abs=0.02)
    f, power = signal.welch(disc.audio[:, 0].astype(float), RATE, nperseg=8192)
    above = 10 * math.log10(np.trapezoid(power[f >= 2000], f[f >= 2000]))
    assert disc.truth.noise_above_2khz_dbfs is not None
    assert disc.truth.noise_above_2khz_dbfs[0] == pytest.approx(
        above, abs=0.3
    )  # by another road: Welch, a sharp corner
    slope = 10 * math.log10(np.mean(power[(f > 800) & (f < 1200)]) / np.mean(power[(f > 8000) & (f < 12_000)]))
    assert slope == pytest.approx(0.0 if colour == "white" else 10.0, abs=0.3)  # by hand: 3 dB per octave


def test_rumble_and_hum() -> None:
    disc = play(np.zeros((4 * RATE, 2)), rumble_dbfs=-40.0)
    assert rms_db(disc.audio) == pytest.approx([-40.0, -40.0], abs=0.01)
    f, power = signal.welch(disc.audio[:, 0].astype(float), RATE, nperseg=32_768)
    assert power[(f > 6) & (f < 90)].sum() > 0.9 * power.sum()
    assert power[f > 300].sum() < 0.001 * power.sum()
    hum = play(np.zeros((2 * RATE, 2)), hum_dbfs=-50.0, hum_hz=50.0)
    assert rms_db(hum.audio) == pytest.approx([-50.0, -50.0], abs=0.01)


def test_sizes_and_places_of_ticks_are_what_the_truth_says() -> None:
    x = music(20.0)
    wrongs = Spoil(
        start_s=0.5, speed_error_percent=0.4, off_centre_mm=0.4, gain_db=-3.0, crosstalk_db=-22.0, ticks=40,
        noise_dbfs=-62.0, tick_size_db=(6.0, 24.0),
    )  # fmt: skip
    disc = spoil(x, RATE, spiral, RPM, wrongs, seed=3)
    still = spoil(x, RATE, spiral, RPM, replace(wrongs, ticks=0), seed=3)
    pure = spoil(x, RATE, spiral, RPM, replace(wrongs, ticks=0, noise_dbfs=None), seed=3)
    # by another road: the magnitude written down in the frequency domain, the noise as the difference of two captures
    size = 1 << 20
    weight = 1 / (1 + (2000 / np.maximum(np.fft.rfftfreq(size, 1 / RATE), 1.0)) ** 8)

    def treble_of(y: NDArray[Any]) -> Floats:
        out: Floats = np.fft.irfft(np.fft.rfft(y.astype(float), size, axis=0) * weight[:, None], axis=0)
        return out[: len(y)]

    ticks, hiss, tune = treble_of(disc.audio - still.audio), treble_of(still.audio - pure.audio), treble_of(pure.audio)
    floor = np.sqrt(np.mean(np.square(hiss), axis=0)) * 10 ** (12 / 20)
    assert len(disc.truth.ticks) == 40
    for one in disc.truth.ticks:
        at = round(one.capture_s * RATE)
        near = slice(at - 300, at + 300)
        loud = np.sqrt(np.mean(np.square(tune[at - RATE // 100 : at + RATE // 100]), axis=0))
        ratio = np.max(np.abs(ticks[near]), axis=0) / np.maximum(loud, floor)
        side = {"left": ratio[0], "right": ratio[1], "both": ratio.max()}[one.channel]
        assert 20 * math.log10(side) == pytest.approx(one.size_db, abs=0.1)
        peak = at - 300 + int(np.argmax(np.max(np.abs(ticks[near]), axis=1)))
        assert abs(peak - at) <= 0.0003 * RATE
        assert disc.truth.capture_time(np.array([one.time_s]))[0] == pytest.approx(one.capture_s, abs=1e-9)
        assert one.angle_deg == pytest.approx(one.time_s % TURN_S / TURN_S * 360)  # by hand
        assert one.turn == pytest.approx(one.time_s / TURN_S)
    assert {one.shape for one in disc.truth.ticks} == set(SHAPES)


def test_same_seed_same_disc_and_noise_does_not_move_ticks() -> None:
    x = music(8.0)
    one, same = play(x, ticks=8, noise_dbfs=-60.0), play(x, ticks=8, noise_dbfs=-60.0)
    assert np.array_equal(one.audio, same.audio)
    louder, other = play(x, ticks=8, noise_dbfs=-45.0), play(x, ticks=8, noise_dbfs=-60.0, seed=2)
    places = [[round(tick.time_s, 3) for tick in disc.truth.ticks] for disc in (one, louder, other)]
    assert places[0] == places[1] != places[2]


def test_scratch_comes_once_a_turn_at_one_angle() -> None:
    ticks = play(music(16.0), scratches=(Scratch(1.0, 8, 18.0, "left"),)).truth.ticks
    assert len(ticks) == 8
    assert np.diff([one.turn for one in ticks]) == pytest.approx(np.ones(7), abs=2e-3)
    assert {one.group for one in ticks} == {"scratch 1"}


def test_crackle_and_pop() -> None:
    truth = play(music(8.0), crackles=(Crackle(2.0, 1.0, 30.0),), pops=(Pop(5.0, 20.0),)).truth
    crackle = [one for one in truth.ticks if one.kind == "crackle"]
    assert len(crackle) == 30
    assert all(1.99 < one.time_s < 3.01 for one in crackle)
    (pop,) = [one for one in truth.ticks if one.kind == "pop"]
    assert pop.time_s == pytest.approx(5.0, abs=0.002)
    assert pop.size_db == pytest.approx(20.0, abs=0.01)


def test_dropout_and_swish() -> None:
    x = music(9.0)
    whole, disc = (
        play(x),
        play(x, dropouts=(Dropout(2.0, 0.1, 40.0, "left"),), swishes=(Swish(3.0, 3),), noise_dbfs=-60.0),
    )
    inside = slice(round(2.01 * RATE), round(2.09 * RATE))
    assert rms_db(disc.audio[inside])[0] < rms_db(whole.audio[inside])[0] - 15
    assert rms_db(disc.audio[inside])[1] == pytest.approx(rms_db(whole.audio[inside])[1], abs=0.2)
    for k in range(3):
        begin = 3.0 + k * TURN_S
        burst = (disc.audio - whole.audio)[round(begin * RATE) : round((begin + 0.3) * RATE)]
        assert rms_db(burst)[0] == pytest.approx(-47.8, abs=0.6)  # by hand: half of 15 dB over the noise, and the noise
    assert [one.kind for one in disc.truth.faults] == ["dropout", "swish", "swish", "swish"]


def test_skip_and_repeat() -> None:
    x = music(12.0)
    skipped = play(x, jumps=(Jump(4.0, 2),))
    after = skipped.audio[round(4.1 * RATE) : round(5.0 * RATE)]
    there = x[round((4.1 + 2 * TURN_S) * RATE) :][: len(after)]
    assert np.max(np.abs(after - there)) < 1e-5  # by hand: two turns further
    assert len(skipped.audio) / RATE == pytest.approx(12.0 - 2 * TURN_S, abs=1e-4)
    assert np.isnan(skipped.truth.capture_time(np.array([5.0]))[0])
    repeated = play(x, jumps=(Jump(4.0, -1, 3),), scratches=(Scratch(3.0, 1),))
    assert len(repeated.audio) / RATE == pytest.approx(12.0 + 3 * TURN_S, abs=1e-4)
    assert repeated.truth.map.capture_times(3.0) == pytest.approx([3.0 + k * TURN_S for k in range(4)])
    clean = play(x, jumps=(Jump(4.0, -1, 3),))
    heard = np.abs(repeated.audio - clean.audio).max(axis=1)
    for k in range(4):  # the tick on the disc is heard each time it comes round
        at = round((3.0 + k * TURN_S) * RATE)
        assert heard[at - 50 : at + 200].max() > 1e-3
    assert [one.kind for one in clean.truth.faults] == ["repeat"]


def test_flat_capture_keeps_the_published_recording_curve() -> None:
    with (HERE.parent / "authorities" / "recording_curve.csv").open(encoding="utf-8", newline="") as file:
        curve = {float(row["hz"]): float(row["record_db"]) for row in csv.DictReader(file)}
    tones = {hz: tone(hz, 4.0, sides=(0.02, 0.02)) for hz in (50.0, 100.0, 1000.0, 10_000.0, 15_000.0) if hz in curve}
    assert len(tones) >= 4
    disc = play(sum(tones.values(), np.zeros((4 * RATE, 2))), flat=True)
    for hz in tones:
        got = 20 * math.log10(amplitude(disc.audio[:, 0], hz) / 0.02)
        assert got == pytest.approx(curve[hz], abs=0.06)  # published: the standard's curve


def test_bad_captures() -> None:
    x = music(6.0)
    assert np.max(np.abs(play(x, clip_dbfs=-20.0).audio)) == pytest.approx(0.1)
    mono = play(x, mono=True, noise_dbfs=-50.0).audio
    assert np.array_equal(mono[:, 0], mono[:, 1])
    assert np.array_equal(play(x, reversed=True).audio[::-1], play(x).audio)
    slow = play(tone(1000.0, 2.0), half_speed=True)
    assert len(slow.audio) == 4 * RATE
    assert amplitude(slow.audio[:, 0], 500.0) == pytest.approx(0.5, rel=1e-3)
    assert len(play(x, stops_early_s=2.0, after_s=1.0).audio) == 4 * RATE
    silent = play(x, silence=0.75).audio
    assert np.any(silent[:RATE])
    assert not np.any(silent[round(1.6 * RATE) :])


def perfect(truth: dict[str, Any]) -> dict[str, Any]:
    """What an inspector that errs in nothing would print."""
    told = ("start_s", "speed_error_percent", "eccentricity_mm", "level_db", "balance_db", "separation_db")
    keys = ("time_s", "kind", "turn", "angle_deg", "channel", "size_db", "duration_s")
    regions = [one | {"kind": one["kind"].removesuffix(" region")} for one in truth["others"]]
    return {
        "measures": {key: truth[key] for key in told},
        "response": [
            {"frequency_hz": row["frequency_hz"], "left_db": row["db"] + 1, "right_db": row["db"] - 2}
            for row in truth["response"]
        ],
        "defects": [{key: one[key] for key in keys} for one in [*truth["ticks"], *regions]],
    }


@pytest.fixture(scope="module")
def truth() -> dict[str, Any]:
    disc = play(
        music(12.0), speed_error_percent=0.2, off_centre_mm=0.3, tilt_db_per_decade=1.0, crosstalk_db=-25.0, ticks=10,
        tick_size_db=(8.0, 20.0), noise_dbfs=-60.0, crackles=(Crackle(5.0, 0.5),), jumps=(Jump(9.0, 1),),
    )  # fmt: skip
    plain: dict[str, Any] = json.loads(json.dumps(disc.truth.as_dict(), allow_nan=False))
    return plain


def test_judge_passes_what_is_right(truth: dict[str, Any]) -> None:
    score = judge(perfect(truth), truth)
    assert score.shortfalls == []
    assert (score.planted, score.found, score.false) == (10, 10, 0)
    assert score.others == {"crackle": (1, 1), "skip": (1, 1)}
    assert score.place_ms == 0.0


def test_judge_fails_what_is_wrong(truth: dict[str, Any]) -> None:
    def broken(change: Any) -> str:
        report = perfect(truth)
        change(report)
        return "; ".join(judge(report, truth).shortfalls)

    ticks = [one for one in truth["ticks"] if one["kind"] == "tick"]

    def forget(report: dict[str, Any]) -> None:
        report["defects"] = [one for one in report["defects"] if one["time_s"] != ticks[0]["time_s"]]

    def move(report: dict[str, Any]) -> None:
        next(one for one in report["defects"] if one["time_s"] == ticks[0]["time_s"])["time_s"] += 0.0015

    def turn(report: dict[str, Any]) -> None:
        next(one for one in report["defects"] if one["time_s"] == ticks[0]["time_s"])["angle_deg"] += 358.5

    def invent(report: dict[str, Any]) -> None:
        report["defects"] += [{"time_s": 8.0, "kind": "tick", "duration_s": 0.0}]

    def bend(report: dict[str, Any]) -> None:
        next(row for row in report["response"] if row["frequency_hz"] == 12_500.0)["right_db"] += 0.31

    def silent(report: dict[str, Any]) -> None:
        report["response"].pop(2)

    assert broken(forget) == "found 9 of 10 ticks"
    assert broken(move).startswith("a tick's place is +1.5 ms off")
    assert broken(turn).startswith("a tick's angle is +1.5 ° off")
    assert broken(invent) == "25.0 false ticks per five minutes"  # by hand: one in 12 s
    assert broken(bend).startswith("response at 12500 Hz right is +0.31 dB off")
    assert broken(silent) == "response at 40 Hz left is not told"
    measures = {"speed_error_percent": 0.006, "eccentricity_mm": -0.011, "separation_db": 1.1}
    for key, error in measures.items():
        assert broken(lambda report, key=key, error=error: report["measures"].update({key: truth[key] + error})) != ""
        assert "is not told" in broken(lambda report, key=key: report["measures"].pop(key))


def test_truth_is_plain(truth: dict[str, Any]) -> None:
    assert truth["map"]["programme_s"][:3] == [0.0, 0.05, 0.1]
    assert len(truth["map"]["capture_s"]) == len(truth["map"]["programme_s"])
    assert None in truth["map"]["capture_s"]  # what was skipped is never heard
    assert truth["planted"]["off_centre_mm"] == 0.3


def test_what_cannot_be_done_is_refused() -> None:
    with pytest.raises(ValueError, match="no room for"):
        play(music(2.0), ticks=50)
    with pytest.raises(ValueError, match="where nothing is played"):
        play(music(4.0), jumps=(Jump(2.0, 1), Jump(2.5, 1)))
    with pytest.raises(ValueError, match="a phase is minimum or zero"):
        play(music(1.0), tilt_db_per_decade=1.0, tilt_phase="linear")
    assert spoiler.__all__ == sorted(spoiler.__all__, key=lambda name: (name.islower(), name))
