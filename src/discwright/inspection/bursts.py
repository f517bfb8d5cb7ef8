"""Faults that last: noise that swells over part of a turn, and sound that is missing; in cells of five milliseconds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_closing, label, median_filter, uniform_filter1d

from discwright.inspection.difference import CELL_S, Cells

Float = NDArray[np.float64]
Marks = NDArray[np.bool_]

#: A swish is this much louder than what is usual around it, and than the music's own treble masks, dB, for so long, s.
SWISH_DB, SWISH_OVER_MUSIC_DB, SWISH_S = 6.0, 0.0, 0.06
#: A dropout keeps less than this of the sound, for so long, s, where the sound stands so much over the noise, ratio.
DROPOUT_GAIN, DROPOUT_S, _CLEAR = 0.4, 0.012, 6.0
#: Half of what counts as around, s, and gaps that are closed over, cells.
_AROUND_S, _GAP = 4.0, 5
#: Share of the music that is usually left over may grow to this before it is called noise, ratio of mean squares.
_REST = 6.0


@dataclass(frozen=True)
class Burst:
    """One fault that lasts.

    Attributes
    ----------
    kind : {"swish", "dropout"}
    begin, end : float, s
        Of the programme.
    channel : {"left", "right", "both"}
    size_db : float
        Of a swish: over what masks it; of a dropout: what is missing.
    """

    kind: str
    begin: float
    end: float
    channel: str
    size_db: float


def find_swishes(cells: Cells, noise: Float) -> list[Burst]:
    """Noise above 2 kHz that swells.

    Parameters
    ----------
    cells : Cells
    noise : ndarray, shape (2 channels,)
        Root mean square of the surface noise above 2 kHz.

    Returns
    -------
    list of Burst
    """
    spare, music = cells.spare[:, 0], cells.expected[:, 0]
    if len(spare) < 4:
        return []
    smooth = uniform_filter1d(spare, 4, axis=0)
    usual = np.maximum(_around(spare), noise**2)
    share = np.where(music > 2 * noise**2, np.maximum(spare - usual, 0) / (music + 1e-20), 0)
    rest = _around(share) * uniform_filter1d(music, 4, axis=0)
    masks = np.maximum(uniform_filter1d(music, 4, axis=0) * 10 ** (SWISH_OVER_MUSIC_DB / 10), 2 * usual)
    over = (smooth > usual * 10 ** (SWISH_DB / 10)) & (smooth > masks) & (smooth > _REST * rest)
    return _runs(over, np.sqrt(smooth / masks), "swish", SWISH_S)


def find_dropouts(cells: Cells, noise: Float) -> list[Burst]:
    """Places where the sound that was cut is not there.

    Parameters
    ----------
    cells : Cells
    noise : ndarray, shape (2 bands, 2 channels)

    Returns
    -------
    list of Burst
    """
    if len(cells.spare) < 4:
        return []
    music = uniform_filter1d(cells.expected.sum(axis=1), 2, axis=0)
    gain = 1 + uniform_filter1d(cells.product, 2, axis=0) / (music + 1e-20)
    clear = music > _CLEAR**2 * np.sum(noise**2, axis=0)
    # Sound that is merely out of place has no gain either, but it is as loud as it should be.
    heard = uniform_filter1d((cells.spare + cells.expected).sum(axis=1) + 2 * cells.product, 2, axis=0)
    out = clear & (gain < DROPOUT_GAIN) & (heard < DROPOUT_GAIN * music)
    missing = 1 / np.sqrt(np.clip(heard / (music + 1e-20), 1e-4, 1.0))
    return _runs(out, missing, "dropout", DROPOUT_S)


def _around(values: Float) -> Float:
    """The median over some seconds, worked out on every tenth cell."""
    thin = median_filter(values[::10], (2 * round(_AROUND_S / CELL_S / 10) + 1, 1), mode="nearest")
    at = np.minimum(np.arange(len(values)) // 10, len(thin) - 1)
    result: Float = thin[at]
    return result


def _runs(marks: Marks, ratio: Float, kind: str, least: float) -> list[Burst]:
    """Runs of marked cells, both channels together where both speak."""
    closed = binary_closing(np.pad(marks.any(axis=1), _GAP), np.ones(_GAP))[_GAP:-_GAP]
    numbered, count = label(closed)
    found = []
    for k in range(1, count + 1):
        where = np.flatnonzero(numbered == k)
        begin, end = int(where[0]), int(where[-1]) + 1
        if (end - begin) * CELL_S < least:
            continue
        shares = marks[begin:end].mean(axis=0)
        if shares.max() < 0.5:
            continue
        channel = "both" if shares.min() > 0.5 * shares.max() else ("left", "right")[int(np.argmax(shares))]
        size = 20 * float(np.log10(np.median(ratio[begin:end].max(axis=1))))
        found.append(Burst(kind, begin * CELL_S, end * CELL_S, channel, size))
    return found
