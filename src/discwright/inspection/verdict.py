"""What a house makes of a playing: findings with value, limit and what to do."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from discwright.findings import Finding, Severity
from discwright.groove.heard import Place
from discwright.inspection.defects import HEARD_DB, Defect
from discwright.inspection.growth import Growth
from discwright.inspection.limits import PlayLimits
from discwright.inspection.sound import THIRDS_HZ, Sound
from discwright.inspection.speed import Turning
from discwright.units import clock

#: Share of clipped samples from which on a capture cannot be judged.
_CLIPPED = 1e-4
#: Where a response is judged, Hz.
_JUDGED_HZ = (100.0, 10_000.0)
_REMEDIES = {
    "tick": "Play another pressing: a tick on every one of them is in the metal (discwright works locate).",
    "pop": "Play another pressing; look at the place under the microscope.",
    "scratch": "It comes once a turn at one angle: look for a line there on disc and stamper.",
    "crackle": "Look at the surface there: dirt, static, or a bad film of silver.",
    "swish": "Noise over part of a turn: non-fill; press hotter or longer and look at the stamper's temperature.",
    "dropout": "Sound is missing: look at the groove there.",
}
_WORDS = {"tick": ("tick", "ticks"), "pop": ("pop", "pops"), "scratch": ("tick of a scratch", "ticks of a scratch"),
          "crackle": ("region of crackle", "regions of crackle"), "swish": ("swish", "swishes"),
          "dropout": ("dropout", "dropouts")}  # fmt: skip


@dataclass(frozen=True)
class Played:
    """Everything a verdict rests on.

    Attributes
    ----------
    turning : Turning
    sound : Sound
    defects : tuple of Defect
    growth : list of Growth
    covered : (float, float), s
        What of the programme the capture holds.
    duration : float, s
        Of the programme.
    clipped : float
        Share of the capture's samples at its ceiling.
    alike : bool
        Both channels of the capture are the same, those of the programme are not.
    """

    turning: Turning
    sound: Sound
    defects: tuple[Defect, ...]
    growth: list[Growth]
    covered: tuple[float, float]
    duration: float
    clipped: float
    alike: bool


def judge(played: Played, limits: PlayLimits, place: Place, planned: bool) -> list[Finding]:
    """Hold a playing against house practice.

    Parameters
    ----------
    played : Played
    limits : PlayLimits
    place : Place
    planned : bool
        The groove's place is a plan's.

    Returns
    -------
    list of Finding
    """
    return [
        *_coverage(played, place), *_speed(played.turning, limits), *_sound(played, limits),
        *_faults(played.defects, limits, place), *_growth(played.growth, limits, place),
        *([] if planned else [_assumed(place)]),
    ]  # fmt: skip


def finding(code: str, severity: Severity, value: float, limit: float, unit: str, remedy: str) -> Finding:
    return Finding(code, severity, None, None, None, None, value, limit, unit, remedy)


def _assumed(place: Place) -> Finding:
    pitch = (place.radius[0] - place.radius[-1]) / max((place.time[-1] - place.time[0]) / place.turn_time, 1e-9)
    return finding(
        "assumed_spiral", "note", pitch * 1e6, 0.0, "um",
        "No plan was given: radii, and what hangs on them, are those of an even pitch. Give --plan DIR.",
    )  # fmt: skip


def _coverage(played: Played, place: Place) -> list[Finding]:
    found = []
    begin, end = played.covered
    if end < played.duration - 0.5:
        found.append(
            place.finding(
                "ends_early", "stop", end, end, played.duration, "s",
                f"The capture ends at {clock(end)} of {clock(played.duration)}; everything here is of that part. "
                "Play the side to its end.",
            )
        )  # fmt: skip
    if begin > 0.5:
        found.append(
            place.finding(
                "begins_late", "stop", begin, begin, 0.0, "s",
                f"The capture begins {clock(begin)} into the programme; begin recording before the needle is down.",
            )
        )  # fmt: skip
    if played.clipped > 1e-6:
        found.append(
            finding(
                "capture_clipped", "warn" if played.clipped < _CLIPPED else "stop", played.clipped * 100, 0.0,
                "% of samples",
                "The capture stands at its ceiling: ticks there cannot be told from clipping. Lower the input and "
                "play again.",
            )
        )  # fmt: skip
    if played.alike:
        found.append(
            finding(
                "both_alike", "stop", 0.0, 0.0, "dB",
                "Both channels of the capture are the same and those of the programme are not: look at leads, "
                "cartridge and the mono switch.",
            )
        )  # fmt: skip
    return found


def _speed(turning: Turning, limits: PlayLimits) -> list[Finding]:
    found = []
    if abs(turning.speed_error) > limits.speed_error_max:
        found.append(
            finding(
                "speed", "warn", turning.speed_error * 100, limits.speed_error_max * 100, "%",
                f"It plays {'fast' if turning.speed_error > 0 else 'slow'}: look at the turntable first, then at the "
                "lathe's speed on that day.",
            )
        )  # fmt: skip
    weighted = turning.wow_flutter_weighted
    if weighted is not None and weighted > limits.wow_flutter_max:
        found.append(
            finding(
                "wow_flutter", "warn", weighted * 100, limits.wow_flutter_max * 100, "%",
                "More than the house allows: centre the disc, or play it on another turntable.",
            )
        )  # fmt: skip
    if turning.eccentricity > limits.eccentricity_max:
        found.append(
            finding(
                "off_centre", "stop", turning.eccentricity * 1e3, limits.eccentricity_max * 1e3, "mm",
                "The hole is off the spiral's centre (or the disc is tilted by warp, which cannot be told from it): "
                "check the flatness, then the stamper's centring and the centre pin.",
            )
        )  # fmt: skip
    return found


def _sound(played: Played, limits: PlayLimits) -> list[Finding]:
    sound, found = played.sound, []
    if sound.swapped:
        found.append(finding("swapped", "stop", 0.0, 0.0, "dB", "Left is heard on the right: look at the leads."))
    if sound.inverted[0] != sound.inverted[1]:
        found.append(
            finding(
                "play_polarity", "stop", 0.0, 0.0, "dB", "One channel is turned round: look at the cartridge's leads."
            )
        )
    if abs(sound.balance_db) > limits.balance_max:
        found.append(
            finding(
                "play_balance", "warn", sound.balance_db, limits.balance_max, "dB",
                f"{'Left' if sound.balance_db > 0 else 'Right'} is louder: look at the cartridge's azimuth and side "
                "force, then at the cutting head's balance.",
            )
        )  # fmt: skip
    inside = (np.array(THIRDS_HZ) >= _JUDGED_HZ[0]) & (np.array(THIRDS_HZ) <= _JUDGED_HZ[1])
    departure = np.where(np.isfinite(sound.response_db), np.abs(sound.response_db), 0.0) * inside[:, None]
    if departure.max() > limits.response_max:
        band, channel = np.unravel_index(int(np.argmax(departure)), departure.shape)
        found.append(
            finding(
                "response", "warn", float(sound.response_db[band, channel]), limits.response_max, "dB",
                f"At {THIRDS_HZ[band]:g} Hz, {('left', 'right')[channel]}: check the playing chain with a test disc, "
                "then the cut.",
            )
        )  # fmt: skip
    if sound.separation_db is not None and sound.separation_db < limits.separation_min and not played.alike:
        found.append(
            finding(
                "separation", "warn", sound.separation_db, limits.separation_min, "dB",
                "Each channel is heard in the other: check the cartridge's azimuth, then the head's angle.",
            )
        )  # fmt: skip
    if sound.noise_db > limits.noise_max:
        found.append(
            finding(
                "surface_noise", "warn", sound.noise_db, limits.noise_max, "dB",
                "Noisier than the house allows: clean and play again; then look at silvering, compound and press heat.",
            )
        )  # fmt: skip
    return found


def _faults(defects: Sequence[Defect], limits: PlayLimits, place: Place) -> list[Finding]:
    found = [
        place.finding(
            "groove_left", "stop", one.time, one.duration, 0.0, "s",
            f"The playing tip {'skips ahead' if one.kind == 'skip' else 'repeats the groove'} here: look at it under "
            "the microscope, and play another copy.",
        )
        for one in defects
        if one.kind in ("skip", "repeat")
    ]  # fmt: skip
    heard = [one for one in defects if one.audible and one.kind in _REMEDIES]
    counts = Counter(one.kind for one in heard)
    serious = len(heard) > limits.audible_faults_max or counts["scratch"] + counts["dropout"] > 0
    for kind, count in counts.items():
        worst = max((one for one in heard if one.kind == kind), key=lambda one: one.size_db)
        words = _WORDS[kind][count > 1]
        found.append(
            place.finding(
                "faults", "stop" if serious else "warn", worst.time, worst.size_db, HEARD_DB, "dB over masking",
                f"{count} {words} to be heard, the worst here. {_REMEDIES[kind]}",
            )
        )  # fmt: skip
    return found


def _growth(growth: Sequence[Growth], limits: PlayLimits, place: Place) -> list[Finding]:
    for one in growth:
        over = max(one.measured**2 - one.predicted**2, 0.0) ** 0.5
        if over > limits.distortion_over_proof_max:
            return [
                place.finding(
                    "play_distortion", "warn", one.time, over * 100, limits.distortion_over_proof_max * 100, "%",
                    f"From here on the playing distorts more than the proof foretold ({one.predicted * 100:.1f} %): "
                    "check tip and tracking first, then wear of the mother.",
                )
            ]  # fmt: skip
    return []
