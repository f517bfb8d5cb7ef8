"""What was measured of a chain, as values and as plain JSON."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from discwright.findings import Finding
from discwright.programme.chain_noise import NoiseReading
from discwright.programme.chain_pairs import PairReading
from discwright.programme.chain_signals import REFERENCE_HZ, Side
from discwright.programme.chain_tones import ToneReading

Float = NDArray[np.float64]
Of = tuple[float | None, float | None]
Channel = Literal["left", "right"]
CHANNELS: tuple[Channel, Channel] = ("left", "right")
#: Softer than the louder channel by so much, dB, a channel does not speak for a tone.
_SPEAKS_DB = 20.0


@dataclass(frozen=True)
class Tone:
    """A steady tone in a capture.

    Attributes
    ----------
    start, length : float, s
        Of what was measured, in the capture.
    nominal : float or None, Hz
        Frequency that was played; None where that is not known.
    played_dbfs : float or None
        Level that was played.
    side : {"both", "left", "right"}
        The channels that were found to play it.
    left, right : ToneReading or None
        None for a channel that does not play it.
    leak : float or None
        Of a tone in one channel: amplitude of the same line in the other, 1 = full scale.
    played_side : str
        The channels that it was played in; empty where that is not known.
    """

    start: float
    length: float
    nominal: float | None
    played_dbfs: float | None
    side: Side
    left: ToneReading | None
    right: ToneReading | None
    leak: float | None = None
    played_side: Side | Literal[""] = ""

    @property
    def readings(self) -> dict[Channel, ToneReading]:
        """The channels that play it."""
        return {name: one for name, one in zip(CHANNELS, (self.left, self.right), strict=True) if one is not None}

    @property
    def worse(self) -> tuple[Channel, ToneReading]:
        """The channel with more distortion, of those nearly as loud as the louder."""
        loudest = max(one.level_dbfs for one in self.readings.values())
        spoken = {k: one for k, one in self.readings.items() if one.level_dbfs > loudest - _SPEAKS_DB}
        name = max(spoken, key=lambda k: spoken[k].thd)
        return name, spoken[name]

    @property
    def about_hz(self) -> float:
        """Frequency by which it is named: as played, or as measured."""
        return self.worse[1].frequency if self.nominal is None else self.nominal

    @property
    def separation_db(self) -> float | None:
        """Of a tone in one channel: how far below it the other is."""
        if self.leak is None:
            return None
        return 20.0 * math.log10(self.worse[1].amplitude / max(self.leak, 1e-12))


@dataclass(frozen=True)
class ResponseRow:
    """Response of both channels at a frequency, dB re 1 kHz; None for a channel that was not heard."""

    frequency: float
    left_db: float | None
    right_db: float | None


@dataclass(frozen=True)
class HarmonicRow:
    """Harmonics of a swept sine at one of its frequencies, over the fundamental; None where not read."""

    frequency: float
    left: tuple[float | None, ...]
    right: tuple[float | None, ...]


@dataclass(frozen=True)
class Pair:
    """Two tones at once, in both channels."""

    start: float
    left: PairReading | None
    right: PairReading | None

    @property
    def readings(self) -> dict[Channel, PairReading]:
        """The channels that were heard."""
        return {name: one for name, one in zip(CHANNELS, (self.left, self.right), strict=True) if one is not None}

    @property
    def worse(self) -> PairReading:
        """Of the channel with more distortion."""
        return max(self.readings.values(), key=lambda one: one.total)


@dataclass(frozen=True)
class Wiring:
    """How the channels are connected.

    Attributes
    ----------
    reversed_left, reversed_right : bool or None
        Whether a channel comes back upside down; None where it was not seen.
    opposed : bool or None
        Whether the two channels work against each other.
    swapped : bool or None
        Whether left comes back on the right.
    """

    reversed_left: bool | None = None
    reversed_right: bool | None = None
    opposed: bool | None = None
    swapped: bool | None = None


@dataclass(frozen=True)
class ChainReport:
    """A chain by one capture.

    Attributes
    ----------
    what : {"signals", "tones", "quiet"}
        What the capture holds: the project's own signals, tones of another origin, or nothing but noise.
    length : float, s
    sample_rate_hz, channels : int
    start : float or None, s
        Where in the capture the signals begin; before it where negative.
    speed : float or None
        Speed error: captured over played frequency less 1.
    found, asked : int
        Stretches of the signals that were found, and all there are; both 0 without them.
    gain_db : tuple of (float or None)
        Left and right at 1 kHz: captured over played.
    tones : tuple of Tone
        By time.
    response : tuple of ResponseRow
        By frequency.
    response_from : {"sweep", "tones"} or None
    curve_hz, curve_db : ndarray, shapes (points,) and (2, points)
        The response in steps of 1/24 octave; empty without a swept sine, NaN for a channel that was not heard.
    harmonics : tuple of HarmonicRow
        From the swept sines.
    pairs : tuple of Pair
    balance_db : float or None
        Left over right at 1 kHz.
    noise : tuple of NoiseReading or None
    wiring : Wiring
    full_scale : tuple of int
        Runs of samples at full scale.
    findings : tuple of Finding
    """

    what: Literal["signals", "tones", "quiet"]
    length: float
    sample_rate_hz: int
    channels: int
    start: float | None
    speed: float | None
    found: int
    asked: int
    gain_db: Of
    tones: tuple[Tone, ...]
    response: tuple[ResponseRow, ...]
    response_from: Literal["sweep", "tones"] | None
    curve_hz: Float
    curve_db: Float
    harmonics: tuple[HarmonicRow, ...]
    pairs: tuple[Pair, ...]
    balance_db: float | None
    noise: tuple[NoiseReading, NoiseReading] | None
    wiring: Wiring
    full_scale: tuple[int, int]
    findings: tuple[Finding, ...] = ()

    @property
    def separations(self) -> tuple[Tone, ...]:
        """The tones that play in one channel alone."""
        return tuple(one for one in self.tones if one.separation_db is not None)

    @property
    def separation_db(self) -> float | None:
        """At 1 kHz, or at the nearest frequency there is: the lesser of both directions."""
        known = self.separations
        if not known:
            return None
        nearest = min(abs(math.log(one.about_hz / REFERENCE_HZ)) for one in known)
        near = [one for one in known if abs(math.log(one.about_hz / REFERENCE_HZ)) < nearest + 0.05]
        return min(one.separation_db for one in near if one.separation_db is not None)

    @property
    def noise_dbfs(self) -> float | None:
        """Of the noisier channel."""
        if self.noise is None:
            return None
        known = [one.level_dbfs for one in self.noise if one.level_dbfs is not None]
        return max(known) if known else None

    def as_dict(self) -> dict[str, Any]:
        """The report as plain JSON values, numbers rounded to what they are worth."""
        return {
            "what": self.what,
            "duration_s": _round(self.length, 6),
            "sample_rate_hz": self.sample_rate_hz,
            "channels": self.channels,
            "start_s": _round(self.start, 7),
            "speed_error_ppm": None if self.speed is None else _round(self.speed * 1e6, 4),
            "signals_found": self.found,
            "signals_asked": self.asked,
            "gain_db": [_round(one, 4) for one in self.gain_db],
            "tones": [_tone(one) for one in self.tones],
            "response": [
                {"frequency_hz": row.frequency, "left_db": _round(row.left_db, 4), "right_db": _round(row.right_db, 4)}
                for row in self.response
            ],
            "response_from": self.response_from,
            "sweep_harmonics": [_harmonic(row) for row in self.harmonics],
            "intermodulation": [_pair(one) for one in self.pairs],
            "separation_db": _round(self.separation_db, 3),
            "separation": [
                {
                    "frequency_hz": _hz(one.about_hz),
                    "from_channel": one.worse[0],
                    "separation_db": _round(one.separation_db, 3),
                }
                for one in self.separations
            ],
            "balance_db": _round(self.balance_db, 4),
            "noise_dbfs": _round(self.noise_dbfs, 3),
            "noise": None if self.noise is None else dict(zip(CHANNELS, map(_noise, self.noise), strict=True)),
            "wiring": {
                "left_reversed": self.wiring.reversed_left,
                "right_reversed": self.wiring.reversed_right,
                "opposed": self.wiring.opposed,
                "swapped": self.wiring.swapped,
            },
            "full_scale_runs": list(self.full_scale),
            "findings": [finding.as_dict() for finding in self.findings],
        }


def _tone(tone: Tone) -> dict[str, Any]:
    channel, worse = tone.worse
    return _reading(worse) | {
        "channel": channel,
        "side": tone.side,
        "time_s": _round(tone.start, 4),
        "length_s": _round(tone.length, 4),
        "nominal_hz": tone.nominal,
        "played_dbfs": tone.played_dbfs,
        "left": None if tone.left is None else _reading(tone.left),
        "right": None if tone.right is None else _reading(tone.right),
    }


def _reading(one: ToneReading) -> dict[str, Any]:
    return {
        "frequency_hz": _hz(one.frequency),
        "level_dbfs": _round(one.level_dbfs, 4),
        "thd_percent": _percent(one.thd),
        "thdn_percent": _percent(one.thdn),
        "harmonics_percent": [_percent(harmonic) for harmonic in one.harmonics],
        "noise_percent": _percent(one.floor),
    }


def _harmonic(row: HarmonicRow) -> dict[str, Any]:
    return {
        "frequency_hz": row.frequency,
        "left_percent": [None if one is None else _percent(one) for one in row.left],
        "right_percent": [None if one is None else _percent(one) for one in row.right],
    }


def _pair(pair: Pair) -> dict[str, Any]:
    def plain(one: PairReading) -> dict[str, Any]:
        return {
            "level_dbfs": _round(one.level_dbfs, 4),
            "second_percent": _percent(one.second),
            "third_percent": _percent(one.third),
            "total_percent": _percent(one.total),
        }

    worse = pair.worse
    return plain(worse) | {
        "kind": worse.kind,
        "low_hz": _hz(worse.low),
        "high_hz": _hz(worse.high),
        "time_s": _round(pair.start, 4),
        "left": None if pair.left is None else plain(pair.left),
        "right": None if pair.right is None else plain(pair.right),
    }


def _noise(one: NoiseReading) -> dict[str, Any]:
    return {
        "noise_dbfs": _round(one.level_dbfs, 3),
        "mains_hz": one.mains,
        "hum": [
            {"order": line.order, "frequency_hz": _round(line.frequency, 3), "level_dbfs": _round(line.level_dbfs, 3)}
            for line in one.hum
        ],
    }


def _percent(share: float) -> float:
    """Seven digits after the point: a thousandth of a millionth of the whole."""
    return round(100.0 * share, 7) + 0.0


def _hz(frequency: float) -> float:
    """Ten digits: a thousandth of a millionth and less."""
    return float(f"{frequency:.11g}")


def _round(value: float | None, digits: int) -> float | None:
    # Adding nothing turns −0.0 into 0.0.
    return None if value is None or not math.isfinite(value) else round(value, digits) + 0.0
