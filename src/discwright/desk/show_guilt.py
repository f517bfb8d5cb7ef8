"""The page on a side's guilty part put together from what was found."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from urllib.parse import quote, urlencode
from zoneinfo import ZoneInfo

from discwright.acts.works_locate import WORDS, PartGuilt, SideGuilt, SpotGuilt, TitleGuilt, word_for
from discwright.acts.works_locate_told import days_words, heard_of, way_words
from discwright.desk.guilt_parts import (
    ChoiceRow,
    FacePicture,
    GuiltTree,
    HeardForm,
    HeardRow,
    PlayRow,
    SpotRow,
    SuspectRow,
)
from discwright.desk.guilt_picture import MOST_DRAWN, face_picture, guilt_tree, play_style, shape_path
from discwright.desk.page_parts import Option
from discwright.desk.show_board import new_key, part_href
from discwright.desk.tree_picture import tree_pictures
from discwright.desk.words import Words, level, minus
from discwright.desk.works_parts import Badge
from discwright.desk.works_time import at_words
from discwright.desk.works_words import part_badge
from discwright.faults import KINDS
from discwright.inspection.spots import Play, Spot
from discwright.works.family import Family
from discwright.works.parts import MASTER, MOTHER, STAMPER

#: The shape beside each word.
_SHAPES = dict(zip(WORDS, ("stop", "warn", "note", "unplanned"), strict=True))
#: Rows of the table of spots until all are asked for, and then; suspects of one spot, parts in the table of remedies.
MOST_ROWS, _ALL_ROWS, _SUSPECTS, _PARTS = 60, 1000, 3, 40
#: Ways that are shown.
_WAYS = 8
#: Rows for faults in the form.
FORM_ROWS = 6


def guilt_href(catalogue: str, edition: str = "", side: str = "", **more: str | int) -> str:
    """Address of the page on a side's guilty part."""
    query = {name: value for name, value in {"edition": edition, "side": side, **more}.items() if value}
    place = f"/works/guilt/{quote(catalogue)}"
    return f"{place}?{urlencode(query)}" if query else place


def guilt_badge(word: str) -> Badge:
    """What a part is called, with its shape."""
    return Badge(_SHAPES[word], word)


def percent(chance: float) -> str:
    """``83.7 %``."""
    return f"{100 * chance:.1f} %"


# Plays -------------------------------------------------------------------------------------------------


def letter_of(number: int) -> str:
    """A, B, … Z, AA, …: what a play is called on the page.

    Parameters
    ----------
    number : int
        From 0.
    """
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def play_rows(side: SideGuilt, zone: ZoneInfo) -> tuple[PlayRow, ...]:
    """Every play, with its letter and its shape."""
    return tuple(_play(number, one, zone) for number, one in enumerate(side.plays))


def _play(number: int, play: Play, zone: ZoneInfo) -> PlayRow:
    seen = not play.whole and not play.by_ear
    how = "seen on the part" if seen else "by ear" if play.by_ear else "from a capture"
    found = f"{len(play.faults)} fault{'' if len(play.faults) == 1 else 's'}" if play.faults else "no faults"
    ended = f", up to turn {play.to_turn:g}" if play.to_turn is not None else ""
    return PlayRow(
        letter_of(number), shape_path(number, 8.0, 8.0, 6.0), play_style(number), play.part, part_href(play.part),
        play.pressing, at_words(play.at.partition("#")[0], zone), how, f"{found}{ended}",
    )  # fmt: skip


# Spots -------------------------------------------------------------------------------------------------


def ranked(side: SideGuilt) -> list[SpotGuilt]:
    """Spots as they matter: what is heard first, the loudest first, what most plays found first."""
    return sorted(
        side.spots,
        key=lambda one: (one.spot.audible is not True, -(one.spot.size_db or 0.0), -len(one.spot.marks), one.number),
    )


def spot_rows(side: SideGuilt, catalogue: str, chosen: int, words: Words, whole: bool) -> tuple[SpotRow, ...]:
    """The table of spots, along the groove; where there are many, those that matter most."""
    most = _ALL_ROWS if whole else MOST_ROWS
    letters = {one.id: letter_of(number) for number, one in enumerate(side.plays)}
    shown = sorted(ranked(side)[:most], key=lambda one: one.number)
    return tuple(_spot(side, one, catalogue, chosen, words, letters) for one in shown)


def _spot(
    side: SideGuilt, one: SpotGuilt, catalogue: str, chosen: int, words: Words, letters: Mapping[str, str]
) -> SpotRow:
    spot = one.spot
    turn = str(spot.turn) if spot.turn == spot.last_turn else f"{spot.turn} to {spot.last_turn}"
    missed = f", not {' '.join(letters[play] for play in spot.missed)}" if spot.missed else ""
    best = sorted(one.guilt.posterior.items(), key=lambda pair: -pair[1])[:_SUSPECTS]
    told = [f"{part} {percent(chance)}" for part, chance in best if chance >= side.settings.words["doubtful"]]
    return SpotRow(
        str(one.number), spot.kind, turn, f"{minus(spot.angle_deg, 1)}°",
        words.radius(spot.radius_mm * 1e-3) if spot.radius_mm is not None else "",
        level(spot.size_db) if spot.size_db is not None else "",
        guilt_href(catalogue, side.edition, side.side, spot=one.number) + "#tree", one.number == chosen,
        _audible(spot), " ".join(letters[play] for play in spot.heard) + missed,
        ", ".join(f"{part} {heard} of {of}" for part, heard, of in heard_of(side, one)),
        "; ".join([*told, f"no fault at all {percent(one.guilt.none)}"]),
    )  # fmt: skip


def _audible(spot: Spot) -> Badge:
    if spot.audible is None:
        return Badge("unplanned", "nobody listened")
    return Badge("warn", "heard") if spot.audible else Badge("note", "not heard")


def face(side: SideGuilt, chosen: int, radius_mm_at: Callable[[float], float] | None) -> FacePicture:
    """The face of the disc with the spots that matter most.

    Parameters
    ----------
    side : SideGuilt
    chosen : int
        Number of the spot that is looked at, or 0.
    radius_mm_at : callable or None
        Radius of a turn by the plan; None where the plan is not there.
    """
    order = {one.id: number for number, one in enumerate(side.plays)}
    drawn = [(one.number, one.spot) for one in ranked(side)[:MOST_DRAWN]]
    outer, pitch = side.disc.outermost_radius * 1e3, side.settings.pitch_um * 1e-3
    inner = side.disc.innermost_radius * 1e3
    about = radius_mm_at or (lambda turn: max(inner, outer - pitch * turn))
    left_out = max(0, len(side.spots) - MOST_DRAWN)
    return face_picture(side.disc, drawn, order, chosen, about, radius_mm_at is not None, left_out)


def radius_of_turns(folder: Path, turn_time: float) -> Callable[[float], float] | None:
    """Radius of each turn by a kept plan, mm; None where the plan cannot be read.

    Parameters
    ----------
    folder : pathlib.Path
    turn_time : float, s
    """
    import numpy as np

    from discwright.errors import DiscwrightError
    from discwright.files.compare import read_plan
    from discwright.files.kept_side import read_spiral

    try:
        rows = read_spiral(folder, read_plan(folder))
    except DiscwrightError:
        return None
    return lambda turn: float(np.interp(turn * turn_time, rows.time, rows.radius)) * 1e3


# Parts -------------------------------------------------------------------------------------------------


def tree(family: Family, side: SideGuilt, one: SpotGuilt | None) -> GuiltTree | None:
    """The tree of the side by guilt: of one spot, or of all that are heard."""
    pictures = tree_pictures(family)
    picture = next((it for it in pictures if (it.edition, it.side) == (side.edition, side.side)), None)
    if picture is None:
        return None
    if one is None:
        chances = {it.part.id: it.heads for it in side.parts}
    else:
        chances = {it.part.id: one.guilt.posterior[it.part.id] for it in side.parts}
    badges = {part: (guilt_badge(word_for(chance, side.settings)), chance) for part, chance in chances.items()}
    conditions = {it.part.id: part_badge(it.part).words for it in side.parts}
    return guilt_tree(picture, badges, conditions, _heard(side, one))


def _heard(side: SideGuilt, one: SpotGuilt | None) -> dict[str, str]:
    """Of each part that was played: how often, or how often the spot was heard."""
    count: dict[str, list[int]] = {}
    plays = {play.id: play for play in side.plays}
    told = [(play.part, 1) for play in side.plays] if one is None else [
        *((plays[play].part, 1) for play in one.spot.heard), *((plays[play].part, 0) for play in one.spot.missed)
    ]  # fmt: skip
    for part, heard in told:
        found = count.setdefault(part, [0, 0])
        found[0] += heard
        found[1] += 1
    if one is None:
        return {part: f"played {of} {'time' if of == 1 else 'times'}" for part, (_, of) in count.items()}
    return {part: f"heard in {heard} of {of}" for part, (heard, of) in count.items()}


def suspect_rows(side: SideGuilt) -> tuple[SuspectRow, ...]:
    """What follows from each part's guilt, the likeliest first."""
    return tuple(_suspect(one) for one in sorted(side.parts, key=lambda one: -one.heads)[:_PARTS])


def _suspect(one: PartGuilt) -> SuspectRow:
    others = len(one.falls) - 1
    falls = "itself alone" if not others else f"itself and {others} {'part' if others == 1 else 'parts'}"
    return SuspectRow(
        one.part.id, part_href(one.part.id), one.part.kind, guilt_badge(one.word), percent(one.heads), falls,
        way_words(one.way), days_words(one.way.days), f"/station?code={quote(one.part.id)}",
    )  # fmt: skip


def choice_rows(side: SideGuilt) -> tuple[ChoiceRow, ...]:
    """What can be done, the cheapest on the mean first, one more play among it."""
    rows = [
        (one.expected_days, way_words(one.way), days_words(one.way.days), percent(one.sound)) for one in side.choices
    ]
    if side.first is not None:
        words = f"play {side.first.part} first, then what it tells"
        rows.append((side.first.expected_days, words, days_words(side.first.days), ""))
    return tuple(ChoiceRow(words, days, sound, f"{mean:.1f}") for mean, words, days, sound in sorted(rows)[:_WAYS])


def side_links(found: TitleGuilt, here: SideGuilt) -> tuple[Option, ...]:
    """Every side of the title: its address, its words, whether it is this one."""
    return tuple(
        Option(
            guilt_href(found.family.title, one.edition, one.side), f"side {one.side} {one.edition}".strip(), one is here
        )
        for one in found.sides
    )


def counts(side: SideGuilt) -> str:
    """``4 plays, 12 spots, 3 to be heard``."""
    heard = sum(one.spot.audible is True for one in side.spots)

    def many(count: int, what: str) -> str:
        return f"{count} {what}{'' if count == 1 else 's'}"

    return f"{many(len(side.plays), 'play')}, {many(len(side.spots), 'spot')}, {heard or 'none'} to be heard"


# The form ----------------------------------------------------------------------------------------------


def heard_form(side: SideGuilt, said: Mapping[str, str], sentence: str = "") -> HeardForm:
    """The form for a play, with what was entered already."""
    chosen = said.get("part", "") or side.next_play
    order = sorted(side.parts, key=lambda one: ((MOTHER, STAMPER, MASTER).index(one.part.kind)
                                                if one.part.kind in (MOTHER, STAMPER, MASTER) else 3))  # fmt: skip
    parts = tuple(Option(one.part.id, f"{one.part.id} {one.part.kind}", one.part.id == chosen) for one in order)
    seen = said.get("how") == "seen"
    ways = (Option("heard", "heard in a play", not seen), Option("seen", "seen on the part", seen))
    rows = tuple(_row(number, said) for number in range(1, FORM_ROWS + 1))
    return HeardForm(
        said.get("key") or new_key(), parts, ways, rows, said.get("pressing", ""), said.get("to_turn", ""),
        said.get("note", ""), said.get("none") == "on", sentence,
    )  # fmt: skip


def _row(number: int, said: Mapping[str, str]) -> HeardRow:
    kind = said.get(f"kind-{number}", "tick")
    kinds = tuple(Option(one, one, one == kind) for one in KINDS)
    return HeardRow(number, kinds, said.get(f"place-{number}", ""), said.get(f"angle-{number}", ""))
