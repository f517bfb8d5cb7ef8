"""Faults as they are said: what is taken, what is refused in a sentence, how many a line tells of."""

from __future__ import annotations

import re
from typing import Any

import pytest

from discwright.errors import CallError
from discwright.faults import KINDS, MOST_FAULTS, counted, read_faults, read_verdict

TICK = {"kind": "tick", "turn": 312, "angle_deg": 41.5}


def test_every_kind_that_an_examination_tells_of_is_known() -> None:
    # common practice: the kinds of fault that a test play tells apart.
    assert set(KINDS) == {"tick", "pop", "crackle", "scratch", "swish", "dropout", "skip", "repeat"}


def test_all_that_can_be_said_of_a_fault_is_taken() -> None:
    whole = TICK | {
        "time_s": 562.3, "radius_mm": 97.4, "duration_s": 0.001, "channel": "left", "size_db": 11.0, "audible": True,
    }  # fmt: skip
    assert read_faults([whole], "play") == (whole,)
    assert read_faults([], "play") == ()


def test_what_is_empty_is_left_out_and_the_order_of_names_is_fixed() -> None:
    (one,) = read_faults([{"audible": None, "channel": "", "angle_deg": 0, "turn": -1, "kind": "pop"}], "play")
    assert list(one.items()) == [("kind", "pop"), ("turn", -1), ("angle_deg", 0)]


@pytest.mark.parametrize(
    ("faults", "words"),
    [
        (3, "is no list of tables"),
        ([TICK, "tick"], "is no list of tables"),
        ([TICK] * (MOST_FAULTS + 1), "1001 faults are more than one play is told of (1000)"),
        ([TICK, {"kind": "tick", "turn": 1}], "play, fault 2: has no angle_deg"),
        ([TICK | {"kind": "click"}], "“click” is no kind; write tick, pop"),
        ([TICK | {"kind": ["tick"]}], "is no kind"),
        ([TICK | {"channel": "L"}], "“L” is no channel"),
        ([TICK | {"turn": float("nan")}], "turn is no number"),
        ([TICK | {"angle_deg": float("inf")}], "angle_deg is no number"),
        ([TICK | {"turn": True}], "turn is no number"),
        ([TICK | {"size_db": "12"}], "size_db is no number"),
        ([TICK | {"angle_deg": 361}], "angle_deg 361 cannot be; write a number from -360 to 360"),
        ([TICK | {"radius_mm": 1e6}], "radius_mm 1e+06 cannot be"),
        ([TICK | {"audible": 1}], "audible is yes or no"),
        ([TICK | {"loudness": 1}], "takes no “loudness”; it takes kind, turn"),
    ],
)
def test_what_cannot_be_a_fault_is_refused_in_a_sentence(faults: Any, words: str) -> None:
    with pytest.raises(CallError, match=re.escape(words)) as caught:
        read_faults(faults, "play")
    assert str(caught.value).endswith(".")


def test_the_verdict_of_a_play() -> None:
    assert [read_verdict(one, "play") for one in ("pass", "stop", "")] == ["pass", "stop", ""]
    with pytest.raises(CallError, match="is no verdict"):
        read_verdict("fail", "play")


def test_a_line_tells_how_many_and_not_each() -> None:
    def ticks(*audible: bool | None) -> list[dict[str, Any]]:
        return [TICK | ({} if one is None else {"audible": one}) for one in audible]

    assert counted(ticks(*[True] * 3, *[False] * 9)) == "12 faults, 3 to be heard"
    assert counted(ticks(False, None)) == "2 faults, none to be heard"
    assert counted(ticks(None)) == "1 fault"
    assert counted([]) == "no faults"
