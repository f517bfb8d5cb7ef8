"""What is worth a word about a packing: what is short, recalled or heavy, and what labels could not hold."""

from __future__ import annotations

from collections.abc import Sequence

from discwright.acts.plate_findings import finding
from discwright.files.carton_label import LabelsMade
from discwright.files.packing_settings import LabelLimits
from discwright.findings import Finding, sort_findings
from discwright.works.allocation import Allocation
from discwright.works.order_lines import StockLine
from discwright.works.packing import Packed
from discwright.works.pallets import Weights

#: So many accounts are named in a remedy.
_NAMED = 5


def pack_findings(
    packed: Packed, weights: Weights, allocation: Allocation, held: Sequence[StockLine]
) -> tuple[Finding, ...]:
    """What to say of cartons and bundles.

    Parameters
    ----------
    packed : Packed
    weights : Weights
    allocation : Allocation
    held : sequence of StockLine
        What lies in bins of recalled runs.
    """
    found: list[Finding] = []
    if packed.short:
        ordered = sum(one.line.count for one in allocation.granted)
        missing = sum(one.missing for one in packed.short)
        found.append(
            finding(
                "orders_short", "stop", float(ordered - missing), float(ordered), "discs",
                f"{_many(missing, 'disc')} of {_many(len(allocation.short_editions), 'edition')} missing: kept as "
                "backorders; press more, or tell the accounts.",
            )
        )  # fmt: skip
    if held:
        count, runs = sum(one.count for one in held), sorted({one.run for one in held})
        found.append(
            finding(
                "recalled_stock", "warn", float(count), 0.0, "discs",
                f"Recalled run {_named(runs)} lies in bins and was not touched: mark those bins.",
            )
        )  # fmt: skip
    masses = [weights.carton_kg(one) for one in packed.cartons]
    heavy = sum(weights.too_heavy(mass) for mass in masses)
    if heavy:
        found.append(
            finding(
                "heavy_carton", "warn", max(masses), weights.one_person_kg, "kg",
                f"{_many(heavy, 'carton')} too heavy for one person: put fewer discs into a carton.",
            )
        )  # fmt: skip
    masses = [weights.bundle_kg(one) for one in packed.bundles]
    heavy = sum(weights.too_heavy(mass) for mass in masses)
    if heavy:
        found.append(
            finding(
                "heavy_bundle", "note", max(masses), weights.one_person_kg, "kg",
                f"{_many(heavy, 'bundle')} for two people or a lift, and the label says so; local rules come first.",
            )
        )  # fmt: skip
    return sort_findings(found)


def label_findings(made: LabelsMade, limits: LabelLimits) -> list[Finding]:
    """What to say of labels.

    Parameters
    ----------
    made : LabelsMade
    limits : LabelLimits
    """
    found = []
    if made.least_capital_mm < limits.told_below_mm:
        found.append(
            finding(
                "label_type", "note", made.least_capital_mm, limits.free_text_mm, "mm",
                "The longest address is printed in small letters: shorten it, or take larger labels.",
            )
        )  # fmt: skip
    if made.cut:
        words = f"Account {_named(made.cut)} has an address that no label holds: shorten it."
        found.append(finding("label_cut", "warn", float(len(made.cut)), 0.0, "accounts", words))
    if made.unjoined:
        words = (
            f"Account {_named(made.unjoined)} is written from right to left, which is printed letter by letter and not "
            "joined: add the address in Latin letters."
        )
        found.append(finding("label_unjoined", "warn", float(len(made.unjoined)), 0.0, "accounts", words))
    if made.lacking:
        words = f"Account {_named(made.lacking)} has letters that no typeface here has: write them otherwise."
        found.append(finding("label_letters", "warn", float(len(made.lacking)), 0.0, "accounts", words))
    return found


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _named(names: Sequence[str]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")
