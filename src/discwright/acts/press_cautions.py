"""What can hurt at the press, one line each, and the kind of rule to look up; no line says that a place is safe."""

from __future__ import annotations

from discwright.files.run_card_words import Caution

DEFER = (
    "Local codes, safety data sheets and licensed practice come before these figures; they say of no place that it is "
    "safe."
)
HOT_WORK: tuple[Caution, ...] = (
    Caution(
        "Press",
        "Hands out: two-hand control, light curtain or interlocked guard; it closes with up to 150 t at up to 180 °C. "
        "Before reaching in: stop, block, bleed accumulators, shut the steam, lock and tag, try.",
        "rules on guarding presses and plastics machines; 29 CFR 1910.212 and 1910.147 or the local equal",
    ),
    Caution(
        "Hot vinyl",
        "Shot, flash and disc burn and stick: gloves and sleeves, a tool to clear flash, discs left to cool before "
        "they are handled.",
        "rules on protective wear, the compound's safety data sheet",
    ),
    Caution(
        "Extruder",
        "Overheated PVC gives off hydrogen chloride and runs away: never leave hot compound standing, purge it, never "
        "mix it with acetal; extraction over the barrel, and for vinyl chloride the limit of the place.",
        "rules on plastics machines, workplace limits; 29 CFR 1910.1017",
    ),
    Caution(
        "Steam and hot water",
        "Lagged lines, relief valve, no joint opened under pressure; look when the examination is due.",
        "rules on pressure equipment",
    ),
    Caution(
        "Hydraulic oil",
        "A pin-hole jet goes through skin, and oil on hot platens burns: never feel for a leak by hand.",
        "rules on presses",
    ),
    Caution("Trimming knife", "Guard it; clear flash with a tool.", "rules on machines"),
    Caution(
        "Label ovens",
        "Paper near heat: thermostat, a second cut-out above it, no overload overnight.",
        "fire rules",
    ),
    Caution("Noise", "Measure it; above the action value protect ears.", "2003/10/EC; 29 CFR 1910.95"),
)  # fmt: skip
