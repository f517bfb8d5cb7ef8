"""The verb `air`: what the air takes away on the way to the microphones, and what a change of weather explains."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from discwright.cli.console import console, print_json
from discwright.errors import CallError
from discwright.units import number

if TYPE_CHECKING:
    from rich.console import Console

    from discwright.acts.air import AirReport
    from discwright.programme.air import Air

_SHOWN_HZ = (125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 10_000.0, 12_500.0, 16_000.0, 20_000.0)
#: A difference below this nobody hears in any third octave.
_HEARD_DB = 0.3


def air(
    temperature: Annotated[str, typer.Option("--temperature-c", help="Of the hall.")],
    humidity: Annotated[str, typer.Option("--humidity-percent", help="Relative humidity of the hall.")],
    distance: Annotated[str, typer.Option("--distance-m", help="From instruments to microphones.")],
    pressure: Annotated[
        str | None, typer.Option("--pressure-kpa", help="Of the air; 101.325 without the option.")
    ] = None,
    then: Annotated[
        str | None,
        typer.Option(
            "--then", metavar="C/PERCENT/M[/KPA]", help="A second air, e.g. 24/35/30: what it changes is told, too."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Absorption of air (ISO 9613-1): is a change of balance the weather, or the microphones' place?"""
    from discwright.acts.air import air as reckon
    from discwright.programme.air import REFERENCE_KPA, Air

    kpa = REFERENCE_KPA if pressure is None else number(pressure, "--pressure-kpa")
    first = Air(
        temperature_c=number(temperature, "--temperature-c"),
        humidity_percent=number(humidity, "--humidity-percent"),
        distance=number(distance, "--distance-m"),
        pressure_kpa=kpa,
    )
    report = reckon(first, None if then is None else _second(then, kpa))
    if as_json:
        print_json(report.as_dict())
    else:
        _show(report, console())


def _second(text: str, kpa: float) -> Air:
    from discwright.programme.air import Air

    parts = text.split("/")
    if len(parts) not in (3, 4):
        raise CallError(f"--then: “{text}” is no air; write temperature/humidity/distance, for example 24/35/30.")
    values = [number(part, "--then") for part in parts]
    return Air(values[0], values[1], values[2], values[3] if len(values) == 4 else kpa)


def _show(report: AirReport, console: Console) -> None:
    rows = [row for row in report.as_dict()["bands"] if row["frequency_hz"] in _SHOWN_HZ]
    console.print(f"Air       {_words(report.first)}", soft_wrap=True)
    if report.then is not None:
        console.print(f"then      {_words(report.then)}", soft_wrap=True)
    console.print("Hz        " + "".join(f"{_short(row['frequency_hz']):>8}" for row in rows), soft_wrap=True)
    console.print("lost      " + "".join(f"{row['lost_db']:8.3f}" for row in rows) + "  dB", soft_wrap=True)
    for air in (report.first, report.then):
        if air is not None and not air.within:
            console.print(
                f"caution   {air.water_percent:.2f} % of this air is water; the standard claims its accuracy from 0.05 "
                "to 5 %: take the figures as a guide.",
                soft_wrap=True,
            )
    if report.difference_db is None:
        console.print("Give --then for what another weather or another place changes.", soft_wrap=True)
        return
    console.print("then      " + "".join(f"{row['then_lost_db']:8.3f}" for row in rows) + "  dB", soft_wrap=True)
    console.print("change    " + "".join(f"{row['difference_db']:+8.3f}" for row in rows) + "  dB", soft_wrap=True)
    most = max(report.difference_db, key=abs)
    if abs(most) < _HEARD_DB:
        console.print("Nobody hears that: a change of balance has another reason; look for it.", soft_wrap=True)
    else:
        more = "duller" if most < 0 else "brighter"
        console.print(
            f"The air makes the second {more} at the top, by up to {abs(most):.2f} dB: take that off a change of "
            "balance before you look for another reason.",
            soft_wrap=True,
        )


def _words(air: Air) -> str:
    return f"{air.temperature_c:g} °C, {air.humidity_percent:g} %, {air.pressure_kpa:g} kPa, over {air.distance:g} m"


def _short(frequency: float) -> str:
    return f"{frequency / 1000:g}k" if frequency >= 1000 else f"{frequency:g}"
