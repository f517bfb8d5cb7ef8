"""Plan a plating run: current, time, thickness and mass of one part, its run card, its weight, its place in a queue."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from discwright.acts.plate_findings import efficiency_findings, run_findings
from discwright.acts.plate_report import PlateReport, Weighing
from discwright.errors import CallError
from discwright.files.plating_settings import KIND_NAMES, PlatingSettings, load_plating
from discwright.files.run_card_words import GROWN_ON, LACQUER, METAL, card_words
from discwright.findings import sort_findings
from discwright.works.metals import GRAM, METALS, MICRON, MINUTE, coat_mass, measured_efficiency
from discwright.works.plating import PlatingRun, Step, face_area, grow, until_target
from discwright.works.plating_queue import PARTS_MOST, queue_parts
from discwright.works.plating_steps import read_steps

#: Beyond these no bath has ever been, °C.
_TEMPERATURES = (0.0, 100.0)
_MASS_MOST, _CHARGE_MOST = 100.0, 1e5 * 3600.0
DEFAULT_PLATE = "14in"


@dataclass(frozen=True)
class PlateOrder:
    """What is to be grown, and how; what is None is taken from the plating settings.

    Attributes
    ----------
    kind : str
        master, mother or stamper.
    metal : str
    plate : str or None
        Name of a diameter in the settings; 14in where neither it nor `diameter` is given.
    diameter : float or None, m
    hole : float, m
        Diameter of a hole that takes no current.
    target, least : float or None, m
        Mean thickness, and the least that is wanted anywhere.
    efficiency : float or None
    spread : float or None
        Thickest less thinnest, as a share of the mean.
    steps : str, sequence of Step or None
    grown_on : {"lacquer", "metal"} or None
        Without: a lacquer for a master, metal for all others.
    ph, temperature_c : float or None
        Of the bath.
    """

    kind: str
    metal: str = "nickel"
    plate: str | None = None
    diameter: float | None = None
    hole: float = 0.0
    target: float | None = None
    least: float | None = None
    efficiency: float | None = None
    spread: float | None = None
    steps: str | Sequence[Step] | None = None
    grown_on: str | None = None
    ph: float | None = None
    temperature_c: float | None = None


@dataclass(frozen=True)
class CardLabel:
    """What a run card says beside the run; the number alone stands in its code."""

    number: str = ""
    title: str = ""
    catalogue: str = ""
    side: str = ""
    parent: str = ""
    ledger_head: str = ""


def plate(order: PlateOrder, *, settings: Path | None = None) -> PlateReport:
    """Work out a plating run.

    Parameters
    ----------
    order : PlateOrder
    settings : pathlib.Path, optional
        A house file that replaces some of the shipped plating settings.

    Returns
    -------
    PlateReport

    Raises
    ------
    CallError, SettingsError
    """
    house = load_plating(settings)
    grown_on = _grown_on(order)
    if order.metal not in METALS:
        raise CallError(f"there is no bath for “{order.metal}”; choose from {', '.join(METALS)}.")
    metal, kind, bath = METALS[order.metal], house.kinds[order.kind], house.baths[order.metal]
    diameter = _diameter(order, house)
    area = face_area(diameter, order.hole)
    _check_bath(order)
    steps = kind.steps if order.steps is None else order.steps
    run = grow(
        metal,
        bath.efficiency if order.efficiency is None else order.efficiency,
        area,
        kind.target_um * MICRON if order.target is None else order.target,
        read_steps(steps) if isinstance(steps, str) else steps,
        house.growth.spread_percent / 100.0 if order.spread is None else order.spread,
    )
    least = _least(order, run, kind.least_um * MICRON)
    return PlateReport(
        kind=order.kind,
        grown_on=grown_on,
        diameter=diameter,
        hole=order.hole,
        least=least,
        run=run,
        silver_mass=coat_mass(METALS["silver"], area, house.silvering.film_um * MICRON)
        if grown_on == LACQUER
        else None,
        temperature_c=order.temperature_c,
        settings=house,
        findings=run_findings(run, grown_on, least, house, order.ph, order.temperature_c),
    )


def weigh(report: PlateReport, gained: float, charge: float) -> PlateReport:
    """Add the efficiency that a run's weight shows, and the next run with it.

    Parameters
    ----------
    report : PlateReport
        The run as it was planned.
    gained : float, kg
        Weight after less weight before.
    charge : float, C
        By the ampere-hour meter.

    Raises
    ------
    CallError
        If weight and charge cannot both be right.
    """
    if not 0.0 < gained <= _MASS_MOST:
        raise CallError(f"a gain of {gained / GRAM:g} g is none of a plate; give more than 0 g, as weighed.")
    if not 0.0 < charge <= _CHARGE_MOST:
        raise CallError(f"a charge of {charge / 3600.0:g} Ah is none of a plate; give more than 0 Ah, by the meter.")
    run = report.run
    share = measured_efficiency(run.metal, gained, charge)
    steps = (*(one.step for one in run.steps), *run.left_out)
    following = grow(run.metal, min(1.0, share), run.area, run.target, until_target(steps), run.spread)
    said = efficiency_findings(share, run.metal.name, report.settings)
    findings = sort_findings([*(one for one in report.findings if one.code != "plating_efficiency"), *said])
    return replace(report, weighing=Weighing(gained, charge, share, following), findings=findings)


def queue(report: PlateReport, parts: int | Sequence[str], tanks: int, turn_round: float | None = None) -> PlateReport:
    """Add which of several like parts goes into which tank, and when.

    Parameters
    ----------
    report : PlateReport
    parts : int or sequence of str
        How many, or their numbers in the order in which they go in.
    tanks : int
    turn_round : float, optional, s
        From one part's end to the next one's begin in the same tank; from the settings without.

    Raises
    ------
    CallError
    """
    pause = report.settings.growth.turn_round_minutes * MINUTE if turn_round is None else turn_round
    if isinstance(parts, int):
        # Counted before they are named: a slip of the hand should not fill the memory.
        parts = [str(number) for number in range(1, min(parts, PARTS_MOST + 1) + 1)]
    return replace(report, queue=queue_parts([(part, report.run.seconds) for part in parts], tanks, pause))


def write_card(report: PlateReport, path: Path, label: CardLabel) -> PlateReport:
    """Write the run card of a planned run; nothing that is there is written over.

    Parameters
    ----------
    report : PlateReport
    path : pathlib.Path
        A PDF that is not there yet.
    label : CardLabel

    Raises
    ------
    CallError
        If something lies there, the place cannot be written, or a number cannot be printed.
    """
    from discwright.files.run_card import RunCard, write_run_card

    if path.suffix.lower() != ".pdf":
        raise CallError(f"{path}: a run card is a PDF; choose a name that ends with .pdf.")
    if path.exists() or path.is_symlink():
        raise CallError(f"{path}: is there already; choose another name for the card, or move that file away.")
    words = card_words(
        report.run, report.kind, report.grown_on, report.settings, report.temperature_c, report.least / MICRON
    )
    card = RunCard(
        report.run, words, report.kind, report.diameter, report.hole, label.number, label.title, label.catalogue,
        label.side, label.parent, label.ledger_head,
    )  # fmt: skip
    try:
        write_run_card(path, card)
    except OSError as trouble:
        raise CallError(f"{path}: cannot be written ({trouble.strerror}); choose another place.") from None
    return replace(report, card=path)


def _grown_on(order: PlateOrder) -> str:
    if order.kind == LACQUER:
        raise CallError(f"a lacquer is cut and not grown; choose from {', '.join(KIND_NAMES)}.")
    if order.kind not in KIND_NAMES:
        raise CallError(f"there is no part called “{order.kind}”; choose from {', '.join(KIND_NAMES)}.")
    on = order.grown_on or (LACQUER if order.kind == "master" else METAL)
    if on not in GROWN_ON:
        raise CallError(f"nothing grows on “{on}”; choose from {', '.join(GROWN_ON)}.")
    if on == LACQUER and order.kind != "master":
        raise CallError(f"a {order.kind} does not grow on a lacquer; a master does: choose another kind, or metal.")
    return on


def _diameter(order: PlateOrder, house: PlatingSettings) -> float:
    if order.diameter is not None:
        if order.plate is not None:
            raise CallError("a plate has one diameter; give its name or its diameter, not both.")
        return order.diameter
    name = order.plate or DEFAULT_PLATE
    if name not in house.plates_mm:
        raise CallError(f"there is no plate “{name}”; choose from {', '.join(house.plates_mm)}, or give a diameter.")
    return house.plates_mm[name] * 1e-3


def _least(order: PlateOrder, run: PlatingRun, usual: float) -> float:
    """The least wanted anywhere; the usual one only where the target is above it."""
    if order.least is None:
        return usual if run.target >= usual else 0.0
    if not 0.0 <= order.least <= run.target:
        raise CallError(
            f"a least thickness of {order.least / MICRON:g} µm does not go with a mean of {run.target / MICRON:g} µm; "
            "give one from 0 to the target."
        )
    return order.least


def _check_bath(order: PlateOrder) -> None:
    if order.ph is not None and not 0.0 <= order.ph <= 14.0:
        raise CallError(f"a pH of {order.ph:g} is none; give one from 0 to 14.")
    low, high = _TEMPERATURES
    if order.temperature_c is not None and not low <= order.temperature_c <= high:
        raise CallError(
            f"a bath of {order.temperature_c:g} °C is none; give a temperature from {low:g} to {high:g} °C."
        )
