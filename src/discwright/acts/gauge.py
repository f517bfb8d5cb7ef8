"""The microscope and the light band: a photograph measured, against the plan or what is wanted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from discwright.errors import CallError
from discwright.files.compare import read_plan, setup_from_plan
from discwright.files.kept_side import read_spiral
from discwright.files.micrograph import Micrograph, read_micrograph
from discwright.findings import Finding, sort_findings
from discwright.groove.table import SpiralRows
from discwright.inspection.gauge import Gauged
from discwright.inspection.gauge import gauge as measure
from discwright.inspection.gauge_plan import (
    Planned,
    check_against,
    check_shade,
    check_wanted,
    correction,
)
from discwright.inspection.gauge_scale import Scale, check_pixel, read_micrometer
from discwright.inspection.gauge_stripes import Shade
from discwright.inspection.light_band import LightBand, band_of_velocity, mean_band, measure_band, velocity_of_band

#: Distance of the lines of a stage micrometer, m (common practice: a millimetre in a hundred parts).
MICROMETER_SPACING = 10e-6


@dataclass(frozen=True)
class GaugeReport:
    """A photograph measured.

    Attributes
    ----------
    photograph : pathlib.Path
    gauged : Gauged
    scale : Scale or None
        Where a stage micrometer was read.
    planned : Planned or None
    wanted : float or None, m
        Width, of the call or of the plan.
    correction : float or None, m
        How far to lower the tip.
    findings : tuple of Finding
    picture : pathlib.Path or None
        Overlay that was written.
    reduced : int
        Pixels of the file that were taken for one, either way.
    """

    photograph: Path
    gauged: Gauged
    scale: Scale | None
    planned: Planned | None
    wanted: float | None
    correction: float | None
    findings: tuple[Finding, ...]
    picture: Path | None
    reduced: int = 1

    @property
    def ready(self) -> bool:
        """Nothing stops."""
        return all(finding.severity != "stop" for finding in self.findings)

    def as_dict(self) -> dict[str, Any]:
        """The report as plain JSON values."""
        scale = self.scale
        return {
            **self.gauged.as_dict(),
            "um_per_pixel": round(self.gauged.pixel / self.reduced * 1e6, 6),
            "micrometer": None if scale is None else {
                "spacing_pixels": round(scale.spacing_pixels, 4), "lines": round(scale.lines, 1),
            },
            "planned": None if self.planned is None else self.planned.as_dict(),
            "wanted_um": None if self.wanted is None else round(self.wanted * 1e6, 3),
            "correction_um": None if self.correction is None else round(self.correction * 1e6, 3) + 0.0,
            "findings": [finding.as_dict() for finding in self.findings],
            "picture": None if self.picture is None else str(self.picture),
        }  # fmt: skip


def gauge_photograph(
    photograph: Path,
    *,
    pixel: float | None = None,
    micrometer: Path | None = None,
    spacing: float = MICROMETER_SPACING,
    plan: Path | None = None,
    turn: float | None = None,
    radius: float | None = None,
    wanted: float | None = None,
    included_angle: float = math.pi / 2.0,
    walls: str | None = None,
    out: Path | None = None,
) -> GaugeReport:
    """Measure the grooves in a photograph of cut lacquer.

    Parameters
    ----------
    photograph : pathlib.Path
    pixel : float, m, optional
        Size of a pixel on the lacquer; or `micrometer` says it.
    micrometer : pathlib.Path, optional
        A photograph of a stage micrometer, taken the same way.
    spacing : float, m
        From one line of it to the next.
    plan : pathlib.Path, optional
        Folder of a kept plan, with `turn` or `radius`, where the photograph was taken.
    turn : float, optional
    radius : float, m, optional
    wanted : float, m, optional
        Width the grooves should have; of the plan without it.
    included_angle : float, rad
        Between the walls.
    walls : {"darker", "lighter"}, optional
        Than the land, where the photograph does not give it away.
    out : pathlib.Path, optional
        PNG to write: the photograph with all that was measured drawn into it.

    Returns
    -------
    GaugeReport

    Raises
    ------
    CallError, SettingsError
    """
    shade: Shade | None = None if walls is None else "darker" if walls == "darker" else "lighter"
    if walls not in (None, "darker", "lighter"):
        raise CallError(f"walls are not “{walls}” than the land; say darker or lighter, or leave it out.")
    if out is not None and out.exists():
        raise CallError(f"{out}: is there already; name another file.")
    if (pixel is None) == (micrometer is None):
        raise CallError(
            "the scale is missing; give --um-per-pixel, or --micrometer with a photograph of a stage micrometer."
            if pixel is None
            else "the scale is given twice; give --um-per-pixel or --micrometer."
        )
    scale, size = None, check_pixel(pixel) if pixel is not None else 0.0
    if micrometer is not None:
        scale, size = _read_scale(micrometer, spacing)
    planned = _planned(plan, turn, radius)
    width = wanted if wanted is not None or planned is None else planned.width
    if width is not None:  # refused before the photograph is looked at
        correction(width, width, included_angle)
    seen = read_micrograph(photograph)
    gauged = _measured(photograph, seen, size, width, shade)
    lower = None if width is None else correction(gauged.width.mean, width, included_angle)
    findings = check_shade(gauged)
    if width is not None and lower is not None:
        findings.append(check_wanted(gauged, width, lower, planned))
    if planned is not None:
        findings += check_against(gauged, planned)
    if out is not None:
        from discwright.files.gauge_picture import draw_gauge

        draw_gauge(out, seen.grey, gauged, photograph.name)
    return GaugeReport(
        photograph, gauged, scale, planned, width, lower, sort_findings(findings), out, seen.reduced
    )  # fmt: skip


def _read_scale(micrometer: Path, spacing: float) -> tuple[Scale, float]:
    """The scale in a photograph of a stage micrometer, and what it makes of a pixel of the file, m."""
    seen = read_micrograph(micrometer)
    try:
        scale = read_micrometer(seen.grey, spacing)
    except CallError as trouble:
        raise CallError(f"{micrometer}: {trouble}") from None
    return scale, scale.pixel / seen.reduced


def _measured(photograph: Path, seen: Micrograph, pixel: float, expected: float | None, shade: Shade | None) -> Gauged:
    try:
        return measure(seen.grey, pixel * seen.reduced, expected, shade)
    except CallError as trouble:
        raise CallError(f"{photograph}: {trouble}") from None


def _planned(plan: Path | None, turn: float | None, radius: float | None) -> Planned | None:
    """The place of a kept plan that was photographed."""
    if plan is None:
        if turn is None and radius is None:
            return None
        raise CallError("--turn and --radius-mm say where on a plan; name its folder with --plan.")
    if (turn is None) == (radius is None):
        raise CallError("the plan does not know where the photograph was taken; give --turn or --radius-mm.")
    document = read_plan(plan)
    setup = setup_from_plan(document)
    rows = read_spiral(plan if plan.is_dir() else plan.parent, document)
    time = _time(rows, setup.disc.turn_time, turn, radius)
    starts = [float(one["start_s"]) for one in document["settings"]["bands"]]
    band = max(1, sum(start <= time + 1e-9 for start in starts))
    return planned_at(rows, setup.disc.turn_time, time, band, setup.practice.depth_min)


def _time(rows: SpiralRows, turn_time: float, turn: float | None, radius: float | None) -> float:
    music = rows.music
    begin, end = float(rows.time[music][0]), float(rows.time[music][-1])
    if radius is None:
        time = turn_time * (math.nan if turn is None else turn)
        if not begin <= time <= end:
            raise CallError(f"the music has no turn {turn:g}; give one from 0 to {end / turn_time:.1f}.")
        return time
    outer, inner = float(rows.radius[music][0]), float(rows.radius[music][-1])
    if not inner <= radius <= outer:
        raise CallError(
            f"the music has no groove at {radius * 1e3:g} mm; give a radius from {inner * 1e3:.2f} to "
            f"{outer * 1e3:.2f} mm."
        )
    return float(np.interp(-radius, -rows.radius[music], rows.time[music]))


def planned_at(rows: SpiralRows, turn_time: float, time: float, band: int, depth_min: float) -> Planned:
    """What a plan has at a place, over the turn around it.

    Parameters
    ----------
    rows : SpiralRows
    turn_time : float, s
    time : float, s
        From the first sample of music.
    band : int
    depth_min : float, m
        Least instantaneous depth of the practice.

    Returns
    -------
    Planned
    """
    music = rows.music
    begin = max(float(rows.time[music][0]), time - turn_time / 2.0)
    end = min(float(rows.time[music][-1]), time + turn_time / 2.0)
    depth = np.interp(np.linspace(begin, end, 65), rows.time, rows.depth)
    edge = np.interp([begin, end], rows.time, rows.radius)
    around = (rows.time >= begin - 1e-9) & (rows.time < end) & np.isfinite(rows.land)
    return Planned(
        time, time / turn_time, float(np.interp(time, rows.time, rows.radius)), band, 2.0 * float(depth.mean()),
        float(edge[0] - edge[1]) * turn_time / (end - begin), float(rows.land[around].min()) if around.any() else None,
        2.0 * depth_min,
    )  # fmt: skip


@dataclass(frozen=True)
class LightBandReport:
    """A light band and its velocity.

    Attributes
    ----------
    light_band : LightBand
    bands : tuple of float, m
        Near and far, as they were given or seen.
    widest : float or None, m
        In a photograph.
    """

    light_band: LightBand
    bands: tuple[float, ...]
    widest: float | None

    def as_dict(self) -> dict[str, Any]:
        """The report as plain JSON values."""
        return {
            **self.light_band.as_dict(),
            "bands_mm": [round(band * 1e3, 4) for band in self.bands],
            "widest_mm": None if self.widest is None else round(self.widest * 1e3, 4),
        }


def gauge_light_band(
    revolutions_per_second: float,
    *,
    bands: tuple[float, ...] = (),
    velocity: float | None = None,
    photograph: Path | None = None,
    pixel: float | None = None,
    radius: float | None = None,
) -> LightBandReport:
    """Width of a light band to velocity, and back.

    Parameters
    ----------
    revolutions_per_second : float
        At which the velocity is wanted.
    bands : tuple of float, m
        One width, or the near and the far one.
    velocity : float, m/s, optional
        Peak lateral velocity, instead of a width.
    photograph : pathlib.Path, optional
        Of the disc with its light band, instead of a width; with `pixel`.
    pixel : float, m, optional
        Size of a pixel on the disc.
    radius : float, m, optional
        Where the band was measured, for the exact form.

    Returns
    -------
    LightBandReport

    Raises
    ------
    CallError
    """
    if velocity is not None:
        found = band_of_velocity(velocity, revolutions_per_second, radius)
        return LightBandReport(found, (found.band,), None)
    widest = None
    if photograph is not None:
        if pixel is None or not (math.isfinite(pixel) and pixel > 0.0):
            raise CallError("the scale of the photograph is missing; give --mm-per-pixel, above zero.")
        picture = read_micrograph(photograph)
        try:
            seen = measure_band(picture.grey, pixel * picture.reduced)
        except CallError as trouble:
            raise CallError(f"{photograph}: {trouble}") from None
        bands, widest = (seen.mean,), seen.widest
    return LightBandReport(velocity_of_band(mean_band(bands), revolutions_per_second, radius), bands, widest)
