"""The solver's model against every order there is: changes, shifts, two clocks, what runs, a hint that holds."""

from __future__ import annotations

import random

import pytest
from hall_cases import EARLY, LATE, NIGHT, START, alike, faults, hall, job, works_press
from test_hall_search import best_of_all

from discwright.works.hall_cp import PressModel
from discwright.works.hall_greedy import list_plan
from discwright.works.hall_problem import pose


@pytest.mark.parametrize("seed", range(6))
def test_the_best_of_all_orders(seed: int) -> None:
    """By another road: every order; presses with other shifts, so that lateness passes closed nights of two kinds."""
    draw = random.Random(100 + seed)
    presses = [
        works_press("P1", shifts=draw.choice([(EARLY,), (EARLY, LATE)])),
        works_press("P2", shifts=draw.choice([(LATE, NIGHT), (EARLY,)])),
    ]
    jobs = [
        job(f"J{k}", draw.randint(30, 700), draw.randint(-200, 1500), draw.randint(1, 4),
            edition=f"E{draw.randint(0, 2)}",
            colour=draw.choice(["black", "red"]), ready=START.replace(hour=draw.randint(6, 20)))
        for k in range(5)
    ]  # fmt: skip
    given = hall(*presses)
    problem = pose(given, jobs, START, 60)
    solved = PressModel(problem, [0, 1], list_plan(problem, range(5)), whole=True).solve(20.0)
    assert solved.orders is not None
    assert solved.proved
    orders = [solved.orders[0], solved.orders[1]]
    assert problem.cost(orders)[0] == solved.bound == best_of_all(problem, 5, 2)
    assert faults(problem.schedule(orders), given, jobs) == []


def test_what_runs_stays_first() -> None:
    """By hand: 300 minutes are under way, the 10 that are due first come after them."""
    jobs = [job("now", 300, 200, press="P1", running=True), job("a", 10, 5), job("b", 20, 400)]
    problem = pose(alike(1), jobs, START, 5)
    solved = PressModel(problem, [0], [[0, 2, 1]]).solve(5.0)
    assert solved.orders == {0: [0, 1, 2]}
    assert solved.bound == 100 + 305


def test_only_the_presses_asked_about_change() -> None:
    jobs = [job("a", 50, 10), job("b", 20, 20), job("c", 30, 10)]
    problem = pose(alike(2), jobs, START, 5)
    solved = PressModel(problem, [0], [[0, 1], [2]]).solve(5.0)
    assert solved.orders == {0: [1, 0]}


def test_the_same_answer_again() -> None:
    draw = random.Random(5)
    jobs = [job(f"J{k}", draw.randint(5, 90), draw.randint(20, 200), draw.randint(1, 5)) for k in range(12)]
    problem = pose(alike(2), jobs, START, 5)
    first = list_plan(problem, range(12))
    once, again = (PressModel(problem, [0, 1], first).solve(0.3) for _ in range(2))
    assert (once.orders, once.bound, once.work) == (again.orders, again.bound, again.work)


def test_a_stop_that_is_asked_for_ends_the_solver() -> None:
    class Enough(Exception):
        pass

    def stop() -> None:
        raise Enough

    draw = random.Random(6)
    jobs = [job(f"J{k}", draw.randint(5, 90), draw.randint(20, 200), draw.randint(1, 5)) for k in range(25)]
    problem = pose(alike(2), jobs, START, 5)
    with pytest.raises(Enough):
        PressModel(problem, [0, 1], list_plan(problem, range(25))).solve(1000.0, stop)
