"""The verb `gauge`: grooves measured in a photograph, and the light band."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from discwright.cli.console import console, print_json
from discwright.errors import CallError
from discwright.units import number


def gauge(
    photograph: Annotated[
        Path | None, typer.Argument(metavar="IMAGE", help="Photograph of cut lacquer through a microscope.")
    ] = None,
    um_per_pixel: Annotated[
        str | None, typer.Option("--um-per-pixel", metavar="X", help="Scale of the photograph.")
    ] = None,
    micrometer: Annotated[
        Path | None,
        typer.Option(metavar="IMAGE", help="Instead: photograph of a stage micrometer, taken the same way."),
    ] = None,
    micrometer_um: Annotated[
        str | None, typer.Option("--micrometer-um", help="From one of its lines to the next; 10 without the option.")
    ] = None,
    plan: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Hold it against this kept plan, at a turn or radius.")
    ] = None,
    turn: Annotated[str | None, typer.Option(metavar="N", help="Where on the plan: this turn.")] = None,
    radius: Annotated[
        str | None, typer.Option("--radius-mm", help="Where on the plan; of a light band, where it was measured.")
    ] = None,
    wanted: Annotated[
        str | None, typer.Option("--wanted-um", help="Width wanted of a test cut: says how far to lower the tip.")
    ] = None,
    angle: Annotated[
        str | None, typer.Option("--angle-deg", help="Included angle of the groove; 90 without the option.")
    ] = None,
    walls: Annotated[
        str | None,
        typer.Option(metavar="[darker|lighter]", help="Than the land, where the photograph does not give it away."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.png", help="Write the photograph with everything drawn into it.")
    ] = None,
    light_band_mm: Annotated[
        str | None,
        typer.Option("--light-band-mm", metavar="B[,B]", help="Instead: width of a light band, or near and far one."),
    ] = None,
    velocity: Annotated[
        str | None, typer.Option("--velocity-cm-s", help="Instead: peak velocity, for the width of its light band.")
    ] = None,
    light_band: Annotated[
        Path | None, typer.Option(metavar="IMAGE", help="Instead: photograph of a disc with a light band.")
    ] = None,
    mm_per_pixel: Annotated[
        str | None, typer.Option("--mm-per-pixel", metavar="X", help="Scale of the photograph of the light band.")
    ] = None,
    rpm: Annotated[str | None, typer.Option("--rpm", metavar="N", help="Speed of the disc, for a light band.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Measure width, land and pitch of grooves in a photograph, or a light band."""
    of_band = {
        "--light-band-mm": light_band_mm, "--velocity-cm-s": velocity, "--light-band": light_band,
        "--mm-per-pixel": mm_per_pixel, "--rpm": rpm,
    }  # fmt: skip
    of_grooves = {
        "IMAGE": photograph, "--um-per-pixel": um_per_pixel, "--micrometer": micrometer,
        "--micrometer-um": micrometer_um, "--plan": plan, "--turn": turn, "--wanted-um": wanted, "--angle-deg": angle,
        "--walls": walls, "--out": out,
    }  # fmt: skip
    asked = [name for name in ("--light-band-mm", "--velocity-cm-s", "--light-band") if of_band[name] is not None]
    if asked:
        _refuse(of_grooves, f"is for a photograph of grooves, and {asked[0]} asks for a light band; leave one out.")
        if len(asked) > 1:
            raise CallError(f"{' and '.join(asked)} ask for the same thing; give one of them.")
        _band(of_band, radius, as_json)
        return
    _refuse(of_band, "is for a light band; give --light-band-mm, --light-band or --velocity-cm-s as well.")
    if photograph is None:
        raise CallError("there is nothing to measure; name a photograph, or give --light-band-mm or --velocity-cm-s.")
    if micrometer_um is not None and micrometer is None:
        raise CallError("--micrometer-um is for a stage micrometer; give its photograph with --micrometer.")
    from discwright.acts.gauge import MICROMETER_SPACING, gauge_photograph
    from discwright.cli.show_gauge import show_gauge

    report = gauge_photograph(
        photograph,
        pixel=_read(um_per_pixel, "--um-per-pixel", 1e-6),
        micrometer=micrometer,
        spacing=_read(micrometer_um, "--micrometer-um", 1e-6) or MICROMETER_SPACING,
        plan=plan,
        turn=_read(turn, "--turn"),
        radius=_read(radius, "--radius-mm", 1e-3),
        wanted=_read(wanted, "--wanted-um", 1e-6),
        included_angle=math.radians(number(angle or "90", "--angle-deg")),
        walls=walls,
        out=out,
    )
    if as_json:
        print_json(report.as_dict())
    else:
        show_gauge(report, console())
    if not report.ready:
        raise typer.Exit(1)


def _band(given: Mapping[str, str | Path | None], radius: str | None, as_json: bool) -> None:
    from discwright.acts.gauge import gauge_light_band
    from discwright.cli.show_gauge import show_light_band

    def text(name: str) -> str | None:
        return None if given[name] is None else str(given[name])

    speed = _read(text("--rpm"), "--rpm", 1.0 / 60.0)
    if speed is None:
        raise CallError("a light band needs the speed of the disc; give --rpm.")
    photograph = given["--light-band"]
    if photograph is None and given["--mm-per-pixel"] is not None:
        raise CallError("--mm-per-pixel is for a photograph; give it with --light-band.")
    report = gauge_light_band(
        speed,
        bands=_bands(text("--light-band-mm")),
        velocity=_read(text("--velocity-cm-s"), "--velocity-cm-s", 1e-2),
        photograph=None if photograph is None else Path(photograph),
        pixel=_read(text("--mm-per-pixel"), "--mm-per-pixel", 1e-3),
        radius=_read(radius, "--radius-mm", 1e-3),
    )
    if as_json:
        print_json(report.as_dict())
    else:
        show_light_band(report, console())


def _bands(text: str | None) -> tuple[float, ...]:
    """One width, or two with a comma between. A comma that could be a decimal one is not guessed at."""
    if text is None:
        return ()
    bands = tuple(number(one, "--light-band-mm") for one in text.replace(" ", "").split(","))
    if len(bands) == 2 and not 0.5 <= bands[1] / max(bands[0], 1e-9) <= 2.0:
        raise CallError(
            f"--light-band-mm: “{text}” could mean two bands or one with a decimal; write {text.replace(',', '.')}, or "
            "two bands that are no further apart than one to two."
        )
    return tuple(band * 1e-3 for band in bands)


def _read(text: str | None, name: str, unit: float = 1.0) -> float | None:
    return None if text is None else number(text, name) * unit


def _refuse(options: Mapping[str, object], why: str) -> None:
    for name, given in options.items():
        if given is not None:
            raise CallError(f"{name} {why}")
