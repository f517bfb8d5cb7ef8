"""Plays in their folders: begun whole or not at all, found again, kept, dropped, swept away."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from discwright.desk.plays import KEPT_DAYS, MOST_PLAYS, About, Plays, read_report
from discwright.desk.shelf import NotThereError
from discwright.errors import CallError

ABOUT = About("MO3-2", "OKW 0042", "lp", "A", "ab" * 32, "", "", "a.wav", "Ada", "2031-04-02T09:14:00+00:00")


@pytest.fixture
def plays(tmp_path: Path) -> Plays:
    return Plays(tmp_path / "plays")


@pytest.fixture
def capture(tmp_path: Path) -> Path:
    (tmp_path / "ready").mkdir()
    file = tmp_path / "ready" / "a.wav"
    file.write_bytes(b"sound")
    return file


def test_a_play_takes_its_capture_along(plays: Plays, capture: Path) -> None:
    play = plays.begin(ABOUT, capture)
    assert not capture.exists()
    found = plays.get(play.id)
    assert found.capture is not None
    assert found.capture.read_bytes() == b"sound"
    assert (found.about, found.done, found.kept, found.report()) == (ABOUT, False, 0, {})
    assert [one.id for one in plays.of_parts(["MO3-2"])] == [play.id]
    assert plays.of_parts(["ST4-0"]) == []


def test_what_cannot_be_begun_leaves_the_capture_where_it_was(plays: Plays, capture: Path) -> None:
    plays.place.parent.joinpath("plays").write_text("in the way")
    with pytest.raises(CallError, match=r"^the capture cannot be kept \(.+\); check the disk\.$"):
        plays.begin(ABOUT, capture)
    assert capture.read_bytes() == b"sound"


def test_too_many_plays_are_too_many(plays: Plays, capture: Path, make_play: Any) -> None:
    for _ in range(MOST_PLAYS):
        make_play(plays.place, None)
    with pytest.raises(
        CallError, match=rf"^{MOST_PLAYS} plays lie here that were not kept; keep or drop some first\.$"
    ):
        plays.begin(ABOUT, capture)
    plays.note_kept(plays.all()[0], 41)
    assert plays.begin(ABOUT, capture).about == ABOUT


@pytest.mark.parametrize("id_", ["", "../plays", "0" * 15, "0" * 17, "ABCDEF0123456789", f"{'0' * 15}/"])
def test_an_id_is_never_a_path(plays: Plays, id_: str) -> None:
    with pytest.raises(NotThereError, match="go back to the part's page"):
        plays.get(id_)


def test_what_is_noted_is_found_again(plays: Plays, capture: Path) -> None:
    play = plays.begin(ABOUT, capture)
    plays.note_job(play, "0123456789abcdef", "a tip")
    plays.note_kept(play, 41)
    found = plays.get(play.id)
    assert (found.about.job, found.about.tip, found.kept) == ("0123456789abcdef", "a tip", 41)
    assert found.name == f"desk play {play.id}"


def test_a_dropped_play_is_gone(plays: Plays, capture: Path) -> None:
    play = plays.begin(ABOUT, capture)
    plays.drop(play)
    assert list(plays.place.iterdir()) == []
    with pytest.raises(NotThereError):
        plays.get(play.id)


def test_only_what_nobody_kept_is_swept_away(plays: Plays, make_play: Any) -> None:
    old, kept = (make_play(plays.place, None) for _ in range(2))
    (plays.place / ".new-half").mkdir()
    plays.note_kept(plays.get(kept), 41)
    now = (plays.place / old).stat().st_mtime
    plays.sweep(now + (KEPT_DAYS - 1) * 86_400)
    assert {one.id for one in plays.all()} == {old, kept}
    assert not (plays.place / ".new-half").exists()
    plays.sweep(now + (KEPT_DAYS + 1) * 86_400)
    assert [one.id for one in plays.all()] == [kept]


@pytest.mark.parametrize(
    "told", ["[]", "{}", "{", '{"defects": 3}', '{"defects": [{"kind": "<b>"}], "measures": {}}', '{"defects": []}']
)
def test_a_report_that_is_none_is_none(tmp_path: Path, told: str) -> None:
    (tmp_path / "inspect.json").write_text(told)
    assert read_report(tmp_path / "inspect.json") == {}


def test_a_folder_of_somebody_else_is_no_play(plays: Plays) -> None:
    (plays.place / ("0" * 16)).mkdir(parents=True)
    (plays.place / ("0" * 16) / "play.json").write_text(json.dumps({"part": 3}))
    assert plays.all() == []
