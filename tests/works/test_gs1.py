"""GS1 numbers against published examples; faults that must be found, and those that cannot be."""

from __future__ import annotations

import csv
import random
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.gs1 import (
    Serials,
    SsccRange,
    check_digit,
    element_string,
    is_right,
    parse_elements,
    read_sscc,
    readable,
)
from discwright.works.scanning import KEYBOARDS

TABLE = Path(__file__).parents[1] / "authorities" / "gs1_check_digits.csv"
ROWS = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))
RIGHT = [row["data"] + row["check"] for row in ROWS]
DIGITS = st.text("0123456789", min_size=11, max_size=17)
RANGE = SsccRange("5012345", 3)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["data"])
def test_published_check_digits(row: dict[str, str]) -> None:
    """Published: worked examples of GS1 Hong Kong and India, an EPC toolkit, a barcode library; three from memory."""
    assert check_digit(row["data"]) == row["check"]
    assert is_right(row["data"] + row["check"])


@pytest.mark.parametrize("number", RIGHT)
def test_every_single_wrong_digit_is_found(number: str) -> None:
    """By hand: weights 3 and 1 have no factor in common with 10."""
    for k, was in enumerate(number):
        for digit in "0123456789":
            assert is_right(number[:k] + digit + number[k + 1 :]) is (digit == was)


@given(DIGITS, st.data())
def test_neighbours_exchanged_are_found_unless_they_differ_by_five(data: str, draw: st.DataObject) -> None:
    """By hand: exchanging a and b changes the sum by 2·(a − b), which is 0 or 10 when they differ by 0 or 5."""
    number = data + check_digit(data)
    k = draw.draw(st.integers(0, len(number) - 2))
    a, b = int(number[k]), int(number[k + 1])
    swapped = number[:k] + number[k + 1] + number[k] + number[k + 2 :]
    assert is_right(swapped) is ((a - b) % 5 == 0)


def test_a_swap_that_goes_unseen() -> None:
    # By hand: 6 and 1 differ by 5.
    number = "61" + "0" * 15
    assert check_digit(number) == check_digit("16" + "0" * 15)


@given(st.integers(0, 9), st.text("0123456789", min_size=4, max_size=12), st.integers(0, 10**4 - 1))
def test_an_sscc_is_made_of_its_parts(extension: int, prefix: str, serial: int) -> None:
    numbers = SsccRange(prefix, extension)
    sscc = numbers.sscc(serial)
    assert len(sscc) == 18
    assert is_right(sscc)
    assert (sscc[0], sscc[1 : 1 + len(prefix)], int(sscc[1 + len(prefix) : 17])) == (str(extension), prefix, serial)
    assert numbers.capacity == 10 ** (16 - len(prefix))


def test_no_sscc_twice_in_ten_million() -> None:
    """By another road: the digits are worked out again for ten million serials at once, and none comes twice.

    Two serials of one range differ in the serial's own digits, so they cannot be the same; here it is counted.
    """
    tens = np.arange(10_000)
    digits = sum((3 if k % 2 == 0 else 1) * (tens // 10**k % 10) for k in range(4))  # of four digits, the last times 3
    fixed = sum((3, 1)[k % 2] * int(digit) for k, digit in enumerate(reversed("35012345"), 9))
    body = 35012345 * 10**9 + np.arange(10_000_000)
    whole = body * 10 + (-(digits[:1000, None] + digits[None, :] + fixed) % 10).ravel()
    assert bool(np.all(np.diff(whole) > 0))
    chance = random.Random(1)
    for serial in [0, 1, 9_999_999, *(chance.randrange(10_000_000) for _ in range(20_000))]:
        assert RANGE.sscc(serial) == f"{whole[serial]:018d}"


def test_taken_serials_follow_one_another() -> None:
    first = Serials(RANGE, 7).take(3)
    assert first == tuple(RANGE.sscc(serial) for serial in (7, 8, 9))
    assert not set(first) & set(Serials(RANGE, 10).take(3))


@pytest.mark.parametrize("prefix", ["", "123", "1234567890123", "50 12345", "501234x", "٥٠١٢٣٤٥"])
def test_prefixes_that_are_none(prefix: str) -> None:
    with pytest.raises(CallError) as refusal:
        SsccRange(prefix)
    assert str(refusal.value) == (
        f"“{prefix}” is no GS1 company prefix; give the 4 to 12 digits that GS1 gave you."
    )  # fmt: skip


def test_what_a_range_refuses() -> None:
    for extension in (-1, 10, True):
        with pytest.raises(CallError, match=r"is none; give one from 0 to 9\."):
            SsccRange("5012345", extension)
    small = SsccRange("501234567890", 1)
    assert small.capacity == 10_000
    assert small.sscc(9999)
    for serial, words in (
        (-1, "a serial number of -1 is none; give 0 or more."),
        (
            10_000,
            "1 SSCC from serial number 10000 on are more than prefix 501234567890 with extension digit 1 has left (0 "
            "of 10000); take another extension digit or prefix, and never begin again at 0.",
        ),
    ):
        with pytest.raises(CallError) as refusal:
            small.sscc(serial)
        assert str(refusal.value) == words
    with pytest.raises(CallError, match=r"3 SSCC from serial number 9998 on are more .* has left \(2 of 10000\)"):
        Serials(small, 9998).take(3)


@pytest.mark.parametrize("data", ["", "12a", "1" * 18])
def test_what_has_no_check_digit(data: str) -> None:
    with pytest.raises(CallError, match=r"cannot have a check digit; give 1 to 17 digits\."):
        check_digit(data)


def test_published_element_strings_are_parsed() -> None:
    """Published: parsed with two general libraries in the reference."""
    assert parse_elements("02806141411234583725") == {"02": "80614141123458", "37": "25"}
    assert parse_elements("010629104150021310LOT7") == {"01": "06291041500213", "10": "LOT7"}
    sscc = "376104250021234569"
    for text in (f"00{sscc}", f"]C100{sscc}", f"(00){sscc}", f"\x1d00{sscc}\x1d", f" 00{sscc}\r\n"):
        assert parse_elements(text) == {"00": sscc}


def test_element_strings_have_fixed_fields_only() -> None:
    sscc = RANGE.sscc(1)
    assert element_string({"00": sscc}) == f"00{sscc}"
    assert parse_elements(element_string({"02": "80614141123458", "00": sscc})) == {"02": "80614141123458", "00": sscc}
    assert readable({"00": sscc}) == f"(00) {sscc}"


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, "bars hold one field at least; give (00) and an SSCC."),
        ({"37": "25"}, "(37) has no fixed length; take only (00), (01), (02), (11), (13), (15), (17)."),
        ({"10": "R-1"}, "(10) has no fixed length; take only (00), (01), (02), (11), (13), (15), (17)."),
        ({"00": "1234"}, "(00) “1234” is wrong; it takes 18 digits."),
        ({"00": "376104250021234568"}, "(00) 376104250021234568 has a wrong check digit; it would be 9."),
    ],
)
def test_element_strings_that_are_refused(fields: dict[str, str], words: str) -> None:
    with pytest.raises(CallError) as refusal:
        element_string(fields)
    assert str(refusal.value) == words


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "there is nothing to read; scan the bars again."),
        ("hello", "“hello” cannot be read as GS1 data; scan the bars again."),
        ("00123", "(00) 123 is no SSCC: its check digit does not fit; scan the bars again."),
        (
            "00376104250021234568",
            "(00) 376104250021234568 is no SSCC: its check digit does not fit; scan the bars again.",
        ),
    ],
)
def test_element_strings_that_cannot_be_read(text: str, words: str) -> None:
    with pytest.raises(CallError) as refusal:
        parse_elements(text)
    assert str(refusal.value) == words


@given(st.text(max_size=60))
def test_anything_else_is_read_or_refused(text: str) -> None:
    for read in (parse_elements, read_sscc):
        with suppress(CallError):
            read(text)


@pytest.mark.parametrize("around", ["{}", "]C100{}", "(00){}", "00{}\r\n", " (00) {} ", "\x0200{}\x03", "*00{}*\t"])
def test_an_sscc_is_read_whatever_the_scanner_adds(around: str) -> None:
    assert read_sscc(around.format("376104250021234569")) == "376104250021234569"


def test_an_sscc_is_read_as_it_is_printed_and_typed() -> None:
    assert read_sscc("3 7610425 002123456 9") == "376104250021234569"
    assert read_sscc("(00) 3 76104250 02123456 9") == "376104250021234569"


@pytest.mark.parametrize("keyboard", [k for k in KEYBOARDS if "1" in k.sent], ids=lambda k: k.words)
def test_an_sscc_is_read_through_a_foreign_keyboard(keyboard: object) -> None:
    came, sent = keyboard.came, keyboard.sent  # type: ignore[attr-defined]
    typed = "00376104250021234569".translate(str.maketrans(sent, came))
    assert read_sscc(typed) == "376104250021234569"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("376104250021234568", "376104250021234568 has a wrong check digit; scan the label again."),
        ("ST1042-0", "“ST1042-0” holds no SSCC; scan the bars at the foot of the label."),
        ("376104250021234569 157035381410375177", "more than one SSCC stands in it; scan one label alone."),
        ("1" * 600, "that is too long for an SSCC; scan one label alone."),
        ("3761042500212345\x00", "“3761042500212345·” holds no SSCC; scan the bars at the foot of the label."),
    ],
)
def test_what_holds_no_sscc(text: str, words: str) -> None:
    with pytest.raises(CallError) as refusal:
        read_sscc(text)
    assert str(refusal.value) == words
