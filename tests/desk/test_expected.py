"""The steps of a job before it begins; that acts tell just these is in `test_work.py`."""

from __future__ import annotations

from pathlib import Path

import pytest

from discwright.desk import expected
from discwright.desk.expected import SideWork, laying_out, planning, preparing, stages_of
from discwright.errors import DiscwrightError

SIDE = SideWork(20.0, who="lp")


def seconds(side: SideWork, step: str) -> float:
    return sum(one.seconds for one in planning(side) if one.step == step)


def test_what_reads_goes_by_samples_and_what_lays_by_turns() -> None:
    """By hand: 96 kHz are 96/44.1 as many samples, 45 turns a minute 45/33⅓ as many turns."""
    fine, fast = SideWork(20.0, 96_000.0), SideWork(20.0, turn_time=60 / 45)
    assert seconds(fine, "reading") == pytest.approx(seconds(SIDE, "reading") * 96.0 / 44.1)
    assert seconds(fine, "laying the spiral") == seconds(SIDE, "laying the spiral")
    assert seconds(fast, "reading") == seconds(SIDE, "reading")
    twice = SideWork(40.0 * 1.35, turn_time=1.8), SideWork(40.0, turn_time=1.8 / 1.35)
    assert seconds(twice[0], "laying the spiral") == pytest.approx(seconds(twice[1], "laying the spiral"))


def test_a_search_and_a_treble_limit_are_seen_coming() -> None:
    """A fixed level is laid once, a fit two or three times as a rule; a limited side is planned twice."""
    laid = [one for one in planning(SIDE) if one.step == "laying the spiral"]
    assert [dict(one.times) for one in laid] == [{}]
    (sought,) = (one for one in planning(SideWork(20.0, fit=True)) if one.step == "laying the spiral")
    assert max(sought.times, key=lambda n: sought.times[n]) in (2, 3)
    limited = [one.step for one in planning(SideWork(20.0, fit=True, limited=True))]
    assert limited[:4] == ["reading", "laying the spiral"] * 2
    assert [one.step for one in preparing(SideWork(20.0, limited=True))][1:3] == ["reading", "laying the spiral"]


def test_loops_that_must_be_compiled_first_are_seen_coming(
    monkeypatch: pytest.MonkeyPatch, planned_folder: Path
) -> None:
    arguments = {"title_file": str(planned_folder / "weather-ship" / "title.toml"), "edition": "lp"}
    monkeypatch.setattr(expected, "_compiled", lambda _loop: True)
    warm = stages_of("plan", arguments)
    limited = seconds(SideWork(20.0, limited=True), "reading")
    monkeypatch.setattr(expected, "_compiled", lambda _loop: False)
    cold = stages_of("plan", arguments)
    assert cold[0].seconds > warm[0].seconds + 5.0
    assert cold[1:] == warm[1:]
    assert seconds(SideWork(20.0, limited=True), "reading") > limited + 5.0


def test_a_layout_fits_two_sides_at_a_time() -> None:
    """By hand: five fixed sides are three rounds; of a free edition of two sides three splits are shown, so three."""
    assert laying_out("lp", [5.0] * 5, True, 9, SIDE).times == {3: 1.0}
    free = laying_out("lp", [20.0, 20.0], False, 9, SIDE).times
    assert max(free, key=lambda n: free[n]) == 3
    assert laying_out("lp", [20.0], False, 1, SIDE).times == {1: 1.0}


def test_sides_are_guessed_where_the_title_leaves_them_open(planned_folder: Path) -> None:
    title = str(planned_folder / "weather-ship" / "title.toml")
    steps = [(one.who, one.step) for one in stages_of("plan", {"title_file": title, "edition": "ep"})]
    side = [("ep", "reading"), ("ep", "laying the spiral"), ("ep", "drawing the disc"), ("ep", "writing the sheet")]
    assert steps == [("", "starting"), ("ep", "laying out"), *side, *side]
    one = [(one.who, one.step) for one in stages_of("plan", {"title_file": title, "edition": "ep", "side": "B"})]
    assert one == [("", "starting"), ("ep", "laying out"), *side]
    assert [one.who for one in stages_of("layout", {"title_file": title})] == ["", "lp", "ep"]


def test_what_is_not_there_is_not_foreseen(tmp_path: Path) -> None:
    with pytest.raises((DiscwrightError, KeyError)):
        stages_of("plan", {})
    with pytest.raises(DiscwrightError):
        stages_of("prepare", {"folder": str(tmp_path)})
