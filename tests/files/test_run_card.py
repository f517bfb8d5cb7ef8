"""The run card, read back as a person, a rule and a camera would.

Kinds of expected numbers: the page is *published* (ISO 216), the bar and sums are *by hand*, the code is read *by
another road* (a decoder that knows nothing of how it was made).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pdfplumber
import pypdfium2
import pytest
import zxingcpp

from discwright.errors import CallError
from discwright.files import run_card_words as words
from discwright.files.fonts import FOOT, PAGE_MM
from discwright.files.plating_settings import load_plating
from discwright.files.run_card import RunCard, write_run_card
from discwright.files.run_card_words import DEFER, FIELDS, Caution, card_words, duration_words, minute_words, step_words
from discwright.works.metals import METALS
from discwright.works.plating import PlatingRun, Step, face_area, grow
from discwright.works.plating_steps import read_steps

HEAD = "0f1e2d3c4b5a69788796a5b4c3d2e1f0" * 2
LONG = "The very long name of a title, Příliš žluťoučký kůň, 東京の夜の港, Жуки " * 6
TWELVE = "0.3x20,0.5-1x30,1x30,1.5x20,2x20,3x20,4x10,5x10,6x10,8x10,10x30,12"
SETTINGS = load_plating()
Write = Callable[..., Path]


def planned(steps: str = "0.5x30,1x30,10", metal: str = "nickel", target: float = 200e-6) -> PlatingRun:
    return grow(METALS[metal], 0.955, face_area(0.3556), target, read_steps(steps), 0.32)


def card(kind: str = "stamper", steps: str = "0.5x30,1x30,10", metal: str = "nickel", **more: Any) -> RunCard:
    run = planned(steps, metal)
    on = "lacquer" if kind == "master" else "metal"
    plain = RunCard(
        run, card_words(run, kind, on, SETTINGS, least_um=160.0), kind, 0.3556, number="ST1042-0",
        title="Evening on the Quay", catalogue="HRB-0417", side="A", parent="MO1017-4", ledger_head=HEAD,
    )  # fmt: skip
    return replace(plain, **more)


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def go(made: RunCard, name: str = "card.pdf") -> Path:
        write_run_card(tmp_path / name, made)
        return tmp_path / name

    return go


def text(path: Path) -> str:
    with pdfplumber.open(path) as document:
        return "\n".join(page.extract_text() for page in document.pages)


def flat(path: Path) -> str:
    """All letters without spaces: for sentences that may be broken over lines."""
    with pdfplumber.open(path) as document:
        return "".join("".join(c["text"] for c in page.chars) for page in document.pages).replace(" ", "")


def codes(path: Path, turned: int = 0, scale: float = 150 / 72) -> list[list[str]]:
    """What a camera reads on each page."""
    document = pypdfium2.PdfDocument(path)
    try:
        images = [document[k].render(scale=scale, rotation=turned).to_pil() for k in range(len(document))]
    finally:
        document.close()
    return [[code.text for code in zxingcpp.read_barcodes(image)] for image in images]


# what stands on it ------------------------------------------------------------------------------------


def test_the_words_can_be_read_back(write: Write) -> None:
    said = text(write(card(title="Přístav za soumraku, 東京の夜, Жуки", catalogue="HRB-0417-Ž")))
    for one in (
        "Run card: stamper", "ST1042-0", "Přístav za soumraku, 東京の夜, Жуки", "HRB-0417-Ž", "MO1017-4", HEAD,
        "page 1 of",
        "nickel", "355.6 mm", "9.93 dm²", "200 µm", "95.5 %", "2 h 38 min", "169.2 Ah", "99.3 A", "168.0 µm", "176.9 g",
    ):  # fmt: skip
        assert one in said, one


def test_each_step_has_its_current_time_charge_and_temperature(write: Write) -> None:
    """By hand: 9.931 dm² at 0.5, 1 and 10 A/dm²; 2.483 and 7.449 Ah after half an hour each."""
    said = text(write(card()))
    rows = ("1 0.5 5.0 30 2.5 2.9 40–50", "2 1 9.9 30 7.4 8.8 40–50", "3 10 99.3 98 169.2 200.0 40–50")
    for row in rows:
        assert row in said, row


def test_the_first_layer_on_a_lacquer_is_cool() -> None:
    run = planned("0.5x30,1x30,2x30,10")
    on_lacquer = card_words(run, "master", "lacquer", SETTINGS, 45.0)
    # By hand: 2.9 µm after the first step, 8.8 after the second: both begin below 7.5 µm.
    assert on_lacquer.temperatures == ("20–35", "20–35", "45", "45")
    assert card_words(run, "stamper", "metal", SETTINGS).temperatures == ("40–50",) * 4


def test_a_step_that_rises_shows_both_ends(write: Write) -> None:
    said = text(write(card(steps="0.5-2x30,10")))
    assert "1 0.5 to 2 5.0 to 19.9 30" in said


def test_a_step_cut_short_shows_where_it_ends(write: Write) -> None:
    run = grow(METALS["nickel"], 0.955, face_area(0.3556), 5e-6, read_steps("0-10x60,10"))
    short = card(run=run, words=card_words(run, "stamper", "metal", SETTINGS))
    # By hand: 5 µm are 0.4259 Ah/dm², reached at the root of 2 · 10/h · 0.4259 A/dm².
    end = math.sqrt(2 * 10 * 0.4259)
    assert f"0 to {end:.3f}" in text(write(short))


def test_every_field_and_task_is_there(write: Write) -> None:
    for kind in ("master", "mother", "stamper"):
        made = card(kind)
        said = flat(write(made, f"{kind}.pdf"))
        for task in (*made.words.prepare, *made.words.finish):
            assert task.words.replace(" ", "") in said, task.words
            assert task.check.replace(" ", "") in said, task.check
        for one in (*FIELDS, *made.words.checks, DEFER):
            assert one.replace(" ", "") in said, one


def test_every_character_of_the_cautions_is_there(write: Write) -> None:
    for kind in ("master", "stamper"):
        made = card(kind)
        said = flat(write(made, f"{kind}.pdf"))
        for one in (*made.words.before, *made.words.during, *made.words.after):
            assert f"{one.about}{one.words}Lookup:{one.rule}.".replace(" ", "") in said, one.about


def test_each_kind_has_the_cautions_that_are_due() -> None:
    """By hand, from the list of dangers for each step."""

    def due(kind: str, on: str, metal: str = "nickel") -> set[Caution]:
        said = card_words(planned(metal=metal), kind, on, SETTINGS)
        return {*said.before, *said.during, *said.after}

    always = {words.ACID, words.RECTIFIER, words.DRAINS, words.EDGES}
    lacquer = {words.SWARF, words.SILVERING, words.SILVER_SALTS}
    assert due("master", "lacquer") == always | lacquer | {words.NICKEL_BATH}
    assert due("mother", "metal") == always | {words.PASSIVATION, words.NICKEL_BATH}
    assert due("stamper", "metal") == always | {words.PASSIVATION, words.NICKEL_BATH, words.SANDING}
    assert due("master", "lacquer", "copper") == always | lacquer
    every = [one for one in vars(words).values() if isinstance(one, Caution)]
    assert len(every) == 10
    assert all(len(one.rule) > 5 for one in every)


def test_passivation_comes_before_the_bath_on_metal_and_silver_on_lacquer() -> None:
    metal = " ".join(task.words for task in card("stamper").words.prepare)
    lacquer = " ".join(task.words for task in card("master").words.prepare)
    assert "Passivate" in metal
    assert "Passivate" not in lacquer
    order = [lacquer.index(word) for word in ("Wash", "Sensitise", "Spray silver", "straight into the bath")]
    assert order == sorted(order)
    assert "0.10 g of silver" in card("master").words.prepare[3].check


def test_a_target_that_is_missed_is_told(write: Write) -> None:
    assert "The steps end before the target is reached." in text(write(card(steps="10x20")))
    assert "before the target" not in text(write(card(), "good.pdf"))


def test_the_code_holds_the_number_alone(write: Write) -> None:
    path = write(card())
    assert codes(path) == [["ST1042-0"]]
    assert codes(path, turned=90) == [["ST1042-0"]]
    assert codes(write(card(number="Ž-東-17"), "b.pdf")) == [["Ž-東-17"]]


def test_the_code_is_on_the_first_page_and_large_enough(write: Write) -> None:
    path = write(card(steps=TWELVE))
    assert codes(path) == [["ST1042-0"], []]
    assert codes(path, scale=72 / 72)[0] == ["ST1042-0"]  # a poor camera: 72 pixels to an inch


def test_a_card_without_number_and_ledger(write: Write) -> None:
    path = write(card(number="", ledger_head="", title="", parent=""))
    assert codes(path) == [[]]
    said = text(path)
    assert "no number yet" in said
    assert "This card is from no ledger." in said


# the page ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("steps", "pages"), [("10", 1), ("0.5x30,1x30,10", 1), (TWELVE, 2), (",".join(["0.2x9"] * 39) + ",10", 3)]
)
@pytest.mark.parametrize("title", ["Quay", LONG], ids=["short", "long"])
def test_nothing_leaves_the_page_or_lies_on_something_else(steps: str, pages: int, title: str, write: Write) -> None:
    made = card(steps=steps, title=title, catalogue=title, side="AA", parent="MO123456789-4", number="ST123456789-7")
    path = write(made)
    with pdfplumber.open(path) as document:
        assert len(document.pages) == pages
        for page in document.pages:
            # Published: A4 is 210 × 297 mm.
            assert (float(page.width) / 72 * 25.4, float(page.height) / 72 * 25.4) == pytest.approx(PAGE_MM, abs=0.01)
            assert min(c["x0"] for c in page.chars) >= 13.9 / 25.4 * 72
            assert max(c["x1"] for c in page.chars) <= 196.2 / 25.4 * 72
            assert max(c["bottom"] for c in page.chars) <= 292.0 / 25.4 * 72
            body = [w for w in page.extract_words(use_text_flow=False) if w["bottom"] < FOOT / 25.4 * 72]
            assert overlaps(body) == []
        said = "\n".join(page.extract_text() for page in document.pages)
    assert all(f"\n{k} " in said for k in range(1, len(made.run.steps) + 1))
    assert said.count("In the bath") >= 2  # the time's name among the numbers, and the section


def overlaps(found: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """Words whose boxes cover one another by more than a hair, pt."""
    return [
        (one["text"], other["text"])
        for n, one in enumerate(found)
        for other in found[n + 1 :]
        if min(one["x1"], other["x1"]) - max(one["x0"], other["x0"]) > 0.6
        and min(one["bottom"], other["bottom"]) - max(one["top"], other["top"]) > 2.2
    ]


def test_the_search_for_overlaps_can_fail() -> None:
    box = {"text": "a", "x0": 0.0, "x1": 10.0, "top": 0.0, "bottom": 10.0}
    assert overlaps([box, box | {"text": "b", "x0": 9.0, "x1": 20.0, "top": 5.0, "bottom": 15.0}]) == [("a", "b")]


def test_the_bar_is_fifty_millimetres(write: Write) -> None:
    with pdfplumber.open(write(card())) as document:
        lines = [line for line in document.pages[0].lines if line["top"] / 72 * 25.4 > 285.0]
        assert max(line["width"] for line in lines) / 72 * 25.4 == pytest.approx(50.0, abs=0.01)


def test_every_row_has_a_box_for_initials(write: Write) -> None:
    made = card()
    with pdfplumber.open(write(made)) as document:
        boxes = [r for page in document.pages for r in page.rects if abs(r["width"] / 72 * 25.4 - 18.0) < 0.01]
    assert len(boxes) == len(made.words.prepare) + len(made.run.steps) + len(made.words.finish)


def test_the_same_card_gives_the_same_bytes(write: Write) -> None:
    assert write(card(), "a.pdf").read_bytes() == write(card(), "b.pdf").read_bytes()
    assert sorted(path.name for path in write(card(), "c.pdf").parent.iterdir()) == ["a.pdf", "b.pdf", "c.pdf"]


# refusals and words -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"number": "x" * 41}, "is no number for a card; give at most 40 characters that can be seen."),
        ({"number": "ST\n1"}, "is no number for a card; give at most 40 characters that can be seen."),
        (
            {"ledger_head": "abc"},
            "“abc” is no hash of a ledger: it has 64 hexadecimal digits; take it from the ledger.",
        ),
    ],
)
def test_what_cannot_be_printed(more: dict[str, str], words: str, write: Write, tmp_path: Path) -> None:
    with pytest.raises(CallError) as refusal:
        write(card(**more))
    assert str(refusal.value).endswith(words)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(30.0, "0.5 min"), (599.0, "10.0 min"), (1800.0, "30 min"), (3600.0, "1 h 00 min"), (9463.0, "2 h 38 min")],
)
def test_times_in_words(seconds: float, said: str) -> None:
    assert duration_words(seconds) == said


def test_minutes_in_a_table() -> None:
    assert [minute_words(60 * x) for x in (0.5, 2.0, 9.94, 9.96, 97.7)] == ["0.5", "2", "9.9", "10", "98"]


def test_current_in_words() -> None:
    assert step_words(Step(50.0, 50.0, None)) == "0.5"
    assert step_words(Step(50.0, 200.0, 60.0)) == "0.5 to 2"
    assert step_words(Step(50.0, 200.0, 60.0), 125.0) == "0.5 to 1.25"
