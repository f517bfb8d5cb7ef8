"""The title file: what a sound one holds, and every refusal to the letter with its line.

Numbers and sentences expected here are by hand: lines are counted in the text of each test.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from discwright.errors import SettingsError, TitleError
from discwright.files.settings import as_plain, load_setup
from discwright.files.title import load_title
from discwright.programme.title import Accepted, Edition, SideOrder, Title, TitleBand, Treatment

RATE = 44_100

WHOLE = """\
[title]
name = "Nine rivers"
catalogue = "TST 0001"
people = ["Imogen Vale", "P. Quist, engineer"]

[[band]]
id = "one"
name = "Source"
file = "a.wav"
isrc = "AA-6Q7-20-00047"
gap_s = 1.5
trim_db = -0.5
may_move = true

[[band]]
id = "two"
name = "Mouth"
file = "b.wav"
start = "0:00.5"
end = 1.5

[[edition]]
id = "lp"
format = "12in-33"
quantity = 300
due = 2031-05-30
level = "clean"
tip = "elliptical-8"
[[edition.side]]
letter = "A"
bands = ["one"]
[[edition.side.treatment]]
kind = "bass_blend"
below_hz = 150
[[edition.side.treatment]]
kind = "treble_limit"
[[edition.side.accepted]]
code = "sibilance"
time = "3:12.4"
reason = "producer wants it so"
[[edition.side.accepted]]
code = "echo"
reason = "quiet"
[[edition.side]]
letter = "B"
bands = ["two"]

[[edition]]
id = "reel"
format = "tape"
level = -2
"""

#: A sound file of seventeen lines; each refusal below changes one of them.
SMALL = """\
[title]
name = "Nine rivers"
catalogue = "TST 0001"
people = ["Imogen Vale"]
[[band]]
id = "one"
name = "Source"
file = "a.wav"
[[band]]
id = "two"
name = "Mouth"
file = "b.wav"
[[edition]]
id = "lp"
format = "12in-33"
quantity = 300
level = "fit"
"""
SIDES = """\
[[edition.side]]
letter = "A"
bands = ["one"]
[[edition.side]]
letter = "B"
bands = ["two"]
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two bands of two seconds, and one that is no audio."""
    root = tmp_path_factory.mktemp("title")
    for name in ("a.wav", "b.wav"):
        soundfile.write(root / name, np.zeros((2 * RATE, 2)), RATE, subtype="PCM_16")
    (root / "text.wav").write_text("no audio at all")
    return root


def write(folder: Path, text: str) -> Path:
    path = folder / "title.toml"
    path.write_text(text, encoding="utf-8")
    return path


def read(folder: Path, text: str) -> Title:
    return load_title(write(folder, text))


def refusals(folder: Path, text: str) -> list[str]:
    """Every fault as `LINE: sentence`."""
    path = write(folder, text)
    with pytest.raises(TitleError) as refused:
        load_title(path)
    assert str(refused.value) == "\n".join(refused.value.faults)
    assert all(fault.startswith(f"{path}:") for fault in refused.value.faults)
    return [fault.removeprefix(f"{path}:") for fault in refused.value.faults]


def changed(old: str, new: str, text: str = SMALL) -> str:
    assert text.count(old) == 1
    return text.replace(old, new)


# --- what is sound ---------------------------------------------------------------------------------------------


def test_a_whole_title(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert read(folder, WHOLE) == Title(
        name="Nine rivers",
        catalogue="TST 0001",
        people=("Imogen Vale", "P. Quist, engineer"),
        bands=(
            TitleBand("one", "Source", str(folder / "a.wav"), None, None, "AA6Q72000047", 1.5, -0.5, True, 6),
            TitleBand("two", "Mouth", str(folder / "b.wav"), 0.5, 1.5, "", 2.0, 0.0, False, 15),
        ),
        editions=(
            Edition(
                "lp", "12in-33", 300, "2031-05-30", None, None, None, "elliptical-8", None, "clean",
                (
                    SideOrder(
                        "A", ("one",), (Treatment("bass_blend", 150.0, None), Treatment("treble_limit")),
                        (Accepted("sibilance", 192.4, "producer wants it so"), Accepted("echo", None, "quiet")),
                    ),
                    SideOrder("B", ("two",)),
                ),
            ),
            Edition("reel", "tape", level=-2.0),
        ),
    )  # fmt: skip
    assert capsys.readouterr() == ("", "")


def test_what_may_be_left_out(folder: Path) -> None:
    title = read(
        folder,
        '[title]\nname = "x"\n[[band]]\nid = "a"\nname = "y"\nfile = "a.wav"\n'
        '[[edition]]\nid = "lp"\nformat = "7in-45"\n',
    )
    assert (title.catalogue, title.people) == ("", ())
    assert title.bands == (TitleBand("a", "y", str(folder / "a.wav"), line=3),)
    assert title.editions == (Edition("lp", "7in-45"),)
    assert (title.bands[0].gap, title.editions[0].quantity, title.editions[0].level) == (2.0, 0, "fit")


@pytest.mark.parametrize("typed", ["AA6Q72000047", "AA-6Q7-20-00047", "aa6q72000047", " AA 6Q7 20 00047 "])
def test_isrc_with_hyphens_and_without(folder: Path, typed: str) -> None:
    """Published: ISO 3901, two letters, three letters or digits, two digits and five digits."""
    title = read(folder, changed('name = "Source"', f'name = "Source"\nisrc = "{typed}"'))
    assert title.bands[0].isrc == "AA6Q72000047"


def test_windows_line_ends_tabs_and_the_mark_some_editors_begin_with(folder: Path) -> None:
    path = folder / "title.toml"
    text = WHOLE.replace("\n", "\r\n").replace(" = ", "\t=\t")
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    plain = read(folder, WHOLE)
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert load_title(path) == plain
    path.write_bytes(b"\xef\xbb\xbf" + text.replace("300", "-1").encode())
    with pytest.raises(TitleError, match=r"title\.toml:25: quantity must"):
        load_title(path)


def test_inline_tables_and_quoted_keys(folder: Path) -> None:
    text = (
        'title = { name = "Nine rivers" }\n'
        'band = [{ id = "one", name = "Source", "file" = "a.wav" }]\n'
        'edition = [{ id = "lp", format = "12in-33", side = [{ letter = "A", bands = ["one"] }] }]\n'
    )
    title = read(folder, text)
    assert title.editions[0].sides == (SideOrder("A", ("one",)),)
    assert refusals(folder, text.replace('["one"]', '["won"]')) == ["3: there is no band “won”; did you mean “one”?"]


def test_equipment_beside_the_title_file_and_by_name(folder: Path) -> None:
    (folder / "mine.toml").write_text("[mine]\nclearance_deg = 44.0\n")
    title = read(folder, changed('level = "fit"', 'cutting_tip = "mine.toml"\nlathe = "standard"'))
    assert title.editions[0].cutting_tip == str(folder / "mine.toml")
    assert title.editions[0].lathe == "standard"


def test_a_format_file_beside_the_title_file_and_its_faults(folder: Path) -> None:
    plain = {key: value for key, value in as_plain(load_setup("7in-45").disc).items() if key != "name"}
    (folder / "six.toml").write_text("[six]\n" + "".join(f"{key} = {value}\n" for key, value in plain.items()))
    text = changed('"12in-33"', '"six.toml"')
    assert read(folder, text).editions[0].format == str(folder / "six.toml")
    (folder / "six.toml").write_text("[six]\nspeed = 45.0\n")
    (told,) = refusals(folder, text)
    assert told.startswith(f"13: {folder / 'six.toml'}: [six] ")
    assert "speed" in told


def test_a_format_file_that_is_not_there(folder: Path) -> None:
    (told,) = refusals(folder, changed('"12in-33"', '"gone.toml"'))
    assert told.startswith(f"13: {folder / 'gone.toml'}")


# --- no TOML at all --------------------------------------------------------------------------------------------


def sentence(path: Path) -> str:
    with pytest.raises(SettingsError) as refused:
        load_title(path)
    assert not isinstance(refused.value, TitleError)
    return str(refused.value).removeprefix(f"{path}: ")


def test_a_file_that_is_not_there(folder: Path) -> None:
    assert sentence(folder / "gone.toml") == "there is no such title file; `discwright layout --new FILE` writes one."


def test_a_folder_or_something_that_is_no_text(folder: Path) -> None:
    assert sentence(folder) == "cannot be read as text (Is a directory); check the file."
    (folder / "bad.toml").write_bytes(b"[title]\nname = '\xff'\n")
    assert sentence(folder / "bad.toml") == "cannot be read as text (it is not UTF-8); check the file."


@pytest.mark.parametrize(
    "text",
    ["[title\n", 'title = "x"\ntitle = "y"\n', "name =\n", "quantity = 0300\n", "x = " + "[" * 5000 + "]" * 5000],
)
def test_no_toml(folder: Path, text: str) -> None:
    told = sentence(write(folder, text))
    assert told.startswith("is not valid TOML (")
    assert told.endswith("); mend that line.")


# --- one fault -------------------------------------------------------------------------------------------------

FIT = 'level = "fit"'
SOURCE = 'name = "Source"'
KINDS = "bass_blend, treble_limit, low_cut, high_cut"

ONE_FAULT = [
    # bands
    ('"b.wav"', '"c.wav"', "12: c.wav is not there; mend the path, counted from the title file's folder."),
    (
        '"b.wav"', f'"{"x" * 300}"',
        f"12: {'x' * 300} is not there; mend the path, counted from the title file's folder.",
    ),
    ('"b.wav"', '"."', "12: . is not there; mend the path, counted from the title file's folder."),
    ('file = "b.wav"', "", '9: file is missing; add file = "…".'),
    ('file = "b.wav"', 'file = " "', '12: file is missing; add file = "…".'),
    ('file = "b.wav"', "file = 3", "12: file must be text in quotes; got 3."),
    ('id = "two"', 'id = "one"', "10: two bands are called one, “Source” (line 5) and “Mouth”; mend one."),
    ('id = "two"', 'id = "t/o"', "10: “t/o” cannot name a folder; use letters, digits, dots and hyphens."),
    ('id = "two"', 'id = ".."', "10: “..” cannot name a folder; use letters, digits, dots and hyphens."),
    ('id = "two"', "", '9: id is missing; add id = "…".'),
    ('name = "Mouth"', "", '9: name is missing; add name = "…".'),
    (SOURCE, SOURCE + "\ngap_s = -1", "8: gap_s must lie between 0 and 60; got -1."),
    (SOURCE, SOURCE + "\ngap_s = 60.5", "8: gap_s must lie between 0 and 60; got 60.5."),
    (SOURCE, SOURCE + "\ngap_s = nan", "8: gap_s must lie between 0 and 60; got nan."),
    (SOURCE, SOURCE + "\ngap_s = inf", "8: gap_s must lie between 0 and 60; got inf."),
    (SOURCE, SOURCE + '\ngap_s = "2"', "8: gap_s must be a number; got '2'."),
    (SOURCE, SOURCE + "\ngap_s = true", "8: gap_s must be a number; got True."),
    (
        SOURCE, SOURCE + "\ngap_s = 1" + "0" * 400,
        "8: gap_s must lie between 0 and 60; got a number of more than 20 digits.",
    ),
    (SOURCE, SOURCE + "\ntrim_db = 24.5", "8: trim_db must lie between -24 and 24; got 24.5."),
    (SOURCE, SOURCE + '\nmay_move = "yes"', "8: may_move must be true or false; got 'yes'."),
    (SOURCE, SOURCE + "\nmay_move = 1", "8: may_move must be true or false; got 1."),
    (SOURCE, SOURCE + "\nstart = 1.5\nend = 1.5", "9: the band ends before it begins; mend start and end."),
    (SOURCE, SOURCE + '\nstart = "0:01.5"\nend = "0:01"', "9: the band ends before it begins; mend start and end."),
    (SOURCE, SOURCE + '\nstart = "1:75"', "8: start: “1:75” is not a time; write for example 4:31.5."),
    (SOURCE, SOURCE + "\nstart = -1", '8: start must be a time as "4:31.5" or in seconds; got -1.'),
    (SOURCE, SOURCE + "\nend = nan", '8: end must be a time as "4:31.5" or in seconds; got nan.'),
    (SOURCE, SOURCE + "\nend = 00:01:00", '8: end must be a time as "4:31.5" or in seconds; got 00:01:00.'),
    (
        SOURCE, SOURCE + f'\nend = "{"9" * 400}"',
        f"8: end must be a time as \"4:31.5\" or in seconds; got '{'9' * 400}'.",
    ),
    # ISRC (ISO 3901)
    *(
        (
            SOURCE, f'{SOURCE}\nisrc = "{typed}"',
            f"8: “{typed}” is no ISRC (ISO 3901: as AA-6Q7-20-00047); mend it or leave it out.",
        )
        for typed in (
            "AA6Q7200004", "AA6Q720000478", "A16Q72000047", "AA6Q7200004X", "AA_6Q7_20_00047",
            "ZZ6Q7２000047", "ß6Q72000047", "AA6Q7٢٠00047",
        )
    ),
    (
        SOURCE, SOURCE + "\nisrc = 47",
        "8: “47” is no ISRC (ISO 3901: as AA-6Q7-20-00047); mend it or leave it out.",
    ),
    # editions
    ("quantity = 300", "quantity = 1.5", "16: quantity must be a whole number, 0 or more; got 1.5."),
    ("quantity = 300", "quantity = 300.0", "16: quantity must be a whole number, 0 or more; got 300.0."),
    ("quantity = 300", 'quantity = "300"', "16: quantity must be a whole number, 0 or more; got '300'."),
    ("quantity = 300", "quantity = true", "16: quantity must be a whole number, 0 or more; got True."),
    ("quantity = 300", "quantity = -1", "16: quantity must be a whole number, 0 or more; got -1."),
    (
        "quantity = 300", "quantity = 0x1" + "0" * 5000,
        "16: quantity must be a whole number, 0 or more; got a number of more than 20 digits.",
    ),
    (FIT, FIT + '\ndue = "30.05.2031"', "18: due must be a date as 2031-05-30; got '30.05.2031'."),
    (FIT, FIT + '\ndue = "2031-02-30"', "18: due must be a date as 2031-05-30; got '2031-02-30'."),
    (FIT, FIT + "\ndue = 0", "18: due must be a date as 2031-05-30; got 0."),
    (FIT, FIT + "\ndue = false", "18: due must be a date as 2031-05-30; got False."),
    (FIT, FIT + "\ndue = 2031-05-30T08:00:00", "18: due must be a date as 2031-05-30; got 2031-05-30T08:00:00."),
    (FIT, 'level = "loud"', "17: level must be \"fit\", \"clean\" or a number of dB; got 'loud'."),
    (FIT, 'level = "3"', "17: level must be \"fit\", \"clean\" or a number of dB; got '3'."),
    (FIT, "level = true", '17: level must be "fit", "clean" or a number of dB; got True.'),
    (FIT, "level = [1]", '17: level must be "fit", "clean" or a number of dB; got [1].'),
    (FIT, "level = 24.1", "17: level must lie between -40 and 24 dB; got 24.1."),
    (FIT, "level = -inf", "17: level must lie between -40 and 24 dB; got -inf."),
    (FIT, "level = nan", "17: level must lie between -40 and 24 dB; got nan."),
    (
        FIT, "level = 1" + "0" * 400, "17: level must lie between -40 and 24 dB; got a number of more than 20 digits.",
    ),
    (
        FIT, 'tip = "elliptic"',
        "13: there is no tip “elliptic”; use spherical-18, spherical-15, elliptical-8, elliptical-5, line-contact-5, "
        "or the path of a TOML file.",
    ),
    (FIT, 'lathe = "mine"', "13: there is no lathe “mine”; use standard, or the path of a TOML file."),
    (
        FIT, f'head = "{"x" * 300}"',
        "13: lathe, head, tips, practice and format are each a name in data/ or a TOML file; mend them.",
    ),
    (
        FIT, 'practice = "\\u0000.toml"',
        "13: lathe, head, tips, practice and format are each a name in data/ or a TOML file; mend them.",
    ),
    (
        '"12in-33"', '"16in-78"',
        "13: there is no format “16in-78”; use 12in-33, 12in-45, 10in-33, 7in-45, 7in-33, or the path of a TOML file.",
    ),
    ('format = "12in-33"', "", '13: format is missing; add format = "…".'),
    (FIT, '[[edition]]\nid = "lp"\nformat = "tape"', "18: two editions are called “lp”; give each its own id."),
    # the title, and what stands where
    ('"Nine rivers"', '""', '2: name is missing; add name = "…".'),
    ('["Imogen Vale"]', '"Imogen Vale"', '4: people must be a list of names in quotes; write people = ["…"].'),
    ('["Imogen Vale"]', "[3]", '4: people must be a list of names in quotes; write people = ["…"].'),
    # unknown keys, at every level
    ("[title]", "editions = 3\n[title]", "1: the file has an unknown key “editions”; write edition."),
    ("[title]", "zzz = 3\n[title]", "1: the file has an unknown key “zzz”; it knows title, band, edition."),
    ("catalogue", "catalog", "3: [title] has an unknown key “catalog”; write catalogue."),
    (SOURCE, SOURCE + "\ngap = 2", "8: [band] has an unknown key “gap”; write gap_s."),
    (
        SOURCE, SOURCE + '\n"q.q" = 2',
        "8: [band] has an unknown key “q.q”; it knows id, name, file, start, end, isrc, gap_s, trim_db, may_move.",
    ),
    ("quantity", "qantity", "16: [edition] has an unknown key “qantity”; write quantity."),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "told"), ONE_FAULT)
def test_one_fault_to_the_letter(
    folder: Path, old: str, new: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert refusals(folder, changed(old, new)) == [told]
    assert capsys.readouterr() == ("", "")


# Line 18 is [[edition.side]], 19 its letter, 20 its bands, then 21 to 23 the second.
SIDE_FAULTS = [
    ('letter = "B"', 'letter = "A"', "22: two sides are lettered A; letter each once."),
    ('letter = "B"', 'letter = "B side"', "22: “B side” is no side letter; write A, B, C and so on."),
    ('letter = "B"', "", '21: letter is missing; add letter = "…".'),
    ('["two"]', '["tow"]', "23: there is no band “tow”; did you mean “two”?"),
    ('["two"]', '["xyz"]', "23: there is no band “xyz”; there are one, two."),
    ('["two"]', '["two", "two"]', "23: band “two” stands twice on side B; name it once."),
    ('["two"]', "[]", '23: bands must be a list of the bands\' ids; write bands = ["…"].'),
    ('["two"]', '"two"', '23: bands must be a list of the bands\' ids; write bands = ["…"].'),
    ('["two"]', "[2]", '23: bands must be a list of the bands\' ids; write bands = ["…"].'),
    ('bands = ["two"]', "", '21: bands must be a list of the bands\' ids; write bands = ["…"].'),
    ('bands = ["two"]', 'band = ["two"]\nbands = ["two"]', "23: [side] has an unknown key “band”; write bands."),
]


@pytest.mark.parametrize(("old", "new", "told"), SIDE_FAULTS)
def test_one_fault_in_a_side(folder: Path, old: str, new: str, told: str) -> None:
    assert refusals(folder, SMALL + changed(old, new, SIDES)) == [told]


# After the sides: line 24 is the head of the table, its keys follow.
TREATED = "[[edition.side.treatment]]\n"
EXCUSED = "[[edition.side.accepted]]\n"
TREATMENT_FAULTS = [
    (TREATED + 'kind = "bass_blend"', "24: bass_blend needs below_hz; add it."),
    (TREATED + 'kind = "low_cut"', "24: low_cut needs below_hz; add it."),
    (TREATED + 'kind = "high_cut"', "24: high_cut needs above_hz; add it."),
    (TREATED + 'kind = "treble_limit"\nabove_hz = 9e3', "26: treble_limit knows no above_hz; leave it out."),
    (TREATED + 'kind = "high_cut"\nabove_hz = 9e3\nbelow_hz = 30', "27: high_cut knows no below_hz; leave it out."),
    (TREATED + 'kind = "low_cut"\nbelow_hz = 4', "26: below_hz must lie between 5 and 30000; got 4."),
    (TREATED + 'kind = "low_cut"\nbelow_hz = "30"', "26: below_hz must be a number; got '30'."),
    (TREATED + 'kind = "bass-blend"', "25: there is no treatment “bass-blend”; write bass_blend."),
    (TREATED + 'kind = "dither"', f"25: there is no treatment “dither”; there are {KINDS}."),
    (TREATED + "below_hz = 30", '24: kind is missing; add kind = "…".'),
    (TREATED + "kind = 3", "25: kind must be text in quotes; got 3."),
    (
        TREATED + 'kind = "low_cut"\nbelow_hz = 30\nbelow = 30',
        "27: [treatment] has an unknown key “below”; write below_hz.",
    ),
    (EXCUSED + 'code = "echo"', '24: reason is missing; add reason = "…".'),
    (EXCUSED + 'reason = "so"', '24: code is missing; add code = "…".'),
    (EXCUSED + 'code = "echo"\nreason = ""', '26: reason is missing; add reason = "…".'),
    (
        EXCUSED + 'code = "echo"\nreason = "so"\ntime = "soon"',
        "27: time: “soon” is not a time; write for example 4:31.5.",
    ),
    (
        EXCUSED + 'code = "echo"\nreason = "so"\ntimes = 3',
        "27: [accepted] has an unknown key “times”; write time.",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("more", "told"), TREATMENT_FAULTS)
def test_one_fault_in_a_treatment_or_an_acceptance(folder: Path, more: str, told: str) -> None:
    assert refusals(folder, SMALL + SIDES + more) == [told]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (SMALL + "[edition.side]\nletter = 3\n", "18: “side” must be written as [[edition.side]], once for each."),
        (SMALL + "side = 3\n", "18: “side” must be written as [[edition.side]], once for each."),
        (
            SMALL + SIDES + "treatment = 3\n",
            "24: “treatment” must be written as [[edition.side.treatment]], once for each.",
        ),
        (changed("[[edition]]", "[edition]"), "13: “edition” must be written as [[edition]], once for each."),
    ],
)  # fmt: skip
def test_a_table_where_a_list_of_them_is_meant(folder: Path, text: str, told: str) -> None:
    assert told in refusals(folder, text)


def test_one_isrc_for_two_bands(folder: Path) -> None:
    text = changed('name = "Mouth"', 'name = "Mouth"\nisrc = "AA-6Q7-20-00047"')
    text = changed(SOURCE, SOURCE + '\nisrc = "aa6q72000047"', text)
    assert refusals(folder, text) == [
        "13: two bands claim the ISRC AA6Q72000047, “Source” (line 5) and “Mouth”; mend one."
    ]


def test_an_empty_file(folder: Path) -> None:
    assert refusals(folder, "") == [
        '1: name is missing; add name = "…".',
        "1: the title has no band; add a [[band]] for each piece.",
        "1: the title has no edition; add an [[edition]] for each format.",
        "1: there is no [title] table; add it.",
    ]


# --- against the audio -----------------------------------------------------------------------------------------


def test_a_band_that_goes_beyond_its_file(folder: Path) -> None:
    assert refusals(folder, changed(SOURCE, SOURCE + "\nend = 2.06")) == [
        f"9: {folder / 'a.wav'} lasts 0:02.0 and the band “Source” goes beyond; mend start or end."
    ]
    assert read(folder, changed(SOURCE, SOURCE + "\nend = 2.04")).bands[0].end == 2.04


def test_a_file_that_is_no_audio(folder: Path) -> None:
    (told,) = refusals(folder, changed('"b.wav"', '"text.wav"'))
    assert told.startswith(f"12: {folder / 'text.wav'} ")


def tiny_disc(folder: Path, innermost: float) -> None:
    """A format that silence fills soon: 7-inch values with hardly any room."""
    plain = {key: value for key, value in as_plain(load_setup("7in-45").disc).items() if key != "name"}
    plain |= {"innermost_radius_mm": innermost}
    (folder / "tiny.toml").write_text("[tiny]\n" + "".join(f"{key} = {value}\n" for key, value in plain.items()))


def test_a_band_longer_than_any_side(folder: Path) -> None:
    # By hand: 0.033 mm at 40 µm a turn (the lathe's least pitch) is 0.825 turns, at 4/3 s a turn 1.1 s.
    tiny_disc(folder, 84.15 - 0.033)
    text = changed('"12in-33"', '"tiny.toml"')
    told = (
        "lasts 0:02.0, and even silence fills the longest side of these editions in 0:01.1; "
        "split the band, or add an edition with longer sides."
    )
    assert refusals(folder, text) == [f"5: “Source” {told}", f"9: “Mouth” {told}"]
    # The longest side of any edition counts, and a tape is endless.
    for form in ("7in-45", "tape"):
        read(folder, text + f'[[edition]]\nid = "more"\nformat = "{form}"\n')
    # Where an edition cannot be read, nobody knows how long its sides are.
    (only,) = refusals(folder, text + '[[edition]]\nid = "more"\nformat = "huge"\n')
    assert only.startswith("18: there is no format “huge”")


def test_all_faults_at_once_in_the_order_of_lines(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = changed('"b.wav"', '"c.wav"')
    text = changed("quantity = 300", "quantity = 1.5", text)
    text = changed("catalogue", "catalog", text)
    text = changed(FIT, 'level = "loud"\ntip = "blunt"', text)
    text = changed('id = "two"', 'id = "one"', text)
    text += SIDES + TREATED + 'kind = "low_cut"\n'
    assert refusals(folder, text) == [
        "3: [title] has an unknown key “catalog”; write catalogue.",
        "10: two bands are called one, “Source” (line 5) and “Mouth”; mend one.",
        "12: c.wav is not there; mend the path, counted from the title file's folder.",
        "13: there is no tip “blunt”; use spherical-18, spherical-15, elliptical-8, elliptical-5, line-contact-5, "
        "or the path of a TOML file.",
        "16: quantity must be a whole number, 0 or more; got 1.5.",
        '17: level must be "fit", "clean" or a number of dB; got \'loud\'.',
        "24: there is no band “two”; there are one, one.",
        "25: low_cut needs below_hz; add it.",
    ]
    assert capsys.readouterr() == ("", "")


VALUES = st.recursive(
    st.sampled_from(
        ['""', '"x"', "0", "-1", "1.5", "true", "nan", "-inf", "2031-05-30", "10:00:00", "0xff", '"A"', '"tape"',
         "1e300", '"one"', '"fit"', '"\\u0000"', "9" * 30]
    ),
    lambda inner: st.lists(inner, max_size=2).map(lambda items: f"[{', '.join(items)}]")
    | inner.map(lambda item: f"{{ id = {item} }}"),
    max_leaves=4,
)  # fmt: skip


@settings(max_examples=150)
@given(data=st.data())
def test_whatever_stands_there_is_refused_in_sentences_or_read(folder: Path, data: st.DataObject) -> None:
    """Nothing but a SettingsError: any value under any key, and each fault names a line of the file."""
    text = SMALL + SIDES + TREATED + 'kind = "low_cut"\nbelow_hz = 30\n' + EXCUSED + 'code = "echo"\nreason = "x"'
    rows = text.split("\n")
    rows[12:12] = ["isrc = 1", "gap_s = 1", "trim_db = 1", "may_move = 1", "start = 1", "end = 1"]
    rows[23:23] = ["due = 1", "lathe = 1", "head = 1"]
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.sampled_from([i for i, row in enumerate(rows) if "=" in row]))
        rows[at] = rows[at].split("=")[0] + "= " + data.draw(VALUES)
    path = write(folder, "\n".join(rows))
    with pytest.raises(TitleError) as refused:
        load_title(path)
    for fault in refused.value.faults:
        line = int(fault.removeprefix(f"{path}:").split(":")[0])
        assert 1 <= line <= len(rows)
        assert fault.endswith((".", "?"))
