"""Steps of current as text. Everything expected is *by hand*."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.errors import CallError
from discwright.works.plating import Step
from discwright.works.plating_steps import read_steps, steps_text

THREE = (Step(50.0, 50.0, 1800.0), Step(100.0, 100.0, 1800.0), Step(1000.0, 1000.0, None))


@pytest.mark.parametrize(
    "text",
    [
        "0.5x30,1x30,10",
        " 0.5 x 30 , 1X30, 10 ",
        "0.5×30,1×30,10",
        "0.5x30;1x30;10",
        "0,5x30;1x30;10",
        "0,5x30; 1,0x30; 10;",
        "0.50x30.0,1x30,10.0",
    ],
)
def test_the_same_three_steps(text: str) -> None:
    assert read_steps(text) == THREE


def test_ramps_and_single_steps() -> None:
    assert read_steps("0.5-2x30,10") == (Step(50.0, 200.0, 1800.0), THREE[2])
    assert read_steps("0–2x30") == (Step(0.0, 200.0, 1800.0),)
    assert read_steps("0,5x30,5;") == (Step(50.0, 50.0, 1830.0),)
    assert read_steps("10") == THREE[2:]


FORM = "write A/dm² x minutes, such as 0.5x30, or 0.5-2x30 for a current that rises."
MIDDLE = "has no minutes, and only the last step may lack them;"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("0,5x30", f"step 1: “0” {MIDDLE} for decimal commas put semicolons between them: 0,5x30; 1x30; 10."),
        ("0,5x30,1x30,10", f"step 1: “0” {MIDDLE} for decimal commas put semicolons between them: 0,5x30; 1x30; 10."),
        ("1x30,2,5", f"step 2: “2” {MIDDLE} for decimal commas put semicolons between them: 0,5x30; 1x30; 10."),
        ("1;2x30", f"step 1: “1” {MIDDLE} add them."),
        ("", f"step 1 is empty; {FORM}"),
        ("1x30,,10", f"step 2 is empty; {FORM}"),
        ("1x30,", f"step 2 is empty; {FORM}"),
        (";", f"step 1 is empty; {FORM}"),
        ("-1x30", f"step 1: “-1x30” cannot be read; {FORM}"),
        ("1x-30", f"step 1: “1x-30” cannot be read; {FORM}"),
        ("nan", f"step 1: “nan” cannot be read; {FORM}"),
        ("infx30", f"step 1: “infx30” cannot be read; {FORM}"),
        ("1e3x30", f"step 1: “1e3x30” cannot be read; {FORM}"),
        ("1x30x2", f"step 1: “1x30x2” cannot be read; {FORM}"),
        ("x30", f"step 1: “x30” cannot be read; {FORM}"),
        ("0x30", "step 1: without current nothing grows; give more than 0 A/dm²."),
        ("1x0", "step 1: 0 minutes is no time for a step; give more than 0 and at most 20160."),
        ("1-2", "step 1: a current that changes needs minutes to do so; write for example 0.5-2x30."),
        ("200x30", "step 1: 200 A/dm² is no plating current; give more than 0 and at most 100."),
        ("1,234x30;", "step 1: “1,234” could mean a thousand or a decimal; write 1234 or 1.234."),
    ],
)
def test_text_that_is_no_steps(text: str, sentence: str) -> None:
    with pytest.raises(CallError) as refusal:
        read_steps(text)
    assert str(refusal.value) == sentence


def test_a_number_without_end() -> None:
    with pytest.raises(CallError, match="is no plating current"):
        read_steps("9" * 400 + "x30")


hundredths = st.integers(1, 10_000).map(lambda n: n / 100)
steps = st.builds(lambda a, b, t: (a, b, t), hundredths, hundredths, hundredths)


@given(st.lists(steps, min_size=1, max_size=6), st.booleans())
def test_there_and_back(numbers: list[tuple[float, float, float]], open_end: bool) -> None:
    made = [Step(a * 100.0, b * 100.0, t * 60.0) for a, b, t in numbers]
    if open_end:
        made[-1] = Step(made[-1].first, made[-1].first, None)
    again = read_steps(steps_text(made))
    assert [one.seconds is None for one in again] == [one.seconds is None for one in made]
    for one, other in zip(again, made, strict=True):
        assert (one.first, one.last, one.seconds or 0.0) == pytest.approx(
            (other.first, other.last, other.seconds or 0.0)
        )


def test_as_they_are_printed() -> None:
    assert steps_text(THREE) == "0.5x30,1x30,10"
    assert steps_text([Step(50.0, 200.0, 90.0)]) == "0.5-2x1.5"
