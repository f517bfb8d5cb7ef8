"""Plan the cut of one audio file and, where asked for, keep the plan."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from discwright.files.audio import open_audio
from discwright.files.picture import draw_disc
from discwright.files.plans import (
    PICTURE,
    PLAN,
    SPIRAL,
    Source,
    check_folder,
    new_folder,
    plan_as_dict,
    plan_json,
    spiral_csv,
)
from discwright.files.settings import load_setup
from discwright.plan import Order, Plan, Programme, check_order, plan_side
from discwright.units import clock

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class PlanReport:
    """A plan with everything that is kept of it.

    Attributes
    ----------
    plan : Plan
    document : dict
        What `plan.json` holds.
    csv : str
        What `spiral.csv` holds.
    folder : pathlib.Path or None
        Where it was kept.
    """

    plan: Plan
    document: dict[str, Any]
    csv: str
    folder: Path | None

    @property
    def json(self) -> str:
        """The text of `plan.json`."""
        return plan_json(self.document)


def plan_file(
    path: str | os.PathLike[str],
    *,
    format: str | None = None,
    level_db: float | None = None,
    clean: bool = False,
    lathe: str | None = None,
    head: str | None = None,
    cutting_tip: str | None = None,
    tip: str | None = None,
    practice: str | None = None,
    exact: bool = False,
    bands: tuple[tuple[float, float], ...] = (),
    out: str | os.PathLike[str] | None = None,
    progress: Progress | None = None,
) -> PlanReport:
    """Plan the cut of one finished side of music.

    Parameters
    ----------
    path : str or os.PathLike
        Audio file: WAV, RF64, BW64, AIFF, FLAC or Ogg, one or two channels.
    format, lathe, head, cutting_tip, tip, practice : str, optional
        A name in `data/` or the path of a TOML file.
    level_db : float, optional
        Fixed level; without it the highest that nothing stops is found.
    clean : bool
        A fitted level must also trace cleanly with the playing tip.
    exact : bool
        Also solve the whole side as one problem.
    bands : tuple of (float, float), s
        Begin and end of each band; one band without.
    out : str or os.PathLike, optional
        Folder to keep the plan in.
    progress : callable, optional
        Called with a step's name and the fraction of it done.

    Returns
    -------
    PlanReport

    Raises
    ------
    CallError, SettingsError, AudioError, SolverError
    """
    setup = load_setup(format, lathe, head, cutting_tip, tip, practice)
    folder = None if out is None else Path(out)
    if folder is not None:
        check_folder(folder)
    order = Order(
        setup=setup,
        level_db=level_db,
        clean=clean,
        exact=exact,
        band_starts=tuple(start for start, _ in bands) or (0.0,),
        band_ends=tuple(end for _, end in bands),
    )
    with open_audio(path) as audio:
        programme = Programme(audio.header.sample_rate_hz, audio.header.frames, audio.header.channels)
        check_order(order, programme)
        plan = plan_side(audio.blocks(), programme, order, progress)
        source = Source(os.fspath(path), audio.sha256)
    csv = spiral_csv(plan.rows, setup.disc.turn_time)
    report = PlanReport(plan, plan_as_dict(plan, source, csv), csv, folder)
    if folder is not None:
        _keep(report, folder, progress)
    return report


def _keep(report: PlanReport, folder: Path, progress: Progress | None) -> None:
    if progress is not None:
        progress("drawing the disc", 0.0)
    plan = report.plan
    with new_folder(folder) as part:
        (part / SPIRAL).write_text(report.csv, encoding="utf-8", newline="")
        (part / PLAN).write_text(report.json, encoding="utf-8", newline="")
        draw_disc(
            part / PICTURE, plan.rows, plan.setup.disc,
            bands=plan.bands, findings=plan.findings, caption=_caption(report),
        )  # fmt: skip


def _caption(report: PlanReport) -> str:
    plan = report.plan
    name = Path(report.document["programme"]["path"]).stem
    return f"{name}\n{plan.setup.disc.name}  {clock(plan.programme.duration)}  {plan.level_db:+.1f} dB"
