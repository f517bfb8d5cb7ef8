"""The ledger's pages as a person meets them: begin, take in, cut, look, print."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import Any

import pdfplumber
import pytest
from fastapi.testclient import TestClient

from discwright.desk.app import create_app
from discwright.desk.show_board import COLUMNS

FAMILY = "/works/titles/OKW%200042"


def test_a_folder_without_a_ledger_says_so_and_begins_one(client: TestClient, folder: Path) -> None:
    for path in ("/works", "/station"):
        assert "No ledger yet" in client.get(path).text
    for path in (FAMILY, "/works/parts/ST1042-0", "/works/board.csv", "/api/works/board"):
        answer = client.get(path)
        assert answer.status_code == 404
        assert "this folder has no ledger yet; begin one" in answer.text.lower()
    assert client.post("/works/begin").headers["location"] == "/works"
    assert list(folder.glob("*ledger*")) or list(folder.glob("works.*"))
    assert "No title is in the works" in client.get("/works").text


def test_a_title_is_taken_in_once(client: TestClient) -> None:
    client.post("/works/begin")
    client.cookies.set("operator", "Ada")
    board = client.get("/works").text
    key = re.search(r'name="key" value="([0-9a-f]{24})"', board)
    assert key is not None
    assert "Notes from a Weather Ship" in board
    form = {"title": "weather-ship~title", "key": key[1]}
    assert [client.post("/works/take-in", data=form).headers["location"] for _ in range(2)] == [FAMILY, FAMILY]
    assert "Not taken in yet" not in client.get("/works").text
    again = client.post("/works/take-in", data=form | {"key": "another"})
    assert again.status_code == 422
    assert "was taken in on" in again.text


def test_nothing_is_written_by_nobody(client: TestClient) -> None:
    client.post("/works/begin")
    answer = client.post("/works/take-in", data={"title": "weather-ship~title", "key": "k"})
    assert answer.status_code == 422
    assert "Nobody is named" in answer.text


def test_a_lacquer_is_cut_from_a_plan_of_the_folder(metal: Any) -> None:
    page = metal.client.get(FAMILY).text
    # The matrix number of the plan is offered as the mark; the blank of a 12-inch has 14 inches (by hand: 355.6 mm).
    assert 'value="OKW 0042' in page
    assert 'value="355.6"' in page
    form = {
        "catalogue": "OKW 0042", "edition": "lp", "side": "A", "plan": "weather-ship~lp-A", "lacquer": "B-77",
        "mark": "OKW-A", "tip": "T9", "tip_hours": "11,5", "blank_mm": "355,6", "heat_a": "0.6", "key": "cut-1",
    }  # fmt: skip
    there = metal.client.post("/works/cut", data=form).headers["location"]
    assert re.fullmatch(r"/works/parts/LA1-\d", there)
    part = metal.client.get(there).text
    for told in (
        "lacquer, positive (+)",
        "11.5 h",
        "B-77",
        "OKW-A",
        "as they stand here",
        "Checked under the microscope",
    ):
        assert told in part
    # The kept plan leads to the planned side.
    assert 'href="/plans/weather-ship~lp-A"' in part
    assert metal.client.post("/works/cut", data=form).headers["location"] == there


def test_a_number_that_could_be_two_is_refused(metal: Any) -> None:
    form = {"catalogue": "OKW 0042", "edition": "lp", "side": "A", "plan": "weather-ship~lp-A", "lacquer": "B"}
    answer = metal.client.post("/works/cut", data=form | {"tip_hours": "1,234", "key": "x"})
    assert answer.status_code == 422
    assert "could mean a thousand or a decimal" in answer.text


def test_a_plan_is_kept_without_cutting(metal: Any) -> None:
    form = {"catalogue": "OKW 0042", "edition": "lp", "side": "A", "plan": "weather-ship~lp-A", "key": "keep-1"}
    assert metal.client.post("/works/keep", data=form).headers["location"] == FAMILY
    page = metal.client.get(FAMILY).text
    assert "to cut from" in page
    assert "+12.0 dB" in page


def test_the_board_counts_in_words_and_shows_what_is_late(metal: Any) -> None:
    metal.family()
    page = metal.client.get("/works").text
    for told in (
        "nothing is late",
        "1 in the works",
        "0 finished",
        "no restore was ever tried",
        "the press",
        "due 2031-05-30",
    ):
        assert told in page
    assert "Nothing is finished yet" in metal.client.get("/works?finished=true").text


def test_the_whole_board_as_csv(metal: Any) -> None:
    _, _, _, stamper = metal.family()
    answer = metal.client.get("/works/board.csv")
    assert answer.headers["content-type"].startswith("text/csv")
    rows = list(csv.reader(io.StringIO(answer.text)))
    assert tuple(rows[0]) == COLUMNS
    assert rows[1][:6] == ["OKW 0042", "Notes from a Weather Ship", "lp", "A", "12in-33", stamper]
    told = dict(zip(rows[0], rows[1]))
    assert (told["waits_for"], told["due"], told["pressings_ordered"], told["late"]) == (
        "the press",
        "2031-05-30",
        "300",
        "no",
    )
    # Times have the works' offset.
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d[+-]\d\d:\d\d", told["since"])


@pytest.mark.parametrize("query", ["{stamper}", "]Q1{stamper}%0A", "{lower}", "B-77"])
def test_a_whole_number_leads_straight_to_its_part(metal: Any, query: str) -> None:
    lacquer, _, _, stamper = metal.family()
    answer = metal.client.get(f"/works/search?q={query.format(stamper=stamper, lower=stamper.lower())}")
    assert answer.headers.get("location") == f"/works/parts/{lacquer if query == 'B-77' else stamper}"


def test_other_numbers_lead_to_a_list_or_to_a_sentence(metal: Any) -> None:
    metal.family()
    assert "OKW 0042" in metal.client.get("/works/search?q=okw").text
    assert "No number of the ledger begins so" in metal.client.get("/works/search?q=zzz").text
    missing = metal.client.get("/works/search?q=ST1042-0")
    assert missing.status_code == 404
    assert "no part has this number here" in missing.text


def test_a_negative_says_that_its_marks_are_mirrored(metal: Any) -> None:
    _, master, mother, stamper = metal.family()
    for part, told in (
        (master, "in mirror image on this part"),
        (stamper, "in mirror image"),
        (mother, "as they stand here"),
    ):
        assert told in metal.client.get(f"/works/parts/{part}").text


def test_what_was_undone_stays_and_is_struck_through(metal: Any) -> None:
    _, master, _, _ = metal.family()
    seq = metal.record(master, "weighed", value=210, unit="g")["seq"]
    assert "210 g" in metal.client.get(f"/works/parts/{master}").text
    metal.client.post("/station/undo", data={"seq": str(seq), "key": "undo-1", "part": master})
    page = metal.client.get(f"/works/parts/{master}").text
    row = page[page.index(f'id="line-{seq}"') : page.index(f'id="line-{seq + 1}"')]
    assert "undone" in row
    assert "<s>" in row
    assert f"line {seq} was never so" in page
    # Its weight is known no more.
    assert ">210 g<" not in page


def test_what_is_printed(metal: Any) -> None:
    lacquer, master, _, stamper = metal.family()
    for path, words in (
        (f"/works/parts/{stamper}/label.pdf", stamper), (f"/works/parts/{stamper}/sheet.pdf", "50 mm by a rule?"),
        ("/works/labels/OKW%200042", lacquer), (f"/works/parts/{master}/card.pdf", master),
        (f"/works/parts/{lacquer}/next-card.pdf", lacquer),
    ):  # fmt: skip
        answer = metal.client.get(path)
        assert answer.headers["content-type"] == "application/pdf"
        with pdfplumber.open(io.BytesIO(answer.content)) as pdf:
            assert words in "\n".join(page.extract_text() for page in pdf.pages)
    assert metal.client.get(f"/works/parts/{stamper}/next-card.pdf").status_code == 404
    code = metal.client.get(f"/works/parts/{stamper}/code.svg")
    assert code.headers["content-type"] == "image/svg+xml"


def test_times_are_of_the_works_zone_and_named(metal: Any) -> None:
    lacquer = metal.cut()
    ledger = metal.client.app.state.desk.folder.ledger
    ledger.set("zone", "Asia/Kathmandu")
    line = next(line for line in ledger.lines(part=lacquer))
    page = metal.client.get(f"/works/parts/{lacquer}").text
    assert "times of Asia/Kathmandu" in page
    # by another road: Nepal is 5 h 45 min ahead of UTC.
    hours, minutes = int(line.at[11:13]), int(line.at[14:16])
    later = (hours * 60 + minutes + 345) % 1440
    assert f"{later // 60:02d}:{later % 60:02d}" in page


def test_a_shared_ledger_is_shown_without_a_folder(metal: Any, folder: Path) -> None:
    lacquer = metal.cut()
    metal.client.app.state.desk.close()
    app = create_app(None, ("127.0.0.1:8333",), ledger=str(folder))
    with TestClient(app, base_url="http://127.0.0.1:8333") as client:
        for path in ("/works", FAMILY, f"/works/parts/{lacquer}", f"/station?code={lacquer}"):
            assert client.get(path).status_code == 200
        assert "not in this folder" in client.get(f"/works/parts/{lacquer}").text


def test_a_catalogue_number_with_a_blank_is_come_back_to(metal: Any) -> None:
    page = metal.client.get(FAMILY).text
    assert f'name="here" value="{FAMILY}"' in page
    assert re.search(r'href="/works" aria-current="true"', page)
    there = metal.client.post("/units", data={"units": "inch", "here": FAMILY}).headers["location"]
    assert there == FAMILY
