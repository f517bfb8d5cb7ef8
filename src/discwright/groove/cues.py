"""The timed cues of a cut, from the rim to the locked groove: one list for the sheet and for every lathe file."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from discwright.groove.equipment import DiscFormat
from discwright.groove.grid import FINE, JOIN
from discwright.groove.table import STOP, SpiralRows

#: Kinds of cue in the order in which they come.
CUE_KINDS = ("lead_in", "fine", "music", "join", "band", "lead_out", "stop", "lift")


@dataclass(frozen=True)
class Cue:
    """One moment at which the lathe or the person beside it does something.

    Attributes
    ----------
    kind : str
        lead_in: lower the tip. fine: fine pitch begins. music: first sample. join: the coarse spiral after a
        band. band: the next band's first sample. lead_out: end of music. stop: the locked groove begins.
        lift: it is closed, lift the tip.
    time : float, s
        From the first sample of music.
    turn : float
    radius : float, m
    band : int or None
        The band that begins (music, band) or ends (join, lead_out), counted from 1.
    """

    kind: str
    time: float
    turn: float
    radius: float
    band: int | None = None


def cue_list(rows: SpiralRows, bands: tuple[tuple[float, float], ...], disc: DiscFormat) -> tuple[Cue, ...]:
    """Every cue of a side in order of time.

    Parameters
    ----------
    rows : SpiralRows
    bands : tuple of (float, float), s
        Begin and end of each band's music.
    disc : DiscFormat

    Returns
    -------
    tuple of Cue
        A join too short for a coarse move is left out; where the music has run past the locked groove there
        is neither stop nor lift.
    """

    def cue(kind: str, time: float, band: int | None = None) -> Cue:
        radius = float(np.interp(time, rows.time, rows.radius))
        return Cue(kind, time, time / disc.turn_time, radius, band)

    end = float(rows.time[rows.music][-1])
    cues = [cue("lead_in", float(rows.time[0]))]
    fine = np.flatnonzero(rows.zone == FINE)
    if len(fine):
        cues.append(cue("fine", float(rows.time[fine[0]])))
    cues.append(cue("music", 0.0, 1))
    for number, ((_, finish), (start, _)) in enumerate(pairwise(bands), 1):
        coarse = (rows.zone == JOIN) & (rows.time >= finish - 1e-9) & (rows.time < start - 1e-9)
        if coarse.any():
            cues.append(cue("join", float(rows.time[np.argmax(coarse)]), number))
        cues.append(cue("band", start, number + 1))
    cues.append(cue("lead_out", end, len(bands)))
    locked = np.flatnonzero(rows.zone == STOP)
    if len(locked) and rows.time[locked[0]] > end:
        cues.append(cue("stop", float(rows.time[locked[0]])))
        cues.append(cue("lift", float(rows.time[-1])))
    return tuple(cues)
