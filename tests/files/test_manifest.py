"""Manifest and pick list: every carton once, bins in order, weights as on the labels. All *by hand*."""

from __future__ import annotations

import csv
from pathlib import Path

from packing_cases import ordered, packed, stored

from discwright.files.manifest import MANIFEST_HEADS, PICK_HEADS, write_manifest, write_pick_list
from discwright.files.packing_settings import load_packing
from discwright.works.pallets import pallet_loads

HOUSE = load_packing()


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_the_manifest_and_the_pick_list(tmp_path: Path) -> None:
    found = packed(
        [ordered("A-2", 112), ordered("=A-1", 10)], [stored("R-1", 100, "B-10"), stored("R-1", 50, "B-9")]
    )  # fmt: skip
    loads = pallet_loads(found.bundles, HOUSE.weights, HOUSE.pallets["eur"], 4)
    write_manifest(tmp_path / "m.csv", found, HOUSE.weights, loads)
    write_pick_list(tmp_path / "p.csv", found)
    manifest, picks = rows(tmp_path / "m.csv"), rows(tmp_path / "p.csv")
    assert (tuple(manifest[0]), tuple(picks[0])) == (MANIFEST_HEADS, PICK_HEADS)
    assert [one["sscc"] for one in manifest] == [one.sscc for one in found.cartons]
    assert sum(int(one["count"]) for one in manifest) == sum(int(one["count"]) for one in picks) == 122
    assert [(one["account"], one["count"], one["full"]) for one in manifest] == [
        ("'=A-1", "10", "part-filled"), *[("A-2", "25", "yes")] * 4, ("A-2", "12", "part-filled"),
    ]  # fmt: skip
    assert [one["mass_kg"] for one in manifest] == ["2.70", *["6.15"] * 4, "3.16"]
    assert [one["pallet"] for one in manifest] == ["1", *["2"] * 5]
    assert {one["bundle"]: one["bundle_sscc"] for one in manifest} == {str(b.number): b.sscc for b in found.bundles}
    assert [(one["bin"], one["account"], one["count"], one["first_carton"], one["last_carton"]) for one in picks] == [
        ("B-9", "A-2", "50", "2", "3"), ("B-10", "'=A-1", "10", "1", "1"), ("B-10", "A-2", "62", "4", "6"),
    ]  # fmt: skip
