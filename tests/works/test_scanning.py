"""Whatever a scanner types, the part's number is found in it, and nothing is guessed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.works.parts import KINDS, part_number
from discwright.works.scanning import KEYBOARDS, MOST_LETTERS, codes, read_scan

#: by another road: the check digit is that of the part's own number.
NUMBER = part_number("stamper", 1042)
DIGIT = NUMBER[-1]


@pytest.mark.parametrize(
    "raw",
    [
        NUMBER, NUMBER.lower(), f"{NUMBER}\n", f"{NUMBER}\r\n", f"\t{NUMBER}\t", f"  {NUMBER} ",
        NUMBER.replace("-", ""), NUMBER.replace("-", " "), NUMBER.replace("-", "–"),
        f"]Q1{NUMBER}", f"]C0{NUMBER}\r", f"]d2{NUMBER}",
        f"\x1d{NUMBER}\x1d", f"<GS>{NUMBER}<GS>", f"{NUMBER}Alt+029", f"029{NUMBER}029", f"^]{NUMBER}",
        f"\\x1d{NUMBER}", f"|{NUMBER}|", f"*{NUMBER}*", f"\x02{NUMBER}\x03", f"#7:{NUMBER};", f"X{NUMBER}Y",
        f"~{NUMBER}123",
        f"http://works.example/works/parts/{NUMBER}?a=1",
    ],
)  # fmt: skip
def test_the_number_is_found_in_whatever_arrives(raw: str) -> None:
    found = read_scan(raw)
    assert (found.number, found.keyboard, found.sentence) == (NUMBER, "", "")


@pytest.mark.parametrize("keyboard", KEYBOARDS, ids=lambda one: one.words)
def test_a_keyboard_that_swaps_keys_is_undone(keyboard: object) -> None:
    assert isinstance(keyboard, type(KEYBOARDS[0]))
    back = str.maketrans(keyboard.sent[::-1], keyboard.came[::-1])  # the first of two that mean the same
    for kind in KINDS:
        for serial in (7, 1042, 905318):
            number = part_number(kind, serial)
            came = number.translate(back)
            found = read_scan(f"{came}\n")
            assert found.number == number
            if came != number:
                assert found.keyboard


def test_what_german_and_french_keyboards_make_of_a_scan() -> None:
    # by hand: the keys of a US scanner struck on those keyboards.
    assert read_scan(f"ST1042ß{DIGIT}").keyboard == "German"
    french = "".join(dict(zip("1234567890-", "&é\"'(-è_çà)")).get(letter, letter) for letter in NUMBER)
    found = read_scan(french)
    assert (found.number, found.keyboard) == (NUMBER, "French")
    mother = part_number("mother", 12)
    assert read_scan(f"?O12-{mother[-1]}".translate(str.maketrans("12-34567890", "&é)\"'(-è_çà"))).number == mother


def test_a_wrong_check_digit_is_told_and_never_mended() -> None:
    wrong = NUMBER[:-1] + str((int(DIGIT) + 1) % 10)
    found = read_scan(wrong)
    assert found.number == ""
    assert (
        found.sentence
        == f"“{wrong.replace('-', '')}” is on no part (its last digit does not fit the others); type it again."
    )
    assert read_scan("OKW 0042").sentence.endswith("type it as it is printed.")


def test_a_hyphen_that_became_something_else_cuts_no_number_short() -> None:
    # by hand: 1042 has the check digit 0, so ST104-2 is a number too, and another part's.
    assert NUMBER == "ST1042-0"
    assert [read_scan(f"ST1042{hyphen}5").number for hyphen in ("ß", "ü", "'", "+", " ", "-")] == [""] * 6
    assert read_scan("ST1042").number == "ST104-2"


def test_two_codes_at_once_are_not_chosen_between() -> None:
    other = part_number("master", 3)
    assert read_scan(f"{NUMBER} {other}").sentence == f"{other} and {NUMBER} stand in it; scan one code alone."
    assert read_scan("A" * (MOST_LETTERS + 1)).sentence.startswith("That is too long")


def test_what_a_device_adds_is_taken_away_and_told() -> None:
    # Without the known ending its digits would run into a number that lost its hyphen.
    bare = NUMBER.replace("-", "")
    assert read_scan(f"{bare}99").number == ""
    assert read_scan(f"{bare}99", suffix="99").number == NUMBER
    found = read_scan(f"]Q1##{NUMBER}\t")
    assert (found.before, found.after, found.symbology) == ("]Q1##", "\t", "QR code")


def test_characters_are_told_one_by_one() -> None:
    told = codes("S\x1d\r é")
    assert [one.code for one in told] == ["U+0053", "U+001D", "U+000D", "U+0020", "U+00E9"]
    assert [one.shown for one in told] == ["S", "(group separator)", "(return)", "(space)", "é"]


@given(st.text(max_size=80))
def test_anything_is_read_or_refused_in_a_sentence(raw: str) -> None:
    found = read_scan(raw)
    assert bool(found.number) != bool(found.sentence)
    assert len(codes(raw)) == len(raw)


@given(st.sampled_from(KINDS), st.integers(1, 10**9 - 1), st.text("0123456789-*#", max_size=5), st.booleans())
def test_a_number_with_its_hyphen_stands_any_frame(kind: str, serial: int, frame: str, lower: bool) -> None:
    number = part_number(kind, serial)
    found = read_scan(f"{frame} {number.lower() if lower else number} {frame}")
    assert found.number == number
