"""Loudness (ITU-R BS.1770-4, EBU R 128, EBU Tech 3342) and plain levels, in one pass.

Two meters, each holding one row per hop of 100 ms: :class:`LoudnessMeter` with K-weighting,
:class:`LevelMeter` without. Pieces of sound must arrive in whole hops, the last one excepted.

Levels in dBFS are rms, a full-scale sine reading −3.01 dBFS; a level over both channels is the mean of their
powers. Direct current is left out of every level: a disc cannot hold it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import pyloudnorm
from numpy.typing import NDArray
from scipy import signal

from discwright.findings import Finding

Sound = NDArray[np.float32]
Table = NDArray[np.float64]
Scalar = TypeVar("Scalar", bound=np.generic)

HOP_S = 0.1
MOMENTARY_HOPS = 4
SHORT_TERM_HOPS = 30
QUIET_HOPS = 10
ABSOLUTE_GATE = -70.0
INTEGRATED_GATE = -10.0
RANGE_GATE = -20.0

DC_MAX = 0.001
BALANCE_MAX_DB = 1.5
CORRELATION_MIN = -0.3
MONO_SHARE_MAX = 1e-9
ROUNDING = 1e-12


@dataclass(frozen=True)
class Loudest:
    """The loudest window of a programme; both None where nothing can be heard.

    Attributes
    ----------
    lufs : float or None
    time_s : float or None
        Start of the window.
    """

    lufs: float | None
    time_s: float | None


@dataclass(frozen=True)
class Passage:
    """A window of 3 s and its rms level; both None where the programme has no such window.

    Attributes
    ----------
    level_dbfs : float or None
    time_s : float or None
        Start of the window.
    """

    level_dbfs: float | None
    time_s: float | None


@dataclass(frozen=True)
class Loudness:
    """What the K-weighted meter reads; None where the programme is too short or too quiet to have it."""

    integrated_lufs: float | None
    loudness_range_lu: float | None
    loudest_3s: Loudest
    loudest_400ms: Loudest


@dataclass(frozen=True)
class Levels:
    """What the plain meter reads.

    Attributes
    ----------
    softest, loudest : Passage
    noise_floor_dbfs : float or None
        Rms in the quietest second without digital silence.
    dc : tuple of float
        Mean of each channel, 1.0 = full scale.
    rms : tuple of float
        Rms of each channel without its direct current, 1.0 = full scale.
    correlation : float or None
        None where a channel is silent.
    difference_share : float
        Power of left minus right over the power of left and of right: 0 for two equal channels.
    """

    softest: Passage
    loudest: Passage
    noise_floor_dbfs: float | None
    dc: tuple[float, float]
    rms: tuple[float, float]
    correlation: float | None
    difference_share: float


def hop_frames(sample_rate_hz: int) -> int:
    """Samples in one hop of 100 ms, to the nearest sample."""
    return round(sample_rate_hz * HOP_S)


def k_weighting(sample_rate_hz: int) -> Table:
    """The K-weighting of BS.1770 as second-order sections at a sample rate.

    The standard prints coefficients for 48 kHz and asks the same response of every other rate. The two
    filters below return the printed digits at 48 kHz; one gain then holds 997 Hz at +0.691 dB, which the
    unscaled high-pass of the standard would let drift by 0.03 dB up to 192 kHz.

    Parameters
    ----------
    sample_rate_hz : int

    Returns
    -------
    ndarray, shape (2, 6)
        Rows b0 b1 b2 a0 a1 a2: the shelf, then the high-pass.
    """
    shelf = pyloudnorm.IIRfilter(
        3.99984385397, 0.7071752369554193, 1681.9744509555319, sample_rate_hz, "high_shelf_DeMan"
    )
    high_pass = pyloudnorm.IIRfilter(0.0, 0.5003270373253953, 38.13547087613982, sample_rate_hz, "high_pass_DeMan")
    sections = np.array([[*stage.b, *stage.a] for stage in (shelf, high_pass)])
    _, response = signal.sosfreqz(sections, [997.0], fs=sample_rate_hz)
    sections[0, :3] *= 10 ** (0.691 / 20) / abs(response[0])
    return sections


class LoudnessMeter:
    """K-weighted energy in hops of 100 ms, gated once the programme has ended."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._hop = hop_frames(sample_rate_hz)
        self._hop_s = self._hop / sample_rate_hz
        self._sections = k_weighting(sample_rate_hz)
        self._state = np.zeros((2, 2, 2))
        self._powers: list[Table] = []

    def feed(self, sound: Sound) -> None:
        """Take the next piece, shape (n, 2), n a multiple of the hop unless it is the last one."""
        weighted, self._state = signal.sosfilt(self._sections, sound.T.astype(np.float64), axis=1, zi=self._state)
        hops = len(sound) // self._hop
        whole = weighted[:, : hops * self._hop].reshape(2, hops, self._hop)
        self._powers.append(np.einsum("chs,chs->h", whole, whole) / self._hop)

    def result(self) -> Loudness:
        """Gate and read; an incomplete last hop is left out, as the standard asks."""
        powers = np.concatenate([np.zeros(0), *self._powers])
        momentary = _sliding_mean(powers, MOMENTARY_HOPS)
        short_term = _sliding_mean(powers, SHORT_TERM_HOPS)
        return Loudness(
            integrated_lufs=_integrated(momentary),
            loudness_range_lu=_loudness_range(short_term),
            loudest_3s=self._loudest(short_term),
            loudest_400ms=self._loudest(momentary),
        )

    def _loudest(self, powers: Table) -> Loudest:
        if powers.size == 0 or powers.max() <= 0.0:
            return Loudest(None, None)
        at = int(np.argmax(powers))
        return Loudest(_lufs(float(powers[at])), at * self._hop_s)


class LevelMeter:
    """Sums per hop of 100 ms for levels, direct current, balance and correlation."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._hop = hop_frames(sample_rate_hz)
        self._hop_s = self._hop / sample_rate_hz
        self._frames = 0
        self._sums: list[Table] = []
        self._rest = np.zeros((1, 6))

    def feed(self, sound: Sound) -> None:
        """Take the next piece, shape (n, 2), n a multiple of the hop unless it is the last one."""
        hops = len(sound) // self._hop
        whole = hops * self._hop
        self._frames += len(sound)
        self._sums.append(_hop_sums(sound[:whole].T.reshape(2, hops, self._hop)))
        if whole < len(sound):
            self._rest = _hop_sums(sound[whole:].T.reshape(2, 1, -1))

    def result(self) -> Levels:
        """Read levels and totals; an incomplete last hop counts in the totals only."""
        sums = np.concatenate([np.zeros((0, 6)), *self._sums])
        softest, loudest = self._passages(sums)
        total = np.concatenate([sums, self._rest]).sum(axis=0) / max(self._frames, 1)
        left, right = _alternating(total[2:4], total[0:2]).tolist()
        both = float(total[4] - total[0] * total[1])
        product = math.sqrt(left) * math.sqrt(right)
        return Levels(
            softest=softest,
            loudest=loudest,
            noise_floor_dbfs=self._noise_floor(sums),
            dc=(float(total[0]), float(total[1])),
            rms=(math.sqrt(left), math.sqrt(right)),
            correlation=min(1.0, max(-1.0, both / product)) if product > 0.0 else None,
            difference_share=max(left + right - 2.0 * both, 0.0) / (left + right) if left + right > 0 else 0.0,
        )

    def _passages(self, sums: Table) -> tuple[Passage, Passage]:
        """The softest and the loudest 3 s.

        The softest is sought among windows in which no hop falls below −70 dBFS: silence, and the last of a
        fade, are not a passage of music.
        """
        powers = self._powers(sums, SHORT_TERM_HOPS)
        if powers.size == 0 or powers.max() <= 0.0:
            return Passage(None, None), Passage(None, None)
        loud = int(np.argmax(powers))
        loudest = Passage(_dbfs(float(powers[loud])), loud * self._hop_s)
        heard = self._powers(sums, 1) > 10 ** (ABSOLUTE_GATE / 10)
        steady = _windows(heard, SHORT_TERM_HOPS).all(axis=1)
        if not steady.any():
            return Passage(None, None), loudest
        soft = int(np.argmin(np.where(steady, powers, np.inf)))
        return Passage(_dbfs(float(powers[soft])), soft * self._hop_s), loudest

    def _noise_floor(self, sums: Table) -> float | None:
        powers = self._powers(sums, QUIET_HOPS)
        live = ~_windows(sums[:, 5] > 0.0, QUIET_HOPS).any(axis=1)
        powers = powers[live & (powers > 0.0)]
        return _dbfs(float(powers.min())) if powers.size else None

    def _powers(self, sums: Table, hops: int) -> Table:
        """Mean power of both channels without direct current in every window of `hops` hops."""
        means = _windows(sums, hops).sum(axis=2) / (hops * self._hop)
        return np.asarray(_alternating(means[:, 2:4], means[:, 0:2]).mean(axis=1), dtype=np.float64)


def level_findings(levels: Levels) -> list[Finding]:
    """What of these readings matters to a cut."""
    found = [*_stereo_findings(levels)]
    dc = max(levels.dc, key=abs)
    if abs(dc) > DC_MAX:
        name = "left" if dc == levels.dc[0] else "right"
        remedy = (
            f"Direct current of {100.0 * dc:+.2f} % in the {name} channel. The cut removes it; "
            "edits in this file may click, so have the converter checked."
        )
        limit = math.copysign(DC_MAX, dc)
        found.append(Finding("dc", "note", None, 1, None, None, dc, limit, "of full scale", remedy))
    return found


def _stereo_findings(levels: Levels) -> list[Finding]:
    """One fact about the two channels: the first that holds explains those below it."""
    left, right = levels.rms
    if left == 0.0 and right == 0.0:
        remedy = "The programme is silent from end to end. Check the file."
        return [Finding("no_sound", "warn", None, 1, None, None, 0.0, 0.0, "of full scale", remedy)]
    if left == 0.0 or right == 0.0:
        silent, other = ("left", "right") if left == 0.0 else ("right", "left")
        remedy = (
            f"The {silent} channel is silent, so only one wall is cut. "
            f"Check the transfer; for mono, put the {other} channel in both."
        )
        return [Finding("one_channel", "warn", None, 1, None, None, 0.0, 0.0, "of full scale", remedy)]
    if levels.difference_share <= MONO_SHARE_MAX:
        remedy = "Both channels are the same: the groove moves sideways only. Nothing to do if that is meant."
        share = levels.difference_share
        return [Finding("mono", "note", None, 1, None, None, share, MONO_SHARE_MAX, "of the power", remedy)]
    correlation, balance_db = levels.correlation, 20.0 * math.log10(left / right)
    if correlation is not None and correlation < CORRELATION_MIN:
        remedy = (
            f"Correlation {correlation:+.2f} over the whole programme: one channel is probably reversed. "
            "Listen in mono; if the bass vanishes, reverse the polarity of one channel."
        )
        return [Finding("polarity", "warn", None, 1, None, None, correlation, CORRELATION_MIN, "correlation", remedy)]
    if abs(balance_db) > BALANCE_MAX_DB:
        remedy = (
            f"The {'left' if balance_db > 0.0 else 'right'} channel is {abs(balance_db):.1f} dB louder "
            "overall. Check the line-up of the transfer, unless the music is so."
        )
        limit = math.copysign(BALANCE_MAX_DB, balance_db)
        return [Finding("balance", "note", None, 1, None, None, balance_db, limit, "dB", remedy)]
    return []


def _hop_sums(hops: Sound) -> Table:
    """Columns Σl Σr Σl² Σr² Σlr and 1.0 where both channels stand still, of hops of shape (2, h, s)."""
    wide = hops.astype(np.float64)
    still = (hops == hops[:, :, :1]).all(axis=(0, 2))
    return np.column_stack(
        [
            *wide.sum(axis=2),
            *np.einsum("chs,chs->ch", wide, wide),
            np.einsum("hs,hs->h", wide[0], wide[1]),
            still,
        ]
    )


def _alternating(powers: Table, means: Table) -> Table:
    """Power without that of the mean; what is left of pure direct current by rounding counts as nothing."""
    rest = powers - means**2
    return np.where(rest > ROUNDING * powers, rest, 0.0)


def _windows(rows: NDArray[Scalar], hops: int) -> NDArray[Scalar]:
    """Every window of `hops` rows as the last axis; no windows where there are too few rows."""
    if len(rows) < hops:
        return np.zeros((0, *rows.shape[1:], hops), dtype=rows.dtype)
    return np.lib.stride_tricks.sliding_window_view(rows, hops, axis=0)


def _sliding_mean(powers: Table, hops: int) -> Table:
    return np.asarray(_windows(powers, hops).mean(axis=1), dtype=np.float64)


def _integrated(powers: Table) -> float | None:
    """Integrated loudness of blocks of 400 ms, two gates (BS.1770-4, equations 3 to 7)."""
    loud = powers[powers > _power(ABSOLUTE_GATE)]
    if loud.size == 0:
        return None
    return _lufs(float(loud[loud > loud.mean() * 10 ** (INTEGRATED_GATE / 10)].mean()))


def _loudness_range(powers: Table) -> float | None:
    """95th less 10th percentile of the gated 3 s loudness, nearest rank (EBU Tech 3342)."""
    loud = powers[powers >= _power(ABSOLUTE_GATE)]
    if loud.size == 0:
        return None
    loud = np.sort(loud[loud >= loud.mean() * 10 ** (RANGE_GATE / 10)])
    low, high = (float(loud[round((loud.size - 1) * share)]) for share in (0.10, 0.95))
    return 10.0 * math.log10(high / low)


def _power(lufs: float) -> float:
    return float(10 ** ((lufs + 0.691) / 10))


def _lufs(power: float) -> float:
    return -0.691 + 10.0 * math.log10(power)


def _dbfs(power: float) -> float:
    return 10.0 * math.log10(power)
