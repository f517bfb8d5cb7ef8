"""The recording curve, analogue and as realised at a sample rate.

The wall's displacement, velocity and acceleration are each one recursive section (its poles and zeros
mapped exactly from the analogue ones) followed by one short symmetric-window FIR that mends what the
mapping gets wrong near the Nyquist frequency, in magnitude *and* phase. A plain bilinear transform is
wrong by decibels there. Nothing is delayed: the FIR looks equally far ahead and back.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Float = NDArray[np.float64]
Complex = NDArray[np.complex128]

#: Time constants of the recording curve, s (IEC 60098; RIAA).
T_BASS = 3180e-6
T_MID = 318e-6
T_TREBLE = 75e-6
#: Extra replay time constant of the IEC amendment, s.
T_REPLAY_HIGH_PASS = 7950e-6
#: Peak velocity per wall of a full-scale 1 kHz sine at 0 dB, m/s: 5 cm/s lateral (common reference).
REFERENCE_WALL_VELOCITY = 0.05 / math.sqrt(2.0)
#: Taps on each side of the mending FIR.
HALF_TAPS = 12
#: The realised curve is fitted up to here, Hz, or to 0.475 of the sample rate.
FIT_TO_HZ = 20_500.0
#: Weight of the response above the fit.
OUTSIDE = 1e-3


def recording_response(frequency: ArrayLike) -> Complex:
    """Velocity for constant input, H(s) = (1+s·3180µs)(1+s·75µs)/(1+s·318µs), 0 dB at 1 kHz.

    Parameters
    ----------
    frequency : array_like, shape (...), Hz

    Returns
    -------
    ndarray, shape (...), complex, dimensionless
        Source: IEC 60098 (time constants); DESIGN 5.1.
    """
    return _raw(frequency) / abs(_raw(1000.0))


def replay_response(frequency: ArrayLike, high_pass: bool = False) -> Complex:
    """The reproducing curve 1/H, with the 7950 µs high-pass of the IEC amendment on request, 0 dB at 1 kHz.

    Parameters
    ----------
    frequency : array_like, shape (...), Hz
    high_pass : bool

    Returns
    -------
    ndarray, shape (...), complex, dimensionless
    """
    play: Complex = 1.0 / recording_response(frequency)
    if not high_pass:
        return play
    at_1k = 2j * np.pi * 1000.0 * T_REPLAY_HIGH_PASS
    s = 2j * np.pi * np.asarray(frequency, dtype=np.float64) * T_REPLAY_HIGH_PASS
    extra = s / (1 + s) / abs(at_1k / (1 + at_1k))
    result: Complex = play * extra
    return result


def subsonic_response(frequency: ArrayLike, corner: float) -> Complex:
    """Second-order Butterworth high-pass that keeps the integral of the velocity finite.

    Parameters
    ----------
    frequency : array_like, shape (...), Hz
    corner : float, Hz

    Returns
    -------
    ndarray, shape (...), complex, dimensionless
    """
    x = 1j * np.asarray(frequency, dtype=np.float64) / corner
    result: Complex = x * x / (x * x + math.sqrt(2.0) * x + 1.0)
    return result


def wall_response(frequency: ArrayLike, corner: float, order: int) -> Complex:
    """Programme (1.0 = full scale) to one wall's displacement, velocity or acceleration at 0 dB.

    Parameters
    ----------
    frequency : array_like, shape (...), Hz, greater than zero
    corner : float, Hz
        Of the subsonic high-pass.
    order : {0, 1, 2}
        0 displacement (m), 1 velocity (m/s), 2 acceleration (m/s²).

    Returns
    -------
    ndarray, shape (...), complex
        Source: DESIGN 5.1-5.2.
    """
    s = 2j * np.pi * np.asarray(frequency, dtype=np.float64)
    velocity = REFERENCE_WALL_VELOCITY * recording_response(frequency) * subsonic_response(frequency, corner)
    result: Complex = velocity * s ** (order - 1)
    return result


@dataclass(frozen=True)
class RecordingFilter:
    """The curve as realised at one sample rate.

    Attributes
    ----------
    sample_rate : float, Hz
    b, a : ndarray, shape (4,)
        The recursive section shared by all three motions.
    displacement, acceleration : ndarray, shape (2·HALF_TAPS + 1,)
        FIR taps, output at the sample itself; m and m/s² at 0 dB.
    velocity : ndarray, shape (2·HALF_TAPS,)
        FIR taps, output half a sample *after* the sample, where a differentiator is benign; m/s at 0 dB.
    """

    sample_rate: float
    b: Float
    a: Float
    displacement: Float
    velocity: Float
    acceleration: Float

    def response(self, frequency: ArrayLike, order: int) -> Complex:
        """What the realised filter does, to be held against :func:`wall_response`.

        Parameters
        ----------
        frequency : array_like, shape (...), Hz
        order : {0, 1, 2}

        Returns
        -------
        ndarray, shape (...), complex
        """
        phase = 2 * np.pi * np.asarray(frequency, dtype=np.float64) / self.sample_rate
        taps = (self.displacement, self.velocity, self.acceleration)[order]
        recursive = _recursive(phase, self.b, self.a)
        result: Complex = recursive * (np.exp(-1j * np.multiply.outer(phase, _offsets(order))) @ taps)
        return result


@dataclass(frozen=True)
class ReplayFilter:
    """From one wall's displacement back to the programme, as realised at one sample rate.

    Attributes
    ----------
    sample_rate : float, Hz
    b, a : ndarray, shape (4,)
        The recursive section.
    taps : ndarray, shape (2·HALF_TAPS + 1,)
        FIR taps, output at the sample itself; 1.0 = full scale for a groove cut at 0 dB.
    """

    sample_rate: float
    b: Float
    a: Float
    taps: Float

    def response(self, frequency: ArrayLike) -> Complex:
        """What the realised filter does, to be held against ``replay_response·s / REFERENCE_WALL_VELOCITY``.

        Parameters
        ----------
        frequency : array_like, shape (...), Hz

        Returns
        -------
        ndarray, shape (...), complex, 1/m
        """
        phase = 2 * np.pi * np.asarray(frequency, dtype=np.float64) / self.sample_rate
        shape = np.exp(-1j * np.multiply.outer(phase, _offsets(0))) @ self.taps
        result: Complex = _recursive(phase, self.b, self.a) * shape
        return result


@lru_cache(maxsize=16)
def recording_filter(sample_rate: float, corner: float, outside: float = OUTSIDE) -> RecordingFilter:
    """Design the filter for one sample rate: within 0.1 dB of the curve from 20 Hz to 20 kHz.

    Parameters
    ----------
    sample_rate : float, Hz
        44 100 to 192 000.
    corner : float, Hz
        Of the subsonic high-pass.
    outside : float
        Weight of everything above the fit; a tenth of the usual brings 20 kHz within 1e-5 from 80 kHz on.

    Returns
    -------
    RecordingFilter
    """
    w0 = 2 * np.pi * corner
    poles = np.array([-1 / T_MID, w0 * (-1 + 1j) / math.sqrt(2), w0 * (-1 - 1j) / math.sqrt(2)])
    b, a = _mapped(np.array([0.0, -1 / T_BASS, -1 / T_TREBLE]), poles, sample_rate)
    displacement, velocity, acceleration = (
        _mend(sample_rate, partial(wall_response, corner=corner, order=order), b, a, _offsets(order), outside)
        for order in (0, 1, 2)
    )
    return RecordingFilter(sample_rate, b, a, displacement, velocity, acceleration)


@lru_cache(maxsize=16)
def replay_filter(sample_rate: float, high_pass: bool = False) -> ReplayFilter:
    """Design the way back for one sample rate: within 1e-5 of the curve from 20 Hz to 20 kHz, from 80 kHz on.

    Parameters
    ----------
    sample_rate : float, Hz
    high_pass : bool
        With the 7950 µs of the IEC amendment.

    Returns
    -------
    ReplayFilter
        Source: IEC 60098 (time constants), as :func:`replay_response`; the displacement differentiated.
    """
    extra = ([0.0], [-1 / T_REPLAY_HIGH_PASS]) if high_pass else ([], [])
    zeros = np.array([0.0, -1 / T_MID, *extra[0]])
    b, a = _mapped(zeros, np.array([-1 / T_BASS, -1 / T_TREBLE, *extra[1]]), sample_rate)

    def wanted(frequency: ArrayLike) -> Complex:
        s = 2j * np.pi * np.asarray(frequency, dtype=np.float64)
        result: Complex = s * replay_response(frequency, high_pass) / REFERENCE_WALL_VELOCITY
        return result

    return ReplayFilter(sample_rate, b, a, _mend(sample_rate, wanted, b, a, _offsets(0), 0.1 * OUTSIDE))


def _mapped(zeros: NDArray[Any], poles: NDArray[Any], sample_rate: float) -> tuple[Float, Float]:
    """Numerator and denominator, four each, with zeros and poles mapped exactly to the sample rate."""
    b, a = (np.real(np.poly(np.exp(roots / sample_rate))) for roots in (zeros, poles))
    return np.append(b, np.zeros(4 - len(b))), np.append(a, np.zeros(4 - len(a)))


def _raw(frequency: ArrayLike) -> Complex:
    s = 2j * np.pi * np.asarray(frequency, dtype=np.float64)
    result: Complex = (1 + s * T_BASS) * (1 + s * T_TREBLE) / (1 + s * T_MID)
    return result


def _offsets(order: int) -> Float:
    """Where each tap looks, in samples back from the output's own place."""
    if order == 1:
        return np.arange(-HALF_TAPS, HALF_TAPS, dtype=np.float64) + 0.5
    return np.arange(-HALF_TAPS, HALF_TAPS + 1).astype(np.float64)


def _recursive(phase: Float, b: Float, a: Float) -> Complex:
    z = np.exp(1j * np.asarray(phase, dtype=np.float64))
    result: Complex = np.asarray(np.polyval(b, z) / np.polyval(a, z), dtype=np.complex128)
    return result


def _mend(
    sample_rate: float, response: Callable[[ArrayLike], Complex], b: Float, a: Float, offsets: Float, outside: float
) -> Float:
    """Least-squares FIR that turns the recursive section into the analogue response."""
    edge = min(FIT_TO_HZ, 0.475 * sample_rate)
    f = np.concatenate([np.linspace(1.0, 2000.0, 400), np.linspace(2000.0, edge, 3000)])
    target = response(f) / _recursive(2 * np.pi * f / sample_rate, b, a)
    inside = np.exp(-2j * np.pi * np.multiply.outer(f / sample_rate, offsets))
    inside /= np.abs(target)[:, None]
    # Above the fit the response only has to stay small: a small share of the weight is enough for that.
    g = np.linspace(edge, sample_rate / 2, 200)
    above = np.exp(-2j * np.pi * np.multiply.outer(g / sample_rate, offsets))
    above *= outside / abs(target[-1])
    wanted = np.concatenate([target / np.abs(target), np.zeros(len(g))])
    matrix = np.concatenate([inside, above])
    taps, *_ = np.linalg.lstsq(
        np.concatenate([matrix.real, matrix.imag]), np.concatenate([wanted.real, wanted.imag]), rcond=None
    )
    result: Float = taps
    return result
