"""People, sessions, throttle, tokens and the access log, on both databases, by a clock that is set."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from argon2 import PasswordHasher
from sqlalchemy import text

from discwright.errors import CallError, LedgerError
from discwright.works.people import Person
from discwright.works.store import passwords, people_tables, sessions, throttle
from discwright.works.store.access_log import ACCESS, log_access, read_log
from discwright.works.store.connect import reading, writing
from discwright.works.store.ledger import Ledger, open_ledger
from discwright.works.store.people import (
    By,
    add_person,
    all_people,
    any_people,
    close_person,
    find,
    set_password,
    set_roles,
)
from discwright.works.store.sessions import (
    IDLE,
    OLDEST,
    WRONG,
    WrongPasswordError,
    change_password,
    person_of_session,
    sign_in,
    sign_out,
    sign_out_everywhere,
)
from discwright.works.store.throttle import BY_NAME, BY_PLACE, SlowedError
from discwright.works.store.tokens import all_tokens, make_token, person_of_token, revoke_token

KEEPER_WORDS, OTHER_WORDS = "four words in a row", "tank and silver spoon"
BY = By("Kay", "192.168.1.9")
TABLET, ELSEWHERE = "192.168.1.20", "192.168.1.66"


class Set:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now = datetime(2031, 4, 2, 9, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def on(self, **span: float) -> None:
        """Some time later."""
        self.now += timedelta(**span)


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Hashes that take no time: what they cost is asked in a test of its own."""
    light = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(passwords, "_hasher", lambda: light)
    passwords.nobodys_hash.cache_clear()
    yield
    passwords.nobodys_hash.cache_clear()


@pytest.fixture
def clock(ledger: Ledger) -> Set:
    clock = Set()
    ledger.clock = clock
    return clock


@pytest.fixture
def works(ledger: Ledger, clock: Set) -> Ledger:
    """A ledger with a keeper and somebody of the plating room."""
    add_person(ledger, "Kay", ("keeper",), KEEPER_WORDS, by=By("root", "command line"))
    add_person(ledger, "Ada Kell", ("plating",), OTHER_WORDS, by=BY)
    return ledger


def wrong(ledger: Ledger, name: str = "Ada Kell", where: str = TABLET) -> str:
    with pytest.raises((WrongPasswordError, SlowedError)) as why:
        sign_in(ledger, name, "not the password", where)
    return str(why.value)


def rows(ledger: Ledger, table: str) -> list[Any]:
    with reading(ledger.engine) as connection:
        return list(connection.execute(getattr(people_tables, table).select()))


# People ------------------------------------------------------------------------------------------------


def test_the_first_is_a_keeper(ledger: Ledger) -> None:
    assert not any_people(ledger)
    with pytest.raises(CallError, match="the first person keeps the others"):
        add_person(ledger, "Ada", ("engineer",), KEEPER_WORDS, by=BY)
    assert not any_people(ledger)
    made = add_person(ledger, " Kay  Orr", ("reader", "keeper"), KEEPER_WORDS, by=BY)
    assert (made.name, made.roles, made.closed_at) == ("Kay Orr", ("reader", "keeper"), "")
    assert any_people(ledger)


def test_names_are_given_once(works: Ledger) -> None:
    for same in ("ada kell", "ADA  KELL", "Ａda Kell"):
        with pytest.raises(CallError, match="Ada Kell is here already"):
            add_person(works, same, ("reader",), KEEPER_WORDS, by=BY)
    make_token(works, "scale 2", ("weighed",), 30, by=BY)
    with pytest.raises(CallError, match="scale 2 is the token of a machine"):
        add_person(works, "Scale 2", ("reader",), KEEPER_WORDS, by=BY)
    with pytest.raises(CallError, match="Ada Kell is a person"):
        make_token(works, "ada kell", ("weighed",), 30, by=BY)


def test_closed_and_opened_again(works: Ledger) -> None:
    session = sign_in(works, "Ada Kell", OTHER_WORDS, TABLET).number
    closed = close_person(works, "ada kell", by=BY)
    assert closed.closed_at
    assert person_of_session(works, session) is None
    assert wrong(works) == WRONG
    for change in (
        lambda: close_person(works, "Ada Kell", by=BY),
        lambda: set_roles(works, "Ada Kell", ("keeper",), by=BY),
        lambda: set_password(works, "Ada Kell", KEEPER_WORDS, by=BY),
    ):
        with pytest.raises(CallError, match="was closed"):
            change()
    assert [one.name for one in all_people(works)] == ["Kay", "Ada Kell"]
    add_person(works, "ADA KELL", ("press",), "another four words here", by=BY)
    again = find(works, "Ada Kell")
    assert (again.name, again.roles, again.closed_at) == ("Ada Kell", ("press",), "")
    assert sign_in(works, "Ada Kell", "another four words here", TABLET).person.roles == ("press",)


def test_there_is_always_a_keeper(works: Ledger) -> None:
    for change in (
        lambda: close_person(works, "Kay", by=BY),
        lambda: set_roles(works, "Kay", ("reader",), by=BY),
    ):
        with pytest.raises(CallError, match="Kay is the last keeper; make another one first"):
            change()
    set_roles(works, "Ada Kell", ("plating", "keeper"), by=BY)
    set_roles(works, "Kay", ("reader",), by=BY)
    with pytest.raises(CallError, match="Ada Kell is the last keeper"):
        close_person(works, "Ada Kell", by=BY)


def test_nobody_of_that_name(works: Ledger) -> None:
    with pytest.raises(CallError, match="nobody has this name"):
        close_person(works, "Zed", by=BY)
    with pytest.raises(CallError, match="nobody has this name"):
        find(works, "'; DROP TABLE people; --")


@pytest.mark.parametrize(
    "weak",
    ["short", "password", "password1234", "qwertyuiop", "Ada Kell 1", "adakell2031", "discwright", "aaaaaaaaaaaa",
     "x" * 257, "nickel2031", "12345678901"],
)  # fmt: skip
def test_passwords_that_would_be_guessed(works: Ledger, weak: str) -> None:
    with pytest.raises(CallError, match=r"a password has from 8|would soon be guessed"):
        set_password(works, "Ada Kell", weak, by=BY)
    sign_in(works, "Ada Kell", OTHER_WORDS, TABLET)  # nothing was changed


@pytest.mark.parametrize(
    "good",
    [
        "correct horse battery",
        "čtyři slova za sebou",
        "x7#Kq-92!mZ",
        "rain 東京 over tin",
        "tin roof, wet slate " + "and rain " * 26,
    ],
)
def test_passwords_of_any_letters(works: Ledger, good: str) -> None:
    set_password(works, "Ada Kell", good, by=BY)
    assert sign_in(works, "Ada Kell", good, TABLET).person.name == "Ada Kell"
    assert wrong(works) == WRONG
    for near in (good.upper(), good[:-1], f"{good} "):
        if near != good:
            with pytest.raises(WrongPasswordError):
                sign_in(works, "Ada Kell", near, TABLET)


# What a hash costs --------------------------------------------------------------------------------------


def test_a_hash_is_argon2id_with_more_than_the_least(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    kept = passwords.hash_password(KEEPER_WORDS)
    # Published: OWASP's password storage page names argon2id with 19 MiB, two passes, one lane as the least.
    assert kept.startswith("$argon2id$v=19$m=47104,t=3,p=1$")
    assert passwords.MEMORY_KIB >= 19 * 1024
    assert passwords.PASSES >= 2
    assert passwords.fits(kept, KEEPER_WORDS)
    assert not passwords.fits(kept, KEEPER_WORDS + " ")
    assert not passwords.fits("no hash at all", KEEPER_WORDS)
    # Two at once stay below 150 MiB.
    assert passwords.AT_ONCE * passwords.MEMORY_KIB <= 150 * 1024


def test_two_hashes_at_once_and_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    inside, most, lock = 0, 0, threading.Lock()
    gate = threading.Event()

    class Slow:
        def hash(self, _: str) -> str:
            nonlocal inside, most
            with lock:
                inside += 1
                most = max(most, inside)
            gate.wait(0.02)
            with lock:
                inside -= 1
            return "hash"

    monkeypatch.setattr(passwords, "_hasher", Slow)
    with ThreadPoolExecutor(16) as pool:
        assert set(pool.map(lambda _: passwords.hash_password("x"), range(40))) == {"hash"}
    assert most == 2


def test_an_old_hash_is_made_anew_at_sign_in(works: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    before = next(row.password for row in rows(works, "people") if row.name == "Ada Kell")
    heavier = PasswordHasher(time_cost=2, memory_cost=16, parallelism=1)
    monkeypatch.setattr(passwords, "_hasher", lambda: heavier)
    sign_in(works, "Ada Kell", OTHER_WORDS, TABLET)
    after = next(row.password for row in rows(works, "people") if row.name == "Ada Kell")
    assert before != after
    assert "m=16,t=2" in after
    sign_in(works, "Ada Kell", OTHER_WORDS, TABLET)


# Sessions ----------------------------------------------------------------------------------------------


def test_a_session_is_random_and_only_its_hash_is_kept(works: Ledger) -> None:
    first, second = (sign_in(works, "ada KELL", OTHER_WORDS, TABLET) for _ in range(2))
    assert first.person == Person("Ada Kell", ("plating",))
    assert first.number != second.number
    assert len(first.number) >= 43  # by hand: 256 bits, six to a letter
    with reading(works.engine) as connection:
        everything = str([list(connection.execute(table.select())) for table in people_tables.metadata.tables.values()])
    assert first.number not in everything
    assert OTHER_WORDS not in everything
    assert person_of_session(works, first.number) == first.person


@pytest.mark.parametrize("strange", ["", "x", "a" * 43, "a" * 5000, "é" * 43, "' OR 1=1 --" * 4])
def test_what_is_no_session(works: Ledger, strange: str) -> None:
    sign_in(works, "Kay", KEEPER_WORDS, TABLET)
    assert person_of_session(works, strange) is None


def test_signing_in_ends_the_session_before(works: Ledger) -> None:
    first = sign_in(works, "Ada Kell", OTHER_WORDS, TABLET).number
    second = sign_in(works, "Kay", KEEPER_WORDS, TABLET, before=first).number
    assert person_of_session(works, first) is None
    assert person_of_session(works, second) == Person("Kay", ("keeper",))


def test_a_session_ends_when_idle_and_when_old(works: Ledger, clock: Set) -> None:
    session = sign_in(works, "Ada Kell", OTHER_WORDS, TABLET).number
    clock.now += IDLE - timedelta(seconds=1)
    assert person_of_session(works, session) is not None  # and is used, so that it goes on
    clock.now += IDLE - timedelta(seconds=1)
    assert person_of_session(works, session) is not None
    clock.now += IDLE
    assert person_of_session(works, session) is None
    session = sign_in(works, "Ada Kell", OTHER_WORDS, TABLET).number
    begun = clock.now
    while clock.now - begun < OLDEST - timedelta(hours=1):
        clock.on(hours=1)
        assert person_of_session(works, session) is not None
    clock.on(hours=1)
    assert person_of_session(works, session) is None


def test_a_session_ends_by_signing_out_here_and_everywhere(works: Ledger) -> None:
    here, there = (sign_in(works, "Ada Kell", OTHER_WORDS, TABLET).number for _ in range(2))
    sign_out(works, here, TABLET)
    assert person_of_session(works, here) is None
    assert person_of_session(works, there) is not None
    sign_out_everywhere(works, "Ada Kell", by=By("Ada Kell", TABLET))
    assert person_of_session(works, there) is None
    sign_out(works, here, TABLET)  # again, which is nothing


@pytest.mark.parametrize(
    "change",
    [
        lambda ledger: set_roles(ledger, "Ada Kell", ("press",), by=BY),
        lambda ledger: set_password(ledger, "Ada Kell", "another four words here", by=BY),
        lambda ledger: close_person(ledger, "Ada Kell", by=BY),
        lambda ledger: change_password(ledger, "Ada Kell", OTHER_WORDS, "another four words here", TABLET),
    ],
    ids=["roles", "password", "closed", "own password"],
)
def test_a_session_ends_when_what_it_rests_on_changes(works: Ledger, change: Any) -> None:
    sessions_before = [sign_in(works, "Ada Kell", OTHER_WORDS, TABLET).number for _ in range(2)]
    keepers = sign_in(works, "Kay", KEEPER_WORDS, TABLET).number
    change(works)
    assert [person_of_session(works, one) for one in sessions_before] == [None, None]
    assert person_of_session(works, keepers) is not None


def test_ones_own_password(works: Ledger) -> None:
    set_password(works, "Ada Kell", "given by a keeper 7", by=BY, must_change=True)
    assert sign_in(works, "Ada Kell", "given by a keeper 7", TABLET).person.must_change
    with pytest.raises(WrongPasswordError):
        change_password(works, "Ada Kell", OTHER_WORDS, "another four words here", TABLET)
    with pytest.raises(CallError, match="would soon be guessed"):
        change_password(works, "Ada Kell", "given by a keeper 7", "password99", TABLET)
    with pytest.raises(CallError, match="the password you have"):
        change_password(works, "Ada Kell", "given by a keeper 7", "given by a keeper 7", TABLET)
    changed = change_password(works, "Ada Kell", "given by a keeper 7", "another four words here", TABLET)
    assert person_of_session(works, changed.number) == Person("Ada Kell", ("plating",))


def test_closed_between_the_look_and_the_session(works: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = passwords.fits

    def closing(kept: str, password: str) -> bool:
        close_person(works, "Ada Kell", by=BY)
        return whole(kept, password)

    monkeypatch.setattr(sessions.passwords, "fits", closing)
    with pytest.raises(WrongPasswordError):
        sign_in(works, "Ada Kell", OTHER_WORDS, TABLET)
    assert rows(works, "sessions") == []


# Slowed ------------------------------------------------------------------------------------------------


def test_sign_in_is_slowed_after_failures(works: Ledger, clock: Set) -> None:
    for _ in range(BY_NAME.free):
        assert wrong(works) == WRONG
    # By hand: 2 s, then 4, 8, 16 and so on; what comes too soon is not looked at, though it were right.
    for wait in (2, 4, 8, 16):
        with pytest.raises(SlowedError) as slowed:
            sign_in(works, "Ada Kell", OTHER_WORDS, TABLET)
        assert slowed.value.wait_s == pytest.approx(wait)
        clock.on(seconds=wait - 0.5)
        with pytest.raises(SlowedError, match=r"wait 1 s, then try again\.|wait 0 s"):
            sign_in(works, "Ada Kell", OTHER_WORDS, TABLET)
        clock.on(seconds=0.5)
        assert wrong(works) == WRONG
    clock.on(seconds=32)
    assert sign_in(works, "Ada Kell", OTHER_WORDS, TABLET).person.name == "Ada Kell"
    assert wrong(works) == WRONG  # and begins anew


def test_nobody_is_locked_out_for_ever(works: Ledger, clock: Set) -> None:
    sign_in(works, "Ada Kell", OTHER_WORDS, TABLET)
    for _ in range(60):
        wrong(works, where=ELSEWHERE)
        clock.on(seconds=BY_NAME.most_s + 1)
    # However long somebody tries elsewhere: where she was before, she comes in at once.
    wrong(works, where=ELSEWHERE)
    assert sign_in(works, "Ada Kell", OTHER_WORDS, TABLET).person.name == "Ada Kell"
    # And anywhere else after the longest wait.
    clock.on(seconds=BY_NAME.most_s + 1)
    assert sign_in(works, "Ada Kell", OTHER_WORDS, "192.168.1.77").person.name == "Ada Kell"


def test_failures_at_a_known_place_count_there(works: Ledger) -> None:
    sign_in(works, "Ada Kell", OTHER_WORDS, TABLET)
    for _ in range(BY_NAME.free):
        assert wrong(works, where=TABLET) == WRONG
    assert "too many attempts" in wrong(works, where=TABLET)
    assert wrong(works, where=ELSEWHERE) == WRONG


def test_an_address_is_slowed_over_many_names(works: Ledger, clock: Set) -> None:
    for number in range(BY_PLACE.free):
        assert wrong(works, f"name {number}", ELSEWHERE) == WRONG
    assert "too many attempts" in wrong(works, "Ada Kell", ELSEWHERE)
    assert wrong(works, "Ada Kell", TABLET) == WRONG
    # Signing in oneself in between does not help: an address forgets by time.
    clock.on(seconds=3)
    sign_in(works, "Kay", KEEPER_WORDS, ELSEWHERE)
    wrong(works, "Ada Kell", ELSEWHERE)
    assert "too many attempts" in wrong(works, "another", ELSEWHERE)
    clock.now += BY_PLACE.forgotten + timedelta(seconds=1)
    assert wrong(works, "another", ELSEWHERE) == WRONG


def test_a_restart_forgets_nothing(works: Ledger, clock: Set) -> None:
    for _ in range(BY_NAME.free):
        wrong(works)
    again = open_ledger(works.engine.url.render_as_string(hide_password=False), clock=clock)
    try:
        assert "too many attempts" in wrong(again)
    finally:
        again.close()


def test_the_same_answer_for_names_that_are_unknown(works: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    looked: list[str] = []
    whole = passwords.fits
    monkeypatch.setattr(passwords, "fits", lambda kept, word: looked.append(kept[:9]) or whole(kept, word))
    known = [wrong(works, "Ada Kell") for _ in range(7)]
    unknown = [wrong(works, "Zed", "192.168.1.88") for _ in range(7)]
    assert known == unknown
    # As many hashes of the same kind for one as for the other: what a hash costs is nearly all the time it takes.
    assert looked == ["$argon2id"] * 10


def test_many_at_once_gain_nothing(works: Ledger) -> None:
    with ThreadPoolExecutor(12) as pool:
        answers = list(pool.map(lambda _: wrong(works), range(24)))
    assert answers.count(WRONG) == BY_NAME.free


def test_a_clock_that_is_put_back_makes_nobody_wait_longer(works: Ledger, clock: Set) -> None:
    for _ in range(BY_NAME.free):
        wrong(works)
    clock.on(days=-300)
    with pytest.raises(SlowedError) as slowed:
        sign_in(works, "Ada Kell", OTHER_WORDS, TABLET)
    assert slowed.value.wait_s <= 2


@pytest.mark.parametrize(
    ("place", "origin"),
    # Published: 2606:4700::/32 is a network of the public internet; fe80::/10 is none.
    [("192.168.1.5", "192.168.1.5"), ("2606:4700:1:2:3:4:5:6", "2606:4700:1:2::/64"), ("fe80::1", "fe80::1"),
     ("testclient", "testclient"), ("", "")],
)  # fmt: skip
def test_an_address_as_it_is_counted(place: str, origin: str) -> None:
    assert throttle._origin(place) == origin


# Tokens ------------------------------------------------------------------------------------------------


def test_a_token_is_shown_once_and_good_for_its_scopes(works: Ledger, clock: Set) -> None:
    token, secret = make_token(works, "scale 2", ("read", "weighed"), 30, by=BY)
    assert secret.startswith(f"dw_{token.id}_")
    assert secret.split("_", 2)[2] not in str(rows(works, "tokens"))
    machine = person_of_token(works, secret)
    assert machine == Person("scale 2", token=token.id, scopes=frozenset({"read", "weighed"}))
    assert all_tokens(works)[0].used_at
    clock.on(days=30, seconds=-1)
    assert person_of_token(works, secret) == machine
    clock.on(seconds=1)
    assert person_of_token(works, secret) is None
    assert all_tokens(works)[0].state(clock.now) == "expired"


def test_a_token_that_is_revoked(works: Ledger) -> None:
    token, secret = make_token(works, "scale 2", ("weighed",), 30, by=BY)
    assert revoke_token(works, token.id, by=BY).revoked_at
    assert person_of_token(works, secret) is None
    revoke_token(works, "SCALE 2", by=BY)  # again, which is nothing
    assert [one.what for one in read_log(works)].count("token_revoked") == 1
    with pytest.raises(CallError, match="no such token"):
        revoke_token(works, "scale 3", by=BY)
    with pytest.raises(CallError, match="a token had this name already"):
        make_token(works, "Scale 2", ("weighed",), 30, by=BY)


def test_what_is_no_token(works: Ledger) -> None:
    token, secret = make_token(works, "scale 2", ("weighed",), 30, by=BY)
    other, _ = make_token(works, "scale 3", ("weighed",), 30, by=BY)
    wrong_end = secret[:-1] + ("A" if secret[-1] != "A" else "B")
    for strange in (
        "",
        "x",
        secret[:-1],
        secret + "A",
        wrong_end,
        secret.replace(token.id, other.id),
        secret.upper(),
        f"{secret}\n",
    ):
        assert person_of_token(works, strange) is None


@pytest.mark.parametrize("days", [0, -1, 731])
def test_a_token_ends(works: Ledger, days: int) -> None:
    with pytest.raises(CallError, match="good for 1 to 730 days"):
        make_token(works, "scale 2", ("weighed",), days, by=BY)


# The access log -----------------------------------------------------------------------------------------


def test_the_log_tells_who_when_from_where_and_what(works: Ledger, clock: Set) -> None:
    wrong(works)
    wrong(works, "my secret typed into the wrong field")
    session = sign_in(works, "Ada Kell", OTHER_WORDS, TABLET).number
    sign_out(works, session, TABLET)
    set_roles(works, "Ada Kell", ("press",), by=BY)
    set_password(works, "Ada Kell", "another four words here", by=BY)
    make_token(works, "scale 2", ("weighed",), 30, by=BY)
    revoke_token(works, "scale 2", by=BY)
    close_person(works, "Ada Kell", by=BY)
    log_access(works, "Kay", "exported", "works.jsonl", "192.168.1.9")
    told = [(one.who, one.what, one.about, one.place) for one in reversed(read_log(works))]
    assert told == [
        ("root", "person_added", "Kay: keeper", "command line"),
        ("Kay", "person_added", "Ada Kell: plating", "192.168.1.9"),
        ("Ada Kell", "sign_in_failed", "", TABLET),
        ("unknown name", "sign_in_failed", "", TABLET),
        ("Ada Kell", "signed_in", "", TABLET),
        ("Ada Kell", "signed_out", "", TABLET),
        ("Kay", "roles_changed", "Ada Kell: plating → press", "192.168.1.9"),
        ("Kay", "password_changed", "Ada Kell", "192.168.1.9"),
        ("Kay", "token_made", "scale 2: weighed", "192.168.1.9"),
        ("Kay", "token_revoked", "scale 2", "192.168.1.9"),
        ("Kay", "person_closed", "Ada Kell", "192.168.1.9"),
        ("Kay", "exported", "works.jsonl", "192.168.1.9"),
    ]
    assert {one.at for one in read_log(works)} == {"2031-04-02T09:00:00.000000+00:00"}
    everything = str(rows(works, "access_log"))
    assert all(secret not in everything for secret in ("my secret", "words", session))


def test_the_log_is_read_page_by_page(works: Ledger) -> None:
    for number in range(5):
        log_access(works, "Kay", "backed_up", str(number))
    newest = read_log(works, most=3)
    assert [one.about for one in newest] == ["4", "3", "2"]
    assert [one.about for one in read_log(works, before=newest[-1].seq, most=2)] == ["1", "0"]


def test_the_log_cannot_be_changed(works: Ledger) -> None:
    before = read_log(works)
    for statement in ("UPDATE access_log SET who = 'nobody'", "DELETE FROM access_log"):
        with pytest.raises(LedgerError), writing(works.engine) as connection:
            connection.execute(text(statement))
    assert read_log(works) == before


def test_nothing_passes_for_another_row(works: Ledger) -> None:
    log_access(works, "Kay\n2031-01-01 root", "exported", "a\r\nb\x1b[2J\u202e" + "x" * 900, "z" * 500)
    row = read_log(works)[0]
    assert row.who == "Kay?2031-01-01 root"
    assert row.about.startswith("a??b?[2J?x")
    assert (len(row.about), len(row.place)) == (200, 80)
    with pytest.raises(CallError, match="the access log knows no such thing"):
        log_access(works, "Kay", "looked around")


def test_every_thing_the_log_knows_has_words() -> None:
    assert all(words and words[0].islower() for words in ACCESS.values())
