"""Plan the cut of one audio file and, where asked for, keep the plan."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from discwright.acts.keep import Kept, chosen_extras, keep
from discwright.acts.side import plan_audio
from discwright.files.plans import check_folder, plan_as_dict, plan_json, spiral_csv
from discwright.files.settings import load_setup, shipped
from discwright.files.side_audio import SideAudio, find_range
from discwright.groove.equipment import PlayingTip, Setup
from discwright.plan import Order, Plan, check_order
from discwright.programme.title import SideLabel, TitleBand

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
    setup: Setup | None = None,
    ladder: bool = False,
    out: str | os.PathLike[str] | None = None,
    only: tuple[str, ...] | None = None,
    calibration: bool = False,
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
    setup : Setup, optional
        Everything at once, in place of the six names.
    ladder : bool
        Find the level of every limit, and what each level costs.
    out : str or os.PathLike, optional
        Folder to keep the plan in.
    only : tuple of str, optional
        Of sheet, gcode, control, svg and removed; all without.
    calibration : bool
        Begin the control file with known levels and pitches.
    progress : callable, optional
        Called with a step's name and the fraction of it done.

    Returns
    -------
    PlanReport

    Raises
    ------
    CallError, SettingsError, AudioError, SolverError
    """
    chosen = setup or load_setup(format, lathe, head, cutting_tip, tip, practice)
    place = None if out is None else Path(out)
    if place is not None:
        check_folder(place)
        chosen_extras(only)
    name = os.fspath(path)
    audio = SideAudio([find_range(TitleBand("1", Path(name).stem, name))])
    bands = bands or ((0.0, audio.programme.duration),)
    order = Order(
        setup=chosen,
        level_db=level_db,
        clean=clean,
        exact=exact,
        band_starts=tuple(start for start, _ in bands),
        band_ends=tuple(end for _, end in bands),
        ladder=tuple(shipped(PlayingTip).values()) if ladder else (),
    )
    check_order(order, audio.programme)
    tell = progress or (lambda _step, _done: None)
    side = plan_audio(audio, order, (), tell)
    plan = side.plan
    source = audio.source()
    csv = spiral_csv(plan.rows, chosen.disc.turn_time)
    document = plan_as_dict(plan, source, csv)
    names = tuple(f"Band {i}" for i in range(1, len(bands) + 1)) if len(bands) > 1 else (Path(name).stem,)
    label = SideLabel(Path(name).stem, "", "", "", (), names, ("",) * len(bands))
    if place is not None:
        keep(Kept(side, audio, label, document, csv), place, only, calibration, tell)
    return PlanReport(plan, document, csv, place)
