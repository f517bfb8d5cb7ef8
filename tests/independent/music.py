"""Real music to plan: freely licensed pieces that Debian packages for two games bring along.

`wesnoth-1.16-music` holds orchestral pieces (Vorbis, 44.1 kHz), `warzone2100-music` electronic ones
(Opus, 48 kHz). Decoded pieces may exceed full scale, so a programme is scaled once, as a whole, to fit.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import soundfile as sf
from numpy.typing import NDArray

GAMES = Path("/usr/share/games")
CACHE = Path(__file__).resolve().parents[2] / ".music"
PATTERNS = {
    "orchestral": ("wesnoth/**/music/*.ogg", "wesnoth-1.16-music"),
    "electronic": ("warzone2100/music/**/*.opus", "warzone2100-music"),
}
PEAK = 0.97
FADE_S = 2.0


def find_pieces(kind: str, least_s: float = 150.0, most_s: float = 700.0) -> list[Path]:
    """Installed pieces of one kind in alphabetical order, those of a length worth cutting; often none.

    Parameters
    ----------
    kind : {"orchestral", "electronic"}
    least_s, most_s : float
        Shortest and longest piece taken, s.
    """
    found = []
    for path in sorted(GAMES.glob(PATTERNS[kind][0])):
        length = sf.info(path).duration
        if least_s <= length <= most_s:
            found.append(path)
    return found


def missing(kind: str, count: int = 1) -> str:
    """Why music of a kind cannot be used, ending with what to do; empty when it can."""
    if len(find_pieces(kind)) >= count:
        return ""
    return f"no {kind} music under {GAMES}; install the package {PATTERNS[kind][1]}"


def _pieces(paths: Sequence[Path], gap_s: float, duration_s: float) -> tuple[NDArray[np.float32], int]:
    """Pieces one after the other with gaps, from the start again if they are too few; cut and faded."""
    rate = sf.info(paths[0]).samplerate
    length = round(duration_s * rate)
    out = np.zeros((length, 2), np.float32)
    at, turn = 0, 0
    while at < length:
        piece, piece_rate = sf.read(paths[turn % len(paths)], dtype="float32", always_2d=True)
        if piece_rate != rate:
            raise ValueError(f"{paths[turn % len(paths)].name} has {piece_rate} Hz, not {rate} Hz")
        fits = min(len(piece), length - at)
        out[at : at + fits] = piece[:fits, [0, -1]]
        at, turn = at + len(piece) + round(gap_s * rate), turn + 1
    fade = min(round(FADE_S * rate), length)
    out[length - fade :] *= np.cos(np.linspace(0, np.pi / 2, fade, dtype=np.float32))[:, None] ** 2
    return out, rate


def build_programme(
    paths: Sequence[Path],
    duration_s: float,
    subtype: str = "PCM_16",
    gap_s: float = 1.0,
    directory: Path = CACHE,
) -> Path:
    """A WAV of exactly the duration asked for, kept in `directory` for the next time.

    Parameters
    ----------
    paths : sequence of Path
        Pieces of one sample rate.
    duration_s : float
    subtype : {"PCM_16", "PCM_24"}
    gap_s : float
        Silence between two pieces, s.
    directory : Path

    Raises
    ------
    ValueError
        If the pieces have different sample rates.
    """
    recipe = "\n".join([*(path.name for path in paths), str(duration_s), subtype, str(gap_s)])
    target = directory / f"{round(duration_s)}s-{hashlib.sha256(recipe.encode()).hexdigest()[:12]}.wav"
    if not target.exists():
        directory.mkdir(parents=True, exist_ok=True)
        samples, rate = _pieces(paths, gap_s, duration_s)
        peak = max(-float(samples.min()), float(samples.max()))
        samples *= min(1.0, PEAK / peak) if peak > 0 else 1.0
        part = target.with_suffix(".part")
        sf.write(part, samples, rate, format="WAV", subtype=subtype)
        part.replace(target)
    return target
