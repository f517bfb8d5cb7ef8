"""The pages of test plays as a person meets them: send, look, keep, judge, lay over one another, drop."""

from __future__ import annotations

import hashlib
import html
import io
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from fastapi.testclient import TestClient

from discwright.desk import jobs
from discwright.desk.plays import Plays


@pytest.fixture(autouse=True)
def _waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    """Jobs wait: what is tried here are the pages, not the inspection."""
    monkeypatch.setattr(jobs, "AT_ONCE", 0)


def plays(metal: Any) -> Plays:
    found: Plays = metal.client.app.state.desk.folder.plays
    return found


def fingerprint(metal: Any) -> str:
    return str(metal.client.get("/api/plans/weather-ship~lp-A").json()["fingerprint"])


def put(metal: Any, make_play: Any, report: dict[str, Any] | None, part: str, **more: str) -> str:
    return str(make_play(plays(metal).place, report, part, fingerprint=fingerprint(metal), **more))


def text(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def key(page: str, kind: str) -> str:
    """The key that a form of the page was given."""
    form = page[page.index('action="/plays/', page.index(f'/{kind}"') - 60) :]
    found = re.search(r'name="key" value="(\w+)"', form)
    assert found is not None
    return found[1]


def sound(seconds: float = 1.0) -> bytes:
    packed = io.BytesIO()
    soundfile.write(packed, np.zeros((round(44_100 * seconds), 2)), 44_100, format="WAV")
    return packed.getvalue()


def sent(client: TestClient, name: str = "a.wav") -> str:
    """A capture that has arrived and was checked; its upload."""
    data = sound()
    begun = client.post("/api/uploads", json={"name": name, "size": len(data)}).json()
    place = f"/api/uploads/{begun['upload']}"
    assert client.put(f"{place}?offset=0", content=data).status_code == 200
    done = client.post(f"{place}/finish", json={"sha256": hashlib.sha256(data).hexdigest()})
    assert done.json()["state"] == "ready", done.text
    return str(begun["upload"])


# Sending -------------------------------------------------------------------------------------------------


def test_a_capture_of_a_mother_becomes_a_play_and_a_job(metal: Any) -> None:
    _, _, mother, _ = metal.family()
    upload = sent(metal.client)
    assert "a.wav" in text(metal.client.get(f"/works/parts/{mother}").text)
    answer = metal.client.post("/plays", data={"part": mother, "upload": upload, "tip": "none"})
    assert answer.status_code == 303
    (play,) = plays(metal).all()
    assert answer.headers["location"] == f"/plays/{play.id}"
    assert (play.about.part, play.about.by, play.about.tip) == (mother, "Ada", "none")
    assert play.about.fingerprint == fingerprint(metal)
    job = metal.client.app.state.desk.folder.jobs.get(play.about.job)
    assert (job.kind, job.about, job.state) == ("play", mother, "waiting")
    assert job.arguments == {
        "capture": str(play.capture), "plan": str(plays(metal).place.parents[1] / "weather-ship" / "lp-A"),
        "tip": "none", "out": str(play.result),
    }  # fmt: skip
    # It is no upload any more, and waits on the page of its part and on its own.
    assert metal.client.get("/api/uploads").json()["uploads"] == []
    for path in (f"/works/parts/{mother}", f"/plays/{play.id}"):
        page = metal.client.get(path).text
        assert f'id="job-{job.id}"' in page
        assert "waits for its turn" in page


def test_with_script_the_answer_is_the_job_itself(metal: Any) -> None:
    _, _, _, stamper = metal.family()
    form = {"part": stamper, "upload": sent(metal.client), "pressing": " 3 of 5 "}
    answer = metal.client.post("/plays", data=form, headers={"HX-Request": "true"})
    assert answer.status_code == 200
    assert "data-job=" in answer.text
    assert plays(metal).all()[0].about.pressing == "3 of 5"
    assert "Which pressing" in metal.client.get(f"/works/parts/{stamper}").text


@pytest.mark.parametrize(
    ("fields", "status", "words"),
    [
        ({"part": "{master}", "upload": "{upload}"}, 422, "A master is a negative and no disc to play"),
        ({"part": "{mother}", "upload": ""}, 422, "no capture was chosen; drop one, or choose a file."),
        ({"part": "{mother}", "upload": "0" * 32}, 422, "There is no such upload; begin it again."),
        ({"part": "ST1042-0", "upload": "{upload}"}, 404, "no part has this number here"),
        ({"part": "{mother}", "upload": "{upload}", "tip": "/etc/passwd"}, 422, "comes with the program"),
    ],
)
def test_what_cannot_be_played_is_a_sentence(metal: Any, fields: dict[str, str], status: int, words: str) -> None:
    _, master, mother, _ = metal.family()
    known = {"master": master, "mother": mother, "upload": sent(metal.client)}
    form = {name: value.format(**known) for name, value in fields.items()}
    answer = metal.client.post("/plays", data=form)
    assert (answer.status_code, words.lower() in text(answer.text).lower()) == (status, True), text(answer.text)
    assert plays(metal).all() == []
    assert len(metal.client.get("/api/uploads").json()["uploads"]) == 1


def test_a_part_whose_plan_is_elsewhere_says_so(metal: Any, folder: Path) -> None:
    _, _, mother, _ = metal.family()
    (folder / "weather-ship" / "lp-A").rename(folder.parent / "elsewhere")
    metal.client.app.state.desk.folder.shelf.forget()
    page = metal.client.get(f"/works/parts/{mother}").text
    assert "The plan it was cut from is not in this folder; open the folder that holds it." in page
    assert 'id="play-form"' not in page


def test_a_master_has_no_test_plays(metal: Any) -> None:
    _, master, _, _ = metal.family()
    assert 'id="plays"' not in metal.client.get(f"/works/parts/{master}").text


# Looking -------------------------------------------------------------------------------------------------


def test_the_page_of_a_play(metal: Any, make_play: Any, reported: Any) -> None:
    _, _, mother, _ = metal.family()
    play = put(metal, make_play, reported(), mother)
    answer = metal.client.get(f"/plays/{play}")
    assert answer.status_code == 200
    page = answer.text
    said = text(page)
    for words in (
        "3 faults, 2 to be heard; 1 warning.", "held against the proof with an invented tip", "hole off the spiral's "
        "centre 0.31 mm 0 0.2 mm beyond", "tick 1, 1 heard", "Play another pressing.", "Keep this play",
        "0:05.850 tick 3 145.00 mm 90.0° left +14.0 dB 0.2 ms heard", "0:09.000 crackle",
    ):  # fmt: skip
        assert words in said, words
    assert page.count('<tr class="fault') == 3
    assert f'data-play="{play}" data-plan="weather-ship~lp-A"' in page
    assert f'/plays/{play}/files/capture.flac"' in page
    assert "Approve" not in said
    # It stands on its part's page, and leads back there.
    assert f'href="/plays/{play}"' in metal.client.get(f"/works/parts/{mother}").text
    assert f'href="/works/parts/{mother}"' in page


def test_a_play_that_failed_says_why_and_can_be_tried_again(metal: Any, make_play: Any) -> None:
    _, _, mother, _ = metal.family()
    play = put(metal, make_play, None, mother)
    folder = metal.client.app.state.desk.folder
    page = metal.client.get(f"/plays/{play}").text
    assert "not inspected yet" in page
    assert metal.client.post(f"/plays/{play}/again", data={"tip": ""}).status_code == 303
    first = folder.plays.get(play).about.job
    # Asked for twice, it is done once.
    metal.client.post(f"/plays/{play}/again", data={"tip": ""})
    assert folder.plays.get(play).about.job == first
    folder.jobs.stop(first)
    jobs.write_json(folder.jobs.folder / first / "trouble.json", {"state": "failed", "sentence": "a.wav: is silent."})
    folder.jobs._ended.clear()
    page = metal.client.get(f"/plays/{play}").text
    assert "a.wav: is silent." in page
    assert "Inspect it once more" in page


def test_files_of_a_play(metal: Any, make_play: Any, reported: Any) -> None:
    _, _, mother, _ = metal.family()
    play = put(metal, make_play, reported(), mother)
    for name, kind in (("inspect.png", "image/png"), ("inspect.json", "application/json"),
                       ("difference.flac", "audio/flac")):  # fmt: skip
        answer = metal.client.get(f"/plays/{play}/files/{name}")
        assert (answer.status_code, answer.headers["content-type"]) == (200, kind)
    for name in ("play.json", "a.wav", "inspect.toml"):
        assert metal.client.get(f"/plays/{play}/files/{name}").status_code == 404
    result = plays(metal).get(play).result
    (result / "inspect.png").unlink()
    (result / "inspect.png").symlink_to(result / "inspect.json")
    assert metal.client.get(f"/plays/{play}/files/inspect.png").status_code == 404


# Writing -------------------------------------------------------------------------------------------------


def test_kept_then_refused_with_a_reason(metal: Any, make_play: Any, reported: Any) -> None:
    _, _, _, stamper = metal.family()
    play = put(metal, make_play, reported(verdict="stop"), stamper, pressing="3")
    page = metal.client.get(f"/plays/{play}").text
    form = {"key": key(page, "keep"), "reason": "three ticks"}
    assert metal.client.post(f"/plays/{play}/refuse", data={"key": "r", "reason": "early"}).status_code == 409
    assert metal.client.post(f"/plays/{play}/keep", data=form).status_code == 303
    assert metal.client.post(f"/plays/{play}/keep", data=form).status_code == 303  # pressed twice
    again = metal.client.post(f"/plays/{play}/keep", data={"key": "another"})
    assert again.status_code == 409
    assert "was kept already, as line" in text(again.text)
    told = metal.api_part(stamper)
    (line,) = [one for one in told["events"] if one["kind"] == "test_played"]
    assert line["data"]["report"] == f"desk play {play}"
    assert line["data"]["verdict"] == "stop"
    assert line["data"]["pressing"] == "3"
    assert len(line["data"]["defects"]) == 3
    page = metal.client.get(f"/plays/{play}").text
    assert f"Kept as line {line['seq']}" in page
    without = metal.client.post(f"/plays/{play}/refuse", data={"key": key(page, "refuse"), "reason": " "})
    assert (without.status_code, "cannot be refused without a reason" in without.text) == (422, True)
    form = {"key": key(page, "refuse"), "reason": "a skip in turn 9"}
    assert metal.client.post(f"/plays/{play}/refuse", data=form).status_code == 303
    told = metal.api_part(stamper)
    assert (told["events"][-1]["kind"], told["events"][-1]["data"]["note"]) == ("refused", "a skip in turn 9")
    assert metal.client.post(f"/plays/{play}/drop").status_code == 422
    assert metal.client.post(f"/plays/{play}/again", data={}).status_code == 422


def test_a_play_that_passed_is_approved_without_a_word(metal: Any, make_play: Any, reported: Any) -> None:
    _, _, _, stamper = metal.family()
    play = put(metal, make_play, reported([]), stamper)
    metal.client.post(f"/plays/{play}/keep", data={"key": "k1"})
    page = metal.client.get(f"/plays/{play}").text
    assert f"Approve {stamper}" in page
    assert metal.client.post(f"/plays/{play}/approve", data={"key": key(page, "approve")}).status_code == 303
    assert metal.api_part(stamper)["events"][-1]["kind"] == "approved"
    page = metal.client.get(f"/plays/{play}").text
    assert f"Approve {stamper}" not in page  # that verdict stands
    assert f"Refuse {stamper}" in page


def test_what_was_undone_can_be_kept_again(metal: Any, make_play: Any, reported: Any) -> None:
    _, _, mother, _ = metal.family()
    play = put(metal, make_play, reported(), mother)
    metal.client.post(f"/plays/{play}/keep", data={"key": "k1"})
    seq = plays(metal).get(play).kept
    metal.client.post("/station/undo", data={"seq": str(seq), "key": "u1", "part": mother})
    assert "Keep this play" in metal.client.get(f"/plays/{play}").text
    assert metal.client.post(f"/plays/{play}/keep", data={"key": "k2"}).status_code == 303
    assert plays(metal).get(play).kept > seq


def test_without_a_report_nothing_is_kept(metal: Any, make_play: Any) -> None:
    _, _, mother, _ = metal.family()
    play = put(metal, make_play, None, mother)
    answer = metal.client.post(f"/plays/{play}/keep", data={"key": "k"})
    assert answer.status_code == 409
    assert "was not inspected yet" in text(answer.text)


def test_a_play_that_was_not_kept_is_dropped(metal: Any, make_play: Any, reported: Any) -> None:
    _, _, mother, _ = metal.family()
    play = put(metal, make_play, reported(), mother)
    answer = metal.client.post(f"/plays/{play}/drop")
    assert (answer.status_code, answer.headers["location"]) == (303, f"/works/parts/{mother}")
    assert metal.client.get(f"/plays/{play}").status_code == 404


# Over one another ----------------------------------------------------------------------------------------


def test_plays_over_one_another(metal: Any, make_play: Any, reported: Any, faulty: Any) -> None:
    _, _, mother, stamper = metal.family()
    seqs = []
    for part, told in ((mother, [faulty("tick", 3.25), faulty("tick", 6.5)]), (stamper, [faulty("tick", 3.2505)])):
        play = put(metal, make_play, reported(told), part)
        metal.client.post(f"/plays/{play}/keep", data={"key": f"k-{part}"})
        seqs.append(plays(metal).get(play).kept)
    page = metal.client.get(f"/plays/{play}").text
    assert page.count('type="checkbox" id="over-') == 2
    assert f'value="{seqs[1]}" checked' in page
    answer = metal.client.get(f"/plays?line={seqs[0]}&line={seqs[1]}")
    assert answer.status_code == 200
    said = text(answer.text)
    assert "1 in every play" in said
    assert "1 in one alone" in said
    assert "1 of 2 shared" in said
    rows = re.findall(r'<tr class="fault.*?</tr>', answer.text, re.DOTALL)
    assert [row.count('class="spot-mark"') for row in rows] == [2, 1]
    assert [re.findall(r'data-shape="(play-\d)"', row) for row in rows] == [["play-1", "play-2"], ["play-1"]]
    one = metal.client.get(f"/plays?line={seqs[0]}")
    assert (one.status_code, "choose so many" in one.text) == (422, True)
    assert metal.client.get("/plays?line=x&line=y").status_code == 422


def test_a_fault_without_radius_is_drawn_where_the_plan_has_it(
    metal: Any, make_play: Any, reported: Any, faulty: Any, side_a: Any
) -> None:  # fmt: skip
    _, _, mother, _ = metal.family()
    bare = faulty("tick", 3.25, radius_mm=None)
    seqs = []
    for number in range(2):
        play = put(metal, make_play, reported([bare]), mother)
        metal.client.post(f"/plays/{play}/keep", data={"key": f"k{number}"})
        seqs.append(plays(metal).get(play).kept)
    page = metal.client.get(f"/plays?line={seqs[0]}&line={seqs[1]}").text
    # By another road: a quarter turn after 12 o'clock, on the spiral of the plan.
    radius = float(np.interp(3.25 * 1.8, side_a.rows.time, side_a.rows.radius)) * 1e6
    x = float(re.findall(r'data-x-um="([-.\d]+)"', page)[0])
    assert x == pytest.approx(-radius, abs=1.0)


def test_every_sentence_for_a_missing_plan(metal: Any, make_play: Any, reported: Any, folder: Path) -> None:
    _, _, mother, _ = metal.family()
    play = put(metal, make_play, reported(), mother)
    (folder / "weather-ship" / "lp-A").rename(folder.parent / "elsewhere")
    metal.client.app.state.desk.folder.shelf.forget()
    page = metal.client.get(f"/plays/{play}").text
    assert 'id="map-picture"' not in page
    assert f'src="/plays/{play}/files/inspect.png"' in page
    answer = metal.client.post(f"/plays/{play}/again", data={})
    assert (answer.status_code, "not in this folder" in answer.text) == (422, True)
