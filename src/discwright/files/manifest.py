"""What goes with the cartons, as CSV: the manifest with a line for each, and the pick list in bin order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from discwright.files.csv_guard import write_table
from discwright.works.packing import Packed
from discwright.works.pallets import PalletLoad, Weights

MANIFEST_HEADS = (
    "account", "name", "city", "postcode", "country", "order", "edition", "run", "count", "full", "carton", "place",
    "of", "sscc", "bundle", "bundle_sscc", "pallet", "mass_kg",
)  # fmt: skip
PICK_HEADS = ("bin", "edition", "run", "count", "account", "order", "first_carton", "last_carton")
Row = tuple[object, ...]


def manifest_rows(packed: Packed, weights: Weights, pallets: tuple[PalletLoad, ...]) -> Iterator[Row]:
    """Rows of the manifest, in the order of the cartons.

    Parameters
    ----------
    packed : Packed
    weights : Weights
    pallets : tuple of PalletLoad
    """
    standing: Mapping[int, int] = {one.number: load.number for load in pallets for one in load.bundles}
    for bundle in packed.bundles:
        to = bundle.consignee
        for one in bundle.cartons:
            yield (
                to.account, to.name, to.city, to.postcode, to.country, one.order, one.edition, one.run, one.count,
                "yes" if one.full else "part-filled", one.number, one.place, one.of, one.sscc or "", bundle.number,
                bundle.sscc or "", standing.get(bundle.number, ""), f"{weights.carton_kg(one):.2f}",
            )  # fmt: skip


def pick_rows(packed: Packed) -> Iterator[Row]:
    """Rows of the pick list, in bin order.

    Parameters
    ----------
    packed : Packed
    """
    for one in packed.pick_list:
        yield one.bin, one.edition, one.run, one.count, one.account, one.order, one.first, one.last


def write_manifest(path: Path, packed: Packed, weights: Weights, pallets: tuple[PalletLoad, ...]) -> None:
    """Write the manifest; the same cartons give the same bytes.

    Parameters
    ----------
    path : pathlib.Path
        Written as it is named: whoever calls writes beside and renames.
    packed : Packed
    weights : Weights
    pallets : tuple of PalletLoad

    Raises
    ------
    OSError
    """
    write_table(path, MANIFEST_HEADS, manifest_rows(packed, weights, pallets))


def write_pick_list(path: Path, packed: Packed) -> None:
    """Write the pick list.

    Parameters
    ----------
    path : pathlib.Path
        Written as it is named: whoever calls writes beside and renames.
    packed : Packed

    Raises
    ------
    OSError
    """
    write_table(path, PICK_HEADS, pick_rows(packed))
