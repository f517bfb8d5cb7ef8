"""Weights against the reference's table and a press report; layers by hand; nobody's bundles on another's pallet."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from packing_cases import FEW, RULES, order_lines, ordered, packed, stock_lines, stored

from discwright.errors import CallError
from discwright.files.packing_settings import load_packing
from discwright.works.order_lines import OrderLine, StockLine
from discwright.works.packing import PackRules
from discwright.works.pallets import Weights, boxes_in_layer, pallet_loads

HOUSE = load_packing()
EUR = HOUSE.pallets["eur"]


@pytest.mark.parametrize(
    ("unit_g", "carton_kg", "bundle_kg", "heavy"),
    # By another road: the reference's table, count · unit + box for 120, 140 and 180 g discs.
    [(190.0, 5.15, 20.6, False), (230.0, 6.15, 24.6, True), (285.0, 7.53, 30.1, True)],
)
def test_weights_of_the_reference(unit_g: float, carton_kg: float, bundle_kg: float, heavy: bool) -> None:
    weights = Weights({"usual": unit_g}, 0.4, 23.0)
    bundle = packed([ordered("A", 100)], [stored("R-1", 100, "B-1")]).bundles[0]
    assert weights.carton_kg(bundle.cartons[0]) == pytest.approx(carton_kg, abs=0.006)
    assert weights.bundle_kg(bundle) == pytest.approx(bundle_kg, abs=0.06)
    assert weights.too_heavy(weights.bundle_kg(bundle)) is heavy
    assert not weights.too_heavy(weights.carton_kg(bundle.cartons[0]))


def test_a_press_report_lies_within_the_shipped_weights() -> None:
    """Published: 30 000 discs weighed 8 short tons, 242 g each; the model of light to heavy sleeves is 190 to 285 g."""
    each_g = 8 * 907.18474 / 30_000 * 1000
    assert each_g == pytest.approx(242, abs=0.5)
    assert 190.0 < each_g < 285.0
    assert HOUSE.weights.unit_g("NL-004/lp") == pytest.approx(each_g, rel=0.06)


def test_an_edition_weighs_as_it_or_its_kind_is_told() -> None:
    weights = Weights({"usual": 230.0, "ep": 60.0, "NL-004/ep": 75.0}, 0.4, 23.0)
    assert [weights.unit_g(one) for one in ("NL-004/ep", "NL-005/ep", "NL-005/lp", "odd")] == [75.0, 60.0, 230.0, 230.0]


def test_the_limit_itself_is_not_over_it() -> None:
    assert not HOUSE.weights.too_heavy(23.0)
    assert HOUSE.weights.too_heavy(23.01)


def test_boxes_in_a_layer() -> None:
    """By another road: the reference's example of 320 × 130 mm boxes, 3 × 6 or 9 × 2."""
    assert boxes_in_layer(1200, 800, 320, 130) == 18
    assert boxes_in_layer(1200, 800, 130, 320) == 18
    assert boxes_in_layer(1200, 800, 1300, 900) == 0
    # By hand: turned it takes more.
    assert boxes_in_layer(1000, 600, 500, 350) == 2
    assert boxes_in_layer(1000, 600, 600, 500) == 2


def test_a_pallet_takes_so_many_bundles() -> None:
    # By hand: four cartons of 320 × 130 as 640 × 260: 1 × 3 or 4 × 1; as 320 × 520: 3 × 1 or 2 × 2; 1280 × 130: none.
    assert EUR.layer(4) == 4
    # 1600 − 144 over 325.
    assert EUR.layers == 4
    assert EUR.layer(1) == 18


def test_bundles_on_pallets_by_hand() -> None:
    # 17 full bundles on 16 places.
    found = packed([ordered("A", 1700)], [stored("R-1", 1700, "B-1")])
    loads = pallet_loads(found.bundles, HOUSE.weights, EUR, 4)
    assert [(len(one.bundles), one.layers) for one in loads] == [(16, 4), (1, 1)]
    assert [one.mass_kg for one in loads] == pytest.approx([16 * 24.6 + 25, 24.6 + 25])
    # 100 kg carry four of 24.6.
    weak = replace(EUR, load_kg=100.0)
    assert [len(one.bundles) for one in pallet_loads(found.bundles, HOUSE.weights, weak, 4)] == [4, 4, 4, 4, 1]


@FEW
@given(order_lines(), stock_lines(), RULES)
def test_every_bundle_stands_on_one_pallet_of_its_own_account(
    orders: list[OrderLine], stock: list[StockLine], rules: PackRules
) -> None:
    found = packed(orders, stock, rules)
    loads = pallet_loads(found.bundles, HOUSE.weights, EUR, rules.per_bundle)
    assert [bundle for one in loads for bundle in one.bundles] == list(found.bundles)
    for one in loads:
        assert {bundle.consignee for bundle in one.bundles} == {one.consignee}
        assert one.mass_kg <= EUR.load_kg + EUR.mass_kg
        assert 1 <= one.layers <= EUR.layers


def test_what_no_pallet_takes() -> None:
    found = packed([ordered("A", 100)], [stored("R-1", 100, "B-1")])
    with pytest.raises(CallError) as refusal:
        pallet_loads(found.bundles, HOUSE.weights, replace(EUR, width_mm=300.0, depth_mm=200.0), 4)
    assert str(refusal.value) == "a bundle of 4 cartons does not fit pallet eur; make bundles smaller."
    with pytest.raises(CallError) as refusal:
        pallet_loads(found.bundles, HOUSE.weights, replace(EUR, load_kg=20.0), 4)
    assert str(refusal.value) == "bundle 1 weighs 25 kg and pallet eur carries 20; make bundles smaller."
