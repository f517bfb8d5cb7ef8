"""Where and how the disc departs from the programme: energy no linear system explains, and treble lost, per second.

Programme and proof are cut into short spectra (Hann frames of about 46 ms, half overlapping). In each second, channel
and third-octave one complex gain, by least squares over frames and bins, is the linear part; what it leaves is the
distortion. So a lower level and lost treble are none, and steady tones and music are measured by one rule.

Limits, in numbers (44.1 kHz; "music" is pink noise that falls another 6 dB per octave above 1 kHz):

- A proof equal to its programme but for the rounding of float32 reads below 3e-7.
- A gain that changes within a third-octave is more than one gain, and what it adds is read as distortion:

    =================================  ===========  =====
    linear, and yet it reads           white noise  music
    =================================  ===========  =====
    delay of 0.01 sample               0.10 %       0.01 %
    delay of 0.02 sample               0.19 %       0.02 %
    low-pass, first order, at 20 kHz   2.6 %        0.3 %
    shelf of 6 dB around 1 kHz         1.1 %        1.3 %
    12 dB per octave lost above 8 kHz  6.0 %        0.3 %
    24 dB per octave lost above 8 kHz  8.3 %        0.5 %
    =================================  ===========  =====

- So does a gain that changes within a second: 3.3 % for 1 dB from its beginning to its end.
- A steady sound with harmonics of its own hides what the disc adds in step to the same harmonics: within one second
  that cannot be told from a gain. Another note in the same third-octave brings most of it out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import rfft

from discwright.errors import CallError

Float = NDArray[np.float64]
Single = NDArray[np.float32]
Sound = Float | Single

#: Centres of the octave bands that distortion is told in, Hz (IEC 61260, nominal).
OCTAVES_HZ = (31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16_000.0)
#: The power of two nearest to this is a frame, s.
FRAME_S = 0.046
#: Number of the lowest third-octave, counted from that of 1 kHz: 25 Hz, whose lower edge is 22.4 Hz.
LOWEST_THIRD = -16
#: Bins that a third-octave has at least; lower ones are merged until they have so many.
LEAST_BINS = 2
#: Nothing above this is looked at, Hz, nor above this share of the sample rate.
TOP_HZ, TOP_SHARE = 20_000.0, 0.45
#: Greatest gain of the linear part. With a steady tone the bins around its harmonics hold nothing of the programme but
#: leakage of the tone itself, in step with it; a gain without limit would blow that up to explain the harmonic away.
GAIN_MOST = 1.5
#: Softer than this a second is silent and has no distortion, dB re a full-scale sine in both channels.
SILENT_DB = -70.0
#: Treble is looked at between these, Hz, where it is no softer than this, dB re a full-scale sine in both channels.
TREBLE_HZ, TREBLE_LEAST_DB = (8000.0, 16_000.0), -80.0
#: A last second shorter than this is left out, s.
SHORTEST_S = 0.1


@dataclass(frozen=True)
class Departures:
    """How a proof departs from its programme, second by second: N seconds, B octave bands.

    Attributes
    ----------
    time : ndarray, shape (N,), s
        Where each second begins, from the first sample of the side.
    peak_time : ndarray, shape (N,), s
        Within each second, where the energy that no linear system explains is greatest.
    level_db : ndarray, shape (N,), dB
        Of the programme, root mean square of both channels, full-scale sine = 0 dB; -inf where it is silent.
    distortion : ndarray, shape (N,)
        Root of the unexplained energy over that of the whole proof, both channels together; 0 where the programme
        is silent.
    band_distortion : ndarray, shape (N, B)
        The same for the unexplained energy of each octave of `OCTAVES_HZ`, over the energy of the whole proof.
    treble_db : ndarray, shape (N,), dB
        Gain of the linear part between 8 and 16 kHz, weighted by the programme's energy there; NaN where the
        programme has too little, or the proof none at all.
    """

    time: Float
    peak_time: Float
    level_db: Float
    distortion: Float
    band_distortion: Float
    treble_db: Float


@dataclass(frozen=True)
class WorstSpot:
    """One of the worst places of a proof.

    Attributes
    ----------
    time : float, s
        From the first sample of the side.
    distortion : float
        Of its second, as in :class:`Departures`.
    octave_hz : float
        Octave that holds most of it, Hz.
    """

    time: float
    distortion: float
    octave_hz: float


class DepartureMeter:
    """Takes programme and proof block by block; how they are divided into blocks changes nothing.

    Parameters
    ----------
    sample_rate : float, Hz
        44 100 to 192 000.
    start : float, s
        Where the first sample lies, from the first sample of the side.
    """

    def __init__(self, sample_rate: float, start: float = 0.0) -> None:
        self._rate, self._start = sample_rate, start
        self._frames = _Frames(sample_rate)
        hop = self._frames.hop
        #: Programme and proof, left and right, from half a frame before the first frame's centre of the second in work.
        self._buffer: Single = np.zeros((2, 2, hop * (math.ceil(sample_rate / hop) + 1)), dtype=np.float32)
        #: Samples in it; half a frame of silence comes before the first.
        self._filled = hop
        self._pushed = 0
        self._seconds: list[_Second] = []

    def push(self, programme: Sound, proof: Sound) -> None:
        """Take the next block of both.

        Parameters
        ----------
        programme, proof : ndarray, shape (n, 2), 1.0 = full scale
            Aligned and level-matched.

        Raises
        ------
        CallError
            If the two do not have the same shape (n, 2).
        """
        if programme.shape != proof.shape or programme.ndim != 2 or programme.shape[1] != 2:
            raise CallError(
                f"programme {programme.shape} and proof {proof.shape} cannot be compared; give both the shape (n, 2)."
            )
        at = 0
        while at < len(programme):
            second = len(self._seconds)
            needed = (self._first_frame(second + 1) - self._first_frame(second) + 1) * self._frames.hop
            take = min(needed - self._filled, len(programme) - at)
            into = slice(self._filled, self._filled + take)
            self._buffer[0, :, into] = programme[at : at + take].T
            self._buffer[1, :, into] = proof[at : at + take].T
            at, self._filled, self._pushed = at + take, self._filled + take, self._pushed + take
            if self._filled == needed:
                self._seconds.append(self._read(self._buffer[:, :, :needed]))
                # The last half of the last frame is the first half of the next second's first.
                self._buffer[:, :, : self._frames.hop] = self._buffer[:, :, needed - self._frames.hop : needed]
                self._filled = self._frames.hop

    def result(self, end: bool = True) -> Departures:
        """What was found so far; may be asked at any time.

        Parameters
        ----------
        end : bool
            The programme ends here, so the second in work counts as well; it is left out if it is shorter than 0.1 s
            and not the only one.

        Returns
        -------
        Departures
        """
        seconds = list(self._seconds)
        left = self._pushed - self._sample(len(seconds))
        if end and left > 0 and (not seconds or left >= SHORTEST_S * self._rate):
            hop = self._frames.hop
            first, following = self._first_frame(len(seconds)), self._first_frame(len(seconds) + 1)
            count = min(following, math.ceil(self._pushed / hop)) - first
            sounds = np.zeros((2, 2, (count + 1) * hop), dtype=np.float32)
            sounds[:, :, : self._filled] = self._buffer[:, :, : self._filled]
            seconds.append(self._read(sounds))
        return Departures(
            self._start + np.arange(len(seconds), dtype=np.float64),
            np.array([one.peak_time for one in seconds], dtype=np.float64),
            np.array([one.level_db for one in seconds], dtype=np.float64),
            np.array([np.sqrt(one.shares.sum()) for one in seconds], dtype=np.float64),
            np.sqrt(np.array([one.shares for one in seconds], dtype=np.float64)).reshape(-1, len(OCTAVES_HZ)),
            np.array([one.treble_db for one in seconds], dtype=np.float64),
        )

    def _sample(self, second: int) -> int:
        """First sample of a second."""
        return math.ceil(second * self._rate)

    def _first_frame(self, second: int) -> int:
        """First frame whose centre lies in a second; frame k has its centre at sample k times the hop."""
        return math.ceil(second * self._rate / self._frames.hop)

    def _read(self, sounds: Single) -> _Second:
        """The second in work, of sounds that hold its frames from end to end."""
        second = len(self._seconds)
        first = self._first_frame(second)
        begins = (first - 1) * self._frames.hop
        until = min(self._sample(second + 1), self._pushed)
        level_db = _level_db(sounds[0, :, self._sample(second) - begins : until - begins])
        peak, shares, treble_db = self._frames.compare(sounds)
        peak_time = self._start + (first + peak) * self._frames.hop / self._rate
        if level_db < SILENT_DB:
            return _Second(peak_time, level_db, np.zeros(len(OCTAVES_HZ)), math.nan)
        return _Second(peak_time, level_db, shares, treble_db)


def worst_spots(departures: Departures, most: int = 10, apart: float = 2.0) -> tuple[WorstSpot, ...]:
    """The seconds with the greatest distortion, worst first; those without any are no spots.

    Parameters
    ----------
    departures : Departures
    most : int
        How many at most.
    apart : float, s
        Two spots lie at least so far from each other.

    Returns
    -------
    tuple of WorstSpot
    """
    spots: list[WorstSpot] = []
    for k in np.argsort(-departures.distortion, kind="stable"):
        distortion, time = float(departures.distortion[k]), float(departures.peak_time[k])
        if len(spots) == most or distortion == 0.0:
            break
        if all(abs(time - spot.time) >= apart for spot in spots):
            octave = int(np.argmax(departures.band_distortion[k]))
            spots.append(WorstSpot(time, distortion, OCTAVES_HZ[octave]))
    return tuple(spots)


@dataclass(frozen=True)
class _Second:
    """One second: `shares` is the unexplained energy of each octave over that of the whole proof."""

    peak_time: float
    level_db: float
    shares: Float
    treble_db: float


class _Frames:
    """Frames and bands at one sample rate. All arrays over bins begin with the lowest bin looked at."""

    def __init__(self, sample_rate: float) -> None:
        self.size: int = 2 ** round(math.log2(FRAME_S * sample_rate))
        self.hop: int = self.size // 2
        wide = np.hanning(self.size + 1)[:-1]
        self.window = wide.astype(np.float32)
        #: Energy of a full-scale sine in the bins of one frame, one channel.
        self.sine = self.size * float(wide @ wide) / 4.0
        step = sample_rate / self.size
        lowest = max(1, round(_edge(LOWEST_THIRD) / step))
        above = math.floor(min(TOP_HZ, TOP_SHARE * sample_rate) / step) + 1
        self.bins = slice(lowest, above)
        frequency = np.arange(lowest, above) * step
        # The lowest bin may lie just below the lowest edge.
        third = np.maximum(np.rint(10.0 * np.log10(frequency / 1000.0)).astype(np.int64), LOWEST_THIRD)
        self.octave = (third - LOWEST_THIRD) // 3
        self.starts = _starts(third)
        self.widths = np.diff(np.append(self.starts, len(third)))
        self.treble = (frequency >= TREBLE_HZ[0]) & (frequency <= TREBLE_HZ[1])

    def compare(self, sounds: Single) -> tuple[int, Float, float]:
        """Programme and proof over the frames of one second.

        Parameters
        ----------
        sounds : ndarray, shape (2, 2, (K + 1)·hop)
            Programme and proof, left and right, for K frames.

        Returns
        -------
        peak : int
            Frame with the greatest unexplained energy.
        shares : ndarray, shape (B,)
            Unexplained energy of each octave over that of the whole proof.
        treble_db : float
        """
        pieces = np.lib.stride_tricks.sliding_window_view(sounds, self.size, axis=2)[:, :, :: self.hop]
        spectra = rfft(pieces * self.window, axis=3)[..., self.bins]
        programme, proof = spectra
        # Single precision does here: an error of the gain counts squared, and what is left is taken from the spectra
        # themselves. As a difference of such sums it would drown in rounding, at 3e-4 of the proof.
        energy = _energy(spectra).sum(axis=2, dtype=np.float64)
        product = (programme.conj() * proof).sum(axis=1).astype(np.complex128)
        gain = _linear_part(
            np.add.reduceat(energy[0], self.starts, axis=1), np.add.reduceat(product, self.starts, axis=1)
        )
        at_bins = np.repeat(gain, self.widths, axis=1)
        unexplained = _energy(proof - at_bins.astype(np.complex64)[:, None, :] * programme)
        peak = int(np.argmax(unexplained.sum(axis=(0, 2), dtype=np.float64)))
        octaves = np.bincount(self.octave, unexplained.sum(axis=(0, 1), dtype=np.float64), len(OCTAVES_HZ))
        whole = float(energy[1].sum())
        shares = octaves / whole if whole > 0.0 else np.zeros(len(OCTAVES_HZ))
        treble = energy[0][:, self.treble]
        left = np.abs(at_bins[:, self.treble]) ** 2 * treble
        return peak, shares, self._treble_db(float(treble.sum()), float(left.sum()), pieces.shape[2])

    def _treble_db(self, programme: float, linear: float, count: int) -> float:
        """Energy of the linear part over that of the programme, both over `count` frames of both channels."""
        if programme < 10 ** (TREBLE_LEAST_DB / 10) * self.sine * 2 * count or linear == 0.0:
            return math.nan
        return 10.0 * math.log10(linear / programme)


def _edge(third: int) -> float:
    """Lower edge of a third-octave, Hz, counted from that of 1 kHz (IEC 61260-1, base ten)."""
    return float(1000.0 * 10 ** ((third - 0.5) / 10))


def _starts(third: NDArray[np.int64]) -> NDArray[np.int64]:
    """First bin of each band that has a gain of its own: third-octaves, those with too few bins merged."""
    starts = [0]
    for change in np.flatnonzero(np.diff(third)) + 1:
        if change - starts[-1] >= LEAST_BINS:
            starts.append(int(change))
    return np.array(starts)


def _linear_part(energy: Float, product: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Gain by least squares, in magnitude at most `GAIN_MOST`; 0 where the programme has nothing."""
    gain = np.divide(product, energy, out=np.zeros_like(product), where=energy > 0.0)
    # The sum of squares is a bowl with circular contours, so shortening the best gain gives the best of those allowed.
    gain *= GAIN_MOST / np.maximum(np.abs(gain), GAIN_MOST)
    return gain


def _energy(spectra: NDArray[np.complex64]) -> Single:
    """Squared magnitude."""
    energy: Single = spectra.real**2 + spectra.imag**2
    return energy


def _level_db(sound: Single) -> float:
    """Root mean square of both channels, shape (2, n), full-scale sine = 0 dB."""
    power = 2.0 * float(np.mean(sound.astype(np.float64) ** 2))
    return 10.0 * math.log10(power) if power > 0.0 else -math.inf
