"""The press hall as a person meets it: what is on each press, what waits, runs that begin."""

from __future__ import annotations

import csv
import io
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from pressed import ANN, made, stamper_of, take_title

from discwright.acts.hall import plan_jobs
from discwright.acts.hall_ledger import keep_schedule, kept_schedule
from discwright.acts.works_record import Said, record
from discwright.desk.show_hall import PRESS_COLUMNS, WAITING_COLUMNS, at_presses, hall_families
from discwright.works import events as e
from discwright.works.hall import ChangeMinutes, Hall, Job, Press, Shift
from discwright.works.parts import part_number
from discwright.works.store.ledger import Order


def run_of(hall: Any, title: str) -> str:
    return str(next(reversed(hall.ledger.family(title).yard.runs)))


def stampers(hall: Any, title: str) -> dict[str, str]:
    parts = hall.ledger.family(title).parts.values()
    return {one.side: one.id for one in parts if one.kind == "stamper"}


def test_a_folder_without_a_ledger_says_so(one_desk: Any, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    one_desk.app.state.desk.open(tmp_path / "empty")
    for path in ("/hall", "/runs"):
        assert "No ledger yet" in one_desk.get(path).text
    assert one_desk.get("/hall/presses.csv").status_code == 404


def test_each_press_shows_what_is_on_it(hall: Any) -> None:
    page = hall.text("/hall")
    assert "1 run in the presses 1 waits for a first-off" in page
    press = page.split("With what is on each now")[1].split("Waits for a press")[0]
    assert "Press 2" in press
    for words in ("Name of NL 4", "RU9-0 first-off 0 of 1065 pressings", "Name of KV 900", "0 of 1000 pressings"):
        assert words in press
    assert "No schedule is kept yet." in page
    waiting = page.split("Nothing is pressed before the first disc passes")[1].split("Presses")[0]
    assert "NL 4/lp press 2 RU9-0 first-off" in waiting


def test_presses_stand_in_the_order_of_their_numbers(hall: Any) -> None:
    mother = next(one.id for one in hall.ledger.family("KV 900").parts.values() if one.kind == "mother")
    for press in ("10", "Q-9", "3"):
        stamper_of(hall.ledger, mother, press)
    assert list(at_presses(hall_families(hall.ledger))) == [
        "Q-9",
        "2",
        "3",
        "10",
    ]  # by hand: 3 before 10, letters before digits
    page = hall.text("/hall")
    assert "Side B is not in this press." in page  # a press that holds one side presses nothing
    assert page.index("Press Q-9") < page.index("Press 3") < page.index("Press 10")


def test_a_run_begins_once_with_the_stampers_of_one_press(hall: Any) -> None:
    form = hall.form("/hall", "/hall/begin", edition="KV 900/lp")
    assert (form["stamper-A"], form["stamper-B"]) == tuple(stampers(hall, "KV 900").values())
    answers = [hall.client.post("/hall/begin", data=form | {"planned": "1.200", "compound": "C-9"}) for _ in range(2)]
    assert [one.status_code for one in answers] == [422, 422]  # 1.2 pressings are none
    there = [hall.client.post("/hall/begin", data=form | {"planned": "1200"}).headers["location"] for _ in range(3)]
    run = run_of(hall, "KV 900")
    assert [one.partition("?")[0] for one in there] == [f"/runs/{run}"] * 3
    assert len(hall.ledger.family("KV 900").yard.runs) == 1
    begun = hall.ledger.family("KV 900").yard.runs[run]
    assert (begun.press, begun.planned, begun.stampers) == ("2", 1200, stampers(hall, "KV 900"))
    page = hall.text(there[0])
    assert f"Done: {run} run begun, edition lp" in page
    assert "2 runs in the presses 2 wait for a first-off" in hall.text("/hall")


def test_what_was_entered_stays_where_it_cannot_be(hall: Any) -> None:
    form = hall.form("/hall", "/hall/begin", edition="KV 900/lp")
    answer = hall.client.post("/hall/begin", data=form | {"planned": "many", "compound": "C-9"})
    assert answer.status_code == 422
    assert "Pressings planned: “many” is not a number" in answer.text
    assert 'value="C-9"' in answer.text
    assert form["key"] in answer.text
    assert '<details class="begin-run" open>' in answer.text


def test_a_stop_is_told_and_accepted_only_with_a_reason(hall: Any) -> None:
    mother = next(one for one in hall.ledger.family("KV 900").parts.values() if one.kind == "mother")
    form = hall.form("/hall", "/hall/begin", edition="KV 900/lp")
    record(hall.ledger, mother.id, "refused", Said(note="it ticks"), ANN)
    assert "of a recalled part" not in hall.text("/hall")  # nothing is pressed with it yet
    answer = hall.client.post("/hall/begin", data=form)
    assert answer.status_code == 409
    assert f"{mother.id} was refused" in answer.text
    assert "Why it is right all the same" in answer.text
    there = hall.client.post("/hall/begin", data=form | {"accepted": "only the label is pressed"})
    assert there.status_code == 303
    assert "1 of a recalled part" in hall.text("/hall")


def test_a_run_of_tapes_needs_no_press(hall: Any) -> None:
    told = ({"id": "reel", "format": "tape", "quantity": 40, "due": "", "sides": []},)
    hall.ledger.append(Order(e.TitleTakenIn(name="Tape", editions=told), "Ann", "TP 1"))
    form = hall.form("/hall", "/hall/begin", form="begin-tape")
    answer = hall.client.post("/hall/begin", data=form | {"edition": "TP 1/reel", "planned": "40"})
    run = run_of(hall, "TP 1")
    assert answer.headers["location"].startswith(f"/runs/{run}")
    page = hall.text(f"/runs/{run}")
    assert "A run of tapes has no stampers." in page
    wrong = hall.form("/hall", "/hall/begin", form="begin-tape") | {"edition": "TP 1"}
    answer = hall.client.post("/hall/begin", data=wrong)
    assert answer.status_code == 422
    assert "is no edition" in answer.text


def test_finished_stampers_wait_for_a_press_by_edition(hall: Any) -> None:
    take_title(hall.ledger, "MB 2", "lp")
    mother = next(one.id for one in hall.ledger.family("KV 900").parts.values() if one.kind == "mother")
    hall.ledger.append(Order(e.Passivated(), "Ann", part=mother))
    stamper = made(hall.ledger.append(Order(e.Plated(parent=mother, part_kind="stamper", mark="S9"), "Ann")))
    for event in (e.Separated(), e.BackSanded(), e.Centred(), e.Trimmed(), e.Formed()):
        made(hall.ledger.append(Order(event, "Ann", part=stamper)))
    page = hall.text("/hall").split("Finished stampers by edition")[1]
    assert stamper in page
    assert "waits for side B" in page
    assert "2031-05-30" in page  # the due date of the edition
    rows = list(csv.reader(io.StringIO(hall.client.get("/hall/waiting.csv").text)))
    assert rows[0] == list(WAITING_COLUMNS)
    assert [row[3] for row in rows[1:]] == [stamper]


def test_presses_as_csv(hall: Any) -> None:
    answer = hall.client.get("/hall/presses.csv")
    assert answer.headers["content-disposition"] == 'attachment; filename="hall-presses.csv"'
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert list(rows[0]) == list(PRESS_COLUMNS)
    told = {(row["edition"], row["side"]): (row["press"], row["run"], row["run_planned_pressings"]) for row in rows}
    assert told == {
        ("KV 900/lp", "A"): ("2", "", ""), ("KV 900/lp", "B"): ("2", "", ""),
        ("NL 4/lp", "A"): ("2", "RU9-0", "1065"), ("NL 4/lp", "B"): ("2", "RU9-0", "1065"),
    }  # fmt: skip


def test_the_kept_schedule_is_drawn(hall: Any) -> None:
    assert hall.client.get("/hall/schedule.svg").status_code == 404
    changes, shifts = ChangeMinutes(30, 0, 0, 0), (Shift(tuple(range(7)), 0, 1440),)
    press = Press("2", frozenset({"12in"}), frozenset(), frozenset(), shifts, frozenset(), 1.0, changes, {"12in": 30.0})
    due = datetime(2031, 4, 7, 7, 0, tzinfo=UTC)
    job = Job("NL 4/lp A/B", "NL 4/lp", "12in", "black", 240, due=due)
    keep_schedule(hall.ledger, plan_jobs(Hall((press,)), [job], due.replace(hour=6), seconds=0.0))
    page = hall.text("/hall")
    # By hand: 30 min of change and 240 discs at 30 s end at 8:30, 1 h 30 min after it is due; the work alone is longer.
    assert "1 job on 1 press, 2031-04-07 06:00 to 2031-04-07 08:30: 1 job late" in page
    assert "NL 4/lp A/B 2 late by 1 h 30 min The work alone is longer than the time" in page
    drawn = hall.client.get("/hall/schedule.svg")
    assert drawn.headers["content-type"] == "image/svg+xml"
    assert "LATE" in drawn.text


def test_a_stamper_leads_to_its_runs(hall: Any) -> None:
    one = stampers(hall, "NL 4")["A"]
    page = hall.client.get(f"/works/parts/{one}").text
    assert 'href="/runs/RU9-0"' in page
    assert 'href="/runs/' not in hall.client.get(f"/works/parts/{stampers(hall, 'KV 900')['A']}").text


@pytest.mark.parametrize("path", ["/works/search?q=RU9-0", "/works/search?q=%5DQ1ru90%0D", "/works/search?q=RU9",
                                  "/station?code=ru9-0", "/works/parts/RU9-0"])  # fmt: skip
def test_a_number_of_a_run_leads_to_the_run(hall: Any, path: str) -> None:
    answer = hall.client.get(path)
    assert (answer.status_code, answer.headers["location"]) == (303, "/runs/RU9-0")


def test_an_unknown_run_is_told(hall: Any) -> None:
    unknown = part_number("run", 77)
    for path in ("/works/search?q=", "/station?code=", "/works/parts/", "/runs/"):
        answer = hall.client.get(path + unknown)
        assert answer.status_code == 404, path
        assert re.search(f"{unknown}: no part has this number here", answer.text, re.I), path
    part = stampers(hall, "NL 4")["A"]
    assert "is a part and no run" in hall.text(f"/runs/{part}", 404)


def test_the_hall_is_planned_from_the_page_and_gone_by(hall: Any) -> None:
    folder = hall.client.app.state.desk.folder.shelf.folder
    without = hall.client.post("/hall/schedule", data={})
    assert without.status_code == 422
    assert "This folder has no hall.toml" in without.text
    presses = "".join(f'[[press]]\nname = "{name}"\nsizes = ["12in", "7in"]\nshifts = ["early"]\n' for name in "123")
    (folder / "hall.toml").write_text(presses, encoding="utf-8")
    answer = hall.client.post("/hall/schedule", data={}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/hall#schedule")
    document = kept_schedule(hall.ledger)
    assert document is not None
    page = hall.client.get("/hall").text
    assert "/hall/schedule.svg" in page
    assert hall.client.get("/hall/schedule.svg").text.startswith("<svg")
    (folder / "hall.toml").write_text("[[press]]\nname = 3\n", encoding="utf-8")
    broken = hall.client.post("/hall/schedule", data={})
    assert broken.status_code == 422
    assert kept_schedule(hall.ledger) == document
