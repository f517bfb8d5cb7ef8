"""Which part of a title's family is guilty of the faults its test plays found, and what is best done, by the ledger."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from discwright.acts.works_look import family_for
from discwright.acts.works_paces import MOST_LINES, Pace, paces
from discwright.acts.works_play_first import PlayFirst, play_first
from discwright.acts.works_plays import disc_of, plays_of, stamp
from discwright.errors import CallError
from discwright.files.guilt_settings import GuiltSettings, load_guilt
from discwright.groove.equipment import DiscFormat
from discwright.inspection.locate import Audition, Guilt, Member, locate
from discwright.inspection.remaking import Choice, Way, choices, fallen, ways
from discwright.inspection.spots import Play, Spot, find_spots, window_at
from discwright.works.chain import Line
from discwright.works.family import Family, Part
from discwright.works.history import corrected
from discwright.works.parts import MOTHER, STAMPER
from discwright.works.store.ledger import Ledger

#: What a play must save on the mean to be worth while, days.
_WORTH_DAYS = 0.05
#: What a part is called, from the most likely guilty on.
WORDS = ("guilty", "suspect", "doubtful", "unsuspected")


@dataclass(frozen=True)
class SpotGuilt:
    """One spot, and who may be guilty of it.

    Attributes
    ----------
    number : int
        From 1 along the groove.
    spot : Spot
    guilt : Guilt
        Of the parts, and of pressings that were named (``ST5-6 pressing 3``).
    """

    number: int
    spot: Spot
    guilt: Guilt

    @property
    def likeliest(self) -> str:
        """The part that most likely heads it."""
        return max(self.guilt.posterior, key=lambda one: self.guilt.posterior[one])


@dataclass(frozen=True)
class PartGuilt:
    """One part, over all spots that are heard.

    Attributes
    ----------
    part : Part
    heads, carries : float
        Probability that it heads, or carries, at least one of them.
    word : str
        One of :data:`WORDS`.
    falls : tuple of str
        What falls with it if it is guilty, itself first.
    way : Way
        The shortest way to a good stamper then.
    """

    part: Part
    heads: float
    carries: float
    word: str
    falls: tuple[str, ...]
    way: Way


@dataclass(frozen=True)
class SideGuilt:
    """Everything found about one side.

    Attributes
    ----------
    edition, side : str
    disc : DiscFormat
    plays : tuple of Play
    placeless : int
        Plays that did not say where they heard their faults.
    spots : tuple of SpotGuilt
    parts : tuple of PartGuilt
        In the order they were made.
    next_play : str
        The part whose next play would tell most over all spots that are heard; empty where none would.
    choices : tuple of Choice
        What can be done, the cheapest on the mean first; none while no spot is heard.
    first : PlayFirst or None
        What it costs to play `next_play` before anything is done.
    paces : dict of str to Pace
    settings : GuiltSettings
    """

    edition: str
    side: str
    disc: DiscFormat
    plays: tuple[Play, ...]
    placeless: int
    spots: tuple[SpotGuilt, ...]
    parts: tuple[PartGuilt, ...]
    next_play: str
    choices: tuple[Choice, ...]
    first: PlayFirst | None
    paces: Mapping[str, Pace]
    settings: GuiltSettings


@dataclass(frozen=True)
class TitleGuilt:
    """Everything found about a title.

    Attributes
    ----------
    family : Family
    sides : tuple of SideGuilt
        Each that has a part.
    """

    family: Family
    sides: tuple[SideGuilt, ...]


def find_guilty(
    ledger: Ledger, title: str, *, side: str = "", edition: str = "", settings: Path | None = None
) -> TitleGuilt:
    """Weigh every part of a title by the test plays in the ledger.

    Parameters
    ----------
    ledger : Ledger
    title : str
        Catalogue number, or the number of one of its parts.
    side, edition : str
        Only this one.
    settings : pathlib.Path, optional
        House file over `data/guilt.toml`.

    Raises
    ------
    CallError
        If there is no such title or side.
    SettingsError
        If the house file cannot be used.
    """
    by = load_guilt(settings)
    family = family_for(ledger, title)
    there = sorted({(one.edition, one.side) for one in family.parts.values()})
    wanted = [one for one in there if edition in ("", one[0]) and side in ("", one[1])]
    if not wanted and (side or edition or not there):
        known = ", ".join(f"{letter} of {name}" if name else letter for name, letter in there)
        raise CallError(
            f"{family.title}: no lacquer was cut yet of {f'side {side}' if side else 'it'}"
            f"{f' of {edition}' if edition else ''}; {f'its sides are {known}' if known else 'cut one first'}."
        )
    lines = corrected(list(ledger.lines(title=family.title)))
    known_paces = paces(_newest(ledger), by.days, by.enough)
    return TitleGuilt(family, tuple(_side(family, *one, lines, known_paces, by) for one in wanted))


def _newest(ledger: Ledger) -> list[Line]:
    """The newest lines of all titles, without what was undone."""
    head = ledger.head()[0]
    lines = list(ledger.lines(after=max(0, head - MOST_LINES)))
    undone = {line.data.get("seq") for line in lines if line.kind == "corrected" and line.data.get("instead") is None}
    return [line for line in lines if line.seq not in undone]


def _side(
    family: Family, edition: str, side: str, lines: Sequence[Line], known: Mapping[str, Pace], by: GuiltSettings
) -> SideGuilt:
    parts = [one for one in family.parts.values() if (one.edition, one.side) == (edition, side)]
    told = plays_of(lines, parts)
    disc = disc_of(family, edition)
    found = find_spots(told.plays, _window(disc, by))
    bench = _Bench(parts, told.plays, by)
    spots = tuple(SpotGuilt(number, one, bench.weigh(one)) for number, one in enumerate(found, 1))
    audible = [one for one in spots if one.spot.audible]
    heard = [one.guilt for one in audible]
    next_play = _next(heard)
    days = {kind: one.days for kind, one in known.items()}
    carries = {one.id: any_of(guilt.carries[one.id] for guilt in heard) for one in parts}
    way = ways(family, parts, (), days)
    first = None
    if next_play:

        def after(k: int, report: bool) -> Guilt:
            return bench.weigh(audible[k].spot, (next_play, report))

        first = play_first(family, next_play, heard, after, way, days, (by.detect, by.false_alarm))
    return SideGuilt(
        edition, side, disc, told.plays, told.placeless, spots,
        tuple(_part(family, one, parts, heard, carries[one.id], days, by) for one in parts), next_play,
        choices(family, way, carries, days) if heard else (), first, known, by,
    )  # fmt: skip


def _window(disc: DiscFormat, by: GuiltSettings) -> float:
    return window_at(disc.revolutions_per_second * 60.0, by.window_deg, by.window_ms * 1e-3)


def any_of(chances: Iterable[float]) -> float:
    """Probability that at least one of several happens, taken as independent of each other.

    Parameters
    ----------
    chances : iterable of float
    """
    return 1.0 - math.prod(1.0 - one for one in chances)


def _next(heard: Sequence[Guilt]) -> str:
    """The part whose play is expected to tell most of all spots together."""
    falls: dict[str, float] = {}
    for one in heard:
        for part, fall in one.falls_bits.items():
            falls[part] = falls.get(part, 0.0) + fall
    best = max(falls, key=lambda part: falls[part], default="")
    return best if best and falls[best] > 1e-9 else ""


def _part(
    family: Family, part: Part, parts: Sequence[Part], heard: Sequence[Guilt], carries: float,
    days: Mapping[str, float], by: GuiltSettings,
) -> PartGuilt:  # fmt: skip
    heads = any_of(one.posterior[part.id] for one in heard)
    # Where several spots are heard, the one that it most likely heads says from when on.
    worst = max(heard, key=lambda one: one.posterior[part.id], default=None)
    made = {one.id: _made(one) for one in family.parts.values()}
    falls = fallen(family, part, worst.since[part.id] if worst is not None else "", made)
    return PartGuilt(part, heads, carries, word_for(heads, by), falls, ways(family, parts, falls, days)[0])


def word_for(chance: float, by: GuiltSettings) -> str:
    """What a part is called that heads a fault with some probability.

    Parameters
    ----------
    chance : float
    by : GuiltSettings
    """
    return next((word for word in WORDS[:-1] if chance >= by.words[word]), WORDS[-1])


def _made(part: Part) -> str:
    return stamp(part.born_at, part.born)


class _Bench:
    """Where spots of a side are weighed: its family, and what each play says of a spot. Alike ones are weighed once."""

    def __init__(self, parts: Sequence[Part], plays: Sequence[Play], by: GuiltSettings) -> None:
        self.plays = {one.id: one for one in plays}
        self.by = by
        self.members = [
            Member(one.id, one.parent, by.prior[one.kind], _made(one), by.damage[one.kind]) for one in parts
        ]  # fmt: skip
        # A pressing that is known by name may have a fault of its own, however often it is played.
        named: dict[str, Play] = {}
        for play in plays:
            if play.pressing:
                named.setdefault(played(play), play)
        self.members += [Member(name, one.part, by.prior["pressing"], one.at) for name, one in named.items()]
        self.playable = [
            one.id for one in parts if one.kind in (MOTHER, STAMPER) and one.state not in ("plated", "scrapped")
        ]  # fmt: skip
        self.weighed: dict[tuple[tuple[str, ...], tuple[str, ...], tuple[str, bool] | None], Guilt] = {}

    def weigh(self, spot: Spot, then: tuple[str, bool] | None = None) -> Guilt:
        """Who may be guilty of a spot; or who would be, if a part were played then and reported it, or did not."""
        key = (spot.heard, spot.missed, then)
        if key not in self.weighed:
            found = [(one, 1) for one in spot.heard] + [(one, 0) for one in spot.missed]
            auditions = [Audition(played(self.plays[one]), heard, 1, self.plays[one].at) for one, heard in found]
            if then is not None:
                auditions.append(Audition(then[0], int(then[1]), 1))
            by = self.by
            self.weighed[key] = locate(self.members, auditions, by.detect, by.false_alarm, self.playable)
        return self.weighed[key]


def played(play: Play) -> str:
    """What was played: the part, or the pressing of it that is known by name.

    Parameters
    ----------
    play : Play
    """
    return f"{play.part} pressing {play.pressing}" if play.pressing else play.part


def spots_at(found: TitleGuilt, turn: float, angle_deg: float) -> dict[tuple[str, str], SpotGuilt]:
    """The spot at one place of each side that has one there.

    Parameters
    ----------
    found : TitleGuilt
    turn : float
        Whole turns.
    angle_deg : float

    Returns
    -------
    dict of (str, str) to SpotGuilt
        By edition and side.

    Raises
    ------
    CallError
        If no play found anything there.
    """
    place = 360.0 * math.floor(turn) + angle_deg % 360.0

    def apart(one: SpotGuilt) -> float:
        turns = range(one.spot.turn, one.spot.last_turn + 1)
        return min(abs(360.0 * number + one.spot.angle_deg - place) for number in turns)

    near: dict[tuple[str, str], SpotGuilt] = {}
    for side in found.sides:
        first = min(side.spots, key=apart, default=None)
        if first is not None and apart(first) <= _window(side.disc, side.settings):
            near[side.edition, side.side] = first
    if not near:
        raise CallError(
            f"{found.family.title}: no play found anything at turn {math.floor(turn)}, {angle_deg % 360.0:.1f}°; ask "
            "without a place, and every spot is shown."
        )
    return near


def best(side: SideGuilt) -> Choice | None:
    """What is cheapest on the mean to be made; None while no spot is heard.

    Parameters
    ----------
    side : SideGuilt
    """
    return side.choices[0] if side.choices else None


def pays_to_play(side: SideGuilt) -> bool:
    """One more play first is cheaper on the mean than anything that could be done at once.

    Parameters
    ----------
    side : SideGuilt
    """
    chosen = best(side)
    if chosen is None or side.first is None:
        return False
    return side.first.expected_days < chosen.expected_days - _WORTH_DAYS
