"""What can be done with a part now: the steps a station offers, the expected one first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from discwright.findings import Finding
from discwright.works import events as e
from discwright.works.against import IMPOSSIBLE, released
from discwright.works.chain import Line
from discwright.works.family import Family, Part
from discwright.works.parts import GROWS, LACQUER, MASTER, MOTHER, STAMPER
from discwright.works.rules import check

#: Stands for growing the next part, which `plated` with a parent records.
GROW = "grow"


@dataclass(frozen=True)
class Step:
    """One thing that can be done with a part.

    Attributes
    ----------
    kind : str
        Name of the event, or :data:`GROW`.
    words : str
    expected : bool
        It is what the part waits for.
    against : tuple of Finding
        Stops and warnings that speak against it; with a stop it needs a reason.
    """

    kind: str
    words: str
    expected: bool
    against: tuple[Finding, ...] = ()

    @property
    def closed(self) -> bool:
        """It needs a reason, for a stop speaks against it."""
        return any(one.severity == "stop" for one in self.against)


def steps(family: Family, part: Part, kinds: Iterable[str], at: str) -> tuple[Step, ...]:
    """The steps that are possible with a part now.

    Parameters
    ----------
    family : Family
    part : Part
    kinds : iterable of str
        Events that the asking person may record; `plated` stands for growing too.
    at : str
        Now, ISO 8601 in UTC.

    Returns
    -------
    tuple of Step
        Expected ones first, closed ones last; what is impossible is left out.
    """
    allowed = set(kinds)
    asked = [kind for kind, event in e.EVENTS.items() if event.recordable and kind in allowed]
    asked = [kind for kind in asked if kind not in (*e.OF_A_TITLE, "plated") and not _idle(family, part, kind)]
    wanted = expected(family, part)
    found = []
    if "plated" in allowed and part.kind in GROWS:
        child = GROWS[part.kind]
        found.append(_step(GROW, f"grow a {child}", wanted, _growing(family, part, child, at)))
    if "plated" in allowed and part.state == "plated":
        found.append(_step("plated", "one more run in the bath", wanted, _trial(family, part, "plated", at)))
    found += [_step(kind, e.EVENTS[kind].words, wanted, _trial(family, part, kind, at)) for kind in asked]
    possible = [one for one in found if not any(it.code == IMPOSSIBLE for it in one.against)]
    return tuple(sorted(possible, key=lambda one: wanted.index(one.kind) if one.expected else len(wanted) + one.closed))


def _idle(family: Family, part: Part, kind: str) -> bool:
    """Nothing would come of it: the part has come off already, or this verdict stands."""
    if kind == "separated":
        return not any(one.state == "plated" for one in (part, *(family.parts[child] for child in part.children)))
    again = kind == "approved" and len(part.approved_by) < family.limits.approvals
    return kind == part.verdict and not again


def _step(kind: str, words: str, wanted: tuple[str, ...], against: tuple[Finding, ...]) -> Step:
    return Step(kind, words, kind in wanted, against)


def _growing(family: Family, part: Part, child: str, at: str) -> tuple[Finding, ...]:
    data = {"parent": part.id, "part_kind": child}
    return check(family, Line(family.seq + 1, at, "", "", family.title, "new", "plated", data, ""))


def _trial(family: Family, part: Part, kind: str, at: str) -> tuple[Finding, ...]:
    """What would speak against an event, whatever its fields will say."""
    required = {"mass_g": 0.0, "thickness_um": 0.0, "count": 0}
    takes = e.EVENTS[kind].__dataclass_fields__
    data = {name: value for name, value in required.items() if name in takes and kind != "test_played"}
    return check(family, Line(family.seq + 1, at, "", "", family.title, part.id, kind, data, ""))


def expected(family: Family, part: Part) -> tuple[str, ...]:
    """What a part waits for, likeliest first.

    Parameters
    ----------
    family : Family
    part : Part

    Returns
    -------
    tuple of str
        Names of events, or :data:`GROW`.
    """
    if part.state in ("scrapped", "recalled", "refused", "vaulted") or part.verdict in ("refused", "recalled"):
        return ()
    if part.state == "at_press":
        return ("taken_off",)
    if part.state == "plated":
        return ("separated",)
    return _EXPECTED[part.kind](family, part)


def _lacquer(family: Family, part: Part) -> tuple[str, ...]:
    del family
    if part.children:
        return ()
    if part.state == "silvered":
        return (GROW,)
    return (
        ("silvered",) if "checked_under_the_microscope" in part.done else ("checked_under_the_microscope", "silvered")
    )


def _master(family: Family, part: Part) -> tuple[str, ...]:
    del family
    if part.children and not part.passivated:
        return ("vaulted",)
    return (GROW,) if part.passivated else ("passivated",)


def _mother(family: Family, part: Part) -> tuple[str, ...]:
    if part.verdict != "approved" and not released(family, part) and not part.children:
        return ("approved", "refused") if part.played else ("test_played",)
    return (GROW,) if part.passivated else ("passivated",)


def _stamper(family: Family, part: Part) -> tuple[str, ...]:
    left = [kind for kind in ("back_sanded", "centred", "trimmed", "formed") if kind not in part.done]
    if left and not part.pressings:
        return (left[0],)
    if released(family, part):
        return ("put_to_press",)
    return ("approved", "refused") if part.played else ("test_played",)


_EXPECTED = {LACQUER: _lacquer, MASTER: _master, MOTHER: _mother, STAMPER: _stamper}
