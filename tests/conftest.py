"""Short programmes shared by the tests of acts and command line, made once per run."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

RATE = 44_100


def invented(seconds: float, seed: int = 1) -> np.ndarray:
    """Noise with a falling spectrum, partly common to both channels, shape (n, 2)."""
    rng = np.random.default_rng(seed)
    n = round(seconds * RATE)
    spectrum = np.fft.rfft(rng.standard_normal((n, 3)), axis=0)
    f = np.fft.rfftfreq(n, 1 / RATE)
    a, b, c = np.fft.irfft(spectrum * ((f > 30) * (f < 9000) / np.maximum(f, 80))[:, None], n, axis=0).T
    x = np.stack([a + 0.4 * b, a + 0.4 * c], axis=1)
    x *= (0.3 + 0.7 * np.sin(np.arange(n) / n * np.pi * 4) ** 2)[:, None]
    result: np.ndarray = x / np.abs(x).max() * 0.6
    return result


@pytest.fixture(scope="session")
def side(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twenty-five seconds of invented music, 16-bit WAV."""
    path = tmp_path_factory.mktemp("side") / "side.wav"
    soundfile.write(path, invented(25.0), RATE, subtype="PCM_16")
    return path


@pytest.fixture(scope="session")
def long_side(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four minutes of invented music: long enough to be interrupted."""
    path = tmp_path_factory.mktemp("long") / "long.wav"
    soundfile.write(path, np.tile(invented(30.0), (8, 1)), RATE, subtype="PCM_16")
    return path


Result = subprocess.CompletedProcess[str]


@pytest.fixture
def discwright(tmp_path: Path) -> Callable[..., Result]:
    """Run the real command line in a folder of its own."""

    def run(*arguments: object, cwd: Path | None = None, **environment: str) -> Result:
        return subprocess.run(
            [sys.executable, "-m", "discwright", *map(str, arguments)],
            capture_output=True,
            text=True,
            cwd=cwd or tmp_path,
            env=os.environ | environment,
            timeout=300,
        )

    return run
