"""A lot that was judged, put together: the verdict, what was found, where it was, what becomes of it."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from discwright.desk.hall_forms import Said, said_form
from discwright.desk.hall_parts import SaidField, SaidForm
from discwright.desk.lot_parts import EnteredRow, FoundRow
from discwright.desk.page_parts import Fact, Option
from discwright.desk.run_words import class_badge, discs
from discwright.desk.show_lot import place_words
from discwright.desk.show_run import lot_href
from discwright.desk.works_parts import Badge
from discwright.desk.works_time import at_words
from discwright.works import run_events as r
from discwright.works.defect_classes import class_named
from discwright.works.lot import LotDefect
from discwright.works.people import Person, may_record
from discwright.works.yard import Lot, Run

WAIT_FOR = "An engineer or a keeper decides what becomes of it."


def verdict_of(lot: Lot) -> Badge:
    """Accepted or refused, as a word and a shape."""
    return Badge("ready" if lot.verdict == r.ACCEPTED else "stop", lot.verdict)


def sentence_of_lot(lot: Lot) -> str:
    """What the verdict means for the discs."""
    bad = f"; {discs(lot.scrapped)} of the sample {'was' if lot.scrapped == 1 else 'were'} bad and taken out"
    rest = bad if lot.scrapped else ""
    if lot.verdict == r.ACCEPTED:
        return f"{discs(lot.good)} may be put into stock{rest}."
    if not lot.disposition:
        return f"{discs(lot.held)} are held until somebody decides{rest}."
    told = {
        r.SORTED: f"Sorted disc by disc: {lot.good} are good",
        r.SCRAPPED: "Scrapped: none of it is sent",
        r.RELEASED: f"Released although it was refused: {lot.good} may be put into stock",
    }[lot.disposition]
    return f"{told}{rest}."


def judged_facts(run: Run, lot: Lot, zone: ZoneInfo) -> tuple[Fact, ...]:
    """The lot in numbers."""
    told = (
        Fact("lot", f"{lot.number} of {run.id}"), Fact("discs", str(lot.count)), Fact("level", lot.level),
        Fact("good", str(lot.good) if not lot.held else ""), Fact("inspected", at_words(lot.at, zone)),
        Fact("not steady", lot.unsteady), Fact("reduced agreed by", lot.reduced_agreed),
    )  # fmt: skip
    return tuple(one for one in told if one.value)


def found_rows(lot: Lot) -> tuple[FoundRow, ...]:
    """What was found of each class against its plan."""
    return tuple(
        FoundRow(
            class_badge(one["class"]), _rule(str(one["aql"])), str(one["inspection"]), str(one["n"]),
            str(one["found"]), str(one["accept"]), str(one["reject"]),
            Badge("ready", "accepted") if one["found"] <= one["accept"] else Badge("stop", "refused"),
        )
        for one in lot.results
    )  # fmt: skip


def _rule(text: str) -> str:
    return {"none": "none in the sample", "all": "every disc"}.get(text, f"AQL {text} %")


def defects_of(lot: Lot) -> tuple[LotDefect, ...]:
    """The defects that stand in the ledger."""
    return tuple(
        LotDefect(
            one["word"], class_named(one["class"]), one.get("disc", 0), one.get("side", ""), one.get("radius_mm"),
            one.get("angle_deg"),
        )
        for one in lot.defects
    )  # fmt: skip


def defect_rows(lot: Lot) -> tuple[EnteredRow, ...]:
    """The defects as rows."""
    return tuple(
        EnteredRow(
            str(number), str(one.disc or ""), one.side, one.word, "", place_words(one.radius_mm, one.angle_deg),
            class_badge(one.defect_class),
        )
        for number, one in enumerate(defects_of(lot), 1)
    )  # fmt: skip


def face_options(run: Run, lot: Lot) -> tuple[Option, ...]:
    """A picture of each side that has a defect with a place."""
    sides = sorted({one.side for one in defects_of(lot) if one.radius_mm is not None and one.side})
    return tuple(
        Option(
            f"{lot_href(run, lot.number)}/face.svg?side={one}",
            f"Side {one} of lot {lot.number}, with the defects that were found",
        )
        for one in sides
    )


# What becomes of it ------------------------------------------------------------------------------------


def decisions(run: Run, lot: Lot, person: Person, said: Said) -> tuple[SaidForm, ...]:
    """Forms for what can become of a refused lot; none where nothing is to be decided, or not by whoever asks."""
    if not may_record(person, "lot_disposed") or (not lot.held and not said.form.startswith("decide-")):
        return ()
    told: list[tuple[str, str, tuple[SaidField, ...], bool]] = [
        (r.SORTED, "It was sorted disc by disc",
         (SaidField("good", "Good discs", hint=f"of {discs(lot.held)} that are held", number=True, needed=True),
          SaidField("note", "Note")), False),
        (r.SCRAPPED, "Scrap all of it", (SaidField("note", "Note"),), True),
    ]  # fmt: skip
    critical = any(one["class"] == "critical" and one["found"] for one in lot.results)
    if not critical or said.form == f"decide-{r.RELEASED}":
        told.append((r.RELEASED, "Release it all the same", (SaidField("note", "Reason", needed=True),), True))
    action = f"{lot_href(run, lot.number)}/decide"
    return tuple(
        said_form(f"decide-{one}", action, words, fields, said, person, hidden=(("disposition", one),), grave=grave)
        for one, words, fields, grave in told
    )
