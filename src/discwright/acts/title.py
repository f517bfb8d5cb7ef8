"""Plan the sides of a title: all of them, or those of one edition, or one."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from discwright.acts.fitting import Fitter
from discwright.acts.keep import Kept, chosen_extras, keep
from discwright.acts.layout import LayoutReport, choose_editions, edition_setup, lay_out
from discwright.acts.side import SidePlan, plan_audio
from discwright.errors import CallError
from discwright.files.house import Difference, differences
from discwright.files.plans import check_folder, plan_as_dict, spiral_csv
from discwright.files.settings import shipped
from discwright.files.side_audio import BandRange, SideAudio, find_range
from discwright.files.title import load_title
from discwright.groove.equipment import PlayingTip
from discwright.plan import LEVEL_RANGE_DB, Order, Plan
from discwright.programme.title import TAPE, Edition, SideLabel, SideOrder, Title, accept

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class SideReport:
    """One planned side of a title.

    Attributes
    ----------
    plan : Plan
    label : SideLabel
    document : dict
        What `plan.json` holds.
    treatments : tuple of str
        What each did, a sentence each.
    folder : pathlib.Path or None
        Where it was kept.
    side : SidePlan
        The plan with its treatments.
    audio : SideAudio
    """

    plan: Plan
    label: SideLabel
    document: dict[str, Any]
    treatments: tuple[str, ...]
    folder: Path | None
    side: SidePlan
    audio: SideAudio


@dataclass(frozen=True)
class Choice:
    """Which sides, and what is asked for besides the title file.

    Attributes
    ----------
    edition, side : str or None
        None for all.
    level_db : float or None
        In place of the file's level, for every side.
    lathe, head, cutting_tip, tip, practice : str or None
        In place of the file's.
    exact, ladder : bool
    """

    edition: str | None = None
    side: str | None = None
    level_db: float | None = None
    lathe: str | None = None
    head: str | None = None
    cutting_tip: str | None = None
    tip: str | None = None
    practice: str | None = None
    exact: bool = False
    ladder: bool = False

    def applied(self, edition: Edition) -> Edition:
        """An edition with what this choice puts in the place of the file's."""
        kinds = ("lathe", "head", "cutting_tip", "tip", "practice")
        chosen = {kind: getattr(self, kind) for kind in kinds if getattr(self, kind) is not None}
        level = edition.level if self.level_db is None else self.level_db
        return replace(edition, level=level, **chosen)


def plan_title(
    path: str | os.PathLike[str],
    choice: Choice | None = None,
    *,
    out: str | os.PathLike[str] | None = None,
    only: tuple[str, ...] | None = None,
    calibration: bool = False,
    found: LayoutReport | None = None,
    progress: Progress | None = None,
) -> tuple[SideReport, ...]:
    """Plan sides of a title; each is kept in its own folder `OUT/EDITION-SIDE`.

    Parameters
    ----------
    path : str or os.PathLike
        Title file.
    choice : Choice, optional
        Every side of every edition without.
    out : str or os.PathLike, optional
    only : tuple of str, optional
        Of sheet, gcode, control, svg and removed; all without.
    calibration : bool
        Begin control files with known levels and pitches.
    found : LayoutReport, optional
        Of this title: sides that the file does not fix are taken from it, not sought again.
    progress : callable, optional
        Called with a step's name and the fraction of it done.

    Returns
    -------
    tuple of SideReport

    Raises
    ------
    SettingsError, CallError, AudioError, SolverError
    """
    tell = progress or (lambda _step, _done: None)
    choice = choice or Choice()
    title = load_title(Path(path))
    chosen_extras(only)
    editions = [choice.applied(one) for one in choose_editions(title, choice.edition)]
    if choice.edition is not None and editions[0].format == TAPE:
        raise CallError(f"edition “{choice.edition}” is a tape: there is no side to cut; choose a disc.")
    discs = [one for one in editions if one.format != TAPE]
    if not discs:
        raise CallError("this title has no edition on disc, only on tape: there is no side to cut; add a disc.")
    root = None if out is None else Path(out)
    _check_before_layout(discs, choice, root)
    ranges = {band.id: find_range(band) for band in title.bands}
    ordered = [
        (edition, side)
        for edition in discs
        for side in _sides(title, edition, ranges, found, tell) if choice.side in (None, side.letter)
    ]  # fmt: skip
    if not ordered:
        raise CallError(f"there is no side {choice.side} to plan; leave --side out to plan them all.")
    places = [None if root is None else root / f"{edition.id}-{side.letter}" for edition, side in ordered]
    for place in places:
        if place is not None:
            check_folder(place)
    return tuple(
        _plan_one(title, edition, side, ranges, choice, place, only, calibration, tell)
        for (edition, side), place in zip(ordered, places, strict=True)
    )


def changes(path: str | os.PathLike[str], choice: Choice) -> tuple[Difference, ...]:
    """What a choice changes in the settings of the first edition it is about, before anything is computed.

    Parameters
    ----------
    path : str or os.PathLike
        Title file.
    choice : Choice

    Returns
    -------
    tuple of Difference
    """
    title = load_title(Path(path))
    edition = next((one for one in choose_editions(title, choice.edition) if one.format != TAPE), None)
    if edition is None:
        return ()
    return differences(edition_setup(edition), edition_setup(choice.applied(edition)))


def check_one_edition(path: str | os.PathLike[str], choice: Choice) -> None:
    """Refuse a choice of several editions where only one can be meant: a house set holds one format.

    Parameters
    ----------
    path : str or os.PathLike
        Title file.
    choice : Choice

    Raises
    ------
    SettingsError, CallError
    """
    chosen = choose_editions(load_title(Path(path)), choice.edition)
    if sum(one.format != TAPE for one in chosen) > 1:
        raise CallError("--save-house keeps the settings of one edition; choose it with --edition.")


def _check_before_layout(discs: list[Edition], choice: Choice, root: Path | None) -> None:
    """Refuse what can be refused before minutes are spent on a layout."""
    low, high = LEVEL_RANGE_DB
    if choice.level_db is not None and not low <= choice.level_db <= high:
        raise CallError(
            f"the level must lie between {low:.0f} and {high:.0f} dB; {choice.level_db:g} dB does not: choose another."
        )
    if root is None:
        return
    for edition in discs:
        for letter in [side.letter for side in edition.sides] or ["A"]:
            if choice.side in (None, letter):
                check_folder(root / f"{edition.id}-{letter}")


def _sides(
    title: Title, edition: Edition, ranges: dict[str, BandRange], found: LayoutReport | None, tell: Progress
) -> tuple[SideOrder, ...]:
    """The sides as the file fixes them, or the best that a layout finds."""
    if edition.sides:
        return edition.sides
    known = {one.edition.id: one for one in found.editions} if found is not None else {}
    if edition.id in known:
        laid = known[edition.id]
    else:
        with Fitter(ranges, tell) as fitter:
            laid = lay_out(title, edition, ranges, fitter)
    if not laid.candidates:
        raise CallError(
            f"edition “{edition.id}” cannot be laid out as it is: {' '.join(laid.remarks)} "
            "`discwright layout` says more; mend the title file."
        )
    best = laid.candidates[0]
    return tuple(SideOrder(letter, bands) for letter, bands in zip(best.letters, best.split, strict=True))


def _plan_one(
    title: Title, edition: Edition, side: SideOrder, ranges: dict[str, BandRange], choice: Choice,
    place: Path | None, only: tuple[str, ...] | None, calibration: bool, tell: Progress,
) -> SideReport:  # fmt: skip
    name = f"{edition.id} side {side.letter}"
    setup = edition_setup(edition)
    audio = SideAudio([ranges[one] for one in side.bands])
    order = Order(
        setup=setup,
        level_db=None if isinstance(edition.level, str) else edition.level,
        clean=edition.level == "clean",
        exact=choice.exact,
        band_starts=tuple(start for start, _ in audio.places),
        band_ends=tuple(end for _, end in audio.places),
        ladder=tuple(shipped(PlayingTip).values()) if choice.ladder else (),
    )

    def told(step: str, done: float) -> None:
        tell(f"{name}: {step}", done)

    planned = plan_audio(audio, order, side.treatments, told)
    planned = replace(planned, plan=replace(planned.plan, findings=accept(planned.plan.findings, side.accepted)))
    label = _label(title, edition, side, ranges)
    csv = spiral_csv(planned.plan.rows, setup.disc.turn_time)
    document = plan_as_dict(planned.plan, audio.source(), csv, label, side.treatments, planned.reports)
    if place is not None:
        keep(Kept(planned, audio, label, document, csv), place, only, calibration, told)
    sentences = (*label.trims, *(one.sentence() for one in planned.reports))
    return SideReport(planned.plan, label, document, sentences, place, planned, audio)


def _label(title: Title, edition: Edition, side: SideOrder, ranges: dict[str, BandRange]) -> SideLabel:
    bands = [ranges[one].band for one in side.bands]
    return SideLabel(
        title=title.name,
        edition=edition.id,
        letter=side.letter,
        matrix=f"{title.catalogue} {edition.id.upper()}-{side.letter}" if title.catalogue else "",
        people=title.people,
        band_names=tuple(band.name for band in bands),
        isrcs=tuple(band.isrc for band in bands),
        band_ids=tuple(band.id for band in bands),
        trims_db=tuple(band.trim_db for band in bands),
    )
