"""What a test play may show before a part is not let through."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.groove.equipment import quantity


@dataclass(frozen=True)
class PlayLimits:
    """Limits of a works for one playing of one side."""

    name: str
    speed_error_max: float = quantity("speed_error_max_percent")
    wow_flutter_max: float = quantity("wow_flutter_max_percent")
    eccentricity_max: float = quantity("eccentricity_max_mm")
    balance_max: float = quantity("balance_max_db")
    response_max: float = quantity("response_max_db")
    separation_min: float = quantity("separation_min_db")
    noise_max: float = quantity("noise_max_db")
    rumble_max: float = quantity("rumble_max_db")
    distortion_over_proof_max: float = quantity("distortion_over_proof_max_percent")
    audible_faults_max: int = quantity("audible_faults_max")
