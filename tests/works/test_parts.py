"""Parts: signs, what grows from what, numbers with their check digit, mirror image, run-out marks, limits."""

from __future__ import annotations

import itertools

import pytest

from discwright.errors import CallError, SettingsError
from discwright.works.parts import (
    GROWS,
    KINDS,
    SIGN,
    Limits,
    limits_from,
    looks_like_number,
    mirrored,
    part_number,
    read_number,
    serial_of,
    unread_marks,
)


def test_the_sign_flips_each_generation() -> None:
    # published: reference table of the family (lacquer +, master -, mother +, stamper -).
    assert [SIGN[kind] for kind in KINDS] == ["+", "-", "+", "-"]
    assert all(SIGN[parent] != SIGN[child] for parent, child in GROWS.items())


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("serial", [1, 9, 10, 1042, 999_999_999])
def test_a_number_reads_back(kind: str, serial: int) -> None:
    number = part_number(kind, serial)
    assert (serial_of(number), read_number(number)) == (serial, number)
    assert number[:2].casefold() == kind[:2]  # by hand: la, ma, mo, st


def test_numbers_are_read_as_people_type_them() -> None:
    number = part_number("stamper", 1042)
    letters, digit = number[:6], number[-1]
    for typed in (
        number.lower(),
        f" {number} ",
        f"{letters}{digit}",
        f"st 1042 {digit}",
        f"ST-1042-{digit}",
        f"st.1042.{digit}",
    ):
        assert read_number(typed) == number
        assert looks_like_number(typed)


def test_every_wrong_digit_and_every_swap_is_seen() -> None:
    # published: Damm 2004, a totally anti-symmetric quasigroup finds all of these.
    for serial in (7, 42, 1042, 90_817):
        number = part_number("mother", serial)
        digits = number[2:].replace("-", "")
        for place, other in itertools.product(range(len(digits)), "0123456789"):
            wrong = digits[:place] + other + digits[place + 1 :]
            if wrong != digits and wrong[0] != "0":
                with pytest.raises(CallError, match="last digit"):
                    read_number(f"MO{wrong[:-1]}-{wrong[-1]}")
        for place in range(len(digits) - 1):
            swapped = digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :]
            if swapped != digits and swapped[0] != "0":
                with pytest.raises(CallError):
                    read_number(f"MO{swapped[:-1]}-{swapped[-1]}")


def test_another_kind_has_another_digit() -> None:
    digits = {part_number(kind, 1042)[-1] for kind in KINDS}
    assert len(digits) == len(KINDS)


@pytest.mark.parametrize("text", ["", "xx", "ST", "ST0-1", "4", "ST1", "HL 12", "ST１２-3"])
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(CallError, match="is no part's number"):
        read_number(text)
    assert not looks_like_number(text)


def test_angles_mirror_between_signs() -> None:
    # published: reference, an angle on a positive reads as its negative on a negative; the radius is unchanged.
    assert mirrored(1.25, "+", "-") == -1.25
    assert mirrored(1.25, "-", "-") == 1.25
    assert mirrored(mirrored(0.3, "+", "-"), "-", "+") == 0.3
    assert str(mirrored(0.0, "+", "-")) == "0.0"


@pytest.mark.parametrize(
    ("marks", "read", "missing", "strange"),
    [
        (["HL 12 A", "M1", "S1"], "hl 12 a  M1 S1", [], ""),
        (["HL 12 A", "M1", "S1"], "S1 M1 HL 12 A", [], ""),
        (["HL 12 A", "M1", "S1"], "HL 12 A M2 S1", ["M1"], "m2"),
        (["HL 12 A", "M1"], "HL 12 A", ["M1"], ""),
        ([], "M1", [], "m1"),
        (["M1", "M11"], "M11 M1", [], ""),
        (["M1", "M1"], "M1", ["M1"], ""),
    ],
)
def test_the_run_out_is_held_against_the_marks(marks: list[str], read: str, missing: list[str], strange: str) -> None:
    # by hand.
    assert unread_marks(marks, read) == (missing, strange)


def test_limits_read_back_and_refuse_nonsense() -> None:
    assert limits_from(Limits().as_plain()) == Limits()
    assert limits_from({"press_life": 600}) == Limits(press_life=600)
    for bad in (
        {"press_lives": 1},
        {"press_life": 0},
        {"press_life": 2.5},
        {"tip_life_h": float("inf")},
        {"approvals": True},
    ):
        with pytest.raises(SettingsError):
            limits_from(bad)


def test_limits_of_children() -> None:
    # published: reference, one negative a lacquer, up to 10 mothers a master and 10 stampers a mother.
    assert [Limits().children(kind) for kind in KINDS] == [1, 10, 10, 0]
