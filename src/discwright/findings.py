"""One checked fact about a side, the same for terminal, JSON and page."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

Severity = Literal["note", "warn", "stop"]
_ORDER: dict[str, int] = {"stop": 0, "warn": 1, "note": 2}


@dataclass(frozen=True)
class Finding:
    """A fact with its place, value, limit and remedy.

    Attributes
    ----------
    code : str
        Which check, one word, e.g. ``"slope"``.
    severity : {"note", "warn", "stop"}
    time_s : float or None
        Time from the first sample of music; None where the fact has no place.
    band : int or None
        Band of the side, counted from 1.
    turn : float or None
        Turn counted from the first sample of music = 0.0.
    radius_mm : float or None
    value, limit : float
        What was found and what is allowed, both in `unit`.
    unit : str
    remedy : str
        What to do, a sentence or two.
    accepted : str
        Why the engineer accepts it; empty where nobody did.
    part : str
        Number of the part, where the fact is one of the ledger.
    seq : int
        Line of the ledger it was found at; 0 elsewhere.
    """

    code: str
    severity: Severity
    time_s: float | None
    band: int | None
    turn: float | None
    radius_mm: float | None
    value: float
    limit: float
    unit: str
    remedy: str
    accepted: str = ""
    part: str = ""
    seq: int = 0

    def as_dict(self) -> dict[str, Any]:
        """The finding as plain JSON values, numbers rounded to what they are worth."""
        plain = asdict(self)
        for key, digits in (("time_s", 4), ("turn", 4), ("radius_mm", 4), ("value", 6), ("limit", 6)):
            if plain[key] is not None:
                plain[key] = round(float(plain[key]), digits)
        for key in ("accepted", "part", "seq"):
            if not plain[key]:
                del plain[key]
        return plain


def sort_findings(findings: list[Finding]) -> tuple[Finding, ...]:
    """Stops first, then warnings, then notes; within each by time."""
    return tuple(sorted(findings, key=lambda f: (_ORDER[f.severity], -1.0 if f.time_s is None else f.time_s, f.code)))


def count_words(findings: tuple[Finding, ...]) -> str:
    """`1 stop, 2 warnings, 1 note`, or `no findings`."""
    parts = []
    for severity, one, many in (
        ("stop", "stop", "stops"),
        ("warn", "warning", "warnings"),
        ("note", "note", "notes"),
    ):
        n = sum(f.severity == severity for f in findings)
        if n:
            parts.append(f"{n} {one if n == 1 else many}")
    return ", ".join(parts) or "no findings"
