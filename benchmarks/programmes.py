"""The sides the benchmarks plan: real orchestral music where it is installed, noise-like sound where not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile as sf

from independent import CACHE, build_programme, find_pieces, missing

SEED = 33
RATE = 44100


def noise_side(duration_s: float) -> Path:
    """Stereo noise falling 3 dB per octave that swells every seven seconds, for machines without music."""
    target = CACHE / f"noise-{round(duration_s)}s.wav"
    if target.exists():
        return target
    generator = np.random.default_rng(SEED)
    count = round(duration_s * RATE)
    spectrum = np.fft.rfft(generator.standard_normal((count, 2)), axis=0)
    spectrum /= np.sqrt(np.maximum(np.arange(len(spectrum)), 30 * duration_s))[:, None]
    sound = np.fft.irfft(spectrum, count, axis=0) @ np.array([[0.8, 0.4], [0.4, 0.8]])
    sound *= 0.6 + 0.4 * np.sin(2 * np.pi * np.arange(count) / RATE / 7)[:, None]
    CACHE.mkdir(parents=True, exist_ok=True)
    sf.write(target, 0.9 * sound / np.abs(sound).max(), RATE, subtype="PCM_16")
    return target


def side(duration_s: float) -> tuple[Path, str]:
    """A 44.1 kHz stereo WAV of this length and the words for what it holds."""
    if missing("orchestral"):
        return noise_side(duration_s), "synthetic noise"
    return build_programme(find_pieces("orchestral"), duration_s), "orchestral music"
