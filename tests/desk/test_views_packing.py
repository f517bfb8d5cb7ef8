"""The packing bench as a person meets it: packed once, walked, carton after carton, labels again, opened again."""

from __future__ import annotations

import csv
import io
import re
from typing import Any

import pypdfium2
import pytest

from discwright.desk import packing_papers
from discwright.desk.packing_papers import dock_pairs
from discwright.errors import CallError
from discwright.files.manifest import MANIFEST_HEADS, PICK_HEADS

PREFIX = "9521234"


def pack(desk: Any, status: int = 303, **more: str) -> Any:
    """Press Pack."""
    said = {"account": "", "serial_from": "1", "prefix": PREFIX, "dock": "2"} | more
    return desk.send("/packing", "/packing/pack", status, **said)


def rows_of(answer: Any) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(answer.text)))


def words_of(packed: bytes) -> str:
    """All words of a PDF, page after page."""
    with pypdfium2.PdfDocument(packed) as document:
        return "\n".join(page.get_textpage().get_text_bounded() for page in document)


def test_what_waits_what_is_short_and_by_which_rule(dispatch: Any) -> None:
    told = dispatch.text("/packing")
    for words in ("wait 165", "can be packed now 155", "accounts 2", "K1 1 NL 5/ep 2031-06-01 40 30 10",
                  "The earliest day wanted is served first", "10 discs short", "GS1 prefix of this works"):  # fmt: skip
        assert words in told, words
    assert told.index("K2 Shop K2") < told.index("K1 Shop K1")  # what is wanted first comes first
    assert "All lines share in proportion" in dispatch.text("/packing?rule=fair")
    assert dispatch.client.get("/packing?rule=nonsense&first=-3").status_code == 200


def test_packed_once_however_often_it_is_pressed(dispatch: Any) -> None:
    form = dispatch.form("/packing", "/packing/pack") | {"account": "", "prefix": PREFIX, "dock": "2", "own": "K2=3"}
    there = [dispatch.client.post("/packing/pack", data=form).headers["location"] for _ in range(3)]
    assert len(set(there)) == 1
    cartons = [one for title in ("NL 4", "NL 5") for one in dispatch.ledger.family(title).yard.cartons.values()]
    assert sum(one.count for one in cartons) == 155
    assert {(one.account, one.dock) for one in cartons} == {("K1", "2"), ("K2", "3")}
    # The prefix is asked for once; the docks are remembered by this device.
    page = dispatch.client.get("/packing").text
    assert 'name="prefix"' not in page
    assert dispatch.client.cookies["dock-default"] == "2"
    assert dispatch.client.cookies["dock-accounts"] == "K2%3D3"
    told = dispatch.text(there[0])
    # By hand: 55 in 3 cartons, 70 in 3, 30 in 2; those of K1 in two bundles, of K2 in one.
    for words in ("cartons 8", "bundles 3", "discs 155", "all here", "part-filled: 5 of 25"):
        assert words in told, words


def test_one_account_then_the_other(dispatch: Any) -> None:
    there = pack(dispatch, account="K2").headers["location"]
    assert "K1" not in dispatch.text(there)
    assert "85" in dispatch.text("/packing")  # what still can be packed
    again = pack(dispatch, account="K1").headers["location"]
    assert again != there
    assert "No order waits" not in dispatch.text("/packing")  # the backorder of K1 stays
    assert 'id="pack"' not in dispatch.client.get("/packing").text  # nothing can be packed now
    said = {"key": "again", "account": "K1"}
    refused = dispatch.client.post("/packing/pack", data=said)
    assert refused.status_code == 409
    assert "Nothing of what is ordered stands in a bin now" in refused.text
    assert dispatch.text("/packing").count("all here") == 2  # both packings


def test_refusals_stay_on_the_page_with_what_was_typed(dispatch: Any) -> None:
    for said, told in (({"prefix": ""}, "no GS1 prefix of this works is known"), ({"prefix": "12"}, "no GS1 company"),
                       ({"countries": "NO"}, "“NO” names no dock"), ({"per_carton": "0"}, "cannot be packed"),
                       ({"per_carton": "2,5"}, "is no whole number"), ({"rule": "luck"}, "no rule “luck”"),
                       ({"serial_from": "x"}, "is no whole number"),
                       ({"account": "K9"}, "No order waits")):  # fmt: skip
        page = pack(dispatch, 422, **said, key="k").text
        assert told in page, told
    assert 'value="NO"' in pack(dispatch, 422, countries="NO").text
    assert not dispatch.ledger.family("NL 4").yard.cartons


def test_docks_by_account_and_country() -> None:
    assert dock_pairs("NO=2, SE = 3;DE: north gate\n", "country") == {"NO": "2", "SE": "3", "DE": "north gate"}
    assert dock_pairs("", "account") == {}
    with pytest.raises(CallError, match="“= 3” names no dock"):
        dock_pairs("= 3", "account")


def test_walks_cartons_and_next(dispatch: Any) -> None:
    there = pack(dispatch).headers["location"]
    told = dispatch.text(there)
    assert told.index("A-2 ") < told.index("A-10 ") < told.index("C-1 ")
    first = dispatch.text(f"{there}?carton=1")
    for words in ("Carton 1 of 8", "25 × NL 4/lp", "Shop K1 Quay 1", "NORWAY", "1 of 5 for this address", "dock 2",
                  "6.2 kg", "bundle 1: cartons 1 to 4"):  # fmt: skip
        assert words in first, words
    # By hand: 25 × 230 g and a box of 400 g are 6.15 kg; the two of five discs and of 25 are no full bundle.
    last = dispatch.text(f"{there}?carton=8")
    assert "That was the last: to the list" in last
    packing = there.removeprefix("/packing/")
    there_next = dispatch.client.get(f"/packing/find?code=&packing={packing}&at=3").headers["location"]
    assert there_next == f"{there}?carton=4"
    assert dispatch.client.get(f"/packing/find?code=&packing={packing}&at=8").headers["location"] == f"{there}?carton=8"
    assert dispatch.client.get(f"{there}?carton=99").status_code == 200


def test_a_scan_finds_its_carton_and_a_bundle_its_first(dispatch: Any) -> None:
    there = pack(dispatch).headers["location"]
    rows = rows_of(dispatch.client.get(f"{there}/manifest.csv"))
    assert tuple(rows[0]) == MANIFEST_HEADS
    third = rows[2]["sscc"]
    for code in (third, f"]C100{third}", f"(00){third}"):
        found = dispatch.client.get("/packing/find", params={"code": code}).headers["location"]
        assert found == f"{there}?carton=3"
    bundle = rows[4]["bundle_sscc"]
    assert dispatch.client.get(f"/packing/find?code={bundle}").headers["location"] == f"{there}?carton=5"
    for code, told in (("hello", "holds no SSCC"), ("157035381410375177", "is no carton that was packed here")):
        answer = dispatch.client.get(f"/packing/find?code={code}&packing={there.removeprefix('/packing/')}&at=2")
        assert answer.status_code == 404
        assert told in answer.text
        assert "Carton 2 of 8" in answer.text
    assert dispatch.client.get("/packing/157035381410375177").status_code == 404


def test_labels_and_lists_again(dispatch: Any) -> None:
    there = pack(dispatch).headers["location"]
    packed = dispatch.client.get(f"{there}/labels.pdf")
    assert packed.headers["content-type"] == "application/pdf"
    words = words_of(packed.content)
    rows = rows_of(dispatch.client.get(f"{there}/manifest.csv"))
    with pypdfium2.PdfDocument(packed.content) as document:
        assert len(document) == 8 + 3  # a label for each carton and each bundle
    assert all(one["sscc"] in words.replace(" ", "") for one in rows)
    one = words_of(dispatch.client.get(f"{there}/labels.pdf?carton=2").content).replace(" ", "")
    assert rows[1]["sscc"] in one
    assert rows[0]["sscc"] not in one
    assert dispatch.client.get(f"{there}/labels.pdf?carton=9").status_code == 404
    walks = rows_of(dispatch.client.get(f"{there}/pick-list.csv"))
    assert tuple(walks[0]) == PICK_HEADS
    assert sum(int(one["count"]) for one in walks) == 155


def test_labels_of_a_large_packing_come_in_portions(dispatch: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    there = pack(dispatch).headers["location"]
    whole = words_of(dispatch.client.get(f"{there}/labels.pdf").content)
    monkeypatch.setattr(packing_papers, "PORTION", 3)
    page = dispatch.client.get(there).text
    places = re.findall(rf'href="({there}/labels\.pdf\?first=\d)"', page)
    assert [one[-1] for one in places] == ["0", "3", "6"]
    assert "Labels of cartons 7 to 8 (PDF)" in page
    # Together they are all of them, each once and in their order; a bundle's follows the last of its cartons.
    assert "\n".join(words_of(dispatch.client.get(one).content) for one in places) == whole
    assert dispatch.client.get(f"{there}/labels.pdf?first=8").status_code == 404


def test_the_label_printer_of_this_device(dispatch: Any) -> None:
    there = pack(dispatch).headers["location"]
    said = {"packing": there.removeprefix("/packing/"), "page": "A4", "dpi": "300", "sender": "Nordlys Works;Pier 3"}
    assert dispatch.client.post("/packing/printer", data=said).headers["location"] == there
    packed = dispatch.client.get(f"{there}/labels.pdf").content
    with pypdfium2.PdfDocument(packed) as document:
        assert len(document) == 3  # by hand: eleven labels, four on a sheet
    assert "Nordlys Works" in words_of(packed)
    for wrong, told in (
        ({"page": "A0"}, "no page “A0”"),
        ({"dpi": "0"}, "dots to the inch"),
        ({"dpi": "1e3"}, "dots"),
    ):
        answer = dispatch.client.post("/packing/printer", data=said | wrong)
        assert answer.status_code == 422
        assert told in answer.text


def test_a_carton_is_opened_again(dispatch: Any) -> None:
    there = pack(dispatch).headers["location"]
    form = dispatch.form(f"{there}?carton=2", "/packing/open")
    assert dispatch.client.post("/packing/open", data=form | {"bin": "Z-9"}).headers["location"] == f"{there}?carton=2"
    told = dispatch.text(f"{there}?carton=2")
    assert "opened again" in told
    assert "It was opened" not in told
    assert "Z-9" in dispatch.text("/stock")
    assert "lp 25 2031" not in told
    # Its label is printed no more, and the bundle's has one carton less.
    assert len(rows_of(dispatch.client.get(f"{there}/manifest.csv"))) == 7
    again = dispatch.client.post("/packing/open", data=form | {"bin": "Z-9", "key": "x"})
    assert again.status_code == 409
    assert "is no carton any more" in again.text


def test_a_hundred_cartons_to_a_page(dispatch: Any) -> None:
    there = pack(dispatch, per_carton="1", per_bundle="10").headers["location"]
    assert "cartons 1 to 100 of 155" in dispatch.text(there)
    assert "cartons 101 to 155 of 155" in dispatch.text(f"{there}?first=100")
    # A carton of one disc is a full one, then and whenever its label is printed.
    assert "full" in dispatch.text(f"{there}?carton=1")
    assert "part-filled" not in dispatch.text(there)
