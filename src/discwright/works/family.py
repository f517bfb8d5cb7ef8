"""Where a title and its parts stand: what is worked out from the events, never written by hand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any

from discwright.works.parts import SIGN, Limits, limits_from
from discwright.works.yard import Run, Yard, yard_from

#: States of a part, each with the words for it.
STATES = {
    "cut": "cut",
    "silvered": "silvered",
    "spent": "spent",
    "plated": "grown, not yet separated",
    "separated": "separated",
    "approved": "approved",
    "refused": "refused",
    "at_press": "at the press",
    "taken_off": "taken off the press",
    "vaulted": "in the vault",
    "scrapped": "scrapped",
    "recalled": "recalled",
}


@dataclass(frozen=True)
class Part:
    """One part as it stands.

    Attributes
    ----------
    id, kind : str
    side, edition : str
    parent : str
        Empty for a lacquer.
    state : str
        One of :data:`STATES`.
    born, last : int
        Line of its birth, and the last line about it.
    born_at, last_at : str
        When those were.
    marks : tuple of str
        Run-out marks, its own and those of what it was grown from.
    own_mark : str
        What was put on this very part.
    verdict : str
        ``"approved"``, ``"refused"``, ``"recalled"`` or empty.
    approved_by : tuple of str
        Everybody who approved it since it was last refused.
    passivated : bool
        A film lies on it that the next part has not used up.
    played : bool
        It was test played.
    faults, audible : int or None
        Found at the last test play, and how many of them are heard; None where it did not say.
    pressings : int
        Made with it, as counted whenever it was taken off; :meth:`Family.pressings_of` also knows its runs.
    press : str
        Where it is in a press, or was last.
    children : tuple of str
    done : tuple of str
        Names of everything that happened to it, each once, in order.
    mass_g, thickness_um : float or None
        As last weighed and measured.
    place : str
        Where it was handed to or vaulted.
    fingerprint, programme_sha256, lacquer_batch, tip : str
        Of a lacquer.
    tip_hours : float or None
    """

    id: str
    kind: str
    side: str
    edition: str = ""
    parent: str = ""
    state: str = "cut"
    born: int = 0
    last: int = 0
    born_at: str = ""
    last_at: str = ""
    marks: tuple[str, ...] = ()
    own_mark: str = ""
    verdict: str = ""
    approved_by: tuple[str, ...] = ()
    passivated: bool = False
    played: bool = False
    faults: int | None = None
    audible: int | None = None
    pressings: int = 0
    press: str = ""
    children: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    mass_g: float | None = None
    thickness_um: float | None = None
    place: str = ""
    fingerprint: str = ""
    programme_sha256: str = ""
    lacquer_batch: str = ""
    tip: str = ""
    tip_hours: float | None = None

    @property
    def sign(self) -> str:
        """Positive or negative."""
        return SIGN[self.kind]


@dataclass(frozen=True)
class KeptPlan:
    """A plan that was kept for a side.

    Attributes
    ----------
    seq : int
        Line that kept it.
    edition, side, fingerprint, programme_sha256, format : str
    """

    seq: int
    edition: str
    side: str
    fingerprint: str
    programme_sha256: str
    format: str = ""


@dataclass(frozen=True)
class Family:
    """One title and all its parts.

    Attributes
    ----------
    title : str
        Catalogue number.
    name : str
    people : tuple of str
    editions : tuple of dict
        As the title file says: id, format, quantity, due, sides.
    limits : Limits
    file_sha256 : str
    seq : int
        Last line that was folded in.
    taken_at, last_at : str
    plans : tuple of KeptPlan
        In the order they were kept.
    parts : dict of str to Part
        In the order they were made.
    findings : tuple of dict
        What was found against its events, each with its line.
    yard : Yard
        Everything beyond the stampers.
    """

    title: str
    name: str = ""
    people: tuple[str, ...] = ()
    editions: tuple[dict[str, Any], ...] = ()
    limits: Limits = field(default_factory=Limits)
    file_sha256: str = ""
    seq: int = 0
    taken_at: str = ""
    last_at: str = ""
    plans: tuple[KeptPlan, ...] = ()
    parts: dict[str, Part] = field(default_factory=dict)
    findings: tuple[dict[str, Any], ...] = ()
    yard: Yard = field(default_factory=Yard)

    def ancestors(self, part: Part) -> Iterator[Part]:
        """What it was grown from: its parent, the parent's parent, up to the lacquer.

        Parameters
        ----------
        part : Part
        """
        while part.parent:
            part = self.parts[part.parent]
            yield part

    def descendants(self, part: Part) -> Iterator[Part]:
        """What was grown from it, eldest first, each followed by its own.

        Parameters
        ----------
        part : Part
        """
        for child in part.children:
            yield self.parts[child]
            yield from self.descendants(self.parts[child])

    def lacquer(self, part: Part) -> Part:
        """The lacquer it comes from; itself if it is one.

        Parameters
        ----------
        part : Part
        """
        return next((one for one in [part, *self.ancestors(part)] if not one.parent), part)

    def pressings_of(self, part: Part) -> int:
        """Made with a part: as it was counted when it was taken off, or as its runs have it while it is still on.

        Parameters
        ----------
        part : Part
        """
        runs = sum(run.made for run in self.yard.runs.values() if part.id in run.stampers.values())
        return max(part.pressings, runs)

    def recalled_for(self, run: Run) -> str:
        """Why a run must not be used further: its own number, or that of the failed part it goes back to.

        Parameters
        ----------
        run : Run

        Returns
        -------
        str
            Empty where nothing was recalled or refused.
        """
        if run.verdict == "recalled":
            return run.id
        for number in run.stampers.values():
            part = self.parts.get(number)
            for one in (part, *self.ancestors(part)) if part else ():
                if one.verdict in ("refused", "recalled"):
                    return one.id
        return ""

    def plan(self, edition: str, side: str) -> KeptPlan | None:
        """The plan kept last for a side.

        Parameters
        ----------
        edition, side : str
        """
        own = [one for one in self.plans if (one.edition, one.side) == (edition, side)]
        return own[-1] if own else None


def family_as_dict(family: Family) -> dict[str, Any]:
    """A family as plain JSON values.

    Parameters
    ----------
    family : Family
    """
    return asdict(family)


def family_from(plain: Mapping[str, Any]) -> Family:
    """A family out of plain values, as :func:`family_as_dict` makes them.

    Parameters
    ----------
    plain : mapping
    """
    known = {one.name for one in fields(Family)} - {
        "limits",
        "plans",
        "parts",
        "people",
        "editions",
        "findings",
        "yard",
    }
    return Family(
        **{name: plain[name] for name in known},
        people=tuple(plain["people"]),
        editions=tuple(plain["editions"]),
        findings=tuple(plain["findings"]),
        limits=limits_from(plain["limits"]),
        plans=tuple(KeptPlan(**one) for one in plain["plans"]),
        parts={id_: part_from(one) for id_, one in plain["parts"].items()},
        yard=yard_from(plain.get("yard", {})),
    )


_TUPLES = ("marks", "approved_by", "children", "done")


def part_from(plain: Mapping[str, Any]) -> Part:
    """A part out of plain values.

    Parameters
    ----------
    plain : mapping
    """
    values: dict[str, Any] = {name: tuple(value) if name in _TUPLES else value for name, value in plain.items()}
    return Part(**values)
