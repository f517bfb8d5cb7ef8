"""True peak, flat tops, digital silence and clicks, found as the programme streams by.

Each finder takes pieces of sound of shape (n, 2) through ``feed`` and answers once with ``result``.
"""

from __future__ import annotations

import math
from collections.abc import Sized
from dataclasses import dataclass
from typing import Literal

import numpy as np
import soxr
from numpy.typing import NDArray
from scipy import ndimage

from discwright.findings import Finding

Sound = NDArray[np.float32]
Ints = NDArray[np.int64]
Pair = tuple[float | None, float | None]
Channel = Literal["left", "right"]
CHANNELS: tuple[Channel, Channel] = ("left", "right")

#: No list grows past this; the longest runs are kept.
LIST_MAX = 1000
OVERSAMPLING = 4
SILENCE_S = 0.5

FULL_SCALE = 0.999
FULL_SCALE_RUN = 3
FLAT_TOP_RUN = 4
FLAT_TOP_LEVEL = 0.1
FLAT_TOP_STEP = 1e-3

CLICK_LEVEL = 1e-3
CLICK_RATIO = 12.0
CLICK_MISFIT = 0.2
#: What one wrong sample leaves after the fourth difference.
CLICK_SHAPE = np.array([1.0, -4.0, 6.0, -4.0, 1.0])
#: What a sudden change of slope leaves.
CORNER_SHAPE = np.array([0.0, -1.0, 2.0, -1.0, 0.0])
CLICK_BLOCK = 32
CLICK_NEAR = 8
CLICK_FAR = 32
CLICK_COMPANIONS = 1


@dataclass(frozen=True)
class ClippedRun:
    """Samples that stand still at the top of the waveform."""

    time_s: float
    channel: Channel
    samples: int


@dataclass(frozen=True)
class Silence:
    """Both channels standing still, at zero or elsewhere."""

    time_s: float
    duration_s: float


@dataclass(frozen=True)
class Click:
    """One sample out of line with its neighbours."""

    time_s: float
    channel: Channel


class PeakMeter:
    """Sample peak, and true peak by four-fold oversampling (BS.1770-4, annex 2).

    The interpolated waveform passes close to every sample but not through it, so the true peak is never less
    than the sample peak. Sound is taken as silent before its first and after its last sample.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self._stream = soxr.ResampleStream(
            sample_rate_hz, OVERSAMPLING * sample_rate_hz, 2, dtype="float32", quality="VHQ"
        )
        self._sample = np.zeros(2)
        self._true = np.zeros(2)

    def feed(self, sound: Sound) -> None:
        """Take the next piece, shape (n, 2)."""
        self._sample = np.maximum(self._sample, _highest(sound))
        self._oversample(sound, last=False)

    def result(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Sample peak and true peak of left and right, 1.0 = full scale."""
        self._oversample(np.zeros((0, 2), dtype=np.float32), last=True)
        true = np.maximum(self._true, self._sample)
        return (float(self._sample[0]), float(self._sample[1])), (float(true[0]), float(true[1]))

    def _oversample(self, sound: Sound, *, last: bool) -> None:
        between = self._stream.resample_chunk(np.ascontiguousarray(sound), last=last)
        self._true = np.maximum(self._true, _highest(between))


class ClippingFinder:
    """Flat tops.

    A run is clipped when samples of one value follow each other

    - 3 or more at 0.999 of full scale or beyond, or
    - 4 or more within 0.1 % of that channel's own highest (or lowest) sample, if that is above −20 dBFS:
      what was clipped and then turned down;

    and when the waveform leaves the run by a step of at least 0.1 %. Without the last condition the round top
    of a low note, quantised to 16 bits, would count. A square wave cannot be told from clipping.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate = sample_rate_hz
        self._sides = [_Runs(FULL_SCALE_RUN) for _ in CHANNELS]
        self._last = np.full(2, np.nan, dtype=np.float32)
        self._extremes = np.zeros((2, 2))
        self._found = np.zeros((0, 4))

    def feed(self, sound: Sound) -> None:
        """Take the next piece, shape (n, 2)."""
        found = [self._found]
        for channel, side in enumerate(self._sides):
            wave = sound[:, channel]
            self._extremes[channel] = (
                min(self._extremes[channel, 0], float(wave.min())),
                max(self._extremes[channel, 1], float(wave.max())),
            )
            first = side.position
            starts, lengths = side.feed(_stands_still(wave, self._last[channel]))
            after = starts + lengths - first
            value = np.where(after > 0, wave[after - 1], self._last[channel]).astype(np.float64)
            leaves = np.abs(wave[after] - value) >= FLAT_TOP_STEP * np.abs(value)
            rows = np.column_stack([starts, lengths, value, np.full(starts.shape, channel)])
            found.append(rows[leaves & (np.abs(value) >= FLAT_TOP_LEVEL)])
        self._last = sound[-1].copy()
        self._found = self._longest(np.concatenate(found))

    def result(self) -> tuple[ClippedRun, ...]:
        """The clipped runs by time, at most the 1000 longest."""
        rows = self._found[np.lexsort((self._found[:, 3], self._found[:, 0]))]
        return tuple(
            ClippedRun(start / self._rate, CHANNELS[int(channel)], int(length))
            for start, length, _, channel in rows.tolist()
        )

    def _longest(self, rows: NDArray[np.float64]) -> NDArray[np.float64]:
        """The rows that are clipped as far as is known, the longest ones if there are too many."""
        lengths, values, channels = rows[:, 1], rows[:, 2], rows[:, 3].astype(np.int64)
        tops = np.abs(self._extremes[channels, (values > 0.0).astype(np.int64)])
        full = np.abs(values) >= FULL_SCALE
        flat = (np.abs(values) >= FULL_SCALE * tops) & (lengths >= FLAT_TOP_RUN)
        rows = rows[full | flat]
        if len(rows) > LIST_MAX:
            rows = rows[np.argsort(-rows[:, 1], kind="stable")[:LIST_MAX]]
        return rows


class SilenceFinder:
    """Digital silence: both channels standing still for half a second or more."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate = sample_rate_hz
        self._runs = _Runs(math.ceil(SILENCE_S * sample_rate_hz))
        self._last = np.full(2, np.nan, dtype=np.float32)
        self._found: list[Silence] = []

    def feed(self, sound: Sound) -> None:
        """Take the next piece, shape (n, 2)."""
        left, right = (_stands_still(sound[:, c], self._last[c]) for c in (0, 1))
        self._last = sound[-1].copy()
        self._keep(*self._runs.feed(left & right))

    def result(self) -> tuple[Silence, ...]:
        """The silences by time."""
        self._keep(*self._runs.feed(np.zeros(1, dtype=np.bool_)))
        return tuple(self._found)

    def _keep(self, starts: Ints, lengths: Ints) -> None:
        self._found += [Silence(s / self._rate, n / self._rate) for s, n in zip(starts.tolist(), lengths.tolist())]


class ClickFinder:
    """Single wrong samples.

    Music is smooth where one sample is not: the fourth difference lowers music by far more than it lowers a
    click, which comes out as 1 −4 6 −4 1. A click is reported where that difference

    - stands out at least twelve-fold from the median rms of the blocks of 32 samples around it (17 blocks),
    - has that shape, to 20 % of its peak over the 13 samples around it (a drum or a step has not), and rather
      that one than the shape of a corner,
    - stands alone: at most one other half as high within 1024 samples (a buzzing reed or synthesiser does
      not),

    and where the sample is off by at least −60 dBFS. Clicks of two samples or more are not sought.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate = sample_rate_hz
        self._margin = CLICK_FAR * CLICK_BLOCK
        # As if silence came before: the first block judged is then the first of the programme.
        self._held = np.zeros((self._margin + 2, 2), dtype=np.float32)
        self._position = -len(self._held)
        self._found: list[Click] = []

    def feed(self, sound: Sound) -> None:
        """Take the next piece, shape (n, 2)."""
        sound = np.concatenate([self._held, sound])
        blocks = (len(sound) - 4) // CLICK_BLOCK
        judged = blocks - 2 * CLICK_FAR
        if judged > 0:
            for channel in (0, 1):
                self._judge(sound[: blocks * CLICK_BLOCK + 4, channel], channel)
            sound = sound[judged * CLICK_BLOCK :]
            self._position += judged * CLICK_BLOCK
        self._held = sound

    def result(self) -> tuple[Click, ...]:
        """The clicks by time, at most 1000."""
        self.feed(np.zeros((self._margin + CLICK_BLOCK + 2, 2), dtype=np.float32))
        return tuple(sorted(self._found, key=lambda click: (click.time_s, click.channel))[:LIST_MAX])

    def _judge(self, wave: Sound, channel: int) -> None:
        """Look for clicks in one channel, all but the outer 32 blocks at either end."""
        rough = _fourth_difference(wave)
        blocks = rough.reshape(-1, CLICK_BLOCK)
        tops = np.maximum(blocks.max(axis=1), -blocks.min(axis=1))
        rms = np.sqrt(np.einsum("bs,bs->b", blocks, blocks) / CLICK_BLOCK)
        likely = (tops >= CLICK_SHAPE[2] * CLICK_LEVEL) & (
            tops > CLICK_RATIO * ndimage.minimum_filter1d(rms, 2 * CLICK_NEAR + 1)
        )
        likely[:CLICK_FAR] = likely[-CLICK_FAR:] = False
        for block in np.flatnonzero(likely).tolist():
            usual = float(np.median(rms[block - CLICK_NEAR : block + CLICK_NEAR + 1]))
            at = block * CLICK_BLOCK + int(np.argmax(np.abs(blocks[block])))
            if tops[block] > CLICK_RATIO * usual and _alone(tops, block) and _click_shaped(rough, at):
                self._found.append(Click((self._position + at + 2) / self._rate, CHANNELS[channel]))


def peak_findings(
    sample_peak_dbfs: Pair,
    true_peak_dbtp: Pair,
    duration_s: float,
    clipped: tuple[ClippedRun, ...],
    silences: tuple[Silence, ...],
    clicks: tuple[Click, ...],
) -> list[Finding]:
    """What of these readings matters to a cut: one finding of each kind, counts in its text.

    Parameters
    ----------
    sample_peak_dbfs, true_peak_dbtp : (float, float), dB
        Left and right.
    duration_s : float, s
    clipped : tuple of ClippedRun
    silences : tuple of Silence
    clicks : tuple of Click

    Returns
    -------
    list of Finding
    """
    found = [*_over_findings(sample_peak_dbfs, true_peak_dbtp)]
    if clipped:
        run = max(clipped, key=lambda run: run.samples)
        remedy = (
            f"{_count(clipped, 'clipped run')}, the longest {run.samples} samples in the {run.channel} "
            "channel. Ask for a transfer that is not clipped, or listen here first."
        )
        found.append(Finding("clipped", "warn", run.time_s, 1, None, None, len(clipped), 0, "runs", remedy))
    if clicks:
        click = clicks[0]
        remedy = (
            f"{_count(clicks, 'click')} of a single sample, the first in the {click.channel} channel. "
            "Listen; repair or transfer again if it is heard."
        )
        found.append(Finding("click", "warn", click.time_s, 1, None, None, len(clicks), 0, "clicks", remedy))
    # Head and tail are no news. The last sample that stands still ends the programme, whatever the rounding.
    inside = [s for s in silences if s.time_s > 0.0 and s.time_s + s.duration_s < duration_s - 1e-6]
    if inside:
        gap = max(inside, key=lambda silence: silence.duration_s)
        remedy = (
            f"{_count(inside, 'digital silence')} inside, the longest {gap.duration_s:.1f} s. "
            "Check that it is a gap between bands and not a dropout."
        )
        found.append(Finding("silence", "note", gap.time_s, 1, None, None, gap.duration_s, SILENCE_S, "s", remedy))
    return found


def _over_findings(sample_peak_dbfs: Pair, true_peak_dbtp: Pair) -> list[Finding]:
    """Beyond full scale in the samples, or else between them."""
    sample, true = (
        max((peak for peak in pair if peak is not None), default=-math.inf)
        for pair in (sample_peak_dbfs, true_peak_dbtp)
    )
    if sample > 0.0:
        remedy = (
            f"Samples reach {sample:+.1f} dBFS. The cut takes them as they are; "
            "keep this file out of whole-number formats."
        )
        return [Finding("over_full_scale", "note", None, 1, None, None, sample, 0.0, "dBFS", remedy)]
    if true > 0.0:
        remedy = (
            f"The waveform rises to {true:+.1f} dBTP between samples. The cut takes it as it is; "
            "leave that much room before any converter."
        )
        return [Finding("true_peak", "note", None, 1, None, None, true, 0.0, "dBTP", remedy)]
    return []


def _count(found: Sized, word: str) -> str:
    n = len(found)
    return f"{n} {word}" if n == 1 else f"{n}{' or more' if n >= LIST_MAX else ''} {word}s"


class _Runs:
    """Runs of samples that stand still, across the borders of pieces."""

    def __init__(self, shortest: int) -> None:
        self.position = 0
        self._shortest = shortest
        self._start = 0

    def feed(self, still: NDArray[np.bool_]) -> tuple[Ints, Ints]:
        """Starts and lengths of the runs that end here, from whether each sample equals the one before."""
        edges = np.concatenate([[self._start], np.flatnonzero(~still) + self.position])
        self._start = int(edges[-1])
        self.position += len(still)
        lengths = np.diff(edges)
        long = lengths >= self._shortest
        return edges[:-1][long], lengths[long]


def _stands_still(wave: Sound, before: np.float32) -> NDArray[np.bool_]:
    """Whether each sample equals the one before it."""
    still = np.empty(len(wave), dtype=np.bool_)
    still[:1] = wave[:1] == before
    np.equal(wave[1:], wave[:-1], out=still[1:])
    return still


def _highest(sound: Sound) -> NDArray[np.float64]:
    """Largest absolute sample of each channel, shape (2,)."""
    if len(sound) == 0:
        return np.zeros(2)
    # Column by column: NumPy reduces two columns side by side ten times slower.
    return np.array([max(wave.max(), -wave.min()) for wave in sound.T], dtype=np.float64)


def _fourth_difference(wave: Sound) -> Sound:
    second = wave[2:] - wave[1:-1]
    second -= wave[1:-1] - wave[:-2]
    fourth = second[2:] - second[1:-1]
    fourth -= second[1:-1] - second[:-2]
    return fourth


def _alone(tops: Sound, block: int) -> bool:
    """Whether no more than one block around, the two that a click may share excepted, is half as rough."""
    around = tops[block - CLICK_FAR : block + CLICK_FAR + 1] >= 0.5 * tops[block]
    around[CLICK_FAR - 1 : CLICK_FAR + 2] = False
    return int(np.count_nonzero(around)) <= CLICK_COMPANIONS


def _click_shaped(rough: Sound, at: int) -> bool:
    """Whether the fourth difference around `at` is one click, little else, and no corner."""
    around = rough[at - 6 : at + 7].astype(np.float64)
    rest = _rest(around, CLICK_SHAPE)
    corner = _rest(around, CORNER_SHAPE)
    return bool(np.abs(rest).max() < CLICK_MISFIT * abs(around[6]) and rest @ rest < corner @ corner)


def _rest(around: NDArray[np.float64], shape: NDArray[np.float64]) -> NDArray[np.float64]:
    """What the best amount of `shape` in the middle leaves of 13 samples."""
    rest = around.copy()
    rest[4:9] -= shape * (around[4:9] @ shape) / (shape @ shape)
    return rest
