"""The file of a press hall: shipped values, house files right and wrong. Everything expected is *by hand*."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from discwright.errors import SettingsError
from discwright.files.hall_settings import HallSettings, load_hall
from discwright.works.hall import ChangeMinutes, OnPress, Press, Shift

ONE = '[[press]]\nname = "P1"\nsizes = ["12in"]\n'


def load(tmp_path: Path, text: str) -> HallSettings:
    file = tmp_path / "HALL.toml"
    file.write_text(text, encoding="utf-8")
    return load_hall(file)


def press(tmp_path: Path, text: str) -> Press:
    return load(tmp_path, text).hall.presses[0]


def test_a_press_has_what_is_shipped(tmp_path: Path) -> None:
    """From memory and common practice, as the shipped file says of each."""
    read = load(tmp_path, ONE)
    (one,) = read.hall.presses
    assert (one.name, one.sizes, one.colours, one.abilities) == ("P1", {"12in"}, set(), set())
    assert one.shifts == (Shift((0, 1, 2, 3, 4), 360, 840), Shift((0, 1, 2, 3, 4), 840, 1320))
    assert one.changes == ChangeMinutes(40, 20, 45, 90)
    assert (one.running, one.cycle_s) == (0.85, {"7in": 15.0, "10in": 20.0, "12in": 25.0})
    assert (one.on, one.free_from, one.closed_days) == (OnPress(), None, set())
    assert (read.hall.zone_name, read.stamper_life) == ("UTC", 1000)


def test_a_house_says_otherwise(tmp_path: Path) -> None:
    read = load(
        tmp_path,
        """
        [hall]
        zone = "Europe/Vienna"
        closed_days = [2031-05-01]
        [shifts]
        long = "mon-thu 06:00-18:00; fri 06:00-12:00"
        night = { value = "sun-thu 22:00-06:00", source = "our agreement" }
        [changes]
        stampers_minutes = 12
        [pressing]
        stamper_life = 800
        [[press]]
        name = "A"
        count = 2
        sizes = ["12in", "10in"]
        colours = ["Black"]
        abilities = ["Heavy"]
        shifts = ["long", "night"]
        size_minutes = 30
        running = 0.9
        cycle_12in_s = 28
        on_edition = "NL-1/lp"
        on_size = "12in"
        on_colour = "black"
        free_from = 2031-04-08T06:00:00
        closed_days = ["2031-04-09"]
        """,
    )
    assert [one.name for one in read.hall.presses] == ["A1", "A2"]
    one = read.hall.presses[1]
    assert one.shifts == (
        Shift((0, 1, 2, 3), 360, 1080), Shift((4,), 360, 720), Shift((0, 1, 2, 3, 6), 1320, 1800),
    )  # fmt: skip
    assert one.changes == ChangeMinutes(12, 20, 45, 30)
    assert (one.colours, one.abilities, one.running, one.cycle_s["12in"]) == ({"black"}, {"heavy"}, 0.9, 28.0)
    assert one.on == OnPress("NL-1/lp", "12in", "black")
    assert one.free_from == datetime(2031, 4, 8, 4, tzinfo=UTC)
    assert one.closed_days == {date(2031, 4, 9)}
    assert read.stamper_life == 800


def test_closed_days_of_the_hall_are_every_presss(tmp_path: Path) -> None:
    assert press(tmp_path, f"[hall]\nclosed_days = ['2031-12-25']\n{ONE}").closed_days == {date(2031, 12, 25)}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "has no press; write a table [[press]] with its name and sizes for each."),
        ("[press]\nname = 'a'\n", "has no press; write a table [[press]]"),
        ("[halls]\n" + ONE, "has an unknown table [halls]; write hall."),
        ("hall = 3\n" + ONE, "hall is a table; write [hall] and its keys below it."),
        ("[hall]\nzne = 'UTC'\n" + ONE, "[hall] has an unknown key “zne”; write zone."),
        ("[hall]\nzone = 'Atlantis'\n" + ONE, "[hall] zone: “Atlantis” is no zone; write for example Europe/Vienna"),
        ("[shifts]\nx = 'mon 6-14'\n" + ONE, "x: “mon 6-14” is no shift; write for example mon-fri 06:00-14:00."),
        ("[shifts]\nx = 'mon 06:00-25:00'\n" + ONE, "has no such hour; write 00:00 to 24:00."),
        ("[shifts]\nx = 'xyz 06:00-12:00'\n" + ONE, "is no shift"),
        (ONE + "size = 3\n", "press 1 has an unknown key “size”; write sizes."),
        (ONE + "shifts = ['erly']\n", "there is no shift “erly”; write early."),
        (ONE + "running = 1.2\n", "running: must be a number from 0.05 to 1; got '1.2'."),
        (ONE + "running = true\n", "running: must be a number from 0.05 to 1; got 'True'."),
        (ONE + "stampers_minutes = -1\n", "stampers_minutes: must be a number from 0 to 1440; got '-1'."),
        (ONE + "count = 500\n", "count: must be a number from 1 to 400"),
        (ONE + "colours = 'red'\n", "colours: must be a list such as"),
        (ONE + "free_from = 'soon'\n", "free_from: “soon” is no day or time"),
        (ONE + "closed_days = ['x']\n", "closed_days: “x” is no day; write for example 2031-12-25."),
        ("[[press]]\nname = 'P'\n", "sizes: are missing; write 7in, 10in, 12in."),
        ("[[press]]\nname = 'P'\nsizes = ['11in']\n", "sizes: “11in” is no size; write 7in, 10in, 12in."),
        ("[[press]]\nsizes = ['7in']\n", "name: must be a word of at most 40 letters; got 'None'."),
        ("[[press]]\nname = '=1+1'\nsizes = ['7in']\n", "name: must be a word of at most 40 letters; got '=1+1'."),
        ("[[press]]\nname = '\u202eP'\nsizes = ['7in']\n", "name: must be a word"),
        (ONE + ONE, "two presses are called “P1”; give each a name of its own."),
        ("x = ", "is not valid TOML"),
    ],
)  # fmt: skip
def test_wrong_files(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(SettingsError) as refusal:
        load(tmp_path, text)
    assert words in str(refusal.value)
    assert str(refusal.value).startswith(str(tmp_path / "HALL.toml"))


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="there is no such file of a press hall; check the path"):
        load_hall(tmp_path / "none.toml")
    (tmp_path / "latin.toml").write_bytes(b"name = '\xe9'")
    with pytest.raises(SettingsError, match="is not UTF-8"):
        load_hall(tmp_path / "latin.toml")
    with pytest.raises(SettingsError, match="cannot be read"):
        load_hall(tmp_path)
