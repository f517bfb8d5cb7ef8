"""Type on labels: as large as fits, never outside its place, told where it is cut. *By hand* but where it says so."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discwright.files.fonts import MM, text_width
from discwright.files.label_type import LEADING, LEAST_PT, fit_block, lacks_letters, runs_backwards

WIDTH, HEIGHT = 95.0 * MM, 53.0 * MM
WORDS = st.text("abc děž 東 Ж -", min_size=1, max_size=60).filter(str.strip)


@settings(deadline=None)
@given(st.lists(WORDS, min_size=1, max_size=7))
def test_lines_fit_their_place(lines: list[str]) -> None:
    """By another road: every line measured as a whole."""
    block = fit_block(lines, WIDTH, HEIGHT, 27.0, 2)
    assert LEAST_PT <= block.size <= 27.0
    assert len(block.lines) * LEADING * block.size <= HEIGHT + 1e-6
    assert all(text_width(line, block.size, True) <= WIDTH * 1.001 for line in block.lines)
    if not block.cut:
        assert "".join("".join(block.lines).split()) == "".join("".join(lines).split())


def test_short_lines_are_as_large_as_wanted() -> None:
    assert fit_block(["Quay 7", "NORWAY"], WIDTH, HEIGHT, 27.0, 1).size == 27.0


def test_a_long_name_is_broken_where_that_makes_it_larger() -> None:
    block = fit_block(["Přístav hudby, příspěvková organizace", "170 00 Praha", "CZECHIA"], WIDTH, HEIGHT, 27.0, 2)
    assert block.lines == ("Přístav hudby,", "příspěvková", "organizace", "170 00 Praha", "CZECHIA")
    assert block.size > 20.0


def test_town_and_country_are_not_broken() -> None:
    town = "1234567 A very long town indeed on the river"
    block = fit_block(["A", town, "CZECHIA"], WIDTH, HEIGHT, 27.0, 2)
    assert town in block.lines


def test_script_without_spaces_is_broken_between_letters_only_when_small() -> None:
    assert len(fit_block(["東" * 20], WIDTH, HEIGHT, 27.0, 0).lines) == 1
    assert len(fit_block(["東" * 120], WIDTH, HEIGHT, 27.0, 0).lines) > 1


def test_a_long_address_is_small_before_it_is_cut() -> None:
    block = fit_block(["word " * 24] * 7, WIDTH, HEIGHT, 27.0, 3)
    assert LEAST_PT <= block.size < 9.0
    assert not block.cut


def test_what_no_label_holds_is_cut_and_told() -> None:
    block = fit_block(["word " * 40] * 30, WIDTH, 20.0 * MM, 27.0, 0)
    assert block.cut
    assert block.size == LEAST_PT
    assert fit_block(["Quay"], WIDTH, HEIGHT, 27.0, 0).cut is False


@pytest.mark.parametrize(
    ("text", "backwards", "lacks"),
    [
        ("Quay", False, False), ("Žluť", False, False), ("東京", False, False), ("שלום", True, False),
        ("سلام", True, False), ("Σ", False, False), ("\U0001f3b5", False, True), ("서울", False, True),
        ("", False, False),
    ],
)  # fmt: skip
def test_scripts_that_need_a_word(text: str, backwards: bool, lacks: bool) -> None:
    assert runs_backwards(text) is backwards
    assert lacks_letters(text) is lacks
