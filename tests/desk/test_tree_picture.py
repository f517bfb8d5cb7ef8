"""The family tree: no card covers another, joins run from parent to child, and the list says what the picture says."""

from __future__ import annotations

from itertools import combinations

import pytest

from discwright.desk.tree_picture import CARD_H, CARD_W, TreePicture, tree_pictures
from discwright.works.family import Family, Part
from discwright.works.parts import GROWS, part_number


def family(*branches: int) -> Family:
    """A lacquer, a master, and mothers with so many stampers each."""
    parts: dict[str, Part] = {}

    def add(kind: str, parent: str, **more: object) -> str:
        number = part_number(kind, len(parts) + 1)
        parts[number] = Part(number, kind, "A", "lp", parent=parent, **more)  # type: ignore[arg-type]
        if parent:
            old = parts[parent]
            parts[parent] = Part(**{**old.__dict__, "children": (*old.children, number)})
        return number

    lacquer = add("lacquer", "", state="spent", marks=("OKW-A",))
    master = add("master", lacquer, state="separated")
    for count in branches:
        mother = add("mother", master, state="approved", verdict="approved", played=True, faults=0)
        for _ in range(count):
            add("stamper", mother, state="taken_off", pressings=640)
    return Family("OKW 0042", parts=parts)


def one_picture(found: Family) -> TreePicture:
    (picture,) = tree_pictures(found)
    return picture


@pytest.mark.parametrize("branches", [(), (0,), (3, 0, 2), (10,) * 5])
def test_no_card_covers_another_and_all_lie_within(branches: tuple[int, ...]) -> None:
    picture = one_picture(family(*branches))
    assert len(picture.cards) == 2 + len(branches) + sum(branches)
    for one, other in combinations(picture.cards, 2):
        assert abs(one.x - other.x) >= CARD_W or abs(one.y - other.y) >= CARD_H
    for card in picture.cards:
        assert 0 <= card.x <= picture.width - CARD_W
        assert 0 <= card.y <= picture.height - CARD_H


def test_what_is_grown_stands_beside_and_not_above() -> None:
    found = family(2, 1)
    places = {card.id: (card.x, card.y) for card in one_picture(found).cards}
    for part in found.parts.values():
        if part.parent:
            assert places[part.id][0] > places[part.parent][0]
            assert places[part.id][1] >= places[part.parent][1]


def test_joins_run_from_parent_to_child() -> None:
    found = family(1)
    picture = one_picture(found)
    assert len(picture.joins) == len(found.parts) - 1
    lacquer, master = picture.cards[:2]
    # by hand: from the middle of the right edge to the middle of the left edge.
    assert picture.joins[0].startswith(f"M{lacquer.x + CARD_W:g} {lacquer.y + CARD_H / 2:g}H")
    assert picture.joins[0].endswith(f"V{master.y + CARD_H / 2:g}H{master.x:g}")


def test_the_list_nests_as_the_family_does() -> None:
    found = family(2, 0, 1)
    twin = one_picture(found).twin
    depth, depths = 0, {}
    for one in twin:
        depth += one.begins
        depths[one.id] = depth
        depth -= len(one.ends)
    assert depth == 0
    kinds = ("lacquer", *GROWS.values())
    assert depths == {part.id: kinds.index(part.kind) for part in found.parts.values()}


def test_a_card_says_everything_in_words() -> None:
    found = family(1)
    stamper = next(one for one in found.parts.values() if one.kind == "stamper")
    (picture,) = tree_pictures(found, frozenset({stamper.id}))
    card = next(one for one in picture.cards if one.id == stamper.id)
    assert card.words == f"{stamper.id}, stamper, negative, taken off the press, 640 of 1000 pressings, late"
    assert (card.sign, card.negative, card.late, card.life) == ("−", True, True, "640 of 1000")
    # by hand: 640 of 1000 of a bar of 90.
    assert card.life_width == pytest.approx(57.6)
    mother = next(one for one in picture.cards if one.kind == "mother")
    assert (mother.heard, mother.life, mother.badge.words) == ("played, no faults", "", "approved")


def test_sides_have_pictures_of_their_own() -> None:
    parts = {n: Part(n, "lacquer", side, "lp") for n, side in (("LA1-7", "A"), ("LA2-4", "B"))}
    found = Family("T", parts=parts)
    assert [(one.side, len(one.cards)) for one in tree_pictures(found)] == [("A", 1), ("B", 1)]
    assert tree_pictures(Family("T")) == ()
