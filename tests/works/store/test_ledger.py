"""The ledger as everybody uses it: lines are added and read, nothing is written twice, refusals leave nothing."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from ledgers import Clock, Works

from discwright.errors import CallError, DiscwrightError, LedgerError
from discwright.works import events as e
from discwright.works.chain import BEGIN, broken
from discwright.works.parts import part_number
from discwright.works.store.ledger import Ledger, Order, Outcome, begin_ledger, open_ledger
from discwright.works.store.verify import verify

STAMPER = part_number("stamper", 1)
WRONG = STAMPER[:-1] + str((int(STAMPER[-1]) + 1) % 10)
MASS = e.Weighed(mass_g=171.5)


def test_a_side_from_plan_to_vault(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    made = works.make_side(ledger)
    family = ledger.family("VK 1001")
    # by hand: one line to take the title in, 26 for the side.
    assert ledger.head()[0] == 27
    assert [one.kind for one in family.parts.values()] == ["lacquer", "master", "mother", "stamper"]
    stamper = family.parts[made.stamper]
    assert (stamper.state, stamper.pressings, stamper.place) == ("vaulted", 480, "shelf 12")
    assert stamper.marks == ("VK 1001-A", "M1", "S1")
    assert ledger.family_of(f" {made.stamper.lower().replace('-', ' ')}") == family
    assert list(broken(ledger.lines())) == []
    assert verify(ledger).ready


def test_numbers_count_over_all_kinds(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    made = works.make_side(ledger)
    # by hand: serial numbers 1 to 4 in the order of birth.
    assert [made.lacquer, made.master, made.mother, made.stamper] == [
        part_number(kind, k) for k, kind in enumerate(("lacquer", "master", "mother", "stamper"), 1)
    ]
    assert works.cut(ledger, side="B") == part_number("lacquer", 5)


def test_an_empty_ledger(ledger: Ledger) -> None:
    assert ledger.head() == (0, BEGIN)
    assert list(ledger.lines()) == []
    assert ledger.line(1) is None
    with pytest.raises(CallError, match=r"VK 9: is no title of this ledger; take it in with `discwright works add"):
        ledger.family("VK 9")
    with pytest.raises(CallError, match="no part has this number here; look whether the card is of another works"):
        ledger.family_of(part_number("stamper", 7))


def test_lines_by_title_by_part_and_after(make_ledger: Callable[[str], Ledger], works: Works) -> None:
    ledger = make_ledger("sqlite")
    works.take_in(ledger)
    works.take_in(ledger, "VK 1002", "Low Tide")
    made = works.make_side(ledger, "VK 1002")
    assert [line.seq for line in ledger.lines(title="VK 1001")] == [1]
    assert [line.seq for line in ledger.lines(title="VK 1002")][:3] == [2, 3, 4]
    assert {line.part for line in ledger.lines(part=made.mother)} == {made.mother}
    assert [line.seq for line in ledger.lines(after=26)] == [27, 28]
    line = ledger.line(28)
    assert line is not None
    assert line.kind == "vaulted"


def test_settings(ledger: Ledger) -> None:
    assert ledger.setting("zone", "UTC") == "UTC"
    ledger.set("zone", "Europe/Oslo")
    ledger.set("zone", "Europe/Riga")
    assert ledger.setting("zone") == "Europe/Riga"


# Once, and the same answer -----------------------------------------------------------------------------


def at_once(act: Callable[[int], Outcome], count: int) -> list[Outcome]:
    """The same act by several threads that begin together."""
    gate, outcomes = threading.Barrier(count), list[Outcome]()

    def run(k: int) -> None:
        gate.wait()
        outcomes.append(act(k))

    threads = [threading.Thread(target=run, args=(k,)) for k in range(count)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    return outcomes


def test_the_same_tap_sent_five_times_at_once_is_one_line(ledger: Ledger, works: Works, address: str) -> None:
    works.take_in(ledger)
    lacquer = works.cut(ledger)
    # The mark that was read is wrong: the answer has a warning in it, each time.
    order = Order(e.Checked(marks_read="VK 10"), "Ola Berg", part=lacquer, key="tap-1")
    outcomes = at_once(lambda _: ledger.append(order), 5)
    lines = {one.line.seq for one in outcomes if one.line is not None}
    assert len(outcomes) == 5
    assert lines == {5}
    assert sorted(one.repeated for one in outcomes) == [False, True, True, True, True]
    assert {one.findings for one in outcomes} == {outcomes[0].findings}
    assert [one.code for one in outcomes[0].findings] == ["marks"]
    assert ledger.head()[0] == 5


def test_a_birth_sent_twice_is_one_part(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    lacquer = works.cut(ledger)
    works.put(ledger, e.Silvered(), part=lacquer)
    order = Order(e.Plated(parent=lacquer, part_kind="master"), "Ola Berg", key="grow-1")
    outcomes = [ledger.append(order) for _ in range(3)]
    assert {one.line.part for one in outcomes if one.line} == {part_number("master", 2)}
    assert list(ledger.family("VK 1001").parts) == [lacquer, part_number("master", 2)]


def test_the_answer_stays_the_same_after_the_ledger_is_opened_anew(ledger: Ledger, works: Works, clock: Clock) -> None:
    works.take_in(ledger)
    ledger.clock = clock  # behind: it says 2025
    order = Order(e.TestCutMeasured(width_um=50.0), "Ola Berg", title="VK 1001", key="late")
    first = ledger.append(order)
    again = Ledger(ledger.engine, ledger.where, clock).append(order)
    assert first.clock_behind_s > 86_400
    assert again.repeated
    assert (again.line, again.findings, again.clock_behind_s) == (first.line, first.findings, first.clock_behind_s)


@pytest.mark.parametrize(
    "other",
    [
        Order(e.Weighed(mass_g=99.0), "Ola Berg", key="k"),
        Order(MASS, "Ida Vik", key="k"),
        Order(e.Separated(), "Ola Berg", key="k"),
    ],
    ids=["data", "person", "event"],
)
def test_a_key_stands_for_one_thing(make_ledger: Callable[[str], Ledger], works: Works, other: Order) -> None:
    ledger = make_ledger("sqlite")
    works.take_in(ledger)
    lacquer = works.cut(ledger)
    ledger.append(Order(MASS, "Ola Berg", part=lacquer, key="k"))
    with pytest.raises(CallError, match="the key k stands at line 5 for something else; use a new one"):
        ledger.append(Order(other.event, other.by, part=lacquer, key=other.key))
    assert ledger.head()[0] == 5


# The clock ---------------------------------------------------------------------------------------------


def test_a_clock_that_went_back_is_kept_beside_the_time(ledger: Ledger, works: Works, clock: Clock) -> None:
    ledger.clock = clock
    works.take_in(ledger)
    clock.now -= timedelta(minutes=10)
    outcome = ledger.append(Order(e.TestCutMeasured(width_um=50.0), "Ola Berg", title="VK 1001"))
    first, line = ledger.line(1), outcome.line
    assert first is not None
    assert line is not None
    assert line.at == first.at
    # by hand: ten minutes back, and a second on since the clock was looked at.
    assert line.clock == "2025-03-03T07:50:02.000000+00:00"
    assert outcome.clock_behind_s == pytest.approx(599.0)
    clock.now += timedelta(minutes=20)
    later = ledger.append(Order(e.TestCutMeasured(width_um=51.0), "Ola Berg", title="VK 1001"))
    assert later.line is not None
    assert (later.line.clock, later.clock_behind_s) == ("", 0.0)
    assert later.line.at > line.at
    assert list(broken(ledger.lines())) == []


def test_a_clock_a_second_behind_is_no_news(make_ledger: Callable[[str], Ledger], works: Works, clock: Clock) -> None:
    ledger = make_ledger("sqlite")
    ledger.clock = clock
    works.take_in(ledger)
    clock.now -= timedelta(seconds=2)
    outcome = ledger.append(Order(e.TestCutMeasured(width_um=50.0), "Ola Berg", title="VK 1001"))
    assert outcome.line is not None
    assert (outcome.line.clock, outcome.clock_behind_s) == ("", 0.0)


def test_time_is_written_in_utc(make_ledger: Callable[[str], Ledger], works: Works) -> None:
    from datetime import timezone

    ledger = make_ledger("sqlite")
    ledger.clock = lambda: datetime(2026, 6, 1, 9, 30, tzinfo=timezone(timedelta(hours=2)))
    works.take_in(ledger)
    line = ledger.line(1)
    assert line is not None
    assert line.at == "2026-06-01T07:30:00.000000+00:00"


# Refusals ----------------------------------------------------------------------------------------------


def test_a_stop_writes_nothing_until_it_is_accepted(ledger: Ledger, works: Works) -> None:
    works.take_in(ledger)
    lacquer = works.cut(ledger)
    master = works.grow(ledger, lacquer, "master")
    grow = e.Plated(parent=master, part_kind="mother")
    refused = ledger.append(Order(grow, "Ola Berg"))
    assert refused.line is None
    assert [one.code for one in refused.findings] == ["passivation"]
    assert ledger.head()[0] == 7
    taken = ledger.append(Order(grow, "Ola Berg", accepted="the film is still on it"))
    assert taken.line is not None
    assert taken.line.seq == 8
    assert [one.accepted for one in taken.findings] == ["the film is still on it"]
    # The number that was not used is given to the next part.
    assert taken.line.part == part_number("mother", 3)


@pytest.mark.parametrize(
    ("order", "sentence"),
    [
        (Order(MASS, "  ", part=STAMPER), "nobody is named; say who did it with --by NAME"),
        (Order(MASS, "Ola Berg", part=WRONG), "its last digit does not fit"),
        (Order(MASS, "Ola Berg", part="rim"), "is no part's number"),
        (Order(MASS, "Ola Berg", part=part_number("stamper", 900)), "no part has this number here"),
        (Order(e.TestCutMeasured(width_um=1.0), "Ola Berg"), "name its catalogue number"),
        (Order(MASS, "Ola\0Berg", part=part_number("stamper", 1)), "by: is no text"),
        (Order(MASS, "x" * 201, part=part_number("stamper", 1)), "by: is no text of at most 200 letters"),
        (Order(e.Vaulted(place="\ud800"), "Ola Berg", part=STAMPER), "holds what cannot be written down"),
        (Order(e.Weighed(mass_g=float("nan")), "Ola Berg", title="VK 1"), "holds what cannot be written down"),
        (Order(e.TitleTakenIn(name="a\0b"), "Ola Berg", title="VK 1"), "holds a letter that cannot be written down"),
        (Order(e.Plated(parent="ST900-0", part_kind="mother"), "Ola Berg"), "no part has this number here"),
    ],
)
def test_what_is_no_order(ledger: Ledger, order: Order, sentence: str) -> None:
    with pytest.raises(DiscwrightError, match=sentence):
        ledger.append(order)
    assert ledger.head()[0] == 0


def test_an_event_of_a_title_that_was_never_taken_in(ledger: Ledger) -> None:
    outcome = ledger.append(Order(e.TestCutMeasured(width_um=1.0), "Ola Berg", title="VK 404"))
    assert outcome.line is None
    assert [one.code for one in outcome.findings] == ["impossible"]
    assert "was not taken in" in outcome.findings[0].remedy


# What is remembered ------------------------------------------------------------------------------------


def test_two_programs_on_one_ledger_never_believe_what_they_remember(ledger: Ledger, works: Works) -> None:
    other = Ledger(ledger.engine, ledger.where)
    works.take_in(ledger)
    lacquer = works.cut(ledger)
    assert other.family("VK 1001").parts[lacquer].state == "cut"
    works.put(ledger, e.Silvered(), part=lacquer)
    assert other.family("VK 1001").parts[lacquer].state == "silvered"
    master = works.put(other, e.Plated(parent=lacquer, part_kind="master"))
    assert ledger.family_of(master).parts[lacquer].state == "spent"
    works.put(ledger, e.Separated(), part=master)
    # Undone by the one, and written about by the other.
    works.put(other, e.Corrected(seq=7), title="VK 1001", part=master)
    works.put(ledger, e.Weighed(mass_g=180.0), part=master)
    assert ledger.family_of(master) == other.family_of(master)
    assert verify(ledger).ready


# Beginning and opening ---------------------------------------------------------------------------------


def test_begin_and_open(address: str) -> None:
    with pytest.raises(LedgerError, match=r"no ledger; begin one with `discwright works init`"):
        open_ledger(address)
    begin_ledger(address).close()
    with pytest.raises(LedgerError, match="is a ledger already; go on with it, or name another place"):
        begin_ledger(address)
    ledger = open_ledger(address)
    assert ledger.head() == (0, BEGIN)
    ledger.close()


def test_a_folder_has_a_ledger_of_its_own(tmp_path: Path) -> None:
    begin_ledger(str(tmp_path)).close()
    assert (tmp_path / "works.sqlite").is_file()
    open_ledger(str(tmp_path)).close()
    open_ledger(str(tmp_path / "works.sqlite")).close()


def test_the_clock_is_utc_by_default(make_ledger: Callable[[str], Ledger]) -> None:
    assert abs(make_ledger("sqlite").clock() - datetime.now(UTC)) < timedelta(minutes=1)
