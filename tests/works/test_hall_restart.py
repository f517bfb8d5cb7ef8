"""Planned again from where things stand. Everything expected is *by hand*."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hall_cases import START, alike, hall, job, press

from discwright.errors import CallError
from discwright.works.hall import Change, Job, OnPress, Place, Schedule
from discwright.works.hall_restart import Told, as_planned, stand

NOW = START + timedelta(minutes=150)
JOBS = [job("a", 100), job("b", 100, edition="E2"), job("c", 100, edition="E3")]


def schedule(*places: tuple[Job, int, int, int]) -> Schedule:
    return Schedule(
        START,
        tuple(Place(one, "P1", begin, start, end, Change(), end - start, 0, None) for one, begin, start, end in places),
    )


KEPT = schedule((JOBS[0], 0, 0, 100), (JOBS[1], 100, 120, 220), (JOBS[2], 220, 220, 320))


def test_as_it_was_planned() -> None:
    """At 150: a is done; of b's 100 minutes from 120 on, 30 are over; c is not begun."""
    told = as_planned(KEPT, NOW, {"c": 7})
    assert [(one.job, one.made, one.press, one.state) for one in told] == [
        ("a", 100, "P1", "done"), ("b", 30, "P1", "on"), ("c", 7, "", ""),
    ]  # fmt: skip
    standing = stand(alike(1), JOBS, told, KEPT, NOW)
    assert standing.done == ("a",)
    assert [(one.id, one.made, one.running, one.press) for one in standing.jobs] == [
        ("b", 30, True, "P1"), ("c", 7, False, ""),
    ]  # fmt: skip
    assert standing.silent == ()
    assert standing.hall.presses[0].on == OnPress("E2", "12in", "black")


def test_what_is_told_counts_and_silence_is_told_of() -> None:
    standing = stand(alike(1), JOBS, [Told("a", 40, "P1", "off")], KEPT, NOW)
    assert [(one.id, one.made, one.running, one.press) for one in standing.jobs] == [
        ("a", 40, False, ""), ("b", 0, False, ""), ("c", 0, False, ""),
    ]  # fmt: skip
    assert standing.silent == ("b",)
    assert standing.hall.presses[0].on == JOBS[0].setting


def test_the_last_word_counts() -> None:
    early, late = (START + timedelta(minutes=m) for m in (10, 50))
    told = [Told("a", 60, "P1", "on", late), Told("a", 20, "P1", "on", early)]
    assert stand(alike(1), JOBS, told, None, NOW).jobs[0].made == 60
    told = [Told("a", 20), Told("a", 30)]
    assert stand(alike(1), JOBS, told, None, NOW).jobs[0].made == 30


def test_done_whatever_was_made_and_done_where_all_is_made() -> None:
    told = [Told("a", 90, "P1", "done"), Told("b", 100, "P1")]
    standing = stand(alike(1), JOBS, told, None, NOW)
    assert standing.done == ("a", "b")
    assert standing.hall.presses[0].on == JOBS[1].setting


def test_what_runs_waits_for_nothing() -> None:
    waiting = [job("a", 100, waits_for="a verdict", ready=NOW + timedelta(days=3), press="P1")]
    (one,) = stand(alike(1), waiting, [Told("a", 1, "P1")], None, NOW).jobs
    assert (one.running, one.waits_for, one.ready) == (True, "", None)


def test_a_running_job_nobody_told_of_stays_on_its_press() -> None:
    running = [job("a", 100, made=10, press="P1", running=True)]
    assert stand(alike(1), running, [], None, NOW).jobs == tuple(running)


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ([Told("a", 1, "P9")], "a is said to be on press P9, which the hall has not; look at its name."),
        ([Told("a", 1, "P1"), Told("b", 1, "P1")], "a and b cannot both be on press P1; say which is."),
    ],
)
def test_refusals(told: list[Told], words: str) -> None:
    with pytest.raises(CallError) as refusal:
        stand(hall(press("P1")), JOBS, told, None, NOW)
    assert str(refusal.value) == words
