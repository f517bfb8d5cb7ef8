"""What a side is cut for and with: disc format, lathe, head, tips, house practice; all values in SI.

Each field names the key it has in TOML and JSON, unit included; the doors convert by that name.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any


def quantity(key: str, default: float | None = None) -> Any:
    """A field held in SI and written in files as `key`, whose ending is its unit; files may leave out a default."""
    if default is None:
        return field(metadata={"key": key})
    return field(metadata={"key": key}, default=default)


@dataclass(frozen=True)
class DiscFormat:
    """Size, speed and the radii a finished disc must keep (IEC 60098, RIAA, JIS S 8502)."""

    name: str
    revolutions_per_second: float = quantity("speed_rpm")
    disc_diameter: float = quantity("disc_diameter_mm")
    outermost_radius: float = quantity("outermost_radius_mm")
    innermost_radius: float = quantity("innermost_radius_mm")
    locked_radius: float = quantity("locked_radius_mm")
    lead_in_pitch: float = quantity("lead_in_pitch_mm")
    lead_out_pitch: float = quantity("lead_out_pitch_mm")
    lead_out_pitch_min: float = quantity("lead_out_pitch_min_mm")
    lead_out_pitch_max: float = quantity("lead_out_pitch_max_mm")
    join_pitch: float = quantity("join_pitch_mm")
    label_diameter: float = quantity("label_diameter_mm")
    hole_diameter: float = quantity("hole_diameter_mm")

    @property
    def turn_time(self) -> float:
        """Duration of one turn, s."""
        return 1.0 / self.revolutions_per_second

    @property
    def last_radius(self) -> float:
        """Innermost radius the last music may have, m.

        The larger of the innermost recorded radius and the full-turn rule: one whole lead-out turn
        at the least pitch the format allows must fit outside the locked groove (IEC 60098:1987, 8.8).
        """
        return max(self.innermost_radius, self.locked_radius + self.lead_out_pitch_min)


@dataclass(frozen=True)
class Lathe:
    """What the lathe can do with pitch and depth, and how its inputs are scaled."""

    name: str
    pitch_min: float = quantity("pitch_min_um")
    pitch_max: float = quantity("pitch_max_um")
    pitch_slew: float = quantity("pitch_slew_um_per_turn")
    depth_slew: float = quantity("depth_slew_um_per_turn")
    sectors_per_turn: int = quantity("sectors_per_turn")
    traverse_max: float = quantity("traverse_max_mm_s")
    control_pitch: float = quantity("control_pitch_full_scale_um", 10_000.0 * 1e-6)
    control_depth: float = quantity("control_depth_full_scale_um", 200.0 * 1e-6)
    control_volts: float = quantity("control_full_scale_v", 10.0)
    radius_rest: float = quantity("radius_rest_mm", 160.0 * 1e-3)
    lift_height: float = quantity("lift_height_mm", 3.0 * 1e-3)


@dataclass(frozen=True)
class Head:
    """What the cutter head can take, per wall."""

    name: str
    velocity_max: float = quantity("velocity_max_cm_s")
    acceleration_max: float = quantity("acceleration_max_m_s2")
    heat_acceleration_max: float = quantity("heat_acceleration_max_m_s2")
    heat_time_constant: float = quantity("heat_time_constant_s")


@dataclass(frozen=True)
class CuttingTip:
    """The tool that cuts: the steepest horizontal slope it clears."""

    name: str
    clearance: float = quantity("clearance_deg")


@dataclass(frozen=True)
class PlayingTip:
    """The tip that plays: the radius seen along the groove decides what it can follow."""

    name: str
    shape: str = quantity("shape")
    radius: float = quantity("radius_um")
    side_radius: float = quantity("side_radius_um")


@dataclass(frozen=True)
class Player:
    """The machine a record is played on: arm, angles, force, and the faults of disc and drive that can be heard.

    A proof uses only those effects that are switched on.
    """

    name: str
    arm_length: float = quantity("arm_length_mm")
    overhang: float = quantity("overhang_mm")
    offset: float = quantity("offset_deg")
    playing_angle: float = quantity("playing_angle_deg")
    cut_angle: float = quantity("cut_angle_deg")
    tracking_force: float = quantity("tracking_force_mn")
    off_centre: float = quantity("off_centre_mm")
    warp_height: float = quantity("warp_height_mm")
    warp_waves: int = quantity("warp_waves")
    pivot_height: float = quantity("pivot_height_mm")
    noise_level: float = quantity("noise_level_db")
    rumble_level: float = quantity("rumble_level_db")


@dataclass(frozen=True)
class Practice:
    """House practice: the margins a works keeps, and when a check speaks up."""

    name: str
    land_min: float = quantity("land_min_um")
    depth_min: float = quantity("depth_min_um")
    depth_max: float = quantity("depth_max_um")
    sync_guard: float = quantity("sync_guard_ms")
    subsonic: float = quantity("subsonic_hz")
    curvature_share_max: float = quantity("curvature_share_max_percent")
    sibilance_limit: float = quantity("sibilance_limit_percent")
    vertical_share_max: float = quantity("vertical_share_max_percent")
    vertical_turn_max: float = quantity("vertical_turn_max_percent")
    echo_contrast: float = quantity("echo_contrast_db")
    echo_land: float = quantity("echo_land_um")
    echo_widening: float = quantity("echo_widening_um", 0.0)
    layout_level: float = quantity("layout_level_db", -6.0)
    heard_distortion_max: float = quantity("heard_distortion_max_percent", 0.05)
    heard_treble_loss_max: float = quantity("heard_treble_loss_max_db", 3.0)


@dataclass(frozen=True)
class Setup:
    """Everything a plan was made with."""

    disc: DiscFormat
    lathe: Lathe
    head: Head
    cutting_tip: CuttingTip
    tip: PlayingTip
    practice: Practice


Equipment = DiscFormat | Lathe | Head | CuttingTip | PlayingTip | Practice | Player


def key_of(item: Any) -> str:
    """The name a dataclass field has in files."""
    return str(item.metadata.get("key", item.name))


def file_keys(kind: type[Any]) -> tuple[str, ...]:
    """Every key a file of this kind must hold, without the name."""
    return tuple(key_of(f) for f in fields(kind) if f.name != "name")
