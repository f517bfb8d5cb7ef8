"""Pages and API of the desk without a browser: what is shown, what is refused and how, what a button does."""

from __future__ import annotations

import html
import json
import re
import shutil
import time
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from discwright.desk.app import create_app
from discwright.desk.shelf import Shelf

HTMX = {"HX-Request": "true"}


def ids(folder: Path) -> tuple[str, str]:
    """The title and its planned side."""
    found = Shelf(folder).found()
    return next(iter(found.titles)), next(one for one in found.plans if "lp-A" in one)


def wait(client: TestClient, job: str) -> dict[str, object]:
    """A job when it has ended."""
    while True:
        facts: dict[str, object] = client.get(f"/api/jobs/{job}").json()
        if facts["state"] not in ("waiting", "running"):
            return facts
        time.sleep(0.1)


def text_of(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def test_every_page_answers(client: TestClient, folder: Path) -> None:
    title, plan = ids(folder)
    for path in ("/", f"/titles/{title}", f"/plans/{plan}", "/plans/bare", "/patterns"):
        answer = client.get(path)
        assert answer.status_code == 200, path
        assert answer.headers["content-type"] == "text/html; charset=utf-8"
        assert "script-src 'self'" in answer.headers["content-security-policy"]


def test_numbers_of_a_page_are_those_of_the_plan(client: TestClient, folder: Path) -> None:
    _, plan = ids(folder)
    document = json.loads((folder / "weather-ship" / "lp-A" / "plan.json").read_text(encoding="utf-8"))
    page = text_of(client.get(f"/plans/{plan}").text)
    assert "+12.0 dB" in page
    assert f"{document['start_radius_mm']:.1f} mm → {document['end_radius_mm']:.1f} mm" in page
    assert f"{document['mean_pitch_um']:.1f} µm" in page
    for finding in document["findings"]:
        assert " ".join(finding["remedy"].split()) in page
    assert client.get(f"/api/plans/{plan}").json() == document


def test_inches_and_looks_are_each_persons_own(client: TestClient, folder: Path) -> None:
    _, plan = ids(folder)
    answer = client.post("/units", data={"units": "inch", "here": f"/plans/{plan}?x_um=3"})
    assert (answer.status_code, answer.headers["location"]) == (303, f"/plans/{plan}?x_um=3")
    assert "lines per inch" in text_of(client.get(f"/plans/{plan}").text)
    assert client.get(f"/api/plans/{plan}/time?at_s=5").json()["words"][2][1].endswith(" in")
    assert client.post("/look", data={"look": "dark", "here": "//elsewhere.example/"}).headers["location"] == "/"
    assert 'data-look="dark"' in client.get("/").text
    assert client.post("/units", data={"units": "furlong"}).status_code == 422


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/nonsense", 404), ("/plans/..%2f..%2fetc", 404), ("/plans/nope", 404), ("/titles/nope", 404),
        ("/plans/bare/files/..%2fplan.json", 404), ("/plans/bare/files/title.toml", 404), ("/jobs/../../x", 404),
        ("/jobs/0000000000000000", 404), ("/static/../app.py", 404), ("/plans/bare/files/sheet.pdf", 404),
    ],
)  # fmt: skip
def test_what_is_not_there_is_a_sentence(client: TestClient, path: str, status: int) -> None:
    answer = client.get(path)
    assert answer.status_code == status
    assert "nope" not in text_of(answer.text)
    assert "Traceback" not in answer.text


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/api/plans/nope", 404), ("/api/plans/bare/tiles/vinyl/99/0/0.png", 422),
        ("/api/plans/bare/tiles/vinyl/10/-1/0.png", 422), ("/api/plans/bare/tiles/vinyl/3/5/0.png", 422),
        ("/api/plans/bare/tiles/wood/3/0/0.png", 422), ("/api/plans/bare/tiles/vinyl/x/0/0.png", 422),
        ("/api/plans/bare/place?x_um=nan&y_um=0", 422), ("/api/plans/bare/place?x_um=1", 422),
        ("/api/plans/bare/time?at_s=1e9", 422), ("/api/plans/bare/strip?points=1", 422),
        ("/api/plans/bare/clips?at_s=-5", 422), ("/api/plans/bare/clips?at_s=5&tip=/etc/passwd", 422),
        ("/api/plans/bare/clips/other.wav?frame=0", 422), ("/api/nonsense", 404), ("/api/jobs/nope", 404),
    ],
)  # fmt: skip
def test_every_refusal_of_the_api_has_one_shape(client: TestClient, path: str, status: int) -> None:
    answer = client.get(path)
    assert answer.status_code == status, answer.text
    assert list(answer.json()) == ["sentence"]
    assert answer.json()["sentence"].endswith(".")
    assert "passwd" not in answer.text


def test_other_sites_cannot_post(client: TestClient) -> None:
    answer = client.post("/look", data={"look": "dark"}, headers={"Origin": "http://elsewhere.example"})
    assert answer.status_code == 403
    assert client.get("/", headers={"Host": "elsewhere.example"}).status_code >= 400


def test_forms_that_are_none_of_ours(client: TestClient) -> None:
    for content, kind in ((b"\xff=%", "application/x-www-form-urlencoded"), (b"{}", "application/json"), (b"x", "")):
        answer = client.post("/units", content=content, headers={"content-type": kind})
        assert answer.status_code == 422
    many = "&".join(f"a{i}=1" for i in range(100))
    kind = {"content-type": "application/x-www-form-urlencoded"}
    assert client.post("/units", content=many, headers=kind).status_code == 422


def test_tiles_come_as_png_and_are_not_sent_twice(client: TestClient, folder: Path) -> None:
    _, plan = ids(folder)
    for layer in ("vinyl", "land", "echo"):
        first = client.get(f"/api/plans/{plan}/tiles/{layer}/10/1/1.png")
        assert first.content.startswith(b"\x89PNG")
    again = client.get(f"/api/plans/{plan}/tiles/echo/10/1/1.png", headers={"If-None-Match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_a_what_if_stands_beside_and_can_be_kept_or_dropped(client: TestClient, folder: Path) -> None:
    _, plan = ids(folder)
    before = (folder / "weather-ship" / "lp-A" / "plan.json").read_bytes()
    begun = client.post(f"/plans/{plan}/what-if", data={"level": "fixed", "level_db": "4,5"}, headers=HTMX)
    assert begun.status_code == 200
    job = client.get("/api/jobs").json()[0]
    ended = wait(client, job["id"])
    assert ended["state"] == "done", ended["sentence"]
    href = str(ended["href"])
    page = text_of(client.get(href).text)
    assert "+4.50 dB" in page
    assert "−7.50 dB" in page
    dropped = client.post(f"{href}/drop")
    assert (dropped.status_code, dropped.headers["location"]) == (303, f"/plans/{plan}")
    assert client.post(f"{href}/drop").headers["location"] == href
    kept = client.post(f"{href}/keep")
    assert kept.status_code == 303
    assert (folder / "weather-ship" / "lp-A-2" / "plan.json").is_file()
    assert client.get(kept.headers["location"]).status_code == 200
    assert client.get(href).status_code == 404
    assert client.post(f"{kept.headers['location']}/drop").status_code == 422
    assert (folder / "weather-ship" / "lp-A" / "plan.json").read_bytes() == before


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"level": "fixed", "level_db": "loud"}, "is not a number"),
        ({"level": "fixed", "level_db": "90"}, "must lie between"),
        ({"level": "other"}, "choose one"),
        ({"format": "../../secret.toml"}, "comes with the program"),
        ({"tip": "no-such-tip"}, "here is no tip"),
        ({"bass_blend_hz": "1e9"}, "is not a number"),
        ({"high_cut_hz": "99999"}, "must lie between 5 and 30000"),
    ],
)
def test_a_what_if_that_cannot_be(client: TestClient, fields: dict[str, str], sentence: str) -> None:
    answer = client.post("/plans/bare/what-if", data=fields)
    assert answer.status_code == 422
    told = text_of(answer.text)
    assert client.get("/api/jobs").json() == []
    assert sentence in told
    assert "secret" not in told


def test_choosing_a_layout_writes_the_title_file_and_minds_two_tabs(client: TestClient, folder: Path) -> None:
    title, _ = ids(folder)
    job = client.post(f"/api/titles/{title}/layout", json={"edition": "ep"}).json()["job"]
    assert wait(client, job["id"])["state"] == "done"
    layouts = client.get(f"/api/titles/{title}/layouts").json()
    sides = layouts["ep"]["candidates"][0]["sides"]
    sha256 = client.get(f"/api/titles/{title}").json()["sha256"]
    path = folder / "weather-ship" / "title.toml"
    chosen = {"edition": "ep", "candidate": "1", "sha256": sha256}
    assert client.post(f"/titles/{title}/choose", data=chosen).status_code == 303
    assert path.read_text(encoding="utf-8").startswith("# kept comment\n")
    fixed = client.get(f"/api/titles/{title}").json()["editions"][1]["sides"]
    assert fixed == {one["letter"]: one["bands"] for one in sides}
    # The other tab still shows the file as it was.
    late = client.post(f"/titles/{title}/choose", data=chosen)
    assert late.status_code == 422
    assert "changed" in text_of(late.text)
    assert client.post(f"/titles/{title}/choose", data={"edition": "ep", "candidate": "99"}).status_code == 422


def test_a_button_pressed_twice_begins_one_job(client: TestClient, folder: Path) -> None:
    title, _ = ids(folder)
    first, second = (client.post(f"/api/titles/{title}/plan", json={"edition": "lp"}).json()["job"] for _ in range(2))
    assert first["id"] == second["id"]
    assert client.post(f"/api/jobs/{first['id']}/stop").json()["state"] == "stopped"
    assert client.post(f"/api/titles/{title}/plan", json={"edition": "reel"}).status_code == 422
    assert client.post(f"/api/titles/{title}/plan", json={"edition": "lp", "side": "Z"}).status_code == 422
    assert client.post(f"/api/titles/{title}/plan", json={"what": 1}).status_code == 422


def test_work_that_has_ended_is_put_aside_and_what_came_of_it_stays(client: TestClient, folder: Path) -> None:
    title, _ = ids(folder)
    job = client.post(f"/api/titles/{title}/layout", json={"edition": "ep"}).json()["job"]["id"]
    assert client.post(f"/jobs/{job}/aside").status_code == 422
    assert wait(client, job)["state"] == "done"
    assert "lay out ep" in text_of(client.get("/").text)
    assert client.post(f"/jobs/{job}/aside", headers=HTMX).text == ""
    assert "lay out ep" not in text_of(client.get("/").text)
    assert "ep" in client.get(f"/api/titles/{title}/layouts").json()


def test_planning_again_takes_nothings_place(client: TestClient, folder: Path) -> None:
    title, plan = ids(folder)
    job = client.post(f"/api/titles/{title}/plan", json={"edition": "lp", "side": "A"}).json()["job"]
    ended = wait(client, job["id"])
    assert ended["state"] == "done", ended["sentence"]
    assert (folder / "weather-ship" / "lp-A-2" / "sheet.pdf").is_file()
    assert ended["href"] != f"/plans/{plan}"
    page = client.get(str(ended["href"]))
    assert page.status_code == 200
    # It was made ready with it.
    assert client.get(f"/api{ended['href']}/map").json()["prepared"] is True


def test_a_title_is_made_of_a_folder_of_audio(client: TestClient, folder: Path) -> None:
    loose = next(iter(Shelf(folder).found().loose))
    made = client.post("/titles/new", data={"folder": loose, "name": "Two Tapes", "format": "7in-45"})
    assert made.status_code == 303
    facts = client.get(f"/api{made.headers['location']}").json()
    assert facts["name"] == "Two Tapes"
    assert [one["name"] for one in facts["bands"]] == ["later", "last"]  # 2 before 10
    assert client.post("/titles/new", data={"folder": loose}).status_code == 404


def test_sides_and_plans_for_programs(client: TestClient, folder: Path) -> None:
    title, plan = ids(folder)
    sides = client.get(f"/api/titles/{title}/sides").json()
    assert [(one["edition"], one["side"], one["bands"]) for one in sides] == [("lp", "A", ["first", "second"])]
    assert [one["plan"] for one in sides[0]["plans"]] == [plan]
    assert {one["plan"] for one in client.get("/api/plans").json()} == {plan, "bare"}


def test_bookmarks_come_back(client: TestClient) -> None:
    place = {"words": " the loud place ", "x_um": 1000.0, "y_um": -5.5, "wide_um": 200.0}
    made = client.post("/api/plans/bare/bookmarks", json=place).json()
    assert client.get("/api/plans/bare/bookmarks").json() == [place | {"words": "the loud place", "id": made["id"]}]
    assert client.delete(f"/api/plans/bare/bookmarks/{made['id']}").status_code == 204
    assert client.delete(f"/api/plans/bare/bookmarks/{made['id']}").status_code == 404
    for wrong in ({"words": ""}, {"wide_um": 0}, {"x_um": 1e99}, {"other": 1}):
        assert client.post("/api/plans/bare/bookmarks", json=place | wrong).status_code == 422


def test_files_that_are_missing_can_be_made(client: TestClient, folder: Path) -> None:
    _, plan = ids(folder)
    assert client.post(f"/plans/{plan}/make", data={"file": "../../x"}).status_code == 422
    assert client.post(f"/plans/{plan}/make", data={"file": "spiral.svg"}, headers=HTMX).status_code == 200
    assert wait(client, client.get("/api/jobs").json()[0]["id"])["state"] == "done"
    answer = client.get(f"/plans/{plan}/files/spiral.svg")
    assert answer.headers["content-type"] == "image/svg+xml"
    assert "default-src 'self'" in answer.headers["content-security-policy"]


def test_a_plan_that_is_deleted_meanwhile_is_a_plain_message(client: TestClient, folder: Path) -> None:
    assert client.get("/plans/bare").status_code == 200
    shutil.rmtree(folder / "bare")
    time.sleep(0.6)
    for path in ("/plans/bare", "/api/plans/bare/map", "/api/plans/bare/tiles/vinyl/3/0/0.png"):
        answer = client.get(path)
        assert answer.status_code == 404
        assert "o longer" in text_of(answer.text)


def test_without_a_folder_recent_ones_are_offered(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    with TestClient(create_app(folder, ("127.0.0.1:1",)), base_url="http://127.0.0.1:1") as first:
        assert first.get("/").status_code == 200
    with TestClient(create_app(None, ("127.0.0.1:1",)), base_url="http://127.0.0.1:1") as second:
        page = second.get("/")
        assert str(folder) in text_of(page.text)
        assert second.get("/api/titles").status_code == 404
        assert second.post("/open", data={"number": "7"}).status_code == 422
        assert second.post("/open", data={"number": "1"}).status_code == 200
        assert len(second.get("/api/titles").json()) == 1
