"""Runs as a person meets them: the first disc, counts, bins, who has them, a recall; and the list of all."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from pressed import ANN, made, order_line, take_orders

from discwright.acts.dock import pack_orders
from discwright.acts.lots import inspect_lot
from discwright.acts.runs import run_for, stock_run
from discwright.desk import show_run, show_runs

RUN = "/runs/RU9-0"
#: A first disc as it should be (limits published: hole 7.24 to 7.33 mm, 0.2 mm off centre; weight by the house).
GOOD = {
    "hole_mm": "7,26", "off_centre_mm": "0.08", "weight_g": "140", "labels": "right", "played": "pass",
    "mark-A": "NL 4 lp A M1 S1", "mark-B": "nl 4 lp b  m1 s1",
}  # fmt: skip


def first_off(hall: Any, status: int = 303, **more: str) -> Any:
    run = run_for(hall.ledger, "RU9-0")[1]
    read = {f"stamper-{side}": number for side, number in run.stampers.items()}
    return hall.send(RUN, f"{RUN}/first-off", status, **GOOD | read | more)


def stocked(hall: Any, *bins: tuple[str, int]) -> None:
    """Passed, pressed, inspected and put into bins."""
    first_off(hall)
    count = sum(many for _, many in bins)
    hall.send(RUN, f"{RUN}/pressed", count=str(count + 5), good=str(count))
    made(inspect_lot(hall.ledger, "RU9-0", ANN, found={})[0])
    for name, many in bins:
        made(stock_run(hall.ledger, "RU9-0", name, ANN, count=many))


# The first disc ----------------------------------------------------------------------------------------


def test_limits_stand_beside_each_field_of_a_first_off(hall: Any) -> None:
    page = hall.text(RUN)
    # By hand: 0.2 mm at 60.325 mm is 0.3315 %, and 1200 log2(1.003315) = 5.73 cents; 5 % of 140 g are 7 g.
    for words in ("7.24 to 7.33 mm", "at most 0.2 mm: wow ± 0.33 %, ± 5.7 cents once a turn, at 60.325 mm",
                  "133 to 147 g", "the ledger has NL 4 lp A M1 S1", "begun with ST4-2"):  # fmt: skip
        assert words in page, words


def test_what_misses_is_told_with_its_limit_and_holds_the_run(hall: Any) -> None:
    first_off(hall, hole_mm="7.4", off_centre_mm="0,31", labels="wrong side", played="")
    page = hall.text(RUN)
    for words in ("missed", "hole 7.4 against 7.33 mm", "centring 0.31 against 0.2 mm", "labels The labels: wrong side",
                  "missing 6 against 7 checks", "± 0.51 %, ± 8.9 cents", "its first-off missed"):  # fmt: skip
        assert words in page, words
    assert "Note what was pressed" not in page
    # By hand: 0.31 / 60.325 is 0.514 %, and 1200 log2 of 1.00514 is 8.87 cents.
    first_off(hall)
    page = hall.text(RUN)
    assert page.index("passed") < page.index("missed")  # the last one first
    assert "Note what was pressed" in page
    assert "Write the first-off down" not in page


def test_what_cannot_be_read_is_said_and_nothing_is_lost(hall: Any) -> None:
    answer = first_off(hall, 422, weight_g="1,400", note="by the door")
    assert "could mean a thousand or a decimal" in answer.text
    for kept in ("7,26", "1,400", "by the door"):
        assert f'value="{kept}"' in answer.text
    assert run_for(hall.ledger, "RU9-0")[1].first_off == ""
    answer = first_off(hall, 422, off_centre_mm="90")
    assert "give less than the radius" in answer.text


def test_nothing_is_pressed_before_one_passes_unless_it_is_accepted(hall: Any) -> None:
    key = {"key": "pressed-1", "count": "10", "good": "9"}
    answer = hall.client.post(f"{RUN}/pressed", data=key)
    assert answer.status_code == 409
    assert "The first-off of RU9-0 was not inspected" in answer.text
    assert 'value="10"' in answer.text
    assert 'name="accepted"' in answer.text
    assert hall.client.post(f"{RUN}/pressed", data=key | {"accepted": "a trial"}).status_code == 303
    assert run_for(hall.ledger, "RU9-0")[1].made == 10


# Counts and bins ---------------------------------------------------------------------------------------


def test_counts_are_written_once_and_undone(hall: Any) -> None:
    first_off(hall)
    form = hall.form(RUN, f"{RUN}/pressed") | {"count": "640", "good": "620"}
    there = {hall.client.post(f"{RUN}/pressed", data=form).headers["location"] for _ in range(5)}
    assert len(there) == 1
    page = hall.text(there.pop())
    assert "Done: RU9-0 pressed, 640 pressings, 620 good." in page
    assert "640 of 1065 pressings" in page
    assert "Inspect 620 discs" in page
    undo = hall.form(f"{RUN}?done={hall.ledger.head()[0]}", "/station/undo")
    back = hall.client.post("/station/undo", data=undo).headers["location"]
    assert hall.client.get(back).headers["location"].startswith(f"{RUN}?done=")
    assert run_for(hall.ledger, "RU9-0")[1].made == 0
    assert "undone" in hall.text(RUN)


def test_more_good_ones_than_pressed_cannot_be(hall: Any) -> None:
    first_off(hall)
    answer = hall.send(RUN, f"{RUN}/pressed", 409, count="10", good="11")
    assert "11 good of 10 cannot be" in answer.text
    assert 'name="accepted"' not in answer.text  # what cannot be is accepted by nobody
    assert "give the count" in hall.send(RUN, f"{RUN}/pressed", 422, count="10", good="").text


def test_into_a_bin_and_out_of_it(hall: Any) -> None:
    stocked(hall, ("A-10", 200), ("A-2", 99))
    form = hall.form(RUN, f"{RUN}/take-out") | {"bin": "A-2", "count": "2", "note": "played"}
    page = hall.text(hall.client.post(f"{RUN}/take-out", data=form).headers["location"])
    assert "taken out of stock, 2 discs, bin A-2" in page
    assert page.index("A-2 97") < page.index("A-10 200")  # by hand: 2 before 10
    assert "in bins 297 discs" in page
    answer = hall.send(RUN, f"{RUN}/take-out", 409, bin="A-2", count="98")
    assert "Bin A-2 holds 97 of RU9-0, not 98" in answer.text
    # All that is accepted stands in bins: nothing more is put there.
    assert "Put into stock" not in page
    stale = {"bin": "A-2", "count": "5", "key": "late"}
    assert "has 0 accepted discs" in hall.client.post(f"{RUN}/stock", data=stale).text


def test_who_has_its_discs(hall: Any) -> None:
    stocked(hall, ("A-1", 100))
    take_orders(hall.ledger, order_line("7001", "K12", "NL 4/lp", 30), order_line("7002", "K7", "NL 4/lp", 20))
    assert pack_orders(hall.ledger, ANN, prefix="9501234").written
    page = hall.text(RUN)
    assert "K7 Shop K7 Harbour, NO 0 20 1" in page
    assert page.index("K7 Shop") < page.index("K12 Shop")  # by hand: 7 before 12
    rows = list(csv.DictReader(io.StringIO(hall.client.get(f"{RUN}/accounts.csv").text)))
    assert list(rows[0]) == list(show_run.ACCOUNT_COLUMNS)
    assert [(one["account"], one["here_discs"], one["sent_discs"]) for one in rows] == [
        ("K7", "20", "0"),
        ("K12", "30", "0"),
    ]


def test_a_recall_and_its_end(hall: Any) -> None:
    stocked(hall, ("A-1", 100))
    hall.send(RUN, f"{RUN}/recall", note="it is the wrong mix")
    page = hall.text(RUN)
    assert "This run was recalled: set its discs aside" in page
    assert "1 recalled" in hall.text("/runs")
    answer = hall.send(RUN, f"{RUN}/pressed", 409, count="10", good="10")
    assert "is recalled" in answer.text
    hall.send(RUN, f"{RUN}/recall", note="the mix was right")
    assert "recalled: set its discs aside" not in hall.text(RUN)


def test_a_recalled_lacquer_recalls_the_run(hall: Any) -> None:
    lacquer = next(one.id for one in hall.ledger.family("NL 4").parts.values() if one.kind == "lacquer")
    hall.client.post("/station/do", data={"part": lacquer, "kind": "recalled", "key": "r", "by": "Ada"})
    assert f"{lacquer}, which it comes from, was recalled or refused" in hall.text(RUN)


def test_back_to_lacquer_and_plan(hall: Any) -> None:
    page = hall.text(RUN).split("Back to lacquer and plan")[1]
    family = hall.ledger.family("NL 4")
    for part in family.parts.values():
        assert part.id in page
    assert f"cut from plan {'f' * 64} not in this folder" in page
    assert hall.client.get(f"{RUN}/code.svg").headers["content-type"] == "image/svg+xml"


# The list ----------------------------------------------------------------------------------------------


def test_open_runs_come_first_and_all_are_in_the_table(hall: Any) -> None:
    stocked(hall, ("A-1", 300))
    form = hall.form("/hall", "/hall/begin", edition="KV 900/lp")
    hall.client.post("/hall/begin", data=form)
    begun = next(iter(hall.ledger.family("KV 900").yard.runs))
    page = hall.text("/runs")
    assert "2 open 0 done with" in page  # the other one is still in its press
    assert page.index(begun) < page.index("RU9-0")
    answer = hall.client.get("/runs/runs.csv")
    rows = {row["run"]: row for row in csv.DictReader(io.StringIO(answer.text))}
    assert list(next(iter(rows.values()))) == list(show_runs.COLUMNS)
    own = rows["RU9-0"]
    assert (own["made_pressings"], own["good_discs"], own["stocked_discs"], own["to_stock_discs"]) == (
        "305", "300", "300", "0",
    )  # fmt: skip
    assert rows[begun]["waits_for"] == "waits for its first-off"
    assert own["begun_at"].endswith("+00:00") or "T" in own["begun_at"]


def test_a_long_list_has_pages(hall: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    hall.client.post("/hall/begin", data=hall.form("/hall", "/hall/begin", edition="KV 900/lp"))
    monkeypatch.setattr(show_runs, "PAGE", 1)
    assert "runs 1 to 1 of 2" in hall.text("/runs")
    assert "runs 2 to 2 of 2" in hall.text("/runs?first=1")
    assert "no runs" in hall.text("/runs?first=7")
    assert hall.client.get("/runs?first=-3").status_code == 200


# Who may -----------------------------------------------------------------------------------------------


#: By hand, from the table of who may record what: forms of a run's page that a role sees, with discs in a bin.
SEEN = {
    "keeper": {"pressed", "take-out", "recall"}, "engineer": {"take-out", "recall"}, "press": {"pressed", "take-out"},
    "packing": {"take-out"}, "plating": set(), "reader": set(),
}  # fmt: skip


def test_each_role_sees_and_sends_its_own_forms(hall: Any, sign: Any) -> None:
    stocked(hall, ("A-1", 100))
    sign("keeper")
    wrong = []
    for role, seen in SEEN.items():
        if role != "keeper":
            sign(role)
        page = hall.client.get(RUN).text
        shown = {one for one in ("first-off", "pressed", "stock", "take-out", "recall") if f'id="form-{one}"' in page}
        assert shown == seen, role
        for form, kind in (("pressed", "press"), ("take-out", ""), ("recall", "engineer"), ("stock", "")):
            answer = hall.client.post(f"{RUN}/{form}", data={"key": f"{role}-{form}"})
            allowed = form in seen or (form == "stock" and role in ("keeper", "press", "packing"))
            if (answer.status_code == 403) == allowed:
                wrong.append((role, form, kind, answer.status_code))
    assert wrong == []
