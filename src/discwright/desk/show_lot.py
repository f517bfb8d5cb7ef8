"""The page of a lot put together: its plan, the sample, what was entered; and a lot that was judged."""

from __future__ import annotations

import base64
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from discwright.acts.lots import LotPlan
from discwright.desk.hall_forms import Said, said_form
from discwright.desk.hall_parts import SaidField, SaidForm
from discwright.desk.lot_entry import PICTURE_PX, Entered, Entry, entries_as_text
from discwright.desk.lot_parts import (
    ClassRow,
    EnteredRow,
    LotForm,
    SampleDisc,
    StoppedRow,
    WordChoice,
)
from discwright.desk.page_parts import Fact, Option
from discwright.desk.run_words import class_badge, discs, run_href
from discwright.desk.show_board import new_key
from discwright.desk.words import minus
from discwright.files.defect_settings import DefectSettings
from discwright.files.face_picture import Face, face_svg
from discwright.works.defect_classes import CLASSES, HEARINGS, WORDS
from discwright.works.family import Family
from discwright.works.lot import ALL_DISCS, ClassPlan, LotDefect
from discwright.works.lot_series import series_of
from discwright.works.people import Person, may_record
from discwright.works.sampling import LEVELS
from discwright.works.yard import Run, edition_code

#: What the hearing of a defect is called on its button.
_HEARINGS = {"seen": "seen", "heard": "heard", "jumps": "the tip jumps"}


@dataclass(frozen=True)
class LotHere:
    """The lot that is inspected.

    Attributes
    ----------
    family : Family
    run : Run
    plan : LotPlan
    house : DefectSettings
    face : Face or None
        None for what has no face.
    """

    family: Family
    run: Run
    plan: LotPlan
    house: DefectSettings
    face: Face | None

    @property
    def number(self) -> int:
        """Which lot of the run it will be."""
        return len(self.run.lots) + 1

    @property
    def sample(self) -> tuple[int, ...]:
        """Discs to take, as they lie in the lot."""
        return tuple(sorted(self.plan.take))

    @property
    def sides(self) -> tuple[str, ...]:
        """Letters of its sides."""
        return tuple(sorted(self.run.stampers))


def lot_page_href(run: Run, **query: str | int) -> str:
    """Address of the page on which the next lot of a run is inspected."""
    asked = {name: value for name, value in query.items() if value}
    place = f"{run_href(run.id)}/lot"
    return f"{place}?{urlencode(asked)}" if asked else place


# The plan ----------------------------------------------------------------------------------------------


def lot_facts(here: LotHere) -> tuple[Fact, ...]:
    """The lot in numbers."""
    return (
        Fact("lot", f"{here.number} of {here.run.id}"), Fact("discs", str(here.plan.count)),
        Fact("level", here.plan.level), Fact("to take", discs(len(here.plan.take))),
    )  # fmt: skip


def class_rows(here: LotHere) -> tuple[ClassRow, ...]:
    """How each class is judged, the worst first."""
    return tuple(_class(here, one) for one in here.plan.classes)


def rule_words(rule: object) -> str:
    """How a class is judged: `AQL 1 %`, `none in the sample`, `every disc`."""
    if isinstance(rule, int | float):
        return f"AQL {rule:g} %"
    return "every disc" if rule == ALL_DISCS else "none in the sample"


def _class(here: LotHere, one: ClassPlan) -> ClassRow:
    standing = here.plan.standing[one.defect_class]
    drawn = one.plan is not None
    query = {"class": one.defect_class, "count": here.plan.count, "level": here.plan.level}
    return ClassRow(
        class_badge(one.defect_class), rule_words(one.rule), str(one.n), str(one.accept), str(one.reject),
        standing.state, standing.why, standing.next_switch,
        f"{run_href(here.run.id)}/lot/oc.svg?{urlencode(query)}" if drawn else "",
        f"Operating characteristic for {one.defect_class} defects: {discs(one.n)} of {here.plan.count}, accepted with "
        f"{one.accept}" if drawn else "",
    )  # fmt: skip


def size_form(here: LotHere, person: Person, said: Said) -> SaidForm:
    """Another size of the lot, or another level."""
    fields = (
        SaidField("count", "Discs of the lot", str(here.plan.count), hint=f"1 to {here.run.to_inspect}", number=True),
        SaidField("level", "Inspection level", here.plan.level,
                  options=tuple(Option(one, one, one == here.plan.level) for one in LEVELS)),
    )  # fmt: skip
    return said_form("size", lot_page_href(here.run), "Plan the lot anew", fields, said, person, told=False)


# Stopped -----------------------------------------------------------------------------------------------


def stopped_rows(family: Family, run: Run, person: Person, said: Said) -> tuple[StoppedRow, ...]:
    """Classes of defects whose inspection is stopped, each with the form that takes it up again."""
    standing = series_of(family.yard, run.edition)
    stopped = [name for name in CLASSES if name in standing and standing[name].state == "stopped"]
    may = may_record(person, "inspection_restarted")
    return tuple(
        StoppedRow(
            class_badge(name), standing[name].why, restart_form(family, run, name, person, said) if may else None
        )
        for name in stopped
    )


def restart_form(family: Family, run: Run, name: str, person: Person, said: Said) -> SaidForm:
    """Takes inspection of a class up again."""
    code = edition_code(family.title, run.edition)
    fields = (SaidField("why", "What was done about it", needed=True),)
    return said_form(
        f"restart-{name}", f"{run_href(run.id)}/lot/restart", "Take inspection up again", fields, said, person,
        label=f"Take inspection of {code} for {name} defects up again", hidden=(("class", name),),
    )  # fmt: skip


# What is entered ---------------------------------------------------------------------------------------


def lot_form(here: LotHere, now: Entered, said: Mapping[str, str], sentence: str) -> LotForm:
    """The form from the first disc to the verdict.

    Parameters
    ----------
    here : LotHere
    now : Entered
    said : mapping of str to str
        The form as it was sent; empty at first.
    sentence : str
        What was wrong with it.
    """
    defects = [one.defect(here.house) for one in now.entries]
    sample, count = here.sample, len(here.plan.take)
    hidden = (
        ("lot", str(here.number)), ("key", said.get("key", "") or new_key()), ("count", str(here.plan.count)),
        ("level", here.plan.level), ("defects", entries_as_text(now.entries)), ("at", str(now.at)),
        ("seen", str(now.seen)), ("side", now.side),
    )  # fmt: skip
    typed = {name: said.get(name, "")[:40] if sentence else "" for name in ("radius_mm", "angle_deg")}
    edge = "" if here.face is None else f"0 to {here.face.edge:g} mm"
    return LotForm(
        action=f"{lot_page_href(here.run)}#inspect", hidden=hidden, picture=_picture(here, now, defects),
        picture_px=PICTURE_PX, picture_words=_picture_words(here, now, defects),
        sides=tuple(Option(f"side-{one}", f"Side {one}", one == now.side) for one in here.sides),
        hearings=tuple(Option(one, _HEARINGS[one], one == now.hearing) for one in HEARINGS),
        words=word_choices(now.word, here.house), disc=str(sample[now.at]),
        progress=f"disc {now.at + 1} of {count} in the sample", first=now.at == 0, last=now.at == count - 1,
        sample=_sample(here, now), radius=SaidField("radius_mm", "Radius", typed["radius_mm"], "mm", edge, True),
        angle=SaidField("angle_deg", "Angle", typed["angle_deg"], "°", "0 at the top, against the clock", True),
        entered=entered_rows(now.entries, defects), summary=_summary(defects),
        all_looked=now.seen >= count, looked_words=f"All {discs(count)} of the sample were looked at",
        more=_more(said), sentence=sentence,
        kept=f"lot {here.run.id} {here.number} {here.plan.count} {here.plan.level}",
    )  # fmt: skip


def _picture(here: LotHere, now: Entered, defects: Sequence[LotDefect]) -> str:
    """The face with the defects of the side that is looked at, as a data address."""
    if here.face is None:
        return ""
    own = [one for one in defects if one.side == now.side]
    drawn = face_svg(here.face, own, f"Side {now.side}", legend=False)
    return f"data:image/svg+xml;base64,{base64.b64encode(drawn.encode('utf-8')).decode('ascii')}"


def _picture_words(here: LotHere, now: Entered, defects: Sequence[LotDefect]) -> str:
    if here.face is None:
        return ""
    own = sum(one.side == now.side for one in defects)
    many = f"{own} {'defect' if own == 1 else 'defects'}"
    return f"The face of side {now.side} with {many}: press to enter the chosen defect where it is"


def word_choices(chosen: str, house: DefectSettings) -> tuple[WordChoice, ...]:
    """Every word for a defect, those that have a place on the face first."""
    known = sorted(WORDS.values(), key=lambda one: not one.on_face)
    return tuple(
        WordChoice(
            one.word, one.mark, class_badge(house.class_of(one.word)), f"{one.seen}; {one.heard}", one.on_face,
            one.word == chosen,
        )
        for one in known
    )  # fmt: skip


def _sample(here: LotHere, now: Entered) -> tuple[SampleDisc, ...]:
    found = Counter(one.disc for one in now.entries)
    return tuple(
        SampleDisc(str(disc), str(at), str(found[disc] or ""), at < now.seen, at == now.at)
        for at, disc in enumerate(here.sample)
    )


def entered_rows(entries: Sequence[Entry], defects: Sequence[LotDefect]) -> tuple[EnteredRow, ...]:
    """Defects as they were entered, each with its class."""
    return tuple(
        EnteredRow(
            str(number), str(one.disc), one.side, one.word, _HEARINGS[one.hearing],
            place_words(one.radius_mm, one.angle_deg), class_badge(defect.defect_class),
        )
        for number, (one, defect) in enumerate(zip(entries, defects, strict=True), 1)
    )  # fmt: skip


def place_words(radius_mm: float | None, angle_deg: float | None) -> str:
    """Where a defect is: `101.5 mm, 45.0°`; empty where it has no place."""
    if radius_mm is None or angle_deg is None:
        return ""
    return f"{minus(radius_mm, 1)} mm, {minus(angle_deg, 1)}°"


def _summary(defects: Sequence[LotDefect]) -> str:
    """Discs by the class of their worst defect, as the verdict counts them."""
    if not defects:
        return "No defect was entered."
    worst: dict[int, str] = {}
    for one in sorted(defects, key=lambda one: CLASSES.index(one.defect_class)):
        worst.setdefault(one.disc, one.defect_class)
    told = [f"{many} {name}" for name in CLASSES if (many := sum(one == name for one in worst.values()))]
    defects_ = f"{len(defects)} {'defect' if len(defects) == 1 else 'defects'}"
    return f"{defects_} on {discs(len(worst))}, by their worst: {', '.join(told)}."


def _more(said: Mapping[str, Any]) -> tuple[SaidField, ...]:
    told = (
        ("unsteady", "Production is not steady, because", "Then inspection is not reduced"),
        ("reduced_agreed", "Who agrees to reduced inspection", "Empty where nobody does"),
        ("note", "Note", ""),
    )
    return tuple(SaidField(name, label, str(said.get(name, ""))[:200], hint=hint) for name, label, hint in told)
