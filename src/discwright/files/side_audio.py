"""The programme of one side put together from the bands of a title: ranges of files, trims, gaps of silence."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from discwright.errors import AudioError
from discwright.files.audio import AudioHeader, open_audio, read_head
from discwright.files.plans import Piece, Source
from discwright.plan import Programme
from discwright.programme.title import TitleBand
from discwright.units import clock

#: An end typed as it is shown, to a tenth of a second, is the end.
_SHOWN_S = 0.05
_BLOCK = 1 << 18
Single = NDArray[np.float32]


@dataclass(frozen=True)
class BandRange:
    """The samples of one band.

    Attributes
    ----------
    band : TitleBand
    header : AudioHeader
    first, frames : int
        Within its file.
    gap : int
        Frames of silence after it.
    """

    band: TitleBand
    header: AudioHeader
    first: int
    frames: int
    gap: int

    @property
    def duration(self) -> float:
        """Length of the band, s."""
        return self.frames / self.header.sample_rate_hz


def find_range(band: TitleBand) -> BandRange:
    """Read a band's file head and find its samples there.

    Parameters
    ----------
    band : TitleBand

    Returns
    -------
    BandRange

    Raises
    ------
    AudioError
        If the file cannot be read or ends before the band does.
    """
    header = read_head(band.path)
    rate = header.sample_rate_hz
    length = header.frames / rate
    first = 0 if band.start is None else round(band.start * rate)
    last = header.frames if band.end is None else round(band.end * rate)
    if last > header.frames + _SHOWN_S * rate or first >= header.frames:
        raise AudioError(
            f"{band.path} lasts {clock(length)} and the band “{band.name}” goes beyond; mend start or end."
        )
    last = min(last, header.frames)
    if last <= first:
        raise AudioError(f"{band.path}: the band “{band.name}” has no length; mend start or end.")
    return BandRange(band, header, first, last - first, round(band.gap * rate))


class SideAudio:
    """One side's programme, read as often as it is asked for.

    Parameters
    ----------
    ranges : sequence of BandRange
        In the side's order, at least one.

    Attributes
    ----------
    ranges : tuple of BandRange
    programme : Programme
    places : tuple of (float, float), s
        Begin and end of each band on the side.

    Raises
    ------
    AudioError
        If the files differ in sample rate.
    """

    def __init__(self, ranges: Sequence[BandRange]) -> None:
        self.ranges = tuple(ranges)
        rate = self.ranges[0].header.sample_rate_hz
        for one in self.ranges:
            if one.header.sample_rate_hz != rate:
                raise AudioError(
                    f"{one.band.path} runs at {one.header.sample_rate_hz} Hz, {self.ranges[0].band.path} at {rate} Hz; "
                    "bring the bands of a side to one sample rate."
                )
        at, places = 0, []
        for one in self.ranges:
            places.append((at / rate, (at + one.frames) / rate))
            at += one.frames + one.gap
        self.places = tuple(places)
        frames = at - self.ranges[-1].gap
        self.programme = Programme(rate, frames, max(one.header.channels for one in self.ranges))
        self._hashes: dict[str, str] = {}

    def blocks(self) -> Iterator[Single]:
        """The samples from the first to the last; each call starts again.

        Yields
        ------
        ndarray, shape (m, 2), float32
            Left then right, 1.0 = full scale; mono stands in both.

        Raises
        ------
        AudioError
            If a file cannot be decoded.
        """
        runs = self._runs()
        for i, run in enumerate(runs):
            with open_audio(run[0].band.path) as audio:
                yield from _cut(audio.blocks(_BLOCK), run, i == len(runs) - 1)
                self._hashes[run[0].band.path] = audio.sha256

    @property
    def whole(self) -> bool:
        """One whole file, as it is."""
        first = self.ranges[0]
        return len(self.ranges) == 1 and first.frames == first.header.frames and first.band.trim_db == 0.0

    def read_hashes(self) -> None:
        """Hash every file without decoding it; :attr:`sha256` is known afterwards.

        Raises
        ------
        AudioError
            If a file cannot be read.
        """
        for path in dict.fromkeys(one.band.path for one in self.ranges):
            with open_audio(path) as audio:
                self._hashes[path] = audio.sha256

    def source(self) -> Source:
        """Where the programme comes from, to be kept with a plan; known once it has been read."""
        paths = ", ".join(dict.fromkeys(one.band.path for one in self.ranges))
        if self.whole:
            return Source(paths, self.sha256)
        pieces = tuple(Piece(one.band.path, one.first, one.frames, one.gap, one.band.trim_db) for one in self.ranges)
        return Source(paths, self.sha256, pieces)

    def _runs(self) -> list[list[BandRange]]:
        """Bands that follow one another in one file are read in one go."""
        runs: list[list[BandRange]] = []
        for one in self.ranges:
            last = runs[-1][-1] if runs else None
            if last is not None and last.band.path == one.band.path and last.first + last.frames <= one.first:
                runs[-1].append(one)
            else:
                runs.append([one])
        return runs

    @property
    def sha256(self) -> str:
        """Hash of every file's bytes, and of which samples of each stand where; known once it has been read.

        A side that is one whole file, as it is, has the hash of the file.
        """
        if self.whole:
            return self._hashes[self.ranges[0].band.path]
        knot = [
            {
                "file": self._hashes[one.band.path],
                "first": one.first,
                "frames": one.frames,
                "gap": one.gap if i < len(self.ranges) - 1 else 0,
                "trim_db": one.band.trim_db,
            }
            for i, one in enumerate(self.ranges)
        ]
        return hashlib.sha256(json.dumps(knot, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def _cut(blocks: Iterator[Single], run: list[BandRange], at_end: bool) -> Iterator[Single]:
    """The ranges of one file, each followed by its gap; no gap after the last band of the side."""
    waiting = list(run)
    at = 0
    for block in blocks:
        while waiting and waiting[0].first < at + len(block):
            one = waiting[0]
            begin = max(0, one.first - at)
            end = min(len(block), one.first + one.frames - at)
            piece = block[begin:end]
            yield piece if one.band.trim_db == 0.0 else piece * np.float32(10.0 ** (one.band.trim_db / 20.0))
            if one.first + one.frames > at + len(block):
                break
            waiting.pop(0)
            if waiting or not at_end:
                yield from _silence(one.gap)
        if not waiting:
            return
        at += len(block)


def _silence(frames: int) -> Iterator[Single]:
    while frames > 0:
        yield np.zeros((min(frames, _BLOCK), 2), dtype=np.float32)
        frames -= _BLOCK
