"""Read a capture, look whether it can be one of this programme, and say what was seen where it cannot."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import soxr
from numpy.typing import NDArray
from scipy import fft

from discwright.acts.inspect_report import CaptureFacts
from discwright.errors import CallError
from discwright.files.audio import open_audio
from discwright.files.sample_store import SampleStore
from discwright.groove.curve import replay_response
from discwright.inspection.coarse import LIKE, Line, find_line
from discwright.inspection.features import RATE, Samples, features
from discwright.units import clock

Single = NDArray[np.float32]
Float = NDArray[np.float64]

#: So many samples in a row at one extreme are clipped, where that is this near to the greatest of all.
_CLIPPED_RUN, _CEILING = 3, 0.985
#: A capture is still where it is no louder than so many times its stillest twentieth (mean squares); at most this share
#: of it may be.
_OVER_STILL, _STILL_SHARE = 6.0, 0.75
#: Played so many times as fast, and what that is called.
_OTHER_SPEEDS = (
    (0.5, "at half speed"), (2.0, "at double speed"), (1.35, "at 45 instead of 33 1/3 rpm"),
    (1 / 1.35, "at 33 1/3 instead of 45 rpm"),
)  # fmt: skip
#: The recording curve lies over a capture that rises by so much from 100 Hz to 10 kHz against the programme, dB.
_UNPLAYED_DB = 20.0
#: The replay curve forgets within so many samples, on pieces of so many.
_SETTLES, _FFT = 1 << 14, 1 << 17


def read_capture(path: Path, rate: int, tell: Callable[[float], None]) -> tuple[SampleStore, CaptureFacts]:
    """Put a capture down at a rate.

    Parameters
    ----------
    path : pathlib.Path
    rate : int
        Hz.
    tell : callable

    Returns
    -------
    SampleStore
        To be closed.
    CaptureFacts
        Not yet told whether it is equalised.

    Raises
    ------
    AudioError, CallError
    """
    with open_audio(path) as file:
        header = file.header
        if header.channels == 1:
            raise CallError(
                f"{path}: has one channel; a disc's two walls are judged apart: capture both channels of the "
                "cartridge and inspect that."
            )
        ceiling = _Ceiling()
        store = SampleStore(rate)
        stream = soxr.ResampleStream(header.sample_rate_hz, rate, 2, dtype="float32", quality="HQ")
        same = header.sample_rate_hz == rate
        try:
            for block in file.blocks():
                ceiling.add(block)
                store.add(block if same else stream.resample_chunk(np.ascontiguousarray(block)))
                tell(file.frames_read / max(header.frames, 1))
            if not same:
                store.add(stream.resample_chunk(np.zeros((0, 2), dtype=np.float32), last=True))
            facts = CaptureFacts(
                str(path), file.sha256, header.sample_rate_hz, header.channels, header.frames, ceiling.share, True
            )
        except BaseException:
            store.close()
            raise
    return store, facts


class _Ceiling:
    """Counts samples that stand in a row at the greatest value there is."""

    def __init__(self) -> None:
        self._runs: list[tuple[float, int]] = []
        self._peak, self._count = 0.0, 0

    def add(self, block: Single) -> None:
        self._count += block.size
        peak = float(np.abs(block).max(initial=0.0))
        self._peak = max(self._peak, peak)
        if peak < 1e-3:
            return
        for channel in np.abs(block).T:
            high = channel >= _CEILING * peak
            level = high[1:] & high[:-1] & (channel[1:] == channel[:-1])
            edges = np.flatnonzero(np.diff(np.concatenate([[False], level, [False]]).astype(np.int8)))
            for begin, end in zip(edges[::2], edges[1::2], strict=True):
                if end - begin + 1 >= _CLIPPED_RUN:
                    self._runs.append((float(channel[begin]), int(end - begin + 1)))

    @property
    def share(self) -> float:
        """Of all samples."""
        clipped = sum(count for value, count in self._runs if value >= _CEILING * self._peak)
        return clipped / max(self._count, 1)


def find_programme(programme: Samples, capture: Samples, path: Path) -> tuple[Line, tuple[Single, Float], Single]:
    """Look for the programme in a capture.

    Parameters
    ----------
    programme, capture : Samples
    path : pathlib.Path
        Of the capture, for sentences.

    Returns
    -------
    Line
    (features, level) of the programme, features of the capture

    Raises
    ------
    CallError
        With what was seen, where the programme is not there as it should be.
    """
    with ThreadPoolExecutor(2) as pool:
        (own, level), (heard, loudness) = pool.map(features, (programme, capture))
    if level.max(initial=0.0) < 1e-10:
        raise CallError("the programme is silent; there is nothing a capture could be held against.")
    if loudness.max(initial=0.0) < 1e-9:
        raise CallError(f"{path}: is silent from end to end; look at leads and input, and capture the side again.")
    line = find_line(own, level, heard)
    if line.found:
        return line, (own, level), heard
    length = clock(len(heard) / RATE)
    still = 1 - float(np.mean(loudness > _OVER_STILL * np.quantile(loudness, 0.05)))
    if still > _STILL_SHARE:
        what = "holds nothing but noise in" if still > 0.99 else f"is still for {100 * still:.0f} % of"
        raise CallError(
            f"{path}: {what} its {length}, and the programme is not found in it; look at leads and input, and capture "
            "the side again."
        )
    for ratio, words in _OTHER_SPEEDS:
        if find_line(own, level, heard, ratio).found:
            raise CallError(f"{path}: holds the programme {words}; capture it at the right speed.")
    if find_line(own, level, np.ascontiguousarray(heard[::-1])).found:
        raise CallError(f"{path}: holds the programme backwards; turn it round, or capture it again.")
    raise CallError(
        f"{path}: does not hold this programme: of {line.passages} passages {line.agreeing} were found in one row, "
        f"alike to {line.likeness:.2f} where {LIKE:g} is the least; name the capture of this side."
    )


def is_unequalised(programme: Samples, capture: Samples, line: Line) -> bool:
    """Whether the recording curve still lies over a capture: it was played without the replay curve.

    Parameters
    ----------
    programme, capture : Samples
    line : Line
    """
    spectra = []
    for samples, start, length in (
        (programme, 0.0, programme.frames / programme.rate),
        (capture, line.start, line.stretch * programme.frames / programme.rate),
    ):
        spectra.append(_bands(samples, start, length))
    rise = 10 * np.log10(spectra[1] / spectra[0])
    return bool(rise[1] - rise[0] > _UNPLAYED_DB)


def _bands(samples: Samples, start: float, length: float) -> Float:
    """Energy around 100 Hz and around 10 kHz, of pieces spread over a stretch."""
    size = 1 << 15
    frequency = np.fft.rfftfreq(size, 1 / samples.rate)
    total = np.full(2, 1e-20)
    for at in np.linspace(start, max(start, start + length - size / samples.rate), 40):
        audio = samples.read(round(at * samples.rate), size)
        power = np.sum(np.abs(np.fft.rfft(audio * np.hanning(size)[:, None], axis=0)) ** 2, axis=1)
        for k, (low, high) in enumerate(((70.0, 150.0), (7000.0, 12_000.0))):
            total[k] += power[(frequency > low) & (frequency < high)].sum()
    return total


def equalised(capture: SampleStore) -> SampleStore:
    """The same capture through the replay curve.

    Parameters
    ----------
    capture : SampleStore
        Closed afterwards.

    Returns
    -------
    SampleStore
    """
    store = SampleStore(capture.rate)
    curve = replay_response(np.fft.rfftfreq(_FFT, 1 / capture.rate))[:, None].astype(np.complex64)

    def blocks() -> Iterator[Single]:
        step = _FFT - 2 * _SETTLES
        for at in range(0, capture.frames, step):
            piece = capture.read(at - _SETTLES, _FFT)
            played = fft.irfft(fft.rfft(piece, axis=0) * curve, _FFT, axis=0)
            yield played[_SETTLES : _SETTLES + min(step, capture.frames - at)]

    try:
        store.fill(blocks())
    except BaseException:
        store.close()
        raise
    capture.close()
    return store
