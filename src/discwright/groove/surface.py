"""Noise of the disc's surface and rumble of the drive, to be added to a proof, block by block.

Both are simple stand-ins. Their levels are the user's, not measured on any disc or machine, and their spectra are
the plainest that tell the two apart: one hiss under the whole side, one growl below it. No clicks, no swish once
a turn, no lines at the mains or the motor. They come out the same every time, so that two proofs differ by what
was changed and not by chance.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from discwright.groove.curve import T_BASS, T_MID, T_TREBLE

Float = NDArray[np.float64]

#: Band of the rumble, Hz: below it lies warp, above it little of a drive is left. From memory, a stand-in.
RUMBLE_BAND = (10.0, 100.0)
#: By now both filters have forgotten how they began, s.
_SETTLED = 0.5


class _Noise:
    """Even noise through one filter, at its level from the first frame on."""

    def __init__(self, sample_rate: float, level: float, sections: Float, channels: int, seed: int) -> None:
        frames = math.ceil(_SETTLED * sample_rate)
        response = signal.sosfilt(sections, signal.unit_impulse(frames))
        # Even noise of variance 1 leaves a filter with the sum of its squared response as variance.
        self._gain = level / math.sqrt(2.0 * float(np.sum(response**2)))
        self._sections, self._channels = sections, channels
        self._random = np.random.default_rng(seed)
        self._state = np.zeros((len(sections), 2, channels))
        self.block(frames)

    def block(self, frames: int) -> Float:
        """The frames that come next; the same however they are divided into blocks.

        Parameters
        ----------
        frames : int

        Returns
        -------
        ndarray, shape (frames, 2), 1.0 = full scale
            To be added to the proof.
        """
        if frames == 0:  # scipy's filter refuses an empty block
            return np.zeros((0, 2))
        even = self._random.standard_normal((frames, self._channels))
        shaped, self._state = signal.sosfilt(self._sections, even, axis=0, zi=self._state)
        result: Float = np.repeat(self._gain * shaped, 2 // self._channels, axis=1)
        return result


class SurfaceNoise(_Noise):
    """Noise of the groove's surface: equal at all frequencies in the walls' velocity, heard through the replay curve.

    Independent in both walls. The realised curve is within 0.2 dB from 0 Hz to 15 kHz and 0.8 dB to 20 kHz, from
    44.1 kHz on: poles and zero mapped exactly, and one more zero at -1/7 for what the mapping gets wrong near the
    Nyquist frequency (Al-Alaoui 1993, the same zero that mends a digital integrator). The replay curve lifts the
    bass: half of the power lies below 100 Hz and a fifth below 20 Hz, so the ear finds it quieter than its level.

    Parameters
    ----------
    sample_rate : float, Hz
        From 44 100 on.
    level : float, amplitude ratio
        Root-mean-square of each channel over that of a full-scale sine, unweighted, over all frequencies from 0 Hz
        to half the sample rate. The user's own: nothing here knows how clean a pressing is.
    seed : int
        Another seed, another disc.
    """

    def __init__(self, sample_rate: float, level: float, seed: int = 1) -> None:
        zero, *poles = np.exp(-1.0 / (np.array([T_MID, T_BASS, T_TREBLE]) * sample_rate))
        super().__init__(sample_rate, level, signal.zpk2sos([zero, -1 / 7], poles, 1.0), 2, seed)


class Rumble(_Noise):
    """Rumble of the drive: noise between 10 and 100 Hz, falling by 12 dB per octave on either side (Butterworth).

    Lateral only: the same in both channels. It stands for what is heard, so no replay curve follows.

    Parameters
    ----------
    sample_rate : float, Hz
    level : float, amplitude ratio
        Root-mean-square of each channel over that of a full-scale sine, unweighted, after the band's filter.
        The user's own: nothing here knows the machine.
    seed : int
        Another seed, another machine.
    """

    def __init__(self, sample_rate: float, level: float, seed: int = 2) -> None:
        band = signal.butter(2, RUMBLE_BAND, "bandpass", fs=sample_rate, output="sos")
        super().__init__(sample_rate, level, band, 1, seed)
