"""Which part of a family is guilty: a case in a file, weighed."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from discwright.errors import CallError
from discwright.inspection.locate import Audition, Guilt, Member, locate

#: Largest file that can be a case, bytes.
_MOST_BYTES = 8 << 20


@dataclass(frozen=True)
class Case:
    """A family and what was heard.

    Attributes
    ----------
    members : tuple of Member
    auditions : tuple of Audition
    detect, false_alarm : float
    """

    members: tuple[Member, ...]
    auditions: tuple[Audition, ...]
    detect: float
    false_alarm: float

    def weigh(self) -> Guilt:
        """Who may be guilty.

        Raises
        ------
        CallError
            If the family is no tree, or what was heard cannot be.
        """
        return locate(self.members, self.auditions, self.detect, self.false_alarm)


def read_case(path: Path) -> Case:
    """Read a case.

    Parameters
    ----------
    path : pathlib.Path
        JSON: ``parts`` (``id``, ``parent`` or null, ``prior``; ``made`` and ``damage`` where they are known),
        ``auditions`` (``part``, ``heard``, ``of``; ``at`` where it is known), ``detect`` and ``false_alarm``.

    Raises
    ------
    CallError
        If it is no such file.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise CallError(f"{path}: is too large for a case; leave out what is not part of the family.")
        document = json.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise CallError(f"{path}: there is no such file; name a case in JSON.") from None
    except (ValueError, RecursionError) as trouble:
        raise CallError(f"{path}: is not valid JSON ({trouble}); mend it.") from None
    if not isinstance(document, dict):
        raise CallError(f"{path}: is no case; write parts, auditions, detect and false_alarm.")
    return case_from(document, str(path))


def case_from(document: Mapping[str, Any], where: str) -> Case:
    """A case out of plain values.

    Parameters
    ----------
    document : mapping
    where : str
        For sentences.

    Raises
    ------
    CallError
    """
    parts, plays = _list(document, "parts", where), _list(document, "auditions", where)
    return Case(
        tuple(
            Member(
                _text(one, "id", where), _text(one, "parent", where, ""), _number(one, "prior", where),
                _text(one, "made", where, ""), _number(one, "damage", where, 0.0),
            )
            for one in parts
        ),
        tuple(
            Audition(
                _text(one, "part", where), _count(one, "heard", where), _count(one, "of", where),
                _text(one, "at", where, ""),
            )
            for one in plays
        ),
        _number(document, "detect", where), _number(document, "false_alarm", where),
    )  # fmt: skip


def as_dict(found: Guilt) -> dict[str, Any]:
    """What was found, as plain JSON values.

    Parameters
    ----------
    found : Guilt
    """
    return {
        "posterior": found.posterior,
        "none": found.none,
        "next_test": found.next_test or None,
        "carries": found.carries,
        "expected_fall_bits": found.expected_fall_bits,
    }


def _list(document: Mapping[str, Any], name: str, where: str) -> list[Mapping[str, Any]]:
    found = document.get(name)
    if not isinstance(found, list) or not all(isinstance(one, dict) for one in found):
        raise CallError(f"{where}: “{name}” is no list of tables; write one.")
    return found


def _text(one: Mapping[str, Any], name: str, where: str, default: str | None = None) -> str:
    value = one.get(name)
    if value is None and default is not None:
        return default
    if not isinstance(value, str | int) or isinstance(value, bool) or value == "":
        raise CallError(f"{where}: “{name}” is missing or no text; write one.")
    return str(value)


def _number(one: Mapping[str, Any], name: str, where: str, default: float | None = None) -> float:
    value = one.get(name, default)
    if not isinstance(value, int | float) or isinstance(value, bool):
        raise CallError(f"{where}: “{name}” is missing or no number; write one.")
    return float(value)


def _count(one: Mapping[str, Any], name: str, where: str) -> int:
    value = _number(one, name, where)
    if not math.isfinite(value) or value != int(value) or value < 0:
        raise CallError(f"{where}: “{name}” is no whole number from 0 up; write one.")
    return int(value)
