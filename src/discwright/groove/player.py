"""The playing arm, the patch of contact and the turning disc: published models, one function each.

arm      tracking_error, null_radii, aligned     the cartridge's angle to the groove, seen from above
         vertical_lag                            and seen from the side
contact  contact_radius, scanning_loss           the tip rests on a patch, not on a point
         aperture_taps                           the same loss as a short FIR
disc     off_centre_place, warp_place            when a place of the groove really passes under the tip
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from discwright.errors import CallError

Float = NDArray[np.float64]

#: Young's modulus (Pa) and Poisson's ratio of pressed vinyl: reference values 5.10, medium confidence.
YOUNG = 3.3e9
POISSON = 0.35
#: The scanning loss is fitted up to here, Hz, or to 0.45 of the sample rate.
APERTURE_FIT_TO_HZ = 20_500.0
#: Weight of the loss above the fit: enough to keep the taps tame, too little to spoil what is heard.
_OUTSIDE = 1e-2


def tracking_error(radius: ArrayLike, length: float, overhang: float, offset: float) -> Float:
    """Angle between the cartridge's axis and the tangent of the groove, from above.

    asin((r² + L² - D²)/2rL) - offset, with D = L - overhang from pivot to spindle: the cosine rule in the
    triangle of spindle, pivot and tip. Negative between the two radii without error, positive outside them.

    Parameters
    ----------
    radius : array_like, shape (...), m
    length : float, m
        L, from the pivot to the tip.
    overhang : float, m
        How far the tip would reach beyond the spindle.
    offset : float, rad
        Of the cartridge's axis to the line from pivot to tip.

    Returns
    -------
    ndarray, shape (...), rad
        Source: Lofgren 1938; Baerwald 1941.

    Raises
    ------
    CallError
        If the arm does not reach a radius.
    """
    r = np.asarray(radius, dtype=np.float64)
    above, below = r**2 + length**2 - (length - overhang) ** 2, 2 * r * length
    reached = np.abs(above) <= below
    if not np.all(reached):
        raise CallError(
            f"an arm of {length * 1e3:g} mm with {overhang * 1e3:g} mm overhang does not reach a groove "
            f"{r[~reached].flat[0] * 1e3:g} mm from the centre; give another arm_length_mm or overhang_mm."
        )
    result: Float = np.arcsin(above / below) - offset
    return result


def null_radii(inner: float, outer: float) -> tuple[float, float]:
    """The two radii without tracking error that make the error per radius equally great at both ends and between.

    2·r1·r2/[(1 ± c)·r2 + (1 ∓ c)·r1] with c = 1/√2 and the ends r1 and r2. The error is weighted by 1/r since its
    distortion is v·tan(error)/V and the groove speed V goes with the radius.

    Parameters
    ----------
    inner, outer : float, m
        Of the recorded surface.

    Returns
    -------
    inner_null, outer_null : float, m
        Source: Lofgren 1938; Baerwald 1941.
    """
    c, product = 1 / math.sqrt(2.0), 2 * inner * outer
    return product / ((1 + c) * outer + (1 - c) * inner), product / ((1 - c) * outer + (1 + c) * inner)


def aligned(length: float, inner: float, outer: float) -> tuple[float, float]:
    """Overhang and offset that put the radii without error where :func:`null_radii` wants them.

    sin(offset) = (n1 + n2)/2L and D² = L² - n1·n2: the two roots of the error's own equation.

    Parameters
    ----------
    length : float, m
        L, from the pivot to the tip.
    inner, outer : float, m
        Of the recorded surface.

    Returns
    -------
    overhang : float, m
    offset : float, rad
        Source: Lofgren 1938; Baerwald 1941.

    Raises
    ------
    CallError
        If the arm is too short for both radii.
    """
    first, second = null_radii(inner, outer)
    if first + second > 2 * length:
        raise CallError(
            f"an arm of {length * 1e3:g} mm cannot be free of error at {first * 1e3:.1f} and {second * 1e3:.1f} mm; "
            f"give one of {(first + second) / 2 * 1e3:.1f} mm or longer."
        )
    return length - math.sqrt(length**2 - first * second), math.asin((first + second) / (2 * length))


def vertical_lag(playing_angle: float, cut_angle: float) -> float:
    """How far back along the groove a lifted tip touches, per lift: tan(playing angle) - tan(cut angle).

    The cartridge hangs above the groove that is still to come: a tip that rises swings away from there, onto groove
    that has passed. The cutting tip did the same at its own angle.

    Parameters
    ----------
    playing_angle, cut_angle : float, rad
        Vertical angle of the cartridge, and the one the groove was cut with.

    Returns
    -------
    float, m back along the groove per m of lift
        Times v/V it is the second harmonic of a vertical tone, a ratio of velocities. Source: AES preprint
        1940 (1982), whose measured cases it meets within 12 %; reference values 5.9.
    """
    return math.tan(playing_angle) - math.tan(cut_angle)


def contact_radius(force: float, radius: float, side_radius: float) -> float:
    """Half the length of the patch, along the groove, on which the tip rests.

    A sphere on a flat wall: c = (3·F·R/4E*)^⅓ with 1/E* = (1 - ν²)/E, the tip itself taken as rigid and F = force/√2
    on each 45° wall. An ellipsoid is the sphere of R = √(radius · side_radius) whose patch is drawn out: its half-axis
    along the groove is c·(side_radius/radius)^⅓: against the full elliptic integrals 1 % long for 18 by 8 µm, 2 % for
    18 by 5. The material is taken as elastic; flow, friction and the groove's own bends are left out.

    Parameters
    ----------
    force : float, N
        Down-force of the tip, both walls together.
    radius : float, m
        Of the tip, seen along the groove's cross-section.
    side_radius : float, m
        Of the tip, seen along the groove.

    Returns
    -------
    float, m
        Source: Hertz; Johnson, Contact Mechanics (1985), 4.2: b/a = (R''/R')^⅔ and c = √(ab).
    """
    modulus = YOUNG / (1 - POISSON**2)
    sphere = math.cbrt(3 * force / math.sqrt(2.0) * math.sqrt(radius * side_radius) / (4 * modulus))
    return sphere * math.cbrt(side_radius / radius)


def scanning_loss(frequency: ArrayLike, contact: float, speed: float) -> Float:
    """What is left of a tone when the wall counts as its mean over a round patch: 2·J1(x)/x, x = 2πf·c/V.

    Parameters
    ----------
    frequency : array_like, shape (...), Hz
    contact : float, m
        Radius c of the patch.
    speed : float, m/s
        Groove speed V.

    Returns
    -------
    ndarray, shape (...), amplitude factor
        1 at 0 Hz; negative beyond the first null, f = 3.8317·V/2πc. Source: aperture theory, reference values
        5.10. Loss from the resonance of the tip's mass on the wall is another effect and not in here.
    """
    x = 2 * np.pi * np.asarray(frequency, dtype=np.float64) * contact / speed
    # The same as 2·J1(x)/x by the recurrence of Bessel functions, and whole at x = 0.
    result: Float = special.j0(x) + special.jv(2, x)
    return result


def aperture_taps(contact: float, speed: float, sample_rate: float, half_taps: int = 8) -> Float:
    """The scanning loss as a symmetrical FIR: it delays nothing and its gain at 0 Hz is exactly 1.

    Least squares up to 20.5 kHz or 0.45 of the sample rate. With eight taps on each side it is within 0.01 dB of
    :func:`scanning_loss` up to 18 kHz from 44.1 kHz on, for every patch and speed a disc can have (c up to 4.3 µm,
    V from 18.8 cm/s), and within 0.06 dB up to 19.8 kHz.

    Parameters
    ----------
    contact : float, m
    speed : float, m/s
    sample_rate : float, Hz
    half_taps : int

    Returns
    -------
    ndarray, shape (2·half_taps + 1,)
        The middle one falls on the sample itself.
    """
    edge = min(APERTURE_FIT_TO_HZ, 0.45 * sample_rate)
    frequency = np.concatenate([np.linspace(0.0, edge, 400), np.linspace(edge, sample_rate / 2, 100)])
    weight = np.where(frequency <= edge, 1.0, _OUTSIDE)
    # One pair of taps adds b·(2·cos - 2) when the middle one gives back what the pair takes: no gain at 0 Hz.
    pairs = 2 * np.cos(2 * np.pi * np.multiply.outer(frequency / sample_rate, np.arange(1, half_taps + 1))) - 2
    wanted = scanning_loss(frequency, contact, speed) - 1.0
    side, *_ = np.linalg.lstsq(pairs * weight[:, None], wanted * weight, rcond=None)
    return np.concatenate([side[::-1], [1.0 - 2.0 * side.sum()], side])


def off_centre_place(time: ArrayLike, radius: ArrayLike, off_centre: float, turn_time: float) -> Float:
    """When a place of the groove passes under the tip on a disc whose hole is off the groove's centre.

    Seen from the groove's own centre the place lies at the angle α = 2πt/T; seen from the spindle, which the hole
    puts `off_centre` away, at α + atan2(-e·sin α, r + e·cos α). The speed that is heard swings by ±e/r once a turn.
    The tip is taken to stay on one line through the spindle. On an arm with an offset it swings across that line
    as it follows the groove in and out, and the wow is 1/cos(offset + tracking error) times as great: 9 to 11 % more.

    Parameters
    ----------
    time : array_like, shape (n,), s
        When the place would pass on a centred disc.
    radius : array_like, shape (n,), m
        Of the groove there, from its own centre.
    off_centre : float, m
    turn_time : float, s
        T, of one turn.

    Returns
    -------
    ndarray, shape (n,), s
        Source: geometry, exact; reference values 6.
    """
    t, r = np.asarray(time, dtype=np.float64), np.asarray(radius, dtype=np.float64)
    alpha = 2 * np.pi * t / turn_time
    seen = np.arctan2(-off_centre * np.sin(alpha), r + off_centre * np.cos(alpha))
    result: Float = t + seen * turn_time / (2 * np.pi)
    return result


def warp_place(
    time: ArrayLike,
    radius: ArrayLike,
    rim: float,
    height: float,
    waves: int,
    pivot_height: float,
    length: float,
    turn_time: float,
) -> Float:
    """When a place of the groove passes under the tip on a warped disc.

    The surface rises by z = height/2·(r/rim)^waves·cos(waves·α), α = 2πt/T: the shapes r^n·cos nα a plate bends into
    most easily. The arm's pivot is higher than the tip, so a tip that rises by z swings away from it by
    z·pivot_height/length, with the groove: the place passes later by that over the groove speed 2πr/T. No waves
    are a dish: the same height all round, hence no wow.

    Left out: the longer way over the slope (second order in it), the change of force as the arm is thrown up and
    let fall, and the arm's offset, which makes as much more of it as in :func:`off_centre_place`.

    Parameters
    ----------
    time : array_like, shape (n,), s
        When the place would pass on a flat disc.
    radius : array_like, shape (n,), m
    rim : float, m
        Radius of the disc's edge.
    height : float, m
        From the lowest to the highest place of the rim.
    waves : int
        Rises per turn: 0 a dish, 1 a tilt, 2 a saddle.
    pivot_height : float, m
        Of the arm's vertical pivot above the disc.
    length : float, m
        From the pivot to the tip.
    turn_time : float, s
        T, of one turn.

    Returns
    -------
    ndarray, shape (n,), s
        Source: derived; first order in the rise.
    """
    t, r = np.asarray(time, dtype=np.float64), np.asarray(radius, dtype=np.float64)
    rise = height / 2 * (r / rim) ** waves * np.cos(waves * 2 * np.pi * t / turn_time)
    result: Float = t + rise * pivot_height / length * turn_time / (2 * np.pi * r)
    return result
