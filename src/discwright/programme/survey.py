"""What an approved programme is, measured in one pass, and what of it matters to a cut.

:func:`survey_programme` lets the sound stream once through a handful of meters; memory grows only by a row
for each 100 ms. Each module of meters also says which of its readings matter to a cut: at most one finding of
each kind.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import asdict, dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from discwright.errors import AudioError, CallError
from discwright.findings import Finding, sort_findings
from discwright.programme.bands import Band, SpectrumMeter, spectrum_findings
from discwright.programme.loudness import (
    LevelMeter,
    Loudest,
    LoudnessMeter,
    Passage,
    hop_frames,
    level_findings,
)
from discwright.programme.peaks import (
    Click,
    ClickFinder,
    ClippedRun,
    ClippingFinder,
    PeakMeter,
    Silence,
    SilenceFinder,
    peak_findings,
)
from discwright.units import clock, decibels

Sound = NDArray[np.float32]
Pair = tuple[float | None, float | None]

LOWEST_RATE_HZ = 8000
PIECE_HOPS = 40
#: Beyond this (+60 dBFS) a sample is not sound: whole numbers in a file of fractions, or damage.
ABSURD = 1000.0

#: Digits after the point in JSON, by the last word of the key.
DIGITS = {
    "s": 6,
    "dbfs": 3,
    "dbtp": 3,
    "lufs": 3,
    "lu": 3,
    "db": 3,
    "hz": 1,
    "dc": 7,
    "correlation": 4,
    "share": 4,
}


@dataclass(frozen=True)
class Survey:
    """Every reading of one programme; None where a reading does not exist (loudness of silence).

    Attributes
    ----------
    duration_s : float
    sample_rate_hz, channels : int
        As in the file. A mono file is measured as the disc plays it, the same in both channels, so its
        loudness is 3 dB above that of one channel alone.
    sample_peak_dbfs, true_peak_dbtp : tuple of (float or None)
        Left, right.
    integrated_lufs, loudness_range_lu : float or None
        BS.1770-4 and EBU Tech 3342.
    loudest_3s, loudest_400ms : Loudest
    softest, loudest : Passage
        Rms over 3 s and both channels, a full-scale sine reading −3.01 dBFS. The softest has no 100 ms below
        −70 dBFS.
    spread_db : float or None
        Loudest less softest.
    bandwidth_hz : tuple of (float or None)
        Low and high edge, see :func:`discwright.programme.bands.bandwidth`.
    noise_floor_dbfs : float or None
        Rms of the quietest second that holds no digital silence.
    dc : tuple of float
        Mean of left and of right, 1.0 = full scale.
    balance_db : float or None
        Rms of left over right.
    correlation : float or None
    bands : tuple of Band
    vertical_bass_share : float or None
        Share of the power below 300 Hz that is difference, which moves the tip up and down.
    clipped_runs, silences, clicks : tuple
        By time, at most 1000 of clipped runs and of clicks.
    findings : tuple of Finding
    """

    duration_s: float
    sample_rate_hz: int
    channels: int
    sample_peak_dbfs: Pair
    true_peak_dbtp: Pair
    integrated_lufs: float | None
    loudness_range_lu: float | None
    loudest_3s: Loudest
    loudest_400ms: Loudest
    softest: Passage
    loudest: Passage
    spread_db: float | None
    bandwidth_hz: Pair
    noise_floor_dbfs: float | None
    dc: tuple[float, float]
    balance_db: float | None
    correlation: float | None
    bands: tuple[Band, ...]
    vertical_bass_share: float | None
    clipped_runs: tuple[ClippedRun, ...]
    silences: tuple[Silence, ...]
    clicks: tuple[Click, ...]
    findings: tuple[Finding, ...]

    def as_dict(self) -> dict[str, Any]:
        """The survey as plain JSON values, numbers rounded to what they are worth."""
        plain = {key: _rounded(value, key) for key, value in asdict(self).items() if key != "findings"}
        return plain | {"findings": [finding.as_dict() for finding in self.findings]}


def survey_programme(blocks: Iterable[Sound], sample_rate_hz: int, channels: int) -> Survey:
    """Measure a programme in one pass.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (m, 2)
        The programme in pieces of any length, left then right, 1.0 = full scale. The readings do not depend
        on how it is cut into pieces. Of a mono file both columns are equal.
    sample_rate_hz : int
    channels : int
        Of the file: 1 or 2.

    Raises
    ------
    CallError
        If the rate, the channels or the shape of a block cannot be used.
    AudioError
        If there is no sample at all, or one that cannot be sound.
    """
    if sample_rate_hz < LOWEST_RATE_HZ:
        raise CallError(f"{sample_rate_hz} Hz is too low a sample rate to survey; give {LOWEST_RATE_HZ} Hz or more.")
    if channels not in (1, 2):
        raise CallError(f"A disc has two channels and the programme has {channels}; give a mono or stereo programme.")
    meters = _Meters(sample_rate_hz)
    frames = 0
    # NumPy, SciPy and soxr let go of the interpreter, so two meters run at once while the next piece is read.
    with ThreadPoolExecutor(max_workers=2) as pool:
        running: list[Future[None]] = []
        for piece in _pieces(blocks, PIECE_HOPS * hop_frames(sample_rate_hz), sample_rate_hz):
            _wait(running)
            running = [pool.submit(meter.feed, piece) for meter in meters.all()]
            frames += len(piece)
        _wait(running)
    if frames == 0:
        raise AudioError("The programme holds no sound at all; give a file with at least one sample.")
    return meters.survey(frames, channels)


class _Meters:
    """One of each meter, and what they read together."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate = sample_rate_hz
        self._loudness = LoudnessMeter(sample_rate_hz)
        self._spectrum = SpectrumMeter(sample_rate_hz)
        self._clicks = ClickFinder(sample_rate_hz)
        self._peaks = PeakMeter(sample_rate_hz)
        self._levels = LevelMeter(sample_rate_hz)
        self._clipping = ClippingFinder(sample_rate_hz)
        self._silences = SilenceFinder(sample_rate_hz)

    def all(self) -> tuple[_Meter, ...]:
        """The slowest first, so that none of two threads waits long for the other."""
        return (
            self._loudness,
            self._clicks,
            self._spectrum,
            self._peaks,
            self._levels,
            self._clipping,
            self._silences,
        )

    def survey(self, frames: int, channels: int) -> Survey:
        """Read every meter, once, after `frames` samples."""
        heard, level, spectral = self._loudness.result(), self._levels.result(), self._spectrum.result()
        sample_peak, true_peak = (_pair_db(pair) for pair in self._peaks.result())
        clipped, silences, clicks = self._clipping.result(), self._silences.result(), self._clicks.result()
        duration_s = frames / self._rate
        findings = [
            *level_findings(level),
            *peak_findings(sample_peak, true_peak, duration_s, clipped, silences, clicks),
            *spectrum_findings(spectral),
        ]
        return Survey(
            duration_s=duration_s,
            sample_rate_hz=self._rate,
            channels=channels,
            sample_peak_dbfs=sample_peak,
            true_peak_dbtp=true_peak,
            integrated_lufs=heard.integrated_lufs,
            loudness_range_lu=heard.loudness_range_lu,
            loudest_3s=heard.loudest_3s,
            loudest_400ms=heard.loudest_400ms,
            softest=level.softest,
            loudest=level.loudest,
            spread_db=_difference(level.loudest.level_dbfs, level.softest.level_dbfs),
            bandwidth_hz=spectral.bandwidth_hz,
            noise_floor_dbfs=level.noise_floor_dbfs,
            dc=level.dc,
            balance_db=_difference(*_pair_db(level.rms)),
            correlation=level.correlation,
            bands=spectral.bands,
            vertical_bass_share=spectral.vertical_bass_share,
            clipped_runs=clipped,
            silences=silences,
            clicks=clicks,
            findings=sort_findings(findings),
        )


class _Meter(Protocol):
    def feed(self, sound: Sound) -> None: ...


def _pieces(blocks: Iterable[Sound], frames: int, sample_rate_hz: int) -> Iterator[Sound]:
    """The same sound in pieces of `frames` samples, the last one shorter, each channel in one stretch."""
    piece = np.empty((frames, 2), dtype=np.float32, order="F")
    filled = 0
    taken = 0
    for block in blocks:
        _check(block, taken, sample_rate_hz)
        at = 0
        while at < len(block):
            step = min(frames - filled, len(block) - at)
            piece[filled : filled + step] = block[at : at + step]
            filled, at = filled + step, at + step
            if filled == frames:
                yield piece
                piece = np.empty((frames, 2), dtype=np.float32, order="F")
                filled = 0
        taken += len(block)
    if filled:
        yield piece[:filled]


def _check(block: Sound, taken: int, sample_rate_hz: int) -> None:
    if block.ndim != 2 or block.shape[1] != 2:
        raise CallError(f"A block has shape {block.shape}; give blocks of shape (m, 2), left then right.")
    if len(block) == 0 or np.abs(block).max() <= ABSURD:
        return
    row, column = np.argwhere(~(np.abs(block) <= ABSURD))[0].tolist()
    place = clock((taken + row) / sample_rate_hz)
    raise AudioError(
        f"The sample at {place} is {block[row, column]:g} times full scale, which is no sound; export the file again."
    )


def _wait(running: list[Future[None]]) -> None:
    for future in running:
        future.result()


def _rounded(value: Any, key: str) -> Any:
    if isinstance(value, dict):
        return {name: _rounded(inner, name) for name, inner in value.items()}
    if isinstance(value, (tuple, list)):
        return [_rounded(inner, key) for inner in value]
    if isinstance(value, float):
        # Adding nothing turns −0.0 into 0.0.
        return round(value, DIGITS[key.rpartition("_")[2]]) + 0.0
    return value


def _pair_db(pair: tuple[float, float]) -> Pair:
    left, right = (decibels(value) if value > 0.0 else None for value in pair)
    return left, right


def _difference(of: float | None, less: float | None) -> float | None:
    return None if of is None or less is None else of - less
