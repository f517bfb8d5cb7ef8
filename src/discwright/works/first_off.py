"""The first disc of a run against its limits: a gate that nothing passes by halves.

Whoever stands at the press measures, reads and plays; this says what misses a limit. A limit that is missed is a stop,
and so is what was not looked at: the press waits until it is put right. Lengths here are in mm and masses in g, as the
gauges and the scale show them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields

from discwright.errors import CallError
from discwright.findings import Finding, Severity, sort_findings

#: How labels lie where all is well; any other word is a stop.
RIGHT = "right"
PASS = "pass"
#: A gauge reads no finer, mm and g: a limit that is met to the last digit is kept.
_CLOSE = 1e-9


@dataclass(frozen=True)
class FirstOffLimits:
    """What a finished disc must keep.

    Attributes
    ----------
    hole_low_mm, hole_high_mm : float
    off_centre_mm : float
        Hole to groove spiral, at most.
    weight_g, weight_percent : float
        Wanted, and how far it may be off.
    label_shift_mm : float
        Middle of the label from the hole's, at most.
    diameter_low_mm, diameter_high_mm : float
    label_thickness_low_mm, label_thickness_high_mm : float
    label_diameter_mm, recorded_diameter_mm : float
        At most.
    locked_low_mm, locked_high_mm : float
        Diameter of the locked groove.
    warp_mm : float
        Above a flat plate, at most.
    balance_mm : float
        Centre of gravity from the hole's middle, at most.
    """

    hole_low_mm: float
    hole_high_mm: float
    off_centre_mm: float
    weight_g: float
    weight_percent: float
    label_shift_mm: float
    diameter_low_mm: float
    diameter_high_mm: float
    label_thickness_low_mm: float
    label_thickness_high_mm: float
    label_diameter_mm: float
    recorded_diameter_mm: float
    locked_low_mm: float
    locked_high_mm: float
    warp_mm: float
    balance_mm: float


@dataclass(frozen=True)
class FirstOffSeen:
    """What was measured, read and heard; None where nobody looked.

    Attributes
    ----------
    hole_mm, off_centre_mm, weight_g : float or None
    labels : str or None
        ``"right"``, or what is wrong: wrong side, wrong way up, off centre, creased.
    marks_read : mapping of str to str or None
        Run-out marks by side.
    stampers : mapping of str to str or None
        Numbers of the stampers in the press, by side.
    played : str or None
        What the full play ended with: ``"pass"`` or ``"stop"``.
    label_shift_mm, diameter_mm, label_thickness_mm, label_diameter_mm, recorded_diameter_mm : float or None
    locked_mm, warp_mm, balance_mm : float or None
        Measured where there is doubt; a first-off does not wait for them.
    """

    hole_mm: float | None = None
    off_centre_mm: float | None = None
    weight_g: float | None = None
    labels: str | None = None
    marks_read: Mapping[str, str] | None = None
    stampers: Mapping[str, str] | None = None
    played: str | None = None
    label_shift_mm: float | None = None
    diameter_mm: float | None = None
    label_thickness_mm: float | None = None
    label_diameter_mm: float | None = None
    recorded_diameter_mm: float | None = None
    locked_mm: float | None = None
    warp_mm: float | None = None
    balance_mm: float | None = None


@dataclass(frozen=True)
class FirstOffWanted:
    """What the ledger and the plan say of this run.

    Attributes
    ----------
    marks : mapping of str to str
        Run-out marks that each side must show.
    stampers : mapping of str to str
        Numbers by side.
    radius_mm : float
        Of the innermost music: there an off-centre hole is heard most.
    """

    marks: Mapping[str, str] = field(default_factory=dict)
    stampers: Mapping[str, str] = field(default_factory=dict)
    radius_mm: float = 60.325


#: What a first-off cannot pass without, and how a person says it.
_NEEDED = {
    "hole_mm": "the hole", "off_centre_mm": "hole to groove", "weight_g": "the weight", "labels": "how the labels lie",
    "marks_read": "the run-out marks", "stampers": "the stampers' numbers", "played": "a full play",
}  # fmt: skip
_WHICH = "make sure which stampers are in the press."


def wow(off_centre: float, radius: float) -> float:
    """Peak error of speed that an off-centre hole makes, as a share: it swings once a turn.

    Parameters
    ----------
    off_centre, radius : float
        Hole to the middle of the spiral, and radius of the groove, in one unit.

    Returns
    -------
    float
        e/r.
    """
    if not (off_centre >= 0.0 and radius > 0.0 and off_centre < radius):
        raise CallError(
            f"a hole {off_centre:g} off the middle of a groove of radius {radius:g} is none; give less than the radius."
        )
    return off_centre / radius


def wow_cents(off_centre: float, radius: float) -> float:
    """The same as pitch, in hundredths of a semitone.

    Parameters
    ----------
    off_centre, radius : float
    """
    return 1200.0 * math.log2(1.0 + wow(off_centre, radius))


def first_off(seen: FirstOffSeen, wanted: FirstOffWanted, limits: FirstOffLimits) -> tuple[Finding, ...]:
    """What the first disc of a run says: a stop for each limit that is missed or was not looked at.

    Parameters
    ----------
    seen : FirstOffSeen
    wanted : FirstOffWanted
    limits : FirstOffLimits

    Returns
    -------
    tuple of Finding
        Without a stop the run may go on. How much an off-centre hole would be heard is a note.

    Raises
    ------
    CallError
        If a measured value cannot be one.
    """
    _check(seen)
    found = [*_missing(seen), *_numbers(seen, limits), *_of_the_ledger(seen, wanted)]
    if seen.labels is not None and seen.labels != RIGHT:
        words = f"The labels: {seen.labels}. Take both out, lay them in again and press another first disc."
        found.append(finding("first_off_labels", "stop", 0.0, 0.0, "", words))
    if seen.played is not None and seen.played != PASS:
        words = (
            "The full play did not pass: say where it is heard, and find the guilty part before anything is pressed."
        )
        found.append(finding("first_off_play", "stop", 0.0, 0.0, "", words))
    if seen.off_centre_mm is not None:
        share, cents = wow(seen.off_centre_mm, wanted.radius_mm), wow_cents(seen.off_centre_mm, wanted.radius_mm)
        limit = wow(limits.off_centre_mm, wanted.radius_mm)
        words = f"So far off the middle, the innermost music swings by ± {cents:.2f} cents, once a turn."
        found.append(finding("first_off_wow", "note", share * 100.0, limit * 100.0, "%", words))
    return sort_findings(found)


def _check(seen: FirstOffSeen) -> None:
    for one in fields(seen):
        value = getattr(seen, one.name)
        if isinstance(value, float | int) and not (math.isfinite(value) and 0.0 <= value < 1e5):
            raise CallError(f"{one.name}: {value:g} cannot have been measured; give 0 or more.")


def _missing(seen: FirstOffSeen) -> list[Finding]:
    lacking = [words for name, words in _NEEDED.items() if getattr(seen, name) is None]
    if not lacking:
        return []
    words = f"Nobody looked at {', '.join(lacking)}: do it before another disc is pressed."
    return [finding("first_off_missing", "stop", len(_NEEDED) - len(lacking), len(_NEEDED), "checks", words)]


@dataclass(frozen=True)
class _Span:
    """A measured value and what it must lie between."""

    code: str
    value: float | None
    low: float
    high: float
    unit: str
    remedy: str

    @property
    def kept(self) -> bool:
        return self.value is None or self.low - _CLOSE <= self.value <= self.high + _CLOSE


def _numbers(seen: FirstOffSeen, limits: FirstOffLimits) -> list[Finding]:
    found = []
    for one in _spans(seen, limits):
        if one.value is None or one.kept:
            continue
        below = one.value < one.low
        words = f"{'Below' if below else 'Above'} what a finished disc may have: {one.remedy}."
        found.append(finding(one.code, "stop", one.value, one.low if below else one.high, one.unit, words))
    return found


def _spans(seen: FirstOffSeen, limits: FirstOffLimits) -> tuple[_Span, ...]:
    slack = limits.weight_g * limits.weight_percent / 100.0
    return (
        _Span(code="first_off_hole", value=seen.hole_mm, low=limits.hole_low_mm, high=limits.hole_high_mm, unit="mm",
              remedy="look at the centre pin and how the label sits over it, then press another"),
        _Span(code="first_off_centring", value=seen.off_centre_mm, low=0.0, high=limits.off_centre_mm, unit="mm",
              remedy="take the stamper out and centre and punch it anew; or fit another"),
        _Span(code="first_off_weight", value=seen.weight_g, low=limits.weight_g - slack,
              high=limits.weight_g + slack, unit="g",
              remedy="mend the shot and look for places that were not filled"),
        _Span(code="first_off_label_shift", value=seen.label_shift_mm, low=0.0, high=limits.label_shift_mm,
              unit="mm", remedy="look at the label pins, and whether the labels were dry"),
        _Span(code="first_off_diameter", value=seen.diameter_mm, low=limits.diameter_low_mm,
              high=limits.diameter_high_mm, unit="mm", remedy="set the trimming knife"),
        _Span(code="first_off_thickness", value=seen.label_thickness_mm, low=limits.label_thickness_low_mm,
              high=limits.label_thickness_high_mm, unit="mm", remedy="mend the shot, and look at the gap of the mould"),
        _Span(code="first_off_label_size", value=seen.label_diameter_mm, low=0.0, high=limits.label_diameter_mm,
              unit="mm", remedy="use smaller labels"),
        _Span(code="first_off_recorded", value=seen.recorded_diameter_mm, low=0.0, high=limits.recorded_diameter_mm,
              unit="mm", remedy="look whether this stamper is of this format"),
        _Span(code="first_off_locked", value=seen.locked_mm, low=limits.locked_low_mm, high=limits.locked_high_mm,
              unit="mm", remedy="look whether this stamper is of this format"),
        _Span(code="first_off_warp", value=seen.warp_mm, low=0.0, high=limits.warp_mm, unit="mm",
              remedy="cool longer, and make sure that both halves of the mould cool alike"),
        _Span(code="first_off_balance", value=seen.balance_mm, low=0.0, high=limits.balance_mm, unit="mm",
              remedy="look for uneven thickness across the disc: the mould, or how the shot is laid in"),
    )  # fmt: skip


def _of_the_ledger(seen: FirstOffSeen, wanted: FirstOffWanted) -> list[Finding]:
    """Numbers and marks that differ from what the ledger has, side by side."""
    found = []
    for side, read, known, wrong in _differing(seen.stampers, wanted.stampers):
        words = f"Side {side}: the stamper reads “{read}” and the ledger has “{known}”: {_WHICH}"
        found.append(finding("first_off_stampers", "stop", wrong, 0.0, "sides", words, known))
    for side, read, known, wrong in _differing(seen.marks_read, wanted.marks):
        words = f"Side {side}: the run-out reads “{read}” and the ledger has “{known}”: {_WHICH}"
        found.append(finding("first_off_marks", "stop", wrong, 0.0, "sides", words, wanted.stampers.get(side, "")))
    return found


def _differing(read: Mapping[str, str] | None, known: Mapping[str, str]) -> list[tuple[str, str, str, int]]:
    """Side, what was read, what is known, and how many sides differ; none where nobody read."""
    if read is None:
        return []
    wrong = [side for side in sorted({*read, *known}) if _plain(read.get(side, "")) != _plain(known.get(side, ""))]
    return [(side[:8], read.get(side, "")[:80], known.get(side, "")[:80], len(wrong)) for side in wrong]


def _plain(text: str) -> str:
    """A mark as it is compared: one space between words, and no matter which case."""
    return " ".join(text.split()).casefold()


def finding(
    code: str, severity: Severity, value: float, limit: float, unit: str, remedy: str, part: str = ""
) -> Finding:
    """A finding that has no place on a side.

    Parameters
    ----------
    code, severity, value, limit, unit, remedy, part
        As in :class:`discwright.findings.Finding`.
    """
    return Finding(code, severity, None, None, None, None, value, limit, unit, remedy, part=part[:40])
