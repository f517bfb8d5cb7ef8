"""Warnings that the engineer accepts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from discwright.findings import Finding
from discwright.programme.title import SAME_PLACE_S, TREATMENTS, Accepted, accept

WARNED = Finding("sibilance", "warn", 192.4, 2, 106.9, 101.0, 61.0, 50.0, "% of the tip's reach", "Lower it.")
LATER = replace(WARNED, severity="note", time_s=250.0)
NOWHERE = replace(WARNED, code="vertical_bass", severity="note", time_s=None)
STOP = replace(WARNED, code="radius", severity="stop", time_s=300.0)
ALL = (STOP, WARNED, LATER, NOWHERE)


def reasons(*accepted: Accepted) -> list[str]:
    return [finding.accepted for finding in accept(ALL, accepted)[: len(ALL)]]


def test_nothing_accepted_changes_nothing() -> None:
    assert accept(ALL, ()) == ALL
    assert accept((), ()) == ()


def test_without_a_time_every_one_of_the_code_is_meant() -> None:
    # By hand: two findings are of this code, and everything but the reason stays as it was.
    told = accept(ALL, (Accepted("sibilance", None, "producer wants it so"),))
    assert told == (
        STOP,
        replace(WARNED, accepted="producer wants it so"),
        replace(LATER, accepted="producer wants it so"),
        NOWHERE,
    )


@pytest.mark.parametrize(("time", "meant"), [(192.4, True), (193.4, True), (191.4, True), (193.5, False), (0.0, False)])
def test_with_a_time_only_what_lies_there(time: float, meant: bool) -> None:
    # By hand: the finding lies at 192.4 s and a second to either side is the same place.
    assert SAME_PLACE_S == 1.0
    assert reasons(Accepted("sibilance", time, "meant")) == ["", "meant" if meant else "", "", ""]


def test_what_has_no_place_is_accepted_only_without_a_time() -> None:
    assert reasons(Accepted("vertical_bass", None, "an organ")) == ["", "", "", "an organ"]
    assert reasons(Accepted("vertical_bass", 0.0, "an organ")) == ["", "", "", ""]


@pytest.mark.parametrize("time", [None, 300.0])
def test_a_stop_is_never_accepted(time: float | None) -> None:
    told = accept(ALL, (Accepted("radius", time, "it will do"),))
    assert told[: len(ALL)] == ALL
    assert (told[-1].code, told[-1].severity) == ("nothing_to_accept", "note")


def test_what_was_not_found_is_a_note_of_its_own() -> None:
    told = accept(ALL, (Accepted("click", 62.0, "a breath"), Accepted("echo", None, "quiet")))
    assert told[: len(ALL)] == ALL
    assert [finding.severity for finding in told[len(ALL) :]] == ["note", "note"]
    assert [finding.remedy for finding in told[len(ALL) :]] == [
        "The title file accepts “click” at 1:02.0 and there is no such warning or note: take that out.",
        "The title file accepts “echo” and there is no such warning or note: take that out.",
    ]
    assert all(finding.time_s is None and finding.band is None for finding in told[len(ALL) :])


def test_each_has_its_own_reason_and_the_last_one_counts() -> None:
    told = reasons(Accepted("sibilance", None, "all of them"), Accepted("sibilance", 250.0, "this one"))
    assert told == ["", "all of them", "this one", ""]


def test_every_treatment_and_its_corner() -> None:
    """By hand: a blend and a low cut work below a corner, a high cut above one, the limiter knows none."""
    assert TREATMENTS == {
        "bass_blend": ("below",), "treble_limit": (), "low_cut": ("below",), "high_cut": ("above",),
    }  # fmt: skip
