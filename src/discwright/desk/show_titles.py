"""The pages of titles put together from what lies in the folder."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from discwright.desk.jobs import Job
from discwright.desk.page_parts import BandRow, JobRow, PlanLink
from discwright.desk.shelf import Found, KeptPlan, KeptTitle, Shelf
from discwright.desk.show_side import plan_link
from discwright.desk.title_parts import CandidateRow, CandidateSide, EditionRow, LooseFolder, SideRow, TitleRow
from discwright.desk.words import Words, level, time_left
from discwright.errors import AudioError
from discwright.files.side_audio import find_range
from discwright.programme.title import TAPE, Edition, Title
from discwright.units import clock


def title_row(shelf: Shelf, kept: KeptTitle) -> TitleRow:
    """A title in a line, with how many sides are ready, stopped and unplanned."""
    href = f"/titles/{kept.id}"
    if kept.title is None:
        return TitleRow(kept.id, kept.path.stem, "", "", href, (), 0, 0, 0, _first(kept.faults))
    title = kept.title
    newest = [plans[0] if plans else None for plans in sides_of(shelf, kept).values()]
    known = [one for one in newest if one is not None]
    ready = sum(bool(one.document["ready"]) for one in known)
    return TitleRow(
        id=kept.id,
        name=title.name,
        catalogue=title.catalogue,
        people=", ".join(title.people),
        href=href,
        editions=tuple(f"{one.id}: {one.format}" for one in title.editions),
        ready=ready,
        stopped=len(known) - ready,
        unplanned=len(newest) - len(known),
    )


def _first(faults: Sequence[str]) -> str:
    more = len(faults) - 1
    return faults[0] + (f" ({more} more on its page)" if more > 0 else "")


def sides_of(shelf: Shelf, kept: KeptTitle) -> dict[tuple[str, str], list[KeptPlan]]:
    """Kept plans of every side that the title file fixes or that was planned, newest first.

    Parameters
    ----------
    shelf : Shelf
    kept : KeptTitle
        Without faults.

    Returns
    -------
    dict of (str, str) to list of KeptPlan
        By edition and letter; the letter is empty for an edition whose sides nobody knows yet.
    """
    found: dict[tuple[str, str], list[KeptPlan]] = {}
    assert kept.title is not None
    for edition in kept.title.editions:
        for side in edition.sides:
            found[edition.id, side.letter] = []
    for plan in shelf.all_plans_of(kept):
        if not plan.what_if:
            label = plan.document["title"]
            found.setdefault((str(label["edition"]), str(label["side"])), []).append(plan)
    for edition in kept.title.editions:
        if edition.format != TAPE and not any(key[0] == edition.id for key in found):
            found[edition.id, ""] = []
    return found


def edition_rows(
    shelf: Shelf, kept: KeptTitle, layouts: Mapping[str, Mapping[str, Any]], words: Words
) -> tuple[EditionRow, ...]:
    """Editions of a title with their sides, plans and layout candidates.

    Parameters
    ----------
    shelf : Shelf
    kept : KeptTitle
    layouts : dict of str to dict
        The newest layout of each edition, as `layout --json` prints an edition.
    words : Words
    """
    assert kept.title is not None
    sides = sides_of(shelf, kept)
    return tuple(_edition(kept.title, one, sides, layouts.get(one.id), words) for one in kept.title.editions)


def _edition(
    title: Title, edition: Edition, sides: Mapping[tuple[str, str], list[KeptPlan]],
    layout: Mapping[str, Any] | None, words: Words,
) -> EditionRow:  # fmt: skip
    names = {band.id: band.name for band in title.bands}
    fixed = {side.letter: side.bands for side in edition.sides}
    rows = []
    for letter in sorted(letter for id_, letter in sides if id_ == edition.id and letter):
        plans = sides[edition.id, letter]
        bands = fixed.get(letter) or _planned_bands(plans)
        stale = ""
        if plans and letter in fixed and _planned_bands(plans) != fixed[letter]:
            stale = "The title file now puts other bands on this side: plan it again."
        elif plans and fixed and letter not in fixed:
            stale = "The title file no longer has this side."
        rows.append(SideRow(letter, _names(bands, names), tuple(plan_link(one, words) for one in plans), stale))
    candidates = () if layout is None else _candidates(layout, fixed, names, words)
    return EditionRow(
        id=edition.id,
        format=edition.format,
        quantity=f"{edition.quantity} copies" if edition.quantity else "",
        due=edition.due,
        level=edition.level if isinstance(edition.level, str) else level(edition.level),
        tape=edition.format == TAPE,
        fixed=bool(edition.sides),
        sides=tuple(rows),
        candidates=candidates,
        remarks=() if layout is None else tuple(str(one) for one in layout["remarks"]),
    )


def _planned_bands(plans: Sequence[KeptPlan]) -> tuple[str, ...]:
    return tuple(str(band["id"]) for band in plans[0].document["title"]["bands"]) if plans else ()


def _names(bands: Sequence[str], names: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(names.get(one, one) for one in bands)


def _candidates(
    layout: Mapping[str, Any], fixed: Mapping[str, tuple[str, ...]], names: Mapping[str, str], words: Words
) -> tuple[CandidateRow, ...]:
    rows = []
    for number, one in enumerate(layout["candidates"], 1):
        chosen = bool(fixed) and {side["letter"]: tuple(side["bands"]) for side in one["sides"]} == dict(fixed)
        sides = tuple(
            CandidateSide(
                letter=side["letter"],
                bands=_names(side["bands"], names),
                length=clock(side["duration_s"]),
                level=level(side["level_db"]),
                spare=words.radius(side["spare_mm"] * 1e-3, 1),
                inner=f"{side['inner_worry']:.3g} %" if side["inner_worry"] else "clean",
                ready=bool(side["ready"]),
            )
            for side in one["sides"]
        )
        rows.append(CandidateRow(number, level(one["weakest_level_db"]), sides, chosen))
    return tuple(rows)


def band_rows(title: Title) -> tuple[BandRow, ...]:
    """The bands of a title with where they lie in their files; what cannot be read is told."""
    rows = []
    for number, band in enumerate(title.bands, 1):
        name = band.path.rsplit("/", 1)[-1]
        try:
            found = find_range(band)
        except AudioError as trouble:
            rows.append(BandRow(number, band.id, band.name, name, "", "", "", trouble=str(trouble)))
            continue
        start = band.start or 0.0
        rows.append(
            BandRow(
                number, band.id, band.name, name, clock(start), clock(start + found.duration), clock(found.duration),
                start_s=start,
            )
        )  # fmt: skip
    return tuple(rows)


def bare_sides(found: Found, shelf: Shelf, words: Words) -> tuple[PlanLink, ...]:
    """Plans that belong to no title file of the folder, newest first."""
    plans = [one for one in found.plans.values() if not one.what_if and shelf.title_of(one) is None]
    return tuple(plan_link(one, words) for one in sorted(plans, key=lambda one: one.made, reverse=True))


def loose_folders(found: Found) -> tuple[LooseFolder, ...]:
    """Folders of audio that could become titles."""
    return tuple(
        LooseFolder(one.id, one.path.name, tuple(path.name for path in one.files)) for one in found.loose.values()
    )


def job_row(job: Job, href: str) -> JobRow:
    """A job in a line.

    Parameters
    ----------
    job : Job
    href : str
        Page with what came of it.
    """
    return JobRow(
        id=job.id,
        words=job.words,
        state=job.state,
        step=job.step,
        percent=int(100 * job.done),
        left=time_left(job.seconds_left) if job.state == "running" else "",
        sentence=job.sentence,
        href=href,
    )
