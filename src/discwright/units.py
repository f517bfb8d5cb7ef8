"""The doors: text and suffixed numbers to SI and back. Physics never converts."""

from __future__ import annotations

import math
import re

from discwright.errors import CallError

#: Factor from the unit at the end of a name to SI (exact by definition).
TO_SI: dict[str, float] = {
    "mm": 1e-3,
    "um": 1e-6,
    "cm_s": 1e-2,
    "mm_s": 1e-3,
    "m_s": 1.0,
    "m_s2": 1.0,
    "km_s2": 1e3,
    "hz": 1.0,
    "s": 1.0,
    "ms": 1e-3,
    "deg": math.pi / 180.0,
    "db": 1.0,
    "v": 1.0,
    "rpm": 1.0 / 60.0,
    "percent": 1e-2,
    "mn": 1e-3,
    "um_per_turn": 1e-6,
}

INCH = 0.0254
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?$")


def number(text: str, what: str) -> float:
    """A typed number with decimal point or comma.

    Parameters
    ----------
    text : str
        For example ``9.2`` or ``9,2``.
    what : str
        What the number is for, used in the refusal.

    Raises
    ------
    CallError
        If the text is no number, or could be read two ways (``1,234``).
    """
    clean = text.strip().replace("−", "-")
    if re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", clean):
        raise CallError(
            f"{what}: “{text}” could mean a thousand or a decimal; write {clean.replace(',', '')} "
            f"or {clean.replace(',', '.')}."
        )
    if not _NUMBER.match(clean):
        raise CallError(f"{what}: “{text}” is not a number; write for example 9.2 or 9,2.")
    return float(clean.replace(",", "."))


def seconds(text: str, what: str) -> float:
    """A typed time: `75`, `75.5`, `1:15.5` or `1:02:15`.

    Parameters
    ----------
    text : str
    what : str
        What the time is for, used in the refusal.

    Raises
    ------
    CallError
    """
    parts = text.strip().split(":")
    if len(parts) > 3 or not all(part.isascii() and part.isdigit() for part in parts[:-1]):
        raise CallError(f"{what}: “{text}” is not a time; write for example 4:31.5.")
    total = 0.0
    for part in parts[:-1]:
        total = total * 60 + int(part)
    if not _NUMBER.match(parts[-1]):
        raise CallError(f"{what}: “{text}” is not a time; write for example 4:31.5.")
    last = number(parts[-1], what)
    crowded = (len(parts) > 1 and last >= 60) or (len(parts) > 2 and int(parts[1]) >= 60)
    if last < 0 or parts[-1].startswith(("-", "−")) or crowded:
        raise CallError(f"{what}: “{text}” is not a time; write for example 4:31.5.")
    return total * 60 + last


def lines_per_inch(pitch: float) -> float:
    """Lines per inch of a pitch in metres per turn."""
    return INCH / pitch


def clock(seconds: float) -> str:
    """`17:02.4`: minutes, seconds and tenths, with a sign before the music."""
    tenths = round(abs(seconds) * 10)
    sign = "-" if seconds < 0 and tenths else ""
    minutes, rest = divmod(tenths, 600)
    return f"{sign}{minutes}:{rest / 10:04.1f}"


def decibels(ratio: float) -> float:
    """20·log10 of an amplitude ratio; minus infinity for nothing."""
    return 20.0 * math.log10(ratio) if ratio > 0 else -math.inf
