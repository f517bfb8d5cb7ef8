"""Discs spoiled on purpose: a programme as a worn, uneven, badly centred pressing would give it back, with the truth.

    programme ─▶ disc turns (speed, hole, warp, flutter, jumps) ─▶ dropouts ─▶ crosstalk ─▶ response ─▶ gain
                                                                         noise, rumble, hum, swish ─▶ + ─▶ capture
                                                                         ticks, pops, crackle, scratches ─▶ +

It shares no code with what it tests. Time 0 is the programme's first sample, one turn lasts 60/rpm, and the angle of
a place of the groove is 360° times its turn, seen from the groove's own centre.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import soxr
from numpy.typing import NDArray
from scipy import signal
from spoiler_map import TimeMap
from spoiler_sound import (
    Floats,
    LocalLevel,
    above,
    apply_filter,
    filter_of,
    interpolate,
    noise,
    recording_curve_db,
    tick,
    tilt,
    treble,
)
from spoiler_truth import Fault, Truth
from spoiler_wrongs import Crackle, Dropout, Jump, Pop, Scratch, Spoil, Swish

__all__ = ["Crackle", "Dropout", "Fault", "Jump", "Pop", "Scratch", "Spoil", "Spoiled", "Swish", "Truth", "spoil"]

#: Above the noise's own level, this much masks a tick, dB (by definition).
NOISE_MASKS_DB = 12.0
#: Least masking, where there is neither music nor noise.
SILENCE = 10 ** (-90 / 20)
#: Ticks drawn at random stay so far from each other and from other faults, s.
APART_S = 0.25
#: No tick's peak above 2 kHz exceeds this, re 1.0: a capture has an end.
LOUDEST = 0.7
_CHUNK = 1 << 20


@dataclass(frozen=True)
class Spoiled:
    """A capture, shape (m, 2), its rate and what is wrong with it."""

    audio: NDArray[np.float32]
    sample_rate: int
    truth: Truth


@dataclass
class _Making:
    """What the steps hand on."""

    what: Spoil
    rate: int
    seed: int
    map: TimeMap
    radius: Callable[[Floats], Floats]
    music: Floats
    sound: Floats
    noise_above: Floats = field(default_factory=lambda: np.zeros(2))
    faults: list[Fault] = field(default_factory=list)

    def random(self, name: str) -> np.random.Generator:
        """A stream of its own for each thing: more noise does not move the ticks."""
        return np.random.default_rng([self.seed, zlib.crc32(name.encode())])


def spoil(
    programme: Floats | NDArray[np.float32],
    sample_rate: int,
    radius: Callable[[Floats], Floats],
    rpm: float,
    what: Spoil,
    *,
    seed: int,
) -> Spoiled:
    """Play a programme from a disc with known wrongs.

    Parameters
    ----------
    programme : ndarray, shape (n, 2)
        1.0 = full scale: the music itself, or its proof.
    sample_rate : int, Hz
    radius : callable
        Programme time in s to the groove's radius in m, arrays.
    rpm : float
    what : Spoil
    seed : int
        The same seed and wrongs make the same disc.

    Returns
    -------
    Spoiled
    """
    rate = what.sample_rate or sample_rate
    source, source_rate = np.asarray(programme, dtype=np.float64), sample_rate
    if rate < sample_rate:
        source, source_rate = soxr.resample(source, sample_rate, rate, quality="VHQ"), rate
    duration = len(programme) / sample_rate
    turning = TimeMap(
        duration, 60 / rpm, radius, start=what.start_s,
        speed=(1 + what.speed_error_percent / 100) * (0.5 if what.half_speed else 1.0),
        off_centre=what.off_centre_mm * 1e-3, off_centre_angle=math.radians(what.off_centre_angle_deg),
        warp=what.warp_mm * 1e-3, waves=what.warp_waves, warp_angle=math.radians(what.warp_angle_deg),
        flutter=what.flutter_percent / 100, flutter_hz=what.flutter_hz, jumps=what.jumps,
    )  # fmt: skip
    frames = round((turning.end - what.stops_early_s + what.after_s) * rate)
    if what.stops_early_s:
        frames = round((turning.end - what.stops_early_s) * rate)
    music = np.empty((frames, 2))
    for begin in range(0, frames, _CHUNK):
        end = min(begin + _CHUNK, frames)
        music[begin:end] = interpolate(source, turning.programme_time(np.arange(begin, end) / rate) * source_rate)
    making = _Making(what, rate, seed, turning, radius, music, np.zeros((frames, 2)))
    response = _play(making)
    _surface(making)
    _plant(making)
    audio = _finish(making)
    return Spoiled(audio, rate, _truth(making, response, duration, rpm))


def _play(making: _Making) -> Floats:
    """Music through what disc and player do to it; returns the taps of the response."""
    what, music = making.what, making.music
    if what.silence:
        music[round((1 - what.silence) * len(music)) :] = 0.0
    for one in what.dropouts:
        _drop(making, one)
    if what.mono:
        music[:] = music.mean(axis=1, keepdims=True)
    leak = 0.0 if what.crosstalk_db is None else 10 ** (what.crosstalk_db / 20)
    music += leak * music[:, ::-1].copy()
    taps = np.array([1.0])
    bends = [(tilt(what.tilt_db_per_decade), what.tilt_phase)] if what.tilt_db_per_decade else []
    bends += [(treble(what.treble_db, what.treble_kind), "minimum")] if what.treble_db else []
    for magnitude, phase in bends:
        taps = signal.fftconvolve(taps, filter_of(magnitude, making.rate, phase))
    if bends:
        music[:] = apply_filter(music, taps)
    music *= 10 ** ((what.gain_db + np.array([0.5, -0.5]) * what.balance_db) / 20)
    return taps


def _drop(making: _Making, one: Dropout) -> None:
    fade = round(0.002 * making.rate)
    for begin, end in making.map.spans(one.start_s, one.start_s + one.duration_s):
        first, last = round(begin * making.rate), round(end * making.rate)
        edge = np.interp(np.arange(first, last), [first, first + fade, last - fade, last], [0.0, 1.0, 1.0, 0.0])
        gain = 10 ** (-one.depth_db * edge / 20)
        for c in _channels(one.channel):
            piece = making.music[first:last, c]
            piece *= gain[: len(piece)]
    making.faults.append(_fault(making, "dropout", one.start_s, one.channel, one.duration_s, one.depth_db))


def _surface(making: _Making) -> None:
    """Noise of disc, drive and mains over the whole capture."""
    what, rate, frames = making.what, making.rate, len(making.sound)
    if what.noise_dbfs is not None:
        hiss = noise(frames, rate, what.noise_dbfs, what.noise_colour, making.random("noise"))
        making.noise_above = np.sqrt(np.mean(np.square(above(hiss, rate)), axis=0))
        making.sound += hiss
    if what.rumble_dbfs is not None:
        making.sound += noise(frames, rate, what.rumble_dbfs, "rumble", making.random("rumble"))
    if what.hum_dbfs is not None:
        wave = np.sqrt(2) * 10 ** (what.hum_dbfs / 20) * np.sin(2 * np.pi * what.hum_hz * np.arange(frames) / rate)
        making.sound += wave[:, None]
    for number, one in enumerate(what.swishes):
        _swish(making, one, making.random(f"swish {number}"))


def _swish(making: _Making, one: Swish, rng: np.random.Generator) -> None:
    turn = making.map.turn_time
    width = one.width_deg / 360 * turn
    base = making.what.noise_dbfs if making.what.noise_dbfs is not None else -60.0
    for k in range(one.turns):
        at = one.start_s + k * turn
        for begin, end in making.map.spans(at, at + width):
            first, last = round(begin * making.rate), min(round(end * making.rate), len(making.sound))
            if last - first > 8:
                burst = noise(last - first, making.rate, base + one.over_noise_db, "white", rng)
                burst *= np.hanning(last - first)[:, None] ** 0.5
                for c in _channels(one.channel):
                    making.sound[first:last, c] += burst[:, c]
        making.faults.append(
            _fault(making, "swish", at, one.channel, width, one.over_noise_db, group=f"swish {one.start_s:g}")
        )


@dataclass(frozen=True)
class _Wish:
    """A tick to be planted: its size is drawn, its place is known."""

    time: float
    kind: str
    size_db: float
    channel: str
    group: str = ""


def _plant(making: _Making) -> None:
    """Every tick, pop, crackle and scratch, sized by the definition at its own place."""
    what, rng = making.what, making.random("ticks")
    wishes = [*_wished(making), *_at_random(making, rng)]
    level = LocalLevel(above(making.music, making.rate), making.rate)
    leak = 0.0 if what.crosstalk_db is None else 10 ** (what.crosstalk_db / 20)
    for wish in sorted(wishes, key=lambda one: one.time):
        shape = str(rng.choice(what.tick_shapes))
        mix = _mix(wish.channel, rng)
        mix = mix + leak * mix[::-1]
        waves = _heard(making, wish, shape)
        if not waves:
            continue
        first, _, peak = waves[0]
        mask = np.maximum(np.maximum(level.at(first + peak), making.noise_above * 10 ** (NOISE_MASKS_DB / 20)), SILENCE)
        size_of_one = max(float(abs(mix[c]) / mask[c]) for c in _channels(wish.channel))
        gain = min(10 ** (wish.size_db / 20) / size_of_one, LOUDEST / float(np.max(np.abs(mix))))
        for place, wave, _ in waves:
            begin, end = max(place, 0), min(place + len(wave), len(making.sound))
            if end > begin:
                making.sound[begin:end] += gain * wave[begin - place : end - place, None] * mix
        at = (first + peak) / making.rate
        time = float(making.map.programme_time(np.array([at]))[0])
        size_db = 20 * math.log10(gain * size_of_one)
        made = _fault(making, wish.kind, time, wish.channel, 0.0, size_db, group=wish.group)
        making.faults.append(replace(made, capture_s=at, shape="pop" if wish.kind == "pop" else shape))


def _heard(making: _Making, wish: _Wish, shape: str) -> list[tuple[int, Floats, int]]:
    """Every time a tick comes round: its first sample in the capture, its samples, and which of them is the peak."""
    out = []
    for begin in making.map.capture_times(wish.time):
        at = begin * making.rate
        same = making.random(f"{wish.kind} {wish.time:.6f}")
        wave, peak, lead = tick(wish.kind, shape, at - math.floor(at), making.rate, same)
        out.append((math.floor(at) - lead, wave, peak))
    return out


def _wished(making: _Making) -> Iterator[_Wish]:
    what = making.what
    for pop in what.pops:
        yield _Wish(pop.time_s, "pop", pop.size_db, pop.channel)
    for number, one in enumerate(what.crackles):
        rng, group = making.random(f"crackle {number}"), f"crackle {one.start_s:g}"
        count = max(1, round(one.rate_per_s * one.duration_s))
        for place in np.sort(rng.uniform(one.start_s, one.start_s + one.duration_s, count)):
            yield _Wish(float(place), "crackle", float(rng.uniform(*one.size_db)), one.channel, group)
        making.faults.append(
            _fault(making, "crackle region", one.start_s, one.channel, one.duration_s, one.size_db[1], group=group)
        )
    for scratch in what.scratches:
        group = f"scratch {scratch.start_s:g}"
        for k in range(scratch.turns):
            place = scratch.start_s + k * making.map.turn_time
            yield _Wish(place, "scratch", scratch.size_db, scratch.channel, group)


def _at_random(making: _Making, rng: np.random.Generator) -> Iterator[_Wish]:
    """Single ticks anywhere in the programme, away from each other and from everything else."""
    what = making.what
    end = min(making.map.duration, float(making.map.programme_time(np.array([len(making.music) / making.rate]))[0]))
    taken = [(one.time_s, one.time_s + one.duration_s) for one in making.faults]
    taken += [(pop.time_s, pop.time_s) for pop in what.pops]
    taken += [(s.start_s + k * making.map.turn_time,) * 2 for s in what.scratches for k in range(s.turns)]
    taken += [(one.at_s, one.at_s) for one in what.jumps]
    left, tries = what.ticks, 0
    while left and tries < 200 * what.ticks:
        tries += 1
        place = float(rng.uniform(0.3, end - 0.3))
        free = all(place < a - APART_S or place > b + APART_S for a, b in taken)
        if not free or not making.map.capture_times(place):
            continue
        taken.append((place, place))
        left -= 1
        size = float(rng.uniform(*what.tick_size_db))
        yield _Wish(place, "tick", size, str(rng.choice(["left", "right", "both"])))
    if left:
        raise ValueError(f"no room for {left} of {what.ticks} ticks in {end:.1f} s; plant fewer")


def _mix(channel: str, rng: np.random.Generator) -> Floats:
    """How much of a tick each channel gets; in both it may be lateral or vertical and lean to one side."""
    if channel == "left":
        return np.array([1.0, 0.0])
    if channel == "right":
        return np.array([0.0, 1.0])
    pair = np.array([1.0, rng.uniform(0.6, 1.0) * rng.choice([-1.0, 1.0])])
    out: Floats = pair if rng.random() < 0.5 else pair[::-1]
    return out


def _channels(channel: str) -> tuple[int, ...]:
    return {"left": (0,), "right": (1,), "both": (0, 1)}[channel]


def _fault(
    making: _Making, kind: str, time: float, channel: str, duration: float, size_db: float, group: str = ""
) -> Fault:
    turn = time / making.map.turn_time
    captured = making.map.capture_times(time)
    radius = float(making.radius(np.array([time]))[0])
    return Fault(
        kind=kind, time_s=time, capture_s=captured[0] if captured else math.nan, turn=turn, angle_deg=turn % 1.0 * 360,
        radius_mm=radius * 1e3, channel=channel, duration_s=duration, size_db=size_db, group=group,
    )  # fmt: skip


def _finish(making: _Making) -> NDArray[np.float32]:
    """The sum, as it was captured."""
    what = making.what
    audio = making.sound
    audio += making.music
    if what.flat:
        audio = apply_filter(audio, filter_of(recording_curve_db, making.rate, "minimum"))
    if what.clip_dbfs is not None:
        audio = np.clip(audio, -(10 ** (what.clip_dbfs / 20)), 10 ** (what.clip_dbfs / 20))
    if what.mono:
        audio = np.repeat(audio[:, :1], 2, axis=1)
    if what.reversed:
        audio = audio[::-1]
    return np.ascontiguousarray(audio, dtype=np.float32)


def _truth(making: _Making, response: Floats, duration: float, rpm: float) -> Truth:
    what, turning = making.what, making.map
    jumps = [
        _fault(making, "skip" if one.turns > 0 else "repeat", one.at_s, "both", 0.0, abs(one.turns))
        for one in what.jumps
    ]
    size, angle = turning.once_per_turn()
    to_db = 20 * np.log10(np.maximum(making.noise_above, 1e-12))
    return Truth(
        sample_rate=making.rate, capture_s=len(making.music) / making.rate, programme_s=duration, rpm=rpm,
        start_s=float(turning.capture_time(np.array([0.0]))[0]),
        speed_error_percent=(turning.speed - 1) * 100, wow_peak_percent=turning.wow_peak() * 100,
        eccentricity_mm=size * 1e3, eccentricity_angle_deg=math.degrees(angle) % 360,
        noise_above_2khz_dbfs=None if what.noise_dbfs is None else (float(to_db[0]), float(to_db[1])),
        faults=sorted([*making.faults, *jumps], key=lambda one: one.time_s),
        what=what, taps=response, map=turning,
    )  # fmt: skip
