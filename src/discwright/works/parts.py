"""Parts: lacquer, master, mother, stamper; their signs, what may grow from what, numbers, marks, mirror image."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, fields

from discwright.errors import CallError, SettingsError

LACQUER, MASTER, MOTHER, STAMPER = "lacquer", "master", "mother", "stamper"
KINDS = (LACQUER, MASTER, MOTHER, STAMPER)
#: What one set of stampers makes in one press has a number out of the same list as parts have.
RUN = "run"
POSITIVE, NEGATIVE = "+", "-"
#: The sign flips each generation; what can be pressed from is negative, what an ordinary tip can play is positive.
SIGN = {LACQUER: POSITIVE, MASTER: NEGATIVE, MOTHER: POSITIVE, STAMPER: NEGATIVE}
#: What may be grown from what.
GROWS = {LACQUER: MASTER, MASTER: MOTHER, MOTHER: STAMPER}
#: First letters of a part's number.
_LETTERS = {LACQUER: "LA", MASTER: "MA", MOTHER: "MO", STAMPER: "ST", RUN: "RU"}
_NUMBER = re.compile(r"(LA|MA|MO|ST|RU)([1-9][0-9]{0,8})-([0-9])")
_LOOSE = re.compile(r"(LA|MA|MO|ST|RU)[\s.:_-]*([1-9][0-9]{0,8})[\s.:_-]*([0-9])")


@dataclass(frozen=True)
class Limits:
    """What a works allows; every title keeps the limits it was taken in under.

    Attributes
    ----------
    negatives_per_lacquer, mothers_per_master, stampers_per_mother : int
    press_life : int
        Pressings one negative is used for.
    tip_life_h : float
        Hours a cutting tip is used for.
    cut_to_plate_h : float
        Hours from the cut to the bath.
    approvals : int
        How many people must approve a part before it releases a family to the press.
    """

    negatives_per_lacquer: int = 1
    mothers_per_master: int = 10
    stampers_per_mother: int = 10
    press_life: int = 1000
    tip_life_h: float = 20.0
    cut_to_plate_h: float = 72.0
    approvals: int = 1

    def as_plain(self) -> dict[str, float]:
        """The limits as plain values."""
        return asdict(self)

    def children(self, kind: str) -> int:
        """How many parts may be grown from one of a kind.

        Parameters
        ----------
        kind : str
        """
        return {
            LACQUER: self.negatives_per_lacquer,
            MASTER: self.mothers_per_master,
            MOTHER: self.stampers_per_mother,
        }.get(kind, 0)


def limits_from(values: Mapping[str, object]) -> Limits:
    """Limits out of plain values; what is not named is at its default.

    Parameters
    ----------
    values : mapping

    Raises
    ------
    SettingsError
        If a name is unknown or a value cannot be a limit.
    """
    whole = {one.name for one in fields(Limits) if one.type == "int"}
    known = {one.name for one in fields(Limits)}
    taken: dict[str, float] = {}
    for name, value in values.items():
        if name not in known:
            raise SettingsError(f"“{name[:40]}” is no limit of the works; the limits are {', '.join(sorted(known))}.")
        if (
            not isinstance(value, int | float)
            or isinstance(value, bool)
            or not (math.isfinite(value) and value > 0)
            or (name in whole and value != int(value))
        ):
            raise SettingsError(
                f"{name} = {value}: is no limit; write a number above 0, whole where things are counted."
            )
        taken[name] = int(value) if name in whole else float(value)
    return Limits(**taken)  # type: ignore[arg-type]


def part_number(kind: str, serial: int) -> str:
    """The number of a part: letters of its kind, a serial number of the ledger, a check digit.

    Parameters
    ----------
    kind : str
        One of :data:`KINDS`, or :data:`RUN`.
    serial : int
        From 1, over all kinds.

    Returns
    -------
    str
        For example ``ST1042-0``. The digit is Damm's: it finds every wrong digit and every swap of neighbours.
    """
    return f"{_LETTERS[kind]}{serial}-{_check_digit(_LETTERS[kind], str(serial))}"


def _check_digit(letters: str, digits: str) -> str:
    from stdnum import damm

    # The kind is part of what is checked, as a digit of its own.
    return damm.calc_check_digit(f"{1 + list(_LETTERS.values()).index(letters)}{digits}")


def serial_of(number: str) -> int:
    """The serial number within a part's number.

    Parameters
    ----------
    number : str
        As :func:`part_number` makes it.

    Raises
    ------
    CallError
        If it is none.
    """
    return int(_whole(read_number(number))[2])


def read_number(text: str) -> str:
    """A part's number as it was typed or scanned, in its right form.

    Parameters
    ----------
    text : str
        With capital or small letters, spaces or no hyphen.

    Raises
    ------
    CallError
        If it is no part's number, or its check digit does not fit.
    """
    match = _LOOSE.fullmatch(text.strip().upper())
    if match is None:
        raise CallError(f"“{_shown(text)}” is no part's number; they look like ST1042-0: type it as it is printed.")
    if match[3] != _check_digit(match[1], match[2]):
        raise CallError(f"“{_shown(text)}” is on no part (its last digit does not fit the others); type it again.")
    return f"{match[1]}{match[2]}-{match[3]}"


def is_number_of(kind: str, number: str) -> bool:
    """A number, in its right form, is one of a kind.

    Parameters
    ----------
    kind : str
        One of :data:`KINDS`, or :data:`RUN`.
    number : str
    """
    return number.startswith(_LETTERS[kind])


def looks_like_number(text: str) -> bool:
    """The text is meant as a part's number, rightly or wrongly written.

    Parameters
    ----------
    text : str
    """
    return _LOOSE.fullmatch(text.strip().upper()) is not None


def _whole(number: str) -> re.Match[str]:
    match = _NUMBER.fullmatch(number)
    assert match is not None
    return match


def _shown(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in text.strip()[:40])


def mirrored(angle: float, origin: str, target: str) -> float:
    """An angle seen on a part of one sign, as it reads on a part of another; the radius is unchanged.

    Parameters
    ----------
    angle : float, rad or degrees
    origin, target : str
        Signs: ``"+"`` or ``"-"``.

    Returns
    -------
    float
        The same angle between equal signs, its negative between opposite ones (a mould is a mirror image).
    """
    return angle if origin == target else -angle + 0.0


def unread_marks(marks: Iterable[str], read: str) -> tuple[list[str], str]:
    """Hold the run-out as it was read against the marks a part must carry.

    Parameters
    ----------
    marks : iterable of str
        Of the part and everything it was grown from.
    read : str
        Everything that was read, in any order, letters of any size.

    Returns
    -------
    missing : list of str
        Marks that were not read.
    strange : str
        What was read and is no mark of this part.
    """
    left, missing = f" {_folded(read)} ", []
    for mark in sorted(marks, key=lambda one: -len(one)):
        wanted = f" {_folded(mark)} "
        if wanted in left:
            left = left.replace(wanted, "  ", 1)
        else:
            missing.append(mark)
    return missing, " ".join(left.split())


def _folded(text: str) -> str:
    return "  ".join(text.casefold().split())
