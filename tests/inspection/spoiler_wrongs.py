"""What can be done to a disc on purpose: a list of wrongs, each doing nothing until it is asked for."""

from __future__ import annotations

from dataclasses import dataclass

SHAPES = ("impulse", "ringing", "exponential", "bipolar")


@dataclass(frozen=True)
class Jump:
    """The tip leaves its turn at a place and lands `turns` further (positive: a skip) or back (a repeat, `times`)."""

    at_s: float
    turns: int = 1
    times: int = 1


@dataclass(frozen=True)
class Pop:
    """One dull, loud tick at a place of the programme; size above masking, dB."""

    time_s: float
    size_db: float = 25.0
    channel: str = "both"


@dataclass(frozen=True)
class Crackle:
    """Many small ticks for a while."""

    start_s: float
    duration_s: float = 1.0
    rate_per_s: float = 40.0
    size_db: tuple[float, float] = (6.0, 18.0)
    channel: str = "both"


@dataclass(frozen=True)
class Scratch:
    """A tick once per turn at one angle, beginning at a place of the programme."""

    start_s: float
    turns: int = 8
    size_db: float = 20.0
    channel: str = "both"


@dataclass(frozen=True)
class Swish:
    """Noise over part of a turn, for several turns: the plastic did not fill the groove."""

    start_s: float
    turns: int = 5
    width_deg: float = 60.0
    over_noise_db: float = 15.0
    channel: str = "both"


@dataclass(frozen=True)
class Dropout:
    """The music all but vanishes for a moment."""

    start_s: float
    duration_s: float = 0.05
    depth_db: float = 40.0
    channel: str = "both"


@dataclass(frozen=True)
class Spoil:
    """What is done to a disc and its playing; every field defaults to nothing.

    Noise, rumble, hum and the sizes of ticks are in the capture's own level, with replay equalisation; `flat` takes
    that off everything at the very end. Positive speed error plays fast. `off_centre_angle_deg` points from the
    spindle to the groove's centre. A disc without turns of its own (`stops_early_s`, `silence`) keeps the rest.
    """

    start_s: float = 0.0
    after_s: float = 0.0
    speed_error_percent: float = 0.0
    off_centre_mm: float = 0.0
    off_centre_angle_deg: float = 0.0
    warp_mm: float = 0.0
    warp_waves: int = 2
    warp_angle_deg: float = 0.0
    flutter_percent: float = 0.0
    flutter_hz: float = 8.0
    gain_db: float = 0.0
    balance_db: float = 0.0
    tilt_db_per_decade: float = 0.0
    tilt_phase: str = "minimum"
    treble_db: float = 0.0
    treble_kind: str = "shelf"
    crosstalk_db: float | None = None
    noise_dbfs: float | None = None
    noise_colour: str = "white"
    rumble_dbfs: float | None = None
    hum_dbfs: float | None = None
    hum_hz: float = 50.0
    ticks: int = 0
    tick_size_db: tuple[float, float] = (6.0, 30.0)
    tick_shapes: tuple[str, ...] = SHAPES
    pops: tuple[Pop, ...] = ()
    crackles: tuple[Crackle, ...] = ()
    scratches: tuple[Scratch, ...] = ()
    swishes: tuple[Swish, ...] = ()
    dropouts: tuple[Dropout, ...] = ()
    jumps: tuple[Jump, ...] = ()
    flat: bool = False
    sample_rate: int | None = None
    clip_dbfs: float | None = None
    mono: bool = False
    reversed: bool = False
    half_speed: bool = False
    stops_early_s: float = 0.0
    silence: float = 0.0
