"""The station: a scan shows what can be done here by this person, one press does it, and undoing is a correction."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Any

import pytest
from argon2 import PasswordHasher

from discwright.desk.stations import STATIONS, belongs_elsewhere, place_of, station
from discwright.works.events import EVENTS
from discwright.works.family import Family, Part
from discwright.works.possible import GROW
from discwright.works.store import passwords
from discwright.works.store.people import By, add_person
from discwright.works.store.sessions import sign_in

WORDS = "four words in a row"


class Forms(HTMLParser):
    """The forms of a page with their hidden fields and the words of their button."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[dict[str, str]] = []
        self.inside = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.inside = True
            self.forms.append({"action": told.get("action", "")})
        elif tag == "input" and self.inside and told.get("type") == "hidden":
            self.forms[-1][told["name"]] = told.get("value", "")

    def handle_endtag(self, tag: str) -> None:
        self.inside = self.inside and tag != "form"


def forms_of(page: str) -> list[dict[str, str]]:
    reading = Forms()
    reading.feed(page)
    return reading.forms


def form_of(page: str, action: str, **wanted: str) -> dict[str, str]:
    """What the first fitting form of a page would send."""
    fits = [one for one in forms_of(page) if one["action"] == action and wanted.items() <= one.items()]
    return {name: value for name, value in fits[0].items() if name != "action"}


def press(metal: Any, part: str, kind: str, **more: str) -> Any:
    """Press a button of the station page as a browser without script does."""
    page = metal.client.get(f"/station?code={part}").text
    return metal.client.post("/station/do", data=form_of(page, "/station/do", kind=kind) | more)


def steps_of(page: str) -> list[str]:
    """Steps in their order: those that can be pressed, those that ask, those that are closed."""
    found = re.findall(r'<li class="step[^"]*">.*?</li>', page, re.S)
    return [re.sub(r"\s+", " ", re.sub(r"<[^>]+>|…|closed|stop", " ", one)).strip() for one in found]


def test_a_scan_shows_the_part_and_the_expected_step_first(metal: Any) -> None:
    lacquer = metal.cut()
    page = metal.client.get(f"/station?code={lacquer.lower()}").text
    assert "lacquer, positive (+)" in page
    assert steps_of(page)[:2] == ["Checked under the microscope", "Silvered"]
    assert page.index("step expected") < page.index('class="step"')


@pytest.mark.parametrize("code", ["]Q1{part}%0D%0A", "%1d{part}", "{bare}", "  {part}%09"])
def test_whatever_the_scanner_adds(metal: Any, code: str) -> None:
    lacquer = metal.cut()
    page = metal.client.get("/station?code=" + code.format(part=lacquer, bare=lacquer.replace("-", "")))
    assert f'data-part="{lacquer}"' in page.text


def test_unknown_codes_get_a_sentence(metal: Any) -> None:
    metal.cut()
    missing = metal.client.get("/station?code=ST1042-0")
    assert missing.status_code == 404
    assert "ST1042-0: no part has this number here; look whether the card is of another works." in missing.text
    for code, told in (("ST1042-5", "its last digit does not fit"), ("hello", "is no part"), ("%00%ff", "is no part")):
        answer = metal.client.get(f"/station?code={code}")
        assert answer.status_code == 200
        assert told in answer.text


def test_one_press_then_the_line_that_says_so_and_undo(metal: Any) -> None:
    lacquer = metal.cut()
    there = press(metal, lacquer, "silvered").headers["location"]
    assert re.fullmatch(rf"/station\?code={lacquer}&done=\d+", there)
    page = metal.client.get(there).text
    assert f"Done: {lacquer} silvered." in page
    undo = form_of(page, "/station/undo")
    after = metal.client.post("/station/undo", data=undo).headers["location"]
    page = metal.client.get(after).text
    assert f"Undone: line {undo['seq']}." in page
    # A correction is not undone at the station; the part is as it was.
    assert not [one for one in forms_of(page) if one["action"] == "/station/undo"]
    assert "Silvered" in steps_of(page)
    assert [line["kind"] for line in metal.api_part(lacquer)["events"]][-2:] == ["silvered", "corrected"]


def test_the_same_tap_five_times_is_one_line(metal: Any) -> None:
    lacquer = metal.cut()
    page = metal.client.get(f"/station?code={lacquer}").text
    form = form_of(page, "/station/do", kind="silvered")
    answers = [metal.client.post("/station/do", data=form).headers["location"] for _ in range(5)]
    assert answers[1:] == [f"{answers[0]}&again=true"] * 4
    assert f"Done already: {lacquer} silvered." in metal.client.get(answers[1]).text
    assert [line["kind"] for line in metal.api_part(lacquer)["events"]].count("silvered") == 1


def test_a_step_that_needs_a_number_asks_for_just_that(metal: Any) -> None:
    _, _, _, stamper = metal.family()
    press(metal, stamper, "put_to_press")
    page = metal.client.get(f"/station?code={stamper}").text
    assert steps_of(page)[0].startswith("Taken off, with its count")
    entry = metal.client.get(f"/station/say?code={stamper}&kind=taken_off").text
    assert 'inputmode="decimal"' in entry
    form = form_of(entry, "/station/do")
    wrong = metal.client.post("/station/do", data=form | {"count": "1,500"})
    assert wrong.status_code == 422
    assert "could mean a thousand or a decimal" in wrong.text
    # What was entered stays, and so does the key.
    assert 'value="1,500"' in wrong.text
    assert form["key"] in wrong.text
    there = metal.client.post("/station/do", data=form | {"count": "640"}).headers["location"]
    assert "taken off, 640 pressings." in metal.client.get(there).text


@pytest.mark.parametrize(
    ("text", "unit", "um"), [("0,2", "mm", 200.0), ("203.5", "µm", 203.5), ("8", "mil", 203.2), ("203", "", 203.0)]
)
def test_numbers_with_comma_and_units(metal: Any, text: str, unit: str, um: float) -> None:
    # by hand: 1 mil is 25.4 µm.
    _, master, _, _ = metal.family()
    form = {
        "part": master,
        "kind": "measured",
        "key": "m",
        "thickness_um": text,
        "thickness_um-unit": unit,
    }
    assert metal.client.post("/station/do", data=form).status_code == 303
    assert metal.api_part(master)["events"][-1]["data"]["thickness_um"] == pytest.approx(um)


def test_growing_shows_the_new_number_large_with_its_code(metal: Any) -> None:
    lacquer = metal.cut()
    metal.record(lacquer, "silvered")
    there = press(metal, lacquer, "grow").headers["location"]
    page = metal.client.get(there).text
    number = re.search(r'class="grown-number"><a [^>]*>(MA2-\d)<', page)
    assert number is not None
    assert f"/works/parts/{number[1]}/code.svg" in page


def test_a_stop_closes_a_step_and_only_a_reason_opens_it(metal: Any) -> None:
    _, master, _, _ = metal.family()
    page = metal.client.get(f"/station?code={master}").text
    # The mother has used up its film.
    closed = re.search(r'<li class="step closed">.*?</li>', page, re.S)
    assert closed is not None
    assert "Grow a mother" in closed[0]
    assert "was not passivated since it was last grown from" in closed[0]
    form = {"part": master, "kind": "grow", "key": "g1", "by": "Ada"}
    there = metal.client.post("/station/do", data=form).headers["location"]
    assert there == f"/station?code={master}&refused=grow"
    assert "Nothing was written" in metal.client.get(there).text
    accepted = press(metal, master, "grow", accepted="the film was there, it was forgotten to be entered")
    page = metal.client.get(accepted.headers["location"]).text
    assert "grown-number" in page


def test_a_part_at_the_wrong_station_is_sent_where_it_belongs(metal: Any) -> None:
    lacquer = metal.cut()
    metal.client.post("/station/choose", data={"station": "press"})
    page = metal.client.get(f"/station?code={lacquer}").text
    assert f"{lacquer} belongs to cutting" in page
    assert "which is not done at press" in page
    assert "Silvered" not in steps_of(page)
    metal.client.post("/station/choose", data={"station": "plating"})
    page = metal.client.get(f"/station?code={lacquer}").text
    assert "belongs to" not in page
    assert press(metal, lacquer, "silvered").status_code == 303
    assert metal.api_part(lacquer)["events"][-1]["station"] == "plating"


def test_in_one_person_mode_a_name_is_asked_for(metal: Any) -> None:
    lacquer = metal.cut()
    metal.client.cookies.delete("operator")
    page = metal.client.get(f"/station?code={lacquer}").text
    assert "your name" in page
    answer = press(metal, lacquer, "silvered")
    assert answer.status_code == 422
    assert "nobody is named" in answer.text.lower()


def test_the_script_is_told_what_to_do_next(metal: Any) -> None:
    lacquer = metal.cut()
    asked = {"accept": "application/json"}
    form = {"part": lacquer, "kind": "silvered", "key": "s1", "by": "Ada"}
    answer = metal.client.post("/station/do", data=form, headers=asked)
    assert answer.json()["go"].startswith(f"/station?code={lacquer}&done=")
    again = metal.client.post("/station/do", data=form, headers=asked)
    assert again.json()["repeated"] is True
    metal.grow(lacquer)
    stopped = metal.client.post("/station/do", data=form | {"kind": "grow", "key": "s2"}, headers=asked)
    assert (stopped.status_code, stopped.json()["again"]) == (409, False)
    assert "given 1 already" in stopped.json()["sentence"]


def test_a_clock_that_stands_behind_is_told(metal: Any) -> None:
    from datetime import timedelta

    lacquer = metal.cut()
    ledger = metal.client.app.state.desk.folder.ledger
    right = ledger.clock
    ledger.clock = lambda: right() - timedelta(minutes=10)
    page = metal.client.get(press(metal, lacquer, "silvered").headers["location"]).text
    assert re.search(r"stands (9|10) minutes behind the last line", page)
    assert "Set the clock" in page


def test_a_scanner_is_tried_and_what_it_adds_is_remembered(metal: Any) -> None:
    lacquer = metal.cut()
    bare = lacquer.replace("-", "")
    # What has no hyphen and is followed by digits is not guessed at.
    assert "data-part=" not in metal.client.get(f"/station?code={bare}99").text
    page = metal.client.get("/station/scanner?arrived=%1D~ST1042-0%0D").text
    for told in ("U+001D", "group separator", "ST1042-0", "(return)"):
        assert told in page
    assert form_of(page, "/station/scanner", prefix="%1D~")["suffix"] == "%0D"
    assert metal.client.post("/station/scanner", data={"prefix": "", "suffix": "99"}).status_code == 303
    assert f'data-part="{lacquer}"' in metal.client.get(f"/station?code={bare}99").text


# Where people sign in ----------------------------------------------------------------------------------


@pytest.fixture
def signed(metal: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Somebody of a role is signed in from now on; parts that are there stay."""
    monkeypatch.setattr(passwords, "_hasher", lambda: PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    passwords.nobodys_hash.cache_clear()
    ledger = metal.client.app.state.desk.folder.ledger

    def sign(role: str) -> None:
        if role not in known:
            add_person(ledger, f"{role} one", (role,), WORDS, by=By("root", "here"))
            known.add(role)
        metal.client.cookies.set("session", sign_in(ledger, f"{role} one", WORDS, "here").number)
        metal.client.headers["Origin"] = str(metal.client.base_url)

    known: set[str] = set()
    yield sign
    passwords.nobodys_hash.cache_clear()


def test_each_role_sees_its_own_steps(metal: Any, signed: Any) -> None:
    lacquer, _, mother, stamper = metal.family()
    signed("keeper")
    seen = {}
    for role in ("plating", "press", "packing", "reader"):
        signed(role)
        seen[role] = {part: steps_of(metal.client.get(f"/station?code={part}").text) for part in (mother, stamper)}
    # by hand, from the table of who may record what.
    assert "Passivated" in seen["plating"][mother]
    assert "Approved" not in seen["plating"][mother]
    assert seen["press"][stamper][0] == "Put to press"
    assert seen["packing"][stamper] == ["Handed over", "Vaulted"]
    assert seen["reader"] == {mother: [], stamper: []}
    assert "Your roles may do nothing with it now" in metal.client.get(f"/station?code={lacquer}").text
    form = {"part": stamper, "kind": "put_to_press", "key": "r1"}
    assert metal.client.post("/station/do", data=form).status_code == 403


def test_only_an_engineer_or_a_keeper_may_accept_a_stop(metal: Any, signed: Any) -> None:
    lacquer = metal.cut()
    metal.grow(lacquer)
    signed("keeper")
    offered = {}
    for role in ("plating", "keeper"):
        signed(role)
        offered[role] = "Accept it with a reason" in metal.client.get(f"/station?code={lacquer}").text
    assert offered == {"plating": False, "keeper": True}
    signed("plating")
    form = {"part": lacquer, "kind": "grow", "key": "a1", "accepted": "one more"}
    assert metal.client.post("/station/do", data=form).status_code == 403


def test_a_press_is_signed_by_whoever_pressed(metal: Any, signed: Any) -> None:
    lacquer = metal.cut()
    signed("keeper")
    signed("plating")
    form = form_of(metal.client.get(f"/station?code={lacquer}").text, "/station/do", kind="silvered")
    assert form["by"] == "plating one"
    signed("keeper")
    asked = {"accept": "application/json"}
    answer = metal.client.post("/station/do", data=form, headers=asked)
    assert (answer.status_code, answer.json()["again"]) == (409, True)
    assert "one pressed this and keeper one is signed in now" in answer.json()["sentence"]
    assert metal.client.post("/station/do", data=form).status_code == 409
    signed("plating")
    assert metal.client.post("/station/do", data=form, headers=asked).status_code == 200
    assert metal.api_part(lacquer)["events"][-1]["by"] == "plating one"
    # What another one did is undone by a keeper only.
    seq = metal.api_part(lacquer)["events"][-1]["seq"]
    signed("press")
    page = metal.client.get(f"/station?code={lacquer}&done={seq}").text
    assert "/station/undo" not in page
    assert metal.client.post("/station/undo", data={"seq": str(seq), "key": "u"}).status_code == 403


# The table of stations ---------------------------------------------------------------------------------


def test_every_recordable_event_of_a_part_has_a_station() -> None:
    ofparts = [k for k, one in EVENTS.items() if one.recordable and k not in ("test_cut_measured",)]
    assert [kind for kind in ofparts if place_of(kind).id == "anywhere"] == []
    assert place_of(GROW).id == "plating"
    assert all(kind in EVENTS for one in STATIONS.values() for kind in one.kinds)


def test_a_part_that_waits_for_nothing_belongs_nowhere_else() -> None:
    part = Part("ST1042-0", "stamper", "A", state="scrapped")
    assert belongs_elsewhere(Family("T", parts={part.id: part}), part, station("cutting")) == ""
    assert station("no such").id == "anywhere"
