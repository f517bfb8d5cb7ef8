"""How fast a chain is measured: a row for the table.

python benchmarks/chain.py --quick     signals at 44.1 kHz: does it still run?
python benchmarks/chain.py             five minutes of signals at 96 kHz, 24 bits
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf

Row = tuple[str, str, str]
DISCWRIGHT = [sys.executable, "-m", "discwright"]


def bend(signals: Path, capture: Path) -> None:
    """A chain that is worth measuring: a little crooked, noisy, leaking, and with hum."""
    chance, at = np.random.default_rng(1), 0
    with sf.SoundFile(signals) as played, sf.SoundFile(capture, "w", played.samplerate, 2, "PCM_24") as out:
        while len(sound := played.read(1 << 18)):
            bent = sound + 0.01 * sound**2 + 0.02 * sound**3 + 0.002 * sound[:, ::-1]
            time_s = (at + np.arange(len(sound))) / played.samplerate
            bent += 1e-4 * np.sin(2 * np.pi * 50.02 * time_s)[:, None]
            out.write(np.clip(bent + 3e-5 * chance.standard_normal(sound.shape), -1.0, 1.0))
            at += len(sound)


def measured(command: list[str]) -> tuple[float, float, dict[str, Any]]:
    """Seconds, processor seconds of the whole command with its children, and what it printed as JSON."""
    import resource

    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begin = time.perf_counter()
    done = subprocess.run(command, capture_output=True, check=True)
    seconds = time.perf_counter() - begin
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return seconds, used, json.loads(done.stdout)


def chain_rows(work: Path, rate: int) -> Iterator[Row]:
    """The signals written, and a capture of them measured; the middle of three.

    Parameters
    ----------
    work : pathlib.Path
    rate : int
    """
    work.mkdir(parents=True, exist_ok=True)
    signals, capture = work / "signals.wav", work / "capture.wav"
    written, _, _ = measured([*DISCWRIGHT, "chain", "--make", str(signals), "--rate", str(rate), "--json"])
    bend(signals, capture)
    runs = sorted((measured([*DISCWRIGHT, "chain", str(capture), "--json"]) for _ in range(3)), key=lambda one: one[0])
    seconds, used, plain = runs[1]
    if plain["signals_found"] != plain["signals_asked"] or abs(plain["separation_db"] - 53.98) > 0.1:
        raise RuntimeError("the capture was not measured as it was made")
    size = f"{plain['duration_s'] / 60:.1f} min of signals at {rate / 1000:g} kHz, {len(plain['tones'])} tones"
    yield "chain measured", f"{seconds:.1f} s", f"{size}; {used:.1f} s of processor time; the least {runs[0][0]:.1f} s"
    yield "signals of a chain written", f"{written:.1f} s", f"{signals.stat().st_size / 2**20:.0f} MiB"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="signals at 44.1 kHz: does it still run?")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as directory:
        for row in chain_rows(Path(directory), 44_100 if options.quick else 96_000):
            print(*row, sep=" | ", flush=True)


if __name__ == "__main__":
    main()
