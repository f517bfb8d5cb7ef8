"""A case in a file: the published family, and files that are none."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from discwright.acts.locate import as_dict, read_case
from discwright.errors import CallError

PARENTS = {"L": None, "N": "L", "M1": "N", "M2": "N", "S11": "M1", "S12": "M1", "S21": "M2", "S22": "M2"}


def case(**other: Any) -> dict[str, Any]:
    return {
        "parts": [{"id": one, "parent": up, "prior": 0.02 if one[0] == "S" else 0.01} for one, up in PARENTS.items()],
        "auditions": [{"part": one, "heard": int(one in ("S11", "S12")), "of": 1} for one in PARENTS if one[0] == "S"],
        "detect": 0.9,
        "false_alarm": 0.02,
    } | other


def written(folder: Path, document: Any) -> Path:
    path = folder / "case.json"
    path.write_text(document if isinstance(document, str) else json.dumps(document), encoding="utf-8")
    return path


def test_the_published_case_from_a_file(tmp_path: Path) -> None:
    # published: reference table of the guilty part, second row; tolerance 1e-4.
    found = as_dict(read_case(written(tmp_path, case())).weigh())
    assert found["posterior"]["M1"] == pytest.approx(0.8369, abs=1e-4)
    assert found["posterior"]["S11"] == pytest.approx(0.0692, abs=1e-4)
    assert found["none"] == pytest.approx(0.039, abs=5e-4)
    assert found["next_test"] == "M1"
    assert set(found) >= {"posterior", "none", "next_test"}


def test_a_case_that_nothing_can_tell_more_of(tmp_path: Path) -> None:
    one = case(parts=[{"id": "L", "parent": None, "prior": 0}], auditions=[])
    assert as_dict(read_case(written(tmp_path, one)).weigh())["next_test"] is None


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ("{", "is not valid JSON"),
        ("[]", "is no case"),
        (case(parts="none"), "“parts” is no list"),
        (case(parts=[{"id": "", "prior": 0.1}]), "“id” is missing"),
        (case(parts=[{"id": "L", "prior": "much"}]), "“prior” is missing or no number"),
        (case(auditions=[{"part": "L", "heard": 0.5, "of": 1}]), "“heard” is no whole number"),
        (json.dumps(case()).replace('"heard": 1', '"heard": 1e999'), "“heard” is no whole number"),
        (case(detect=None), "“detect” is missing"),
    ],
)
def test_a_file_that_is_no_case(tmp_path: Path, document: Any, words: str) -> None:
    with pytest.raises(CallError, match=words) as caught:
        read_case(written(tmp_path, document)).weigh()
    assert str(caught.value).endswith(".")


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(CallError, match="there is no such file"):
        read_case(tmp_path / "none.json")
