"""Make a kept side ready to be looked at and heard: programme as it is cut, both edges, what each sector asks."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, fields
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from discwright import __version__
from discwright.acts.side import treated_as_planned
from discwright.errors import CallError
from discwright.files.kept_side import KeptSide, open_kept
from discwright.groove.edges import edge_blocks
from discwright.groove.grid import lay_grid
from discwright.groove.limits import view
from discwright.groove.measures import SectorMeasures, sector_measures
from discwright.groove.motion import survey_motion

Progress = Callable[[str, float], None]
Single = NDArray[np.float32]

#: Files of a side made ready; the last says that all are whole.
PROGRAMME, EDGES, MEASURES, READY = "programme.f32", "edges.f32", "measures.npz", "ready.json"


@dataclass(frozen=True)
class Prepared:
    """A side made ready.

    Attributes
    ----------
    programme : ndarray, shape (frames, 2), float32
        As it is cut, treatments included, 1.0 = full scale; lies on disk.
    edges : ndarray, shape (frames, 2), float32, m
        Movement of inner and outer edge; lies on disk.
    measures : SectorMeasures
    """

    programme: Single
    edges: Single
    measures: SectorMeasures


def prepare(folder: Path, cache: Path, progress: Progress | None = None) -> None:
    """Compute what looking and listening need, beside its place, and put it there when it is whole.

    Parameters
    ----------
    folder : pathlib.Path
        Of a kept plan.
    cache : pathlib.Path
        Folder to make; left alone where it is whole already.
    progress : callable, optional
        Called with a step's name and the fraction of it done.

    Raises
    ------
    CallError, SettingsError, AudioError, SolverError
    """
    if read_prepared(cache) is not None:
        return
    tell = progress or (lambda _step, _done: None)
    kept = open_kept(folder)
    cache.parent.mkdir(parents=True, exist_ok=True)
    part = Path(tempfile.mkdtemp(prefix=".part-", dir=cache.parent))
    try:
        _write(kept, part, tell)
        shutil.rmtree(cache, ignore_errors=True)
        with suppress(FileExistsError):  # another was quicker, and made the same
            part.rename(cache)
    except OSError as trouble:
        raise CallError(f"{cache}: could not be written ({trouble.strerror}); check the disk.") from None
    finally:
        shutil.rmtree(part, ignore_errors=True)


def read_prepared(cache: Path) -> Prepared | None:
    """What :func:`prepare` made; None where it is not there, or of another version.

    Parameters
    ----------
    cache : pathlib.Path
    """
    try:
        facts = json.loads((cache / READY).read_text(encoding="utf-8"))
        if facts["version"] != __version__:
            return None
        shape = (int(facts["frames"]), 2)
        programme, edges = (np.memmap(cache / name, np.float32, "r", shape=shape) for name in (PROGRAMME, EDGES))
        with np.load(cache / MEASURES) as kept:
            measures = SectorMeasures(**{field.name: kept[field.name] for field in fields(SectorMeasures)})
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return Prepared(programme, edges, measures)


def _write(kept: KeptSide, part: Path, tell: Progress) -> None:
    programme, setup = kept.audio.programme, kept.setup
    rate, frames = programme.sample_rate_hz, programme.frames
    gain = 10.0 ** (kept.level_db / 20.0)
    cut = treated_as_planned(kept.audio, kept.order, kept.treatments, tell)
    _spool(part / PROGRAMME, cut, frames, lambda done: tell("reading the programme", done))
    sound: Single = np.memmap(part / PROGRAMME, np.float32, "r", shape=(frames, 2))
    corner = setup.practice.subsonic
    edges = edge_blocks(_pieces(sound), rate, corner, gain)
    _spool(part / EDGES, edges, frames, lambda done: tell("moving the tip", done))
    joins = tuple((end, start) for (_, end), (start, _) in pairwise(kept.bands))
    grid = lay_grid(programme.duration, setup.disc.turn_time, setup.lathe.sectors_per_turn, joins)
    motion = survey_motion(
        _pieces(sound), rate, grid, setup.practice.sync_guard, corner, lambda done: tell("measuring the groove", done)
    )
    side = view(motion, gain, setup, kept.rows, tuple(start for start, _ in kept.bands))
    measures = sector_measures(side)
    np.savez(part / MEASURES, **{field.name: getattr(measures, field.name) for field in fields(measures)})
    facts = {"version": __version__, "frames": frames, "sample_rate_hz": rate}
    (part / READY).write_text(json.dumps(facts) + "\n", encoding="utf-8")


def _spool(path: Path, blocks: Iterator[Single], frames: int, tell: Callable[[float], None]) -> None:
    """Write blocks to disk as they come; never more memory than one of them."""
    done = 0
    with path.open("wb") as file:
        for block in blocks:
            np.ascontiguousarray(block, dtype=np.float32).tofile(file)
            done += len(block)
            tell(done / frames)


def _pieces(sound: Single) -> Iterator[Single]:
    for at in range(0, len(sound), 1 << 18):
        yield np.asarray(sound[at : at + (1 << 18)])
