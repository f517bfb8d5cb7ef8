"""Out as text and in again: the same bytes whatever database they went through, and nothing half."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from ledgers import Places, Works

from discwright.errors import LedgerError
from discwright.works import events as e
from discwright.works.chain import BEGIN, linked
from discwright.works.store.export import export_text, import_text
from discwright.works.store.ledger import Ledger, Order, begin_ledger, open_ledger
from discwright.works.store.verify import verify


@pytest.fixture
def text(make_ledger: Callable[[str], Ledger], works: Works, tmp_path: Path) -> Path:
    """A ledger with letters of several kinds, a correction and an acceptance, as text: 31 lines."""
    ledger = make_ledger("sqlite")
    works.take_in(ledger, name="Dvořák – 東京 ‘live’\u2028at the quay")
    made = works.make_side(ledger)
    works.put(ledger, e.Vaulted(place="Regal 7 / ø"), part=made.mother, by="Łucja Wójcik")
    works.put(ledger, e.Corrected(seq=28, note="not that one"), title="VK 1001")
    ledger.append(Order(e.Checked(marks_read="?"), "Ola Berg", part=made.lacquer, accepted="scribed by hand"))
    export_text(ledger, tmp_path / "a.jsonl")
    return tmp_path / "a.jsonl"


def test_what_the_text_is(text: Path) -> None:
    first, *rest = [json.loads(line) for line in text.read_bytes().split(b"\n")[:-1]]
    assert first == {"format": "discwright ledger", "format_version": 1, "lines": 30, "head": rest[-1]["hash"]}
    assert len(rest) == 30
    assert list(rest[0]) == [
        "seq", "at", "by", "station", "title", "part", "kind", "data", "key", "accepted", "clock", "prev", "hash",
    ]  # fmt: skip
    assert rest[0]["data"]["name"] == "Dvořák – 東京 ‘live’\u2028at the quay"
    assert rest[0]["prev"] == BEGIN
    assert "東京" in text.read_text(encoding="utf-8")


def test_round_trip_over_both_databases(text: Path, places: Places, tmp_path: Path) -> None:
    source = text
    for k, kind in enumerate(("postgresql", "sqlite", "postgresql")):
        place, told = places(kind), list[float]()
        moved = import_text(source, place, tell=lambda _, done, told=told: told.append(done))
        assert (moved.lines, moved.findings) == (30, 0)
        assert told == sorted(told)
        ledger = open_ledger(place)
        assert ledger.head() == (30, moved.head)
        assert verify(ledger, head=moved.head).ready
        source = tmp_path / f"{k}.jsonl"
        export_text(ledger, source)
        ledger.close()
        assert source.read_bytes() == text.read_bytes()


def test_into_a_ledger_that_was_begun(text: Path, ledger: Ledger, works: Works) -> None:
    ledger.set("zone", "Europe/Oslo")
    address = ledger.engine.url.set(drivername=ledger.engine.dialect.name).render_as_string(hide_password=False)
    import_text(text, address)
    assert ledger.head()[0] == 30
    assert ledger.setting("zone") == "Europe/Oslo"
    works.make_side(ledger, side="B")
    assert verify(ledger).ready
    with pytest.raises(LedgerError, match="has 56 lines already, and nothing is written over them; name an empty"):
        import_text(text, address)
    assert ledger.head()[0] == 56


def test_an_empty_ledger(ledger: Ledger, places: Places, tmp_path: Path) -> None:
    assert export_text(ledger, tmp_path / "a.jsonl").head == BEGIN
    place = places("sqlite")
    assert import_text(tmp_path / "a.jsonl", place).lines == 0
    again = open_ledger(place)
    assert again.head() == (0, BEGIN)
    again.close()


def test_lines_that_come_meanwhile_are_not_in_it(ledger: Ledger, works: Works, tmp_path: Path) -> None:
    works.take_in(ledger)
    works.make_side(ledger)
    head = ledger.head()
    moved = export_text(
        ledger, tmp_path / "a.jsonl",
        tell=lambda _words, _done: works.put(ledger, e.TestCutMeasured(width_um=1.0), title="VK 1001"),
    )  # fmt: skip
    assert (moved.lines, moved.head) == head
    assert ledger.head()[0] == head[0] + 1
    assert len((tmp_path / "a.jsonl").read_bytes().splitlines()) == head[0] + 1
    with pytest.raises(LedgerError, match="is there already, and nothing is written over it"):
        export_text(ledger, tmp_path / "a.jsonl")


# Texts that are not right ------------------------------------------------------------------------------


def lines_of(text: Path) -> list[bytes]:
    return text.read_bytes().splitlines(keepends=True)


def changed(line: bytes, **fields: object) -> bytes:
    return (json.dumps(json.loads(line) | fields, ensure_ascii=False, separators=(",", ":")) + "\n").encode()


def without_last(lines: list[bytes]) -> list[bytes]:
    return lines[:-1]


BROKEN: dict[str, tuple[Callable[[list[bytes]], list[bytes]], str]] = {
    "cut off": (without_last, "ends after line 30, but 30 lines of the ledger should follow the first"),
    "cut in a line": (lambda one: [*one[:-1], one[-1][:50]], "line 31: is no line of a ledger"),
    "out of order": (
        lambda one: [*one[:5], one[6], one[5], *one[7:]],
        "line 6: line 6 follows line 4: lines are missing or out of order; nothing was taken in",
    ),
    "a line missing": (lambda one: [*one[:5], *one[6:]], "line 6: line 6 follows line 4"),
    "a line twice": (lambda one: [*one[:5], one[4], *one[5:]], "line 6: line 4 follows line 4"),
    "edited": (
        lambda one: [*one[:9], changed(one[9], by="Someone else"), *one[10:]],
        "line 10: line 9 was changed after it was written",
    ),
    "another field": (lambda one: [*one[:9], changed(one[9], more=1), *one[10:]], "line 10: is no line of a ledger"),
    "a field missing": (lambda one: [*one[:9], b'{"seq":9}\n', *one[10:]], "line 10: is no line of a ledger"),
    "a number as text": (lambda one: [*one[:9], changed(one[9], seq="9"), *one[10:]], "line 10: is no line of a ledg"),
    "not text": (lambda one: [*one[:9], b"\xff\xfe\x00\n", *one[10:]], "line 10: is not written in UTF-8"),
    "not JSON": (lambda one: [*one[:9], b"{seq: 9}\n", *one[10:]], "line 10: is no line of a ledger"),
    "an empty line": (lambda one: [*one[:9], b"\n", *one[9:]], "line 10: is no line of a ledger"),
    "more than told": (lambda one: [*one, one[-1]], "line 32: is more than its first line tells of"),
    "another head": (lambda one: [changed(one[0], head="a" * 64), *one[1:]], "ends otherwise than its first line says"),
    "no head": (lambda one: [changed(one[0], head="a"), *one[1:]], "line 1: does not say how many lines follow"),
    "newer": (
        lambda one: [changed(one[0], format_version=2), *one[1:]],
        r"was written by a newer discwright \(format 2\); use that one",
    ),
    "something else": (lambda one: [b'{"format":"recipes"}\n'], "is no ledger written out as text; use a file that"),
    "nothing": (lambda one: [], "line 1: is no line of a ledger"),
    "an array": (lambda one: [b"[1]\n"], "line 1: is no line of a ledger"),
    "nested without end": (lambda one: [b"[" * 100_000], "line 1: is no line of a ledger"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_text_that_is_not_right_leaves_nothing(text: Path, places: Places, database: str, name: str) -> None:
    change, words = BROKEN[name]
    bad = text.with_name("bad.jsonl")
    bad.write_bytes(b"".join(change(lines_of(text))))
    place = places(database)
    with pytest.raises(LedgerError, match=words) as refused:
        import_text(bad, place)
    assert str(refused.value).startswith(f"{bad}")
    assert str(refused.value).endswith((".", "again."))
    with pytest.raises(LedgerError, match="no ledger; begin one"):
        open_ledger(place)
    begin_ledger(place).close()
    with pytest.raises(LedgerError, match=words):
        import_text(bad, place)
    ledger = open_ledger(place)
    assert ledger.head() == (0, BEGIN)
    assert verify(ledger).ready
    ledger.close()
    import_text(text, place)


def test_an_event_this_program_does_not_know(text: Path, places: Places) -> None:
    from discwright.works.chain import line_from

    first, *rest = lines_of(text)
    line = line_from(json.loads(rest[-1]))
    other = linked(line_from(json.loads(rest[-1]) | {"kind": "gilded", "data": {}}), line.prev)
    rest[-1] = changed(rest[-1], kind="gilded", data={}, hash=other.hash)
    bad = text.with_name("bad.jsonl")
    bad.write_bytes(b"".join([changed(first, head=other.hash), *rest]))
    with pytest.raises(LedgerError, match="line 31: “gilded” is no event of the ledger"):
        import_text(bad, places("sqlite"))


def test_a_key_that_comes_twice(text: Path, places: Places, database: str) -> None:
    from discwright.works.chain import line_from

    first, *rest = lines_of(text)
    whole, prev = [], BEGIN
    for k, raw in enumerate(rest):
        values = json.loads(raw) | ({"key": json.loads(rest[2])["key"]} if k == 20 else {})
        line = linked(line_from(values), prev)
        whole.append(changed(raw, key=line.key, prev=prev, hash=line.hash))
        prev = line.hash
    bad = text.with_name("bad.jsonl")
    bad.write_bytes(b"".join([changed(first, head=prev), *whole]))
    with pytest.raises(LedgerError, match="one of the lines 2 to 31 repeats the key of an earlier one"):
        import_text(bad, places(database))


def test_there_is_no_such_text(tmp_path: Path) -> None:
    with pytest.raises(LedgerError, match=r"cannot be read .*; see to its name and rights"):
        import_text(tmp_path / "none.jsonl", str(tmp_path / "new.sqlite"))
    with pytest.raises(LedgerError, match="cannot be read"):
        import_text(tmp_path, str(tmp_path / "new.sqlite"))
    assert not (tmp_path / "new.sqlite").exists()


def test_stopped_in_the_middle(text: Path, places: Places, database: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("discwright.works.store.export._PAGE", 5)
    monkeypatch.setattr("discwright.works.store.refold._TOGETHER", 1)
    for share in (0.1, 0.3, 0.5):
        place = places(database)

        def stop(words: str, done: float, share: float = share) -> None:
            if done >= share:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            import_text(text, place, tell=stop)
        with pytest.raises(LedgerError, match="no ledger; begin one"):
            open_ledger(place)
        import_text(text, place)
