"""What if: a kept side planned once more with something asked otherwise, beside the old plan and held against it."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from discwright.acts.changes import Changes
from discwright.acts.keep import EXTRA_FILES, LATHE_EXTRAS, Kept, chosen_extras, has_extra, keep, write_extra
from discwright.acts.side import SidePlan, plan_audio
from discwright.errors import CallError
from discwright.files.compare import Comparison, compare, read_plan
from discwright.files.kept_side import KeptSide, open_kept
from discwright.files.plans import PICTURE, PLAN, check_folder, plan_as_dict, plan_json, spiral_csv
from discwright.files.settings import shipped
from discwright.files.side_audio import SideAudio
from discwright.findings import Finding, sort_findings
from discwright.groove.equipment import PlayingTip
from discwright.groove.ladder import Price, Rung
from discwright.plan import Plan
from discwright.programme.title import Accepted, SideLabel, accept

__all__ = ["Changes", "WhatIfReport", "make_file", "missing_files", "what_if"]

Progress = Callable[[str, float], None]

#: Notes about how a level was found or what a title file says: they hold as long as nothing is asked otherwise.
_OF_THE_ORDER = ("fit", "quiet")
_OF_THE_TITLE = "nothing_to_accept"
#: Bands whose times differ by no more than their rounding in `plan.json` are where the samples say, s.
_SAME_TIME_S = 1e-6


@dataclass(frozen=True)
class WhatIfReport:
    """A plan made beside a kept one.

    Attributes
    ----------
    plan : Plan
    document : dict
        What `plan.json` holds.
    csv : str
        What `spiral.csv` holds.
    comparison : Comparison
        The kept plan is the old one.
    folder : pathlib.Path or None
        Where it was kept.
    label : SideLabel
    side : SidePlan
        The plan with its treatments.
    audio : SideAudio
    """

    plan: Plan
    document: dict[str, Any]
    csv: str
    comparison: Comparison
    folder: Path | None
    label: SideLabel
    side: SidePlan
    audio: SideAudio

    @property
    def json(self) -> str:
        """The text of `plan.json`."""
        return plan_json(self.document)

    @property
    def treatments(self) -> tuple[str, ...]:
        """What was done to the programme, a sentence each."""
        return (*self.label.trims, *(one.sentence() for one in self.side.reports))


def what_if(
    folder: str | os.PathLike[str],
    changes: Changes | None = None,
    *,
    exact: bool = False,
    out: str | os.PathLike[str] | None = None,
    only: tuple[str, ...] | None = None,
    calibration: bool = False,
    progress: Progress | None = None,
) -> WhatIfReport:
    """Plan a kept side once more with something asked otherwise; the kept plan stays as it is.

    Parameters
    ----------
    folder : str or os.PathLike
        That `plan --out` made.
    changes : Changes, optional
        None at all without: the same plan again.
    exact : bool
        Also solve the whole side as one problem.
    out : str or os.PathLike, optional
        Folder to keep the new plan in: a new or an empty one.
    only : tuple of str, optional
        Of sheet, gcode, control, svg and removed; all without.
    calibration : bool
        Begin the control file with known levels and pitches.
    progress : callable, optional
        Called with a step's name and the fraction of it done.

    Returns
    -------
    WhatIfReport

    Raises
    ------
    CallError, SettingsError, AudioError, SolverError

    Notes
    -----
    A reason for which a finding was accepted stands beside the same finding of the new plan, within a second.
    """
    tell = progress or (lambda _step, _done: None)
    asked = changes or Changes()
    place = None if out is None else Path(out)
    asked.check()
    chosen_extras(only)
    if place is not None:
        _check_new(place)
    kept = open_kept(Path(folder))
    side, csv, document = _plan_again(kept, asked, exact, tell)
    label = _label(kept)
    if place is not None:
        keep(Kept(side, kept.audio, label, document, csv), place, only, calibration, tell)
    # It is the very same audio, only named so that it is found from anywhere.
    old = kept.document | {"programme": document["programme"]}
    return WhatIfReport(side.plan, document, csv, compare(old, document), place, label, side, kept.audio)


def missing_files(document: Mapping[str, Any], folder: Path) -> tuple[str, ...]:
    """Files that a kept plan could have and its folder lacks; of two that go together the first.

    Parameters
    ----------
    document : dict
        What its `plan.json` holds.
    folder : pathlib.Path

    Returns
    -------
    tuple of str
        Names for :func:`make_file`.
    """
    return tuple(
        names[0]
        for extra, names in EXTRA_FILES.items()
        if has_extra(document, extra) and not all((folder / name).is_file() for name in names)
    )


def make_file(
    folder: str | os.PathLike[str], name: str, progress: Progress | None = None, aside: Path | None = None
) -> tuple[Path, ...]:
    """Write a file that a kept plan's folder lacks, from the same plan laid once more.

    Parameters
    ----------
    folder : str or os.PathLike
    name : str
        One that :func:`missing_files` names; what goes together is written together.
    progress : callable, optional
        Called with a step's name and the fraction of it done.
    aside : pathlib.Path, optional
        Folder for what is unfinished, on the same disk; the plan's own without.

    Returns
    -------
    tuple of pathlib.Path
        What was written.

    Raises
    ------
    CallError
        If there is no such file, the plan can have none, it is there already, or the spiral comes out otherwise.
    SettingsError, AudioError, SolverError
    """
    tell = progress or (lambda _step, _done: None)
    document, place = read_plan(Path(folder)), Path(folder)
    place = place if place.is_dir() else place.parent
    extra = _extra_to_make(document, place, name)
    kept = open_kept(place)
    side, csv, again = _plan_again(kept, Changes(), False, tell)
    if again["spiral_sha256"] != document["spiral_sha256"]:
        raise CallError(
            f"{place}: the spiral comes out otherwise than it was kept, by version {document.get('version')} of this "
            "program; plan the side again."
        )
    whole = Kept(_as_kept(side, document), kept.audio, _label(kept), document, csv)
    try:
        part = Path(tempfile.mkdtemp(prefix=".plan.part-", dir=aside or place))
        try:
            write_extra(whole, part, extra, place / PICTURE, progress=tell)
            for one in EXTRA_FILES[extra]:
                (part / one).replace(place / one)
        finally:
            shutil.rmtree(part, ignore_errors=True)
    except OSError as trouble:
        raise CallError(f"{place / name}: cannot be written ({trouble.strerror}); check folder and disk.") from None
    return tuple(place / one for one in EXTRA_FILES[extra])


def _extra_to_make(document: Mapping[str, Any], place: Path, name: str) -> str:
    extra = next((one for one, names in EXTRA_FILES.items() if name in names), None)
    if extra is None:
        names = ", ".join(names[0] for names in EXTRA_FILES.values())
        raise CallError(f"“{name}” is no file that can be made of a plan; choose from {names}.")
    if not has_extra(document, extra):
        if extra in LATHE_EXTRAS:
            raise CallError(f"{name}: a cut that is stopped gets no lathe files; cure what stops it first.")
        raise CallError(f"{name}: nothing was taken out of this programme; ask for a treatment first.")
    if all((place / one).is_file() for one in EXTRA_FILES[extra]):
        raise CallError(f"{place / name}: is there already and stays as it is; open it.")
    return extra


def _plan_again(kept: KeptSide, changes: Changes, exact: bool, tell: Progress) -> tuple[SidePlan, str, dict[str, Any]]:
    """The plan, its `spiral.csv` and its `plan.json`."""
    setup = changes.applied(kept.setup)
    level_db = kept.level_db if changes.level_db is None else changes.level_db
    treatments = kept.treatments if changes.treatments is None else changes.treatments
    bands = _bands(kept)
    order = replace(
        kept.order, setup=setup, level_db=None if changes.fit else level_db, clean=changes.fit == "clean",
        exact=exact, ladder=tuple(shipped(PlayingTip).values()) if changes.ladder else (),
        band_starts=tuple(start for start, _ in bands), band_ends=tuple(end for _, end in bands),
    )  # fmt: skip
    side = plan_audio(kept.audio, order, treatments, tell)
    findings = _accept_again(side.plan.findings, kept.document)
    side = replace(side, plan=replace(side.plan, findings=findings))
    asked = (changes.fit, setup, level_db, treatments)
    if asked == (None, kept.setup, kept.level_db, kept.treatments):
        side = _as_told(side, kept.document)
    csv = spiral_csv(side.plan.rows, setup.disc.turn_time)
    label = _label(kept) if "title" in kept.document else None
    document = plan_as_dict(side.plan, kept.audio.source(), csv, label, treatments, side.reports)
    _name_from_anywhere(document["programme"])
    return side, csv, document


def _bands(kept: KeptSide) -> tuple[tuple[float, float], ...]:
    """Where the bands lie: to the sample where each is a piece of audio, otherwise as `plan.json` has it."""
    places = kept.audio.places
    if len(places) != len(kept.bands):
        return kept.bands
    apart = (abs(a - b) for place, band in zip(places, kept.bands, strict=True) for a, b in zip(place, band))
    return places if max(apart) <= _SAME_TIME_S else kept.bands


def _accept_again(findings: tuple[Finding, ...], document: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Findings with the reasons the old plan's had; a reason whose finding has gone is gone with it."""
    for old in document["findings"]:
        if old.get("accepted"):
            told = accept(findings, (Accepted(old["code"], old.get("time_s"), str(old["accepted"])),))
            findings = told if len(told) == len(findings) else findings
    return findings


def _as_told(side: SidePlan, document: Mapping[str, Any]) -> SidePlan:
    """A plan of which nothing is asked otherwise, with what the old one told and a fixed level cannot: its notes
    on the fit and on the title file, and its ladder.
    """
    plan = side.plan
    before = [_finding(one) for one in document["findings"]]
    notes = [one for one in before if one.code in _OF_THE_ORDER]
    last = [one for one in before if one.code == _OF_THE_TITLE]
    findings = (*sort_findings([*plan.findings, *notes]), *last)
    rungs, prices = (plan.rungs, plan.prices) if plan.rungs else (_rungs(document), _prices(document))
    return replace(side, plan=replace(plan, findings=findings, rungs=rungs, prices=prices))


def _as_kept(side: SidePlan, document: Mapping[str, Any]) -> SidePlan:
    """A plan with exactly the findings it was kept with, whatever a later version finds."""
    findings = tuple(_finding(one) for one in document["findings"])
    return replace(side, plan=replace(side.plan, findings=findings))


def _finding(plain: Mapping[str, Any]) -> Finding:
    names = [field.name for field in fields(Finding)]
    return Finding(**{"time_s": None, "band": None, "turn": None, "radius_mm": None} | {
        key: value for key, value in plain.items() if key in names
    })  # fmt: skip


def _rungs(document: Mapping[str, Any]) -> tuple[Rung, ...]:
    return tuple(
        Rung(one["limit"], one["level_db"], one["time_s"], one["turn"], _metres(one["radius_mm"]))
        for one in document.get("ladder", ())
    )


def _prices(document: Mapping[str, Any]) -> tuple[Price, ...]:
    return tuple(
        Price(one["level_db"], one["spare_mm"] * 1e-3, one["playing_time_min"]) for one in document.get("prices", ())
    )


def _metres(millimetres: float | None) -> float | None:
    return None if millimetres is None else millimetres * 1e-3


def _label(kept: KeptSide) -> SideLabel:
    """What stands on everything printed: as the title had it, or the file's own name."""
    title = kept.document.get("title")
    if title is None:
        stem = Path(kept.audio.ranges[0].band.path).stem
        many = len(kept.bands) > 1
        names = tuple(f"Band {i}" for i in range(1, len(kept.bands) + 1)) if many else (stem,)
        return SideLabel(stem, "", "", "", (), names, ("",) * len(names))
    try:
        return SideLabel(
            title["name"], title["edition"], title["side"], title["matrix"], tuple(title["people"]),
            band_names=tuple(one["name"] for one in title["bands"]),
            isrcs=tuple(one["isrc"] for one in title["bands"]),
            band_ids=tuple(one["id"] for one in title["bands"]),
            trims_db=tuple(float(one["trim_db"]) for one in title["bands"]),
        )  # fmt: skip
    except (KeyError, TypeError, ValueError):
        raise CallError(f"{kept.folder / PLAN}: says too little of its title; plan the title again.") from None


def _name_from_anywhere(programme: dict[str, Any]) -> None:
    """Whole paths: a what-if may be kept far from the plan it was made from."""
    pieces = programme.get("pieces")
    if not pieces:
        programme["path"] = os.path.abspath(programme["path"])
        return
    for one in pieces:
        one["path"] = os.path.abspath(one["path"])
    programme["path"] = ", ".join(dict.fromkeys(one["path"] for one in pieces))


def _check_new(place: Path) -> None:
    """A what-if takes nobody's place."""
    check_folder(place)
    if place.is_dir() and any(place.iterdir()):
        raise CallError(
            f"{place}: holds a plan, and a what-if takes no other's place; choose an empty or a new folder."
        )
