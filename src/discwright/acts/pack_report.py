"""What a packing came to: cartons, bundles, what is short, what to say of it, and the same as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from discwright.files.carton_label import LabelsMade
from discwright.files.csv_guard import LineFinding
from discwright.files.packing_settings import PackingSettings
from discwright.findings import Finding
from discwright.works.allocation import Allocation, Short
from discwright.works.order_lines import StockLine
from discwright.works.packing import Bundle, Carton, Consignee, Packed
from discwright.works.pallets import PalletLoad


@dataclass(frozen=True)
class PackReport:
    """A packing, resolved.

    Attributes
    ----------
    allocation : Allocation
    packed : Packed
    pallets : tuple of PalletLoad
    settings : PackingSettings
    findings : tuple of Finding
        About the packing as a whole.
    line_findings : tuple of LineFinding
        About lines of the files.
    recalled : tuple of str
        Runs that were left in their bins.
    labels : LabelsMade or None
    written : dict of str to pathlib.Path
        Papers that were written, by what they are.
    """

    allocation: Allocation
    packed: Packed
    pallets: tuple[PalletLoad, ...]
    settings: PackingSettings
    findings: tuple[Finding, ...]
    line_findings: tuple[LineFinding, ...] = ()
    recalled: tuple[str, ...] = ()
    labels: LabelsMade | None = None
    written: dict[str, Path] | None = None

    @property
    def short(self) -> tuple[Short, ...]:
        """Lines that do not get all they ordered."""
        return self.packed.short

    @property
    def mass_kg(self) -> float:
        """Of all cartons, without pallets."""
        return sum(self.settings.weights.bundle_kg(one) for one in self.packed.bundles)

    @property
    def discs(self) -> int:
        """Discs in all cartons."""
        return sum(one.count for one in self.packed.cartons)

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain JSON values."""
        packed, weights = self.packed, self.settings.weights
        plain: dict[str, Any] = {
            "cartons": [self._carton(one) for one in packed.cartons],
            "bundles": [self._bundle(one) for one in packed.bundles],
            "short": [_short(one) for one in packed.short],
            "discs": self.discs,
            "mass_kg": round(self.mass_kg, 3),
            "one_person_kg": weights.one_person_kg,
            "per_carton": packed.rules.per_carton,
            "per_bundle": packed.rules.per_bundle,
            "rule": self.allocation.rule,
            "rule_words": self.allocation.rule_words,
            "short_editions": list(self.allocation.short_editions),
            "recalled": list(self.recalled),
            "next_serial": packed.next_serial,
            "consignees": [_consignee(number, one) for number, one in enumerate(packed.consignees, 1)],
            "pick_list": [
                {
                    "bin": one.bin, "edition": one.edition, "run": one.run, "count": one.count, "account": one.account,
                    "order": one.order, "first_carton": one.first, "last_carton": one.last,
                }
                for one in packed.pick_list
            ],
            "left": [_left(one) for one in self.allocation.left],
            "pallets": [_pallet(one) for one in self.pallets],
            "findings": [
                *(one.as_dict() for one in self.line_findings), *(one.as_dict() for one in self.findings),
            ],
        }  # fmt: skip
        if self.labels is not None:
            plain["labels"] = {
                "labels": self.labels.labels,
                "pages": self.labels.pages,
                "module_mm": round(self.labels.module_mm, 4),
                "least_capital_mm": round(self.labels.least_capital_mm, 2),
            }
        if self.written:
            plain["written"] = {name: str(path) for name, path in self.written.items()}
        return plain

    def _carton(self, one: Carton) -> dict[str, Any]:
        mass = self.settings.weights.carton_kg(one)
        return {
            "sscc": one.sscc, "account": one.account, "edition": one.edition, "count": one.count, "run": one.run,
            "number": one.number, "order": one.order, "full": one.full, "place": one.place, "of": one.of,
            "bundle": one.bundle, "bins": [{"bin": pick.bin, "count": pick.count} for pick in one.picks],
            "mass_kg": round(mass, 3),
        }  # fmt: skip

    def _bundle(self, one: Bundle) -> dict[str, Any]:
        mass = self.settings.weights.bundle_kg(one)
        return {
            "sscc": one.sscc,
            "cartons": [carton.sscc or carton.number for carton in one.cartons],
            "number": one.number,
            "account": one.account,
            "count": one.count,
            "full": one.full,
            "mass_kg": round(mass, 3),
            "two_people": self.settings.weights.too_heavy(mass),
        }


def _short(one: Short) -> dict[str, Any]:
    return {
        "account": one.account, "edition": one.edition, "missing": one.missing, "order": one.order,
        "ordered": one.ordered, "granted": one.granted, "wanted": one.wanted, "line": one.line,
    }  # fmt: skip


def _left(one: StockLine) -> dict[str, Any]:
    return {"edition": one.edition, "run": one.run, "count": one.count, "bin": one.bin}


def _consignee(number: int, one: Consignee) -> dict[str, Any]:
    return {
        "consignee": number, "account": one.account, "name": one.name, "address_1": one.address_1,
        "address_2": one.address_2, "city": one.city, "region": one.region, "postcode": one.postcode,
        "country": one.country,
    }  # fmt: skip


def _pallet(one: PalletLoad) -> dict[str, Any]:
    return {
        "pallet": one.number,
        "account": one.consignee.account,
        "bundles": [bundle.number for bundle in one.bundles],
        "cartons": sum(len(bundle.cartons) for bundle in one.bundles),
        "layers": one.layers,
        "mass_kg": round(one.mass_kg, 3),
    }
