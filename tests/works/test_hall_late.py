"""Why a job is late: each reason made on purpose. Everything expected is *by hand*."""

from __future__ import annotations

from datetime import timedelta

from hall_cases import START, USUAL, alike, hall, job, press

from discwright.works.hall import ChangeMinutes, Hall, Job, OnPress
from discwright.works.hall_late import CHANGES, OVERDUE, PRESS, READY, REASONS, WORK, Late, find_late
from discwright.works.hall_problem import pose


def why(given_hall: Hall, jobs: list[Job], orders: list[list[int]]) -> dict[str, Late]:
    problem = pose(given_hall, jobs, START, 30)
    found = find_late(problem, orders, problem.schedule(orders).places)
    return {one.place.job.id: one for one in found}


def test_due_before_the_start() -> None:
    assert why(alike(1), [job("a", 10, -5)], [[0]])["a"].reason == OVERDUE


def test_the_work_alone_is_too_long() -> None:
    late = why(alike(2), [job("a", 100, 60)], [[0], []])["a"]
    assert (late.reason, late.earliest, late.could) == (WORK, 100, ())


def test_its_parts_are_ready_too_late() -> None:
    late = why(alike(1), [job("a", 100, 160, ready=START + timedelta(minutes=90))], [[0]])["a"]
    assert (late.reason, late.earliest) == (READY, 190)


def test_no_press_is_free() -> None:
    """The third would be in time on either press if the first two were not there."""
    late = why(alike(2), [job("a", 100, 100), job("b", 100, 100), job("c", 50, 120)], [[0, 2], [1]])
    assert list(late) == ["c"]
    assert (late["c"].reason, late["c"].behind, late["c"].could) == (PRESS, ("a",), ("P1", "P2"))


def test_only_the_jobs_that_really_hold_it_up_are_named() -> None:
    """Before b the press stands still until it is ready: what ran before that is not in the way."""
    jobs = [job("a", 10), job("b", 100, ready=START + timedelta(minutes=50)), job("c", 50, 90)]
    assert why(alike(1), jobs, [[0, 1, 2]])["c"].behind == ("b",)


def test_the_changes_are_what_is_too_much() -> None:
    one = press(changes=ChangeMinutes(40, 0, 0, 0), on=OnPress("E1", "12in", "black"))
    jobs = [job("a", 100, edition="E1"), job("b", 50, 160, edition="E2")]
    late = why(hall(one), jobs, [[0, 1]])["b"]
    assert (late.reason, late.place.late) == (CHANGES, 30)


def test_what_counts_most_comes_first() -> None:
    jobs = [job("a", 100, 90), job("b", 100, 190, 5.0), job("c", 100, 250)]
    assert list(why(alike(1), jobs, [[0, 1, 2]])) == ["b", "c", "a"]


def test_every_reason_has_its_words() -> None:
    assert set(REASONS) == {OVERDUE, WORK, READY, CHANGES, PRESS}
    assert USUAL.stampers == 40
