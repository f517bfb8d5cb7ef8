"""Numbers of GS1: check digits, serial shipping container codes (SSCC), and the element strings that bars hold.

An SSCC is an extension digit, the company's prefix, a serial number and a check digit: 18 digits together. How long the
prefix is stands nowhere in it, so an SSCC is never taken apart without knowing whose it is.

Source: GS1 General Specifications, sections 7.9 (check digit) and 3.2 (SSCC).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from stdnum import ean, gs1_128
from stdnum.exceptions import ValidationError

from discwright.errors import CallError
from discwright.works.scanning import KEYBOARDS, MOST_LETTERS

#: Digits of a whole SSCC, and of the company prefixes that GS1 gives out.
SSCC_DIGITS = 18
PREFIX_DIGITS = (4, 12)
#: The separator between fields of variable length, as scanners send it.
FNC1 = "\x1d"
#: Digits of the fields that need no separator because their length is fixed: only these stand on our labels.
FIXED = {"00": 18, "01": 14, "02": 14, "11": 6, "13": 6, "15": 6, "17": 6}
#: Fields whose last digit is a check digit.
_CHECKED = ("00", "01", "02")
_SSCC_IN_TEXT = re.compile(r"(?<![0-9])(?:\(00\)|00)? ?([0-9]{18})(?![0-9])")


def check_digit(data: str) -> str:
    """The digit that makes a GTIN or SSCC of its other digits.

    Parameters
    ----------
    data : str
        All digits but the last.

    Returns
    -------
    str

    Raises
    ------
    CallError
        If there is anything but digits in it.
    """
    if not re.fullmatch(r"[0-9]{1,17}", data):
        raise CallError(f"“{data[:40]}” cannot have a check digit; give 1 to 17 digits.")
    return ean.calc_check_digit(data)


def is_right(number: str) -> bool:
    """Whether the last digit of a number is the check digit of the others.

    Parameters
    ----------
    number : str
        A GTIN or an SSCC.

    Notes
    -----
    Every single wrong digit is found. Two neighbours exchanged are not where they differ by 5.
    """
    return bool(re.fullmatch(r"[0-9]{2,18}", number)) and ean.calc_check_digit(number[:-1]) == number[-1]


@dataclass(frozen=True)
class SsccRange:
    """The SSCCs that a company can give out with one extension digit.

    Attributes
    ----------
    prefix : str
        The company's GS1 prefix, 4 to 12 digits.
    extension : int
        Digit before it, 0 to 9, free to choose: ten times as many numbers.

    Raises
    ------
    CallError
        If either cannot be.
    """

    prefix: str
    extension: int = 0

    def __post_init__(self) -> None:
        least, most = PREFIX_DIGITS
        if not re.fullmatch(r"[0-9]+", self.prefix) or not least <= len(self.prefix) <= most:
            raise CallError(
                f"“{self.prefix[:40]}” is no GS1 company prefix; give the {least} to {most} digits that GS1 gave you."
            )
        if isinstance(self.extension, bool) or self.extension not in range(10):
            raise CallError(f"an extension digit of {self.extension} is none; give one from 0 to 9.")

    @property
    def digits(self) -> int:
        """Digits of a serial number."""
        return SSCC_DIGITS - 2 - len(self.prefix)

    @property
    def capacity(self) -> int:
        """How many there are: serial numbers run from 0 to one less."""
        return int(10**self.digits)

    def sscc(self, serial: int) -> str:
        """The SSCC of one serial number.

        Parameters
        ----------
        serial : int

        Raises
        ------
        CallError
            If the serial number is out of range.
        """
        self.check(serial, 1)
        data = f"{self.extension}{self.prefix}{serial:0{self.digits}d}"
        return data + ean.calc_check_digit(data)

    def check(self, first: int, count: int) -> None:
        """See that so many numbers are left from the first on.

        Parameters
        ----------
        first, count : int

        Raises
        ------
        CallError
        """
        if first < 0:
            raise CallError(f"a serial number of {first} is none; give 0 or more.")
        if first + count > self.capacity:
            left = max(0, self.capacity - first)
            raise CallError(
                f"{count} SSCC from serial number {first} on are more than prefix {self.prefix} with extension digit "
                f"{self.extension} has left ({left} of {self.capacity}); take another extension digit or prefix, "
                "and never begin again at 0."
            )


@dataclass(frozen=True)
class Serials:
    """Serial numbers that were never given out yet.

    Attributes
    ----------
    numbers : SsccRange
    first : int
        The first that is free.
    """

    numbers: SsccRange
    first: int

    def take(self, count: int) -> tuple[str, ...]:
        """The next SSCCs, in order; the first that is free afterwards is `first + count`.

        Parameters
        ----------
        count : int

        Raises
        ------
        CallError
            If so many are not left.
        """
        self.numbers.check(self.first, count)
        return tuple(self.numbers.sscc(serial) for serial in range(self.first, self.first + count))


def element_string(fields: Mapping[str, str]) -> str:
    """What the bars hold after FNC1: application identifiers and their values, without brackets or separators.

    Parameters
    ----------
    fields : mapping of str to str
        Value by application identifier; only those of :data:`FIXED`, so that no separator is ever needed: a scanner
        that acts as a keyboard may lose it.

    Raises
    ------
    CallError
        If a field has no fixed length, or a value is not of it.
    """
    if not fields:
        raise CallError("bars hold one field at least; give (00) and an SSCC.")
    for ai, value in fields.items():
        if ai not in FIXED:
            raise CallError(f"({ai}) has no fixed length; take only ({'), ('.join(FIXED)}).")
        if not re.fullmatch(rf"[0-9]{{{FIXED[ai]}}}", value):
            raise CallError(f"({ai}) “{value[:40]}” is wrong; it takes {FIXED[ai]} digits.")
        if ai in _CHECKED and not is_right(value):
            raise CallError(f"({ai}) {value} has a wrong check digit; it would be {check_digit(value[:-1])}.")
    return "".join(ai + value for ai, value in fields.items())


def readable(fields: Mapping[str, str]) -> str:
    """The line for people below the bars: identifiers in brackets.

    Parameters
    ----------
    fields : mapping of str to str
    """
    return " ".join(f"({ai}) {value}" for ai, value in fields.items())


def parse_elements(text: str) -> dict[str, str]:
    """Take an element string apart.

    Parameters
    ----------
    text : str
        As scanned: with or without the symbology identifier ``]C1``, brackets and separators.

    Returns
    -------
    dict of str to str
        Value by application identifier, as the library reads it: a count without leading zeros, a day as ISO 8601.

    Raises
    ------
    CallError
        If it cannot be read as GS1 data, or a check digit is wrong.
    """
    bare = text.strip().removeprefix("]C1").lstrip(FNC1)
    try:
        found = {ai: str(value) for ai, value in gs1_128.info(bare, FNC1).items()}
    except (ValidationError, ValueError, ArithmeticError):
        raise CallError(f"“{_shown(text)}” cannot be read as GS1 data; scan the bars again.") from None
    if not found:
        raise CallError("there is nothing to read; scan the bars again.")
    if "00" in found and not (len(found["00"]) == SSCC_DIGITS and is_right(found["00"])):
        raise CallError(f"(00) {_shown(found['00'])} is no SSCC: its check digit does not fit; scan the bars again.")
    return found


def read_sscc(raw: str) -> str:
    """Find the SSCC in what a scanner sent or somebody typed.

    Parameters
    ----------
    raw : str
        18 digits with a right check digit, alone or after (00), whatever stands around them and whatever keyboard the
        computer believes to have.

    Returns
    -------
    str
        18 digits.

    Raises
    ------
    CallError
        If there is none in it, or more than one.
    """
    text = raw[: MOST_LETTERS + 1]
    if len(text) > MOST_LETTERS:
        raise CallError("that is too long for an SSCC; scan one label alone.")
    numbers = set(_numbers(text)) or {n for keyboard in KEYBOARDS for n in _numbers(keyboard.undone(text))}
    if len(numbers) > 1:
        raise CallError("more than one SSCC stands in it; scan one label alone.")
    if numbers:
        return numbers.pop()
    near = re.search(r"(?<![0-9])(?:00)?([0-9]{18})(?![0-9])", re.sub(r"[\s()]", "", text))
    if near:
        raise CallError(f"{near[1]} has a wrong check digit; scan the label again.")
    raise CallError(f"“{_shown(raw)}” holds no SSCC; scan the bars at the foot of the label.")


def _numbers(text: str) -> Iterator[str]:
    """Every SSCC in a text; what is typed may have blanks between its digits."""
    bare = text.replace("]C1", " ")
    for one in (bare, re.sub(r"(?<=[0-9()])[ .](?=[0-9(])", "", bare)):
        yield from (match[1] for match in _SSCC_IN_TEXT.finditer(one) if is_right(match[1]))


def _shown(text: str) -> str:
    return "".join(c if c.isprintable() else "·" for c in text[:40])
