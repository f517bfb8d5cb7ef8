"""The whole way to a schedule: each held against a checker of its own, the same answer to the same question."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hall_cases import (
    ALWAYS,
    EARLY,
    LATE,
    NIGHT,
    START,
    USUAL,
    alike,
    faults,
    hall,
    job,
    late_hours,
    press,
    works_press,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.hall import Hall, Job, OnPress, Press
from discwright.works.hall_planning import plan_hall

COLOURS = ("black", "red", "clear")
EDITIONS = ("NL-1/lp", "NL-2/lp", "NL-2/ep", "NL-3/lp")


@st.composite
def presses(draw: st.DrawFn) -> Hall:
    count = draw(st.integers(1, 4))
    return hall(
        *(
            works_press(
                f"P{k}",
                sizes=frozenset(draw(st.sets(st.sampled_from(["7in", "12in"]), min_size=1))),
                colours=frozenset(draw(st.sampled_from([(), ("black",), ("black", "red")]))),
                abilities=frozenset(draw(st.sampled_from([(), ("heavy",)]))),
                shifts=draw(st.sampled_from([(EARLY,), (EARLY, LATE), (LATE, NIGHT), (ALWAYS,)])),
                closed_days=frozenset(draw(st.sampled_from([(), (date(2031, 4, 8),)]))),
                on=draw(st.sampled_from([OnPress(), OnPress("NL-1/lp", "12in", "black"), OnPress("", "7in", "red")])),
                free_from=draw(st.sampled_from([None, START + timedelta(minutes=333)])),
                running=draw(st.sampled_from([0.8, 0.85, 1.0])),
            )
            for k in range(count)
        )
    )


@st.composite
def jobs(draw: st.DrawFn, given_hall: Hall) -> list[Job]:
    found = []
    taken: set[str] = set()
    for k in range(draw(st.integers(1, 7))):
        at = draw(st.sampled_from([""] * 4 + [one.name for one in given_hall.presses]))
        running = bool(at) and at not in taken and draw(st.booleans())
        taken |= {at} if running else set()
        count = draw(st.integers(1, 4000))
        found.append(
            job(
                f"J{k}", count, draw(st.none() | st.integers(-500, 9000)), draw(st.sampled_from([0.5, 1.0, 3.0])),
                edition=draw(st.sampled_from(EDITIONS)), size=draw(st.sampled_from(["7in", "12in"])),
                colour=draw(st.sampled_from(COLOURS)), needs=frozenset(draw(st.sampled_from([(), (), ("heavy",)]))),
                ready=draw(st.none() | st.integers(0, 4000).map(lambda m: START + timedelta(minutes=m))),
                waits_for=draw(st.sampled_from(["", "", "side A: a verdict"])), stamper_life=draw(st.integers(1, 1500)),
                cycle_s=draw(st.sampled_from([0.0, 35.0])), press=at, running=running,
                made=draw(st.integers(0, count)),
            )
        )  # fmt: skip
    return found


@settings(max_examples=80, deadline=None)
@given(st.data())
def test_every_schedule_is_one(data: st.DataObject) -> None:
    """No two at once on a press, none where it cannot be run or is not ready, all of the count, true changes."""
    given_hall = data.draw(presses())
    given_jobs = data.draw(jobs(given_hall))
    planned = plan_hall(given_hall, given_jobs, START, 0.0)
    assert faults(planned.schedule, given_hall, given_jobs) == []
    assert planned.schedule.weighted_late_h == pytest.approx(late_hours(planned.schedule))
    assert planned.problem.hours(planned.late) == pytest.approx(late_hours(planned.schedule))
    assert 0 <= planned.bound.late <= planned.late


@settings(max_examples=6, deadline=None)
@given(st.data())
def test_more_work_makes_no_worse_schedule(data: st.DataObject) -> None:
    given_hall = data.draw(presses())
    given_jobs = data.draw(jobs(given_hall))
    at_once = plan_hall(given_hall, given_jobs, START, 0.0)
    longer = plan_hall(given_hall, given_jobs, START, 0.2)
    assert faults(longer.schedule, given_hall, given_jobs) == []
    assert longer.late <= at_once.late
    assert longer.bound.late <= at_once.late


def broken(schedule_hall: Hall, given_jobs: list[Job]) -> list[str]:
    planned = plan_hall(hall(works_press("P1"), works_press("P2")), given_jobs, START, 0.0)
    return faults(planned.schedule, schedule_hall, given_jobs)


def test_the_checker_can_fail() -> None:
    given_jobs = [job(f"J{k}", 700, 900, edition=f"E{k}") for k in range(3)]
    assert broken(hall(works_press("P1"), works_press("P2")), given_jobs) == []
    slower = [works_press("P1", running=0.7), works_press("P2", changes=USUAL.__class__(10, 10, 10, 10))]
    assert len(broken(hall(*slower), given_jobs)) >= 2
    assert broken(hall(works_press("P1", sizes=frozenset({"7in"})), works_press("P2")), given_jobs) != []
    planned = plan_hall(hall(works_press("P1"), works_press("P2")), given_jobs, START, 0.0)
    assert faults(planned.schedule, hall(works_press("P1"), works_press("P2")), given_jobs[:2]) != []


def test_the_same_question_has_the_same_answer() -> None:
    given_jobs = [job(f"J{k}", 100 + 37 * k % 500, 300 + 53 * k % 900, 1 + k % 3, edition=f"E{k}") for k in range(14)]
    given_hall = hall(works_press("P1"), works_press("P2"), works_press("P3", shifts=(EARLY,)))
    once, again = (plan_hall(given_hall, given_jobs, START, 0.5) for _ in range(2))
    assert once.schedule == again.schedule
    assert (once.late, once.bound) == (again.late, again.bound)


def test_progress_is_told_and_can_stop_it() -> None:
    told: list[tuple[str, float]] = []
    plan_hall(
        alike(1), [job(f"J{k}", 60, 60) for k in range(6)], START, 0.2, lambda step, done: told.append((step, done))
    )
    assert {step for step, _ in told} >= {"laying out shifts", "moving jobs", "solving"}
    assert all(0.0 <= done <= 1.0 for _, done in told)

    def stop(step: str, done: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        plan_hall(alike(1), [job("a", 60, 50)], START, 0.2, stop)


def test_a_plan_in_time_has_no_gap() -> None:
    planned = plan_hall(alike(2), [job("a", 60, 60), job("b", 50, 60)], START, 5.0)
    assert (planned.late, planned.gap, planned.schedule.end) == (0, 0.0, 60)


def test_shifts_are_laid_out_as_far_as_the_work_goes() -> None:
    """By hand: 60 days of one shift of 480 minutes, five a week: done on the Friday of the twelfth week, at 14:00."""
    one = press(shifts=(EARLY,))
    planned = plan_hall(hall(one), [job("a", 60 * 480)], START, 0.0)
    assert planned.schedule.end == (11 * 7 + 4) * 1440 + 480
    assert faults(planned.schedule, hall(one), [job("a", 60 * 480)]) == []


@pytest.mark.parametrize(
    ("one", "length", "seconds", "words"),
    [
        (press(shifts=(EARLY,)), 1_000_000, 0.0, "the jobs take longer than ten years; look for a wrong count"),
        (press(), 10, -1.0, "-1 s of work cannot be put into a schedule; give 0 to 3600."),
        (press(), 10, 1e9, "1e+09 s of work cannot be put into a schedule"),
    ],
)
def test_refusals(one: Press, length: int, seconds: float, words: str) -> None:
    with pytest.raises(CallError) as refusal:
        plan_hall(hall(one), [job("a", length, cycle_s=0.0 if length < 100 else 200.0)], START, seconds)
    assert words in str(refusal.value)
