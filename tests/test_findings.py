"""A finding as plain values, findings in order, and how they are counted in words."""

from __future__ import annotations

import json
from dataclasses import FrozenInstanceError, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.findings import Finding, Severity, count_words, sort_findings

SLOPE = Finding("slope", "stop", 61.25, 2, 34.02777777, 120.123456, 45.12345678, 45.0, "deg", "Lower the side 0.1 dB.")
NOWHERE = Finding("mono", "note", None, None, None, None, 1.0, 1.0, "correlation", "Cut as lateral.")


def test_as_plain_values() -> None:
    # By hand: times, turns and radii to four decimals (0.1 µm of radius), value and limit to six.
    assert SLOPE.as_dict() == {
        "code": "slope",
        "severity": "stop",
        "time_s": 61.25,
        "band": 2,
        "turn": 34.0278,
        "radius_mm": 120.1235,
        "value": 45.123457,
        "limit": 45.0,
        "unit": "deg",
        "remedy": "Lower the side 0.1 dB.",
    }


def test_a_finding_without_a_place_keeps_none() -> None:
    plain = NOWHERE.as_dict()
    assert [plain[key] for key in ("time_s", "band", "turn", "radius_mm")] == [None] * 4
    assert json.loads(json.dumps(plain)) == plain


def test_a_finding_does_not_change() -> None:
    with pytest.raises(FrozenInstanceError):
        SLOPE.value = 1.0  # type: ignore[misc]


def test_stops_come_first_then_by_time() -> None:
    late, early = replace(SLOPE, time_s=90.0), replace(SLOPE, time_s=-1.5)
    warn, note = replace(SLOPE, severity="warn", time_s=0.0), replace(SLOPE, severity="note", time_s=0.0)
    # By hand: severity first, then what has no place, then by time, then by name.
    assert sort_findings([note, late, warn, NOWHERE, early]) == (early, late, warn, NOWHERE, note)
    a, b = replace(SLOPE, code="a"), replace(SLOPE, code="b")
    assert sort_findings([b, a]) == (a, b)


@given(st.lists(st.tuples(st.sampled_from(["note", "warn", "stop"]), st.none() | st.integers(0, 9999)), max_size=12))
def test_sorting_keeps_every_finding(kinds: list[tuple[Severity, int | None]]) -> None:
    findings = [replace(SLOPE, severity=severity, time_s=time) for severity, time in kinds]
    ordered = sort_findings(findings)
    assert sorted(map(repr, ordered)) == sorted(map(repr, findings))
    ranks = [["stop", "warn", "note"].index(f.severity) for f in ordered]
    assert ranks == sorted(ranks)
    assert sort_findings(list(reversed(ordered))) == ordered


@pytest.mark.parametrize(
    ("stops", "warnings", "notes", "words"),
    [
        (0, 0, 0, "no findings"),
        (1, 0, 0, "1 stop"),
        (2, 1, 0, "2 stops, 1 warning"),
        (0, 2, 1, "2 warnings, 1 note"),
        (1, 3, 2, "1 stop, 3 warnings, 2 notes"),
    ],
)
def test_counted_in_words(stops: int, warnings: int, notes: int, words: str) -> None:
    # By hand: one of a kind is singular, nothing is not named.
    kinds: list[Severity] = ["note"] * notes + ["stop"] * stops + ["warn"] * warnings
    assert count_words(tuple(replace(SLOPE, severity=kind) for kind in kinds)) == words
