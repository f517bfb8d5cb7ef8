"""Keep a test play: the report, its picture, and programme, capture and difference to be heard side by side."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np

from discwright.acts.inspect_reference import Reference
from discwright.acts.inspect_report import InspectReport
from discwright.errors import CallError
from discwright.files.inspect_picture import PlaySheet, draw_play
from discwright.files.proof_audio import ProofFiles
from discwright.inspection.align import Alignment
from discwright.inspection.difference import differences
from discwright.inspection.frames import Pair

Progress = Callable[[str, float], None]

REPORT, PICTURE = "inspect.json", "inspect.png"
AUDIO = ("programme.flac", "capture.flac", "difference.flac")
KEPT = (REPORT, PICTURE, *AUDIO)


def check_place(out: Path) -> None:
    """Refuse a folder that holds something else.

    Parameters
    ----------
    out : pathlib.Path

    Raises
    ------
    CallError
    """
    if out.exists() and (not out.is_dir() or {one.name for one in out.iterdir()} - set(KEPT)):
        raise CallError(f"{out}: is there already and holds something else; name a folder that is new.")
    if not out.resolve().parent.is_dir():
        raise CallError(f"{out.resolve().parent}: is no folder; name one that is there.")


def keep_report(
    report: InspectReport, reference: Reference, pair: Pair, laid: Alignment, gain: float, out: Path, tell: Progress
) -> None:  # fmt: skip
    """Write everything beside its place, then put it there at once.

    Parameters
    ----------
    report : InspectReport
    reference : Reference
    pair : Pair
    laid : Alignment
    gain : float
        Of the capture; it is written without.
    out : pathlib.Path
    tell : callable

    Raises
    ------
    CallError
        If it cannot be written.
    """
    part = out.with_name(f".{out.name}.part")
    shutil.rmtree(part, ignore_errors=True)
    try:
        part.mkdir()
        _audio(pair, laid, gain, part, tell)
        draw_play(part / PICTURE, _sheet(report, reference))
        (part / REPORT).write_text(json.dumps(report.as_dict(), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
        if out.exists():
            for name in KEPT:
                if (part / name).exists():
                    os.replace(part / name, out / name)
            part.rmdir()
        else:
            os.replace(part, out)
    except OSError as trouble:
        raise CallError(f"{out}: cannot be written ({trouble.strerror}); check the folder and the disk.") from None
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _sheet(report: InspectReport, reference: Reference) -> PlaySheet:
    limits = report.limits_told()
    measures = []
    for name, value in report.measures().items():
        unit = str(limits[name]["unit"])
        words = name.removesuffix(f"_{'percent' if unit == '%' else unit.lower()}").replace("_", " ")
        limit = limits[name]["limit"]
        told = "not to be told" if value is None else f"{value:g} {unit}"
        measures.append((words, told if limit is None else f"{told}   (limit {limit:g})"))
    return PlaySheet(
        report.name, f"{Path(report.capture.path).name}, held against {report.reference}", report.verdict,
        reference.disc, reference.radius_at(reference.duration), report.turn_time, reference.radius_at,
        report.played.defects, measures, report.findings, report.played.sound.response_db,
    )  # fmt: skip


def _audio(pair: Pair, laid: Alignment, gain: float, part: Path, tell: Progress) -> None:
    """Three files of one length; the difference is what is left after the playing's own sound."""
    with ProofFiles(pair.rate) as files:
        for block in differences(pair, laid, whole=True):
            assert block.whole is not None
            spare, expected = block.whole
            count = len(spare)
            own = pair.programme.read(block.first, count)
            for name, audio in zip(AUDIO, (own, (spare + expected) / gain, spare / gain), strict=True):
                files.write(part / name, audio.astype(np.float64))
            tell("writing", min(1.0, block.first / max(pair.programme.frames, 1)))
        files.finish()
