"""Words of the ledger's pages: times in the works' zone, lateness, lines, findings, plans."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from discwright.acts.ledger_keeping import back_up, drill
from discwright.desk.csv_words import plain_cell
from discwright.desk.show_board import drill_badge, paging, title_href
from discwright.desk.show_family import line_rows, works_findings
from discwright.desk.works_time import (
    at_words,
    day_words,
    due_words,
    named_zone,
    server_zone,
    since_words,
    span_words,
    zone_words,
)
from discwright.desk.works_words import (
    kind_words,
    late_words,
    marks_hint,
    said_in,
    state_badge,
    thickness_words,
    verdict_badge,
)
from discwright.works.chain import Line
from discwright.works.family import STATES, Part
from discwright.works.store.ledger import begin_ledger

NOW = datetime(2031, 4, 2, 23, 30, tzinfo=UTC)
AUCKLAND = ZoneInfo("Pacific/Auckland")


def line(number: int, kind: str, /, **data: object) -> Line:
    at = "2031-04-02T23:30:00.000000+00:00"
    return Line(number, at, "Ada", "press", "T", "ST1042-0", kind, dict(data), f"k{number}")


def test_moments_are_shown_where_the_works_is() -> None:
    # published: New Zealand is 13 h ahead of UTC in summer time, which ends on the first Sunday of April.
    assert at_words("2031-04-02T23:30:00+00:00", AUCKLAND) == "2031-04-03 12:30"
    assert day_words("2031-04-02T23:30:00+00:00", AUCKLAND) == "2031-04-03"
    assert at_words("2031-04-10T23:30:00+00:00", AUCKLAND) == "2031-04-11 11:30"
    assert (at_words("", AUCKLAND), day_words("", AUCKLAND)) == ("", "")
    # A due date is a date wherever one looks from.
    assert (due_words("2031-05-30"), due_words("soon"), due_words("")) == ("2031-05-30", "", "")


def test_zones(monkeypatch: pytest.MonkeyPatch) -> None:
    assert named_zone("Europe/Nowhere") is None
    assert named_zone("../etc/passwd") is None
    assert zone_words(ZoneInfo("Etc/UTC")) == "UTC"
    assert zone_words(AUCKLAND) == "Pacific/Auckland"
    for told, zone in ((":Asia/Tokyo", "Asia/Tokyo"), ("nonsense", "UTC")):
        monkeypatch.setenv("TZ", told)
        server_zone.cache_clear()
        assert server_zone().key == zone
    server_zone.cache_clear()


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "less than a minute"), (-5, "less than a minute"), (60, "1 minute"), (3599, "59 minutes"), (3600, "1 hour"),
     (86_400, "24 hours"), (2 * 86_400, "2 days"), (400 * 86_400, "400 days")],
)  # fmt: skip
def test_spans(seconds: float, words: str) -> None:
    assert span_words(seconds) == words


def test_lateness_is_told_by_how_much() -> None:
    due = (NOW - timedelta(days=3)).isoformat()
    assert late_words(due, NOW) == "late by 3 days"
    assert late_words((NOW + timedelta(seconds=1)).isoformat(), NOW) == ""
    assert late_words("", NOW) == ""
    assert since_words(due, NOW) == "3 days"


def test_every_state_has_a_shape_and_words() -> None:
    assert {state_badge(one).words for one in STATES} == set(STATES.values())
    assert state_badge("").words == "nothing yet"
    assert verdict_badge(Part("ST1042-0", "stamper", "A")) is None


@pytest.mark.parametrize(
    ("kind", "data", "said"),
    [
        ("weighed", {"mass_g": 212.5}, "mass 212.5 g"),
        ("measured", {"thickness_um": 203.2, "where": "rim"}, "thickness 203.2 µm, where rim"),
        ("plated", {"ampere_hours": 11.0, "minutes": 90.0, "tank": "2"}, "charge 11 Ah, in the bath 90 min, tank 2"),
        ("taken_off", {"count": 640}, "640 pressings"),
        ("test_played", {"count": 1}, "1 fault"),
        ("lacquer_cut", {"fingerprint": "ab" * 32, "tip_hours": 11.5}, "plan abababababab, on the tip 11.5 h"),
        ("corrected", {"seq": 7}, "line 7 was never so"),
        ("silvered", {"note": "twice"}, ""),
    ],
)
def test_what_a_line_says(kind: str, data: dict[str, object], said: str) -> None:
    assert said_in(line(1, kind, **data)) == said


def test_a_birth_says_what_was_grown() -> None:
    assert kind_words(line(1, "plated", parent="MO1-2", part_kind="stamper")) == "stamper grown on MO1-2"
    assert kind_words(line(1, "plated")) == "plated"


def test_thickness_in_thousandths_of_an_inch() -> None:
    # by hand: 254 µm are 10 thousandths.
    assert (thickness_words(254.0, False), thickness_words(254.0, True)) == ("254 µm", "10.00 thou")


def test_marks_of_a_negative_are_mirrored() -> None:
    assert marks_hint(Part("MA1-1", "master", "A", marks=("X",))).startswith("in mirror image")
    assert marks_hint(Part("MO1-1", "mother", "A", marks=("X",))) == "as they stand here"
    assert marks_hint(Part("LA1-1", "lacquer", "A")).startswith("nothing was put on it")


def test_lines_are_undone_and_put_right() -> None:
    lines = [
        line(1, "weighed", mass_g=210.0), line(2, "taken_off", count=64), line(3, "corrected", seq=1),
        line(4, "corrected", seq=2, instead={"count": 640}), line(5, "corrected", seq=3), line(6, "silvered"),
        line(7, "corrected", seq=6),
    ]  # fmt: skip
    rows = {row.seq: row for row in line_rows(lines, "ST1042-0", ZoneInfo("UTC"))}
    # The correction of line 1 was itself undone: line 1 counts again.
    assert [seq for seq, row in rows.items() if row.undone] == ["3", "6"]
    assert rows["2"].instead == "640 pressings"
    assert rows["1"].instead == ""


def test_findings_come_with_their_line_and_stops_first() -> None:
    about = {"value": 1200.0, "limit": 1000.0, "unit": "", "remedy": "Do it.", "part": "ST1042-0"}
    rows = works_findings(
        [
            about | {"code": "press_life", "severity": "warn", "seq": 4, "unit": "pressings"},
            about | {"code": "passivation", "severity": "stop", "seq": 9},
        ]
    )
    told = [(one.row.number, one.row.severity, one.line) for one in rows]
    assert told == [(1, "stop", "line 9"), (2, "warn", "line 4")]
    assert rows[1].row.against == "1200 against 1000 pressings"
    assert rows[1].row.code == "press life"
    assert rows[0].href == "/works/parts/ST1042-0#line-9"


def test_addresses_and_cells_hold_anything() -> None:
    assert title_href("A/B 1?") == "/works/titles/A%2FB%201%3F"
    assert [plain_cell(one) for one in ("=1+1", "@x", "-3", "ok", 5)] == ["'=1+1", "'@x", "'-3", "ok", 5]


@pytest.mark.parametrize(
    ("first", "shown", "total", "told"),
    [(0, 1, 1, ("1 title", "", "")), (0, 50, 120, ("titles 1 to 50 of 120", "", "a50")),
     (50, 50, 120, ("titles 51 to 100 of 120", "a0", "a100")), (100, 20, 120, ("titles 101 to 120 of 120", "a50", "")),
     (200, 0, 120, ("no titles", "a0", ""))],
)  # fmt: skip
def test_paging(first: int, shown: int, total: int, told: tuple[str, str, str]) -> None:
    found = paging(first, shown, total, "a")
    assert (found.words, found.earlier, found.later) == told


def test_the_board_tells_how_old_backup_and_restore_are(tmp_path: Path) -> None:
    now = [datetime(2031, 3, 1, 8, tzinfo=UTC)]
    kept = begin_ledger(str(tmp_path / "works.sqlite"), clock=lambda: now[0])
    assert drill_badge(kept, now[0]).words == "no restore was ever tried; no backup was made"
    file = back_up(kept, tmp_path / "kept.sqlite").file
    now[0] += timedelta(days=2)
    assert drill_badge(kept, now[0]).words == "no restore was ever tried; the last backup was 2 days ago"  # by hand
    assert drill(kept, Path(file)).good
    now[0] += timedelta(days=91)
    assert drill_badge(kept, now[0]).state == "ready"
    now[0] += timedelta(days=1)
    assert drill_badge(kept, now[0]).state == "warn"
    assert drill_badge(kept, now[0]).words == "the last good restore was 92 days ago; the last backup was 94 days ago"
    kept.close()
