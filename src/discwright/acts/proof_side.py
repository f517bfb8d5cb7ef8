"""The side that is proved: from a folder that was kept, or of a title, planned for the purpose."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from discwright.acts.side import treated_as_planned
from discwright.acts.title import Choice, plan_title
from discwright.errors import CallError
from discwright.files.kept_side import KeptSide, open_kept
from discwright.files.plans import PLAN
from discwright.files.side_audio import SideAudio
from discwright.files.title import load_title
from discwright.groove.equipment import Setup
from discwright.programme.title import TAPE

Progress = Callable[[str, float], None]
Float = NDArray[np.float64]
Single = NDArray[np.float32]


@dataclass(frozen=True)
class ProofSide:
    """A planned side, ready to be played.

    Attributes
    ----------
    name : str
        As a person knows it.
    fingerprint : str
        Of the plan.
    setup : Setup
    level_db : float
    bands : tuple of (float, float), s
    time, radius, depth : ndarray, shape (N,), s and m
        The planned spiral.
    audio : SideAudio
    blocks : callable
        The programme as it is cut, treatments included, from its first sample.
    """

    name: str
    fingerprint: str
    setup: Setup
    level_db: float
    bands: tuple[tuple[float, float], ...]
    time: Float
    radius: Float
    depth: Float
    audio: SideAudio
    blocks: Callable[[], Iterator[Single]]


def open_side(path: Path, edition: str | None, side: str | None, progress: Progress) -> ProofSide:
    """Find the side.

    Parameters
    ----------
    path : pathlib.Path
        Folder of a kept plan, or title file.
    edition, side : str or None
        Of a title.
    progress : callable
        Called with a step's name and the fraction of it done.

    Returns
    -------
    ProofSide

    Raises
    ------
    CallError, SettingsError, AudioError, SolverError
    """
    if path.suffix == ".toml":
        return _of_title(path, edition, side, progress)
    if edition is not None or side is not None:
        raise CallError("--edition and --side choose from a title file; name one that ends with .toml.")
    _check_one_side(path)
    return _kept(open_kept(path), progress)


def _check_one_side(path: Path) -> None:
    """Refuse the folder of a whole title, whose sides lie in folders of their own."""
    if not path.is_dir() or (path / PLAN).exists():
        return
    sides = sorted(folder.name for folder in path.iterdir() if (folder / PLAN).is_file())
    if sides:
        raise CallError(f"{path}: holds several sides, {', '.join(sides)}; name one of them, {path / sides[0]}.")


def _kept(kept: KeptSide, progress: Progress) -> ProofSide:
    title = kept.document.get("title")
    name = f"{title['name']}, {title['edition']} side {title['side']}" if title else kept.folder.resolve().name

    def blocks() -> Iterator[Single]:
        return treated_as_planned(kept.audio, kept.order, kept.treatments, progress)

    return ProofSide(
        name, str(kept.document.get("fingerprint", "")), kept.setup, kept.level_db, kept.bands,
        kept.rows.time, kept.rows.radius, kept.rows.depth, kept.audio, blocks,
    )  # fmt: skip


def _of_title(path: Path, edition: str | None, side: str | None, progress: Progress) -> ProofSide:
    title = load_title(path)
    discs = [one.id for one in title.editions if one.format != TAPE]
    if edition is None and len(discs) > 1:
        raise CallError(f"this title has the editions {', '.join(discs)}; choose one with --edition.")
    fixed = {one.id: [order.letter for order in one.sides] for one in title.editions}.get(edition or "".join(discs), [])
    if side is None and len(fixed) > 1:
        raise CallError(f"this edition has the sides {', '.join(fixed)}; choose one with --side.")
    sides = plan_title(path, Choice(edition=edition, side=side), progress=progress)
    if len(sides) > 1:
        letters = ", ".join(one.label.letter for one in sides)
        raise CallError(f"this edition has the sides {letters}; choose one with --side.")
    one = sides[0]
    plan, label = one.plan, one.label
    return ProofSide(
        f"{label.title}, {label.edition} side {label.letter}", str(one.document["fingerprint"]), plan.setup,
        plan.level_db, plan.bands, plan.rows.time, plan.rows.radius, plan.rows.depth, one.audio,
        lambda: one.side.treated(one.audio),
    )  # fmt: skip
