"""The dock as a person meets it: each scan answered in a word, what is missing, the vehicle's list; a carton's way."""

from __future__ import annotations

import csv
import html
import io
import re
from typing import Any

import pytest

from discwright.acts.dock import pack_orders
from discwright.acts.recalls import recall_run
from discwright.acts.works import Hand
from discwright.desk import show_dock as show

ANN = Hand("Ann", "packing")
WORD = re.compile(r'<p class="answer-word">.*?<span>([^<]+)</span>', re.S)


def scan(desk: Any, code: str, key: str = "", status: int = 200) -> tuple[str, str]:
    """Scan at the dock; the word and the sentence that come back."""
    answer = desk.client.post("/dock/load", data={"code": code, "key": key or f"k-{code}"})
    assert answer.status_code == status, answer.text
    word = WORD.search(answer.text)
    sentence = re.search(r'class="answer-sentence"[^>]*>([^<]+)<', answer.text)
    assert word is not None
    assert sentence is not None
    return word[1], html.unescape(sentence[1])


@pytest.fixture
def loading(dispatch: Any) -> Any:
    """K1 leaves from dock 1 (five cartons in two bundles), K2 from dock 2 (three in one); this device is dock 1."""
    told = pack_orders(dispatch.ledger, ANN, prefix="9521234", dock="1", docks={"K2": "2"}).as_dict()
    dispatch.cartons = told["cartons"]
    dispatch.bundles = told["bundles"]
    answer = dispatch.client.post("/dock/choose", data={"dock": " 1 ", "vehicle": "blue van"})
    assert answer.headers["location"] == "/dock"
    return dispatch


def of(desk: Any, account: str) -> list[str]:
    return [one["sscc"] for one in desk.cartons if one["account"] == account]


def test_nothing_is_loaded_before_a_dock_is_chosen(dispatch: Any) -> None:
    told = pack_orders(dispatch.ledger, ANN, prefix="9521234", dock="1").as_dict()
    assert 'id="scan"' not in dispatch.client.get("/dock").text
    word, sentence = scan(dispatch, told["cartons"][0]["sscc"], status=409)
    assert word == "not loaded"
    assert sentence.startswith("Choose the dock and the vehicle first")
    assert dispatch.client.post("/dock/choose", data={"dock": " "}).status_code == 422


def test_each_scan_has_its_word(loading: Any) -> None:
    first, other = of(loading, "K1")[0], of(loading, "K2")[0]
    assert scan(loading, f"]C100{first}") == (
        "loaded",
        "1 carton, 25 discs for K1 Shop K1; 4 cartons still to come at dock 1.",
    )
    assert scan(loading, first, key="again", status=409)[0] == "loaded before"
    assert scan(loading, other, status=409) == ("wrong dock", f"{other} leaves from dock 2, not 1; take it there.")
    assert scan(loading, "157035381410375177", status=404)[0] == "unknown"
    assert scan(loading, "hello", status=422)[0] == "not readable"
    assert scan(loading, "", status=422)[0] == "not readable"
    last = of(loading, "K1")[-1]
    recall_run(loading.ledger, next(one["run"] for one in loading.cartons if one["sscc"] == last), ANN, note="a tick")
    assert scan(loading, last, status=409)[0] == "recalled"


def test_no_two_answers_share_a_shape_or_a_word() -> None:
    known = (show.LOADED, show.WRONG_DOCK, show.BEFORE, show.RECALLED, show.UNKNOWN, show.UNREADABLE, show.OPENED,
             show.REFUSED)  # fmt: skip
    assert len({one.state for one in known}) == len({one.words for one in known}) == len(known)


def test_the_same_press_twice_is_one_load(loading: Any) -> None:
    first = of(loading, "K1")[0]
    assert [scan(loading, first, key="once")[0] for _ in range(3)] == ["loaded"] * 3
    kinds = [line.kind for line in loading.ledger.lines()]
    assert kinds.count("loaded") == 1


def test_a_bundle_loads_its_cartons_or_says_which_are_left(loading: Any) -> None:
    assert scan(loading, loading.bundles[0]["sscc"])[1].startswith("4 cartons, ")
    loading.client.post("/dock/choose", data={"dock": "2", "vehicle": ""})
    scan(loading, of(loading, "K2")[1])
    word, sentence = scan(loading, loading.bundles[2]["sscc"], status=409)
    assert word == "loaded before"
    assert sentence == "1 of the 3 cartons of this bundle went on before; scan the others one by one."


def test_an_opened_carton_is_none(loading: Any) -> None:
    first = of(loading, "K1")[0]
    form = {"sscc": first, "bin": "A-2", "key": "o"}
    assert loading.client.post("/packing/open", data=form).status_code == 303
    assert scan(loading, first, status=409)[0] == "opened again"


def test_what_is_missing_and_what_went_on(loading: Any) -> None:
    assert "5 cartons still to come" in loading.text("/dock")
    assert "K2" not in loading.text("/dock").split("Still to come")[1]
    for one in of(loading, "K1"):
        last = scan(loading, one)
    assert last[1].endswith("dock 1 has everything.")
    told = loading.text("/dock")
    assert "nothing more is packed for this dock" in told
    assert "blue van 5 85 " in told  # by hand: 55 and 30 discs
    page = html.unescape(loading.client.get("/dock").text)
    there = re.search(r'href="(/dock/load\.csv[^"]+)"', page)
    assert there is not None
    rows = list(csv.DictReader(io.StringIO(loading.client.get(there[1]).text)))
    assert tuple(rows[0]) == show.LOAD_HEADS
    assert [(one["vehicle"], one["account"]) for one in rows] == [("blue van", "K1")] * 5
    assert sum(int(one["count_discs"]) for one in rows) == 85
    assert loading.client.get("/dock/load.csv?dock=1&day=nonsense&vehicle=other").text.count("\n") == 1


def test_recalled_cartons_are_not_waited_for(loading: Any) -> None:
    run = next(one["run"] for one in loading.cartons if one["account"] == "K1" and one["edition"] == "NL 5/ep")
    recall_run(loading.ledger, run, ANN, note="labels")
    told = loading.text("/dock")
    assert "3 cartons still to come" in told
    assert "2 cartons recalled: set aside" in told


# A carton ----------------------------------------------------------------------------------------------


def test_a_scan_anywhere_leads_to_the_carton(loading: Any) -> None:
    first = of(loading, "K1")[0]
    for path in (f"/works/search?q={first}", f"/works/search?q=(00){first}", f"/station?code=%5DC100{first}"):
        assert loading.client.get(path).headers["location"] == f"/cartons/{first}", path
    found = loading.client.get("/works/search?q=K1").text
    assert "/orders?state=all" in found
    assert loading.client.get("/cartons/157035381410375177").status_code == 404
    assert loading.client.get("/cartons/hello").status_code == 404


def test_a_carton_leads_back_to_the_plan(loading: Any) -> None:
    first = loading.cartons[0]
    told = loading.text(f"/cartons/{first['sscc']}")
    for words in ("Order 1", f"Run {first['run']}", "account K1 Shop K1, Harbour, NO", "25 of 25", "side A", "side B",
                  "f" * 64, "NL 4 Name of NL 4"):  # fmt: skip
        assert words in told, words
    page = loading.client.get(f"/cartons/{first['sscc']}").text
    parts = re.findall(r'href="/works/parts/([A-Z]{2})', page)
    assert parts == ["ST", "MO", "MA", "LA"] * 2
    scan(loading, first["sscc"])
    assert "loaded" in loading.text(f"/cartons/{first['sscc']}")
    recall_run(loading.ledger, first["run"], ANN, note="a tick")
    assert "Set it aside; it must not leave." in loading.text(f"/cartons/{first['sscc']}")


def test_a_bundle_has_a_page_with_its_cartons(loading: Any) -> None:
    bundle = loading.bundles[0]
    page = loading.client.get(f"/cartons/{bundle['sscc']}").text
    assert "Bundle" in page
    assert all(one in page for one in bundle["cartons"])
