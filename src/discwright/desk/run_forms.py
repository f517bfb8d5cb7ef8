"""What can be said of a run: its first disc with the limits beside each field, counts, bins, a recall."""

from __future__ import annotations

from collections.abc import Mapping

from discwright.acts.first_off import first_off_limits, first_off_wanted
from discwright.desk.hall_forms import Said, number_in, said_form, text_in
from discwright.desk.hall_parts import RunForms, SaidField, SaidForm
from discwright.desk.page_parts import Option
from discwright.desk.run_words import discs, run_href
from discwright.desk.show_run import bin_rows, wow_words
from discwright.desk.words import figures
from discwright.files.press_settings import load_press
from discwright.groove.equipment import DiscFormat
from discwright.works import run_events as r
from discwright.works.family import Family
from discwright.works.first_off import FirstOffLimits, FirstOffSeen
from discwright.works.people import Person, may_record
from discwright.works.run_standing import RunStanding
from discwright.works.yard import Run

_NOTE = SaidField("note", "Note")


def run_forms(
    family: Family, run: Run, standing: RunStanding, disc: DiscFormat | None, person: Person, said: Said
) -> RunForms:  # fmt: skip
    """Every form of a run's page that this person may send now.

    Parameters
    ----------
    family : Family
    run : Run
    standing : RunStanding
    disc : DiscFormat or None
    person : Person
    said : Said
        A form that was sent and not taken; it stays, whatever has come to be meanwhile.
    """

    def if_may(kind: str, form: str, is_so: bool) -> bool:
        return may_record(person, kind) and (is_so or said.form == form)

    pressing = not standing.recalled_for and (standing.working or not run.stampers)
    wanted = pressing and run.first_off != "pass"
    recall = "approved" if run.verdict == "recalled" else "recalled"
    return RunForms(
        _first_off(family, run, disc, person, said) if if_may("first_off", "first-off", wanted) else None,
        _pressed(run, person, said) if if_may("run_pressed", "pressed", run.first_off == "pass") else None,
        _stock(run, person, said) if if_may("stocked", "stock", run.to_stock > 0) else None,
        _take_out(run, person, said) if if_may("taken_out", "take-out", run.stocked > 0) else None,
        _recall(run, person, said) if if_may(recall, "recall", True) else None,
    )


# The first disc ----------------------------------------------------------------------------------------


def _first_off(family: Family, run: Run, disc: DiscFormat | None, person: Person, said: Said) -> SaidForm:
    fields = [*_disc_fields(family, run, disc)] if run.stampers else []
    fields += [
        SaidField("labels", "Labels", hint="the right way on the right side", options=_choices(r.LABELS)),
        SaidField("played", "Full play", hint="to its end, both sides",
                  options=(Option("", "not played", True), Option("pass", "passed"), Option("stop", "stopped it"))),
        _NOTE,
    ]  # fmt: skip
    action = f"{run_href(run.id)}/first-off"
    return said_form("first-off", action, "Write the first-off down", fields, said, person)


def _choices(words: tuple[str, ...]) -> tuple[Option, ...]:
    return (Option("", "not looked at", True), *(Option(one, one) for one in words))


def _disc_fields(family: Family, run: Run, disc: DiscFormat | None) -> list[SaidField]:
    limits = first_off_limits(load_press(), disc) if disc is not None else None
    hints = _hints(limits, disc.innermost_radius * 1e3) if limits is not None and disc is not None else ("", "", "")
    fields = [
        SaidField("hole_mm", "Hole, diameter", unit="mm", hint=hints[0], number=True),
        SaidField("off_centre_mm", "Hole to the middle of the groove", unit="mm", hint=hints[1], number=True),
        SaidField("weight_g", "Weight", unit="g", hint=hints[2], number=True),
        SaidField("wanted_g", "Weight wanted of this edition", unit="g", hint="if not the house's", number=True),
    ]
    marks = first_off_wanted(family, run, disc).marks if disc is not None else {}
    for side, number in sorted(run.stampers.items()):
        known = f"the ledger has {marks[side]}" if marks.get(side) else "nothing was put on it"
        fields += [
            SaidField(f"mark-{side}", f"Run-out of side {side}, as it reads on the disc", hint=known),
            SaidField(f"stamper-{side}", f"Stamper of side {side}, as it reads", hint=f"begun with {number}"),
        ]
    return fields


def _hints(limits: FirstOffLimits, radius_mm: float) -> tuple[str, str, str]:
    """What hole, centring and weight are held against."""
    slack = limits.weight_g * limits.weight_percent / 100
    return (
        f"{limits.hole_low_mm:g} to {limits.hole_high_mm:g} mm",
        f"at most {limits.off_centre_mm:g} mm: wow {wow_words(limits.off_centre_mm, radius_mm)}",
        f"{figures(limits.weight_g - slack)} to {figures(limits.weight_g + slack)} g",
    )


def first_off_seen(run: Run, fields: Mapping[str, str]) -> FirstOffSeen:
    """What a form says of a first disc; what was left empty was not looked at.

    Parameters
    ----------
    run : Run
    fields : mapping of str to str

    Raises
    ------
    CallError
        If a number cannot be read.
    """
    return FirstOffSeen(
        number_in(fields, "hole_mm", "hole"), number_in(fields, "off_centre_mm", "off centre"),
        number_in(fields, "weight_g", "weight"), text_in(fields, "labels") or None, _read(run, fields, "mark"),
        _read(run, fields, "stamper"), text_in(fields, "played") or None,
    )  # fmt: skip


def _read(run: Run, fields: Mapping[str, str], name: str) -> dict[str, str] | None:
    read = {side: text_in(fields, f"{name}-{side}")[:80] for side in run.stampers}
    return {side: text for side, text in read.items() if text} or None


# Counts, bins, recall ----------------------------------------------------------------------------------


def _pressed(run: Run, person: Person, said: Said) -> SaidForm:
    fields = (
        SaidField("count", "Pressings made", hint="since the last count", number=True, needed=True),
        SaidField("good", "Of them good at the press", number=True, needed=True),
    )
    return said_form("pressed", f"{run_href(run.id)}/pressed", "Note what was pressed", fields, said, person)


def _stock(run: Run, person: Person, said: Said) -> SaidForm:
    fields = (
        SaidField("bin", "Bin or shelf", needed=True),
        SaidField(
            "count", "Discs", str(max(0, run.to_stock)), hint=f"{discs(run.to_stock)} accepted and in no bin",
            number=True, needed=True,
        ),
    )  # fmt: skip
    return said_form("stock", f"{run_href(run.id)}/stock", "Put into stock", fields, said, person)


def _take_out(run: Run, person: Person, said: Said) -> SaidForm:
    bins = tuple(
        Option(one.bin, f"{one.bin}, {one.count} discs", number == 0) for number, one in enumerate(bin_rows(run))
    )
    fields = (
        SaidField("bin", "Out of bin", options=bins, needed=True),
        SaidField("count", "Discs", number=True, needed=True),
        SaidField("note", "What for", hint="broken, kept, played"),
    )
    return said_form("take-out", f"{run_href(run.id)}/take-out", "Take them out", fields, said, person)


def _recall(run: Run, person: Person, said: Said) -> SaidForm:
    action = f"{run_href(run.id)}/recall"
    if run.verdict == "recalled":
        fields = (SaidField("note", "Why the recall was wrong"),)
        return said_form("recall", action, "Lift the recall", fields, said, person, hidden=(("lift", "on"),))
    fields = (SaidField("note", "Why", needed=True),)
    return said_form("recall", action, "Recall this run", fields, said, person, grave=True)
