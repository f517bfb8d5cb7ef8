"""The search for a guilty part as text."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from discwright.acts.works_locate import PartGuilt, SideGuilt, SpotGuilt, TitleGuilt
from discwright.acts.works_locate_told import INDEPENDENT, advice, days_words, heard_of, way_words
from discwright.acts.works_paces import Pace

#: Spots and parts of a side that are shown to people, and suspects of a spot.
_SPOTS, _PARTS, _SUSPECTS = 20, 12, 3


def show_guilt(found: TitleGuilt, only: Mapping[tuple[str, str], SpotGuilt] | None = None) -> Iterator[str]:
    """The lines about a title, or about one place of it.

    Parameters
    ----------
    found : TitleGuilt
    only : mapping of (str, str) to SpotGuilt, optional
        The spots of one place, by edition and side.
    """
    yield f"{found.family.title}  {found.family.name}"
    for side in found.sides:
        if only is None:
            yield from _side(side, side.spots)
        elif (side.edition, side.side) in only:
            yield from _side(side, (only[side.edition, side.side],))


def _side(side: SideGuilt, spots: tuple[SpotGuilt, ...]) -> Iterator[str]:
    heard = sum(bool(one.spot.audible) for one in side.spots)
    yield ""
    of = f", {side.edition}" if side.edition else ""
    counts = f"{_many(len(side.plays), 'play')}, {_many(len(side.spots), 'spot')}"
    yield f"side {side.side}{of}: {counts}, {heard} to be heard"
    if side.placeless:
        yield f"{_many(side.placeless, 'play')} more heard faults and did not say where"
    # What is heard comes first where not all can be shown.
    shown = sorted(sorted(spots, key=lambda one: not one.spot.audible)[:_SPOTS], key=lambda one: one.number)
    for one in shown:
        yield from _spot(side, one)
    if len(spots) > len(shown):
        yield f"and {len(spots) - len(shown)} spots more; --json has them all"
    if heard:
        yield from _parts(side)
    yield ""
    yield f"do        {advice(side)}"
    yield f"days      {', '.join(_pace(kind, one) for kind, one in side.paces.items())}"


def _pace(kind: str, one: Pace) -> str:
    return f"{kind} {one.days:.1f}{f' (median of {one.measured})' if one.measured else ''}"


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _spot(side: SideGuilt, one: SpotGuilt) -> Iterator[str]:
    spot, guilt = one.spot, one.guilt
    turns = f"turn {spot.turn}" if spot.turn == spot.last_turn else f"turns {spot.turn} to {spot.last_turn}"
    about = [f"{one.number:4}", spot.kind, turns, f"{spot.angle_deg:.1f}°"]
    about += [f"{spot.radius_mm:.1f} mm"] if spot.radius_mm is not None else []
    about += [f"{spot.size_db:+.1f} dB"] if spot.size_db is not None else []
    about += [] if spot.audible else ["not heard" if spot.audible is False else "nobody listened"]
    yield "  ".join([*about, ", ".join(f"{part} {heard} of {of}" for part, heard, of in heard_of(side, one))])
    ranked = sorted(guilt.posterior.items(), key=lambda pair: -pair[1])[:_SUSPECTS]
    chances = [f"{part} {percent(chance)}" for part, chance in ranked] + [f"no fault at all {percent(guilt.none)}"]
    yield f"      {'  '.join(chances)}{f'  next: play {guilt.next_test}' if guilt.next_test else ''}"


def percent(chance: float) -> str:
    """``83.7 %``."""
    return f"{100 * chance:.1f} %"


def _parts(side: SideGuilt) -> Iterator[str]:
    yield ""
    yield f"parts     all spots that are heard, {INDEPENDENT}"
    ranked = sorted(side.parts, key=lambda one: -one.heads)
    for one in ranked[:_PARTS]:
        yield _part(one)
    if len(ranked) > _PARTS:
        yield f"and {len(ranked) - _PARTS} parts more that are less likely"


def _part(one: PartGuilt) -> str:
    falls = "falls alone" if len(one.falls) == 1 else f"{len(one.falls)} parts fall"
    remedy = f"{way_words(one.way)}: {days_words(one.way.days)}"
    return f"{percent(one.heads):>8}  {one.word:11}  {one.part.id} {one.part.kind}  {falls}; {remedy}"
