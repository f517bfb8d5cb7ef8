"""From press to dock: what cannot be, what stops, and that no disc ever appears or vanishes."""

from __future__ import annotations

from typing import Any

import pytest
from happenings import yard_wrongs
from hypothesis import given, settings
from hypothesis import strategies as st
from telling import TITLE, Teller

from discwright.works.family import family_as_dict, family_from
from discwright.works.lot_series import series_of
from discwright.works.parts import part_number
from discwright.works.yard import edition_code, order_key, title_of

CODE = f"{TITLE}/lp"
GOOD = {"class": "major", "aql": "1.0", "n": 80, "accept": 2, "reject": 3, "found": 1, "inspection": "normal"}
BAD = GOOD | {"found": 3}
WHERE = dict.fromkeys(("name", "address_1", "address_2", "city", "region", "postcode"), "x") | {"country": "NO"}


class Pressing(Teller):
    """A teller whose title has an approved stamper of each side at the press."""

    def __init__(self) -> None:
        super().__init__()
        self.stampers: dict[str, str] = {}
        self.mothers: dict[str, str] = {}
        for side in "AB":
            mother = self.grow(self.grow(self.cut(side, mark=f"HL 12 {side}")))
            stamper = self.grow(mother, mark="S1")
            self.say("approved", mother)
            self.say("put_to_press", stamper, press="2")
            self.stampers[side], self.mothers[side] = stamper, mother

    def begin(self, **more: Any) -> str:
        self.serial += 1
        number = part_number("run", self.serial)
        self.say("run_begun", number, **{"edition": "lp", "stampers": self.stampers} | more)
        return number

    def passed(self, run: str) -> None:
        self.say("first_off", run, hole_mm=7.3, off_centre_mm=0.05, weight_g=141.0, labels="right",
                 marks_read={"A": "HL 12 A S1", "B": "HL 12 B S1"}, played="pass", verdict="pass")  # fmt: skip

    def stocked(self, count: int = 100) -> str:
        """A run of which so many good discs stand in bin A-1."""
        run = self.begin()
        self.passed(run)
        self.say("run_pressed", run, count=count + 5, good=count)
        self.say("lot_inspected", run, count=count, verdict="accepted", results=[GOOD])
        self.say("stocked", run, bin="A-1", count=count)
        assert self.codes() == []
        return run

    def order(self, number: str = "7", account: str = "K1", count: int = 60) -> None:
        line = WHERE | {"order": number, "account": account, "edition": CODE, "count": count}
        self.say("orders_taken", orders=[line])

    def pack(self, run: str, sscc: str, bins: dict[str, int], order: str = "7", account: str = "K1") -> None:
        carton = {
            "sscc": sscc,
            "order": order,
            "account": account,
            "edition": CODE,
            "run": run,
            "bins": bins,
            "dock": "2",
        }
        self.say("cartons_packed", cartons=[carton])

    def why(self) -> str:
        """The sentence of the one impossible finding."""
        assert self.codes() == ["impossible"]
        return self.found[0].remedy


@pytest.fixture
def tale() -> Pressing:
    return Pressing()


def test_a_run_needs_heard_stampers_at_the_press(tale: Pressing) -> None:
    assert tale.begin() in tale.family.yard.runs
    assert tale.codes() == []
    tale.say("taken_off", tale.stampers["B"], count=10)
    tale.begin()
    assert tale.codes() == ["not_at_press"]
    tale.say("refused", tale.mothers["A"])
    tale.begin()
    assert set(tale.codes()) == {"not_at_press", "failed_part", "unapproved"}


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"edition": "ep"}, "no edition ep"),
        ({"stampers": {}}, "needs its stampers"),
        ({"stampers": {"A": "ST99-9"}}, "is no part of"),
        ({"stampers": {"A": "B"}}, "is side B of lp, not side A"),
        ({"stampers": {"A": "mother"}}, "is a mother, and nothing is pressed with it"),
    ],
)
def test_what_a_run_cannot_be_begun_with(tale: Pressing, said: dict[str, Any], words: str) -> None:
    if said.get("stampers") == {"A": "B"}:
        said = {"stampers": {"A": tale.stampers["B"]}}
    if said.get("stampers") == {"A": "mother"}:
        said = {"stampers": {"A": tale.mothers["A"]}}
    tale.begin(**said)
    assert words in tale.why()


def test_nothing_is_pressed_before_a_first_off_passes(tale: Pressing) -> None:
    run = tale.begin()
    tale.say("run_pressed", run, count=10, good=10)
    assert tale.codes() == ["first_off"]
    missed = {"code": "first_off_hole", "value": 7.4, "limit": 7.33, "unit": "mm", "remedy": "Look at the pin."}
    tale.say("first_off", run, hole_mm=7.4, verdict="stop", missed=[missed])
    assert [(one.code, one.severity) for one in tale.found] == [
        ("first_off", "note")
    ]  # it is written down all the same
    assert tale.family.yard.runs[run].first_off == "stop"
    tale.say("run_pressed", run, count=10, good=10)
    assert tale.codes() == ["first_off"]
    tale.passed(run)
    tale.say("run_pressed", run, count=10, good=10)
    assert tale.codes() == []


def test_a_stamper_wears_with_its_runs_before_it_is_taken_off(tale: Pressing) -> None:
    first = tale.begin()
    tale.passed(first)
    tale.say("run_pressed", first, count=600, good=590)
    second = tale.begin()
    tale.passed(second)
    worn = tale.part(tale.stampers["A"])
    assert (worn.pressings, tale.family.pressings_of(worn)) == (0, 600)
    tale.say("run_pressed", second, count=400, good=400)
    assert tale.codes() == []
    tale.say("run_pressed", second, count=1, good=1)
    assert [(one.code, one.severity, one.value, one.limit) for one in tale.found] == [
        ("press_life", "warn", 1001.0, 1000.0)
    ] * 2  # by hand, of both sides
    tale.say("taken_off", tale.stampers["A"], count=1001)
    assert tale.family.pressings_of(tale.part(tale.stampers["A"])) == 1001  # counted once
    tale.say("put_to_press", tale.stampers["A"], press="2")
    assert "press_life" in tale.codes()


def test_a_lot_is_judged_by_its_own_counts(tale: Pressing) -> None:
    run = tale.begin()
    tale.passed(run)
    tale.say("run_pressed", run, count=500, good=480)
    tale.say("lot_inspected", run, count=481, verdict="accepted", results=[GOOD])
    assert "480 discs to inspect, not 481" in tale.why()
    tale.say("lot_inspected", run, count=300, verdict="accepted", results=[BAD])
    assert "counts say refused" in tale.why()
    tale.say("lot_inspected", run, count=300, verdict="refused", results=[BAD], scrapped=3)
    known = tale.family.yard.runs[run]
    assert (known.to_inspect, known.held, known.to_stock) == (180, 297, 0)  # by hand
    tale.say("stocked", run, bin="A-1", count=1)
    assert "0 accepted discs" in tale.why()
    tale.say("lot_disposed", run, lot=1, disposition="sorted", good=298)
    assert "at most 297" in tale.why()
    tale.say("lot_disposed", run, lot=1, disposition="sorted", good=290)
    tale.say("stocked", run, bin="A-1", count=290)
    known = tale.family.yard.runs[run]
    assert (known.held, known.to_stock, known.stocked) == (0, 0, 290)
    tale.say("lot_disposed", run, lot=1, disposition="scrapped")
    assert "was sorted" in tale.why()


def test_switching_goes_on_from_lot_to_lot_and_stops_until_somebody_restarts(tale: Pressing) -> None:
    run = tale.begin()
    tale.passed(run)
    tale.say("run_pressed", run, count=5000, good=5000)
    states = []
    for _ in range(7):  # by hand: two refused tighten, five more refused stop
        tale.say("lot_inspected", run, count=300, verdict="refused", results=[BAD])
        states.append(series_of(tale.family.yard, "lp")["major"].state)
    assert states == ["normal", "tightened", "tightened", "tightened", "tightened", "tightened", "stopped"]
    tale.say("inspection_restarted", edition="lp", defect_class="minor", why="new mould")
    assert "is not stopped" in tale.why()
    tale.say("inspection_restarted", edition="lp", defect_class="major", why="new mould")
    assert series_of(tale.family.yard, "lp")["major"].state == "tightened"


def test_orders_are_taken_once_and_packed_no_more_than_they_want(tale: Pressing) -> None:
    run = tale.stocked()
    tale.order()
    tale.order()
    assert "has HL 12/lp already" in tale.why()
    tale.pack(run, "1", {"A-1": 25}, account="K2")
    assert "of account K2 has no" in tale.why()
    tale.pack(run, "1", {"A-1": 101})
    assert "holds 100" in tale.why()
    tale.pack(run, "1", {"A-1": 61})
    assert "waits for 60, not 61" in tale.why()
    tale.pack(run, "1", {"A-1": 25})
    tale.pack(run, "1", {"A-1": 25})
    assert "used before" in tale.why()
    tale.say("order_cancelled", order="7", edition=CODE)
    assert tale.family.yard.orders[order_key("7", CODE)].open == 0
    tale.pack(run, "2", {"A-1": 5})
    assert "waits for 0" in tale.why()


def test_a_carton_is_loaded_once_from_its_own_dock(tale: Pressing) -> None:
    run = tale.stocked()
    tale.order()
    tale.pack(run, "1", {"A-1": 25})
    tale.say("loaded", sscc="9", dock="2")
    assert "no carton that was packed here" in tale.why()
    tale.say("loaded", sscc="1", dock="3")
    assert tale.codes() == ["wrong_dock"]
    tale = Pressing()
    run = tale.stocked()
    tale.order()
    tale.pack(run, "1", {"A-1": 25})
    tale.say("loaded", sscc="1", dock="2", vehicle="van")
    assert tale.codes() == []
    tale.say("loaded", sscc="1", dock="2")
    assert "was loaded already" in tale.why()
    tale.say("carton_opened", sscc="1", bin="A-1")
    assert "was loaded already" in tale.why()


def test_an_opened_carton_gives_its_discs_back(tale: Pressing) -> None:
    run = tale.stocked()
    tale.order()
    tale.pack(run, "1", {"A-1": 25})
    tale.say("carton_opened", sscc="1", bin="B-2")
    known = tale.family.yard.runs[run]
    assert (known.bins, known.packed) == ({"A-1": 75, "B-2": 25}, 0)
    assert tale.family.yard.orders[order_key("7", CODE)].open == 60
    tale.say("loaded", sscc="1", dock="2")
    assert "was opened again" in tale.why()


def test_a_recalled_stamper_holds_every_disc_of_its_runs(tale: Pressing) -> None:
    run = tale.stocked()
    tale.order()
    tale.pack(run, "1", {"A-1": 25})
    tale.say("recalled", tale.mothers["A"])
    assert tale.family.recalled_for(tale.family.yard.runs[run]) == tale.mothers["A"]
    for kind, data in (("run_pressed", {"count": 1, "good": 1}),):
        tale.say(kind, run, **data)
        assert tale.codes() == ["recalled_run"]
    tale.say("loaded", sscc="1", dock="2")
    assert tale.codes() == ["recalled_run"]
    tale.pack(run, "2", {"A-1": 25})
    assert tale.codes() == ["recalled_run"]
    tale.say("approved", tale.mothers["A"])
    tale.say("recalled", run)
    assert tale.family.recalled_for(tale.family.yard.runs[run]) == run
    tale.say("approved", run)
    assert tale.family.recalled_for(tale.family.yard.runs[run]) == ""
    tale.say("approved", run)
    assert "was not recalled" in tale.why()
    tale.say("weighed", run, mass_g=3.0)
    assert "is a run and cannot be that" in tale.why()


def test_codes_of_editions_read_back() -> None:
    assert title_of(edition_code("AB/7 2", "lp")) == ("AB/7 2", "lp")
    assert title_of(edition_code("AB 7", "")) == ("AB 7", "")


STEPS = (
    "press",
    "lot",
    "decide",
    "stock",
    "out",
    "order",
    "cancel",
    "pack",
    "open",
    "load",
    "recall",
    "approve",
    "begin",
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(STEPS), st.integers(0, 40), st.integers(0, 40)), max_size=60))
def test_no_disc_appears_or_vanishes(story: list[tuple[str, int, int]]) -> None:
    """By another road: `yard_wrongs` adds cartons, lots and bins up one by one."""
    tale = Pressing()
    runs = [tale.stocked(300), tale.stocked(40)]
    for k in range(4):
        tale.order(f"first {k}", f"K{k % 3}", 70)
        tale.pack(runs[0], f"first {k}", {"A-1": 20 + k}, f"first {k}", f"K{k % 3}")
    for step, a, b in story:
        run, yard = runs[a % len(runs)], tale.family.yard
        bins = list(yard.runs[run].bins) or ["A-1"]
        sscc = list(yard.cartons)[a % len(yard.cartons)] if yard.cartons else "0"
        orders = list(yard.orders.values())
        order = orders[b % len(orders)].line if orders else None
        if step == "begin":
            runs.append(tale.begin())
            tale.passed(runs[-1])
        elif step == "press":
            tale.say("run_pressed", run, count=40 + a, good=40 + b)
        elif step == "lot":
            bad = b % 3 == 0
            tale.say("lot_inspected", run, count=1 + a, verdict="refused" if bad else "accepted",
                     results=[BAD if bad else GOOD], scrapped=b % 4)  # fmt: skip
        elif step == "decide":
            tale.say("lot_disposed", run, lot=1 + a % 4, disposition=("sorted", "scrapped", "released")[b % 3], good=b)
        elif step == "stock":
            tale.say("stocked", run, bin=f"A-{b % 3}", count=1 + a)
        elif step == "out":
            tale.say("taken_out", run, bin=bins[b % len(bins)], count=1 + a % 3)
        elif step == "order":
            tale.order(str(a), f"K{a % 3}", 1 + b)
        elif step == "cancel" and order is not None:
            tale.say("order_cancelled", order=order.order, edition=CODE)
        elif step == "pack" and order is not None:
            tale.pack(run, f"{len(yard.cartons)}", {bins[b % len(bins)]: 1 + b % 25}, order.order, order.account)
        elif step == "open":
            tale.say("carton_opened", sscc=sscc, bin="A-9")
        elif step == "load":
            tale.say("loaded", sscc=sscc, dock="2" if b % 2 else "3", accepted="so agreed" if b % 5 == 0 else "")
        elif step in ("recall", "approve"):
            tale.say(f"{step}ed" if step == "recall" else "approved", run)
        assert list(yard_wrongs(tale.family)) == []
    assert family_from(family_as_dict(tale.family)) == tale.family
