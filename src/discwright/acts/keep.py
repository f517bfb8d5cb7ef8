"""Keep a plan in a folder: its table, picture, sheet and lathe files, all or none of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from discwright.acts.side import SidePlan
from discwright.errors import CallError
from discwright.files.audio_write import write_wav
from discwright.files.lathe_code import gcode, spiral_svg
from discwright.files.lathe_control import write_control
from discwright.files.picture import draw_disc
from discwright.files.plans import (
    AIR_RUN,
    CONTROL,
    CONTROL_SCALE,
    GCODE,
    PICTURE,
    PLAN,
    REMOVED,
    SHEET,
    SPIRAL,
    SVG,
    new_folder,
    plan_json,
)
from discwright.files.sheets import write_sheet
from discwright.files.side_audio import SideAudio
from discwright.findings import count_words
from discwright.groove.cues import cue_list
from discwright.groove.preflight import Margin, preflight
from discwright.programme.title import SideLabel
from discwright.units import clock

Progress = Callable[[str, float], None]
#: Margins that tell the person at the lathe something: a tight spiral uses the others up by design.
TOLD_MARGINS = (
    "greatest_pitch", "carriage_speed", "head_velocity", "head_acceleration", "head_heat", "slope", "greatest_depth",
    "last_radius",
)  # fmt: skip
#: What can be asked for by name besides the plan itself, and the files of each.
EXTRA_FILES = {
    "sheet": (SHEET,),
    "gcode": (GCODE, AIR_RUN),
    "control": (CONTROL, CONTROL_SCALE),
    "svg": (SVG,),
    "removed": (REMOVED,),
}
EXTRAS = tuple(EXTRA_FILES)
#: What drives the lathe; a cut that is stopped gets none.
LATHE_EXTRAS = ("gcode", "control")


@dataclass(frozen=True)
class Kept:
    """Everything about one planned side that is written down.

    Attributes
    ----------
    side : SidePlan
    audio : SideAudio
    label : SideLabel
    document : dict
        What `plan.json` holds.
    csv : str
        What `spiral.csv` holds.
    """

    side: SidePlan
    audio: SideAudio
    label: SideLabel
    document: dict[str, Any]
    csv: str

    @property
    def sentences(self) -> tuple[str, ...]:
        """What was done to the programme before the cut."""
        return (*self.label.trims, *(one.sentence() for one in self.side.reports))

    @property
    def margins(self) -> tuple[Margin, ...]:
        """How far inside each limit of lathe, head and tip the cut stays."""
        plan = self.side.plan
        return preflight(plan.rows, plan.motion, 10.0 ** (plan.level_db / 20.0), plan.setup)


def chosen_extras(only: tuple[str, ...] | None) -> tuple[str, ...]:
    """The extras asked for; all without a choice.

    Parameters
    ----------
    only : tuple of str or None

    Raises
    ------
    CallError
        If one is not known.
    """
    if only is None:
        return EXTRAS
    for one in only:
        if one not in EXTRAS:
            raise CallError(f"--only: there is no “{one}”; choose from {', '.join(EXTRAS)}, with commas between.")
    return only


def keep(kept: Kept, folder: Path, only: tuple[str, ...] | None, calibration: bool, progress: Progress) -> None:
    """Write a side's folder beside its place and put it there when it is whole.

    Parameters
    ----------
    kept : Kept
    folder : pathlib.Path
    only : tuple of str or None
        Names from :data:`EXTRAS`; None for all.
    calibration : bool
        Begin the control file with known levels and pitches.
    progress : callable
        Called with a step's name and the fraction of it done.

    Raises
    ------
    CallError
        If it cannot be written.
    """
    extras = chosen_extras(only)
    progress("drawing the disc", 0.0)
    with new_folder(folder) as part:
        (part / SPIRAL).write_text(kept.csv, encoding="utf-8", newline="")
        (part / PLAN).write_text(plan_json(kept.document), encoding="utf-8", newline="")
        _draw(kept, part / PICTURE)
        for extra in EXTRAS:
            if extra in extras and has_extra(kept.document, extra):
                write_extra(kept, part, extra, part / PICTURE, calibration, progress)


def has_extra(document: Mapping[str, Any], extra: str) -> bool:
    """Whether a plan can have one of :data:`EXTRAS`: no lathe files where it is stopped, nothing removed untreated.

    Parameters
    ----------
    document : dict
        What `plan.json` holds.
    extra : str
    """
    if extra in LATHE_EXTRAS:
        return bool(document["ready"])
    return extra != "removed" or bool(document["settings"].get("treatments"))


def write_extra(
    kept: Kept, folder: Path, extra: str, picture: Path, calibration: bool = False, progress: Progress | None = None
) -> None:
    """Write the files of one of :data:`EXTRAS` straight to their places in a folder.

    Parameters
    ----------
    kept : Kept
    folder : pathlib.Path
    extra : str
    picture : pathlib.Path
        Of the disc, for the sheet; drawn beside it where there is none.
    calibration : bool
        Begin the control file with known levels and pitches.
    progress : callable, optional
        Called with a step's name and the fraction of it done.

    Raises
    ------
    CallError
        If it cannot be written.
    """
    tell = progress or (lambda _step, _done: None)
    plan, setup = kept.side.plan, kept.side.plan.setup
    cues = cue_list(plan.rows, plan.bands, setup.disc)
    if extra == "sheet":
        tell("writing the sheet", 0.3)
        told = tuple(one for one in kept.margins if one.what in TOLD_MARGINS)
        if not picture.is_file():
            picture = folder / PICTURE
            _draw(kept, picture)
        write_sheet(
            folder / SHEET, plan, kept.label, cues, kept.document["fingerprint"], picture=picture,
            margins=told, treatments=kept.sentences, ladder=plan.rungs,
        )  # fmt: skip
    elif extra == "removed":
        tell("writing what was taken out", 0.4)
        write_wav(folder / REMOVED, kept.side.removed(kept.audio), kept.audio.programme.sample_rate_hz)
    elif extra == "svg":
        drawing = spiral_svg(plan.rows, cues, setup, _caption(kept))
        (folder / SVG).write_text(drawing, encoding="utf-8", newline="")
    elif extra == "gcode":
        for name, air in ((GCODE, False), (AIR_RUN, True)):
            lines = gcode(plan.rows, cues, setup, _header(kept), air)
            (folder / name).write_text("\n".join(lines) + "\n", encoding="ascii", newline="")
    else:
        write_control(
            folder / CONTROL, folder / CONTROL_SCALE, kept.side.treated(kept.audio), plan.programme.sample_rate_hz,
            plan.rows, cues, setup, _facts(kept), peak=plan.motion.sample_peak, calibration=calibration,
            progress=lambda done: tell("writing the control file", done),
        )  # fmt: skip


def _draw(kept: Kept, path: Path) -> None:
    plan = kept.side.plan
    draw_disc(
        path, plan.rows, plan.setup.disc, bands=plan.bands, findings=plan.findings, caption=_caption(kept)
    )  # fmt: skip


def _facts(kept: Kept) -> dict[str, str | float]:
    """What the text beside a control file says of the cut."""
    label = kept.label
    return {
        "title": label.title,
        "edition": label.edition,
        "side": label.letter,
        "matrix": label.matrix,
        "format": kept.side.plan.setup.disc.name,
        "level_db": kept.document["level_db"],
        "fingerprint": kept.document["fingerprint"],
    }


def _header(kept: Kept) -> tuple[str, ...]:
    plan, label, setup = kept.side.plan, kept.label, kept.side.plan.setup
    name = " ".join(word for word in (label.title, label.edition, label.letter and f"side {label.letter}") if word)
    return (
        name,
        f"matrix {label.matrix}" if label.matrix else "no matrix number",
        f"{setup.disc.name}, {clock(plan.programme.duration)} of music, {plan.level_db:+.1f} dB",
        f"lathe {setup.lathe.name}, head {setup.head.name}, cutting tip {setup.cutting_tip.name}",
        count_words(plan.findings),
        f"fingerprint {kept.document['fingerprint']}",
        *(f"{m.what.replace('_', ' ')} {m.value:.4g} of {m.limit:.4g} {m.unit}" for m in kept.margins),
    )


def _caption(kept: Kept) -> str:
    plan, label = kept.side.plan, kept.label
    name = f"{label.title}, side {label.letter}" if label.letter else label.title
    return f"{name}\n{plan.setup.disc.name}  {clock(plan.programme.duration)}  {plan.level_db:+.1f} dB"
