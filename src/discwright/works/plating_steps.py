"""Steps of current as they are typed and printed: A/dm² × minutes, `0.5x30,1x30,10`."""

from __future__ import annotations

import re
from collections.abc import Sequence

from discwright.errors import CallError
from discwright.units import number
from discwright.works.metals import A_PER_DM2, MINUTE
from discwright.works.plating import Step, check_steps

_DIGITS = r"\d+(?:[.,]\d+)?"
_STEP = re.compile(rf"({_DIGITS})(?:\s*[-–]\s*({_DIGITS}))?(?:\s*[xX×]\s*({_DIGITS}))?")
_FORM = "write A/dm² x minutes, such as 0.5x30, or 0.5-2x30 for a current that rises"


def read_steps(text: str) -> tuple[Step, ...]:
    """Steps of current from text.

    Parameters
    ----------
    text : str
        Steps after one another with commas between them, or semicolons where numbers have decimal commas. A step is
        `0.5x30` (A/dm² × minutes), `0.5-2x30` (from one to the other) or, as the last, `10` (until the target).

    Returns
    -------
    tuple of Step

    Raises
    ------
    CallError
        If a step cannot be read or run, or a comma could be one within a number.
    """
    by_semicolon = ";" in text
    words = [word.strip() for word in text.split(";" if by_semicolon else ",")]
    if by_semicolon and len(words) > 1 and not words[-1]:
        words.pop()  # so that a single step may have a decimal comma: `0,5x30;`
    steps = tuple(_read(word, k, len(words), by_semicolon) for k, word in enumerate(words, 1))
    check_steps(steps)
    return steps


def _read(word: str, k: int, count: int, by_semicolon: bool) -> Step:
    if not word:
        raise CallError(f"step {k} is empty; {_FORM}.")
    found = _STEP.fullmatch(word)
    if found is None:
        raise CallError(f"step {k}: “{word}” cannot be read; {_FORM}.")
    first, last, minutes = found.groups()
    if minutes is None and k < count:
        way_out = "add them" if by_semicolon else "for decimal commas put semicolons between them: 0,5x30; 1x30; 10"
        raise CallError(f"step {k}: “{word}” has no minutes, and only the last step may lack them; {way_out}.")
    begin = number(first, f"step {k}") * A_PER_DM2
    return Step(
        begin,
        begin if last is None else number(last, f"step {k}") * A_PER_DM2,
        None if minutes is None else number(minutes, f"step {k}") * MINUTE,
    )


def steps_text(steps: Sequence[Step]) -> str:
    """Steps as text that :func:`read_steps` reads back.

    Parameters
    ----------
    steps : sequence of Step
    """
    return ",".join(_write(step) for step in steps)


def _write(step: Step) -> str:
    current = _plain(step.first / A_PER_DM2)
    if step.last != step.first:
        current += f"-{_plain(step.last / A_PER_DM2)}"
    return current if step.seconds is None else f"{current}x{_plain(step.seconds / MINUTE)}"


def _plain(value: float) -> str:
    """Without an exponent, and without zeros nobody asked for."""
    return f"{value:.9f}".rstrip("0").rstrip(".")
