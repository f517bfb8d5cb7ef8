"""Who may do what: every role against every event and every act, by a table written here once more."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from discwright.errors import CallError
from discwright.works.chain import Line
from discwright.works.events import EVENTS
from discwright.works.people import (
    ACTS,
    MAY,
    MAY_RECORD,
    NO_MACHINE,
    NOBODY,
    READ,
    RECENT,
    ROLES,
    SCOPES,
    Person,
    clean_name,
    clean_roles,
    clean_scopes,
    may,
    may_correct,
    may_record,
    recordable_by,
    same_name,
    who_may,
)

#: By hand, from what each room of a works does: a letter for each role that may record it (Engineer, plAting, pRess,
#: paCking); a reader none of them, a keeper all.
RECORD = {
    "title_taken_in": "E", "plan_kept": "E", "test_cut_measured": "E", "lacquer_cut": "E",
    "checked_under_the_microscope": "EA", "handed_over": "EARC", "silvered": "A", "plated": "A", "separated": "A",
    "passivated": "A", "weighed": "A", "measured": "EA", "back_sanded": "A", "centred": "AR", "trimmed": "AR",
    "formed": "AR", "test_played": "E", "approved": "E", "refused": "E", "put_to_press": "R", "taken_off": "R",
    "vaulted": "EARC", "scrapped": "EAR", "recalled": "E", "corrected": "EARC",
    "run_begun": "R", "first_off": "ER", "run_pressed": "R", "lot_inspected": "ER", "lot_disposed": "E",
    "inspection_restarted": "E",
    "stocked": "RC", "taken_out": "ERC", "orders_taken": "C", "order_cancelled": "C", "cartons_packed": "C",
    "carton_opened": "C", "loaded": "C", "account_told": "EC",
}  # fmt: skip
DO = {
    "see": "EARCL", "plan": "E", "record": "EARC", "accept": "E", "export": "E", "keep_people": "", "set": "",
    "back_up": "", "restore": "",
}  # fmt: skip
LETTERS = {"engineer": "E", "plating": "A", "press": "R", "packing": "C", "reader": "L", "keeper": "K"}
NOW = datetime(2031, 4, 2, 9, 0, tzinfo=UTC)


def line(by: str, kind: str = "silvered", ago: timedelta = timedelta(minutes=5)) -> Line:
    return Line(7, (NOW - ago).isoformat(timespec="microseconds"), by, "", "VK 1001", "LA1-3", kind, {}, "k")


def test_every_event_and_act_has_its_roles() -> None:
    assert set(MAY_RECORD) == set(EVENTS) == set(RECORD)
    assert set(MAY) == set(ACTS) == set(DO)
    assert set(LETTERS) == set(ROLES)


@pytest.mark.parametrize("kind", RECORD)
@pytest.mark.parametrize("role", LETTERS)
def test_who_records_what(role: str, kind: str) -> None:
    assert may_record(Person("Ada", (role,)), kind) is (role == "keeper" or LETTERS[role] in RECORD[kind])
    assert not may_record(NOBODY, kind)


@pytest.mark.parametrize("act", DO)
@pytest.mark.parametrize("role", LETTERS)
def test_who_does_what(role: str, act: str) -> None:
    assert may(Person("Ada", (role,)), act) is (role == "keeper" or LETTERS[role] in DO[act])
    assert not may(NOBODY, act)


def test_roles_add_up_and_one_person_may_everything() -> None:
    both = Person("Ada", ("press", "packing"))
    assert {"put_to_press", "vaulted"} <= set(recordable_by(both))
    assert "silvered" not in recordable_by(both)
    alone = Person("", one_person=True)
    assert recordable_by(alone) == tuple(EVENTS)
    assert all(may(alone, act) for act in MAY)


@pytest.mark.parametrize("strange", ["", "no such thing", "KEEP_PEOPLE", "see "])
def test_what_is_not_in_the_table_nobody_may(strange: str) -> None:
    for person in (Person("Ada", ("keeper",)), Person("", one_person=True), Person("s", token="1", scopes={strange})):
        assert not may(person, strange)
        assert not may_record(person, strange)


def test_a_token_is_good_for_its_scopes_alone() -> None:
    scale = Person("scale 2", token="1", scopes=frozenset({"weighed"}))
    assert [kind for kind in EVENTS if may_record(scale, kind)] == ["weighed"]
    assert [act for act in MAY if may(scale, act)] == ["record"]
    watcher = Person("board", token="2", scopes=frozenset({READ}))
    assert [act for act in MAY if may(watcher, act)] == ["see"]
    assert recordable_by(watcher) == ()
    # Roles that were slipped in change nothing, and a verdict is never a machine's.
    slipped = Person("x", ("keeper",), token="3", scopes=frozenset({"approved", "corrected", "weighed"}))
    assert recordable_by(slipped) == ("weighed",)
    assert not may(slipped, "keep_people")


def test_corrections() -> None:
    ada = Person("Ada", ("plating",))
    assert may_correct(ada, line("Ada"), NOW)
    assert may_correct(ada, line("Ada", ago=RECENT), NOW)
    assert not may_correct(ada, line("Ada", ago=RECENT + timedelta(seconds=1)), NOW)
    assert not may_correct(ada, line("Bo"), NOW)
    assert not may_correct(ada, line("Ada", "approved"), NOW)
    assert may_correct(Person("Kay", ("keeper",)), line("Ada", ago=timedelta(days=900)), NOW)
    assert not may_correct(Person("Ada", ("reader",)), line("Ada"), NOW)
    assert not may_correct(Person("Ada", token="1", scopes=frozenset(SCOPES)), line("Ada"), NOW)
    assert may_correct(Person("", one_person=True), line("Ada", ago=timedelta(days=2)), NOW)


def test_who_may_names_the_keeper_too() -> None:
    assert who_may("silvered") == ("plating", "keeper")
    assert who_may("keep_people") == ("keeper",)


@pytest.mark.parametrize(
    ("typed", "kept"), [("  Ada   Kell ", "Ada Kell"), ("Jose\u0301", "José"), ("Kateřina Nová", "Kateřina Nová")]
)
def test_names_are_kept_in_one_form(typed: str, kept: str) -> None:
    assert clean_name(typed) == kept


@pytest.mark.parametrize("bad", ["", "  ", "a\0b", "a\u200bb", "a\u202eb", "x" * 81, "a\ud800"])
def test_names_that_are_none(bad: str) -> None:
    with pytest.raises(CallError, match="write another one"):
        clean_name(bad)


def test_names_that_a_person_takes_for_one() -> None:
    assert same_name("ADA  kell") == same_name("Ada Kell") == same_name("Ａｄａ Kell")
    assert same_name("Straße") == same_name("STRASSE")
    assert same_name("Ada") != same_name("Ida")


def test_roles_and_scopes_come_in_their_own_order() -> None:
    assert clean_roles(["keeper", "engineer", "keeper"]) == ("engineer", "keeper")
    assert clean_scopes(["weighed", "read"]) == ("read", "weighed")
    for bad in ([], ["boss"], ["engineer", "boss"]):
        with pytest.raises(CallError, match="the roles are engineer"):
            clean_roles(bad)
    for kind in NO_MACHINE:
        with pytest.raises(CallError, match="never for a machine"):
            clean_scopes(["read", kind])
    for bad in ([], ["all"]):
        with pytest.raises(CallError, match="the scopes are read and"):
            clean_scopes(bad)
