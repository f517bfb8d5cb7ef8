"""Make the invented demo title: programme, title file, layout, every plan, sheet and lathe file, and a proof."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from discwright.acts.layout import LayoutReport, layout
from discwright.acts.proof import proof
from discwright.acts.proof_report import ProofReport
from discwright.acts.title import SideReport, plan_title
from discwright.errors import CallError
from discwright.files.audio_write import write_wav
from discwright.programme.demo import CATALOGUE_NUMBER, PERFORMERS, TITLE, DemoSide, demo_sides

SAMPLE_RATE_HZ = 44_100
TITLE_FILE = "title.toml"
#: The proof: the innermost passage of all sides, with a plain and a finer tip.
PROOF_FILE, PROOF_S, PROOF_TIPS = "proof.flac", 30.0, ("spherical-18", "elliptical-8")

_EDITIONS = """
# The long-player: `layout` chooses the sides.
[[edition]]
id = "lp"
format = "12in-33"
quantity = 300
due = 2031-05-30
level = "fit"

# The 45: two of the bands, fixed; its second side is bright.
[[edition]]
id = "ep"
format = "7in-45"
quantity = 500
due = 2031-04-18
level = "fit"

[[edition.side]]
letter = "A"
bands = ["mooring"]

[[edition.side.treatment]]
kind = "bass_blend"
below_hz = 150.0

[[edition.side]]
letter = "B"
bands = ["glass-and-tin"]

[[edition.side.treatment]]
kind = "treble_limit"
"""


@dataclass(frozen=True)
class DemoResult:
    """The demo, made and planned.

    Attributes
    ----------
    title_file : pathlib.Path
    layout : LayoutReport
    sides : tuple of SideReport
    proof : ProofReport
    ledger : pathlib.Path or None
        None where one was there, or its libraries are not installed.
    """

    title_file: Path
    layout: LayoutReport
    sides: tuple[SideReport, ...]
    proof: ProofReport
    ledger: Path | None


def write_demo(folder: str | os.PathLike[str], progress: Callable[[str, float], None] | None = None) -> DemoResult:
    """Write the demo's programme and title file, lay it out, plan every side and prove the innermost passage.

    Parameters
    ----------
    folder : str or os.PathLike
        Made where it does not exist.
    progress : callable, optional
        Called with a step's name and the fraction of it done.

    Returns
    -------
    DemoResult

    Raises
    ------
    CallError
        If the folder cannot be written.
    """
    tell = progress or (lambda _step, _done: None)
    place = Path(folder)
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as trouble:
        raise CallError(f"{place}: cannot be made ({trouble.strerror}); choose another folder.") from None
    sides = demo_sides()
    for number, side in enumerate(sides, 1):
        write_wav(place / f"reel-{number}.wav", _told(side, number, tell), SAMPLE_RATE_HZ)
    path = place / TITLE_FILE
    _write_text(path, title_text(sides))
    found = layout(path, progress=tell)
    planned = plan_title(path, out=place, found=found, progress=tell)
    return DemoResult(path, found, planned, _prove(planned, place, tell), _ledger(path, planned))


def _ledger(title_file: Path, sides: tuple[SideReport, ...]) -> Path | None:
    """A week at the works, where the ledger's libraries are installed."""
    if find_spec("sqlalchemy") is None:
        return None
    from discwright.acts.demo_works import write_ledger

    return write_ledger(
        title_file, {(one.label.edition, one.label.letter): one.folder for one in sides if one.folder is not None}
    )


def _prove(sides: tuple[SideReport, ...], place: Path, tell: Callable[[str, float], None]) -> ProofReport:
    inner = min(sides, key=lambda one: one.plan.end_radius)
    assert inner.folder is not None
    end = inner.plan.programme.duration
    return proof(
        inner.folder, tips=PROOF_TIPS, start=max(0.0, end - PROOF_S), end=end, out=place / PROOF_FILE, difference=True,
        progress=tell,
    )  # fmt: skip


def title_text(sides: tuple[DemoSide, ...]) -> str:
    """The demo's title file.

    Parameters
    ----------
    sides : tuple of DemoSide
    """
    lines = [
        "# The demo: an invented title. `discwright layout --new FILE` writes a commented one to start from.",
        "[title]",
        f'name = "{TITLE}"',
        f'catalogue = "{CATALOGUE_NUMBER}"',
        f'people = ["{PERFORMERS}"]',
    ]
    for number, side in enumerate(sides, 1):
        for k, band in enumerate(side.bands):
            following = side.bands[k + 1].start_s if k + 1 < len(side.bands) else band.end_s + 2.0
            lines += [
                "",
                "[[band]]",
                f'id = "{band_id(band.title)}"',
                f'name = "{band.title}"',
                f'file = "reel-{number}.wav"',
                f"start = {band.start_s}",
                f"end = {band.end_s}",
                f"gap_s = {following - band.end_s}",
            ]
    return "\n".join(lines) + "\n" + _EDITIONS


def band_id(name: str) -> str:
    """A band's id in the title file, from its name.

    Parameters
    ----------
    name : str
    """
    return name.lower().replace(" ", "-")


def _write_text(path: Path, text: str) -> None:
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_text(text, encoding="utf-8", newline="")
        os.replace(part, path)
    except OSError as trouble:
        raise CallError(f"{path}: cannot be written ({trouble.strerror}); check the folder and the disk.") from None
    finally:
        part.unlink(missing_ok=True)


def _told(side: DemoSide, number: int, tell: Callable[[str, float], None]) -> Iterator[NDArray[np.float32]]:
    """The side's blocks, with word of how far it has come."""
    done = 0
    for block in side.blocks(SAMPLE_RATE_HZ):
        yield block
        done += len(block)
        tell(f"playing reel {number}", done / (side.duration_s * SAMPLE_RATE_HZ))
