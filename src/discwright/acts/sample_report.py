"""What sampling a lot came to: plan, characteristic, discs to take, verdict; and the same as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from discwright.findings import Finding
from discwright.works.lot import ClassPlan, LotVerdict
from discwright.works.operating_characteristic import OcPoint, plan_probability
from discwright.works.sampling import Plan


@dataclass(frozen=True)
class SampleReport:
    """A lot's plan, and the verdict where something was found.

    Attributes
    ----------
    plan : Plan
    oc : tuple of OcPoint
        Characteristic, rising in percent.
    marks, poisson_marks : tuple of OcPoint
        At 99, 95, 90, 50, 10 and 5 % accepted, binomial and Poisson; empty where the lot is inspected whole.
    classes : tuple of ClassPlan
        How each defect class is judged; empty for the one plan alone.
    take : tuple of int
        Discs to take, in the order they were drawn; empty without a seed.
    verdict : LotVerdict or None
        By class.
    found : int or None
        Nonconforming discs, of the one plan.
    findings : tuple of Finding
    chart : pathlib.Path or None
        Where the characteristic was drawn.
    """

    plan: Plan
    oc: tuple[OcPoint, ...]
    marks: tuple[OcPoint, ...]
    poisson_marks: tuple[OcPoint, ...]
    classes: tuple[ClassPlan, ...]
    take: tuple[int, ...]
    verdict: LotVerdict | None
    found: int | None
    findings: tuple[Finding, ...]
    chart: Path | None = None

    @property
    def accepted(self) -> bool | None:
        """The verdict in all; None where nothing was said to be found."""
        if self.verdict is not None:
            return self.verdict.accepted
        return None if self.found is None else self.found <= self.plan.accept

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain JSON values."""
        plan = self.plan
        plain: dict[str, Any] = {
            "lot": plan.lot,
            "level": plan.level,
            "aql": plan.aql,
            "inspection": plan.inspection,
            "table_letter": plan.table_letter,
            "letter": plan.letter,
            "arrow": plan.arrow,
            "n": plan.n,
            "table_n": plan.table_n,
            "accept": plan.accept,
            "reject": plan.reject,
            "inspect_all": plan.inspect_all,
            "accept_probability_at_aql": round(plan_probability(plan, plan.aql), 8),
            "oc_method": "full inspection" if plan.inspect_all else "binomial",
            "oc": [_point(one) for one in self.oc],
            "points": [_point(one) for one in self.marks],
            "points_poisson": [_point(one) for one in self.poisson_marks],
            "take": list(self.take),
            "classes": self._class_rows(),
            "found": self.found,
            "accepted": self.accepted,
            "findings": [one.as_dict() for one in self.findings],
        }
        if self.chart is not None:
            plain["chart"] = str(self.chart)
        return plain

    def _class_rows(self) -> list[dict[str, Any]]:
        judged = {} if self.verdict is None else {one.plan.defect_class: one for one in self.verdict.classes}
        rows = []
        for one in self.classes:
            own = judged.get(one.defect_class)
            rows.append(
                {
                    "class": one.defect_class,
                    "rule": one.rule,
                    "letter": None if one.plan is None else one.plan.letter,
                    "n": one.n,
                    "accept": one.accept,
                    "reject": one.reject,
                    "found": None if own is None else own.found,
                    "accepted": None if own is None else own.accepted,
                }
            )
        return rows


def _point(one: OcPoint) -> dict[str, float]:
    return {
        "percent_nonconforming": round(one.percent_nonconforming, 6),
        "accept_probability": round(one.accept_probability, 8),
    }
