"""Words of defects: all of the reference's table, their classes, and words that are not there. *Common practice*."""

from __future__ import annotations

import pytest

from discwright.errors import CallError
from discwright.works.defect_classes import CLASSES, WORDS, class_named, class_of, word_named, worse

SEEN = dict.fromkeys(WORDS, "minor") | {"jump": "critical", "label-wrong-side": "critical"}
HEARD = {"pit": "major"}


def test_the_words_of_the_reference_are_there() -> None:
    assert set(WORDS) == {
        "non-fill", "stitching", "pit", "bump", "scratch-repeated", "scratch", "tick", "grain", "stain", "off-centre",
        "dish-warp", "edge-warp", "jump", "locked-groove", "hole-tight", "hole-loose", "flash", "ragged-edge",
        "label-off-register", "label-creased", "label-blister", "label-wrong-side", "label-wrong-way-up",
        "wrong-sleeve", "wrong-number",
    }  # fmt: skip


def test_every_word_is_told_and_has_letters_of_its_own() -> None:
    marks = [one.mark for one in WORDS.values()]
    assert len(set(marks)) == len(marks)
    assert all(one.isalpha() and one.isupper() and len(one) <= 2 for one in marks)
    assert all(one.seen and one.heard and one.origin for one in WORDS.values())


def test_a_class_by_what_was_heard() -> None:
    assert [class_of("pit", SEEN, HEARD, one) for one in ("seen", "heard", "jumps")] == ["minor", "major", "critical"]
    assert class_of("stain", SEEN, HEARD, "heard") == "minor"


def test_a_house_that_thinks_little_of_jumps() -> None:
    """What jumps is of the class of a jump, but never of a better one than when it is heard."""
    assert class_of("pit", SEEN | {"jump": "minor"}, HEARD, "jumps") == "major"


def test_the_worse_of_two() -> None:
    assert [worse(one, other) for one in CLASSES for other in CLASSES] == [
        "critical", "critical", "critical", "critical", "major", "major", "critical", "major", "minor",
    ]  # fmt: skip


def test_words_that_are_not_there() -> None:
    for word, sentence in (
        ("scrach", "there is no defect “scrach”; write scratch."),
        ("Pit", "there is no defect “Pit”; write pit."),
        ("x" * 50, f"there is no defect “{'x' * 40}”; choose from non-fill, "),
    ):
        with pytest.raises(CallError) as refusal:
            word_named(word)
        assert str(refusal.value).startswith(sentence)
    with pytest.raises(CallError, match="there is no defect class “bad”; choose from critical, major, minor"):
        class_named("bad")
    with pytest.raises(CallError, match="a defect cannot be “loud”; choose from seen, heard, jumps"):
        class_of("pit", SEEN, HEARD, "loud")  # type: ignore[arg-type]
