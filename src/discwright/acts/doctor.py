"""Examine the machine: what discwright stands on, and what to do where something is missing."""

from __future__ import annotations

import os
import platform
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from discwright import __version__
from discwright.kernel_cache import cache_root

#: Libraries a plan is made with.
LIBRARIES = (
    "numpy", "scipy", "numba", "soundfile", "soxr", "pyloudnorm", "highspy", "pillow", "typer", "rich",
)  # fmt: skip
_FREE_GIB = 2.0
#: Clocks set before the program was made are wrong.
_MADE = datetime(2026, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Check:
    """One line of the examination."""

    name: str
    good: bool
    fact: str
    remedy: str = ""

    def as_dict(self) -> dict[str, str | bool]:
        """The line as plain JSON values."""
        return {"name": self.name, "good": self.good, "fact": self.fact, "remedy": self.remedy}


def examine() -> tuple[Check, ...]:
    """Look at versions, solver, audio library, kernel cache, disk and clock.

    Returns
    -------
    tuple of Check
    """
    checks = (_versions, _libraries, _solver, _audio, _kernels, _disk, _clock)
    return tuple(_guarded(check) for check in checks)


def _guarded(check: Callable[[], Check]) -> Check:
    try:
        return check()
    except Exception as trouble:  # whatever breaks a library is a fact about this machine
        fact = f"{type(trouble).__name__}: {trouble}"
        return Check(check.__name__.strip("_"), False, fact, "install discwright again: make install")


def _versions() -> Check:
    good = sys.version_info >= (3, 11)
    system = f"{platform.system()} {platform.machine()}"
    fact = f"discwright {__version__}, Python {platform.python_version()}, {system}"
    return Check("versions", good, fact, "" if good else "install Python 3.11 or newer")


def _libraries() -> Check:
    found, missing = [], []
    for name in LIBRARIES:
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            missing.append(name)
    remedy = f"install {', '.join(missing)}: make install" if missing else ""
    return Check("libraries", not missing, ", ".join(found), remedy)


def _solver() -> Check:
    import numpy as np

    from discwright.groove.solver import Rows, solve

    rows = Rows()
    rows.add(np.array([[0, 1]]), np.array([[1.0, 2.0]]), 4.0, np.inf)
    # By hand: the cheapest way to x + 2y = 4 at costs 1 and 1 is y = 2.
    answer = solve(np.ones(2), np.zeros(2), np.full(2, np.inf), rows)
    good = answer.optimal and abs(answer.objective - 2.0) < 1e-9
    word = "solves" if good else "does not find the optimum"
    return Check("solver", good, f"HiGHS {version('highspy')} {word}", "" if good else "install highspy again")


def _audio() -> Check:
    import soundfile

    formats = soundfile.available_formats()
    missing = [name for name in ("WAV", "RF64", "AIFF", "FLAC", "OGG") if name not in formats]
    lacks = f"this libsndfile lacks {', '.join(missing)}: pip install --force-reinstall soundfile"
    return Check("audio", not missing, f"libsndfile {soundfile.__libsndfile_version__}", lacks if missing else "")


def _kernels() -> Check:
    from discwright.groove import kernels

    folder = kernels.cache_folder()
    if folder is None:
        remedy = f"make {cache_root()} writable, or each start compiles"
        return Check("kernels", False, "no writable cache", remedy)
    kept = len(list(Path(folder).glob("**/*.nbi")))
    return Check("kernels", True, f"{kept or 'none'} compiled in {folder}")


def _disk() -> Check:
    places = {str(Path.cwd()), tempfile.gettempdir()}
    free = {place: shutil.disk_usage(place).free / 2**30 for place in places}
    short = [place for place, gib in free.items() if gib < _FREE_GIB]
    unwritable = [place for place in places if not os.access(place, os.W_OK)]
    fact = ", ".join(f"{gib:.1f} GiB free in {place}" for place, gib in sorted(free.items()))
    if unwritable:
        return Check("disk", False, fact, f"{unwritable[0]} is not writable: work in another folder")
    return Check("disk", not short, fact, f"make room in {short[0]}" if short else "")


def _clock() -> Check:
    now = datetime.now(UTC)
    steady = time.get_clock_info("monotonic").monotonic
    good = now > _MADE and steady
    return Check("clock", good, now.isoformat(timespec="seconds"), "" if good else "set this machine's clock")
