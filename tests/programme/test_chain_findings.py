"""Findings of a chain: each limit met and missed, and what is no fault of the chain."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from discwright.files.chain_settings import load_chain
from discwright.programme.chain_findings import chain_findings
from discwright.programme.chain_noise import HumLine, NoiseReading
from discwright.programme.chain_pairs import PairReading
from discwright.programme.chain_report import ChainReport, Pair, ResponseRow, Tone, Wiring
from discwright.programme.chain_tones import ToneReading

LIMITS = load_chain()
QUIET = NoiseReading(-100.0, None, ())


def reading(frequency: float = 1000.0, harmonics: tuple[float, ...] = (), floor: float = 0.0) -> ToneReading:
    return ToneReading(frequency, 0.1, 0.0, harmonics, 0.0, floor, 0.0, 0.0, (0.0, 0.0))


def tone(left: ToneReading | None, right: ToneReading | None = None, **more: object) -> Tone:
    return Tone(3.0, 1.0, None, None, "both", left, right, **more)  # type: ignore[arg-type]


def report(**changes: object) -> ChainReport:
    whole = ChainReport(
        what="tones", length=10.0, sample_rate_hz=48_000, channels=2, start=None, speed=None, found=0, asked=0,
        gain_db=(None, None), tones=(tone(reading(), reading()),), response=(), response_from=None,
        curve_hz=np.zeros(0), curve_db=np.zeros((2, 0)), harmonics=(), pairs=(), balance_db=None, noise=(QUIET, QUIET),
        wiring=Wiring(), full_scale=(0, 0),
    )  # fmt: skip
    return replace(whole, **changes)  # type: ignore[arg-type]


def codes(of: ChainReport) -> dict[str, str]:
    return {one.code: one.severity for one in chain_findings(of, LIMITS)}


def test_a_good_chain_has_nothing_to_say() -> None:
    assert codes(report()) == {}


def test_crossed_and_opposed_channels_are_stops_and_both_reversed_a_note() -> None:
    assert codes(report(wiring=Wiring(False, True, True, True))) == {"chain_opposed": "stop", "chain_swapped": "stop"}
    assert codes(report(wiring=Wiring(True, True, False, False))) == {"chain_polarity": "note"}


def test_distortion_names_the_worst_tone_and_its_channel() -> None:
    bad = tone(reading(harmonics=(0.001, 0.003)), reading(200.0, (0.0, 0.01)))
    (found,) = chain_findings(report(tones=(bad, tone(reading()))), LIMITS)
    assert (found.code, found.severity, found.time_s) == ("chain_distortion", "warn", 3.0)
    assert (found.value, found.limit, found.unit) == (pytest.approx(1.0), 0.2, "%")
    assert "in the right channel, most of it harmonic 3; 1 of 2 tones exceed the limit." in found.remedy
    assert codes(report(tones=(tone(reading(harmonics=(0.0019,))),))) == {}, "below 0.2 %"


def test_noise_on_the_harmonics_is_no_distortion() -> None:
    drowned = reading(harmonics=(0.004,) * 9, floor=0.012)
    assert codes(report(tones=(tone(drowned),))) == {}
    (found,) = chain_findings(report(tones=(tone(reading(harmonics=(0.03, 0.0), floor=0.01)),)), LIMITS)
    assert found.value == pytest.approx(100.0 * np.sqrt(0.03**2 - 0.01**2))


def test_hum_that_lies_on_a_harmonic_is_no_distortion() -> None:
    """A tone of 25 Hz has its second harmonic at 50 Hz; there hum of the same size stands in the pause, too."""
    hum = NoiseReading(-60.0, 50.0, (HumLine(1, 50.02, -60.0),))
    soft = reading(25.0, (0.01, 0.0))
    assert codes(report(tones=(tone(soft),), noise=(hum, QUIET))) == {"chain_hum": "warn", "chain_noise": "warn"}
    assert "chain_distortion" in codes(report(tones=(tone(reading(25.0, (0.03, 0.0))),), noise=(hum, QUIET)))
    assert "chain_distortion" in codes(report(tones=(tone(None, soft),), noise=(hum, QUIET))), "not in that channel"


@pytest.mark.parametrize(
    ("kind", "total", "warned"),
    [("modulation", 0.006, True), ("modulation", 0.004, False), ("difference", 0.003, True)],
)
def test_pairs(kind: str, total: float, warned: bool) -> None:
    one = PairReading(kind, 60.0, 7000.0, -10.0, total, 0.0)  # type: ignore[arg-type]
    assert codes(report(pairs=(Pair(1.0, one, None),))) == ({"chain_intermodulation": "warn"} if warned else {})


def test_response_is_held_against_the_band_it_lies_in() -> None:
    """by hand: 1 dB below 40 Hz and above 16 kHz, 0.5 dB between."""
    rows = (ResponseRow(25.0, -0.9, -0.9), ResponseRow(1000.0, 0.0, 0.0), ResponseRow(5000.0, 0.4, -0.6))
    (found,) = chain_findings(report(response=rows), LIMITS)
    assert (found.code, found.value, found.limit) == ("chain_response", pytest.approx(-0.6), -0.5)
    assert "5 kHz comes back 0.60 dB below 1 kHz in the right channel" in found.remedy
    curve = np.array([[0.0, 0.0, 1.2], [np.nan, np.nan, np.nan]])
    (found,) = chain_findings(report(curve_hz=np.array([30.0, 1000.0, 19_000.0]), curve_db=curve), LIMITS)
    assert (found.value, found.limit) == (pytest.approx(1.2), 1.0)


def test_separation_is_held_against_the_frequency() -> None:
    good, bad = (tone(reading(f), leak=0.1 * 10 ** (-db / 20)) for f, db in ((31.5, 45.0), (1000.0, 45.0)))
    assert codes(report(tones=(good,))) == {}
    (found,) = chain_findings(report(tones=(good, bad)), LIMITS)
    assert (found.code, found.value, found.limit) == ("chain_separation", pytest.approx(45.0), 50.0)


@pytest.mark.parametrize(
    ("changes", "wanted"),
    [
        ({"balance_db": -0.3}, {"chain_balance": "warn"}),
        ({"balance_db": 0.1}, {}),
        ({"noise": (NoiseReading(-60.0, None, ()), QUIET)}, {"chain_noise": "warn"}),
        ({"noise": (NoiseReading(None, None, ()), NoiseReading(None, None, ()))}, {}),
        ({"noise": (NoiseReading(-79.0, 60.0, (HumLine(2, 120.0, -79.5),)), QUIET)}, {"chain_hum": "warn"}),
        ({"speed": 0.002}, {"chain_speed": "warn"}),
        ({"speed": -0.0005}, {}),
        ({"full_scale": (0, 4)}, {"chain_full_scale": "warn"}),
        ({"channels": 1}, {"chain_mono": "note"}),
        ({"what": "signals", "found": 100, "asked": 125}, {"chain_incomplete": "note"}),
        ({"tones": (tone(reading()),) * 3}, {"chain_one_channel": "warn"}),
    ],
)
def test_everything_else_is_said_once(changes: dict[str, object], wanted: dict[str, str]) -> None:
    assert codes(report(**changes)) == wanted
