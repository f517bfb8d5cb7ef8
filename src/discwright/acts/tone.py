"""Put one steady tone on the bench: what tip and angles make of it at a radius of a disc."""

from __future__ import annotations

import math

from discwright.errors import CallError
from discwright.files.settings import load
from discwright.groove.equipment import DiscFormat, Player
from discwright.groove.tone import MODULATIONS, Spectrum, Tone, tone_spectrum

#: No angle of arm or head comes near this.
_ANGLE_MOST = math.radians(60.0)


def tone_bench(
    frequency: float,
    velocity: float,
    radius: float,
    tip_radius: float,
    modulation: str,
    *,
    format: str | None = None,
    tracking_error: float = 0.0,
    vertical_error: float = 0.0,
    cut_angle: float | None = None,
) -> Spectrum:
    """Harmonics of a tone as a tip reads it, before the replay curve.

    Parameters
    ----------
    frequency : float, Hz
    velocity : float, m/s
        Peak; per wall for left and right, in the plane itself for lateral and vertical.
    radius : float, m
        Where on the disc.
    tip_radius : float, m
        Along the groove; 0 for a tip that follows everything.
    modulation : {"left", "right", "lateral", "vertical"}
    format : str, optional
        Disc format: a name in `data/` or a TOML file.
    tracking_error, vertical_error : float, rad
        The second: playing angle less the angle of the cut.
    cut_angle : float, optional, rad
        That of the standard player without.

    Returns
    -------
    Spectrum

    Raises
    ------
    CallError, SettingsError
        If a value lies outside what a disc can hold.
    """
    disc = load(DiscFormat, format)
    if modulation not in MODULATIONS:
        raise CallError(f"there is no modulation “{modulation}”; choose from {', '.join(MODULATIONS)}.")
    for value, name in ((frequency, "the tone's frequency"), (velocity, "the velocity")):
        if not value > 0.0:
            raise CallError(f"{name} must be greater than zero; give one that is.")
    if not 0.0 <= tip_radius <= 1e-3:
        raise CallError(f"no playing tip has a radius of {tip_radius * 1e6:g} µm; give 0 to 1000.")
    if not disc.locked_radius <= radius <= disc.outermost_radius:
        raise CallError(
            f"a groove of {disc.name} lies between {disc.locked_radius * 1e3:g} and {disc.outermost_radius * 1e3:g} mm "
            f"from the centre; {radius * 1e3:g} mm does not: choose another --radius-mm."
        )
    angle = load(Player, None).cut_angle if cut_angle is None else cut_angle
    if max(abs(tracking_error), abs(angle), abs(angle + vertical_error)) > _ANGLE_MOST:
        raise CallError("an angle of more than 60 degrees is none of an arm or a head; give a smaller one.")
    speed = 2 * math.pi * radius / disc.turn_time
    return tone_spectrum(
        Tone(frequency, velocity, speed, tip_radius, modulation, tracking_error, vertical_error, angle)
    )
