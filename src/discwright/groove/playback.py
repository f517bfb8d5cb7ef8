"""Play a planned groove: programme in, the same programme as it will be heard out, block by block.

    programme ─▶ recording curve ─▶ walls ─▶ tip (tracing) ─▶ arm and disc (places) ─▶ replay curve ─▶ scanning ─▶ heard
                                      └────────▶ nothing but the disc's turning ─▶ replay curve ─▶ the programme as cut

Everything is linear but tracing and the shifting of places, and those two are done on a wall so finely sampled
that their products do not fold back. Nothing is delayed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import soxr
from numpy.typing import NDArray

from discwright.groove import kernels
from discwright.groove.curve import OUTSIDE, recording_filter, replay_filter
from discwright.groove.passage import ALIKE, TURNING, Hearing, Passage
from discwright.groove.places import Places
from discwright.groove.player import aperture_taps, contact_radius
from discwright.groove.stream import Mended
from discwright.groove.surface import Rumble, SurfaceNoise
from discwright.groove.tracing import EVERY, WallTracer

Float = NDArray[np.float64]
Single = NDArray[np.float32]

#: The curves are realised at this rate or above, the wall is traced at this one or above, Hz.
_WORKING_HZ, _FINE_HZ = 80_000.0, 340_000.0
#: Samples of the fine rate handled at once: what one step leaves is still near when the next needs it.
_PIECE = 1 << 16
#: The scanning filter is drawn up for so many speeds, and changed so often, s.
_SPEEDS, _SCAN_STEP = 33, 0.1


def play(
    blocks: Iterable[Single], passage: Passage, hearings: Sequence[Hearing]
) -> Iterator[tuple[Float, tuple[Float, ...]]]:
    """Hear a passage as it was cut, and with each tip and player.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (n, 2), float32
        The programme from `passage.first - passage.lead` on, 1.0 = full scale; at least to the passage's end, and
        `passage.tail` frames further where the side goes on.
    passage : Passage
    hearings : sequence of Hearing

    Yields
    ------
    programme : ndarray, shape (m, 2)
        Through the subsonic high-pass, as it is cut, and through what of the first hearing's player is `ALIKE`.
    heard : tuple of ndarray, shape (m, 2)
        One for each hearing, level-matched by the cutting level: what a perfect player would give is the programme.

    Raises
    ------
    CallError
        If the arm does not reach the radius.
    """
    first = hearings[0]
    alike = tuple(effect for effect in first.effects if effect in ALIKE)
    ears = [_Ear(passage, hearing) for hearing in (Hearing(None, first.player, alike), *hearings)]
    walls = [_Wall(passage) for _ in range(2)]
    fine = [soxr.ResampleStream(walls[0].rate, ears[0].fine_rate, 1, dtype="float64", quality="VHQ") for _ in walls]
    is_fine = any(ear.shifts or ear.traces for ear in ears)
    waiting = [np.zeros((0, 2)) for _ in ears]
    skip, left = passage.lead, passage.frames
    size = _PIECE * passage.sample_rate // ears[0].fine_rate

    with ThreadPoolExecutor(2) as pool:
        for block, last in _with_end(blocks, size, max(ear.reach for ear in ears), passage.sample_rate):

            def cut(wall: int, block: Single = block, last: bool = last) -> tuple[Float, Float]:
                coarse = walls[wall].push(block[:, wall], last)
                return coarse, fine[wall].resample_chunk(coarse, last) if is_fine else coarse

            both = list(pool.map(cut, (0, 1)))
            for k, ear in enumerate(ears):
                waiting[k] = np.concatenate([waiting[k], ear.push(both, last, pool)])
            ready = min(len(one) for one in waiting)
            begin, end = min(skip, ready), min(skip + left, ready)
            if end > begin:
                yield waiting[0][begin:end], tuple(one[begin:end] for one in waiting[1:])
            skip, left = skip - begin, left - (end - begin)
            waiting = [one[ready:] for one in waiting]
            if left == 0:
                return


def _with_end(blocks: Iterable[Single], size: int, reach: float, sample_rate: int) -> Iterator[tuple[Single, bool]]:
    """The blocks in pieces of a handy size, then as much stillness as brings out everything that is looked ahead to."""
    for block in blocks:
        for at in range(0, len(block), size):
            yield block[at : at + size], False
    yield np.zeros((math.ceil((reach + 0.02) * sample_rate), 2), dtype=np.float32), True


def _working_rate(passage: Passage) -> int:
    """At which the curves are realised, Hz."""
    return passage.sample_rate * (2 if passage.sample_rate < _WORKING_HZ else 1)


class _Wall:
    """One channel of the programme to its wall's displacement, m, at the working rate."""

    def __init__(self, passage: Passage) -> None:
        self.rate = _working_rate(passage)
        times = self.rate // passage.sample_rate
        self._up = soxr.ResampleStream(1, times, 1, dtype="float64", quality="VHQ") if times > 1 else None
        design = recording_filter(self.rate, passage.corner, 0.1 * OUTSIDE)
        self._curve = Mended(design.b, design.a, design.displacement * passage.gain)

    def push(self, x: Single, last: bool) -> Float:
        wide = x.astype(np.float64)
        return self._curve.push(wide if self._up is None else self._up.resample_chunk(wide, last), last)


class _Back:
    """One wall's displacement, as the tip follows it, to one channel of what is heard."""

    def __init__(self, passage: Passage, working: int, fine: int, gain: float, hearing: Hearing) -> None:
        self._down = None if fine == working else soxr.ResampleStream(fine, working, 1, dtype="float64", quality="VHQ")
        design = replay_filter(working, "high_pass" in hearing.effects)
        self._curve = Mended(design.b, design.a, design.taps / gain)
        rate = passage.sample_rate
        self._last = None if working == rate else soxr.ResampleStream(working, rate, 1, dtype="float64", quality="VHQ")

    def push(self, z: Float, last: bool) -> Float:
        if self._down is not None:
            z = self._down.resample_chunk(z, last)
        y = self._curve.push(z, last)
        return y if self._last is None else self._last.resample_chunk(y, last)


class _Ear:
    """Everything between the two walls and the ear, for one tip and player."""

    def __init__(self, passage: Passage, hearing: Hearing) -> None:
        self._passage, self._hearing, effects = passage, hearing, hearing.effects
        working = _working_rate(passage)
        self.fine_rate = working * 2 ** max(0, math.ceil(math.log2(_FINE_HZ / working)))
        self.traces = hearing.tip is not None
        self.shifts = any(effect in effects for effect in ("tracking", "vertical", *TURNING))
        self.reach = 0.0
        if hearing.tip is not None:
            radius, slowest = hearing.tip.side_radius, passage.least_way(self.fine_rate)
            self._tracers = [WallTracer(radius, side, self._way, slowest) for side in (1.0, -1.0)]
            self.reach += (radius / slowest + 1) / self.fine_rate
        if self.shifts:
            assert hearing.player is not None
            self._places = Places(passage, hearing.player, effects, self.fine_rate)
            self.reach += self._places.reach / self.fine_rate
        used = self.fine_rate if self.traces or self.shifts else working
        self._back = [_Back(passage, working, used, passage.gain, hearing) for _ in range(2)]
        self._surface = _surface(passage, hearing)
        self._scan = _Scan(passage, hearing) if "scanning" in effects and hearing.tip is not None else None

    def _way(self, first: int, steps: int) -> Float:
        time = self._passage.start + (first + EVERY * (np.arange(steps) + 0.5)) / self.fine_rate
        return self._passage.way(time, self.fine_rate)

    def push(self, walls: Sequence[tuple[Float, Float]], last: bool, pool: ThreadPoolExecutor) -> Float:
        """Both walls, at the working and at the fine rate, to what is heard, shape (m, 2)."""
        signals = [fine if self.traces or self.shifts else coarse for coarse, fine in walls]
        if self.traces:
            signals = list(pool.map(lambda tracer, wall: tracer.push(wall), self._tracers, signals))
        if self.shifts:
            signals = list(self._places.push(signals[0], signals[1], pool))
        left, right = pool.map(lambda back, z: back.push(z, last), self._back, signals)
        heard: Float = np.column_stack([left, right])
        if self._scan is not None:
            heard = self._scan.push(heard, last)
        for source in self._surface:
            heard = heard + source.block(len(heard))
        return heard


class _Scan:
    """Loss from the finite patch of contact: a short symmetrical FIR that follows the groove speed."""

    def __init__(self, passage: Passage, hearing: Hearing) -> None:
        assert hearing.tip is not None
        assert hearing.player is not None
        self._passage, self._at = passage, 0
        patch = contact_radius(hearing.player.tracking_force, hearing.tip.radius, hearing.tip.side_radius)
        least, most = passage.least_radius, float(max(passage.radius.max(), passage.least_radius))
        # Loss goes with the inverse of the speed: steps even in that.
        self._inverse = np.linspace(1 / most, 1 / least, _SPEEDS)
        speeds = 2 * np.pi / (self._inverse * passage.disc.turn_time)
        self._taps = np.stack([aperture_taps(patch, speed, passage.sample_rate) for speed in speeds])
        self._half = self._taps.shape[1] // 2
        self._tail = np.zeros((self._half, 2))

    def push(self, heard: Float, last: bool) -> Float:
        end = [np.zeros((self._half, 2))] if last else []
        y = np.concatenate([self._tail, heard, *end])
        n = len(y) - 2 * self._half
        if n <= 0:
            self._tail = y
            return np.zeros((0, 2))
        self._tail = y[n:].copy()
        out = np.empty((n, 2))
        step = round(_SCAN_STEP * self._passage.sample_rate)
        channels = [np.ascontiguousarray(y[:, c]) for c in (0, 1)]
        for begin in range(0, n, step):
            end_at = min(begin + step, n)
            time = self._passage.start + (self._at + 0.5 * (begin + end_at)) / self._passage.sample_rate
            inverse = 1 / self._passage.radius_at(np.array([time]))[0]
            taps = np.array([np.interp(inverse, self._inverse, column) for column in self._taps.T])
            for c, channel in enumerate(channels):
                piece = np.empty(end_at - begin)
                kernels.convolve(channel[begin : end_at + 2 * self._half], taps, piece)
                out[begin:end_at, c] = piece
        self._at += n
        return out


def _surface(passage: Passage, hearing: Hearing) -> list[SurfaceNoise | Rumble]:
    """Noise of disc and drive, at the level the cut leaves it: a louder cut leaves less."""
    if hearing.player is None:
        return []
    sources: list[SurfaceNoise | Rumble] = []
    for effect, kind, level_db in (
        ("noise", SurfaceNoise, hearing.player.noise_level),
        ("rumble", Rumble, hearing.player.rumble_level),
    ):
        if effect in hearing.effects:
            sources.append(kind(passage.sample_rate, 10 ** (level_db / 20) / passage.gain))
    return sources
