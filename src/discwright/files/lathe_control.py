"""The control file: programme, pitch, depth and cue pulses side by side in one 24-bit WAV, and what they mean.

For a lathe whose pitch and depth follow a voltage. Five channels: programme left and right, pitch, depth, cues.
The TOML beside it says what full scale means and where everything lies; the WAV repeats the scale in its own
comment, for the day the two get parted.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from discwright.errors import CallError
from discwright.groove.cues import CUE_KINDS, Cue
from discwright.groove.equipment import Lathe, Setup
from discwright.groove.table import SpiralRows

Float = NDArray[np.float64]

CHANNELS = ("programme_left", "programme_right", "pitch", "depth", "cues")
#: Length of a cue pulse, s; the file ends one pulse after the last row, so that the last cue is whole.
PULSE_S = 0.010
#: Frames written at a time.
BLOCK_FRAMES = 1 << 18
#: More audio than this does not fit a plain WAV, whose sizes are 32 bits: a mebibyte is left for its head.
WAV_MOST_BYTES = (1 << 32) - (1 << 20)
#: Known levels before the lead-in: pitch and depth of each step, m, and how long each lasts, s.
CALIBRATION_STEPS = ((0.0, 0.0), (100e-6, 25e-6), (200e-6, 50e-6), (400e-6, 100e-6))
CALIBRATION_STEP_S = 1
#: Silence between the last step and the first lead-in row, s.
CALIBRATION_SILENCE_S = 1
CALIBRATION_HZ, CALIBRATION_DBFS = 1000.0, -20.0
#: Pulse at the begin of the calibration: below zero, as no cue is.
CALIBRATION_PULSE = -0.5

_STEPS_24_BIT = 1 << 23


@dataclass(frozen=True)
class _Layout:
    """Where everything lies in the file, in frames from its begin."""

    rate: int
    origin: int
    music: int
    music_frames: int
    frames: int
    start: float
    programme_scale: float

    @property
    def residue(self) -> float:
        """How much later the music lies than it should, s: less than half a frame either way."""
        return (self.music - self.origin) / self.rate + self.start

    def frame(self, time: float) -> int:
        """Frame of a time of the side."""
        return self.origin + round((time - self.start) * self.rate)


class _Programme:
    """Hands out the programme in pieces of any length."""

    def __init__(self, blocks: Iterable[NDArray[np.float32]]) -> None:
        self._blocks = iter(blocks)
        self._rest: NDArray[np.float32] = np.zeros((0, 2), dtype=np.float32)

    def take(self, frames: int) -> NDArray[np.float32]:
        """The next frames, shape (n, 2), with n less than asked for only at the end."""
        pieces, wanted = [], frames
        while wanted > 0:
            if not len(self._rest):
                block = next(self._blocks, None)
                if block is None:
                    break
                self._rest = block
            pieces.append(self._rest[:wanted])
            self._rest = self._rest[wanted:]
            wanted -= len(pieces[-1])
        return np.concatenate(pieces) if pieces else np.zeros((0, 2), dtype=np.float32)


def write_control(
    wav: Path,
    toml: Path,
    blocks: Iterable[NDArray[np.float32]],
    sample_rate_hz: int,
    rows: SpiralRows,
    cues: Sequence[Cue],
    setup: Setup,
    facts: Mapping[str, str | float],
    peak: float,
    calibration: bool = False,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Write the control file and the text that explains it, straight to their places.

    The programme goes in as it is, bit for bit where it comes with 24 bits or fewer; only where its peak lies
    above full scale is it halved as often as needed. Pitch stands still within a sector, depth is linear between
    rows. Memory does not grow with length.

    Parameters
    ----------
    wav, toml : pathlib.Path
    blocks : iterable of ndarray, shape (n, 2), float32, 1.0 = full scale
        Exactly the music, as it is cut.
    sample_rate_hz : int
    rows : SpiralRows
        From the rim to the locked groove, SI.
    cues : sequence of Cue
    setup : Setup
    facts : mapping of str to str or float
        What else the text should hold (level_db, fingerprint ...), at its top.
    peak : float
        Greatest sample of the music, 1.0 = full scale.
    calibration : bool
        Begin with four seconds of known level, pitch and depth, and one of silence.
    progress : callable, optional
        Called with the fraction done.

    Raises
    ------
    CallError
        If pitch or depth exceeds full scale, if the programme is not as long or is louder than said, or if a file
        cannot be written.
    """
    layout = _lay_out(rows, sample_rate_hz, peak, calibration)
    _check_scale(rows, setup.lathe, calibration)
    container = "RF64" if layout.frames * len(CHANNELS) * 3 > WAV_MOST_BYTES else "WAV"
    text = _toml_text(layout, container, rows, cues, setup, facts)
    frames = _frames(layout, _Programme(blocks), rows, cues, setup.lathe)
    place = toml
    try:
        toml.write_text(text, encoding="utf-8", newline="\n")
        place = wav
        with soundfile.SoundFile(wav, "w", sample_rate_hz, len(CHANNELS), "PCM_24", format=container) as file:
            file.title = "discwright control"
            file.comment = _comment(layout, setup.lathe)
            written = 0
            for block in frames:
                # Codes stand in the upper 24 bits: the library takes them as they are.
                file.write(block << 8)
                written += len(block)
                if progress is not None:
                    progress(written / layout.frames)
    except (OSError, soundfile.LibsndfileError) as trouble:
        raise CallError(f"{place}: cannot be written ({trouble}); check the folder and the disk.") from None


def _lay_out(rows: SpiralRows, rate: int, peak: float, calibration: bool) -> _Layout:
    if not math.isfinite(peak) or peak < 0.0:
        raise CallError(f"the programme's peak cannot be {peak:g}: survey the programme again.")
    start, end = float(rows.time[0]), float(rows.time[-1])
    music_end = float(rows.time[rows.music][-1])
    origin = (len(CALIBRATION_STEPS) * CALIBRATION_STEP_S + CALIBRATION_SILENCE_S) * rate if calibration else 0
    return _Layout(
        rate=rate,
        origin=origin,
        music=origin + round(-start * rate),
        music_frames=round(music_end * rate),
        frames=origin + math.floor((end - start) * rate + 1e-6) + 1 + round(PULSE_S * rate),
        start=start,
        programme_scale=1.0 if peak <= 1.0 else 0.5 ** math.ceil(math.log2(peak)),
    )


def _check_scale(rows: SpiralRows, lathe: Lathe, calibration: bool) -> None:
    """Refuse what the lathe's inputs cannot be told."""
    steps = CALIBRATION_STEPS if calibration else ()
    for what, values, known, scale, key in (
        ("pitch", rows.pitch, [pitch for pitch, _ in steps], lathe.control_pitch, "control_pitch_full_scale_um"),
        ("depth", rows.depth, [depth for _, depth in steps], lathe.control_depth, "control_depth_full_scale_um"),
    ):
        greatest = max(float(np.abs(values).max()), *known, 0.0)
        if not greatest <= scale * (1 + 1e-12):
            raise CallError(
                f"the {what} reaches {greatest * 1e6:.2f} µm, more than the {scale * 1e6:.2f} µm that full scale of "
                f"the lathe's input means: raise {key}."
            )


def _frames(
    layout: _Layout, programme: _Programme, rows: SpiralRows, cues: Sequence[Cue], lathe: Lathe
) -> Iterator[NDArray[np.int32]]:
    """The file in blocks of 24-bit codes, shape (n, 5)."""
    pulses = _pulses(layout, cues)
    for first in range(0, layout.frames, BLOCK_FRAMES):
        last = min(first + BLOCK_FRAMES, layout.frames)
        block = np.zeros((last - first, len(CHANNELS)))
        if first < layout.origin:
            head = slice(0, min(last, layout.origin) - first)
            block[head, :4] = _calibration(layout, first, first + head.stop, lathe)
        if last > layout.origin:
            body = slice(max(first, layout.origin) - first, None)
            block[body, 2:4] = _control(layout, first + body.start, last, rows, lathe)
        begin, end = max(first, layout.music), min(last, layout.music + layout.music_frames)
        if begin < end:
            block[begin - first : end - first, :2] = _music(layout, programme, end - begin)
        for place, level in pulses:
            block[max(place - first, 0) : max(place - first + round(PULSE_S * layout.rate), 0), 4] = level
        yield _codes(block)
    if len(programme.take(1)):
        raise CallError(_not_as_long(layout, "longer"))


def _codes(values: Float) -> NDArray[np.int32]:
    """Nearest 24-bit code of each value; what is full scale gets the highest there is."""
    codes = np.rint(values * _STEPS_24_BIT)
    return np.clip(codes, -_STEPS_24_BIT, _STEPS_24_BIT - 1).astype(np.int32)


def _control(layout: _Layout, first: int, last: int, rows: SpiralRows, lathe: Lathe) -> Float:
    """Pitch and depth in full scales for frames first to last, shape (n, 2)."""
    time = layout.start + (np.arange(first, last) - layout.origin) / layout.rate
    # A frame on a row to within rounding belongs to the sector that begins there.
    sector = np.searchsorted(rows.time, time + 1e-9, side="right") - 1
    depth = np.interp(time, rows.time, rows.depth)
    return np.stack([rows.pitch[sector] / lathe.control_pitch, depth / lathe.control_depth], axis=1)


def _music(layout: _Layout, programme: _Programme, frames: int) -> NDArray[np.float32]:
    samples = programme.take(frames)
    if len(samples) < frames:
        raise CallError(_not_as_long(layout, "shorter"))
    # One frame above full scale would be clipped, and no number at all must not pass for silence.
    if not float(np.abs(samples).max()) * layout.programme_scale <= 1.0:
        raise CallError("the programme is louder than its peak was said to be: survey the programme again.")
    return samples * np.float32(layout.programme_scale)


def _not_as_long(layout: _Layout, which: str) -> str:
    return (
        f"the programme is {which} than the {layout.music_frames} frames that were planned: plan the side again from "
        "this programme."
    )


def _calibration(layout: _Layout, first: int, last: int, lathe: Lathe) -> Float:
    """Both programme channels, pitch and depth in full scales before the lead-in, shape (n, 4)."""
    frame = np.arange(first, last)
    step = frame // (CALIBRATION_STEP_S * layout.rate)
    sounding = step < len(CALIBRATION_STEPS)
    tone = 10.0 ** (CALIBRATION_DBFS / 20.0) * np.sin(2.0 * np.pi * CALIBRATION_HZ * frame / layout.rate)
    levels = np.array([*CALIBRATION_STEPS, (0.0, 0.0)])[np.minimum(step, len(CALIBRATION_STEPS))]
    both = np.where(sounding, tone, 0.0)
    return np.stack([both, both, levels[:, 0] / lathe.control_pitch, levels[:, 1] / lathe.control_depth], axis=1)


def _pulses(layout: _Layout, cues: Sequence[Cue]) -> list[tuple[int, float]]:
    """Frame and level of each pulse in order of time: where two overlap, the later one is heard."""
    known = [(0, CALIBRATION_PULSE)] if layout.origin else []
    return known + [(layout.frame(cue.time), pulse_level(cue.kind)) for cue in sorted(cues, key=lambda c: c.time)]


def pulse_level(kind: str) -> float:
    """Level of a cue's pulse: in equal steps in the order of `CUE_KINDS`, the last at full scale.

    Parameters
    ----------
    kind : str
        One of `CUE_KINDS`.

    Raises
    ------
    ValueError
        If there is no such kind.
    """
    return (CUE_KINDS.index(kind) + 1) / len(CUE_KINDS)


def _comment(layout: _Layout, lathe: Lathe) -> str:
    """The scale in one line of ASCII, for the WAV itself."""
    return (
        f"channels {' '.join(CHANNELS)}; programme x {layout.programme_scale:g}; full scale is "
        f"pitch {lathe.control_pitch * 1e6:.10g} um, depth {lathe.control_depth * 1e6:.10g} um, "
        f"{lathe.control_volts:.10g} V; first lead-in row at {layout.origin / layout.rate:.9f} s, "
        f"music at {layout.music / layout.rate:.9f} s"
    )


def _toml_text(
    layout: _Layout,
    container: str,
    rows: SpiralRows,
    cues: Sequence[Cue],
    setup: Setup,
    facts: Mapping[str, str | float],
) -> str:
    """Everything one must know to read the WAV."""
    own = _scales(layout, container, rows, setup.lathe)
    taken = sorted(set(own) & set(facts) | {"cue_pulse", "cues", "calibration"} & set(facts))
    if taken:
        raise CallError(f"the control file has {taken[0]} of its own: give that fact another name.")
    lines = ["# What the channels of the control file mean.", *_pairs(facts), *_pairs(own), "", "[cue_pulse]"]
    lines.append("# Level of the pulse of each kind of cue, as a share of full scale.")
    lines += _pairs({kind: pulse_level(kind) for kind in CUE_KINDS})
    for cue in sorted(cues, key=lambda c: c.time):
        lines += ["", "[[cues]]", *_pairs(_cue_facts(layout, cue))]
    for k, (pitch, depth) in enumerate(CALIBRATION_STEPS if layout.origin else ()):
        step = {
            "at_s": float(k * CALIBRATION_STEP_S),
            "length_s": float(CALIBRATION_STEP_S),
            "tone_hz": CALIBRATION_HZ,
            "tone_peak_dbfs": CALIBRATION_DBFS,
            "pitch_um": round(pitch * 1e6, 6),
            "depth_um": round(depth * 1e6, 6),
        }
        lines += ["", "[[calibration]]", *_pairs(step)]
    return "\n".join(lines) + "\n"


def _scales(layout: _Layout, container: str, rows: SpiralRows, lathe: Lathe) -> dict[str, object]:
    """Scales and places; places are counted from the begin of the file."""
    return {
        "container": container,
        "bits": 24,
        "sample_rate_hz": layout.rate,
        "frames": layout.frames,
        "length_s": layout.frames / layout.rate,
        "channels": list(CHANNELS),
        "programme_scale": layout.programme_scale,
        "pitch_full_scale_um": round(lathe.control_pitch * 1e6, 9),
        "depth_full_scale_um": round(lathe.control_depth * 1e6, 9),
        "control_full_scale_v": round(lathe.control_volts, 9),
        "origin_s": layout.origin / layout.rate,
        "first_row_time_s": round(layout.start, 12),
        "last_row_s": round(layout.origin / layout.rate + float(rows.time[-1]) - layout.start, 12),
        "music_at_s": layout.music / layout.rate,
        "music_at_frame": layout.music,
        "music_frames": layout.music_frames,
        "music_residue_s": round(layout.residue, 12),
        "pulse_s": PULSE_S,
        "calibration_pulse": CALIBRATION_PULSE if layout.origin else 0.0,
    }


def _cue_facts(layout: _Layout, cue: Cue) -> dict[str, object]:
    found: dict[str, object] = {
        "kind": cue.kind,
        "at_s": layout.frame(cue.time) / layout.rate,
        "at_frame": layout.frame(cue.time),
        "time_s": round(cue.time, 9),
        "turn": round(cue.turn, 9),
        "radius_mm": round(cue.radius * 1e3, 6),
    }
    return found if cue.band is None else found | {"band": cue.band}


def _pairs(values: Mapping[str, object]) -> list[str]:
    return [f"{_key(name)} = {_value(value)}" for name, value in values.items()]


def _key(name: str) -> str:
    bare = name.isascii() and name.replace("_", "a").replace("-", "a").isalnum()
    return name if bare else _quoted(name)


def _value(value: object) -> str:
    """One value as TOML has it; minus nothing is nothing."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(int(value) if isinstance(value, int) else float(value) + 0.0)
    if isinstance(value, list):
        return f"[{', '.join(_value(item) for item in value)}]"
    return _quoted(str(value))


def _quoted(text: str) -> str:
    """A basic string: JSON's with one more escape, and nothing that is no UTF-8."""
    clean = text.encode("utf-8", "replace").decode("utf-8")
    return json.dumps(clean, ensure_ascii=False).replace("\x7f", "\\u007f")
