"""The hall in whole numbers: costs against clock times, what cannot be planned, refusals. Everything is *by hand*."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hall_cases import EARLY, START, USUAL, alike, faults, hall, job, late_hours, press, works_press

from discwright.errors import CallError
from discwright.works.hall import Job, OnPress
from discwright.works.hall_problem import NEVER, Problem, pose


def posed(jobs: list[Job], *presses: object, days: int = 30) -> Problem:
    return pose(hall(*presses) if presses else alike(1), jobs, START, days)  # type: ignore[arg-type]


def test_two_jobs_on_one_press() -> None:
    problem = posed([job("a", 100, 50), job("b", 60, 200, 2.0)])
    # a: 100 - 50 = 50 late; b: 160 ends in time. Ends: 100 + 2 · 160.
    assert problem.press_cost(0, [0, 1]) == (50, 420)
    # b first: ends 60; a ends 160, 110 late.
    assert problem.press_cost(0, [1, 0]) == (110, 280)
    assert problem.hours(50) == pytest.approx(50 / 60)


def test_weights_are_the_smallest_whole_numbers() -> None:
    problem = posed([job("a", 10, 5, 0.5), job("b", 10, 5, 1.25)])
    assert (problem.weight, problem.unit) == ([2, 5], 0.25)
    assert problem.hours(problem.cost([[0, 1]])[0]) == pytest.approx((0.5 * 5 + 1.25 * 15) / 60)


def test_ready_shifts_and_changes_on_the_clock() -> None:
    """One early shift a day: 480 minutes. The change and 400 discs do not fit before 14:00 and go on next morning."""
    jobs = [job("a", 450, 700, edition="E1"), job("b", 100, None, edition="E2", ready=START + timedelta(minutes=460))]
    one = press(shifts=(EARLY,), changes=USUAL, on=OnPress("E1", "12in", "black"))
    schedule = posed(jobs, one).schedule([[0, 1]])
    a, b = schedule.places
    assert (a.begin, a.start, a.end, a.late) == (0, 0, 450, 0)
    # Ready at 460: 20 minutes of the change today, 20 tomorrow from 1440 on.
    assert (b.begin, b.start, b.end) == (460, 1460, 1560)
    assert faults(schedule, hall(one), jobs) == []


def test_lateness_counts_the_closed_night() -> None:
    one = press(shifts=(EARLY,))
    problem = posed([job("a", 470, 470), job("b", 20, 480)], one)
    # b ends 10 minutes into Tuesday's shift: 1450 - 480.
    assert problem.press_cost(0, [0, 1])[0] == 970
    schedule = problem.schedule([[0, 1]])
    assert schedule.places[1].late == 970
    assert late_hours(schedule) == pytest.approx(970 / 60)


def test_due_in_the_closed_night_is_in_time_at_the_end_of_the_shift() -> None:
    problem = posed([job("a", 480, 900), job("b", 481, 900)], press(shifts=(EARLY,)))
    assert problem.press_cost(0, [0])[0] == 0
    assert problem.press_cost(0, [1])[0] == 1441 - 900


def test_due_before_the_start() -> None:
    assert posed([job("a", 10, -30)]).press_cost(0, [0])[0] == 40


def test_nobody_waits() -> None:
    problem = posed([job("a", 10)])
    assert problem.due_clock == [NEVER]
    assert problem.cost([[0]]) == (0, 10)


def test_what_runs_stays_and_needs_no_change() -> None:
    one = works_press("P1", shifts=(EARLY,))
    running = job("a", 300, edition="E7", made=100, press="P1", running=True, ready=START + timedelta(days=9))
    problem = posed([job("b", 10, edition="E8"), running], one)
    assert problem.first == [1]
    schedule = problem.schedule([[1, 0]])
    assert (schedule.places[0].begin, schedule.places[0].change.minutes) == (0, 0)
    assert faults(schedule, hall(one), [job("b", 10, edition="E8"), running]) == []


def test_two_cannot_run_on_one_press() -> None:
    two = [job(name, 10, press="P1", running=True) for name in "ab"]
    with pytest.raises(CallError, match="a and b cannot both be on press P1; say which is"):
        posed(two)


def test_what_cannot_be_planned_says_why() -> None:
    jobs = [
        job("a", 10, size="7in"), job("b", 10, waits_for="test play"), job("c", 10, press="P9"), job("d", 10),
        job("e", 10, colour="red", needs=frozenset({"heavy"})), job("f", 10, running=True), job("done", 5, made=5),
    ]  # fmt: skip
    one, other = press("P1", colours=frozenset({"black"})), press("P2", shifts=(), colours=frozenset({"black"}))
    problem = posed(jobs, one, other)
    assert [one.id for one in problem.jobs] == ["d"]
    assert problem.able == [[0]]
    assert [(one.id, why) for one, why in problem.unplanned] == [
        ("a", "fits no press: P1 comes nearest and lacks size 7in"),
        ("b", "waits for test play, and nobody says until when"),
        ("c", "is bound to press P9, which the hall has not"),
        ("e", "fits no press: P1 comes nearest and lacks colour red, heavy"),
        ("f", "is said to run, and nobody says on which press"),
    ]


def test_a_press_that_is_free_later() -> None:
    one = press(free_from=START + timedelta(minutes=100))
    problem = posed([job("a", 10)], one)
    assert problem.schedule([[0]]).places[0].begin == 100


def test_presses_with_the_same_shifts_share_a_clock() -> None:
    problem = posed([job("a", 10)], press("P1"), press("P2"), press("P3", shifts=(EARLY,)))
    assert (len(problem.clocks), problem.clock_of) == (2, [0, 0, 1])


def test_work_past_the_last_day_is_told() -> None:
    problem = posed([job("a", 481)], press(shifts=(EARLY,)), days=1)
    assert problem.beyond([[0]])
    assert not posed([job("a", 480)], press(shifts=(EARLY,)), days=1).beyond([[0]])


@pytest.mark.parametrize(
    ("presses", "jobs", "words"),
    [
        ([], [], "0 presses cannot be planned; give 1 to 400."),
        (["P1", "P1"], [], "two presses are called “P1”; give each a name of its own."),
        (["P1"], ["a", "a"], "two jobs are called “a”; give each a name of its own."),
        (["P1"], [str(k) for k in range(4001)], "4001 jobs cannot be planned at once; give 4000 at most."),
    ],
)
def test_refusals(presses: list[str], jobs: list[str], words: str) -> None:
    with pytest.raises(CallError) as refusal:
        pose(hall(*map(press, presses)), [job(name, 10) for name in jobs], START, 10)
    assert str(refusal.value) == words
