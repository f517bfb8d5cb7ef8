"""The chain: a line's hash by another road, and every change of a written line is seen."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from typing import Any

import pytest

from discwright.works.chain import BEGIN, FIELDS, Line, as_dict, broken, is_hash, line_from, line_hash, linked


def chain(count: int) -> list[Line]:
    lines: list[Line] = []
    prev = BEGIN
    for seq in range(1, count + 1):
        at = f"2026-03-01T08:{seq:02}:00.000000+00:00"
        line = linked(
            Line(seq, at, "Łucja", "bath 2", "HL 12", "ST4-2", "weighed", {"mass_g": 170.5 + seq}, f"k{seq}"), prev
        )
        lines.append(line)
        prev = line.hash
    return lines


def test_the_hash_is_that_of_canonical_json() -> None:
    line = chain(1)[0]
    # by another road: the text is written out by hand.
    text = (
        '[1,"2026-03-01T08:01:00.000000+00:00","Łucja","bath 2","HL 12","ST4-2","weighed",{"mass_g":171.5},"k1","","",'
        f'"{"0" * 64}"]'
    )
    assert line.hash == hashlib.sha256(text.encode()).hexdigest() == line_hash(line)


def test_a_whole_chain_holds() -> None:
    assert list(broken(chain(5))) == []
    assert list(broken([])) == []


@pytest.mark.parametrize("name", [name for name in FIELDS if name != "hash"])
def test_any_changed_field_is_seen(name: str) -> None:
    lines = chain(5)
    other: Any = {"seq": 9, "data": {"mass_g": 1.0}}.get(name, "0" * 63 + "1" if name == "prev" else "otherwise")
    lines[2] = replace(lines[2], **{name: other})
    assert next(one.seq for one in broken(lines)) in (3, 9)
    rehashed = [*lines[:2], replace(lines[2], hash=line_hash(lines[2])), *lines[3:]]
    assert list(broken(rehashed)) != []


def test_a_missing_a_swapped_and_a_doubled_line_are_seen() -> None:
    lines = chain(5)
    assert list(broken([*lines[:2], *lines[3:]]))
    assert list(broken([lines[1], lines[0], *lines[2:]]))
    assert list(broken([*lines[:2], lines[1], *lines[2:]]))


def test_what_a_chain_alone_does_not_show() -> None:
    # by hand: a cut tail and a chain written anew from some line on hold in themselves.
    lines = chain(5)
    assert list(broken(lines[:3])) == []
    anew = lines[:2]
    for line in lines[2:]:
        anew.append(linked(replace(line, data={"mass_g": 1.0}), anew[-1].hash))
    assert list(broken(anew)) == []
    assert anew[-1].hash != lines[-1].hash


def test_time_never_goes_back_and_a_key_is_used_once() -> None:
    first, second = chain(2)
    early = linked(replace(second, at="2026-02-28T08:00:00.000000+00:00"), first.hash)
    assert [one.why for one in broken([first, early])] == ["line 2 is dated before the line before it"]
    again = linked(replace(second, key=first.key), first.hash)
    assert [one.why for one in broken([first, again])] == ["line 2 repeats the key of an earlier line"]


def test_lines_come_back_from_json() -> None:
    for line in chain(3):
        assert line_from(json.loads(json.dumps(as_dict(line)))) == line
    plain = as_dict(chain(1)[0])
    for bad in (
        {**plain, "seq": "1"},
        {**plain, "more": 1},
        {k: v for k, v in plain.items() if k != "at"},
        {**plain, "by": 3},
    ):
        with pytest.raises((KeyError, TypeError)):
            line_from(bad)


def test_a_hash_is_known_by_its_form() -> None:
    assert is_hash("0" * 64)
    assert not is_hash("0" * 63)
    assert not is_hash("G" * 64)
