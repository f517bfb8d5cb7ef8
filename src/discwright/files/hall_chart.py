"""The schedule of the press hall as a chart: a row for each press, a block for each job, closed hours dotted.

What a block is can be read without colour: changes are hatched, a late job has a heavy edge, a triangle and the word,
one that is planned on an expectation has a broken edge and the word. Marks show when jobs are due.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from datetime import UTC, timedelta
from pathlib import Path
from statistics import median

from discwright.files.hall_pens import DOTS, STROKES, HallPen, PixelPen, VectorPen, fitted, words_width
from discwright.files.picture_pen import INK, PAPER, Rgb
from discwright.works.hall import Place, Press, Schedule
from discwright.works.hall_problem import Problem
from discwright.works.hall_times import DAY, PressClock

#: px: rows, what is left of and above them, below them, and the paper around.
_ROW, _GAP, _LEFT, _HEAD, _FOOT, _EDGE = 36.0, 15.0, 190.0, 112.0, 88.0, 24.0
#: A usual block is so wide, within a width of the whole.
_BLOCK, _LEAST, _MOST = 150.0, 1200.0, 14_000.0
_TEXT, _SMALL, _TINY, _LARGE = 14, 12, 10, 20
_IN_TIME: Rgb = (222, 233, 241)
_LATE: Rgb = (250, 219, 209)
_EXPECTED: Rgb = (248, 240, 208)
_CLOSED: Rgb = (236, 234, 228)
_FAINT: Rgb = (176, 171, 160)


def draw_hall(path: Path, schedule: Schedule, problem: Problem, caption: str) -> None:
    """Draw a schedule; the file is whole or not there.

    Parameters
    ----------
    path : pathlib.Path
        PNG, or SVG where its name ends so.
    schedule : Schedule
    problem : Problem
        Presses and their clocks.
    caption : str

    Raises
    ------
    CallError
        If the file cannot be written.
    """
    chart = _Chart(schedule, problem)
    pen: HallPen = (VectorPen if path.suffix.lower() == ".svg" else PixelPen)(round(chart.width), round(chart.height))
    chart.draw(pen, caption)
    pen.save(path)


@dataclass
class _Block:
    """A place on the chart, px."""

    place: Place
    begin: float
    start: float
    end: float


class _Chart:
    """Where everything stands."""

    def __init__(self, schedule: Schedule, problem: Problem) -> None:
        self.schedule, self.problem = schedule, problem
        self.minutes = max(schedule.end, 8 * 60)
        lengths = [place.end - place.begin for place in schedule.places] or [self.minutes]
        wide = self.minutes * _BLOCK / max(1.0, median(lengths))
        self.scale = min(max(wide, _LEAST), _MOST) / self.minutes
        self.rows = len(problem.presses)
        self.width = _LEFT + self.minutes * self.scale + 2 * _EDGE
        self.foot = _HEAD + self.rows * (_ROW + _GAP)
        self.height = self.foot + _FOOT

    def x(self, minute: float) -> float:
        return _LEFT + _EDGE + minute * self.scale

    def draw(self, pen: HallPen, caption: str) -> None:
        pen.text(_EDGE, 28.0, fitted(caption, self.width - 2 * _EDGE, _LARGE, True), _LARGE, bold=True)
        by_press: dict[str, list[Place]] = {}
        for place in self.schedule.places:
            by_press.setdefault(place.press, []).append(place)
        for m, press in enumerate(self.problem.presses):
            top = _HEAD + m * (_ROW + _GAP)
            self._row(pen, top, press, self.problem.clocks[self.problem.clock_of[m]])
        self._days(pen)
        for m, press in enumerate(self.problem.presses):
            top, places = _HEAD + m * (_ROW + _GAP), by_press.get(press.name, [])
            for place in places:
                self._place(pen, top, place)
            self._dues(pen, top, places)
        self._legend(pen)

    def _row(self, pen: HallPen, top: float, press: Press, clock: PressClock) -> None:
        foot = top + _ROW
        pen.text(_EDGE, top + 11.0, fitted(press.name, _LEFT - 12.0, _TEXT, True), _TEXT, bold=True)
        able = ", ".join([*sorted(press.sizes), *sorted(press.abilities), *sorted(press.colours)])
        pen.text(_EDGE, top + 27.0, fitted(able, _LEFT - 12.0, _SMALL), _SMALL)
        pen.box(self.x(0), top, self.x(self.minutes), foot, PAPER, _FAINT)
        for a, b in _closed(clock, self.minutes):
            left, right = self.x(a), self.x(b)
            pen.box(left, top + 1, right, foot - 1, _CLOSED)
            if right - left > 4.0:
                pen.pattern(left, top + 1, right, foot - 1, DOTS, _FAINT)

    def _place(self, pen: HallPen, top: float, place: Place) -> None:
        foot = top + _ROW
        begin, start, end = (self.x(one) for one in (place.begin, place.start, place.end))
        expected = bool(place.job.waits_for)
        pen.begin(self._words(place))
        if start > begin:
            pen.box(begin, top + 4, start, foot - 4, PAPER)
            pen.pattern(begin, top + 4, start, foot - 4, STROKES, INK)
            pen.box(begin, top + 4, start, foot - 4, None, INK)
        fill = _LATE if place.late else _EXPECTED if expected else _IN_TIME
        pen.box(start, top + 4, end, foot - 4, fill, INK, 3.0 if place.late else 1.0, expected and not place.late)
        left = start + 4.0
        if place.late and end - start > 50.0:
            pen.shape([(left, foot - 11), (left + 12, foot - 11), (left + 6, top + 11)], INK)
            left += 18.0
        self._label(pen, (top + foot) / 2, left, end - 4.0, place)
        pen.end()

    def _dues(self, pen: HallPen, top: float, places: list[Place]) -> None:
        """Marks above the row where jobs are due, with a line to the end of a late one; names where there is room."""
        taken = 0.0
        for place in sorted(places, key=lambda one: (one.due or 0, one.job.id)):
            if place.due is None or not 0 <= place.due <= self.minutes:
                continue
            x = self.x(place.due)
            pen.shape([(x - 5, top - 6), (x + 5, top - 6), (x, top + 2)], INK)
            if place.late:
                pen.line([(x, top), (self.x(place.end), top)], INK, 2.0)
            words = fitted(place.job.id, 80.0, _TINY)
            if words and x + 8.0 > taken:
                pen.text(x + 8.0, top - 6.0, words, _TINY)
                taken = x + 12.0 + words_width(words, _TINY)

    def _label(self, pen: HallPen, y: float, left: float, right: float, place: Place) -> None:
        """The longest of several labels that fits; in a block too narrow for any, none."""
        job, bold = place.job, bool(place.late)
        state = [f"LATE {_hours(place.late)}"] if place.late else ["expected"] if job.waits_for else []
        whole = " · ".join(dict.fromkeys([*state, job.id, job.edition, f"{job.left} {job.colour}"]))
        short = [f"LATE {job.id}", "LATE"] if place.late else [job.id]
        if words_width(whole, _TEXT, bold) > right - left and right - left > 130.0:
            pen.text(left, y, fitted(whole, right - left, _TEXT, bold), _TEXT, bold=bold)
            return
        for words in (whole, *short):
            for size in (_TEXT, _TINY):
                if words_width(words, size, bold) <= right - left:
                    pen.text(left, y, words, size, bold=bold)
                    return

    def _words(self, place: Place) -> str:
        """Everything about a place, for who points at it or has it read aloud."""
        job, at = place.job, self.schedule.at
        due = "" if job.due is None else f", due {at(place.due or 0):%a %d %b %H:%M}"
        late = f", late {_hours(place.late)}" if place.late else ""
        change = (
            f", change {place.change.minutes} min from {at(place.begin):%a %d %b %H:%M}" if place.change.minutes else ""
        )
        swaps = f", stampers changed {place.swaps} times within" if place.swaps else ""
        waits = f", expected: {job.waits_for}" if job.waits_for else ""
        return (
            f"{job.id} on {place.press}: {job.left} of {job.edition}, {job.size} {job.colour}, "
            f"{at(place.start):%a %d %b %H:%M} to {at(place.end):%a %d %b %H:%M}{change}{swaps}{due}{late}{waits}"
        )

    def _days(self, pen: HallPen) -> None:
        """A line at every midnight of the hall's zone with the day above; hours between where there is room."""
        start = self.schedule.start
        day = start.replace(hour=0, minute=0)
        while (minute := (day.astimezone(UTC) - start.astimezone(UTC)) // timedelta(minutes=1)) <= self.minutes:
            if minute >= 0:
                pen.line([(self.x(minute), _HEAD - 34), (self.x(minute), self.foot)], _FAINT, 2.0)
            shown, room = max(0, minute), self.scale * (minute + DAY - max(0, minute))
            pen.text(
                self.x(shown) + 6.0,
                _HEAD - 40,
                fitted(f"{day:%a %d %b %Y}", room - 10.0, _TEXT, True),
                _TEXT,
                bold=True,
            )
            for hour in (6, 12, 18):
                at = minute + hour * 60
                if 0 <= at <= self.minutes and self.scale * 360 > 60.0:
                    pen.line([(self.x(at), _HEAD - 12), (self.x(at), _HEAD - 4)], _FAINT)
                    pen.text(self.x(at), _HEAD - 20, f"{hour:02d}:00", _SMALL, anchor="m")
            day = (day + timedelta(days=1)).replace(hour=0, minute=0)

    def _legend(self, pen: HallPen) -> None:
        """What each pattern means, in words."""
        y, x = self.foot + 16.0, _EDGE
        high = 24.0
        samples: list[tuple[str, Rgb | None, float, bool, str]] = [
            ("in time", _IN_TIME, 1.0, False, ""), ("LATE, heavy edge", _LATE, 3.0, False, ""),
            ("planned on what is expected", _EXPECTED, 1.0, True, ""), ("change", None, 1.0, False, STROKES),
            ("hall closed", _CLOSED, 0.0, False, DOTS),
        ]  # fmt: skip
        for words, fill, width, dash, kind in samples:
            pen.box(x, y, x + 46, y + high, fill, INK if width else None, width or 1.0, dash)
            if kind:
                pen.pattern(x, y, x + 46, y + high, kind, INK if kind == STROKES else _FAINT)
            if words.startswith("LATE"):
                pen.shape([(x + 6, y + 19), (x + 18, y + 19), (x + 12, y + 5)], INK)
            pen.text(x + 54, y + high / 2, words, _TEXT)
            x += 54 + words_width(words, _TEXT) + 34
        pen.shape([(x, y + 8), (x + 10, y + 8), (x + 5, y + 16)], INK)
        pen.text(x + 18, y + high / 2, "due", _TEXT)
        zone = self.schedule.start.tzname() or ""
        pen.text(_EDGE, y + 48, f"Times in {zone}. In a block: job, edition, pressings, colour.", _SMALL)


def _closed(clock: PressClock, most: int) -> list[tuple[int, int]]:
    """Hours in which a press is not manned, from the start to where the chart ends."""
    first, last = bisect_left(clock.opens, 0), bisect_right(clock.opens, most)
    pairs = zip([0, *clock.closes[first:last]], [*clock.opens[first:last], most], strict=True)
    return [(max(0, a), min(b, most)) for a, b in pairs if max(0, a) < min(b, most)]


def _hours(minutes: int) -> str:
    days, rest = divmod(minutes, DAY)
    hours, rest = divmod(rest, 60)
    if days:
        return f"{days} d {hours} h"
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"
