"""What is worth a word about a plating run: where it leaves what is usual, and where it ends otherwise than asked."""

from __future__ import annotations

from discwright.files.plating_settings import PlatingSettings
from discwright.files.run_card_words import LACQUER
from discwright.findings import Finding, Severity, sort_findings
from discwright.works.metals import A_PER_DM2, MICRON, MINUTE
from discwright.works.plating import PlatingRun


def finding(code: str, severity: Severity, value: float, limit: float, unit: str, remedy: str) -> Finding:
    """A finding that has no place on a side.

    Parameters
    ----------
    code, severity, value, limit, unit, remedy
        As in :class:`discwright.findings.Finding`.
    """
    return Finding(code, severity, None, None, None, None, value, limit, unit, remedy)


def run_findings(
    run: PlatingRun,
    grown_on: str,
    least: float,
    settings: PlatingSettings,
    ph: float | None = None,
    temperature_c: float | None = None,
) -> tuple[Finding, ...]:
    """What to say of a run before it is begun: notes and warnings, never a stop.

    Parameters
    ----------
    run : PlatingRun
    grown_on : {"lacquer", "metal"}
    least : float, m
        The least thickness that is wanted anywhere.
    settings : PlatingSettings
    ph, temperature_c : float, optional
        Of the bath, as measured.
    """
    found = [*_of_target(run), *_of_bath(run, settings, ph, temperature_c)]
    if run.reached and run.thin < least * (1.0 - 1e-9):
        found.append(
            finding(
                "thin_place", "warn", run.thin / MICRON, least / MICRON, "µm",
                "The thin place would be below the least wanted: raise the target, or shield the rim and turn the "
                "plate for less spread.",
            )
        )  # fmt: skip
    growth, bath = settings.growth, settings.baths[run.metal.name]
    most = max(one.most for one in run.steps) / A_PER_DM2
    if most > bath.density_high_a_dm2:
        found.append(
            finding(
                "current_density", "warn", most, bath.density_high_a_dm2, "A/dm²",
                f"More than a {run.metal.name} bath usually takes: lower the current, or make sure that the bath moves "
                "strongly.",
            )
        )  # fmt: skip
    if grown_on == LACQUER:
        first = run.most_density_within(growth.first_layer_um * MICRON) / A_PER_DM2
        if first > growth.first_layer_high_a_dm2 * (1.0 + 1e-9):
            found.append(
                finding(
                    "first_layer", "warn", first, growth.first_layer_high_a_dm2, "A/dm²",
                    "The silver can burn or lift under so much current: begin lower, and step up once it is covered.",
                )
            )  # fmt: skip
    return sort_findings(found)


def _of_target(run: PlatingRun) -> list[Finding]:
    found = []
    if not run.reached:
        found.append(
            finding(
                "target_missed", "warn", run.thickness / MICRON, run.target / MICRON, "µm",
                "The steps end before the target is reached: leave out the minutes of the last step, and it runs until "
                "then.",
            )
        )  # fmt: skip
    last = len(run.steps)
    if run.steps[-1].cut_short:
        asked = run.steps[-1].step.seconds or 0.0
        found.append(
            finding(
                "step_cut_short", "note", run.steps[-1].seconds / MINUTE, asked / MINUTE, "min",
                f"Step {last} stops where the target is reached, before its time is up.",
            )
        )  # fmt: skip
    if run.left_out:
        which = (
            f"Step {last + 1} is" if len(run.left_out) == 1 else f"Steps {last + 1} to {last + len(run.left_out)} are"
        )
        found.append(
            finding(
                "step_not_run", "note", last, last + len(run.left_out), "steps",
                f"{which} not run: the target is reached before.",
            )
        )  # fmt: skip
    return found


def _of_bath(
    run: PlatingRun, settings: PlatingSettings, ph: float | None, temperature_c: float | None
) -> list[Finding]:
    """Range checks that warn and never block."""
    bath, found = settings.baths[run.metal.name], []
    if (
        ph is not None
        and bath.ph_low is not None
        and bath.ph_high is not None
        and not bath.ph_low <= ph <= bath.ph_high
    ):
        limit = bath.ph_low if ph < bath.ph_low else bath.ph_high
        words = f"Outside {bath.ph_low:g} to {bath.ph_high:g}: correct the bath before the part goes in."
        found.append(finding("bath_ph", "warn", ph, limit, "pH", words))
    if temperature_c is not None and not bath.warn_below_c <= temperature_c <= bath.warn_above_c:
        limit = bath.warn_below_c if temperature_c < bath.warn_below_c else bath.warn_above_c
        words = (
            f"Outside {bath.warn_below_c:g} to {bath.warn_above_c:g} °C: bring the bath there before the part goes in."
        )
        found.append(finding("bath_temperature", "warn", temperature_c, limit, "°C", words))
    found += efficiency_findings(run.efficiency, run.metal.name, settings)
    return found


def efficiency_findings(share: float, metal: str, settings: PlatingSettings) -> list[Finding]:
    """An efficiency that is not usual for its metal.

    Parameters
    ----------
    share : float
    metal : str
    settings : PlatingSettings
    """
    bath = settings.baths[metal]
    if bath.efficiency_low <= share <= bath.efficiency_high:
        return []
    limit = bath.efficiency_low if share < bath.efficiency_low else bath.efficiency_high
    words = (
        f"Not usual for a {metal} bath ({bath.efficiency_low * 100:g} to {bath.efficiency_high * 100:g} %): look at "
        "scales, meter, contacts and bath."
    )
    return [finding("plating_efficiency", "warn", share * 100.0, limit * 100.0, "%", words)]
