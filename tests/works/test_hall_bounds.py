"""Bounds: below the best plan always, near it where it is known."""

from __future__ import annotations

import random

import pytest
from hall_cases import EARLY, LATE, NIGHT, START, alike, hall, job, press, works_press
from test_hall_search import best_of_all, some

from discwright.works.hall_bounds import alone, least_end, priced
from discwright.works.hall_greedy import first_plan
from discwright.works.hall_problem import pose


@pytest.mark.parametrize("seed", range(8))
def test_no_bound_is_above_the_best_plan(seed: int) -> None:
    """By another road: all orders of five jobs on two presses with other shifts and changes, some ready later."""
    draw = random.Random(seed)
    shifts = [(EARLY,), (EARLY, LATE), (LATE, NIGHT)]
    presses = [
        works_press("P1", shifts=draw.choice(shifts)),
        works_press("P2", shifts=draw.choice(shifts), running=0.7),
    ]
    jobs = [
        job(f"J{k}", draw.randint(50, 900), draw.randint(-100, 2000), draw.randint(1, 5),
            edition=f"E{draw.randint(0, 2)}",
            ready=None if draw.random() < 0.5 else START.replace(hour=draw.randint(6, 23)))
        for k in range(5)
    ]  # fmt: skip
    problem = pose(hall(*presses), jobs, START, 60)
    best = best_of_all(problem, 5, 2)
    plan = problem.cost(first_plan(problem))[0]
    assert alone(problem).late <= best
    for steps in (5, 60, 200):
        assert priced(problem, plan, steps).late <= best


def test_alone_is_exact_where_nobody_is_in_the_way() -> None:
    """By hand: 100 − 60 minutes, twice the weight; the other is in time."""
    problem = pose(alike(2), [job("a", 100, 60, 2.0), job("b", 50, 50)], START, 5)
    assert problem.hours(alone(problem).late) == pytest.approx(80 / 60)


def test_prices_see_that_jobs_stand_in_each_others_way() -> None:
    """By hand: ten like jobs of 60 minutes on one press, all due after 60: 0 + 60 + ... + 540 = 2700 at best."""
    jobs = [job(f"J{k}", 60, 60) for k in range(10)]
    problem = pose(alike(1), jobs, START, 5)
    assert alone(problem).late == 0
    assert 2300 <= priced(problem, 2700, 400).late <= 2700


def test_a_change_that_every_plan_makes_is_in_the_bound() -> None:
    """By hand: 40 minutes for stampers before 60 of pressing, due after 60."""
    problem = pose(hall(press(changes=works_press().changes, on=works_press().on)), [job("a", 60, 60)], START, 5)
    assert alone(problem).late == 40
    assert priced(problem, 40, 50).late == 40


def test_nothing_late_has_no_bound_above_nothing() -> None:
    problem = pose(alike(1), [job("a", 60, 60)], START, 5)
    assert (alone(problem).late, priced(problem, 0, 50).late) == (0, 0)


@pytest.mark.parametrize(
    ("lengths", "presses", "end"), [((2, 2, 2), 2, 3), ((9, 1, 1), 3, 9), ((4, 3), 1, 7), ((), 3, 0)]
)
def test_the_least_end_of_broken_off_jobs(lengths: tuple[int, ...], presses: int, end: int) -> None:
    """Published: McNaughton 1959, max(longest, sum / presses)."""
    assert least_end(pose(alike(presses), [job(f"J{k}", p) for k, p in enumerate(lengths)], START, 5)) == end


def test_the_least_end_with_shifts() -> None:
    """By hand: 500 minutes on one press of 480 a day, that is free after 100: 380 today, 120 from 1440 on."""
    one = press(shifts=(EARLY,), free_from=START.replace(hour=7, minute=40))
    assert least_end(pose(hall(one), [job("a", 300), job("b", 200)], START, 5)) == 1560


@pytest.mark.parametrize("seed", range(3))
def test_more_steps_do_no_harm(seed: int) -> None:
    problem = pose(hall(works_press("P1"), works_press("P2")), some(20, seed), START, 60)
    plan = problem.cost(first_plan(problem))[0]
    few, many = (priced(problem, plan, steps).late for steps in (50, 300))
    assert few <= many <= plan
