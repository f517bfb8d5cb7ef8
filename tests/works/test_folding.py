"""Whatever happens, it folds to a legal state, and where a batch ends makes no difference."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from itertools import pairwise

import pytest
from happenings import Choice, Tale, choices, wrongs
from hypothesis import given, settings
from hypothesis import strategies as st

from discwright.works.chain import broken
from discwright.works.family import Family, family_as_dict, family_from
from discwright.works.history import fold, fold_title, step
from discwright.works.standing import is_open, late_at, standings


def told(story: list[Choice]) -> Tale:
    tale = Tale()
    for choice in story:
        tale.happen(choice)
    return tale


@settings(max_examples=150, deadline=None)
@given(choices)
def test_any_possible_sequence_folds_to_a_legal_state(story: list[Choice]) -> None:
    tale = Tale()
    for choice in story:
        tale.happen(choice)
        assert list(wrongs(tale.family)) == []
    assert list(broken(tale.lines)) == []
    assert [one for one in tale.family.findings if one["severity"] == "stop" and not one.get("accepted")] == []
    sides = standings(tale.family)
    assert isinstance(late_at(sides), str)
    assert is_open(sides) in (True, False)


@settings(max_examples=100, deadline=None)
@given(choices, st.lists(st.integers(0, 60), max_size=6))
def test_folding_does_not_depend_on_where_batches_end(story: list[Choice], cuts: list[int]) -> None:
    tale = told(story)
    whole = fold(tale.lines).get(tale.family.title, Family(tale.family.title))
    assert whole == tale.family
    # By another road: batch after batch; a correction needs all lines before it, as the ledger gives it.
    families: dict[str, Family] = {}
    edges = sorted({0, len(tale.lines), *(min(cut, len(tale.lines)) for cut in cuts)})
    for begin, end in pairwise(edges):
        batch = tale.lines[begin:end]
        put_right = any(line.kind == "corrected" for line in batch)
        families = fold(tale.lines[:end]) if put_right else fold(batch, families)
    assert families.get(tale.family.title, Family(tale.family.title)) == whole


@settings(max_examples=100, deadline=None)
@given(choices)
def test_a_family_survives_being_written_down(story: list[Choice]) -> None:
    family = told(story).family
    assert family_from(json.loads(json.dumps(family_as_dict(family)))) == family


@settings(max_examples=100, deadline=None)
@given(choices, st.randoms(use_true_random=False))
def test_any_lines_fold_even_where_no_ledger_would_have_let_them(story: list[Choice], chance: random.Random) -> None:
    lines = told(story).lines
    shuffled = list(lines)
    chance.shuffle(shuffled)
    renumbered = [replace(line, seq=k + 1) for k, line in enumerate(shuffled)]
    family = Family(lines[0].title if lines else "X")
    for line in renumbered:
        family, _ = step(family, line)
    assert list(wrongs(family)) == []
    assert isinstance(fold_title(renumbered, Family(family.title)), Family)


def test_a_correction_that_says_nothing_puts_nothing_right() -> None:
    """By hand: a correction whose own data was put right with another event's fields; both are told of, both idle."""
    taken = {"name": "Harbour Lights", "editions": [], "limits": {}}
    tale = told([(0, 0, 0)])
    first = tale.lines[0]
    after = [
        replace(first, seq=2, kind="corrected", data={"seq": 1, "instead": None, "note": ""}),
        replace(first, seq=3, kind="corrected", data={"seq": 2, "instead": taken, "note": ""}),
    ]
    family = fold_title([first, *after], Family(first.title))
    assert family.taken_at == first.at
    assert [one["seq"] for one in family.findings if one["code"] == "impossible"] == [2]


def test_the_check_of_legal_states_can_fail() -> None:
    tale = told([(0, 0, 0), (0, 0, 1), (1, 0, 1)])
    part = next(iter(tale.family.parts.values()))
    for wrong in (
        {"state": "lost"}, {"state": "at_press"}, {"passivated": True}, {"verdict": "approved"}, {"children": ("X",)},
        {"kind": "master"}, {"last": 0},
    ):  # fmt: skip
        bad = replace(tale.family, parts=tale.family.parts | {part.id: replace(part, **wrong)})  # type: ignore[arg-type]
        assert list(wrongs(bad)) != [], wrong


@pytest.mark.parametrize("seed", range(12))
def test_long_histories(seed: int) -> None:
    """Three hundred things that happen one after another; the seed replays them."""
    chance, tale = random.Random(seed), Tale()
    for k in range(300):
        tale.happen((chance.randrange(100), chance.randrange(31), chance.randrange(24)))
        if k % 20 == 0:
            assert list(wrongs(tale.family)) == []
    assert list(wrongs(tale.family)) == []
    assert fold_title(tale.lines, Family(tale.family.title)) == tale.family
    assert len(tale.lines) > 50
