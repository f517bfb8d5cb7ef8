"""What speaks against an event: findings with its line, and whether a part and what it comes from will do."""

from __future__ import annotations

from collections.abc import Iterator

from discwright.findings import Finding, Severity
from discwright.works.chain import Line
from discwright.works.family import Family, Part
from discwright.works.parts import LACQUER, MOTHER, STAMPER

IMPOSSIBLE = "impossible"


def finding(
    code: str, severity: Severity, line: Line, remedy: str, value: float = 0.0, limit: float = 0.0, unit: str = ""
) -> Finding:
    """A finding against one line of the ledger.

    Parameters
    ----------
    code : str
    severity : {"note", "warn", "stop"}
    line : Line
    remedy : str
        What is wrong and what to do.
    value, limit : float
    unit : str
    """
    accepted = "" if code == IMPOSSIBLE else line.accepted
    return Finding(
        code, severity, None, None, None, None, value, limit, unit, remedy, accepted, part=line.part, seq=line.seq
    )


def failed(family: Family, part: Part, line: Line) -> Iterator[Finding]:
    """The part, or something it was grown from, was refused or recalled.

    Parameters
    ----------
    family : Family
    part : Part
    line : Line
        What is to be done with it.
    """
    for one in (part, *family.ancestors(part)):
        if one.verdict in ("refused", "recalled"):
            own = "" if one.id == part.id else f", and {part.id} comes from it"
            yield finding(
                "failed_part", "stop", line,
                f"{one.id} was {one.verdict}{own}; go back to a part above it, or approve it if it is good after all.",
            )  # fmt: skip
            return


def is_approved(family: Family, part: Part) -> bool:
    """As many people as the works demands approved it, and nobody refused it since.

    Parameters
    ----------
    family : Family
    part : Part
    """
    return part.verdict == "approved" and len(part.approved_by) >= family.limits.approvals


def released(family: Family, part: Part) -> bool:
    """A negative may go to the press: it was approved, or its mother was, by playing her or another stamper of hers.

    Parameters
    ----------
    family : Family
    part : Part
    """
    if is_approved(family, part):
        return True
    if part.kind != STAMPER or not part.parent:
        return False
    mother = family.parts[part.parent]
    return any(is_approved(family, one) for one in (mother, *family.descendants(mother)))


def unheard(family: Family, part: Part, line: Line) -> Iterator[Finding]:
    """Nobody approved a negative, or what it was grown from.

    Parameters
    ----------
    family : Family
    part : Part
    line : Line
        What is to be done with it.
    """
    if not released(family, part):
        needed = family.limits.approvals
        remedy = (
            f"Neither {part.id} nor the {MOTHER if part.kind == STAMPER else LACQUER} it was grown from is approved"
            f"{f' by {needed} people' if needed > 1 else ''}; test play and approve one first."
        )
        yield finding("unapproved", "stop", line, remedy)
