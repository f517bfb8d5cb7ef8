"""What a tape edition needs: passes and hours, tape, the order of the programme in a pass, and by when each."""

from __future__ import annotations

import math
from collections.abc import Sequence

from discwright.acts.press_disc import lead_days, with_spare
from discwright.acts.press_findings import date_findings, overrun_findings
from discwright.acts.press_report import Asked, Need
from discwright.acts.press_tape_report import TapeNeeds, TapeSide
from discwright.files.press_settings import PressSettings, TapeWork
from discwright.files.side_audio import find_range
from discwright.findings import sort_findings
from discwright.programme.title import Title
from discwright.works.press import enough_begun
from discwright.works.press_dates import days_back
from discwright.works.tape import Copying, TapeBand, halves, running_order, side_seconds

#: What the sides of a tape are called where the title file fixes none.
_LETTERS = ("A", "B")
#: Sides that go over in one pass.
_SIDES = 2


def tape_needs(asked: Asked, title: Title, house: PressSettings) -> TapeNeeds:
    """Everything for one tape edition.

    Parameters
    ----------
    asked : Asked
    title : Title
    house : PressSettings

    Returns
    -------
    TapeNeeds

    Raises
    ------
    CallError, AudioError
    """
    work, copying = house.tape, _copying(house.tape)
    tapes = _tapes(asked, title, copying)
    start, mean_start = enough_begun(asked.good, asked.share, asked.probability), asked.good / asked.share
    seconds = sum(copying.seconds(start, one.seconds) for one in tapes)
    length = sum(copying.length(one.seconds) for one in tapes)
    last = first = before = labels_by = boxes_by = None
    if asked.due is not None:
        days = lead_days(house.days)
        last = days_back(asked.due, days.finish, days.week)
        first = days_back(last, max(1, math.ceil(seconds / 3600.0 / work.hours_a_day - 1e-9)) - 1, days.week)
        before = days_back(first, 1, days.week)
        labels_by = days_back(first, days.labels, days.week)
        boxes_by = days_back(asked.due, days.pack + days.jackets, days.week)
    count = len(tapes)
    labels = with_spare(_SIDES * start * count, house.spare.labels_percent)
    boxes = with_spare(asked.good, house.spare.jackets_percent)
    needs = (
        Need("running tapes", count, count, count, "pieces", before),
        Need("labels", labels, labels, _SIDES * mean_start * count, "pieces", labels_by),
        Need("tape", start * length, start * length, mean_start * length, "m", before),
        Need("copying start", start * count, start * count, mean_start * count, "pieces", first),
        Need("boxes", boxes, boxes, asked.good, "pieces", boxes_by),
    )
    most = math.floor(asked.good * (1.0 + house.overrun.allowed_percent / 100.0) + 1e-9)
    found = [
        *overrun_findings(start, asked.share, asked.good, most),
        *date_findings(asked.due, asked.today, needs),
    ]
    return TapeNeeds(
        asked=asked, start=start, mean_start=mean_start,
        needs=tuple(sorted(needs, key=lambda one: one.by.isoformat() if one.by else "")),
        findings=sort_findings(found), copying=copying, tapes=tapes, top=work.top_hz,
        time_constants=(work.low_time_constant_us * 1e-6, work.high_time_constant_us * 1e-6),
        copying_start=first, copying_end=last,
    )  # fmt: skip


def _copying(work: TapeWork) -> Copying:
    return Copying(work.speed_cm_s / 100.0, work.ratio, work.slaves, work.reload_minutes * 60.0)


def _tapes(asked: Asked, title: Title, copying: Copying) -> tuple[TapeSide, ...]:
    """The sides as the title file fixes them, two to a tape; otherwise all bands, on two sides as even as can be."""
    bands = {one.id: TapeBand(one.id, find_range(one).duration, one.gap) for one in title.bands}
    fixed = [(side.letter, tuple(bands[id_] for id_ in side.bands)) for side in asked.edition.sides]
    if not fixed:
        fixed = list(zip(_LETTERS, halves(list(bands.values())), strict=False))
    return tuple(_tape(fixed[k : k + _SIDES], copying) for k in range(0, len(fixed), _SIDES))


def _tape(sides: Sequence[tuple[str, tuple[TapeBand, ...]]], copying: Copying) -> TapeSide:
    bands = [one for _, one in sides]
    return TapeSide(
        tuple(letter for letter, _ in sides),
        max(side_seconds(one) for one in bands),
        running_order(bands, copying.ratio),
    )
