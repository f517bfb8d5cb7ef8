"""The microscope at the desk: a photograph is measured, shown with its correction, and written down."""

from __future__ import annotations

import html
import io
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from PIL import Image

from discwright.desk.guard import BODY_BYTES
from discwright.desk.micrographs import KEPT, MICROGRAPH_BYTES, Asked, Micrographs, plain_name

UM_PER_PIXEL = 0.5


def photograph(width_um: float = 52.0, pitch_um: float = 120.0) -> bytes:
    """Upright grooves, dark on light, a little soft and uneven."""
    columns = (np.arange(1400) + 0.5) * UM_PER_PIXEL
    inside = np.abs((columns - 40.0) % pitch_um - pitch_um / 2) < width_um / 2
    line = np.convolve(np.where(inside, 60.0, 190.0), np.hanning(9) / np.hanning(9).sum(), "same")
    grey = np.tile(line, (500, 1)) + np.random.default_rng(3).normal(0.0, 3.0, (500, 1400))
    packed = io.BytesIO()
    Image.fromarray(np.clip(grey, 0, 255).astype(np.uint8)).save(packed, "PNG")
    return packed.getvalue()


def text(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def sent(client: TestClient, packed: bytes | None = None, **asked: str) -> Any:
    query = {"name": "cut 7.png", "um_per_pixel": "0,5"} | asked
    body = photograph() if packed is None else packed
    return client.post("/microscope", params=query, content=body, headers={"Accept": "application/json"})


def test_a_photograph_is_measured_and_the_correction_told(client: TestClient) -> None:
    assert "Choose a photograph" in client.get("/microscope").text
    answer = sent(client, wanted_um="56")
    assert answer.status_code == 200, answer.text
    place = answer.json()["href"]
    said = text(client.get(place).text)
    # By hand: a groove of 90° is twice as wide as deep, so 4 µm of width are 2 µm of depth.
    assert "Lower the tip by 2.0 µm." in said
    assert "width 52.0 µm" in said
    assert "pitch 120.0 µm 212 lines per inch" in said
    assert "width 56.0 µm 52.0 µm −4.0 µm" in said
    picture = client.get(f"{place}/gauge.png")
    assert picture.headers["content-type"] == "image/png"
    assert Image.open(io.BytesIO(picture.content)).width > 500
    # The scale of the last one stands in the field of the next, and it is listed.
    again = client.get("/microscope").text
    assert 'value="0,5"' in again
    assert f'href="{place}"' in again


def test_the_same_photograph_with_other_numbers(client: TestClient) -> None:
    place = sent(client).json()["href"]
    assert "the correction is told" in text(client.get(place).text)
    form = {"um_per_pixel": "0.5", "plan": "weather-ship~lp-A", "turn": "5"}
    answer = client.post(f"{place}/again", data=form)
    assert answer.status_code == 303
    said = text(client.get(answer.headers["location"]).text)
    assert "least land" in said
    assert re.search(r"(Lower|Raise) the tip by", said)


@pytest.mark.parametrize(
    ("packed", "asked", "status", "words"),
    [
        (None, {"um_per_pixel": ""}, 422, "The scale of the photograph is missing; give µm per pixel."),
        (None, {"um_per_pixel": "1,234"}, 422, "could mean a thousand or a decimal"),
        (None, {"plan": "weather-ship~lp-A"}, 422, "The plan does not know where the photograph was taken; give the "
         "turn."),
        (None, {"plan": "../../etc"}, 404, "this plan is not in the folder"),
        (None, {"wanted_um": "5600"}, 422, "no groove is 5600 µm wide"),
        (b"", {}, 422, "no photograph arrived"),
        (b"no picture", {}, 422, "cut 7.png: is no picture that can be read"),
        (None, {"name": "n" * 101}, 422, "is missing or is not what it must be"),
    ],
)  # fmt: skip
def test_what_cannot_be_measured_is_a_sentence_and_is_not_kept(
    client: TestClient, folder: Any, packed: bytes | None, asked: dict[str, str], status: int, words: str
) -> None:  # fmt: skip
    answer = sent(client, packed, **asked)
    assert (answer.status_code, words.lower() in text(answer.text).lower()) == (status, True), text(answer.text)
    assert str(folder) not in answer.text
    assert [one.name for one in (folder / ".desk" / "micrographs").glob("*")] == []


def test_a_photograph_without_a_groove_says_what_was_seen(client: TestClient) -> None:
    packed = io.BytesIO()
    Image.new("L", (400, 400), 255).save(packed, "PNG")
    answer = sent(client, packed.getvalue())
    assert answer.status_code == 422
    assert "cut 7.png: the photograph is all white; light the lacquer so that grooves and land differ." in text(
        answer.text
    ).replace("Cut 7", "cut 7")


def test_only_the_newest_are_kept(tmp_path: Path) -> None:
    kept = Micrographs(tmp_path / "micrographs")
    for number in range(KEPT + 2):
        asked = Asked("a.png", "0.5", at=f"2031-04-02T09:{number:02d}:00+00:00")
        kept.add(asked, b"x", lambda _photo, _picture: {"width_um": {"mean": 52.0}})
    found = kept.all()
    assert len(found) == KEPT
    assert (found[0].asked.at[14:16], found[-1].asked.at[14:16]) == (f"{KEPT + 1}", "02")
    assert found[0].photograph.read_bytes() == b"x"


@pytest.mark.parametrize(
    ("name", "plain"),
    [("cut 7.png", "cut 7.png"), ("../../etc/passwd", "passwd"), ("C:\\a\\b.tif", "b.tif"), ("", "photograph"),
     ("..", "photograph"), ("n" * 90 + ".png", "n" * 46 + ".png"), ("a<b>\n.png", "a b .png")],
)  # fmt: skip
def test_a_name_is_never_a_path(name: str, plain: str) -> None:
    assert plain_name(name) == plain


def test_a_photograph_may_be_larger_than_a_form_but_not_endless(client: TestClient) -> None:
    assert len(photograph()) > BODY_BYTES
    answer = client.post("/microscope", content=b"x" * (MICROGRAPH_BYTES + 1))
    assert answer.status_code == 413
    assert client.post("/microscope/0/again", content=b"x" * (BODY_BYTES + 1)).status_code == 413


def test_what_was_measured_of_a_lacquer_is_written_down(metal: Any) -> None:
    lacquer = metal.cut()
    assert f'href="/microscope?part={lacquer}"' in metal.client.get(f"/works/parts/{lacquer}").text
    page = metal.client.get(f"/microscope?part={lacquer}").text
    assert '<option value="weather-ship~lp-A" selected>' in page
    place = sent(metal.client, part=lacquer, plan="weather-ship~lp-A", turn="5").json()["href"]
    page = metal.client.get(place).text
    assert f"Write it down for {lacquer}" in page
    form = dict(re.findall(r'name="(part|kind|key|width_um)" value="([^"]+)"', page))
    assert metal.client.post("/station/do", data=form).status_code == 303
    line = metal.api_part(lacquer)["events"][-1]
    assert line["kind"] == "checked_under_the_microscope"
    assert line["data"]["width_um"] == pytest.approx(52.0, abs=0.3)
