"""The swept sine: response against known filters, harmonics against a known polynomial."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from discwright.programme.chain_signals import SWEEP_S, THIRDS_HZ, pieces, wave_of
from discwright.programme.chain_sweep import AFTER_S, BEFORE_S, SweepReading, SweepReference

PIECE = next(piece for piece in pieces() if piece.kind == "sweep")
HZ = np.array(THIRDS_HZ)


def swept(rate: int, speed: float = 0.0, shift: float = 0.0) -> np.ndarray:
    """The swept sine as captured: from BEFORE_S before it on, played so fast, so late."""
    count = round((BEFORE_S + SWEEP_S / (1.0 + speed) + AFTER_S) * rate)
    return wave_of(PIECE, (np.arange(count) / rate - BEFORE_S - shift) * (1.0 + speed))


def read(sound: np.ndarray, rate: int, speed: float = 0.0) -> SweepReading:
    found = SweepReference(PIECE, len(sound), BEFORE_S, rate, speed).read(sound)
    assert found is not None
    return found


def decibels(found: SweepReading) -> np.ndarray:
    return 20.0 * np.log10([found.at(f) for f in HZ])


@pytest.mark.parametrize(("rate", "speed"), [(44_100, 0.0), (48_000, 0.003)])
@pytest.mark.parametrize(
    ("order", "band", "kind"),
    [(1, [1.0, 21_000.0], "bandpass"), (3, [12.0, 15_000.0], "bandpass"), (4, [60.0, 3000.0], "bandpass")],
)
def test_the_response_is_that_of_the_filter(rate: int, speed: float, order: int, band: list[float], kind: str) -> None:
    """by another road: the filter's own response, within 0.02 dB wherever it passes more than a thousandth."""
    sections = signal.butter(order, band, kind, fs=rate, output="sos")
    wanted = 20.0 * np.log10(np.abs(signal.sosfreqz(sections, HZ, fs=rate)[1]))
    found = decibels(read(signal.sosfilt(sections, swept(rate, speed)), rate, speed))
    heard = wanted > -60.0
    assert found[heard] == pytest.approx(wanted[heard], abs=0.002)


def test_a_flat_chain_is_flat() -> None:
    """by hand; measured: 0.0002 dB at 20 Hz and less elsewhere."""
    assert decibels(read(0.5 * swept(44_100), 44_100)) == pytest.approx(np.full(len(HZ), -6.0206), abs=3e-4)


def test_harmonics_of_a_polynomial_stand_apart() -> None:
    """by hand: of a·sin through x·c₁ + x²·c₂ + x³·c₃ harmonic 1 is c₁ + ¾c₃a², 2 is c₂a/2 and 3 is c₃a²/4."""
    # At 96 kHz what folds back of the third harmonic stays above 31 kHz.
    rate, peak, (one, two, three) = 96_000, 0.1, (1.0, 0.05, 0.4)
    played = swept(rate)
    found = read(one * played + two * played**2 + three * played**3, rate)
    first = one + 0.75 * three * peak**2
    for frequency in (31.5, 100.0, 1000.0, 5000.0, 6300.0):
        assert found.at(frequency) == pytest.approx(first, rel=2e-6)
        assert found.harmonic(2, frequency) == pytest.approx(0.5 * two * peak / first, rel=1e-4)
        assert found.harmonic(3, frequency) == pytest.approx(0.25 * three * peak**2 / first, rel=1e-4)
    assert found.harmonic(4, 1000.0) == pytest.approx(0.0, abs=1e-8)
    assert found.harmonic(5, 5000.0) is None


def test_lateness_and_polarity() -> None:
    late = read(swept(44_100, shift=0.1), 44_100)
    assert (late.late, late.polarity) == (pytest.approx(0.1, abs=1e-4), 1)
    assert read(-swept(44_100), 44_100).polarity == -1


def test_what_is_no_swept_sine_is_none() -> None:
    reference = SweepReference(PIECE, 21 * 44_100, BEFORE_S, 44_100, 0.0)
    noise = np.random.default_rng(1).standard_normal(21 * 44_100)
    assert reference.read(noise) is None
    assert reference.read(np.zeros(21 * 44_100)) is None
