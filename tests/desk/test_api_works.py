"""The ledger's API: one shape of refusals, stops with their findings, keys that make sending twice harmless."""

from __future__ import annotations

import io
from typing import Any

import pypdfium2
import pytest
from PIL import Image

from discwright.files.part_label import PartLabel, label_pdf


def test_a_family_is_told_whole(metal: Any) -> None:
    lacquer, master, mother, stamper = metal.family()
    told = metal.client.get("/api/works/titles/OKW%200042").json()
    assert [(one["id"], one["parent"], one["sign"]) for one in told["parts"]] == [
        (lacquer, None, "+"), (master, lacquer, "-"), (mother, master, "+"), (stamper, mother, "-"),
    ]  # fmt: skip
    part = metal.api_part(stamper)
    assert (part["up"], part["down"], part["marks"]) == ([mother, master, lacquer], [], ["OKW-A", "M1", "S1"])
    assert [one["kind"] for one in part["steps"] if one["expected"]] == ["put_to_press"]
    board = metal.client.get("/api/works/board").json()
    assert board["titles"][0]["sides"][0]["waits_for"] == "press"


def test_an_event_is_one_line_however_often_it_is_sent(metal: Any) -> None:
    lacquer = metal.cut()
    body = {"part": lacquer, "kind": "silvered", "key": "scales-1"}
    first, second = (metal.api("events", **body) for _ in range(2))
    assert (first["seq"], first["repeated"], second["repeated"]) == (second["seq"], False, True)
    other = metal.client.post("/api/works/events", json=body | {"kind": "scrapped"})
    assert other.status_code == 422
    assert "for something else" in other.json()["sentence"]


def test_values_are_taken_in_their_units(metal: Any) -> None:
    _, master, _, _ = metal.family()
    metal.record(master, "weighed", value=0.2125, unit="kg")
    # by hand
    assert metal.api_part(master)["events"][-1]["data"] == {"mass_g": pytest.approx(212.5)}
    answer = metal.client.post("/api/works/events", json={"part": master, "kind": "weighed", "value": 3, "unit": "mm"})
    assert answer.status_code == 422
    assert set(answer.json()) == {"sentence"}


def test_a_stop_is_409_with_its_findings(metal: Any) -> None:
    lacquer = metal.cut()
    metal.grow(lacquer)
    answer = metal.client.post("/api/works/grow", json={"parent": lacquer})
    assert answer.status_code == 409
    told = answer.json()
    assert [one["code"] for one in told["findings"]] == ["generation"]
    assert told["sentence"].startswith("Nothing was written. ")
    accepted = metal.api("grow", parent=lacquer, accepted="the first was torn")
    assert accepted["findings"][0]["accepted"] == "the first was torn"


def test_a_test_cut_is_of_the_title(metal: Any) -> None:
    written = metal.api("events", title="OKW 0042", kind="test_cut_measured", value=62, unit="µm")
    assert (written["part"], written["title"]) == ("", "OKW 0042")


@pytest.mark.parametrize(
    ("path", "body", "status"),
    [
        ("events", {"part": "ST1042-0", "kind": "silvered"}, 404),
        ("events", {"part": "nonsense", "kind": "silvered"}, 404),
        ("events", {"kind": "silvered"}, 422),
        ("events", {"part": "ST1042-0", "kind": "melted"}, 422),
        ("events", {"title": "OKW 9", "kind": "test_cut_measured", "value": 1, "unit": "mm"}, 404),
        ("grow", {"parent": "ST1042-0"}, 404),
        ("cut", {"plan": "nope", "title": "OKW 0042", "side": "A", "lacquer": "B"}, 404),
        ("cut", {"plan": "weather-ship~lp-A", "title": "OKW 0042", "side": "B", "lacquer": "B"}, 422),
        ("events", {"part": "LA1-7", "kind": "silvered", "note": "\u0000"}, 422),
    ],
)
def test_refusals_have_one_shape(metal: Any, path: str, body: dict[str, Any], status: int) -> None:
    metal.cut()
    answer = metal.client.post(f"/api/works/{path}", json=body)
    assert (answer.status_code, set(answer.json())) == (status, {"sentence"})


@pytest.mark.parametrize("path", ["titles/nope", "parts/ST1042-0", "parts/x"])
def test_what_is_not_there(metal: Any, path: str) -> None:
    answer = metal.client.get(f"/api/works/{path}")
    assert (answer.status_code, set(answer.json())) == (404, {"sentence"})


def test_a_search_takes_scans_too(metal: Any) -> None:
    lacquer = metal.cut()
    for asked in (lacquer, f"]Q1{lacquer}\r", "B-77"):
        found = metal.client.get("/api/works/search", params={"q": asked}).json()
        assert lacquer in {one["part"] for one in found}


def photograph(*labels: str) -> bytes:
    """Labels side by side, turned, small enough to be sent as any request."""
    bench = Image.new("L", (600 * len(labels), 500), 130)
    for at, number in enumerate(labels):
        label = pypdfium2.PdfDocument(label_pdf(PartLabel(number, "part")))[0].render(scale=2.2).to_pil().convert("L")
        bench.paste(label.rotate(31, expand=True, fillcolor=130), (600 * at + 120, 100))
    packed = io.BytesIO()
    bench.save(packed, "JPEG", quality=60)
    return packed.getvalue()


def test_a_photograph_is_read_on_the_server(metal: Any) -> None:
    def sent(packed: bytes) -> Any:
        return metal.client.post("/api/works/photo", content=packed, headers={"content-type": "image/jpeg"})

    assert sent(photograph("ST1042-0")).json() == {"number": "ST1042-0", "sentence": "", "texts": ["ST1042-0"]}
    two = sent(photograph("ST1042-0", "ST104-2")).json()
    assert (two["number"], two["sentence"]) == (
        "",
        "ST104-2 and ST1042-0 are in the photograph; take it of one code alone.",
    )
    blank = io.BytesIO()
    Image.new("L", (300, 200), 90).save(blank, "PNG")
    assert "No code was found" in sent(blank.getvalue()).json()["sentence"]
    assert sent(b"no picture").status_code == 422
    assert sent(b"").status_code == 422
