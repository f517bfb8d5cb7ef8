"""Lay a capture upon the programme: from tenths of seconds down to microseconds, and learn its sound on the way.

coarse line and jumps ─▶ long frames, correlation ─▶ short frames, phase ─▶ the same with the sound known ─▶ map
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from discwright.inspection import kernels
from discwright.inspection.edges import sharpen
from discwright.inspection.frames import Batch, Pair
from discwright.inspection.timemap import Delays, Swings, TimeMap, refine
from discwright.inspection.transfer import Transfer, TransferSums, flat_transfer

Float = NDArray[np.float64]
Complex = NDArray[np.complex128]
Progress = Callable[[str, float], None]

#: Frames of the long and the short rounds, s, and what is searched around the coarse line, s.
LONG_S, SHORT_S, SEARCH_S = 0.37, 0.093, 0.045
#: Frequencies that tell time, Hz; short rounds go higher as the map gets better.
LOWEST_HZ, HIGHEST_HZ = 80.0, (1500.0, 5000.0, 16000.0)
#: A frame whose music stands this little above the noise tells nothing (ratio of energies, whole band).
_LEAST_INFORMATION = 12.0
#: Of what is left over, to what was expected: a frame with more holds something else.
_STRANGE = 0.5
#: Share of the frames that are the quiet places.
_QUIETEST = 0.15
#: A drive that goes unsteadily by more, s, is followed with shorter frames; how long its flutter then remembers, s.
UNSTEADY_S, _FAST_S = 3e-6, 0.03
#: A step of Newton's method, and what a short frame may be late by in each round, s.
_MOST_STEP_S, _MOST_DELAY_S = 2e-4, (6e-4, 1.5e-4, 6e-5)


@dataclass(frozen=True)
class Alignment:
    """A capture laid upon the programme.

    Attributes
    ----------
    map : TimeMap
    swings : Swings
    transfer : Transfer
    noise : ndarray, shape (bins, 2)
        Mean square of a frame's difference, at the transfer's bins, left and right.
    quiet : ndarray, shape (bins, 2)
        The same where the programme is quietest: the noise of surface and player alone.
    measured : Delays
        Of the last round.
    """

    map: TimeMap
    swings: Swings
    transfer: Transfer
    noise: Float
    quiet: Float
    measured: Delays


def align(pair: Pair, known: TimeMap, turn_time: float, progress: Progress) -> Alignment:
    """Lay a capture upon the programme.

    Parameters
    ----------
    pair : Pair
    known : TimeMap
        Good to 40 ms.
    turn_time : float, s
    progress : callable
        Called with a step's name and the fraction of it done.

    Returns
    -------
    Alignment
    """
    size = _power(LONG_S * pair.rate)
    measured, gain = _long_round(pair, known, size, lambda done: progress("finding the time", done))
    known, swings = refine(known, measured, turn_time)
    if len(known.stretches) > 1:
        known = sharpen(pair, known)
    size = _power(SHORT_S * pair.rate)
    transfer = flat_transfer(pair.rate, size // 2 + 1, gain, pair.duration)
    noise = quiet = None
    for k, highest in enumerate(HIGHEST_HZ):

        def tell(done: float, k: int = k) -> None:
            progress("laying capture upon programme", (k + done) / len(HIGHEST_HZ))

        one = _Round(pair, known, transfer, noise, size, highest)
        measured, transfer, noise, quiet = one.run(tell)
        known, swings = refine(known, measured, turn_time)
    assert noise is not None
    assert quiet is not None
    if swings.unsteady > UNSTEADY_S:
        known, swings, measured, transfer, noise, quiet = _follow_flutter(
            pair, known, transfer, noise, turn_time, progress
        )
    known, transfer = _share_delay(known, transfer)
    return Alignment(known, swings, transfer, noise, quiet, measured)


def _follow_flutter(
    pair: Pair, known: TimeMap, transfer: Transfer, noise: Float, turn_time: float, progress: Progress
) -> tuple[TimeMap, Swings, Delays, Transfer, Float, Float]:
    """Two rounds of frames short enough to follow a flutter, and one to learn the sound on the better map."""
    whole = 2 * (transfer.gain.shape[1] - 1)
    size = whole // 2
    for k, highest in enumerate(HIGHEST_HZ[1:]):

        def tell(done: float, k: int = k) -> None:
            progress("following the flutter", (k + done) / 2)

        # Half as long a frame holds half the noise in each bin.
        one = _Round(pair, known, transfer.thinned(size // 2 + 1), noise[::2] / 2, size, highest, size // 4)
        measured, _, _, _ = one.run(tell)
        known, swings = refine(known, measured, turn_time, _FAST_S)
    one = _Round(pair, known, transfer, noise, whole, HIGHEST_HZ[-1])
    _, transfer, noise, quiet = one.run(lambda done: progress("learning the sound", done))
    return known, swings, measured, transfer, noise, quiet


def _power(samples: float) -> int:
    return 1 << round(math.log2(samples))


def _long_round(
    pair: Pair, known: TimeMap, size: int, tell: Callable[[float], None]
) -> tuple[Delays, tuple[float, float]]:  # fmt: skip
    """Delays by the greatest correlation of long frames, and the gain of each channel."""
    found = []
    for one in pair.each(known, size, size // 2, _Correlation(size, pair.rate)):
        found.append(one)
        tell(float(one[-1, 0] / max(pair.duration, 1e-9)))
    time, delay, doubt, left, right = np.concatenate(found).T
    told = np.isfinite(doubt)
    if not told.any():
        return Delays(time, delay, doubt), (1.0, 1.0)
    return Delays(time, delay, doubt), (float(np.median(left[told])), float(np.median(right[told])))


class _Correlation:
    """Delay, doubt and gains of long frames."""

    def __init__(self, size: int, rate: int) -> None:
        frequency = fft.rfftfreq(size, 1 / rate)
        self._band = np.flatnonzero((frequency >= LOWEST_HZ) & (frequency <= HIGHEST_HZ[0]))
        # The treble of music is weak: lift it, but not as far as its noise.
        self._weight = (1 / frequency[self._band]).astype(np.float32)
        self._omega = (2 * np.pi * frequency[self._band]).astype(np.float32)
        self._points = 1 << int(np.ceil(np.log2(2 * self._band[-1])))
        self._fine = self._points * rate / size

    def __call__(self, batch: Batch) -> Float:
        band, points, reach = self._band, self._points, int(SEARCH_S * self._fine)
        p, c = batch.programme[:, :, band], batch.capture[:, :, band]
        spread = np.zeros((len(p), 2, points // 2 + 1), dtype=np.complex64)
        spread[:, :, band] = np.conj(p) * c * self._weight
        match = fft.irfft(spread, points, axis=2) * points / 2
        each = np.concatenate([match[:, :, -reach:], match[:, :, : reach + 1]], axis=2)
        rows = np.arange(len(each))
        # One channel may be turned round against the other.
        together, against = each[:, 0] + each[:, 1], each[:, 0] - each[:, 1]
        turned = np.abs(against).max(axis=1) > np.abs(together).max(axis=1)
        near = np.where(turned[:, None], against, together)
        peak = np.clip(np.argmax(np.abs(near), axis=1), 1, near.shape[1] - 2)
        y0, y1, y2 = near[rows, peak - 1], near[rows, peak], near[rows, peak + 1]
        bend = y0 - 2 * y1 + y2
        part = np.clip(0.5 * (y0 - y2) / np.where(bend == 0, 1, bend), -1, 1)
        power = np.abs(p) ** 2 * self._weight
        own, heard = power.sum(axis=2), np.sum(np.abs(c) ** 2 * self._weight, axis=(1, 2))
        both = own.sum(axis=1)
        like = np.clip(np.abs(y1) / np.sqrt(both * heard + 1e-30), 1e-3, 0.9999)
        steep = np.sqrt(np.sum(power * self._omega**2, axis=(1, 2)) / (both + 1e-30))
        doubt = np.sqrt((1 - like**2) / like**2 / (0.1 * len(band))) / np.maximum(steep, 1e-3)
        doubt[(like < 0.3) | (both < 1e-12)] = np.inf
        gain = each[rows, :, peak] / (own + 0.01 * both[:, None] + 1e-30)
        return np.column_stack([batch.told, (peak + part - reach) / self._fine, doubt, gain])


@dataclass(frozen=True)
class _Seen:
    """What one batch of short frames told."""

    time: Float
    delay: Float
    doubt: Float
    own: Complex
    cross: Complex
    spare: Float
    loud: Float


class _Round:
    """One round of short frames: delays from the slope of the phase, and the sound anew."""

    def __init__(
        self, pair: Pair, known: TimeMap, transfer: Transfer, noise: Float | None, size: int, highest: float,
        hop: int | None = None,
    ) -> None:  # fmt: skip
        self._pair, self._known, self._transfer, self._size = pair, known, transfer, size
        frequency = fft.rfftfreq(size, 1 / pair.rate)
        self._omega = 2 * np.pi * frequency
        self._low, self._high = (int(one) for one in np.searchsorted(frequency, [LOWEST_HZ, highest]))
        self._noise = noise
        self._most = _MOST_DELAY_S[HIGHEST_HZ.index(highest)]
        # While nothing is known of noise and sound yet, half as many frames will do.
        self._hop = hop or (size if highest < HIGHEST_HZ[-1] else size // 2)

    def run(self, tell: Callable[[float], None]) -> tuple[Delays, Transfer, Float, Float]:
        sums = TransferSums(self._pair.rate, len(self._omega), self._pair.duration)
        seen = []
        for one in self._pair.each(self._known, self._size, self._hop, self._look):
            sums.add(float(one.time.mean()), one.own, one.cross)
            seen.append(one)
            tell(float(one.time[-1] / max(self._pair.duration, 1e-9)))
        time, delay, doubt = (
            np.concatenate([getattr(one, name) for one in seen]) for name in ("time", "delay", "doubt")
        )
        spare = np.concatenate([one.spare for one in seen])
        # The median of an exponential variable, what a bin's power is, lies at ln 2 of its mean.
        noise = np.median(spare, axis=0).T / np.log(2.0)
        loud = np.concatenate([one.loud for one in seen])
        quiet = np.median(spare[loud <= np.quantile(loud, _QUIETEST)], axis=0).T / np.log(2.0)
        return Delays(time, delay, doubt), sums.solve(), _smooth(noise), _smooth(quiet)

    def _look(self, batch: Batch) -> _Seen:
        expected = expected_capture(batch, self._transfer)
        quiet = self._quiet(expected)
        found = np.empty((len(expected), 4))
        kernels.phase_delays(expected, batch.capture, quiet, self._omega, self._low, self._high, _MOST_STEP_S, found)
        delay, information, strength, left = found.T
        doubt = np.sqrt(np.maximum(left, 0.3) / np.maximum(information, 1e-30))
        count = 2 * (self._high - self._low)
        doubt[(strength * count < _LEAST_INFORMATION) | (np.abs(delay) > self._most)] = np.inf
        own = np.zeros((len(self._omega), 2, 2), dtype=complex)
        cross = np.zeros_like(own)
        # A frame with a fault in it counts little, and one that is not this music at all counts nothing.
        fair = 1 / (1 + np.maximum(left / (4 * np.median(left) + 1e-30) - 1, 0.0) ** 2)
        fair /= 1 + (np.maximum(left - 1, 0.0) / (_STRANGE * strength + 1e-30)) ** 4
        if self._noise is None:  # the map is rough yet: each frame by its own delay
            out, blur = np.where(np.isfinite(doubt), delay, 0.0), np.zeros(len(delay))
        else:
            out, blur = np.zeros(len(delay)), np.interp(batch.middle, self._known.time, self._known.doubt)
        kernels.gather(batch.programme, batch.capture, out, fair, blur, self._omega, own, cross)
        spare = np.abs(batch.capture[::8] - expected[::8]) ** 2
        loud = np.sum(np.abs(expected[::8]) ** 2, axis=(1, 2))
        loud[np.abs(batch.capture[::8]).max(axis=(1, 2)) == 0.0] = np.inf  # beyond the capture is no quiet place
        return _Seen(batch.told, delay, doubt, own, cross, spare, loud)

    def _quiet(self, expected: NDArray[np.complex64]) -> Float:
        power = np.mean(np.abs(expected) ** 2, axis=0)
        if self._noise is None:
            noise = power * 1e-2 + 1e-3 * np.mean(power) + 1e-20
        else:
            noise = self._noise.T + 1e-6 * power + 1e-20
        result: Float = 1 / noise.astype(np.float64)
        return result


def expected_capture(batch: Batch, transfer: Transfer) -> NDArray[np.complex64]:
    """What a playing would give of the programme, without noise or fault.

    Parameters
    ----------
    batch : Batch
    transfer : Transfer

    Returns
    -------
    ndarray, shape (m, 2, bins)
    """
    out = np.empty_like(batch.programme)
    parts = transfer.part_of(batch.middle)
    for part in np.unique(parts):
        rows = np.flatnonzero(parts == part)
        gain = transfer.gain[part].astype(np.complex64)
        kernels.expect(batch.programme[rows[0] : rows[-1] + 1], gain, out[rows[0] : rows[-1] + 1])
    return out


def _smooth(noise: Float) -> Float:
    """Over some bins, more of them higher up."""
    total = np.cumsum(np.vstack([np.zeros((1, noise.shape[1])), noise]), axis=0)
    index = np.arange(len(noise))
    half = 2 + index // 24
    begin, end = np.maximum(index - half, 0), np.minimum(index + half + 1, len(noise))
    result: Float = (total[end] - total[begin]) / (end - begin)[:, None]
    return result


def _share_delay(known: TimeMap, transfer: Transfer) -> tuple[TimeMap, Transfer]:
    """A delay the sound has over all frequencies alike belongs to the map."""
    frequency = transfer.frequency
    band = (frequency > 300.0) & (frequency < 8000.0)
    mean = transfer.mean()
    left, right = mean[band, 0, 0], mean[band, 1, 1]
    turned = -1.0 if np.sum(np.real(left * np.conj(right))) < 0 else 1.0
    own = left + turned * right
    late = linear_delay(frequency[band], own)
    turn = np.exp(2j * np.pi * frequency * late)
    moved = replace(known, flat=known.flat + late)
    return moved, replace(transfer, gain=transfer.gain * turn[None, :, None, None])


def linear_delay(frequency: Float, response: NDArray[np.complex128]) -> float:
    """The delay in a response: its phase drawn straight from nothing or half a turn at 0 Hz on, each octave alike.

    Good for delays below a tenth of a millisecond.

    Parameters
    ----------
    frequency : ndarray, shape (m,), Hz
        Evenly spaced.
    response : ndarray, shape (m,), complex

    Returns
    -------
    float, s
    """
    omega = 2 * np.pi * frequency
    weight = 1 / frequency
    phase = np.unwrap(np.angle(response))
    phase = phase - np.round(np.average(phase, weights=weight) / np.pi) * np.pi
    return -float(np.sum(weight * omega * phase) / np.sum(weight * omega**2))
