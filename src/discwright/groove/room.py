"""How long a side may be at most: what even silence would fill."""

from __future__ import annotations

from discwright.groove.equipment import Setup


def silent_pitch(setup: Setup) -> float:
    """Pitch of an unmodulated groove, m per turn.

    Parameters
    ----------
    setup : Setup
    """
    practice = setup.practice
    return max(setup.lathe.pitch_min, 2 * practice.depth_min + practice.land_min)


def silent_duration(setup: Setup) -> float:
    """Time in which silence fills a side, s.

    Parameters
    ----------
    setup : Setup
    """
    room = setup.disc.outermost_radius - setup.disc.last_radius
    return room / silent_pitch(setup) * setup.disc.turn_time
