"""Two tones through a known polynomial: the products are known exactly."""

from __future__ import annotations

import numpy as np
import pytest

from discwright.programme.chain_pairs import is_pair, kind_of, read_pair

RATE = 96_000
TIME = np.arange(round(2.8 * RATE)) / RATE


def test_modulation_products_of_a_square_law() -> None:
    """by hand: through x + c·x² each side line is c·a₁·a₂, so their sum over a₂ is 2·c·a₁: 0.5 % here."""
    low, high = 0.25, 0.0625
    played = low * np.sin(2 * np.pi * 60 * TIME) + high * np.sin(2 * np.pi * 7000 * TIME)
    found = read_pair(played + 0.01 * played**2, RATE, (60.0, 7000.0))
    assert found is not None
    assert found.kind == "modulation"
    assert (found.second, found.third) == (pytest.approx(2 * 0.01 * low, rel=1e-9), pytest.approx(0.0, abs=1e-9))
    assert found.total == pytest.approx(0.005)
    assert (found.low, found.high) == (pytest.approx(60.0), pytest.approx(7000.0))
    assert found.level_dbfs == pytest.approx(20 * np.log10(low + high))


def test_modulation_products_of_a_cubic_law() -> None:
    """by hand: through x + c·x³ the lines at f₂ ± 2f₁ are ¾·c·a₁²·a₂ each, the high tone a₂(1 + c(¾a₂² + 1½a₁²))."""
    low, high, cubic = 0.25, 0.0625, 0.05
    played = low * np.sin(2 * np.pi * 60 * TIME) + high * np.sin(2 * np.pi * 7000 * TIME)
    found = read_pair(played + cubic * played**3, RATE, (60.0, 7000.0))
    assert found is not None
    wanted = 1.5 * cubic * low**2 / (1.0 + cubic * (0.75 * high**2 + 1.5 * low**2))
    assert (found.second, found.third) == (pytest.approx(0.0, abs=1e-9), pytest.approx(wanted, rel=1e-9))


def test_difference_products() -> None:
    """by hand: c₂·a² at the difference, ¾·c₃·a³ at either side, over 2·a(1 + c₃·2¼·a²)."""
    peak, square, cubic = 0.05, 0.1, 0.3
    played = peak * (np.sin(2 * np.pi * 19_000 * TIME) + np.sin(2 * np.pi * 20_000 * TIME))
    found = read_pair(played + square * played**2 + cubic * played**3, RATE, (20_000.0, 19_000.0))
    assert found is not None
    both = 2.0 * peak * (1.0 + cubic * 2.25 * peak**2)
    assert found.kind == "difference"
    assert found.second == pytest.approx(square * peak**2 / both, rel=1e-9)
    assert found.third == pytest.approx(2.0 * 0.75 * cubic * peak**3 / both, rel=1e-9)


def test_products_beyond_half_the_rate_are_left_out() -> None:
    rate = 44_100
    time = np.arange(2 * rate) / rate
    played = 0.1 * (np.sin(2 * np.pi * 20_000 * time) + np.sin(2 * np.pi * 21_900 * time))
    found = read_pair(played, rate, (20_000.0, 21_900.0))
    assert found is not None
    assert found.total == pytest.approx(0.0, abs=1e-9)


def test_one_tone_is_no_pair() -> None:
    assert read_pair(0.1 * np.sin(2 * np.pi * 60 * TIME), RATE, (60.0, 7000.0)) is None


def test_which_two_tones_make_which_signal() -> None:
    assert kind_of(7000.0, 60.0) == "modulation"
    assert kind_of(250.0, 8000.0) == "modulation"
    assert kind_of(19_000.0, 20_000.0) == "difference"
    assert kind_of(1000.0, 3000.0) is None
    assert is_pair(0.25, (7000.0, 0.25), 60.0)
    assert not is_pair(0.25, (7000.0, 0.1), 60.0), "much else besides"
    assert not is_pair(0.01, (7000.0, 0.01), 60.0), "a weak line is distortion"
