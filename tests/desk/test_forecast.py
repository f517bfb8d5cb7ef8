"""Time left is true within a factor of two after the first tenth, for work that really was done.

`traces.json` holds what acts told and when, recorded on a two-core machine with real music and the demo, together with
what was known of each job before it began: the calls of :mod:`discwright.desk.expected` that lay out its steps.
`load` is how many processes wanted to run meanwhile, about five at the most: where much other work comes and goes, time
left is a guess.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discwright.desk import expected
from discwright.desk.expected import SideWork
from discwright.desk.forecast import MOST_RATIO, REMEMBERED, STARTING, Forecast, Outlook, Paces, Stage

TRACES: dict[str, dict[str, Any]] = json.loads(Path(__file__).with_name("traces.json").read_text(encoding="utf-8"))
#: Searches that went on for longer, or ended sooner, than most: layouts above all, where how many sides must be fitted
#: shows only when the best are known.
SEARCHES = [name for name in TRACES if TRACES[name]["surprising"]]
KNOWABLE = [name for name in TRACES if name not in SEARCHES]
#: Recorded while little else ran: what was slow then is slow always.
QUIET = [name for name in KNOWABLE if TRACES[name]["load"] <= 2.5]
#: What the desk promises, from when on; and what it calls “a second”, below which nothing is told apart.
FACTOR, FIRST_TENTH, A_SECOND_S = 2.0, 0.1, 1.5


@dataclass
class Clock:
    """A clock that is set by hand, s."""

    now: float = 0.0

    def __call__(self) -> float:
        return self.now


def stages(trace: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> list[Stage]:
    """What was expected of a recorded job."""
    monkeypatch.setattr(expected, "_compiled", lambda loop: loop not in trace["not_compiled"])
    found = [Stage(STARTING, expected._START_S)]
    for what, plain in trace["known"]:
        if what == "laying out":
            found.append(expected.laying_out(**{**plain, "side": SideWork(**plain["side"])}))
        elif what == "opening":
            found.append(expected.opening(SideWork(**plain)))
        elif what == "making":
            found += expected.making(plain["name"], SideWork(**plain["side"]))
        else:
            found += {"planning": expected.planning, "preparing": expected.preparing}[what](SideWork(**plain))
    return found


def replay(trace: dict[str, Any], forecast: Forecast, clock: Clock, slower: float = 1.0) -> list[tuple[float, Outlook]]:
    """Time and outlook four times a second, as the desk looks."""
    events, seen, step = list(trace["events"]), [], 0.25
    while clock.now < trace["end_s"] * slower:
        until = clock.now
        while events and events[0][0] * slower <= until:
            clock.now = events[0][0] * slower
            forecast.tell(*events.pop(0)[1:])
        clock.now = until
        seen.append((clock.now, forecast.look()))
        clock.now += step
    clock.now = trace["end_s"] * slower
    return seen


def untrue(seen: list[tuple[float, Outlook]], end_s: float) -> list[tuple[float, float | None, float]]:
    """Moments after the first tenth at which the time left was off: time, what was said, what was true."""
    return [
        (now, one.seconds_left, end_s - now)
        for now, one in seen
        if now >= FIRST_TENTH * end_s and not close(one.seconds_left, end_s - now)
    ]


def close(said: float | None, true: float) -> bool:
    if said is None:
        return False
    return abs(said - true) <= A_SECOND_S or 1 / FACTOR <= said / true <= FACTOR


@pytest.mark.parametrize("name", KNOWABLE)
def test_time_left_is_true_within_a_factor_of_two(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    trace, clock = TRACES[name], Clock()
    seen = replay(trace, Forecast(stages(trace, monkeypatch), clock=clock), clock)
    assert untrue(seen, trace["end_s"]) == []


@pytest.mark.parametrize("name", SEARCHES)
def test_a_search_that_surprises_is_untrue_for_a_tenth_of_its_moments_at_most(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    trace, clock = TRACES[name], Clock()
    seen = replay(trace, Forecast(stages(trace, monkeypatch), clock=clock), clock)
    assert len(untrue(seen, trace["end_s"])) <= 0.1 * len(seen)


@pytest.mark.parametrize("name", QUIET)
def test_also_once_the_machine_has_learned(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """From all other recordings."""
    paces = Paces()
    for other in (one for one in QUIET if one != name):
        clock = Clock()
        forecast = Forecast(stages(TRACES[other], monkeypatch), paces, clock)
        replay(TRACES[other], forecast, clock)
        paces = forecast.finish()
    trace, clock = TRACES[name], Clock()
    seen = replay(trace, Forecast(stages(trace, monkeypatch), paces, clock), clock)
    assert untrue(seen, trace["end_s"]) == []


@pytest.mark.parametrize("slower", [0.5, 3.0])
@pytest.mark.parametrize("name", QUIET)
def test_on_another_machine_it_is_true_once_it_has_learned(
    name: str, slower: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same job a few times over, all in another pace."""
    trace, paces = TRACES[name], Paces()
    for _ in range(8):
        clock = Clock()
        forecast = Forecast(stages(trace, monkeypatch), paces, clock)
        seen = replay(trace, forecast, clock, slower)
        paces = forecast.finish()
    assert untrue(seen, trace["end_s"] * slower) == []


@pytest.mark.parametrize("name", TRACES)
def test_done_never_goes_back_and_is_whole_only_at_the_end(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    trace, clock = TRACES[name], Clock()
    seen = [one.done for _, one in replay(trace, Forecast(stages(trace, monkeypatch), clock=clock), clock)]
    assert seen == sorted(seen)
    assert seen[0] >= 0.0
    assert 0.8 < seen[-1] < 1.0


def test_a_wrong_forecast_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """The check above can fail: where a ladder is thought to take one spiral."""
    trace, clock = TRACES["20 minutes at a level, ladder"], Clock()
    wrong = [replace(one, times={}) for one in stages(trace, monkeypatch)]
    assert untrue(replay(trace, Forecast(wrong, clock=clock), clock), trace["end_s"]) != []


# By hand -------------------------------------------------------------------------------------------------


def test_nothing_is_said_where_nothing_is_known() -> None:
    clock = Clock()
    forecast = Forecast((), clock=clock)
    forecast.tell("brewing", 0.5)
    clock.now = 100.0
    assert forecast.look() == Outlook("brewing", 0.0, None)
    assert forecast.finish() == Paces()


def test_a_step_that_keeps_its_time_counts_down() -> None:
    """Expected numbers by hand: 1 s to start, 10 s of reading, 4 s of drawing."""
    clock = Clock()
    forecast = Forecast([Stage(STARTING, 1.0), Stage("reading", 10.0), Stage("drawing", 4.0)], clock=clock)
    clock.now = 1.0
    forecast.tell("reading", 0.0)
    clock.now = 6.0
    forecast.tell("reading", 0.5)
    assert forecast.look() == Outlook("reading", pytest.approx(6.0 / 15.0), pytest.approx(9.0))
    clock.now = 11.0
    forecast.tell("drawing", 0.0)
    clock.now = 12.0
    assert forecast.look() == Outlook("drawing", pytest.approx(12.0 / 15.0), pytest.approx(3.0))


def test_a_search_may_go_on_or_end() -> None:
    """By hand: after the first of one or two times of 8 s, with 2 s of drawing to come, 2 s and 10 s are as likely;
    √(2 · 10) s is off by the least factor either way.
    """
    clock = Clock()
    laying = Stage("laying", 8.0, times={1: 0.5, 2: 0.5})
    forecast = Forecast([Stage(STARTING, 1.0), laying, Stage("drawing", 2.0)], clock=clock)
    clock.now = 1.0
    forecast.tell("laying", 0.0)
    clock.now = 9.0
    forecast.tell("laying", 1.0)
    assert forecast.look().seconds_left == pytest.approx(20.0**0.5, rel=1e-3)
    forecast.tell("laying", 0.0)
    assert forecast.look().seconds_left == pytest.approx(10.0, rel=1e-3)
    clock.now = 17.0
    forecast.tell("drawing", 0.0)
    assert forecast.look().seconds_left == pytest.approx(2.0, rel=1e-3)


def test_half_of_a_spiral_laid_again_is_the_same_time() -> None:
    """Where two halves do not join, the inner one is laid once more: the fraction goes back to about a half."""
    clock = Clock()
    forecast = Forecast([Stage(STARTING, 1.0), Stage("laying", 8.0, times={1: 1.0, 2: 1.0}, search="fit")], clock=clock)
    for now, fraction in ((1.0, 0.02), (5.0, 1.0), (6.0, 0.75), (8.0, 1.0)):
        clock.now = now
        forecast.tell("laying", fraction)
    assert forecast.finish().counts == {"fit": [1]}


def test_sides_beyond_those_expected_are_put_in() -> None:
    clock = Clock()
    steps = [Stage("reading", 2.0, "lp"), Stage("drawing", 2.0, "lp"), Stage("reading", 2.0, "ep")]
    forecast = Forecast([Stage(STARTING, 1.0), *steps], clock=clock)
    left = []
    for k, step in enumerate(("A: reading", "A: drawing", "B: reading", "B: drawing")):
        clock.now = 1.0 + 2.0 * k
        forecast.tell(f"lp side {step}", 0.0)
        left.append(forecast.look().seconds_left)
    clock.now = 9.0
    forecast.tell("ep side A: reading", 0.0)
    left.append(forecast.look().seconds_left)
    assert left == pytest.approx([6.0, 4.0, 6.0, 4.0, 2.0])


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.sampled_from("abcx"), st.floats(-1.0, 2.0), st.floats(0.0, 100.0)), max_size=60))
def test_whatever_is_told_it_keeps_its_head(told: list[tuple[str, float, float]]) -> None:
    clock = Clock()
    steps = [Stage("a", 1.0), Stage("b", 3.0, times={1: 0.5, 3: 0.5}, search="b"), Stage("c", 2.0)]
    forecast, last = Forecast([Stage(STARTING, 1.0), *steps], clock=clock), 0.0
    for step, fraction, wait in told:
        forecast.tell(step, fraction)
        clock.now += wait
        now = forecast.look()
        assert last <= now.done < 1.0
        assert now.seconds_left is None or 0.0 <= now.seconds_left < 1e6
        last = now.done
    forecast.finish()


# What a machine has learned ------------------------------------------------------------------------------


def test_a_pace_that_was_seen_again_and_again_is_believed(tmp_path: Path) -> None:
    """By hand: twelve times three times as long, one vote for the expected: 3^(12/13)."""
    paces = Paces()
    for _ in range(2 * REMEMBERED):
        paces.learn([("reading", 3.0)], [("fit", 2)])
    paces.write(tmp_path / "paces.json")
    again = Paces.read(tmp_path / "paces.json")
    assert again == paces
    assert again.ratio("reading") == pytest.approx(3.0 ** (12 / 13))
    assert again.ratio("drawing") == 1.0
    assert again.likely("fit", {2: 0.5, 3: 0.5}) == {2: 2.0 + REMEMBERED, 3: 2.0}


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        '{"ratios": 3}',
        '{"ratios": {"a": [0, -1, 1e9, "x", null, NaN, true]}}',
        '{"counts": {"a": [2.5]}}',
    ],
)
def test_nonsense_is_passed_over(text: str, tmp_path: Path) -> None:
    path = tmp_path / "paces.json"
    path.write_text(text)
    paces = Paces.read(path)
    assert paces.ratio("a") == 1.0
    assert paces.likely("a", {1: 1.0}) == {1: 4.0}
    assert Paces.read(tmp_path / "nothing.json") == Paces()


def test_what_is_remembered_is_bounded(tmp_path: Path) -> None:
    path = tmp_path / "paces.json"
    path.write_text(json.dumps({"ratios": {f"step {k}": [2.0] * 1000 for k in range(1000)}}))
    paces = Paces.read(path)
    assert len(paces.ratios) <= 64
    assert {len(one) for one in paces.ratios.values()} == {REMEMBERED}
    paces.learn([("absurd", MOST_RATIO * 2), ("absurd", 0.0)], [])
    assert "absurd" not in paces.ratios
