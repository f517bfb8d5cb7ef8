"""The search: never worse, the same again, and the best plan where every plan can be tried."""

from __future__ import annotations

import itertools
import random

import pytest
from hall_cases import START, alike, faults, hall, job, works_press

from discwright.works.hall import Job
from discwright.works.hall_greedy import list_plan
from discwright.works.hall_problem import Problem, pose
from discwright.works.hall_search import search


def some(count: int, seed: int) -> list[Job]:
    draw = random.Random(seed)
    return [
        job(f"J{k}", draw.randint(5, 90), draw.randint(20, 200), draw.randint(1, 5), edition=f"E{draw.randint(0, 3)}",
            colour=draw.choice(["black", "red"]))
        for k in range(count)
    ]  # fmt: skip


def best_of_all(problem: Problem, jobs: int, presses: int) -> int:
    """Every order of jobs and every way to cut it into presses, by another road than moving."""
    least = None
    for order in itertools.permutations(range(jobs)):
        for cuts in itertools.combinations_with_replacement(range(jobs + 1), presses - 1):
            edges = [0, *cuts, jobs]
            late = sum(problem.press_cost(m, order[edges[m] : edges[m + 1]])[0] for m in range(presses))
            least = late if least is None else min(least, late)
    assert least is not None
    return least


@pytest.mark.parametrize("seed", range(3))
def test_the_best_of_a_small_hall(seed: int) -> None:
    jobs = some(6, seed)
    problem = pose(hall(works_press("P1"), works_press("P2")), jobs, START, 30)
    orders = search(problem, list_plan(problem, range(6)), 4000)
    assert problem.cost(orders)[0] == best_of_all(problem, 6, 2)


def test_the_same_again_and_never_worse() -> None:
    given = hall(*(works_press(f"P{k}") for k in range(3)))
    jobs = some(25, 7)
    problem = pose(given, jobs, START, 60)
    first = list_plan(problem, range(25))
    once, again = search(problem, first, 3000), search(problem, first, 3000)
    assert once == again
    assert problem.cost(once) <= problem.cost(first)
    assert faults(problem.schedule(once), given, jobs) == []
    assert search(problem, first, 0) == first


def test_what_runs_is_not_moved() -> None:
    jobs = [*some(8, 3), job("now", 500, 10, 1.0, edition="E9", press="P1", running=True)]
    problem = pose(hall(works_press("P1"), works_press("P2")), jobs, START, 60)
    orders = search(problem, list_plan(problem, range(9)), 3000)
    assert orders[0][0] == 8


def test_nothing_to_move() -> None:
    problem = pose(alike(2), [job("a", 5, press="P1", running=True)], START, 5)
    assert search(problem, [[0], []], 100) == [[0], []]
