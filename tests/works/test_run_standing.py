"""Where a run is: every wait by hand, from begun to the bin."""

from __future__ import annotations

from dataclasses import replace

import pytest

from discwright.works.family import Family, Part
from discwright.works.run_standing import RUN_WAITS, at_work, run_standing
from discwright.works.yard import Lot, Run, Yard

RUN = Run("RU9-1", "lp", "2", stampers={"A": "ST7-3", "B": "ST8-2"}, planned=500, begun=10)


def family(run: Run, *others: Run, state: str = "at_press", press: str = "2", verdict: str = "") -> Family:
    parts = {
        number: Part(number, "stamper", side, "lp", state=state, press=press, verdict=verdict)
        for side, number in RUN.stampers.items()
    }
    return Family("NL 4", parts=parts, yard=Yard({one.id: one for one in (run, *others)}))


# By hand: each row is what stands in the ledger, and what then is left to do.
@pytest.mark.parametrize(
    ("told", "waits"),
    [
        ({}, ("first_off",)),
        ({"first_off": "stop"}, ("first_off_missed",)),
        ({"first_off": "pass"}, ("pressing",)),
        ({"first_off": "pass", "made": 300, "good": 290}, ("pressing", "inspection")),
        ({"first_off": "pass", "made": 500, "good": 490}, ("inspection",)),
        ({"first_off": "pass", "made": 500, "good": 490, "lots": (Lot(1, 490, "refused", scrapped=1),)}, ("decision",)),
        ({"first_off": "pass", "made": 500, "good": 490, "lots": (Lot(1, 490, "accepted", good=490),)}, ("stocking",)),
        (
            {"first_off": "pass", "made": 500, "good": 490, "lots": (Lot(1, 490, "accepted", good=490),),
             "bins": {"A-1": 300}, "packed": 189, "out": 1},
            (),
        ),
    ],
)  # fmt: skip
def test_what_a_run_waits_for(told: dict[str, object], waits: tuple[str, ...]) -> None:
    run = replace(RUN, **told)  # type: ignore[arg-type]
    found = run_standing(family(run), run)
    assert found.waits == waits
    assert found.open == bool(waits)
    assert set(waits) <= set(RUN_WAITS)


def test_a_run_has_its_press_until_its_stampers_leave_it_or_another_run_begins() -> None:
    assert at_work(family(RUN), RUN)
    assert not at_work(family(RUN, state="taken_off"), RUN)
    assert not at_work(family(RUN, press="3"), RUN)
    assert not at_work(family(RUN, Run("RU10-9", "lp", "2", stampers={"A": "ST7-3"}, begun=20)), RUN)
    assert at_work(family(RUN, Run("RU5-9", "lp", "2", stampers={"A": "ST7-3"}, begun=2)), RUN)
    assert run_standing(family(RUN, state="taken_off"), RUN).waits == ()


def test_a_recalled_run_is_open_while_any_of_it_is_here() -> None:
    bad = family(RUN, verdict="recalled")
    assert run_standing(bad, RUN) == run_standing(bad, RUN)
    assert (run_standing(bad, RUN).waits, run_standing(bad, RUN).recalled_for) == (("recalled",), "ST7-3")
    gone = replace(RUN, made=500, good=500, lots=(Lot(1, 500, "accepted", good=500),), packed=500)
    assert run_standing(family(gone, state="scrapped", verdict="recalled"), gone).waits == ()


def test_a_tape_has_no_stampers_and_no_press() -> None:
    tape = Run("RU11-2", "reel", planned=40, begun=5)
    assert run_standing(Family("NL 4", yard=Yard({tape.id: tape})), tape).waits == ("first_off",)
    made = replace(tape, first_off="pass", made=40, good=40)
    assert run_standing(Family("NL 4", yard=Yard({made.id: made})), made).waits == ("inspection",)
