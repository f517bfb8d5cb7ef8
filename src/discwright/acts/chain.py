"""Measure a recording or cutting chain from captures of test signals, and make the signals."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from discwright.errors import CallError
from discwright.files.audio import AudioFile, open_audio

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from discwright.programme.chain_report import ChainReport

Progress = Callable[[str, float], None]

#: A capture of up to so many samples a channel stays in memory between the passes: 256 MiB, near six minutes at 96 kHz.
_KEPT_FRAMES = 1 << 25


@dataclass(frozen=True)
class CaptureReport:
    """A chain by one capture, and the file it is of.

    Attributes
    ----------
    path : str
        As it was given.
    sha256 : str
        Of the file's bytes.
    report : ChainReport
    """

    path: str
    sha256: str
    report: ChainReport

    def as_dict(self) -> dict[str, Any]:
        """The report as plain JSON values: `path`, `sha256` and every key of the chain's report."""
        return {"path": self.path, "sha256": self.sha256} | self.report.as_dict()


@dataclass(frozen=True)
class ChainsReport:
    """Several captures, each measured for itself, and what changed from the first to each other.

    Attributes
    ----------
    captures : tuple of CaptureReport
    """

    captures: tuple[CaptureReport, ...]

    def as_dict(self) -> dict[str, Any]:
        """One capture as it is; several as `files`, with `changes` against the first."""
        if len(self.captures) == 1:
            return self.captures[0].as_dict()
        return {"files": [one.as_dict() for one in self.captures], "changes": self.changes()}

    def changes(self) -> list[dict[str, Any]]:
        """Each further capture less the first: response, gain, separation, noise, dB; None where not known."""
        first, *others = self.captures
        return [{"path": one.path, "against": first.path} | _change(first.report, one.report) for one in others]


def chain(
    paths: Sequence[str | os.PathLike[str]], *, settings: Path | None = None, picture: Path | None = None,
    progress: Progress | None = None,
) -> ChainsReport:  # fmt: skip
    """Measure a chain.

    Parameters
    ----------
    paths : sequence of str or os.PathLike
        Captures: of the signals that :func:`make_signals` writes, of a part of them, or of other steady tones.
    settings : pathlib.Path, optional
        A house file that replaces some of the shipped limits.
    picture : pathlib.Path, optional
        A PNG of response and distortion; what lies there is replaced.
    progress : callable, optional
        Told what is done, and the share of it.

    Raises
    ------
    AudioError
        If a file cannot be read, or holds no test signal: the sentence says what was seen.
    CallError, SettingsError
    """
    # SciPy comes with these, which no help page should wait for.
    from discwright.files.chain_settings import load_chain
    from discwright.programme.chain_findings import chain_findings
    from discwright.programme.chain_measure import measure_chain

    if not paths:
        raise CallError("there is no capture to measure; name one, or write the signals with --make FILE.")
    if picture is not None and picture.suffix.lower() != ".png":
        raise CallError(f"{picture}: the picture is a PNG; choose a name that ends with .png.")
    limits, tell = load_chain(settings), progress or (lambda _step, _done: None)
    captures = []
    for path in paths:
        with open_audio(path) as audio:
            header = audio.header
            passes = _Watched(audio, tell)
            report = measure_chain(passes.blocks, header.sample_rate_hz, header.channels, os.fspath(path))
            report = replace(report, findings=chain_findings(report, limits))
            captures.append(CaptureReport(os.fspath(path), audio.sha256, report))
    if picture is not None:
        from discwright.files.chain_picture import draw_chain

        tell("drawing", 0.0)
        draw_chain(picture, [(Path(one.path).name, one.report) for one in captures], limits=limits)
    return ChainsReport(tuple(captures))


def make_signals(
    path: Path, *, sample_rate_hz: int = 96_000, bits: int = 24, progress: Progress | None = None
) -> float:
    """Write the test signals as a WAV file that is not there yet.

    Parameters
    ----------
    path : pathlib.Path
    sample_rate_hz : int
        44100, 48000, 88200, 96000, 176400 or 192000.
    bits : {16, 24}
    progress : callable, optional

    Returns
    -------
    float
        Length of the signals, s.

    Raises
    ------
    CallError
    """
    from discwright.files.chain_audio import write_signals
    from discwright.programme.chain_signals import duration, signal_blocks

    def watched() -> Iterator[NDArray[np.int32]]:
        done = 0
        for block in signal_blocks(sample_rate_hz, bits):
            yield block
            done += len(block)
            if progress is not None:
                progress("writing the signals", done / (duration() * sample_rate_hz))

    signal_blocks(sample_rate_hz, bits)  # a rate that cannot be made is refused before anything is written
    write_signals(path, watched(), sample_rate_hz, bits)
    return duration()


class _Watched:
    """A capture read several times, each pass told of: looked at, then measured; decoded once where it is short."""

    def __init__(self, audio: AudioFile, tell: Progress) -> None:
        self._audio, self._tell, self._passes = audio, tell, 0
        self._kept: list[NDArray[np.float32]] | None = [] if audio.header.frames <= _KEPT_FRAMES else None

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        step, whole, done = "measuring" if self._passes else "looking for signals", self._audio.header.frames, 0
        self._passes += 1
        again = self._kept if self._kept and self._passes > 1 else None
        for block in self._audio.blocks() if again is None else again:
            done += len(block)
            if self._kept is not None and again is None:
                self._kept.append(block)
            self._tell(step, done / whole)
            yield block


def _change(first: ChainReport, other: ChainReport) -> dict[str, Any]:
    known = {row.frequency: row for row in first.response}
    rows = [
        {
            "frequency_hz": row.frequency,
            "left_db": _less(row.left_db, known[row.frequency].left_db),
            "right_db": _less(row.right_db, known[row.frequency].right_db),
        }
        for row in other.response
        if row.frequency in known
    ]
    return {
        "gain_db": [_less(a, b) for a, b in zip(other.gain_db, first.gain_db, strict=True)],
        "balance_db": _less(other.balance_db, first.balance_db),
        "separation_db": _less(other.separation_db, first.separation_db),
        "noise_db": _less(other.noise_dbfs, first.noise_dbfs),
        "response": rows,
    }


def _less(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else round(one - other, 4) + 0.0
