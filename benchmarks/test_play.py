"""How fast a test play is inspected, a micrograph gauged and a guilty part found: rows for the table."""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf

import programmes

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "inspection"))
from spoiler import Spoil, spoil

Row = tuple[str, str, str]
DISCWRIGHT = [sys.executable, "-m", "discwright"]
PARTS, AUDITIONS = 2000, 40


def play_rows(seconds: float, level_db: float, work: Path, run: Callable[..., Any]) -> Iterator[Row]:
    """One side, played off centre, fast and noisy with ticks in it, inspected against its proof and against itself.

    Parameters
    ----------
    seconds : float
        Of the side.
    level_db : float
    work : pathlib.Path
    run : callable
        Runs a command and measures it.
    """
    audio, kind = programmes.side(seconds)
    plan, proof, capture = work / "played", work / "played.wav", work / "capture.wav"
    run([*DISCWRIGHT, "plan", str(audio), "--out", str(plan), "--level-db", str(level_db), "--only", ""], (0, 1))
    run([*DISCWRIGHT, "proof", str(plan), "--out", str(proof)], (0, 1))
    sound, rate = sf.read(proof, dtype="float32", always_2d=True)
    rows = np.genfromtxt(plan / "spiral.csv", delimiter=",", names=True, dtype=None, encoding="utf-8")
    what = Spoil(
        start_s=3.0, after_s=4.0, speed_error_percent=0.3, off_centre_mm=0.15, warp_mm=1.0, gain_db=-4.0,
        crosstalk_db=-26.0, noise_dbfs=-55.0, ticks=max(3, round(seconds / 6)),
    )  # fmt: skip
    spoiled = spoil(
        sound, rate, lambda t: np.interp(t, rows["time_s"], rows["radius_mm"] * 1e-3), 100 / 3, what, seed=1
    )
    sf.write(capture, spoiled.audio, spoiled.sample_rate, "FLOAT")
    name = f"{seconds / 60:g} min of {kind}, {level_db:+g} dB"
    for words, options in (
        ("test play inspected", ["--plan", str(plan)]),
        ("test play against the bare programme", ["--plan", str(plan), "--tip", "none"]),
        ("test play, report, picture and audio kept", ["--plan", str(plan), "--out", str(work / "kept-play")]),
    ):
        measured = run([*DISCWRIGHT, "inspect", str(capture), "--json", *options], (0, 1))
        yield words, f"{measured.seconds:.1f} s, {measured.peak_mib:.0f} MiB", name


def guilt_rows() -> Iterator[Row]:
    """A family of two thousand parts, every prior different, some of them played."""
    from discwright.acts.locate import case_from

    chance = random.Random(1)
    parts: list[dict[str, Any]] = [{"id": "P0", "parent": None, "prior": 0.01}]
    parts += [
        {"id": f"P{k}", "parent": f"P{max(0, (k - 1) // 6)}", "prior": chance.uniform(0.001, 0.03)}
        for k in range(1, PARTS)
    ]
    auditions = [{"part": f"P{chance.randrange(PARTS // 2, PARTS)}", "heard": k % 2, "of": 1} for k in range(AUDITIONS)]
    case = case_from({"parts": parts, "auditions": auditions, "detect": 0.9, "false_alarm": 0.02}, "the case")
    case.weigh()
    times = []
    for _ in range(7):
        begin = time.perf_counter()
        case.weigh()
        times.append(time.perf_counter() - begin)
    yield (
        "guilty part located",
        f"{1000 * float(np.median(times)):.0f} ms",
        f"{PARTS} parts, no two priors alike, {AUDITIONS} of them played, next play included",
    )


def gauge_rows(work: Path, run: Callable[..., Any]) -> Iterator[Row]:
    """A photograph of cut lacquer, 2000 by 1500 pixels.

    Parameters
    ----------
    work : pathlib.Path
    run : callable
        Runs a command and measures it.
    """
    from micrograph import Drawn, draw
    from PIL import Image

    from discwright.inspection.gauge import gauge

    picture = draw(Drawn(size=(2000, 1500), blur=2.0, noise=0.06, tilt_deg=6.0, lateral=(4.0, 180.0))).picture
    times = []
    for _ in range(5):
        begin = time.perf_counter()
        found = gauge(picture, 0.5e-6)
        times.append(time.perf_counter() - begin)
    file = work / "micrograph.png"
    Image.fromarray(np.round(np.clip(picture, 0, 1) * 255).astype(np.uint8)).save(file)
    whole = run([*DISCWRIGHT, "gauge", str(file), "--um-per-pixel", "0.5", "--json"], (0, 1))
    yield (
        "micrograph gauged",
        f"{float(np.median(times)):.2f} s",
        f"2000 x 1500 pixels, {len(found.grooves)} grooves; the whole command {whole.seconds:.1f} s",
    )
