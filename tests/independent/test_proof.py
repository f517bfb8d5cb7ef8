"""The proof against the listener: real music and invented music, heard by two roads that share nothing."""

from __future__ import annotations

import csv
import json
import math
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf
from listener import Groove, band_db, highest_circles, listen, through_subsonic
from music import find_pieces, missing

pytestmark = pytest.mark.slow

Floats = np.ndarray
TURN_S = 1.8
RADIUS_MM = 60.5
SPEED = 2 * math.pi * RADIUS_MM * 1e-3 / TURN_S
FINE = {44_100: 32, 48_000: 32, 88_200: 16, 96_000: 16}


def command(*words: object) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "discwright", *map(str, words)], capture_output=True, text=True, check=False
    )
    assert done.returncode in (0, 1), done.stderr
    return done.stdout


def invented(seconds: float, rate: int, top: float = 12_000.0, seed: int = 4) -> Floats:
    """Noise that falls with frequency, fading in and out."""
    rng = np.random.default_rng(seed)
    n = round(seconds * rate)
    f = np.fft.rfftfreq(n, 1 / rate)
    shape = (f > 40) * (f < top) / np.maximum(f, 200.0) ** 0.7
    x = np.fft.irfft(np.fft.rfft(rng.standard_normal((n, 2)), axis=0) * shape[:, None], n, axis=0)
    x *= (np.sin(np.pi * np.arange(n) / n) ** 2)[:, None]
    return x / np.abs(x).max() * 0.5


def heard(folder: Path, x: Floats, rate: int, level_db: float, *options: object) -> tuple[Floats, Floats]:
    """What was planned, as it stands in the file, and its proof."""
    sf.write(folder / "side.wav", x, rate, subtype="PCM_24")
    command("plan", folder / "side.wav", "--level-db", level_db, "--out", folder / "plan", "--only", "")
    command("proof", folder / "plan", "--out", folder / "proof.wav", "--at-radius-mm", RADIUS_MM, *options)
    programme, _ = sf.read(folder / "side.wav")
    proof, _ = sf.read(folder / "proof.wav")
    return programme, proof


def groove(rate: int, level_db: float) -> Groove:
    return Groove(SPEED, 10 ** (level_db / 20), rate)


def excerpt(kind: str, begin_s: float, seconds: float = 1.2) -> tuple[Floats, int]:
    """A stretch of a packaged piece, fading in and out, without what lies above 20 kHz.

    What a 44.1 kHz file holds between 21 and 22 kHz is cut by the resampling filter of the one and not of the other;
    through the tip it comes back in the audible range, up to -77 dB on a bright piece.
    """
    if missing(kind):
        pytest.skip(missing(kind))
    path = find_pieces(kind)[0]
    rate = sf.info(path).samplerate
    x, _ = sf.read(path, start=round(begin_s * rate), frames=round(seconds * rate), always_2d=True)
    x = x[:, [0, -1]] * (np.sin(np.pi * np.arange(len(x)) / len(x)) ** 2)[:, None]
    spectrum = np.fft.rfft(x, axis=0)
    spectrum[np.fft.rfftfreq(len(x), 1 / rate) > 20_000] = 0
    x = np.fft.irfft(spectrum, len(x), axis=0)
    return x / np.abs(x).max() * 0.7, rate


# The listener itself --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("radius_um", "velocity_cm_s", "hz", "speed_cm_s", "second", "third"),
    [(18, 5, 1000, 20.944, 6.335, 0.594), (18, 5, 5000, 20.944, 29.200, 12.498), (8, 5, 3000, 20.944, 8.425, 1.050)],
)
def test_the_listeners_circles_give_the_published_harmonics(
    radius_um: float, velocity_cm_s: float, hz: float, speed_cm_s: float, second: float, third: float
) -> None:
    # Published theory (Lewis and Hunt 1941), worked by tangency and by circles for the reference, 5.7.
    n = 4096
    amplitude = velocity_cm_s * 1e-2 / (2 * math.pi * hz)
    wall = amplitude * np.cos(2 * np.pi * np.arange(n) / n)
    spectrum = np.abs(np.fft.rfft(highest_circles(np.tile(wall, 3), speed_cm_s * 1e-2 / hz / n, radius_um * 1e-6)[:n]))
    assert 200 * spectrum[2] / spectrum[1] == pytest.approx(second, abs=0.001)
    assert 300 * spectrum[3] / spectrum[1] == pytest.approx(third, abs=0.001)


# Invented music --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [44_100, 48_000, 88_200, 96_000])
def test_invented_music_at_every_rate(tmp_path: Path, rate: int) -> None:
    programme, proof = heard(tmp_path, invented(0.7, rate), rate, 0.0, "--player", "off", "--tip", "spherical-18")
    other = listen(programme, groove(rate, 0.0), 18e-6, FINE[rate])
    # By another road. The tip departs by -37 dB here; the two agree 50 dB below that, to what the polyline is good for.
    assert band_db(proof - through_subsonic(programme, rate), programme, rate) > -45
    assert band_db(proof - other, programme, rate) < -85


@pytest.mark.parametrize("rate", [44_100, 48_000, 88_200, 96_000, 192_000])
def test_without_tip_and_player_the_subsonic_filter_alone(tmp_path: Path, rate: int) -> None:
    programme, proof = heard(tmp_path, invented(2.0, rate, 19_000.0), rate, 3.0, "--player", "off", "--tip", "none")
    # Asked for: within -80 dB from 20 Hz to 18 kHz.
    assert band_db(proof - through_subsonic(programme, rate), programme, rate) < -95


def test_where_the_wall_bends_more_sharply_than_the_tip(tmp_path: Path) -> None:
    rate, level_db = 44_100, 12.0
    programme, proof = heard(tmp_path, invented(0.7, rate), rate, level_db, "--player", "off", "--tip", "spherical-18")
    other = listen(programme, groove(rate, level_db), 18e-6, 32)
    # The tip rides on corners: their sound goes up without end, and each road cuts it off elsewhere above 20 kHz.
    assert band_db(proof - through_subsonic(programme, rate), programme, rate) > -22
    assert band_db(proof - other, programme, rate) < -70


def test_a_leaning_tip(tmp_path: Path) -> None:
    rate = 44_100
    values = {
        "arm_length_mm": 230, "overhang_mm": 18.05, "offset_deg": 27.0, "playing_angle_deg": 30, "cut_angle_deg": 15,
        "tracking_force_mn": 15, "off_centre_mm": 0, "warp_height_mm": 0, "warp_waves": 0, "pivot_height_mm": 0,
        "noise_level_db": -60, "rumble_level_db": -40,
    }  # fmt: skip
    (tmp_path / "bad.toml").write_text("\n".join(f"{k} = {v}" for k, v in values.items()), encoding="utf-8")
    programme, proof = heard(
        tmp_path, invented(0.7, rate), rate, 0.0, "--player", tmp_path / "bad.toml", "--parts", "tracking,vertical",
        "--tip", "elliptical-8",
    )  # fmt: skip
    # By hand: cosine rule in the triangle of spindle, pivot and tip (Lofgren 1938).
    length, pivot, r = 0.230, 0.230 - 0.01805, RADIUS_MM * 1e-3
    error = math.asin((r * r + length * length - pivot * pivot) / (2 * r * length)) - math.radians(27.0)
    lean = (math.tan(error), math.tan(math.radians(30)) - math.tan(math.radians(15)))
    other = listen(programme, groove(rate, 0.0), 8e-6, 32, lean)
    upright = listen(programme, groove(rate, 0.0), 8e-6, 32)
    assert band_db(other - upright, programme, rate) > -40  # it does something
    assert band_db(proof - other, programme, rate) < -80


def test_faults_are_seen(tmp_path: Path) -> None:
    """The comparison can fail: the wrong side of a wall, another tip, half a sample late, another radius."""
    rate = 44_100
    programme, proof = heard(tmp_path, invented(0.7, rate), rate, 0.0, "--player", "off", "--tip", "spherical-18")
    right = listen(programme, groove(rate, 0.0), 18e-6, 16)
    swapped = listen(programme[:, ::-1] * -1.0, groove(rate, 0.0), 18e-6, 16)[:, ::-1] * -1.0
    assert band_db(swapped - right, programme, rate) < -120  # a mirrored groove is heard mirrored
    mirrored = -listen(-programme, groove(rate, 0.0), 18e-6, 16)
    smaller = listen(programme, groove(rate, 0.0), 17e-6, 16)
    elsewhere = listen(programme, replace(groove(rate, 0.0), speed=SPEED * 61.5 / 60.5), 18e-6, 16)
    f = np.fft.rfftfreq(len(right), 1 / rate)
    late = np.fft.irfft(np.fft.rfft(right, axis=0) * np.exp(-1j * np.pi * f / rate)[:, None], len(right), axis=0)
    for wrong in (mirrored, smaller, elsewhere, late):
        assert band_db(proof - wrong, programme, rate) > -75


def test_difference_and_passage(tmp_path: Path) -> None:
    rate = 44_100
    x = np.tile(invented(1.2, rate), (3, 1))
    programme, proof = heard(tmp_path, x, rate, 3.0, "--difference")
    difference, _ = sf.read(tmp_path / "proof-difference.wav")
    cut = through_subsonic(programme, rate)
    assert band_db(difference - (cut - proof), programme, rate) < -95
    # Aligned: the phase of proof against programme, weighted, as a delay in samples; asked for: 0.1.
    cross = np.fft.rfft(proof[:, 0]) * np.conj(np.fft.rfft(cut[:, 0]))
    f = np.fft.rfftfreq(len(proof), 1 / rate)
    use = (f > 300) & (f < 10_000)
    weight = np.abs(cross[use])
    delay = -np.sum(np.angle(cross[use]) * f[use] * weight) / np.sum(f[use] ** 2 * weight) * rate / (2 * np.pi)
    assert abs(delay) < 0.02
    command(
        "proof",
        tmp_path / "plan",
        "--at-radius-mm",
        RADIUS_MM,
        "--from",
        "1.2",
        "--to",
        "2.3",
        "--out",
        tmp_path / "part.wav",
    )
    part, _ = sf.read(tmp_path / "part.wav")
    assert band_db(part - proof[round(1.2 * rate) : round(1.2 * rate) + len(part)], part, rate) < -95


def test_the_radius_is_that_of_the_spiral(tmp_path: Path) -> None:
    """Without another radius the tip finds the groove where the spiral has it."""
    rate = 44_100
    programme, _ = heard(tmp_path, invented(1.0, rate), rate, 6.0, "--player", "off")
    command("proof", tmp_path / "plan", "--player", "off", "--out", tmp_path / "here.wav")
    here, _ = sf.read(tmp_path / "here.wav")
    with (tmp_path / "plan" / "spiral.csv").open(encoding="utf-8") as file:
        rows = [(float(row["time_s"]), float(row["radius_mm"])) for row in csv.DictReader(file)]
    time, radius_mm = np.array(rows).T
    speed = 2 * math.pi * float(np.interp(0.5, time, radius_mm)) * 1e-3 / TURN_S
    other = listen(programme, replace(groove(rate, 6.0), speed=speed), 18e-6, 32)
    # A second is little more than half a turn: the radius moves by less than a thousandth.
    assert band_db(here - other, programme, rate) < -85


# Real music -------------------------------------------------------------------------------------------------


@pytest.mark.music
@pytest.mark.parametrize(("kind", "begin_s"), [("orchestral", 40.0), ("electronic", 60.0)])
@pytest.mark.parametrize(("tip", "radius"), [("spherical-18", 18e-6), ("elliptical-8", 8e-6)])
def test_real_music(tmp_path: Path, kind: str, begin_s: float, tip: str, radius: float) -> None:
    x, rate = excerpt(kind, begin_s)
    programme, proof = heard(tmp_path, x, rate, 3.0, "--player", "off", "--tip", tip)
    other = listen(programme, groove(rate, 3.0), radius, 32)
    assert band_db(proof - other, programme, rate) < -85


@pytest.mark.music
def test_the_worst_second_is_where_the_listener_finds_it(tmp_path: Path) -> None:
    x, rate = excerpt("electronic", 60.0, 8.0)
    programme, _ = heard(tmp_path, x, rate, 6.0, "--player", "off", "--tip", "spherical-18")
    told: dict[str, Any] = json.loads(
        command(
            "proof",
            tmp_path / "plan",
            "--at-radius-mm",
            RADIUS_MM,
            "--player",
            "off",
            "--tip",
            "spherical-18",
            "--json",
        )
    )
    seconds = told["tips"][0]["seconds"]
    other = listen(programme, groove(rate, 6.0), 18e-6, 8)
    cut = through_subsonic(programme, rate)
    share = []
    for k in range(8):
        a, b = cut[k * rate : (k + 1) * rate], other[k * rate : (k + 1) * rate]
        gain = np.sum(a * b, axis=0) / np.sum(a * a, axis=0)
        share.append(100 * float(np.sqrt(np.sum((b - a * gain) ** 2) / np.sum(b**2))))
    percent = [one["distortion_percent"] for one in seconds]
    # One gain for all frequencies explains less than one for each third of an octave: the order is what must agree.
    assert np.corrcoef(share[1:-1], percent[1:-1])[0, 1] > 0.9
    assert int(np.argmax(percent)) in np.argsort(share)[-2:]
