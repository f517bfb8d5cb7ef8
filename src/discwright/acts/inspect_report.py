"""What a test play was found to be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from discwright.findings import Finding
from discwright.inspection.growth import Growth
from discwright.inspection.limits import PlayLimits
from discwright.inspection.sound import THIRDS_HZ
from discwright.inspection.verdict import Played

PASS, STOP = "pass", "stop"


@dataclass(frozen=True)
class CaptureFacts:
    """What a capture is as a file.

    Attributes
    ----------
    path : str
    sha256 : str
    rate : int
        Hz.
    channels, frames : int
    clipped : float
        Share of samples at its ceiling.
    equalised : bool
        It had the replay curve already.
    """

    path: str
    sha256: str
    rate: int
    channels: int
    frames: int
    clipped: float
    equalised: bool


@dataclass(frozen=True)
class InspectReport:
    """One test play, measured and judged.

    Attributes
    ----------
    capture : CaptureFacts
    name : str
        Of the side.
    reference : str
        What the capture was held against.
    fingerprint : str
        Of the plan; empty without one.
    played : Played
    rumble_db : float
        re 10 cm/s at 1 kHz, lateral.
    limits : PlayLimits
    findings : tuple of Finding
    turn_time : float, s
    kept : pathlib.Path or None
        Folder the report was kept in.
    """

    capture: CaptureFacts
    name: str
    reference: str
    fingerprint: str
    played: Played
    rumble_db: float
    limits: PlayLimits
    findings: tuple[Finding, ...]
    turn_time: float
    kept: Path | None

    @property
    def ready(self) -> bool:
        """Nothing stops it."""
        return self.verdict == PASS

    @property
    def verdict(self) -> str:
        """``"pass"`` or ``"stop"``."""
        return STOP if any(one.severity == "stop" and not one.accepted for one in self.findings) else PASS

    def measures(self) -> dict[str, float | None]:
        """Every measure by its name, unit in the name."""
        turning, sound = self.played.turning, self.played.sound
        weighted = turning.wow_flutter_weighted
        return {
            "start_s": round(turning.start, 6),
            "speed_error_percent": round(turning.speed_error * 100, 5),
            "wow_peak_percent": round(turning.wow_peak * 100, 4),
            "wow_flutter_weighted_percent": None if weighted is None else round(weighted * 100, 4),
            "eccentricity_mm": round(turning.eccentricity * 1e3, 4),
            "eccentricity_angle_deg": round(math.degrees(turning.eccentricity_angle), 1),
            "level_db": round(sound.level_db, 3),
            "balance_db": round(sound.balance_db, 3),
            "separation_db": None if sound.separation_db is None else round(sound.separation_db, 2),
            "noise_db": round(sound.noise_db, 2),
            "rumble_db": round(self.rumble_db, 2),
        }

    def limits_told(self) -> dict[str, dict[str, Any]]:
        """Unit, what is best, and limit of every measure."""
        k = self.limits
        return {
            "start_s": {"unit": "s", "best": None, "limit": None},
            "speed_error_percent": {"unit": "%", "best": 0, "limit": _shown(k.speed_error_max * 100)},
            "wow_peak_percent": {"unit": "%", "best": 0, "limit": None},
            "wow_flutter_weighted_percent": {"unit": "%", "best": 0, "limit": _shown(k.wow_flutter_max * 100)},
            "eccentricity_mm": {"unit": "mm", "best": 0, "limit": _shown(k.eccentricity_max * 1e3)},
            "eccentricity_angle_deg": {"unit": "deg", "best": None, "limit": None},
            "level_db": {"unit": "dB", "best": None, "limit": None},
            "balance_db": {"unit": "dB", "best": 0, "limit": _shown(k.balance_max)},
            "separation_db": {"unit": "dB", "best": "more", "limit": _shown(k.separation_min)},
            "noise_db": {"unit": "dB", "best": "less", "limit": _shown(k.noise_max)},
            "rumble_db": {"unit": "dB", "best": "less", "limit": _shown(k.rumble_max)},
        }

    def as_dict(self) -> dict[str, Any]:
        """The report as plain JSON values."""
        capture, played = self.capture, self.played
        return {
            "measures": self.measures(),
            "response": [
                {"frequency_hz": frequency, "left_db": _number(left), "right_db": _number(right)}
                for frequency, (left, right) in zip(THIRDS_HZ, played.sound.response_db, strict=True)
            ],
            "defects": [one.as_dict() for one in played.defects],
            "findings": [one.as_dict() for one in self.findings],
            "verdict": self.verdict,
            "limits": self.limits_told(),
            "distortion": [_growth(one) for one in played.growth],
            "reference": self.reference,
            "name": self.name,
            "plan_fingerprint": self.fingerprint,
            "covered_s": [round(one, 3) for one in played.covered],
            "capture": {
                "path": capture.path, "sha256": capture.sha256, "sample_rate_hz": capture.rate,
                "duration_s": round(capture.frames / capture.rate, 3), "replay_curve": capture.equalised,
            },
            "kept": None if self.kept is None else str(self.kept),
        }  # fmt: skip


def _growth(one: Growth) -> dict[str, float]:
    return {
        "time_s": round(one.time, 2), "measured_percent": round(one.measured * 100, 2),
        "predicted_percent": round(one.predicted * 100, 2),
    }  # fmt: skip


def _number(value: float) -> float | None:
    return round(float(value), 3) if math.isfinite(value) else None


def _shown(value: float) -> float:
    return float(f"{value:.6g}")
