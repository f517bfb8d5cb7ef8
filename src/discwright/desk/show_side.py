"""The side page put together from a kept plan: every number from `plan.json`, in the person's units."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from discwright.acts.remedies import remedy
from discwright.acts.what_if import missing_files
from discwright.desk.page_parts import (
    BandRow,
    ComparisonBlock,
    Download,
    Fact,
    FindingRow,
    MeasureRow,
    Option,
    PlanLink,
    PriceRow,
    RungRow,
    WhatIfForm,
)
from discwright.desk.shelf import KeptPlan
from discwright.desk.words import Words, at_clock, level, minus, size
from discwright.files.compare import Comparison
from discwright.files.plans import KEPT_FILES
from discwright.files.settings import shipped
from discwright.groove.equipment import CuttingTip, DiscFormat, Equipment, Head, Lathe, PlayingTip, Practice
from discwright.units import clock

#: What each kept file is, for a person.
FILES: dict[str, str] = {
    "sheet.pdf": "the cutting sheet, to stand beside the lathe with",
    "disc.png": "picture of the disc",
    "plan.json": "everything the plan was made with and what came of it",
    "spiral.csv": "every turn, sector by sector",
    "spiral.svg": "drawing of the spiral",
    "lathe.ngc": "the lathe's moves",
    "air-run.ngc": "the same with the tip up, to try first",
    "control.wav": "control file: music, pitch and depth",
    "control.toml": "scales of the control file",
    "removed.wav": "what the treatments took out, to be heard",
}
#: What can be made where it is missing, for a person.
MAKEABLE: dict[str, str] = {
    "sheet.pdf": "write the cutting sheet",
    "spiral.svg": "draw the spiral",
    "lathe.ngc": "write the lathe's moves and the air run",
    "control.wav": "write the control file, 15 bytes a sample",
    "removed.wav": "write what the treatments took out",
}


def facts(document: Mapping[str, Any], words: Words) -> tuple[Fact, ...]:
    """The plan's main numbers."""
    pitch = float(document["mean_pitch_um"]) * 1e-6
    land = document["min_land_um"]
    spare = float(document["spare_mm"]) * 1e-3
    radii = [words.radius(float(document[key]) * 1e-3, 1) for key in ("start_radius_mm", "end_radius_mm")]
    return (
        Fact("level", level(document["level_db"])),
        Fact("room to spare" if spare >= 0 else "too long by", words.radius(abs(spare), 1)),
        Fact("music", clock(document["programme"]["duration_s"])),
        Fact("turns", f"{document['turns']:.1f}"),
        Fact("radius", f"{radii[0]} → {radii[1]}", "first and last groove of music"),
        Fact("mean pitch", words.pitch(pitch), f"{document['mean_lines_per_inch']:.0f} lines per inch"),
        Fact("least land", "none" if land is None else words.small(land * 1e-6), "guard included"),
        Fact(
            "depth",
            f"{words.small(document['min_depth_um'] * 1e-6)} to {words.small(document['max_depth_um'] * 1e-6)}",
            "with the lift of the music",
        ),
    )


def finding_rows(
    findings: Sequence[Mapping[str, Any]], document: Mapping[str, Any], words: Words, offers: bool = True
) -> tuple[FindingRow, ...]:
    """Findings as rows, each with the what-if that its remedy offers.

    Parameters
    ----------
    findings : sequence of dict
        As in `plan.json`.
    document : dict
        The plan they are of.
    words : Words
    offers : bool
        Offer what-ifs.
    """
    return tuple(_finding(number, one, document, words, offers) for number, one in enumerate(findings, 1))


def _finding(
    number: int, one: Mapping[str, Any], document: Mapping[str, Any], words: Words, offers: bool
) -> FindingRow:
    placed = one.get("time_s") is not None and one.get("turn") is not None
    offer = remedy(dict(one), dict(document)) if offers else None
    told = bool(one["limit"]) or placed
    return FindingRow(
        number=number,
        severity=str(one["severity"]),
        code=str(one["code"]).replace("_", " "),
        when=at_clock(one["time_s"]) if placed else "",
        turn=minus(one["turn"], 1) if placed else "",
        radius=words.radius(one["radius_mm"] * 1e-3) if placed and one.get("radius_mm") is not None else "",
        against=words.measured(one["value"], one["limit"], one["unit"]) if told else "",
        remedy=str(one["remedy"]),
        accepted=str(one.get("accepted", "")),
        at_s=float(one["time_s"]) if placed else None,
        try_words="" if offer is None else offer.words,
        try_fields=() if offer is None else tuple(form_fields(offer.changes.as_plain()).items()),
    )


def form_fields(plain: Mapping[str, Any]) -> dict[str, str]:
    """Changes in their plain form as fields of the what-if form."""
    fields: dict[str, str] = {}
    if plain.get("level_db") is not None:
        fields |= {"level": "fixed", "level_db": f"{float(plain['level_db']):.6g}"}
    if plain.get("fit") is not None:
        fields["level"] = str(plain["fit"])
    for key in ("format", "lathe", "head", "cutting_tip", "tip", "practice"):
        if plain.get(key) is not None:
            fields[key] = str(plain[key])
    if plain.get("treatments") is not None:
        fields |= _corners(plain["treatments"])
    return fields


def _corners(treatments: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """Treatments as fields of the form; every field is named, so that none is left standing."""
    fields = {"bass_blend_hz": "", "low_cut_hz": "", "high_cut_hz": "", "treble_limit": ""}
    for one in treatments:
        kind = str(one["kind"])
        corner = one.get("below_hz", one.get("above_hz"))
        fields["treble_limit" if kind == "treble_limit" else f"{kind}_hz"] = "on" if corner is None else f"{corner:g}"
    return fields


def band_rows(document: Mapping[str, Any], words: Words) -> tuple[BandRow, ...]:
    """The side's bands; a bare file's have numbers for names."""
    titled = document.get("title", {}).get("bands")
    spans = document["settings"]["bands"]
    rows = []
    for number, span in enumerate(spans, 1):
        known = titled[number - 1] if titled else {}
        start, end = float(span["start_s"]), float(span["end_s"])
        radius = words.radius(float(known["radius_mm"]) * 1e-3, 1) if known else ""
        rows.append(
            BandRow(
                number, str(known.get("id", "")), str(known.get("name", f"Band {number}")), "",
                clock(start), clock(end), clock(end - start), radius, start,
            )
        )  # fmt: skip
    return tuple(rows)


def verdict(document: Mapping[str, Any]) -> str:
    """`1 stop, 2 warnings: not ready to cut`."""
    parts = []
    for severity, one, many in (("stop", "stop", "stops"), ("warn", "warning", "warnings"), ("note", "note", "notes")):
        n = sum(finding["severity"] == severity for finding in document["findings"])
        if n:
            parts.append(f"{n} {one if n == 1 else many}")
    return f"{', '.join(parts) or 'no findings'}: {'ready' if document['ready'] else 'not ready'} to cut"


def plan_link(plan: KeptPlan, words: Words) -> PlanLink:
    """One plan in a line."""
    document = plan.document
    spare = float(document["spare_mm"]) * 1e-3
    what = "what-if" if plan.what_if else plan.folder.name
    return PlanLink(
        id=plan.id,
        words=f"{what}, put aside" if plan.dropped else f"{what} {plan.folder.suffix[1:]}".strip(),
        href=f"/plans/{plan.id}",
        what_if=plan.what_if,
        ready=bool(document["ready"]),
        verdict=verdict(document),
        level=level(document["level_db"]),
        spare=f"{words.radius(spare, 1)} to spare" if spare >= 0 else f"{words.radius(-spare, 1)} too long",
        length=clock(document["programme"]["duration_s"]),
        made=when(plan.made),
    )


def when(moment: datetime) -> str:
    """A moment in this computer's own zone, named."""
    return moment.astimezone().strftime("%Y-%m-%d %H:%M %Z")


def comparison_block(found: Comparison, base: KeptPlan, document: Mapping[str, Any], words: Words) -> ComparisonBlock:
    """A what-if beside the plan it was made from.

    Parameters
    ----------
    found : Comparison
        Base first.
    base : KeptPlan
    document : dict
        Of the what-if.
    words : Words
    """
    shown: tuple[tuple[str, str, Callable[[float], str]], ...] = (
        ("level_db", "level", lambda value: level(value, 2)),
        ("radius_used_mm", "radius used", lambda value: words.radius(value * 1e-3)),
        ("spare_mm", "room to spare", lambda value: words.radius(value * 1e-3)),
        ("mean_pitch_um", "mean pitch", lambda value: words.small(value * 1e-6)),
        ("min_land_um", "least land", lambda value: words.small(value * 1e-6)),
    )
    rows = []
    for key, name, show in shown:
        one = found.measures[key]
        cells = ["none" if value is None else show(value) for value in (one.old, one.new)]
        change = "" if one.change is None else "the same" if cells[0] == cells[1] else _signed(show(one.change))
        rows.append(MeasureRow(name, cells[0], cells[1], change))
    old_ready, new_ready = ("ready to cut" if ready else "not ready to cut" for ready in found.ready)
    rows.append(MeasureRow("verdict", old_ready, new_ready, "" if old_ready != new_ready else "the same"))
    settings = tuple(MeasureRow(item.key, _plain(item.old), _plain(item.new), "") for item in found.settings)
    return ComparisonBlock(
        base_words=base.folder.name,
        base_href=f"/plans/{base.id}",
        alike=found.alike,
        settings=settings,
        measures=tuple(rows),
        gained=finding_rows(found.gained, document, words, offers=False),
        cured=finding_rows(found.cured, document, words, offers=False),
        changed=finding_rows([new for _, new in found.changed], document, words, offers=False),
    )


def _signed(text: str) -> str:
    return text if text.startswith(("−", "+")) else f"+{text}"


def _plain(value: object) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        return f"{value:.10g}".replace("-", "−")
    return str(value)


def what_if_form(document: Mapping[str, Any]) -> WhatIfForm:
    """The form with what the plan was made with in every field."""
    settings = document["settings"]

    def options(kind: type[Equipment], key: str) -> tuple[Option, ...]:
        own = str(settings[key]["name"])
        others = [name for name in shipped(kind) if name != own]  # type: ignore[type-var]
        return (Option("", own, True), *(Option(name, name) for name in others))

    corners = _corners(settings.get("treatments", ()))
    return WhatIfForm(
        level_db=f"{float(document['level_db']):.6g}",
        levels=(
            Option("fixed", "this level", True),
            Option("cut", "highest that cuts"),
            Option("clean", "highest that plays cleanly"),
        ),
        formats=options(DiscFormat, "format"),
        lathes=options(Lathe, "lathe"),
        heads=options(Head, "head"),
        cutting_tips=options(CuttingTip, "cutting_tip"),
        tips=options(PlayingTip, "tip"),
        practices=options(Practice, "practice"),
        bass_blend_hz=corners["bass_blend_hz"],
        low_cut_hz=corners["low_cut_hz"],
        high_cut_hz=corners["high_cut_hz"],
        treble_limit=bool(corners["treble_limit"]),
    )


def rung_rows(document: Mapping[str, Any], words: Words) -> tuple[RungRow, ...]:
    """The ladder: up to what level each limit is kept."""
    rows = []
    for one in document.get("ladder", ()):
        time = one["time_s"]
        rows.append(
            RungRow(
                str(one["limit"]).replace("_", " "), level(one["level_db"]), at_clock(time),
                "" if one["turn"] is None else minus(one["turn"], 1),
                "" if one["radius_mm"] is None else words.radius(one["radius_mm"] * 1e-3), time,
            )
        )  # fmt: skip
    return tuple(rows)


def price_rows(document: Mapping[str, Any], words: Words) -> tuple[PriceRow, ...]:
    """What each level costs in room, and how long a side of this music it allows."""
    return tuple(
        PriceRow(
            level(one["level_db"]), words.radius(one["spare_mm"] * 1e-3, 1), f"{one['playing_time_min']:.1f} min",
            one["level_db"], one["spare_mm"], one["playing_time_min"],
        )
        for one in document.get("prices", ())
    )  # fmt: skip


def downloads(plan: KeptPlan) -> tuple[Download, ...]:
    """The files that lie in the plan's folder."""
    found = []
    for name in FILES:
        path = plan.folder / name
        if name in KEPT_FILES and path.is_file():
            found.append(Download(name, FILES[name], size(path.stat().st_size), f"/plans/{plan.id}/files/{name}"))
    return tuple(found)


def missing(plan: KeptPlan) -> tuple[Option, ...]:
    """Files that could be made."""
    return tuple(Option(name, MAKEABLE[name]) for name in missing_files(plan.document, plan.folder) if name in MAKEABLE)


def is_kept_file(plan: KeptPlan, name: str) -> Path | None:
    """One of the plan's own files by its name; None for anything else."""
    path = plan.folder / name
    return path if name in KEPT_FILES and path.is_file() else None


def listening_tips(document: Mapping[str, Any]) -> tuple[Option, ...]:
    """Playing tips to listen with, the plan's own first."""
    own = str(document["settings"]["tip"]["name"])
    return (Option(own, own, True), *(Option(name, name) for name in shipped(PlayingTip) if name != own))
