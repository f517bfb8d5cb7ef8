"""A measured photograph of cut lacquer as a person reads it, and what must be given to measure one."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from discwright.desk.inspect_parts import GaugeBlock, GaugeLink
from discwright.desk.micrographs import Asked, Measured
from discwright.desk.page_parts import Fact, MeasureRow, Option
from discwright.desk.shelf import KeptPlan, Shelf
from discwright.desk.show_board import new_key
from discwright.desk.show_play import number_of
from discwright.desk.show_side import finding_rows
from discwright.desk.words import Words, figures
from discwright.desk.works_parts import Badge
from discwright.desk.works_time import at_words
from discwright.errors import CallError
from discwright.inspection.gauge_plan import correction_words
from discwright.units import number

_MICRO = 1e-6
#: What the walls of a groove may be said to be.
WALLS = (("", "as the photograph tells"), ("darker", "darker than the land"), ("lighter", "lighter than the land"))
#: Grooves that a page shows one by one.
_SHOWN = 60


def measure_photograph(asked: Asked, plan: KeptPlan | None, photograph: Path, picture: Path) -> dict[str, Any]:
    """Measure a photograph as it was asked for.

    Parameters
    ----------
    asked : Asked
    plan : KeptPlan or None
    photograph, picture : pathlib.Path
        What was sent, and the overlay to draw.

    Returns
    -------
    dict
        As `gauge --json` prints it, without a path of this machine.

    Raises
    ------
    CallError
        If something is missing or cannot be read, or no groove can be measured.
    """
    from discwright.acts.gauge import gauge_photograph

    if not asked.um_per_pixel.strip():
        raise CallError("the scale of the photograph is missing; give µm per pixel.")
    if plan is not None and not asked.turn.strip():
        raise CallError("the plan does not know where the photograph was taken; give the turn.")
    pixel = number(asked.um_per_pixel, "µm per pixel")
    wanted = number(asked.wanted_um, "wanted width") if asked.wanted_um.strip() else None
    turn = number(asked.turn, "turn") if plan is not None else None
    try:
        report = gauge_photograph(
            photograph, pixel=pixel * _MICRO, plan=None if plan is None else plan.folder, turn=turn,
            wanted=None if wanted is None else wanted * _MICRO, walls=asked.walls or None, out=picture,
        )  # fmt: skip
    except CallError as trouble:
        # The sentence begins with a path that means nothing to the sender.
        raise CallError(str(trouble).replace(str(photograph), asked.name)) from None
    return report.as_dict() | {"picture": picture.name}


def plan_options(shelf: Shelf, chosen: str) -> tuple[Option, ...]:
    """The plans a photograph can be held against, newest first; none of them before all.

    Parameters
    ----------
    shelf : Shelf
    chosen : str
        Id.
    """
    kept = [one for one in shelf.found().plans.values() if not one.what_if]
    rows = [Option("", "no plan", not chosen)]
    for one in sorted(kept, key=lambda plan: plan.made, reverse=True):
        title = (one.document.get("title") or {}).get("name", "")
        rows.append(Option(one.id, f"{title} {one.name}, {one.folder.name}".strip(), one.id == chosen))
    return tuple(rows)


def gauge_link(one: Measured, zone: ZoneInfo) -> GaugeLink:
    """A photograph in a list."""
    mean = number_of(one.found["width_um"].get("mean"))
    width = "" if mean is None else f"{figures(mean)} µm wide"
    return GaugeLink(f"/microscope/{one.id}", one.asked.name, width, at_words(one.asked.at, zone))


def gauge_block(one: Measured, words: Words, may_record: bool) -> GaugeBlock:
    """What was measured.

    Parameters
    ----------
    one : Measured
    words : Words
    may_record : bool
        This person may write it into the ledger.
    """
    found = one.found
    mean = number_of(found["width_um"].get("mean"))
    findings = [dict(row, remedy=_on_page(str(row["remedy"]))) for row in found.get("findings", ())]
    return GaugeBlock(
        id=one.id, name=one.asked.name, picture=f"/microscope/{one.id}/gauge.png", badge=_badge(findings),
        sentence=_sentence(found), facts=_facts(found, words), rows=_against(found, words),
        grooves=tuple(_groove(number_, groove, words) for number_, groove in enumerate(found["grooves"][:_SHOWN], 1)),
        findings=finding_rows(findings, {}, words, offers=False), part=one.asked.part,
        width_um="" if mean is None else f"{mean:.2f}", key=new_key() if may_record and one.asked.part else "",
    )  # fmt: skip


def _on_page(remedy: str) -> str:
    """What a remedy asks for by an option stands on the page as a field."""
    return remedy.replace("say --walls ", "say that walls are ")


def _badge(findings: list[dict[str, Any]]) -> Badge:
    worst = next((one for one in ("stop", "warn") if any(row["severity"] == one for row in findings)), "")
    return {"stop": Badge("stop", "too narrow, or cut into each other"), "warn": Badge("warn", "not as wanted")}.get(
        worst, Badge("ready", "measured")
    )


def _sentence(found: dict[str, Any]) -> str:
    """The correction to make."""
    lower = number_of(found.get("correction_um"))
    if lower is None:
        return "Give the wanted width, or a plan and a turn, and the correction is told."
    return correction_words(lower * _MICRO)


def _small(value: object, words: Words) -> str:
    found = number_of(value)
    return "" if found is None else words.small(found * _MICRO)


def _facts(found: dict[str, Any], words: Words) -> tuple[Fact, ...]:
    width, land, tilt = found["width_um"], found.get("land_um") or {}, number_of(found.get("tilt_deg"))
    per_inch = number_of(found.get("lines_per_inch"))
    count = len(found["grooves"])
    told = (
        Fact("width", _small(width.get("mean"), words), f"{_small(width.get('min'), words)} to "
             f"{_small(width.get('max'), words)}, spread {_small(width.get('std'), words)}"),
        Fact("land", _small(land.get("mean"), words), f"least {_small(land.get('min'), words)}"),
        Fact("pitch", _small(found.get("pitch_um"), words), f"{per_inch:.0f} lines per inch" if per_inch else ""),
        Fact("whole grooves", str(count), f"{found.get('walls', '')} than the land, {found.get('runs', '')}"),
        Fact("tilt", "" if tilt is None else f"{tilt:+.2f}°".replace("-", "−")),
        Fact("blur", _small(found.get("blur_um"), words), "standard deviation"),
    )  # fmt: skip
    return tuple(one for one in told if one.value)


def _against(found: dict[str, Any], words: Words) -> tuple[MeasureRow, ...]:
    """What was measured beside what was planned, or wanted."""
    planned, wanted = found.get("planned") or {}, number_of(found.get("wanted_um"))
    pairs = [("width", wanted, found["width_um"].get("mean"))]
    pairs += [
        ("least land", planned.get("least_land_um"), (found.get("land_um") or {}).get("min")),
        ("pitch", planned.get("pitch_um"), found.get("pitch_um")),
    ]
    rows = []
    for name, old, new in pairs:
        before, now = number_of(old), number_of(new)
        if before is not None and now is not None:
            change = now - before
            sign = "+" if change > 0 and not math.isclose(change, 0.0, abs_tol=5e-3) else ""
            rows.append(MeasureRow(name, _small(before, words), _small(now, words), f"{sign}{_small(change, words)}"))
    return tuple(rows)


def _groove(number_: int, groove: dict[str, Any], words: Words) -> tuple[str, str, str, str]:
    return (
        str(number_), _small(groove.get("center_um"), words), _small(groove.get("width_um"), words),
        f"{_small(groove.get('narrowest_um'), words)} to {_small(groove.get('widest_um'), words)}",
    )  # fmt: skip
