"""What a capture is held against: the approved programme, or the proof of its plan where that explains it better."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import soxr
from numpy.typing import NDArray

from discwright.acts.proof import NO_TIP
from discwright.acts.proof_side import ProofSide, open_side
from discwright.errors import CallError
from discwright.files.audio import open_audio
from discwright.files.settings import load, load_setup
from discwright.groove.equipment import DiscFormat, Player, PlayingTip, Setup
from discwright.groove.passage import USUAL_EFFECTS, Hearing, Passage
from discwright.groove.playback import play
from discwright.inspection.align import align
from discwright.inspection.features import Samples
from discwright.inspection.frames import Pair
from discwright.inspection.timemap import TimeMap

Float = NDArray[np.float64]
Single = NDArray[np.float32]
Progress = Callable[[str, float], None]

#: Nothing is worked at above this rate, Hz: ears and discs end below.
_MOST_HZ = 50_000
_BLOCK = 1 << 18
#: Without a plan the side is taken to be filled evenly; where that would take a pitch wider than the first, the second
#: is taken instead: 200 lines an inch, m.
_WIDEST, _USUAL = 250e-6, 127e-6
#: Length and number of the passages on which references are compared, s; from where to where residues are, Hz.
_TRY_S, _TRIES, _TRY_HZ = 8.0, 3, (500.0, 15_000.0)


@dataclass(frozen=True)
class Reference:
    """The programme and the groove it lies in.

    Attributes
    ----------
    name : str
    disc : DiscFormat
    setup : Setup
    rate : int
        Of the programme, Hz.
    frames : int
    level_db : float
    time, radius : ndarray, shape (N,), s and m
        Of the spiral; radius is linear between.
    band_starts : tuple of float, s
    planned : bool
        The spiral is a plan's; else it is evenly spread over the format.
    fingerprint : str
        Of the plan.
    other_audio : bool
        The recording given is not the file the plan was made from.
    blocks : callable
        The programme from its first sample.
    """

    name: str
    disc: DiscFormat
    setup: Setup
    rate: int
    frames: int
    level_db: float
    time: Float
    radius: Float
    band_starts: tuple[float, ...]
    planned: bool
    fingerprint: str
    other_audio: bool
    blocks: Callable[[], Iterator[Single]]

    @property
    def duration(self) -> float:
        """Of the programme, s."""
        return self.frames / self.rate

    @property
    def working_rate(self) -> int:
        """At which capture and programme are compared, Hz."""
        rate = self.rate
        while rate > _MOST_HZ and rate % 2 == 0:
            rate //= 2
        return rate

    def radius_at(self, time: float) -> float:
        """Of the groove, m."""
        return float(np.interp(time, self.time, self.radius))


def open_reference(recording: Path | None, plan: Path | None, format: str | None, tell: Progress) -> Reference:
    """Find the programme.

    Parameters
    ----------
    recording : pathlib.Path or None
        Audio file; the plan's own programme without.
    plan : pathlib.Path or None
        Folder of a kept plan, or title file.
    format : str or None
        Name or TOML file of a disc format, where there is no plan.
    tell : callable

    Returns
    -------
    Reference

    Raises
    ------
    CallError, SettingsError, AudioError
    """
    if plan is not None and format is not None:
        raise CallError("--plan has its own format; leave --format out.")
    if plan is not None:
        return _of_plan(open_side(plan, None, None, tell), recording)
    if recording is None:
        raise CallError("there is nothing to hold the capture against; give --recording FILE or --plan DIR.")
    return _of_file(recording, load_setup(format))


def _of_plan(opened: ProofSide, recording: Path | None) -> Reference:
    audio = opened.audio.programme
    blocks, other = opened.blocks, False
    if recording is not None:
        with open_audio(recording) as file:
            header, sha256 = file.header, file.sha256
        if (header.sample_rate_hz, header.frames) != (audio.sample_rate_hz, audio.frames):
            raise CallError(
                f"{recording}: lasts {header.frames} frames at {header.sample_rate_hz} Hz and the plan was made for "
                f"{audio.frames} at {audio.sample_rate_hz} Hz; give the recording the plan was made from, or another "
                "--plan."
            )
        other = sha256 != opened.audio.sha256
        if other:
            blocks = _file_blocks(recording)
    return Reference(
        opened.name, opened.setup.disc, opened.setup, audio.sample_rate_hz, audio.frames, opened.level_db,
        opened.time, opened.radius, tuple(start for start, _ in opened.bands), True, opened.fingerprint, other, blocks,
    )  # fmt: skip


def _of_file(recording: Path, setup: Setup) -> Reference:
    with open_audio(recording) as file:
        header = file.header
    disc, duration = setup.disc, header.frames / header.sample_rate_hz
    turns = max(duration / disc.turn_time, 1e-9)
    pitch = (disc.outermost_radius - disc.innermost_radius) / turns
    if pitch > _WIDEST:
        pitch = _USUAL
    radius = np.array([disc.outermost_radius, disc.outermost_radius - pitch * turns])
    return Reference(
        recording.name, disc, setup, header.sample_rate_hz, header.frames, 0.0, np.array([0.0, duration]), radius,
        (0.0,), False, "", False, _file_blocks(recording),
    )  # fmt: skip


def _file_blocks(path: Path) -> Callable[[], Iterator[Single]]:
    def blocks() -> Iterator[Single]:
        with open_audio(path) as file:
            yield from file.blocks(_BLOCK)

    return blocks


def resampled(blocks: Iterator[Single], rate: int, wanted: int) -> Iterator[Single]:
    """Blocks at another rate, the same blocks where it is the same.

    Parameters
    ----------
    blocks : iterator of ndarray, shape (m, 2)
    rate, wanted : int, Hz

    Yields
    ------
    ndarray, shape (m, 2), float32
    """
    if rate == wanted:
        yield from blocks
        return
    stream = soxr.ResampleStream(rate, wanted, 2, dtype="float32", quality="HQ")
    for block in blocks:
        yield stream.resample_chunk(np.ascontiguousarray(block, dtype=np.float32))
    yield stream.resample_chunk(np.zeros((0, 2), dtype=np.float32), last=True)


@dataclass(frozen=True)
class Candidate:
    """One thing a capture may be held against.

    Attributes
    ----------
    words : str
    hearing : Hearing or None
        None for the programme itself.
    """

    words: str
    hearing: Hearing | None


def candidates(reference: Reference, tip: str | None) -> list[Candidate]:
    """What comes into question: the proof with the tip, heard with and without a player; without a tip named, the
    programme too.

    Parameters
    ----------
    reference : Reference
    tip : str or None
        A name in `data/`, a TOML file, or ``"none"``.

    Raises
    ------
    CallError, SettingsError
    """
    bare = Candidate("the programme", None)
    if tip == NO_TIP or (tip is None and not reference.planned):
        return [bare]
    chosen = reference.setup.tip if tip is None else load(PlayingTip, tip)
    player = load(Player, None)
    proofs = [
        Candidate(f"the proof with {chosen.name}", Hearing(chosen, player, USUAL_EFFECTS)),
        Candidate(f"the proof with {chosen.name}, no arm", Hearing(chosen)),
    ]
    return proofs if tip is not None else [*proofs, bare]


class Held:
    """Samples held in memory.

    Parameters
    ----------
    rate : int, Hz
    audio : ndarray, shape (n, 2)
    """

    def __init__(self, rate: int, audio: Single) -> None:
        self.rate, self.frames, self._audio = rate, len(audio), audio

    def read(self, first: int, count: int) -> Single:
        """Frames from any place; zeros before the first and after the last."""
        out = np.zeros((count, 2), dtype=np.float32)
        begin, end = max(first, 0), min(first + count, self.frames)
        if end > begin:
            out[begin - first : end - first] = self._audio[begin:end]
        return out


def played(reference: Reference, programme: Samples, hearing: Hearing, first: int, frames: int) -> Iterator[Single]:
    """The proof of a stretch.

    Parameters
    ----------
    reference : Reference
    programme : Samples
    hearing : Hearing
    first, frames : int
        Of `programme`.

    Yields
    ------
    ndarray, shape (m, 2), float32
    """
    passage = Passage(
        programme.rate, first, frames, 10 ** (reference.level_db / 20), reference.setup.practice.subsonic,
        reference.disc, reference.time, reference.radius,
    )  # fmt: skip

    def blocks() -> Iterator[Single]:
        at, end = first - passage.lead, min(first + frames + passage.tail, programme.frames)
        while at < end:
            yield programme.read(at, min(_BLOCK, end - at))
            at += _BLOCK

    for _, (heard,) in play(blocks(), passage, [hearing]):
        yield heard.astype(np.float32)


def choose(
    reference: Reference, programme: Samples, capture: Samples, known: TimeMap, choices: list[Candidate],
    loud: list[int],
) -> Candidate:  # fmt: skip
    """The candidate that leaves least of the capture over, tried on some passages.

    Parameters
    ----------
    reference : Reference
    programme, capture : Samples
    known : TimeMap
    choices : list of Candidate
    loud : list of int
        First frames of the passages.

    Returns
    -------
    Candidate
        The first of those within a tenth of a decibel.
    """
    if len(choices) == 1 or not loud:
        return choices[0]
    rate, left = programme.rate, np.zeros(len(choices))
    for first in loud:
        frames = min(round(_TRY_S * rate), programme.frames - first)
        moved = replace(
            known, time=known.time - first / rate,
            stretches=tuple(
                replace(one, begin=one.begin - first / rate, end=one.end - first / rate) for one in known.stretches
            ),
        )  # fmt: skip
        for k, one in enumerate(choices):
            audio = (
                programme.read(first, frames) if one.hearing is None
                else np.concatenate(list(played(reference, programme, one.hearing, first, frames)))
            )  # fmt: skip
            laid = align(Pair(Held(rate, audio), capture), moved, reference.disc.turn_time, lambda _step, _done: None)
            inside = (laid.transfer.frequency > _TRY_HZ[0]) & (laid.transfer.frequency < _TRY_HZ[1])
            left[k] += float(np.mean(10 * np.log10(laid.noise[inside] + 1e-30)))
    left /= len(loud)
    return choices[int(np.flatnonzero(left <= left.min() + 0.1)[0])]


def loud_passages(level: Float, frame_rate: float, rate: int) -> list[int]:
    """Where the music is loudest in each third of the side.

    Parameters
    ----------
    level : ndarray, shape (n,)
        Mean square, `frame_rate` a second.
    frame_rate : float, Hz
    rate : int
        Hz, of the samples.

    Returns
    -------
    list of int
        First samples.
    """
    size = round(_TRY_S * frame_rate)
    if len(level) < size:
        return [0] if len(level) else []
    mean = np.convolve(level, np.ones(size), "valid")
    thirds = np.array_split(np.arange(len(mean)), _TRIES if len(mean) > _TRIES * size else 1)
    return sorted(round(int(part[np.argmax(mean[part])]) / frame_rate * rate) for part in thirds)
