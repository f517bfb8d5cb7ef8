"""Sides written into a title file's text: what was meant is there, and not a line of anything else has moved."""

from __future__ import annotations

import hashlib
import os
import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from discwright.errors import CallError, DiscwrightError, SettingsError
from discwright.files import title as title_module
from discwright.files import title_edit
from discwright.files.title import load_title
from discwright.files.title_edit import fix_sides
from discwright.programme.title import Accepted, SideOrder, Treatment

HEAD = """# My title.
[title]
name = "Fen"       # short

[[band]]
id = "a"
name = "A"
file = "reel.wav"
end = 1.0

[[band]]
id = "b"
name = "B"
file = "reel.wav"
start = 1.0
end = 2.0
# b is the quiet one

[[band]]
id = "c"
name = "C"
file = "reel.wav"
start = 2.0
"""
LP = """
# The long-player.
[[edition]]
id = "lp"
format = "12in-33"
# lathe = "ours"

"""
EP = """
# The 45: two bands.
[[edition]]
id = "ep"
format = "7in-45"   # spins fast
level = "clean"

# A first
[[edition.side]]
letter = "A"   # the hit
bands = ["a"]  # alone

[[edition.side.treatment]]
# asked for on Monday
kind = "bass_blend"
below_hz = 150.0

# loose remark

# then B
[[edition.side]]
letter = "B"
bands = [
    # the quiet one
    "b",
]

[[edition.side.accepted]]
code = "sibilance"
time = "0:00.5"
reason = "wanted"

# The end.
"""
BLEND = (Treatment("bass_blend", 150.0),)
WANTED = (Accepted("sibilance", 0.5, "wanted"),)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("title")
    soundfile.write(place / "reel.wav", np.zeros((3 * 44_100, 2)), 44_100, subtype="PCM_16")
    return place


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "title.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def edited(folder: Path, text: str, edition: str, *sides: tuple[str, str]) -> str:
    path = written(folder, text)
    fix_sides(path, edition, [SideOrder(letter, tuple(bands)) for letter, bands in sides])
    return path.read_bytes().decode()


def sides_of(path: Path, edition: str) -> tuple[SideOrder, ...]:
    return next(one.sides for one in load_title(path).editions if one.id == edition)


# By hand: the whole text that must come out -------------------------------------------------------------


def test_sides_of_an_edition_that_had_none(folder: Path) -> None:
    """Below the edition's own keys and their comments, above whatever follows."""
    new = '[[edition.side]]\nletter = "A"\nbands = ["c", "a"]\n\n[[edition.side]]\nletter = "B"\nbands = ["b"]\n'
    got = edited(folder, HEAD + LP + EP, "lp", ("A", "ca"), ("B", "b"))
    assert got == HEAD + LP.rstrip("\n") + "\n\n" + new + "\n" + EP


def test_the_same_sides_change_nothing(folder: Path) -> None:
    text = HEAD + LP + EP
    assert edited(folder, text, "ep", ("A", "a"), ("B", "b")) == text


def test_a_side_with_other_bands_keeps_its_comments_and_loses_its_treatment(folder: Path) -> None:
    got = edited(folder, HEAD + EP, "ep", ("A", "c"), ("B", "b"))
    old = EP[EP.index("bands = ") : EP.index("# loose")]
    assert got == HEAD + EP.replace(old, 'bands = ["c"]  # alone\n# asked for on Monday\n\n')
    assert sides_of(folder / "title.toml", "ep") == (SideOrder("A", ("c",)), SideOrder("B", ("b",), (), WANTED))


def test_sides_that_change_places_take_their_tables_with_them(folder: Path) -> None:
    got = edited(folder, HEAD + EP, "ep", ("A", "b"), ("B", "a"))
    assert sides_of(folder / "title.toml", "ep") == (
        SideOrder("A", ("b",), (), WANTED),
        SideOrder("B", ("a",), BLEND),
    )
    assert got.index("# then B") < got.index("# A first") < got.index("# loose remark") < got.index("# The end.")
    assert 'letter = "B"   # the hit\nbands = ["a"]  # alone\n' in got
    assert '    # the quiet one\n    "b",\n]' in got


def test_a_side_more_and_a_side_less(folder: Path) -> None:
    text = HEAD + EP
    got = edited(folder, text, "ep", ("A", "a"), ("B", "b"), ("C", "c"))
    assert got == text.replace("# The end.", '[[edition.side]]\nletter = "C"\nbands = ["c"]\n\n# The end.')
    less = edited(folder, got, "ep", ("A", "a"))
    assert sides_of(folder / "title.toml", "ep") == (SideOrder("A", ("a",), BLEND),)
    for comment in ("# loose remark", "# then B", "# the quiet one", "# The end."):
        assert less.count(comment) == 1


def test_an_edition_is_opened_again(folder: Path) -> None:
    got = edited(folder, HEAD + EP, "ep")
    assert sides_of(folder / "title.toml", "ep") == ()
    assert "[[edition.side" not in got
    assert got.count("#") == (HEAD + EP).count("#") - 2  # those behind the values of a side are gone with them


def test_a_list_of_sides_becomes_tables(folder: Path) -> None:
    inline = """side = [
    # both short
    {letter = "A", bands = ["a"], treatment = [{kind = "low_cut", below_hz = 30}]},
    {letter = "B", bands = ["b"], accepted = [{code = "click", reason = "a \\"snap\\""}]},
]
"""
    text = HEAD + '[[edition]]\nid = "x"\nformat = "7in-45"\n' + inline + 'level = "fit"\n'
    got = edited(folder, text, "x", ("A", "a"), ("B", "c"), ("C", "b"))
    assert sides_of(folder / "title.toml", "x") == (
        SideOrder("A", ("a",), (Treatment("low_cut", 30.0),)),
        SideOrder("B", ("c",)),
        SideOrder("C", ("b",), (), (Accepted("click", None, 'a "snap"'),)),
    )
    assert "# both short" in got
    assert "{" not in got


def test_an_empty_list_of_sides(folder: Path) -> None:
    text = HEAD + '[[edition]]\nid = "x"\nside = []\nformat = "7in-45"'
    assert edited(folder, text, "x", ("A", "abc")) == (
        HEAD + '[[edition]]\nid = "x"\nformat = "7in-45"\n\n[[edition.side]]\nletter = "A"\nbands = ["a", "b", "c"]'
    )


def test_sides_that_stand_far_from_their_edition(folder: Path) -> None:
    """TOML gives a side to the last edition, whatever stands between."""
    band = HEAD[HEAD.index("[[band]]") :]
    start = HEAD[: HEAD.index("[[band]]")]
    text = start + '[[edition]]\nid = "x"\nformat = "7in-45"\n' + band
    text += '[[ edition . "side" ]]\n"letter" = \'A\'\nbands = ["a"]\n'
    assert edited(folder, text, "x", ("A", "a")) == text
    assert edited(folder, text, "x", ("A", "b")) == text.replace('["a"]', '["b"]')


def test_what_looks_like_a_head_and_is_none(folder: Path) -> None:
    text = HEAD.replace('"Fen"', '"""\n[[edition]]\n# no comment\n"""') + EP
    got = edited(folder, text, "ep", ("A", "ab"))
    assert got.startswith(HEAD.replace('"Fen"', '"""\n[[edition]]\n# no comment\n"""'))


# Any shape ----------------------------------------------------------------------------------------------


def loose_comments(text: str) -> Counter[str]:
    return Counter(line.strip() for line in text.splitlines() if line.strip().startswith("#"))


@st.composite
def titles(draw: st.DrawFn) -> tuple[str, str]:
    """A title of up to three editions in any order and any manner of writing, and the id of one."""
    count = iter(range(1000))

    def loose() -> str:
        parts = draw(st.lists(st.sampled_from(["", "#"]), max_size=3))
        return "".join(f"# remark {next(count)} [[x]] ]\n" if part else "\n" for part in parts)

    blocks = []
    ids = draw(st.permutations(["lp", "ep", "x.y"]))[: draw(st.integers(1, 3))]
    for id_ in ids:
        indent = draw(st.sampled_from(["", "  "]))
        lines = [f"{loose()}{indent}[[edition]]", f"{indent}id = '{id_}'", f'{indent}format = "7in-45"  # f']
        bands = draw(st.lists(st.sampled_from(["a", "b", "c", "ab", "bc"]), max_size=3))
        style = draw(st.sampled_from(["tables", "tables", "inline"]))
        if bands and style == "inline":
            rows = (f'{{letter = "{"ABC"[k]}", bands = {list(some)!r}}}, # in\n' for k, some in enumerate(bands))
            lines.append(f"side = [\n{loose()}{''.join(rows)}]")
        for k, some in enumerate(bands if style == "tables" else ()):
            lines += [f"{loose()}{indent}[[edition.side]]", f"bands = [\n{loose()}{', '.join(map(repr, some))}, # e\n]"]
            lines.insert(len(lines) - draw(st.integers(0, 1)), f'{loose()}letter = "{"ABC"[k]}" # l')
            if draw(st.booleans()):
                lines += [f"{loose()}[[edition.side.treatment]]", f'{loose()}kind = "treble_limit"']
            if draw(st.booleans()):
                lines += [f"{loose()}[[edition.side.accepted]]", 'code = "click"', f'reason = "r{next(count)}"']
        blocks.append("\n".join(lines) + "\n" + loose())
    place = draw(st.integers(0, len(blocks)))
    blocks.insert(place, HEAD + loose())
    text = "".join(blocks)
    if draw(st.booleans()):
        text = text.rstrip("\n")
    return text, draw(st.sampled_from(ids))


@pytest.fixture(scope="module")
def quick() -> Iterator[None]:
    """Reading a title a thousand times: equipment read once, and audio that is as long as it must be."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(title_module, "load_setup", cache(title_module.load_setup))
        patch.setattr(title_module, "find_range", lambda _band: SimpleNamespace(duration=1.0))
        yield


@pytest.mark.usefixtures("quick")
@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    title=titles(),
    new=st.lists(st.sampled_from(["a", "b", "c", "ab", "bc", "cab"]), max_size=4),
    letters=st.permutations("ABCD"),
    crlf=st.booleans(),
    mark=st.booleans(),
)
def test_any_title_holds_any_sides(
    folder: Path, title: tuple[str, str], new: list[str], letters: list[str], crlf: bool, mark: bool
) -> None:
    text, edition = title
    raw = ("\ufeff" if mark else "") + (text.replace("\n", "\r\n") if crlf else text)
    path = written(folder, raw)
    before = load_title(path)
    old = sides_of(path, edition)
    orders = [SideOrder(letter, tuple(bands)) for letter, bands in zip(letters, new, strict=False)]
    fix_sides(path, edition, orders)
    after = load_title(path)
    got = path.read_bytes().decode()
    # What was meant: letters and bands, and as many treatments as sides of the same bands had.
    sides = sides_of(path, edition)
    assert [(one.letter, one.bands) for one in sides] == [(one.letter, one.bands) for one in orders]
    assert all((one.treatments, one.accepted) in {((), ())} | {
        (was.treatments, was.accepted) for was in old if was.bands == one.bands
    } for one in sides)  # fmt: skip
    # Nothing else: every other edition, every band, every comment on a line of its own, mark and ends of line.
    assert [one for one in after.editions if one.id != edition] == [one for one in before.editions if one.id != edition]
    assert [(one.id, one.start, one.end) for one in after.bands] == [
        (one.id, one.start, one.end) for one in before.bands
    ]
    assert loose_comments(got.removeprefix("\ufeff")) == loose_comments(raw.removeprefix("\ufeff"))
    assert got.startswith("\ufeff") == mark
    assert ("\r\n" in got) == crlf
    assert not crlf or not re.search(r"(?<!\r)\n", got)
    # Once is enough.
    fix_sides(path, edition, orders)
    assert path.read_bytes().decode() == got


# Refused ------------------------------------------------------------------------------------------------


def refused(path: Path, edition: str, sides: list[SideOrder], sha256: str | None = None) -> str:
    before = path.read_bytes()
    with pytest.raises(DiscwrightError) as trouble:
        fix_sides(path, edition, sides, sha256)
    assert path.read_bytes() == before
    assert sorted(one.name for one in path.parent.iterdir()) == ["reel.wav", "title.toml"]
    return str(trouble.value)


def test_a_file_that_changed_meanwhile(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(folder, HEAD + EP)
    sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
    words = f"{path}: was changed meanwhile, and stays as it is now; look at it again and choose once more."
    assert refused(path, "ep", [SideOrder("A", ("a",))], "0" * 64) == words
    fix_sides(path, "ep", [SideOrder("A", ("a",))], sha256)
    assert refused(path, "ep", [SideOrder("A", ("b",))], sha256) == words

    real = title_edit._edited

    def late(*arguments: object) -> str:
        path.write_text(HEAD + EP + "# late\n", encoding="utf-8")
        return real(*arguments)  # type: ignore[arg-type]

    written(folder, HEAD + EP)
    monkeypatch.setattr(title_edit, "_edited", late)
    with pytest.raises(CallError, match="was changed meanwhile"):
        fix_sides(path, "ep", [SideOrder("A", ("b",))])
    assert path.read_text(encoding="utf-8").endswith("# late\n")


@pytest.mark.parametrize(
    ("edition", "sides", "words"),
    [
        ("lp", [], "there is no edition “lp”; choose from ep, reel."),
        ("reel", [], "edition “reel” is a tape and has no sides; choose a disc."),
        ("ep", [SideOrder("A", ("z",))], "cannot hold these sides: there is no band “z”; there are a, b, c."),
        ("ep", [SideOrder("A", ())], "cannot hold these sides: bands must be a list"),
        ("ep", [SideOrder("A", ("a", "a"))], "cannot hold these sides: band “a” stands twice on side A; name it once."),
        ("ep", [SideOrder("!", ("a",))], "cannot hold these sides: “!” is no side letter; write A, B, C and so on."),
        ("ep", [SideOrder("A", ("a",)), SideOrder("A", ("b",))], "two sides are lettered A; letter each once."),
    ],
)
def test_what_no_title_can_hold(folder: Path, edition: str, sides: list[SideOrder], words: str) -> None:
    path = written(folder, HEAD + EP + '[[edition]]\nid = "reel"\nformat = "tape"\n')
    assert words in refused(path, edition, sides)


def test_editions_in_one_list_are_left_alone(folder: Path) -> None:
    path = written(folder, 'edition = [{id = "ep", format = "7in-45"}]\n' + HEAD)
    assert refused(path, "ep", [SideOrder("A", ("a",))]) == (
        f"{path}: its editions stand in one list; write each as a table under [[edition]]."
    )


def test_a_title_with_faults_and_no_title(folder: Path) -> None:
    path = written(folder, HEAD + EP.replace("7in-45", "9in-45"))
    assert "9in-45" in refused(path, "ep", [SideOrder("A", ("a",))])
    with pytest.raises(SettingsError, match="cannot be read"):
        fix_sides(folder / "none.toml", "ep", [])


def test_a_result_that_is_not_what_was_meant_is_not_written(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(folder, HEAD + EP)
    monkeypatch.setattr(title_edit, "_edited", lambda *_: HEAD + EP)
    assert refused(path, "ep", [SideOrder("A", ("c",))]) == (
        f"{path}: is written in a way that cannot be changed safely; write the sides into it by hand."
    )


def test_rights_and_links_stay(folder: Path, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "reel.wav", np.zeros((3 * 44_100, 2)), 44_100, subtype="PCM_16")
    real = written(tmp_path, HEAD + EP)
    real.chmod(0o640)
    link = tmp_path / "link.toml"
    link.symlink_to(real)
    fix_sides(link, "ep", [SideOrder("A", ("c",))])
    assert link.is_symlink()
    assert real.stat().st_mode & 0o777 == 0o640
    assert sides_of(real, "ep") == (SideOrder("A", ("c",)),)


def test_a_path_as_it_was_given(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    written(folder, HEAD + EP)
    monkeypatch.chdir(folder)
    fix_sides("title.toml", "ep", [SideOrder("A", ("c",))])
    assert sides_of(Path("title.toml"), "ep") == (SideOrder("A", ("c",)),)
    assert sorted(os.listdir()) == ["reel.wav", "title.toml"]
