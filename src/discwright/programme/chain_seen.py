"""What a capture without any test signal holds instead, in a sentence."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from discwright.programme.chain_find import Rising, Steady
from discwright.programme.chain_frames import HOP_S, Frames
from discwright.units import clock

_DO = "capture what discwright chain --make FILE writes, or steady tones of half a second and more"


def what_was_seen(frames: Frames, tones: Sequence[Steady], rising: Sequence[Rising]) -> str:
    """The sentence, to stand after the name of the capture.

    Parameters
    ----------
    frames : Frames
    tones : sequence of Steady
        What stood still for a moment.
    rising : sequence of Rising
    """
    if frames.silent:
        return f"holds no test signal: {_time(frames.length)} of digital silence, every sample is zero; {_DO}."
    loudest = float(frames.louder.max(initial=0.0))
    if loudest <= 0.0:
        return f"holds no test signal: with {frames.length:.2f} s it is too short for one; {_DO}."
    level = 20.0 * math.log10(loudest)
    seen = f"{_time(frames.length)} of sound up to {level:.1f} dBFS"
    sounding = frames.louder > 1e-3 * loudest
    line = sounding & (frames.share > 0.2)
    if line.sum() > 0.2 * sounding.sum():
        low, high = np.percentile(frames.frequency[line], [10.0, 90.0])
        seen += f" whose strongest frequency lies between {_hz(low)} and {_hz(high)} most of the time"
    else:
        seen += " without a strongest frequency, as noise is"
    if rising:
        seen += f", a sine rising past 1 kHz at {clock(rising[0].at)}"
    if not tones:
        seen += ", no tone that stands still for 0.4 s"
    else:
        still = sum(one.end - one.start for one in tones)
        share = 100.0 * still / max(HOP_S * float(sounding.sum()), HOP_S)
        many = f"{len(tones)} places where a tone stands" if len(tones) > 1 else "one place where a tone stands"
        seen += f", {many} still for a moment ({share:.0f} % of the time)"
    return f"holds no test signal: {seen}; {_DO}."


def _hz(frequency: float) -> str:
    return f"{frequency / 1000.0:.1f} kHz" if frequency >= 1000.0 else f"{frequency:.0f} Hz"


def _time(seconds: float) -> str:
    return clock(seconds) if seconds >= 10.0 else f"{seconds:.2f} s"
