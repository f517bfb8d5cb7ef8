"""Events: what each takes, what it refuses, and that writing and reading come back to the same."""

from __future__ import annotations

import re
from dataclasses import MISSING, fields
from typing import Any

import pytest

from discwright.errors import CallError
from discwright.works import events as e
from discwright.works.chain import Line

#: Names in the order in which a part meets them (by hand: the trade's steps from take-in to correction).
NAMES = [
    "title_taken_in", "plan_kept", "test_cut_measured", "lacquer_cut", "checked_under_the_microscope", "handed_over",
    "silvered", "plated", "separated", "passivated", "weighed", "measured", "back_sanded", "centred", "trimmed",
    "formed", "test_played", "approved", "refused", "put_to_press", "taken_off", "vaulted", "scrapped", "recalled",
    "run_begun", "first_off", "run_pressed", "lot_inspected", "lot_disposed", "inspection_restarted", "stocked",
    "taken_out", "orders_taken", "order_cancelled", "cartons_packed", "carton_opened", "loaded", "account_told",
    "corrected",
]  # fmt: skip


#: What is held against more than its type.
CHECKED = {
    "defects": [{"kind": "tick", "turn": 312, "angle_deg": 41.5, "audible": True}],
    "verdict": "stop",
    "capture_sha256": "0f" * 32,
    "file_sha256": "0f" * 32,
    "stampers": {"A": "ST1-9"},
    "labels": "right",
    "marks_read": {"A": "VK"},
    "stampers_read": {"A": "ST1-9"},
    "played": "pass",
    "missed": [{"code": "hole", "value": 7.4, "limit": 7.33, "unit": "mm", "remedy": "Change the pin."}],
    "results": [
        {"class": "major", "aql": "1.0", "n": 80, "accept": 2, "reject": 3, "found": 1, "inspection": "normal"},
    ],
    "disposition": "sorted",
    "orders": [
        {"order": "7", "account": "K1", "name": "Ö", "address_1": "", "address_2": "", "city": "", "region": "",
         "postcode": "", "country": "NO", "edition": "VK 1/lp", "count": 30},
    ],
    "cartons": [{"sscc": "1", "order": "7", "account": "K1", "edition": "VK 1/lp", "run": "RU2-1", "bins": {"A": 5}}],
}  # fmt: skip
#: The same name stands for something else in these events.
OWN = {
    ("lot_inspected", "verdict"): "refused", ("lot_inspected", "defects"): [{"word": "scratch", "class": "major"}],
    ("first_off", "verdict"): "pass", ("test_played", "marks_read"): "some marks",
    ("measured", "marks_read"): "some marks", ("checked_under_the_microscope", "marks_read"): "some marks",
}  # fmt: skip


def example(event: type[e.Event]) -> dict[str, Any]:
    """Values for everything an event takes."""
    values: dict[str, Any] = {}
    for one in fields(event):
        kind = str(one.type)
        if (event.kind, one.name) in OWN:
            values[one.name] = OWN[event.kind, one.name]
        elif one.name in CHECKED:
            values[one.name] = CHECKED[one.name]
        elif kind.startswith("str"):
            values[one.name] = f"some {one.name}"
        elif kind.startswith("int"):
            values[one.name] = 3
        elif kind.startswith("float"):
            values[one.name] = 2.5
        elif kind.startswith("tuple"):
            values[one.name] = ["a"] if "str" in kind else [{"id": "lp"}]
        else:
            values[one.name] = {"press_life": 500}
    return values


def test_every_step_has_an_event() -> None:
    assert list(e.EVENTS) == NAMES


@pytest.mark.parametrize("event", e.EVENTS.values(), ids=list(e.EVENTS))
def test_what_is_written_reads_back(event: type[e.Event]) -> None:
    read = e.read_event(event.kind, example(event))
    assert e.data_of(read) == example(event)
    assert e.read_event(event.kind, e.data_of(read)) == read


@pytest.mark.parametrize("event", e.EVENTS.values(), ids=list(e.EVENTS))
def test_what_is_needed_must_be_given(event: type[e.Event]) -> None:
    for one in fields(event):
        values = {name: value for name, value in example(event).items() if name != one.name}
        if one.default is MISSING:
            with pytest.raises(CallError, match=f"needs the .*{one.name}.*give it"):
                e.read_event(event.kind, values)
        else:
            assert one.name not in e.data_of(e.read_event(event.kind, values))


@pytest.mark.parametrize(
    ("kind", "data", "words"),
    [
        ("moulded", {}, "“moulded” is no event"),
        ("weighed", {"mass_g": "heavy"}, "is no number"),
        ("weighed", {"mass_g": True}, "is no number"),
        ("weighed", {"mass_g": float("nan")}, "is no number"),
        ("weighed", {"mass_g": -1.0}, "-1 cannot be"),
        ("weighed", {"mass_g": 1e10}, "cannot be"),
        ("taken_off", {"count": 2.5}, "write a whole number"),
        ("weighed", {"mass_g": 1.0, "wight": 2}, "takes no “wight”"),
        ("handed_over", {"to": 3}, "is no text"),
        ("handed_over", {"to": "a\0b"}, "is no text"),
        ("handed_over", {"to": "x" * 2001}, "is no text"),
        ("title_taken_in", {"people": "Ann"}, "is no list"),
        ("corrected", {"seq": 1, "instead": "that"}, "is no table"),
        ("test_played", {"verdict": "good"}, "“good” is no verdict of a play; write pass or stop"),
        ("test_played", {"capture_sha256": "ABC"}, "is no SHA-256"),
        ("test_played", {"defects": "tick"}, "is no list"),
        ("test_played", {"defects": [{"kind": "tick", "turn": 3}]}, "“defects”, fault 1: has no angle_deg"),
        ("checked_under_the_microscope", {"defects": [3]}, "is no list of tables"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(kind: str, data: dict[str, Any], words: str) -> None:
    with pytest.raises(CallError, match=re.escape(words)) as caught:
        e.read_event(kind, data)
    assert str(caught.value).endswith(".")


def test_a_line_knows_its_event() -> None:
    line = Line(1, "2026-01-01T00:00:00.000000+00:00", "Ann", "", "T 1", "ST4-2", "taken_off", {"count": 7}, "k")
    assert line.event == e.TakenOff(count=7)


def test_a_play_as_it_was_written_before_it_told_of_its_faults() -> None:
    assert e.read_event("test_played", {"count": 3, "note": "soft"}) == e.TestPlayed(count=3, note="soft")
    assert e.data_of(e.TestPlayed(count=3)) == {"count": 3}
