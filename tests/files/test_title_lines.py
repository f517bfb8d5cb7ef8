"""Lines of a TOML text: by hand, each expected number is counted in the text beside it."""

from __future__ import annotations

import tomllib

import pytest

from discwright.files.title_lines import Lines, Where

TITLE = """\
# a comment, with [title] and id = "x" in it
[title]            # 2
name = "A [strange] name = x"
people = [
    "One",         # 5
    "Two",
]

[[band]]           # 9
id = "a"
  isrc = "AA6Q72000047"
[[band]]
\tid\t=\t"b"
gap_s=1.5          # 14

[[ edition ]]      # 16
id = "lp"
[[edition.side]]   # 18
letter = "A"
[[edition.side.treatment]]
kind = "low_cut"   # 21
below_hz = 30.0
[[edition.side.treatment]]
kind = "treble_limit"
[[edition . side . accepted]]  # [25]
code = "click"
[[edition.side]]
letter = "B"
[[edition.side.treatment]]     # 29
kind = "high_cut"
[[edition]]
id = "single"
[[edition.side]]   # 33
letter = "A"
"""

PLACES: tuple[tuple[Where, int], ...] = (
    ((), 1),
    (("title",), 2),
    (("title", "name"), 3),
    (("title", "people"), 4),
    (("title", "people", 1), 4),
    (("title", "catalogue"), 2),
    (("band", 0), 9),
    (("band", 0, "id"), 10),
    (("band", 0, "isrc"), 11),
    (("band", 0, "gap_s"), 9),
    (("band", 1), 12),
    (("band", 1, "id"), 13),
    (("band", 1, "gap_s"), 14),
    (("band", 7, "id"), 1),
    (("edition", 0, "id"), 17),
    (("edition", 0, "side", 0), 18),
    (("edition", 0, "side", 0, "letter"), 19),
    (("edition", 0, "side", 0, "treatment", 0, "kind"), 21),
    (("edition", 0, "side", 0, "treatment", 0, "below_hz"), 22),
    (("edition", 0, "side", 0, "treatment", 0, "above_hz"), 20),
    (("edition", 0, "side", 0, "treatment", 1, "kind"), 24),
    (("edition", 0, "side", 0, "accepted", 0), 25),
    (("edition", 0, "side", 0, "accepted", 0, "code"), 26),
    (("edition", 0, "side", 1), 27),
    (("edition", 0, "side", 1, "letter"), 28),
    (("edition", 0, "side", 1, "treatment", 0), 29),
    (("edition", 0, "side", 1, "treatment", 0, "kind"), 30),
    (("edition", 1), 31),
    (("edition", 1, "id"), 32),
    (("edition", 1, "side", 0), 33),
    (("edition", 1, "side", 0, "letter"), 34),
    (("nothing",), 1),
)


def lines(text: str) -> Lines:
    tomllib.loads(text)  # what is asked about is always TOML
    return Lines(text)


@pytest.mark.parametrize(("where", "line"), PLACES)
def test_every_place(where: Where, line: int) -> None:
    assert lines(TITLE).of(where) == line


@pytest.mark.parametrize(("where", "line"), PLACES)
def test_windows_line_ends(where: Where, line: int) -> None:
    assert lines(TITLE.replace("\n", "\r\n")).of(where) == line


def test_an_empty_text() -> None:
    assert lines("").of(("title", "name")) == 1


@pytest.mark.parametrize(
    ("text", "where", "line"),
    [
        # Inline tables: the line of the table that holds them.
        ('\ntitle = { name = "x", people = 3 }\n', ("title", "people"), 2),
        ('band = [\n  { id = "a" },\n  { id = "b" },\n]\nx = 1', ("band", 1, "id"), 1),
        ('band = [\n  { id = "a" },\n  { id = "b" },\n]\nx = 1', ("x",), 5),
        # Quoted keys, those with dots, signs and spaces among them.
        ('[title]\n"name" = "x"\n\'catalogue\' = 3\n', ("title", "name"), 2),
        ('[title]\n"name" = "x"\n\'catalogue\' = 3\n', ("title", "catalogue"), 3),
        ('[title]\nx = 1\n"a = b" = 2\n', ("title", "a = b"), 3),
        ('[title]\nx = 1\n"a.b" = 2\n', ("title", "a.b"), 3),
        ('x = 1\n["title"]\nname = 1\n', ("title", "name"), 3),
        ('x = 1\n[["edition"."side"]]\nletter = 1\n', ("edition", "side", 0, "letter"), 3),
        ('x = 1\n["a.b"]\ny = 1\n', ("a.b", "y"), 3),
        # Dotted keys, each with its own line.
        ('title.name = "x"\ntitle.people = 3\n', ("title", "people"), 2),
        ('title.name = "x"\ntitle . "people" = 3\n', ("title", "people"), 2),
        ('x = 1\ntitle.name = "x"\n', ("title",), 2),
        # Texts of several lines are no tables and no keys.
        ('[title]\nname = """\n[band]\nid = 3\n"""\npeople = 3\n', ("title", "people"), 6),
        ('[title]\nname = """\n[band]\nid = 3\n"""\npeople = 3\n', ("band", "id"), 1),
        ("[title]\nname = '''\n[[band]]\n'''\npeople = 3\n", ("title", "people"), 5),
        ('[title]\nname = """on one line"""\npeople = 3\n', ("title", "people"), 3),
        ('[title]\nname = """a \'\'\' b\n\'\'\'\npeople = 1\n"""\npeople = 3\n', ("title", "people"), 6),
        # Marks that a text may hold and that are no end of line.
        ('[title]\nname = "a\u2028b\u0085c"\npeople = 3\n', ("title", "people"), 3),
        ('# a\u2029b\n[title]\npeople = 3\n', ("title", "people"), 3),
        # Lists of several lines hold nothing that could be taken for a head or a key.
        ('[title]\npeople = [\n  ["A"]\n]\ncatalogue = 3\n', ("title", "catalogue"), 5),
        ('[title]\npeople = [\n  "a = 1",\n  "[band]"\n]\ncatalogue = 3\n', ("title", "catalogue"), 6),
        ('[title]\npeople = [\n  """a\n[band]\n"""\n]\ncatalogue = 3\n', ("title", "catalogue"), 7),
        ('[title]\npeople = ["[", # ]\n "\\"]"]\n[band]\nid = 3\n', ("band", "id"), 5),
        # The last line has no end.
        ("[title]\npeople = 3", ("title", "people"), 2),
    ],
)  # fmt: skip
def test_oddities(text: str, where: Where, line: int) -> None:
    assert lines(text).of(where) == line
