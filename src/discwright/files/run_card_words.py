"""The words of a run card: what to do before, during and after the bath, what to check, and what can hurt."""

from __future__ import annotations

from dataclasses import dataclass

from discwright.files.fonts import plain
from discwright.files.plating_settings import PlatingSettings
from discwright.works.metals import A_PER_DM2, AMPERE_HOUR, GRAM, METALS, MICRON, coat_mass
from discwright.works.plating import PlatingRun, Step

LACQUER, METAL = "lacquer", "metal"
#: What a part can be grown on; the first is usual for a master, the second for everything else.
GROWN_ON = (LACQUER, METAL)

FIELDS = (
    "Weight before, g", "Weight after, g", "Gain, g", "Ampere-hours on the meter",
    "Thickness at the rim, µm", "Thickness at the thin place, µm", "Tank, pH, °C", "Plated by, date",
)  # fmt: skip
DEFER = (
    "Local codes, safety data sheets and licensed practice come before this card; it says of no place that it is safe."
)


@dataclass(frozen=True)
class Task:
    """One line of the card: what to do and what to check."""

    words: str
    check: str


@dataclass(frozen=True)
class Caution:
    """What can hurt: where, what to do about it, and the kind of rule to look up."""

    about: str
    words: str
    rule: str


SWARF = Caution(
    "Lacquer and swarf",
    "Cellulose nitrate burns fiercely and carries its own oxygen: no flame or spark; scraps wet, in a lidded metal "
    "bin, out every day. Never let it dry in strong alkali, acid or amine: it can catch by itself. Water beats "
    "smothering.",
    "fire code on cellulose nitrate, local fire officer",
)
SILVERING = Caution(
    "Silvering",
    "Ammoniacal silver can turn explosive on standing, even cold and untouched: mix it at the spray, never store it, "
    "kill leftovers at once with salt solution or dilute hydrochloric acid, rinse nozzles and walls.",
    "chemical safety rules, the supplier's data sheet",
)
SILVER_SALTS = Caution(
    "Silver and tin salts",
    "Silver nitrate burns skin and eyes; tin salts and reducers (formaldehyde, hydrazine) have limits of their own: "
    "goggles, gloves, extraction.",
    "workplace limits for chemicals",
)
PASSIVATION = Caution(
    "Passivation",
    "Chromates, where used, cause cancer and allergy: strict limits, and in the EU an authorisation.",
    "REACH; 29 CFR 1910.1026",
)
NICKEL_BATH = Caution(
    "Nickel bath",
    "Nickel salts cause cancer when breathed in and make skin and airways allergic: no mist, no bare hands, no eating.",
    "directive 2004/37/EC as amended by 2022/431; 29 CFR 1910.1000",
)
ACID = Caution(
    "Acid",
    "Acid into water, never water into acid. Eyewash within reach. Sulfuric mist has a low limit.",
    "rules on chemical agents",
)
RECTIFIER = Caution(
    "Rectifier",
    "Low volts, hundreds of amps: no rings or watches; isolate before touching bars; mind the wet floor.",
    "electrical safety rules",
)
DRAINS = Caution(
    "Drains",
    "Nickel, copper, silver and chromium do not go to the sewer: treat, and keep records.",
    "the discharge permit",
)
EDGES = Caution(
    "Metal edges", "Fresh plates cut like knives: gloves; carry them in holders.", "rules on protective wear"
)
SANDING = Caution(
    "Sanding", "Nickel dust: work wet or with extraction, wear a mask, never blow dry.", "those of the nickel bath"
)


@dataclass(frozen=True)
class CardWords:
    """Everything said on a card.

    Attributes
    ----------
    prepare, finish : tuple of Task
        Before and after the bath.
    temperatures, checks : tuple of str
        For each step that is run, in °C and in words.
    before, during, after : tuple of Caution
    """

    prepare: tuple[Task, ...]
    temperatures: tuple[str, ...]
    checks: tuple[str, ...]
    finish: tuple[Task, ...]
    before: tuple[Caution, ...]
    during: tuple[Caution, ...]
    after: tuple[Caution, ...]


def card_words(
    run: PlatingRun,
    kind: str,
    grown_on: str,
    settings: PlatingSettings,
    temperature_c: float | None = None,
    least_um: float = 0.0,
) -> CardWords:
    """What a card says of a run.

    Parameters
    ----------
    run : PlatingRun
    kind : str
        master, mother or stamper.
    grown_on : {"lacquer", "metal"}
    settings : PlatingSettings
    temperature_c : float, optional
        Of the bath; the usual range without. The first layer on a lacquer has its own.
    least_um : float
        The least thickness anywhere; 0 for no such wish.

    Returns
    -------
    CardWords
    """
    first = run.steps_within(settings.growth.first_layer_um * MICRON) if grown_on == LACQUER else 0
    bath, nickel = settings.baths[run.metal.name], run.metal.name == "nickel"
    usual = f"{bath.bath_low_c:g}–{bath.bath_high_c:g}" if temperature_c is None else f"{temperature_c:g}"
    cool = f"{settings.growth.first_layer_low_c:g}–{settings.growth.first_layer_high_c:g}"
    return CardWords(
        prepare=_prepare(run, kind, grown_on, settings),
        temperatures=tuple(cool if k < first else usual for k in range(len(run.steps))),
        checks=tuple(_check(run, k, k < first) for k in range(len(run.steps))),
        finish=_finish(run, kind, grown_on, least_um),
        before=(SWARF, SILVERING, SILVER_SALTS) if grown_on == LACQUER else (PASSIVATION,),
        during=tuple(([NICKEL_BATH] if nickel else []) + [ACID, RECTIFIER]),
        after=tuple([DRAINS, EDGES] + ([SANDING] if kind == "stamper" and nickel else [])),
    )


def _prepare(run: PlatingRun, kind: str, grown_on: str, settings: PlatingSettings) -> tuple[Task, ...]:
    if grown_on == LACQUER:
        silver = settings.silvering
        grams = coat_mass(METALS["silver"], run.area, silver.film_um * MICRON) / GRAM
        return (
            Task("Weigh the lacquer, dry.", "Weight before: write it below."),
            Task("Wash with liquid only; degrease; rinse.", "Water runs off as one unbroken film."),
            Task(
                f"Sensitise, {silver.sensitise_low_minutes:g} to {silver.sensitise_high_minutes:g} min; rinse.",
                "The whole face was wet all the time.",
            ),
            Task(
                f"Spray silver, {silver.spray_low_minutes:g} to {silver.spray_high_minutes:g} min, table turning.",
                f"Bright all over, no shadow; {silver.film_um:g} µm is {grams:.2f} g of silver.",
            ),
            Task("Rinse; straight into the bath, wet.", "Contact all round the rim; no bubble on the face."),
        )
    dip = settings.passivation
    strip = (Task("Strip the silver, where the parent was grown on a lacquer.", "No silver left on the face."),)
    return (
        *(strip if kind == "mother" else ()),
        Task("Degrease the parent; rinse; dry; weigh.", "Weight before: write it below."),
        Task(
            f"Passivate, {dip.low_minutes:g} to {dip.high_minutes:g} min; rinse.",
            "Done and signed before any current: without it the two cannot be parted.",
        ),
        Task("Hang; straight into the bath, wet.", "Contact firm; no bubble on the face."),
    )


def _check(run: PlatingRun, k: int, first_layer: bool) -> str:
    if k == len(run.steps) - 1:
        return f"Off at {run.charge / AMPERE_HOUR:.1f} Ah by the meter, not by the clock."
    if first_layer:
        return "The whole face covers; no bare, dark or lifting spot."
    if k == 0:
        return "Amperes steady; no gas, no lifting at the rim."
    return "Amperes as set; bath moves; pH and level looked at."


def _finish(run: PlatingRun, kind: str, grown_on: str, least_um: float) -> tuple[Task, ...]:
    least = f"; nowhere below {least_um:g} µm" if least_um and run.reached else ""
    per_ah = run.metal.mass_per_charge * AMPERE_HOUR / GRAM
    parent = "lacquer" if grown_on == LACQUER else "parent"
    tasks = [
        Task(
            "Current off, isolate; take out; rinse; dry; weigh.",
            f"Gain {run.mass / GRAM:.0f} g planned; efficiency = gain ÷ ({per_ah:.3f} × Ah).",
        ),
        Task("Measure the thickness at rim, middle and centre.", f"Mean {run.thickness / MICRON:.0f} µm{least}."),
        Task(f"Part it from the {parent} by hand, from the rim.", "No scratch, no tear; both faces looked at."),
    ]
    if kind == "stamper":
        tasks.append(Task("Back sand, centre, trim, form.", "Each step written down with who did it."))
    return tuple(tasks)


def step_words(step: Step, last: float | None = None) -> str:
    """A step's current density in A/dm²: `0.5`, or `0.5 to 2` for one that changes.

    Parameters
    ----------
    step : Step
    last : float, optional, A/m²
        Where it ends as it is run; its own end without.
    """
    end = step.last if last is None else last
    begin = plain(step.first / A_PER_DM2)
    return begin if step.first == step.last else f"{begin} to {plain(end / A_PER_DM2)}"


def duration_words(seconds: float) -> str:
    """A time in the bath: `45 min`, `2 h 38 min`.

    Parameters
    ----------
    seconds : float
    """
    minutes = round(seconds / 60.0)
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{seconds / 60.0:.1f} min" if seconds < 600.0 else f"{minutes} min"
    return f"{hours} h {rest:02d} min"


def minute_words(seconds: float) -> str:
    """Minutes for a table: one decimal below ten.

    Parameters
    ----------
    seconds : float
    """
    minutes = seconds / 60.0
    return f"{minutes:.1f}" if minutes < 9.95 and minutes != round(minutes) else f"{minutes:.0f}"
