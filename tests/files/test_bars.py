"""Bars of GS1-128: modules of whole printer dots, and a symbol as long as the code's own rules make it."""

from __future__ import annotations

from itertools import pairwise

import pytest

from discwright.errors import CallError
from discwright.files.bars import QUIET, module_dots, modules, stripes

ELEMENTS = "00376104250021234569"


@pytest.mark.parametrize(("dpi", "dots"), [(203, 4), (300, 6), (600, 12), (150, 3), (305, 6)])
def test_modules_are_whole_dots(dpi: int, dots: int) -> None:
    """By hand: the fewest dots that are 0.495 mm; 4 dots at 203 to the inch are 0.5005 mm, 6 at 300 are 0.508."""
    assert module_dots(dpi, 0.495, 0.94) == dots
    assert 0.495 <= dots * 25.4 / dpi <= 0.94


def test_printers_that_do_not_do() -> None:
    for dpi in (0, 99, 2401):
        with pytest.raises(CallError) as refusal:
            module_dots(dpi, 0.495, 0.94)
        assert str(refusal.value) == (
            f"a printer of {dpi} dots to the inch is none; give 100 to 2400, mostly 203 or 300."
        )  # fmt: skip
    with pytest.raises(CallError) as refusal:
        module_dots(203, 0.51, 0.52)
    assert str(refusal.value) == (
        "a printer of 203 dots to the inch has no module from 0.51 to 0.52 mm; take a finer one."
    )  # fmt: skip


def test_a_symbol_by_the_rules_of_the_code() -> None:
    """By hand: start, FNC1, ten pairs and check of 11 modules each, stop of 13; each of 3 bars, the stop of 4."""
    assert modules(ELEMENTS) == 13 * 11 + 13
    found = stripes(ELEMENTS)
    assert len(found) == 13 * 3 + 4
    # Published (ISO/IEC 15417): start C is 211232, FNC1 411131, the pair 00 212222.
    assert found[:9] == (
        (0, 2), (3, 1), (6, 3), (11, 4), (16, 1), (18, 3), (22, 2), (25, 2), (29, 2),
    )  # fmt: skip
    assert all(1 <= wide <= 4 for _, wide in found)
    assert all(a + wide < b for (a, wide), (b, _) in pairwise(found))
    assert (modules(ELEMENTS) + 2 * QUIET) * 4 * 25.4 / 203 == pytest.approx(88.09, abs=0.01)
