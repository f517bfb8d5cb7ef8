"""The page on a side's guilty part as a person meets it: entered by hand, marked in the tree, drawn on the face."""

from __future__ import annotations

import html
import re
from typing import Any

import pytest

from discwright.acts.works_locate import find_guilty
from discwright.acts.works_locate_told import guilt_as_dict

PAGE = "/works/guilt/OKW%200042"


def text_of(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def heard(metal: Any, part: str, *rows: tuple[str, str, str], status: int = 303, **more: str) -> Any:
    """Send the form for one play."""
    form = {"part": part, "key": more.pop("key", f"play-{len(rows)}-{part}-{more}"), "how": "heard"}
    for number, (kind, place, angle) in enumerate(rows, 1):
        form |= {f"kind-{number}": kind, f"place-{number}": place, f"angle-{number}": angle}
    answer = metal.client.post("/works/heard", data=form | ({} if rows else {"none": "on"}) | more)
    assert answer.status_code == status, text_of(answer.text)
    return answer


@pytest.fixture
def grown(metal: Any) -> tuple[Any, dict[str, str]]:
    """A family with two stampers of one mother, nothing played by place yet."""
    lacquer, master, mother, stamper = metal.family()
    metal.record(mother, "passivated")
    second = metal.grow(mother, mark="S2")
    metal.record(second, "separated")
    return metal, {"lacquer": lacquer, "master": master, "mother": mother, "first": stamper, "second": second}


def test_a_title_without_a_part_has_nobody_guilty(metal: Any) -> None:
    answer = metal.client.get(PAGE)
    assert answer.status_code == 404
    assert "No lacquer was cut of this title yet" in answer.text
    assert "who is guilty" not in metal.client.get("/works/titles/OKW%200042").text
    assert metal.client.get("/works/guilt/nothing").status_code == 404


def test_family_and_part_lead_there(grown: Any) -> None:
    metal, parts = grown
    assert f'href="{PAGE}"' in metal.client.get("/works/titles/OKW%200042").text
    page = metal.client.get(f"/works/parts/{parts['first']}").text
    there = re.search(rf'href="({PAGE}\?part=[^"]+)"', page)
    assert there is not None
    form = metal.client.get(html.unescape(there[1])).text
    assert f'<option value="{parts["first"]}" selected>' in form  # what was heard is entered for that part
    assert "Nothing was played yet" in form


def test_what_was_heard_by_hand_comes_out_as_a_guilty_part(grown: Any) -> None:
    metal, parts = grown
    there = heard(metal, parts["first"], ("tick", "312", "41,5"), ("pop", "0:12.5", "200"), pressing="1")
    assert there.headers["location"] == f"{PAGE}?edition=lp&side=A"
    heard(metal, parts["first"], ("tick", "312", "42.2"), pressing="2")
    heard(metal, parts["second"])
    page = metal.client.get(there.headers["location"]).text
    told = text_of(page)
    for words in ("3 plays, 2 spots, 2 to be heard", "by ear", "41.9°", "guilty", f"Press from {parts['second']}",
                  "All spots that are heard, taken together as if the spots had nothing to do with each other.",
                  "no fault at all", "A B, not C"):  # fmt: skip
        assert words in told, words
    # The part that ticks is marked in the tree by word, shape and digits.
    card = re.search(rf'<a class="tree-card guilt-stop[^"]*" href="/works/parts/{parts["first"]}"[^>]*>', page)
    assert card is not None
    assert re.search(r"guilty, \d\d\.\d %", card[0])
    # The line says how many, on the part's own page too; hundreds of numbers stand nowhere.
    part = text_of(metal.client.get(f"/works/parts/{parts['first']}").text)
    assert "2 faults, 2 to be heard" in part
    assert "1 fault found, 1 to be heard" in part
    assert "angle_deg" not in part
    assert "played, 1 fault" in text_of(metal.client.get("/works/titles/OKW%200042").text)


def test_the_same_form_sent_twice_is_one_play(grown: Any) -> None:
    metal, parts = grown
    for _ in range(2):
        heard(metal, parts["mother"], ("tick", "3", "10"), key="once")
    assert "1 play, 1 spot" in text_of(metal.client.get(PAGE).text)


def test_one_spot_has_a_tree_of_its_own(grown: Any) -> None:
    metal, parts = grown
    heard(metal, parts["first"], ("tick", "3", "10"), ("tick", "9", "20"))
    page = metal.client.get(f"{PAGE}?spot=2").text
    assert "Probability that a part heads spot 2: tick, turn 9" in page
    assert "Over all spots that are heard" in page
    assert page.count('class="face-chosen"') == 1
    assert 'aria-current="true"' in page
    assert "heard in 1 of 1" in page
    assert metal.client.get(f"{PAGE}?spot=99").status_code == 200


def test_a_fault_seen_on_the_stamper_lies_where_it_is_heard(grown: Any) -> None:
    metal, parts = grown
    heard(metal, parts["first"], ("tick", "5", "30"))
    # by hand: what lies at 30° on a positive reads as −30° on a negative.
    heard(metal, parts["first"], ("scratch", "5", "330"), how="seen")
    told = text_of(metal.client.get(PAGE).text)
    assert "2 plays, 1 spot" in told
    assert "seen on the part" in told
    assert f"{parts['first']} 2 of 2" in told


@pytest.mark.parametrize(
    ("rows", "more", "sentence"),
    [
        ([("tick", "312", "")], {}, "A tick needs its angle"),
        ([("tick", "", "30")], {}, "Row 1 has an angle and no turn"),
        ([("tick", "3.5", "30")], {}, "turn 3.5 is no whole turn"),
        ([("click", "3", "30")], {}, "is no kind of fault"),
        ([("tick", "3", "30")], {"none": "on"}, "or that nothing was"),
        ([("tick", "3", "30")], {"to_turn": "-4"}, "-4 cannot be"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_lost(
    grown: Any, rows: list[tuple[str, str, str]], more: dict[str, str], sentence: str
) -> None:
    metal, parts = grown
    before = metal.client.app.state.desk.folder.ledger.head()
    answer = heard(metal, parts["first"], *rows, status=422, note="by the label", **more)
    told = text_of(answer.text)
    assert sentence.lower() in told.lower()
    assert 'role="alert"' in answer.text
    for kept in (*rows[0][1:], "by the label"):
        assert f'value="{kept}"' in answer.text
    assert metal.client.app.state.desk.folder.ledger.head() == before


def test_a_master_is_looked_at_and_not_played(grown: Any) -> None:
    metal, parts = grown
    answer = heard(metal, parts["master"], ("tick", "3", "30"), status=422)
    assert "is a master and no disc to play" in answer.text
    heard(metal, parts["master"], ("scratch", "3", "30"), how="seen")
    assert heard(metal, "ST9999-0", status=404).status_code == 404


def test_every_play_has_a_shape_of_its_own(grown: Any) -> None:
    metal, parts = grown
    for number, part in enumerate((parts["first"], parts["second"], parts["mother"])):
        heard(metal, part, ("tick", "5", str(30 + number / 2)))
    page = metal.client.get(PAGE).text
    picture = page[page.index('class="face-picture"') : page.index("</svg>", page.index('class="face-picture"'))]
    marks = re.findall(r'class="face-mark (play-\d)" d="([^"]+)"', picture)
    assert [style for style, _ in marks] == ["play-1", "play-2", "play-3"]
    assert len({re.sub(r"[-\d. ]", "", path) for _, path in marks}) == 3
    # The plan lies in the folder, so each tick is where its turn is: nothing is said to be only about there.
    assert "it is about that of the turn" not in page


def test_a_long_list_shows_what_matters_most(grown: Any) -> None:
    metal, parts = grown
    faults = [
        {"kind": "tick", "turn": turn, "angle_deg": 10.0 + turn % 7 * 40, "audible": turn % 30 == 0, "size_db": 3.0}
        for turn in range(90)
    ]  # fmt: skip
    ledger = metal.client.app.state.desk.folder.ledger
    from discwright.acts.works import Hand
    from discwright.acts.works_record import Said, record

    play = Said(more={"defects": faults, "capture_sha256": "0" * 64, "verdict": "stop"})
    assert record(ledger, parts["mother"], "test_played", play, Hand("Ada")).line is not None
    page = metal.client.get(PAGE).text
    assert "30 spots that matter less" in page
    assert all(f"Spot {number}:" in page for number in (1, 31, 61))  # the three that are heard
    assert "from a capture" in page
    whole = metal.client.get(f"{PAGE}?whole=true#spots").text
    assert "Spot 89:" in whole
    assert "that matter less" not in whole
    part = text_of(metal.client.get(f"/works/parts/{parts['mother']}").text)
    assert "90 faults, 3 to be heard" in part
    assert "verdict stop" in part
    assert "capture 000000000000" in part


def test_programs_are_told_the_same(grown: Any) -> None:
    metal, parts = grown
    heard(metal, parts["first"], ("tick", "312", "41.5"))
    told = metal.client.get("/api/works/guilt/OKW%200042?side=A").json()
    ledger = metal.client.app.state.desk.folder.ledger
    assert told == guilt_as_dict(find_guilty(ledger, "OKW 0042"))
    assert metal.client.get("/api/works/guilt/OKW%200042?side=C").status_code == 422


def test_programs_tell_of_faults_too(grown: Any) -> None:
    metal, parts = grown
    tick = {"kind": "tick", "turn": 312, "angle_deg": 41.5, "size_db": 9.0, "audible": True}
    metal.record(parts["first"], "test_played", defects=[tick], more={"verdict": "stop", "pressing": "4"})
    event = metal.api_part(parts["first"])["events"][-1]
    assert event["data"] == {"defects": [tick], "verdict": "stop", "pressing": "4"}
    for wrong in ({"kind": "click"}, {"turn": 1e9}, {"loudness": 3}):
        body = {"part": parts["first"], "kind": "test_played", "defects": [tick | wrong]}
        assert metal.client.post("/api/works/events", json=body).status_code == 422
    body = {"part": parts["first"], "kind": "weighed", "value": 3, "unit": "g", "defects": [tick]}
    assert metal.client.post("/api/works/events", json=body).status_code == 422


def test_a_play_that_is_told_of_through_the_station(grown: Any) -> None:
    metal, parts = grown
    say = metal.client.get(f"/station/say?code={parts['mother']}&kind=test_played").text
    assert "Which pressing of the stamper was played" in say
    assert "capture" not in say.lower()
    metal.record(parts["mother"], "test_played", count=2)
    assert "1 play heard faults and did not say where" in text_of(metal.client.get(PAGE).text)
