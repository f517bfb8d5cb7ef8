"""Where and how the disc departs from the programme: energy no linear system explains, and treble lost, per second."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Float = NDArray[np.float64]
Single = NDArray[np.float32]

#: Centres of the octave bands that distortion is told in, Hz (IEC 61260, nominal).
OCTAVES_HZ = (31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16_000.0)


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
        programme has too little.
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
