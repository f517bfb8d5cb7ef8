"""What the groove's tests share: setups, short programmes, and a plain road to the walls."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from discwright.files.settings import load_setup
from discwright.groove.equipment import Setup
from discwright.groove.grid import lay_grid
from discwright.groove.motion import Motion, survey_motion

Float = NDArray[np.float64]
RATE = 44_100
AUTHORITIES = Path(__file__).parent.parent / "authorities"


def authority(name: str) -> list[dict[str, float]]:
    """Rows of a printed table."""
    with (AUTHORITIES / name).open(encoding="utf-8") as file:
        return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


def coarse_setup(disc: str = "12in-33") -> Setup:
    """A setup with few sectors a turn, for quick solves."""
    setup = load_setup(disc)
    return replace(setup, lathe=replace(setup.lathe, sectors_per_turn=8))


def walk(programme: Float, setup: Setup, rate: int = RATE, joins: tuple[tuple[float, float], ...] = ()) -> Motion:
    """The motion of a programme, shape (n, 2), read in odd-sized blocks."""
    grid = lay_grid(len(programme) / rate, setup.disc.turn_time, setup.lathe.sectors_per_turn, joins)
    x = np.asarray(programme, dtype=np.float32)
    blocks = [x[i : i + 70_001] for i in range(0, len(x), 70_001)]
    return survey_motion(blocks, rate, grid, setup.practice.sync_guard, setup.practice.subsonic)


def sine(frequency: float, seconds: float, left: float = 1.0, right: float = 1.0, rate: int = RATE) -> Float:
    """A sine with a gentle beginning and end, shape (n, 2)."""
    t = np.arange(round(seconds * rate)) / rate
    fade = np.clip(np.minimum(t, seconds - t) / 0.2, 0.0, 1.0)
    tone = np.sin(2 * np.pi * frequency * t) * np.sin(fade * np.pi / 2) ** 2
    return np.stack([left * tone, right * tone], axis=1)


def music(seconds: float, seed: int = 1, rate: int = RATE) -> Float:
    """Noise with a falling spectrum and swells, partly common to both channels, shape (n, 2)."""
    rng = np.random.default_rng(seed)
    n = round(seconds * rate)
    spectrum = np.fft.rfft(rng.standard_normal((n, 3)), axis=0)
    f = np.fft.rfftfreq(n, 1 / rate)
    shape = 1.0 / np.maximum(f, 60.0) * (f > 25.0) * (f < 12_000.0)
    a, b, c = np.fft.irfft(spectrum * shape[:, None], n, axis=0).T
    swell = 0.2 + 0.8 * np.sin(np.pi * np.arange(n) / n * 3) ** 4
    x = np.stack([a + 0.5 * b, a + 0.5 * c], axis=1) * swell[:, None]
    return x / np.abs(x).max() * 0.7


def exact_edges(programme: Float, corner: float, rate: int = RATE) -> Float:
    """Edge movement by one big FFT with the analogue response, m, shape (n, 2): another road.

    Its own formula, down to the constants: nothing is shared with the code under test.
    """
    pad = 2 * rate
    x = np.concatenate([np.zeros((pad, 2)), programme, np.zeros((pad, 2))])
    s = 2j * np.pi * np.fft.rfftfreq(len(x), 1 / rate)
    s[0] = 1e-9
    curve = (1 + s * 3180e-6) * (1 + s * 75e-6) / (1 + s * 318e-6)
    at = 2j * np.pi * 1000
    curve = curve / abs((1 + at * 3180e-6) * (1 + at * 75e-6) / (1 + at * 318e-6))
    w0 = 2 * np.pi * corner
    high_pass = s**2 / (s**2 + np.sqrt(2) * w0 * s + w0**2)
    wall = np.fft.irfft(np.fft.rfft(x, axis=0) * (0.05 / np.sqrt(2) * curve * high_pass / s)[:, None], len(x), axis=0)
    return np.sqrt(2) * wall[pad : pad + len(programme)]
