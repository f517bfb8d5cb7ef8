"""How far a job is and how long it will still take: what is expected of each step, held against what it does take.

An act tells the name of its step and the fraction of it done. Which steps come, and how long each should last, is
known from the kind of job and the minutes of music (:mod:`discwright.desk.expected`). How often a spiral is laid until
a level is found is not: there each number of times has its likelihood, and those that are past fall out. What this
machine needed for the same steps before, and what this job has needed so far, scales everything still to come.
"""

from __future__ import annotations

import math
import re
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any

from discwright.desk.jobs import read_json, write_json

#: Sides that a layout fits at once: together they are one time its step comes.
AT_ONCE = 2
#: Where one of them is ready, so much of their time is over.
_ONE_OF_TWO = 0.7
#: Until a job has told its first step it is loading programs.
STARTING = "starting"
#: A pace learned or seen is believed within this factor either way.
MOST_RATIO = 20.0
#: So many paces are remembered of each step, and counts of each search.
REMEMBERED = 12
#: What is expected weighs as much as so many paces that were learned.
_VOTES = 1
#: What is expected weighs as much as so many seconds of what is seen, and what is seen half as much so many later, s.
_TRUST_S, _FORGOTTEN_S = 3.0, 8.0
#: A step is not believed to have changed by more than this. Of a change so much is believed to last, in its logarithm:
#: for steps of the same kind, and for others.
_MOST_CHANGE, _BELIEVED, _BELIEVED_OF_OTHERS = 6.0, 0.65, 0.5
#: A step that was to have ended will take so much more of what is expected, and of what it is late.
_LATE, _LATER = 0.12, 0.25
#: A search that is silent for so much of a time has ended.
_SILENT = 0.5
#: No title has so many steps.
_MOST_STAGES = 1000
#: No likelihood is less than this: a search may always go on.
_DOUBT = 0.02

_SIDE = re.compile(r"(?P<who>.+) side \S+: (?P<step>.+)")
_LAYOUT = re.compile(r"laying out (?P<who>.+), (?P<count>\d+) sides fitted")


@dataclass(frozen=True)
class Stage:
    """A step that is to come.

    Attributes
    ----------
    step : str
        As the act calls it, without what varies.
    seconds : float, s
        How long it should take, each time.
    who : str
        The edition it belongs to; empty where the act names none.
    times : mapping of int to float
        How often it may come in a row, with the likelihood of each; once, where it is empty.
    search : str
        Under what it is remembered how often it came.
    key : str
        Under what its pace is remembered, where steps of one name are of two kinds.
    """

    step: str
    seconds: float
    who: str = ""
    times: Mapping[int, float] = field(default_factory=dict)
    search: str = ""
    key: str = ""

    @property
    def name(self) -> str:
        """Under what its pace is remembered."""
        return self.key or self.step


@dataclass(frozen=True)
class Outlook:
    """How a job stands.

    Attributes
    ----------
    step : str
        In the act's words.
    done : float
        0 to 1, of the whole; never less than before.
    seconds_left : float or None, s
        None while nobody can know.
    """

    step: str
    done: float
    seconds_left: float | None


@dataclass
class Paces:
    """What this machine has needed: ratios to what was expected, and how often searches went on.

    Attributes
    ----------
    ratios : dict of str to list of float
        By the step's name, oldest first.
    counts : dict of str to list of int
    """

    ratios: dict[str, list[float]] = field(default_factory=dict)
    counts: dict[str, list[int]] = field(default_factory=dict)

    @classmethod
    def read(cls, path: Path) -> Paces:
        """Paces as they were kept; nonsense is passed over.

        Parameters
        ----------
        path : pathlib.Path
        """
        plain = read_json(path)
        paces = cls()
        for name, value in _lists(plain.get("ratios")):
            paces.ratios[name] = [float(one) for one in value if _sane(one)][-REMEMBERED:]
        for name, value in _lists(plain.get("counts")):
            paces.counts[name] = [int(one) for one in value if _sane(one) and one == int(one) >= 1][-REMEMBERED:]
        return paces

    def write(self, path: Path) -> None:
        """Keep them.

        Parameters
        ----------
        path : pathlib.Path

        Raises
        ------
        OSError
        """
        write_json(path, {"ratios": self.ratios, "counts": self.counts})

    def ratio(self, name: str) -> float:
        """How much longer than expected a step takes here: what is usual of late, with some votes for the expected."""
        known = self.ratios.get(name, [])
        return math.exp(sum(math.log(one) for one in known) / (len(known) + _VOTES))

    def likely(self, name: str, times: Mapping[int, float]) -> dict[int, float]:
        """Likelihoods of how often a search goes on, with what was counted here.

        Parameters
        ----------
        name : str
        times : mapping of int to float
            Without having counted; as much as four counts together.
        """
        total = sum(times.values()) or 1.0
        found = {n: 4.0 * weight / total for n, weight in times.items()}
        for count in self.counts.get(name, []):
            found[count] = found.get(count, 0.0) + 1.0
        return found

    def learn(self, ratios: Sequence[tuple[str, float]], counts: Sequence[tuple[str, int]]) -> None:
        """Add what a finished job has shown.

        Parameters
        ----------
        ratios : sequence of (str, float)
        counts : sequence of (str, int)
        """
        for name, ratio in ratios:
            if _sane(ratio):
                self.ratios[name] = [*self.ratios.get(name, []), round(ratio, 4)][-REMEMBERED:]
        for name, count in counts:
            self.counts[name] = [*self.counts.get(name, []), count][-REMEMBERED:]


class Forecast:
    """One job from its first moment on; told by the act, asked by whoever writes down how it stands.

    Parameters
    ----------
    stages : sequence of Stage
        In order, the first is :data:`STARTING`; none where nothing is known.
    paces : Paces, optional
        Of this machine.
    clock : callable, s
    """

    def __init__(
        self, stages: Sequence[Stage], paces: Paces | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._paces = paces or Paces()
        self._stages = list(stages) or [Stage(STARTING, 1.0)]
        self._blind = not stages
        self._clock, self._lock = clock, Lock()
        self._begun = clock()
        self._at = 0
        self._since = self._told_at = self._begun
        #: When a fraction of the step at hand was told first, and which.
        self._first: tuple[float, float] | None = None
        self._fraction, self._count = 0.0, 0
        self._told, self._done = STARTING, 0.0
        self._seen: list[tuple[str, float, float]] = []
        self._late: list[tuple[str, float, float]] = []
        self._counts: list[tuple[str, int]] = []

    def tell(self, step: str, fraction: float) -> None:
        """A step's name and the fraction of it done, as acts tell them.

        Parameters
        ----------
        step : str
        fraction : float
        """
        with self._lock:
            now = self._clock()
            self._told = step
            who, plain, count = _parse(step)
            where = self._find(who, plain)
            if where is None:
                return
            if where > self._at:
                self._enter(where, now)
            elif count is not None and count // AT_ONCE > self._count:
                self._note(now, count // AT_ONCE - self._count)
                self._count, self._since, self._first = count // AT_ONCE, now, None
            elif count is None and fraction < 0.5 <= self._fraction and self._stages[self._at].times:
                self._note(now, 1)
                self._count, self._since, self._first = self._count + 1, self._ended(now), None
            part = fraction if count is None else _ONE_OF_TWO * (count % AT_ONCE)
            if self._first is None or part != self._fraction:
                self._told_at = now
            self._first = self._first or (now, min(max(part, 0.0), 0.99))
            self._fraction = min(max(part, 0.0), 1.0)

    def look(self) -> Outlook:
        """How the job stands now."""
        with self._lock:
            now = self._clock()
            if self._blind:
                return Outlook(self._told, 0.0, None)
            left, spent = self._left(now), now - self._begun
            self._done = max(self._done, min(spent / (spent + left), 0.99) if spent > 0 else 0.0)
            known = spent > 0.05 * (spent + left)
            return Outlook(self._told, self._done, left if known else None)

    def finish(self) -> Paces:
        """The job has ended well: the machine's paces with what it has shown."""
        with self._lock:
            if self._blind:
                return self._paces
            self._note(self._clock(), 1)
            self._counted()
            self._paces.learn([(name, took / expected) for name, expected, took in self._seen], self._counts)
            return self._paces

    def _find(self, who: str, step: str) -> int | None:
        """The stage a step belongs to: this one or the next of its name; a side more than expected is put in."""
        for index in range(self._at, len(self._stages)):
            if (self._stages[index].who, self._stages[index].step) == (who, step):
                return index
        before = [k for k in range(self._at) if (self._stages[k].who, self._stages[k].step) == (who, step)]
        if not before or len(self._stages) > _MOST_STAGES:
            return None
        self._stages[self._at + 1 : self._at + 1] = self._stages[before[-1] : self._at + 1]
        return self._at + 1

    def _enter(self, index: int, now: float) -> None:
        self._note(now, 1)
        self._counted()
        self._at, self._since = index, self._ended(now)
        self._fraction, self._count, self._first = 0.0, 0, None

    def _ended(self, now: float) -> float:
        """When the step at hand has ended; the silence after that belongs to the next."""
        return self._told_at if self._fraction >= 1.0 else now

    def _note(self, now: float, times: int) -> None:
        """What a step took, each of so many times, against what was expected."""
        stage = self._stages[self._at]
        took = max((self._ended(now) - self._since) / times, 1e-3)
        self._seen += [(stage.name, stage.seconds, took)] * times

    def _counted(self) -> None:
        stage = self._stages[self._at]
        if stage.times and stage.search:
            self._counts.append((stage.search, self._count + 1))

    def _pace(self, name: str) -> float:
        """How much longer than expected a step will take in this job: by its own kind where seen, else by all."""
        usual = self._paces.ratio(name)
        every = usual * self._recent([*self._seen, *self._late], 1.0)
        own = [one for one in self._seen if one[0] == name]
        # What has made it slower or faster than usual may pass: believed, but not to the full.
        if not own:
            return usual * math.pow(every / usual, _BELIEVED_OF_OTHERS)
        return usual * math.pow(self._recent(own, every / usual), _BELIEVED)

    def _recent(self, seen: Sequence[tuple[str, float, float]], prior: float) -> float:
        """Seconds taken over seconds usual, of late most of all, with some trust in what was thought before."""
        took, usual, weight = _TRUST_S * prior, _TRUST_S, 1.0
        for name, seconds, spent in reversed(seen):
            believed = seconds * self._paces.ratio(name)
            # A step may hide what happens once in a machine's life, compiling or a sleeping disk.
            took += weight * min(max(spent, believed / _MOST_CHANGE), believed * _MOST_CHANGE)
            usual += weight * believed
            weight *= math.pow(0.5, believed / _FORGOTTEN_S)
        return took / usual

    def _left(self, now: float) -> float:
        """Seconds the job will still take."""
        stage = self._stages[self._at]
        # A step that is late says as much as one that has ended.
        spent, silent = self._ended(now) - self._since, now - self._ended(now)
        self._late = [(stage.name, stage.seconds, spent)] if spent > stage.seconds else []
        once = max(stage.seconds * self._pace(stage.name), 1e-3)
        rest = sum(
            later.seconds * self._pace(later.name) * self._often(later) for later in self._stages[self._at + 1 :]
        )
        this = self._rest_of(once, now)
        if silent > 0.0 and self._at + 1 < len(self._stages):
            # Most likely the next step has begun, which does not say so at once.
            following = self._stages[self._at + 1]
            rest -= min(silent, 0.9 * following.seconds * self._pace(following.name))
        if not stage.times or silent > _SILENT * once:
            return this + rest
        times = self._paces.likely(stage.search, stage.times)
        ahead = {n - self._count - 1: weight for n, weight in times.items() if n > self._count} or {0: 1.0, 1: 1.0}
        ahead.setdefault(0, _DOUBT)
        # What is off by the least factor, whichever it will be: the mean of the logarithms.
        total = sum(ahead.values())
        return math.exp(sum(w * math.log(this + n * once + rest + 1e-3) for n, w in ahead.items()) / total)

    def _often(self, stage: Stage) -> float:
        """How often a stage to come is likely to be gone through."""
        times = self._paces.likely(stage.search, stage.times)
        return sum(n * weight for n, weight in times.items()) / sum(times.values()) if stage.times else 1.0

    def _rest_of(self, once: float, now: float) -> float:
        """Seconds until the step at hand has ended."""
        spent, part = now - self._since, self._fraction
        began, first = self._first or (self._since, 0.0)
        left, silent = once, began - self._since
        if part > first and self._told_at > began:
            # As the fraction grows, what it tells outweighs what was expected.
            sure = (part - first) / (1.0 - first)
            told = (1.0 - part) / (part - first) * (self._told_at - began)
            expected = (1.0 - part) * max(once - silent, 0.1 * once)
            left = self._told_at - self._since + sure * told + (1.0 - sure) * expected
        return max(left - spent, _LATE * once * (1.0 - part) + _LATER * max(spent - left, 0.0))


def _parse(step: str) -> tuple[str, str, int | None]:
    """Who a step is about, what it is, and the count in its words."""
    laid = _LAYOUT.fullmatch(step)
    if laid is not None:
        return laid["who"], "laying out", int(laid["count"])
    side = _SIDE.fullmatch(step)
    return (side["who"], side["step"], None) if side is not None else ("", step, None)


def _lists(plain: object) -> list[tuple[str, list[Any]]]:
    found = plain.items() if isinstance(plain, dict) else ()
    return [(str(name), value) for name, value in found if isinstance(value, list)][:64]


def _sane(value: object) -> bool:
    return isinstance(value, int | float) and math.isfinite(value) and 1 / MOST_RATIO <= value <= MOST_RATIO
