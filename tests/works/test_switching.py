"""Switching rules: sequences *by hand*, and what must hold for every sequence (Hypothesis)."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.switching import BEGIN, LotResult, Restart, Switching, fold, follow, follow_classes


def lots(text: str, **same: object) -> list[LotResult]:
    """`+` an accepted lot, `-` a refused one, `(` and `)` the same when sorted and put forward again."""
    return [LotResult(one in "+(", original=one in "+-", **same) for one in text]  # type: ignore[arg-type]


def states(text: str, **same: object) -> str:
    """First letters of the states after each lot."""
    return "".join(one.state[0] for one in fold(lots(text, **same))[1:])


@pytest.mark.parametrize(
    ("text", "after"),
    [
        # Two of five or fewer lots in a row refused: tightened (published: web manual on switching).
        ("--", "nt"), ("-+-", "nnt"), ("-+++-", "nnnnt"), ("-++++-", "nnnnnn"), ("-++++-+++-", "nnnnnnnnnt"),
        ("+++++-", "nnnnnn"),
        # Five in a row accepted: normal again; a refusal begins the count anew (published, ditto).
        ("--+++++", "nttttt" + "n"), ("--++++-+++++", "nt" + "ttttt" + "ttttn"),
        # After the way back, old refusals count no more.
        ("--+++++-", "nttttt" + "nn"), ("--+++++--", "nttttt" + "nnt"),
        # Five refused on tightened, in a row or not: stop, and stopped it stays (published, ditto).
        ("-------", "ntttt" + "ts"), ("--+-+-++-+--", "nt" + "t" * 9 + "s"), ("-------++++++++++", "ntttttsssssssssss"),
        # The count of refusals begins anew with each tightened inspection.
        ("------+++++--++++-", "nttttt" + "ttttn" + "nt" + "ttttt"),
        # A lot put forward again changes nothing.
        ("-)", "nn"), ("-)))-", "nnnnt"), ("--((((((", "nttttttt"),
    ],
)  # fmt: skip
def test_hand_made_sequences(text: str, after: str) -> None:
    assert states(text) == after


def test_the_score_with_small_acceptance_numbers() -> None:
    """Ac 0 or 1: two a lot, so the fifteenth; from memory of the standard."""
    assert [one.score for one in fold(lots("++-+", accept=1))] == [0, 2, 4, 0, 2]
    assert states("+" * 15, authority_agrees=True) == "n" * 14 + "r"


def test_the_score_with_larger_acceptance_numbers() -> None:
    """Ac 2 or more: three a lot that a tighter AQL passes, too, so the tenth; else nothing is left."""
    assert states("+" * 10, accept=3, passes_tighter=True, authority_agrees=True) == "n" * 9 + "r"
    mixed = [
        *lots("++", accept=3, passes_tighter=True),
        *lots("+", accept=3),
        *lots("+", accept=3, passes_tighter=True),
    ]
    assert [one.score for one in fold(mixed)] == [0, 3, 6, 0, 3]


def test_reduced_needs_agreement_and_steady_production() -> None:
    ready = fold(lots("+" * 20))[-1]
    assert (ready.state, ready.score) == ("normal", 40)
    assert ready.waiting == "nobody responsible has agreed to it"
    restless = follow(ready, LotResult(True, steady=False))
    assert restless.waiting == "production is not steady and nobody responsible has agreed to it"
    assert "but production is not steady" in restless.next_switch
    assert follow(restless, LotResult(True, authority_agrees=True)).state == "reduced"


@pytest.mark.parametrize(
    ("lot", "why"),
    [
        (LotResult(False), "A lot was refused on reduced inspection."),
        (LotResult(True, steady=False), "Production is not steady."),
        (LotResult(True, other_cause="a new compound."), "Reduced inspection ended: a new compound."),
    ],
)
def test_the_ways_back_from_reduced(lot: LotResult, why: str) -> None:
    reduced = Switching("reduced")
    assert follow(reduced, LotResult(True)) == reduced
    back = follow(reduced, lot)
    assert back == Switching("normal", why)
    # The refused lot was not under normal inspection, so it is not one of the two of five.
    assert follow(back, LotResult(False)).state == "normal"


def test_a_restart_is_tightened_and_has_a_reason() -> None:
    stopped = fold(lots("-------"))[-1]
    assert (stopped.state, stopped.inspection) == ("stopped", None)
    assert follow(stopped, Restart("new mould cores")) == Switching("tightened", "Restarted: new mould cores")
    with pytest.raises(CallError, match="a restart needs to say what was done; write it down"):
        follow(stopped, Restart(" "))
    with pytest.raises(CallError, match="inspection is normal and not stopped; there is nothing to restart"):
        follow(BEGIN, Restart("x"))


def test_what_would_switch_next_is_told() -> None:
    """By hand."""
    told = [one.next_switch for one in fold(lots("+-+++"))]
    assert told[0] == "Tightened with 2 of 5 lots in a row refused. Reduced from a score of 30, now 0."
    assert told[1].endswith("now 2.")
    assert told[2].startswith("Tightened if one of the next 4 lots is refused.")
    assert told[4].startswith("Tightened if one of the next 2 lots is refused.")
    assert told[5].startswith("Tightened if the next is.")
    tight = fold(lots("--+-"))[-1]
    assert tight.next_switch == "Normal after 5 lots more accepted in a row; stop after 4 lots more refused."
    assert tight.why == "2 of 2 lots in a row were refused."
    assert "someone restarts" in Switching("stopped").next_switch
    assert Switching("reduced").next_switch.startswith("Back to normal")


def test_each_class_for_itself() -> None:
    begun = follow_classes({}, {"major": LotResult(False), "minor": LotResult(True)})
    after = follow_classes(begun, {"major": LotResult(False)})
    assert {name: one.state for name, one in after.items()} == {"major": "tightened", "minor": "normal"}
    assert after["minor"] is begun["minor"]


LOT = st.builds(
    LotResult, st.booleans(), st.sampled_from((0, 1, 3)), st.booleans(), st.sampled_from((True, True, True, False)),
    st.sampled_from((True, True, False)), st.booleans(), st.sampled_from(("", "", "a cause")),
)  # fmt: skip
GOOD = st.builds(LotResult, st.just(True), st.just(3), st.just(True), authority_agrees=st.booleans())


@given(st.lists(st.one_of(LOT, GOOD), max_size=60))
def test_whatever_the_lots(happened: list[LotResult]) -> None:
    stood = fold(happened)
    assert len(stood) == len(happened) + 1
    ways = {(one.state, other.state) for one, other in pairwise(stood) if one.state != other.state}
    # Never from tightened to reduced, never out of a stop, never from reduced to tightened.
    assert ways <= {
        ("normal", "tightened"), ("normal", "reduced"), ("tightened", "normal"), ("tightened", "stopped"),
        ("reduced", "normal"),
    }  # fmt: skip
    for one, lot in zip(stood[1:], happened, strict=True):
        assert one.score == 0 or one.state == "normal"
        assert one.refused < 5
        assert one.accepted_in_a_row < 5
        assert one.recent.count(False) < 2
        assert one.next_switch.endswith(".")
        assert not (lot.original and not lot.accepted and one.state == "reduced")


@given(st.lists(st.one_of(LOT, GOOD), max_size=40), st.integers(0, 40))
def test_a_fold_may_be_cut_anywhere(happened: list[LotResult], cut: int) -> None:
    first = fold(happened[:cut])
    assert first + fold(happened[cut:], first[-1])[1:] == fold(happened)


@given(st.lists(LOT, max_size=40))
def test_a_stop_stays_until_someone_restarts(happened: list[LotResult]) -> None:
    stopped = fold(lots("-------"))[-1]
    assert fold(happened, stopped)[-1] == stopped
    assert fold([*happened, Restart("mended")], stopped)[-1].state == "tightened"
