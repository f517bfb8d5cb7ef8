"""Switching rules of ISO 2859-1: from one lot to the next, normal, tightened, reduced inspection, or a stop.

A pure fold over the lots of one defect class in the order they were inspected. That production is steady, and that
whoever is responsible wants reduced inspection, is told from outside, lot by lot. The switching score and the ways back
from reduced inspection are from memory of the standard (docs/sampling.md).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from discwright.errors import CallError
from discwright.works.sampling import Inspection

State = Literal["normal", "tightened", "reduced", "stopped"]
#: Two of five lots refused: tightened. Five in a row accepted: normal again. Five refused on tightened: stop.
WINDOW, REFUSED_OF_WINDOW, ACCEPTED_IN_A_ROW, REFUSED_ON_TIGHTENED = 5, 2, 5, 5
#: Score from which reduced inspection may begin, and what a lot adds to it.
SCORE_ENOUGH, SCORE_TIGHTER, SCORE_ACCEPTED = 30, 3, 2


@dataclass(frozen=True)
class LotResult:
    """What became of one lot, as far as one defect class goes.

    Attributes
    ----------
    accepted : bool
    accept : int
        Acceptance number it was judged by.
    passes_tighter : bool
        It would have been accepted at the next tighter AQL, too; asked where `accept` is 2 or more.
    original : bool
        False for a lot that was sorted and put forward again; such a lot changes nothing.
    steady : bool
        Production runs steadily.
    authority_agrees : bool
        Whoever is responsible wants reduced inspection.
    other_cause : str
        Why reduced inspection should end, besides; empty for no cause.
    lot : str
        Its name, to be told again.
    """

    accepted: bool
    accept: int = 0
    passes_tighter: bool = False
    original: bool = True
    steady: bool = True
    authority_agrees: bool = False
    other_cause: str = ""
    lot: str = ""


@dataclass(frozen=True)
class Restart:
    """Inspection is taken up again after a stop, on tightened: something was done, and this is what."""

    why: str


@dataclass(frozen=True)
class Switching:
    """Where a defect class stands between two lots.

    Attributes
    ----------
    state : {"normal", "tightened", "reduced", "stopped"}
    why : str
        What brought it there, a sentence.
    score : int
        Switching score; 0 outside normal inspection.
    recent : tuple of bool
        Under normal inspection, which of the last lots were accepted, at most four of them.
    accepted_in_a_row, refused : int
        Under tightened inspection.
    waiting : str
        What keeps it from reduced inspection although the score is enough; else empty.
    """

    state: State = "normal"
    why: str = "Inspection begins as normal."
    score: int = 0
    recent: tuple[bool, ...] = ()
    accepted_in_a_row: int = 0
    refused: int = 0
    waiting: str = ""

    @property
    def inspection(self) -> Inspection | None:
        """How the next lot is inspected; None after a stop."""
        return None if self.state == "stopped" else self.state

    @property
    def next_switch(self) -> str:
        """What would change it next, for people."""
        if self.state == "stopped":
            return "Nothing is inspected until someone restarts and says what was done; then tightened."
        if self.state == "reduced":
            return "Back to normal with the next lot refused, unsteady production or another cause."
        if self.state == "tightened":
            good, bad = ACCEPTED_IN_A_ROW - self.accepted_in_a_row, REFUSED_ON_TIGHTENED - self.refused
            return f"Normal after {_lots(good)} more accepted in a row; stop after {_lots(bad)} more refused."
        return f"{self._tightened_next()} {self._reduced_next()}"

    def _tightened_next(self) -> str:
        if False not in self.recent:
            return f"Tightened with {REFUSED_OF_WINDOW} of {WINDOW} lots in a row refused."
        left = WINDOW - 1 - self.recent[::-1].index(False)
        return f"Tightened if one of the next {left} lots is refused." if left > 1 else "Tightened if the next is."

    def _reduced_next(self) -> str:
        if self.waiting:
            return f"Reduced with the next lot accepted, but {self.waiting}."
        return f"Reduced from a score of {SCORE_ENOUGH}, now {self.score}."


BEGIN = Switching()


def follow(standing: Switching, happened: LotResult | Restart) -> Switching:
    """What a lot, or a restart, changes.

    Parameters
    ----------
    standing : Switching
    happened : LotResult or Restart

    Returns
    -------
    Switching

    Raises
    ------
    CallError
        If something is restarted that was not stopped, or no reason is given.
    """
    if isinstance(happened, Restart):
        if standing.state != "stopped":
            raise CallError(f"inspection is {standing.state} and not stopped; there is nothing to restart.")
        if not happened.why.strip():
            raise CallError("a restart needs to say what was done; write it down.")
        return Switching("tightened", f"Restarted: {happened.why.strip()}")
    if standing.state == "stopped" or not happened.original:
        return standing
    rule = {"normal": _from_normal, "tightened": _from_tightened, "reduced": _from_reduced}[standing.state]
    return rule(standing, happened)


def fold(happenings: Iterable[LotResult | Restart], begin: Switching = BEGIN) -> tuple[Switching, ...]:
    """Where a class stood before the first lot, and after each.

    Parameters
    ----------
    happenings : iterable of LotResult or Restart
    begin : Switching

    Raises
    ------
    CallError
    """
    stood = [begin]
    for one in happenings:
        stood.append(follow(stood[-1], one))
    return tuple(stood)


def follow_classes(
    standings: Mapping[str, Switching], results: Mapping[str, LotResult | Restart]
) -> dict[str, Switching]:
    """Each defect class for itself: one lot can tighten one class and leave the others.

    Parameters
    ----------
    standings : mapping of str to Switching
        By defect class; a class that is not there begins as normal.
    results : mapping of str to LotResult or Restart
        By defect class.
    """
    moved = {name: follow(standings.get(name, BEGIN), result) for name, result in results.items()}
    return {**standings, **moved}


def _from_normal(standing: Switching, lot: LotResult) -> Switching:
    window = (*standing.recent, lot.accepted)[-WINDOW:]
    if window.count(False) >= REFUSED_OF_WINDOW:
        first = window.index(False)
        return Switching("tightened", f"{REFUSED_OF_WINDOW} of {len(window) - first} lots in a row were refused.")
    recent = window[-(WINDOW - 1) :]
    score = _score(standing.score, lot)
    if score < SCORE_ENOUGH:
        return replace(standing, score=score, recent=recent, waiting="")
    lacking = [
        *([] if lot.steady else ["production is not steady"]),
        *([] if lot.authority_agrees else ["nobody responsible has agreed to it"]),
    ]
    if lacking:
        return replace(standing, score=score, recent=recent, waiting=" and ".join(lacking))
    return Switching("reduced", f"The switching score reached {score}, production is steady and reduced is agreed to.")


def _score(score: int, lot: LotResult) -> int:
    if lot.accept >= 2:
        return score + SCORE_TIGHTER if lot.accepted and lot.passes_tighter else 0
    return score + SCORE_ACCEPTED if lot.accepted else 0


def _from_tightened(standing: Switching, lot: LotResult) -> Switching:
    if not lot.accepted:
        refused = standing.refused + 1
        if refused >= REFUSED_ON_TIGHTENED:
            return Switching("stopped", f"{refused} lots were refused on tightened inspection.")
        return replace(standing, accepted_in_a_row=0, refused=refused)
    row = standing.accepted_in_a_row + 1
    if row >= ACCEPTED_IN_A_ROW:
        return Switching("normal", f"{row} lots in a row were accepted on tightened inspection.")
    return replace(standing, accepted_in_a_row=row)


def _from_reduced(standing: Switching, lot: LotResult) -> Switching:
    if not lot.accepted:
        return Switching("normal", "A lot was refused on reduced inspection.")
    if not lot.steady:
        return Switching("normal", "Production is not steady.")
    if lot.other_cause.strip():
        return Switching("normal", f"Reduced inspection ended: {lot.other_cause.strip()}")
    return standing


def _lots(count: int) -> str:
    return f"{count} lot" if count == 1 else f"{count} lots"
