"""The solver on halls small and large, and on published instances of weighted tardiness."""

from __future__ import annotations

import csv
import random
from functools import cache
from pathlib import Path

import pytest
from hall_cases import START, alike, faults, hall, job, works_press

from discwright.works.hall import Job
from discwright.works.hall_greedy import earliest_due, list_plan, shortest_by_weight
from discwright.works.hall_planning import plan_hall
from discwright.works.hall_problem import pose
from discwright.works.hall_solver import ARCS_MOST, arcs_of, improve

AUTHORITIES = Path(__file__).parents[1] / "authorities"


@cache
def instances() -> dict[int, list[Job]]:
    """Published: OR-Library; by number, as jobs of one press."""
    numbers = [int(one) for one in (AUTHORITIES / "weighted_tardiness_40.txt").read_text(encoding="utf-8").split()]
    found = {}
    for row, values in zip(published(), _parts(numbers), strict=True):
        length, weight, due = values[:40], values[40:80], values[80:]
        found[int(row["instance"])] = [
            job(f"{k + 1}", p, d, float(w)) for k, (p, w, d) in enumerate(zip(length, weight, due, strict=True))
        ]
    return found


def _parts(numbers: list[int]) -> list[list[int]]:
    return [numbers[k : k + 120] for k in range(0, len(numbers), 120)]


@cache
def published() -> list[dict[str, str]]:
    with (AUTHORITIES / "weighted_tardiness_40.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.mark.parametrize("row", published(), ids=lambda row: row["instance"])
def test_the_instances_and_the_rules_on_them(row: dict[str, str]) -> None:
    """Published sums and costs, exact."""
    jobs = instances()[int(row["instance"])]
    problem = pose(alike(1), jobs, START, 5)
    assert len(jobs) == 40
    told = {"sum": sum(one.count for one in jobs)}
    for name, rule in (("earliest_due", earliest_due), ("shortest_by_weight", shortest_by_weight)):
        orders = list_plan(problem, sorted(range(40), key=lambda j, rule=rule: (rule(problem, j), j)))  # type: ignore[misc]
        told[name] = problem.cost(orders)[0]
    assert {key: value for key, value in told.items() if row[key]} == {key: int(row[key]) for key in told if row[key]}


@pytest.mark.parametrize("row", published(), ids=lambda row: row["instance"])
def test_never_below_the_published_best_and_equal_to_it(row: dict[str, str]) -> None:
    """Published best, proved optimal: never below it, and our bound never above.

    Regression only: at once it is reached in the first, within 7 % in the third and within 2 % in the others; the bound
    comes within a tenth.
    """
    number, best = int(row["instance"]), int(row["best"])
    planned = plan_hall(alike(1), instances()[number], START, 0.0)
    assert best <= planned.late <= best * {1: 1.0, 3: 1.07}.get(number, 1.02)
    assert 0.9 * best <= planned.bound.late <= best


@pytest.mark.slow
@pytest.mark.parametrize("row", [published()[k] for k in (0, 2, 5)], ids=lambda row: row["instance"])
def test_the_published_best_with_some_work(row: dict[str, str]) -> None:
    """Published best, reached in each of these with fifteen seconds of work."""
    planned = plan_hall(alike(1), instances()[int(row["instance"])], START, 15.0)
    assert planned.late == int(row["best"])
    assert 0.9 * planned.late <= planned.bound.late <= planned.late


def crowded(presses: int, count: int, seed: int) -> list[Job]:
    draw = random.Random(seed)
    return [
        job(f"J{k}", draw.randint(60, 900), draw.randint(100, 2500), draw.choice([1, 1, 2, 5]), edition=f"E{k // 2}",
            colour=draw.choice(["black", "black", "red"]))
        for k in range(count)
    ]  # fmt: skip


def test_a_few_presses_at_a_time() -> None:
    """A hall too large for one model: never worse, whole, and the same again."""
    given = hall(*(works_press(f"P{k}") for k in range(12)))
    jobs = crowded(12, 48, 1)
    problem = pose(given, jobs, START, 60)
    assert arcs_of(problem) > ARCS_MOST
    first = list_plan(problem, range(48))
    once, again = improve(problem, first, 0.4), improve(problem, first, 0.4)
    assert once == again
    assert once.asked > 1
    assert once.bettered >= 1
    assert problem.cost(once.orders)[0] < problem.cost(first)[0]
    assert faults(problem.schedule(once.orders), given, jobs) == []


def test_nothing_is_asked_where_nothing_can_be_gained() -> None:
    problem = pose(alike(1), [job("a", 10, 5)], START, 5)
    assert improve(problem, [[0]], 5.0, bound=5).asked == 0
    assert improve(problem, [[0]], 0.0).asked == 0
    in_time = pose(alike(1), [job("a", 10, 15)], START, 5)
    assert improve(in_time, [[0]], 5.0).asked == 0
