"""The demo's ledger: invented days at the works, each side of the demo title at another place on its way."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from discwright.acts.demo_dispatch import FOLDER, dispatch, plan_the_hall, press_and_stock
from discwright.acts.hall_ledger import HALL_FILE
from discwright.acts.works import Cutting, Hand, cut, grow, keep_plan, read_planned, take_in
from discwright.acts.works_record import Said, correct, record
from discwright.works.store.ledger import Ledger, Outcome, begin_ledger

LEDGER_FILE = "works.sqlite"
CUTTER, PLATER, PRESSER = "Ilse Varn", "Odo Fenn", "Mira Quill"
#: The week begins so long ago.
_DAYS = 5.0


class _Week:
    """A clock that is set by the story and never runs past now."""

    def __init__(self) -> None:
        self.now = datetime.now(UTC) - timedelta(days=_DAYS)

    def __call__(self) -> datetime:
        return self.now

    def later(self, hours: float) -> None:
        """So many hours pass."""
        self.now += timedelta(hours=hours)


@contextmanager
def _story(folder: Path) -> Iterator[tuple[Ledger, _Week, Path]]:
    """A ledger that appears whole or not at all, with the papers of its dispatch, which lie aside till then."""
    week = _Week()
    with TemporaryDirectory(dir=folder, prefix=".works-") as aside:
        part = Path(aside) / LEDGER_FILE
        ledger = begin_ledger(str(part), clock=week)
        try:
            yield ledger, week, Path(aside)
        finally:
            ledger.close()
        for name in (FOLDER, HALL_FILE):
            if not (folder / name).exists():  # what is there from an earlier demo stays as it is
                (Path(aside) / name).replace(folder / name)
        part.replace(folder / LEDGER_FILE)


def write_ledger(title_file: Path, plans: dict[tuple[str, str], Path]) -> Path | None:
    """Tell the demo's story.

    Parameters
    ----------
    title_file : pathlib.Path
        The ledger is made beside it; one that is there stays as it is.
    plans : dict of (str, str) to pathlib.Path
        Folder of the kept plan of each edition and side.

    Returns
    -------
    pathlib.Path or None
        The ledger; None where one was there.
    """
    folder = title_file.parent
    if (folder / LEDGER_FILE).exists():
        return None
    with _story(folder) as (ledger, week, aside):
        told = _Telling(ledger, week, take_in(ledger, title_file, Hand(CUTTER, "office")), plans)
        told.waiting_for_test_play("lp", "A")
        told.sent("ep", aside / FOLDER)
        told.just_cut("lp", "B")
        plan_the_hall(ledger, aside / HALL_FILE)
    return folder / LEDGER_FILE


class _Telling:
    """What happens to each side."""

    def __init__(self, ledger: Ledger, week: _Week, taken: Outcome, plans: dict[tuple[str, str], Path]) -> None:
        assert taken.line is not None
        self.ledger, self.week, self.title, self.plans = ledger, week, taken.line.title, plans
        self.serial = 0

    def sent(self, edition: str, folder: Path) -> None:
        """Pressed with two stampers of side A and one of side B, and most of it on its way to those who ordered it."""
        quiet = self.positive(self.negative(self.lacquer(edition, "B")), "1")
        self.heard(quiet, 0, "approved", "one soft tick before the music, not on the programme's time")
        other = self.at_press(self.stamper(quiet, "A"))
        mother = self.second_mother(edition)
        first = self.stamper(mother, "A")
        self.measured(first)
        runs = [self.run(edition, {"A": self.at_press(first), "B": other}, (320, 311), "A-2")]
        self.say(first, "taken_off", PRESSER, Said(count=320), hours=0.5)
        second = self.at_press(self.stamper(mother, "B"))
        runs.append(self.run(edition, {"A": second, "B": other}, (235, 229), "A-3"))
        self.say(second, "taken_off", PRESSER, Said(count=235), hours=0.5)
        dispatch(self.ledger, self.title, edition, runs, folder, self.week.later)

    def second_mother(self, edition: str) -> str:
        """A first mother that ticks, a second that is good."""
        master = self.negative(self.lacquer(edition, "A"))
        bad = self.positive(master, "1")
        self.heard(bad, 3, "refused", "three ticks a turn apart, 4 mm from the label")
        mother = self.positive(master, "2")
        self.heard(mother, 0, "approved", "")
        return mother

    def measured(self, stamper: str) -> None:
        """Weighed and measured, with a point in the wrong place that is put right."""
        self.say(stamper, "weighed", PLATER, Said(value=176.2, unit="g"))
        wrong = self.say(stamper, "measured", PLATER, Said(value=2.1, unit="mm"))
        assert wrong.line is not None
        right = Said(value=0.21, unit="mm")
        correct(self.ledger, wrong.line.seq, "a point in the wrong place", Hand(PLATER, "bath"), instead=right)

    def at_press(self, stamper: str) -> str:
        """From the bath to the press."""
        self.finished(stamper)
        self.say(stamper, "put_to_press", PRESSER, Said(more={"press": "2"}))
        return stamper

    def run(self, edition: str, stampers: dict[str, str], made: tuple[int, int], bin_: str) -> str:
        """One run, into its bin."""
        return press_and_stock(self.ledger, self.title, edition, stampers, made, bin_, PRESSER, self.week.later)

    def waiting_for_test_play(self, edition: str, side: str) -> None:
        """A mother that nobody has heard yet."""
        self.positive(self.negative(self.lacquer(edition, side)), "1")

    def just_cut(self, edition: str, side: str) -> None:
        """Cut a few hours ago."""
        self.week.now = max(self.week.now, datetime.now(UTC) - timedelta(hours=4.0))
        self.lacquer(edition, side)

    # steps ---------------------------------------------------------------------------------------------

    def lacquer(self, edition: str, side: str) -> str:
        """Kept, cut and looked at."""
        planned = read_planned(self.plans[edition, side])
        hand = Hand(CUTTER, "lathe")
        self.week.later(0.5)
        keep_plan(self.ledger, planned, self.title, side, hand, edition=edition)
        self.serial += 1
        blank = 254.0 if planned.format.startswith("7in") else 355.6
        cutting = Cutting(
            f"{240 + self.serial // 3}-C", "R-17", 4.0 + 0.6 * self.serial, blank, 0.55, CUTTER, planned.matrix
        )
        self.week.later(0.7)
        number = _part(cut(self.ledger, planned, self.title, side, cutting, hand, edition=edition))
        self.say(number, "checked_under_the_microscope", CUTTER, Said(value=58.0, unit="um"))
        return number

    def negative(self, lacquer: str) -> str:
        """The master."""
        self.say(lacquer, "handed_over", CUTTER, Said(more={"to": "plating"}))
        self.say(lacquer, "silvered", PLATER, Said())
        return self.grown(lacquer, "master", "", 2.5)

    def positive(self, master: str, number: str) -> str:
        """A mother."""
        self.say(master, "passivated", PLATER, Said())
        return self.grown(master, "mother", f"M{number}", 4.0)

    def stamper(self, mother: str, letter: str) -> str:
        """A stamper."""
        self.say(mother, "passivated", PLATER, Said())
        return self.grown(mother, "stamper", letter, 2.0)

    def grown(self, parent: str, kind: str, mark: str, hours: float) -> str:
        """A part grown and taken off."""
        self.week.later(hours)
        number = _part(grow(self.ledger, parent, kind, Hand(PLATER, "bath"), mark=mark, tank="1", minutes=60.0 * hours))
        self.say(number, "separated", PLATER, Said())
        return number

    def heard(self, mother: str, faults: int, verdict: str, note: str) -> None:
        """A test play and what came of it."""
        self.say(mother, "test_played", CUTTER, Said(count=faults, note=note), hours=1.0)
        self.say(mother, verdict, CUTTER, Said())

    def finished(self, stamper: str) -> None:
        """From the bath to the press."""
        for kind in ("back_sanded", "centred", "trimmed", "formed"):
            self.say(stamper, kind, PRESSER, Said())

    def say(self, part: str, kind: str, by: str, said: Said, hours: float = 0.3) -> Outcome:
        """One line; time passes before it."""
        self.week.later(hours)
        station = {CUTTER: "lathe", PLATER: "bath", PRESSER: "press"}[by]
        outcome = record(self.ledger, part, kind, said, Hand(by, station))
        assert outcome.line is not None, outcome.findings
        return outcome


def _part(outcome: Outcome) -> str:
    assert outcome.line is not None, outcome.findings
    return outcome.line.part
