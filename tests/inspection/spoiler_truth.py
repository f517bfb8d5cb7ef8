"""The truth about a disc spoiled on purpose, inside and as plain values for a file."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from scipy import signal
from spoiler_map import TimeMap
from spoiler_sound import Floats, response_db
from spoiler_wrongs import Spoil

#: Nominal third octaves (IEC 61260), Hz.
THIRDS_HZ = (
    25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0, 630.0, 800.0, 1000.0,
    1250.0, 1600.0, 2000.0, 2500.0, 3150.0, 4000.0, 5000.0, 6300.0, 8000.0, 10000.0, 12500.0, 16000.0, 20000.0,
)  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """One thing that was planted.

    Attributes
    ----------
    kind : str
        tick, pop, crackle (one of many), crackle region, scratch (one of them), swish (one turn of it), dropout,
        skip or repeat.
    time_s : float
        In the programme; of a tick the place of its greatest sample above 2 kHz.
    capture_s : float
        When it is heard, the first time.
    turn, angle_deg, radius_mm : float
    channel : {"left", "right", "both"}
    duration_s : float
    size_db : float
        Of ticks: peak above 2 kHz over what masks it; else depth, dB over the noise, or turns jumped.
    shape : str
    group : str
        Ticks of one scratch or one crackle share it.
    """

    kind: str
    time_s: float
    capture_s: float
    turn: float
    angle_deg: float
    radius_mm: float
    channel: str
    duration_s: float
    size_db: float
    shape: str = ""
    group: str = ""


@dataclass(frozen=True)
class Truth:
    """Everything that was done to a disc, by the spoiler's own measure.

    Attributes
    ----------
    sample_rate : int, Hz
    capture_s, programme_s, rpm : float
    start_s : float
        When the programme's first sample is heard.
    speed_error_percent, wow_peak_percent : float
    eccentricity_mm, eccentricity_angle_deg : float
        With what a warp does once per turn: the two cannot be told apart.
    noise_above_2khz_dbfs : tuple of float, or None
        RMS of each channel's noise above 2 kHz.
    faults : list of Fault
    what : Spoil
    taps : ndarray
        Of the response of disc and player.
    map : TimeMap
    """

    sample_rate: int
    capture_s: float
    programme_s: float
    rpm: float
    start_s: float
    speed_error_percent: float
    wow_peak_percent: float
    eccentricity_mm: float
    eccentricity_angle_deg: float
    noise_above_2khz_dbfs: tuple[float, float] | None
    faults: list[Fault]
    what: Spoil
    taps: Floats
    map: TimeMap

    @property
    def ticks(self) -> list[Fault]:
        """All that is short: ticks, pops, and those of scratches and crackle."""
        return [one for one in self.faults if one.kind in ("tick", "pop", "scratch", "crackle")]

    def capture_time(self, time: Floats) -> Floats:
        """Programme time, s, to when it is first heard, s."""
        return self.map.capture_time(time)

    def response_db(self, frequency: Floats) -> Floats:
        """Of disc and player at any frequency in Hz, the same in both channels, dB; gain and balance are apart."""
        return response_db(self.taps, self.sample_rate, frequency)

    def late(self, frequency: Floats) -> Floats:
        """How much later than the time map says a frequency in Hz is heard, s: the response's phase delay.

        No time map can tell it from the disc's turning; it is 0 where the response has no phase.
        """
        _, h = signal.freqz(self.taps, worN=frequency, fs=self.sample_rate)
        middle = (len(self.taps) - 1) / 2 / self.sample_rate
        out: Floats = -np.angle(h * np.exp(2j * np.pi * frequency * middle)) / (2 * np.pi * frequency)
        return out

    def third_octaves_db(self) -> dict[float, float]:
        """Mean power over each third octave (even over log frequency), 0 dB at 1 kHz."""
        within = 2.0 ** (np.linspace(-1 / 6, 1 / 6, 17))
        bands = {f: f for f in THIRDS_HZ if f * 2 ** (1 / 6) < self.sample_rate / 2}
        level = {f: 10 * math.log10(np.mean(10 ** (self.response_db(f * within) / 10))) for f in bands}
        return {f: value - level[1000.0] for f, value in level.items()}

    def as_dict(self) -> dict[str, Any]:
        """Plain values, with the time map every 0.05 s of the programme."""
        time = np.append(np.arange(0.0, self.programme_s, 0.05), self.programme_s)
        heard = self.capture_time(time)
        return {
            "sample_rate_hz": self.sample_rate,
            "capture_s": self.capture_s,
            "programme_s": self.programme_s,
            "rpm": self.rpm,
            "turn_s": 60 / self.rpm,
            "start_s": self.start_s,
            "speed_error_percent": self.speed_error_percent,
            "wow_peak_percent": self.wow_peak_percent,
            "eccentricity_mm": self.eccentricity_mm,
            "eccentricity_angle_deg": self.eccentricity_angle_deg,
            "level_db": self.what.gain_db,
            "balance_db": self.what.balance_db,
            "separation_db": None if self.what.crosstalk_db is None else -self.what.crosstalk_db,
            "noise_dbfs": self.what.noise_dbfs,
            "noise_above_2khz_dbfs": self.noise_above_2khz_dbfs,
            "rumble_dbfs": self.what.rumble_dbfs,
            "response": [
                {"frequency_hz": f, "db": round(db, 4), "late_us": round(float(self.late(np.array([f]))[0]) * 1e6, 3)}
                for f, db in self.third_octaves_db().items()
            ],
            "ticks": [_plain(one) for one in self.ticks],
            "others": [_plain(one) for one in self.faults if one not in self.ticks],
            "map": {"programme_s": np.round(time, 6).tolist(), "capture_s": [_number(t) for t in heard.tolist()]},
            "planted": asdict(self.what),
        }


def _plain(one: Fault) -> dict[str, Any]:
    return {key: _number(value) if isinstance(value, float) else value for key, value in asdict(one).items()}


def _number(value: float) -> float | None:
    return round(value, 8) if math.isfinite(value) else None
