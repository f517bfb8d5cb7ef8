"""What the microscope saw as a few lines for a person."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from discwright.cli.show_plan import show_finding
from discwright.findings import count_words

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.acts.gauge import GaugeReport, LightBandReport

#: Grooves that are shown one by one.
_SHOWN = 24


def show_gauge(report: GaugeReport, console: Console) -> None:
    """Print what was measured.

    Parameters
    ----------
    report : GaugeReport
    console : rich.console.Console
    """
    plain = report.as_dict()
    gauged = report.gauged
    count = len(gauged.grooves)
    bottoms = ", a line along their bottom" if gauged.bottom_lines else ""
    console.print(
        f"Seen      {count} whole {'groove' if count == 1 else 'grooves'} at {plain['um_per_pixel']:g} µm a pixel, "
        f"{gauged.shade} than the land{bottoms}, {plain['runs']}, tilt {round(plain['tilt_deg'], 2) + 0.0:+.2f}°",
        soft_wrap=True,
    )
    if report.scale is not None:
        console.print(
            f"scale     the micrometer's lines are {report.scale.spacing_pixels:.2f} px apart", soft_wrap=True
        )
    width, land = plain["width_um"], plain["land_um"]
    console.print(
        f"width     {width['mean']:.1f} µm, {width['min']:.1f} to {width['max']:.1f} µm, std {width['std']:.2f} µm",
        soft_wrap=True,
    )
    if gauged.land is not None:
        console.print(f"land      {land['mean']:.1f} µm, {land['min']:.1f} µm at least", soft_wrap=True)
    if gauged.pitch is not None:
        console.print(
            f"pitch     {plain['pitch_um']:.1f} µm, {plain['lines_per_inch']:.1f} lines per inch", soft_wrap=True
        )
    if report.planned is not None:
        p = report.planned.as_dict()
        least = "" if p["least_land_um"] is None else f" ({p['least_land_um']:.1f} with the music)"
        console.print(
            f"planned   turn {p['turn']:.1f}, r {p['radius_mm']:.2f} mm: width {p['width_um']:.1f} µm, land "
            f"{p['land_um']:.1f} µm{least}, pitch {p['pitch_um']:.1f} µm",
            soft_wrap=True,
        )
    for k, one in enumerate(plain["grooves"][:_SHOWN], 1):
        console.print(f"  {k:4}    at {one['center_um']:8.1f} µm   width {one['width_um']:6.1f} µm", soft_wrap=True)
    if count > _SHOWN:
        console.print(f"          and {count - _SHOWN} more; --json has them all")
    for finding in report.findings:
        show_finding(finding, console)
    if report.picture is not None:
        console.print(f"Picture: {report.picture}", soft_wrap=True)
    if report.findings:
        console.print(f"{count_words(report.findings)}.")


def show_light_band(report: LightBandReport, console: Console) -> None:
    """Print a light band.

    Parameters
    ----------
    report : LightBandReport
    console : rich.console.Console
    """
    band = report.light_band
    where = "small slopes" if band.radius is None else f"r {band.radius * 1e3:.2f} mm"
    console.print(
        f"band      {band.band * 1e3:.2f} mm at {band.revolutions_per_second * 60.0:.2f} rpm, {where}", soft_wrap=True
    )
    if report.widest is not None:
        console.print(f"widest    {report.widest * 1e3:.2f} mm", soft_wrap=True)
    velocity = band.velocity * 1e2
    console.print(
        f"velocity  {velocity:.2f} cm/s peak, {velocity / math.sqrt(2.0):.2f} cm/s rms, lateral; level "
        f"{band.level_db:+.2f} dB of a 1 kHz tone",
        soft_wrap=True,
    )
