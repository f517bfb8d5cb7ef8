"""The picture of a chain: what was measured can be found in its pixels."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from discwright.errors import CallError
from discwright.files.chain_picture import draw_chain
from discwright.files.chain_settings import load_chain
from discwright.programme.chain_report import ChainReport, HarmonicRow, Tone, Wiring
from discwright.programme.chain_tones import ToneReading

LIMITS = load_chain()
HZ = np.geomspace(20.0, 20_000.0, 60)


def tone(frequency: float, thd: float, level: float) -> Tone:
    reading = ToneReading(frequency, 10 ** (level / 20), 0.0, (thd,), thd, 0.0, 0.0, 0.0, (0.0, 0.0))
    return Tone(0.0, 1.0, frequency, level, "both", reading, reading)


def report(left_db: float = 0.0, right_db: float = 0.0, thd: float = 0.001) -> ChainReport:
    return ChainReport(
        what="signals", length=10.0, sample_rate_hz=48_000, channels=2, start=0.0, speed=0.0, found=1, asked=1,
        gain_db=(0.0, 0.0), tones=(*(tone(f, thd, -20.0) for f in (50.0, 500.0, 5000.0)), tone(1000.0, 0.1, -1.0)),
        response=(), response_from="sweep", curve_hz=HZ, curve_db=np.array([[left_db] * 60, [right_db] * 60]),
        harmonics=tuple(HarmonicRow(float(f), (1e-4, None), (2e-4, 1e-5)) for f in HZ[::6]), pairs=(), balance_db=0.0,
        noise=None, wiring=Wiring(), full_scale=(0, 0),
    )  # fmt: skip


def inked(path: Path, colour: tuple[int, int, int]) -> np.ndarray:
    """Rows in which a colour stands, right of the axis and left of the names."""
    with Image.open(path) as image:
        pixels = np.asarray(image.convert("RGB")).astype(int)[:, 200:2100]
    return np.flatnonzero((np.abs(pixels - colour).sum(axis=2) < 12).any(axis=1))


def test_a_flat_response_stands_in_the_middle_and_a_bent_one_below(tmp_path: Path) -> None:
    """by hand: the panel reaches from 200 to 880, ±2 dB: 0 dB stands at 540, −1 dB at 710."""
    path = tmp_path / "chain.png"
    draw_chain(path, [("capture.wav", report(0.0, -1.0))], limits=LIMITS)
    with Image.open(path) as image:
        assert image.size == (2400, 1720)
    left, right = inked(path, (40, 38, 34)), inked(path, (190, 76, 40))
    assert np.abs(left[left < 900] - 540).min() <= 2
    assert np.abs(right[right < 900] - 710).min() <= 2
    assert not list(tmp_path.glob(".*"))


def test_distortion_is_drawn_by_decades(tmp_path: Path) -> None:
    """by hand: the panel reaches from 1000 (100 %) to 1610 (0.0001 %), so 0.1 % stands at 1305."""
    path = tmp_path / "chain.png"
    draw_chain(path, [("capture.wav", report(thd=0.001))], limits=LIMITS)
    rows = inked(path, (40, 38, 34))
    assert np.abs(rows[rows > 1000] - 1305).min() <= 2


def test_two_captures_and_more_are_drawn_and_a_long_name_is_cut(tmp_path: Path) -> None:
    path = tmp_path / "chain.png"
    names = [("a" * 300, report()), ("b\nc", report(0.5, 0.5)), ("third", report())]
    draw_chain(path, names, limits=LIMITS)
    assert len(inked(path, (48, 92, 140)))


def test_tones_alone_are_enough_and_nothing_is_not(tmp_path: Path) -> None:
    bare = replace(report(), curve_hz=np.zeros(0), curve_db=np.zeros((2, 0)), harmonics=())
    draw_chain(tmp_path / "tones.png", [("tones.wav", bare)], limits=LIMITS)
    with pytest.raises(CallError, match="neither response nor tone to draw; leave out the picture"):
        draw_chain(tmp_path / "none.png", [("quiet.wav", replace(bare, tones=()))], limits=LIMITS)
    with pytest.raises(CallError, match="cannot be written"):
        draw_chain(tmp_path / "none" / "chain.png", [("tones.wav", bare)], limits=LIMITS)
    assert [one.name for one in tmp_path.iterdir()] == ["tones.png"]
