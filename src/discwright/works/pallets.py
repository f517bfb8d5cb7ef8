"""What cartons, bundles and pallets weigh, how many a pallet takes, and which need two people.

Masses are kg and lengths mm, as on the papers: nothing is reckoned further with them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from discwright.errors import CallError
from discwright.works.packing import Bundle, Carton, Consignee

#: What has no weight of its own weighs as this.
USUAL = "usual"


@dataclass(frozen=True)
class Weights:
    """What one packed disc and an empty carton weigh.

    Attributes
    ----------
    units_g : mapping of str to float
        Disc with all that is packed around it, by edition (``NL-004/lp``), by what stands behind its last stroke
        (``lp``), or :data:`USUAL`.
    box_kg : float
    one_person_kg : float
        Over this two people lift, or a lift does.
    """

    units_g: Mapping[str, float]
    box_kg: float
    one_person_kg: float

    def unit_g(self, edition: str) -> float:
        """Mass of one packed disc of an edition.

        Parameters
        ----------
        edition : str
        """
        for name in (edition, edition.rpartition("/")[2]):
            if name in self.units_g:
                return self.units_g[name]
        return self.units_g[USUAL]

    def carton_kg(self, carton: Carton) -> float:
        """Mass of a carton with what is in it.

        Parameters
        ----------
        carton : Carton
        """
        return carton.count * self.unit_g(carton.edition) * 1e-3 + self.box_kg

    def bundle_kg(self, bundle: Bundle) -> float:
        """Mass of a bundle; straps weigh nothing worth telling.

        Parameters
        ----------
        bundle : Bundle
        """
        return sum(self.carton_kg(one) for one in bundle.cartons)

    def too_heavy(self, mass_kg: float) -> bool:
        """Over the limit for one person; at it is not over.

        Parameters
        ----------
        mass_kg : float
        """
        return mass_kg > self.one_person_kg + 1e-9


@dataclass(frozen=True)
class Pallet:
    """A kind of pallet and how it is loaded.

    Attributes
    ----------
    name : str
    width_mm, depth_mm, height_mm : float
    mass_kg, load_kg : float
        Its own mass, and what it may carry.
    stack_mm : float
        Highest load, the pallet itself included.
    carton_mm : tuple of float
        Width, depth and height of a carton: the records stand on edge in it.
    """

    name: str
    width_mm: float
    depth_mm: float
    height_mm: float
    mass_kg: float
    load_kg: float
    stack_mm: float
    carton_mm: tuple[float, float, float]

    def layer(self, per_bundle: int) -> int:
        """Bundles side by side on one layer, none over the edge.

        Parameters
        ----------
        per_bundle : int
            Cartons of a full bundle, which lie in one layer; every way to set them in a rectangle is tried.
        """
        wide, deep, _ = self.carton_mm
        return max(
            boxes_in_layer(self.width_mm, self.depth_mm, wide * rows, deep * per_bundle / rows)
            for rows in range(1, per_bundle + 1)
            if per_bundle % rows == 0
        )

    @property
    def layers(self) -> int:
        """Layers one above the other."""
        return int((self.stack_mm - self.height_mm) // self.carton_mm[2])


@dataclass(frozen=True)
class PalletLoad:
    """One pallet for one consignee.

    Attributes
    ----------
    number : int
    consignee : Consignee
    bundles : tuple of Bundle
        From the lowest layer up.
    layers : int
    mass_kg : float
        With the pallet.
    """

    number: int
    consignee: Consignee
    bundles: tuple[Bundle, ...]
    layers: int
    mass_kg: float


def boxes_in_layer(width: float, depth: float, box_width: float, box_depth: float) -> int:
    """Boxes in a plain row and column pattern, turned whichever way takes more.

    Parameters
    ----------
    width, depth : float
        Of the pallet.
    box_width, box_depth : float
        In the same unit.

    Returns
    -------
    int
        max(⌊W/w⌋⌊D/d⌋, ⌊W/d⌋⌊D/w⌋); common practice: columns, not bricks, for strength.
    """
    along = int(width // box_width) * int(depth // box_depth)
    across = int(width // box_depth) * int(depth // box_width)
    return max(along, across)


def pallet_loads(
    bundles: Sequence[Bundle], weights: Weights, pallet: Pallet, per_bundle: int
) -> tuple[PalletLoad, ...]:
    """Set bundles on pallets, those of one consignee together and nobody else's among them.

    Parameters
    ----------
    bundles : sequence of Bundle
        As :func:`discwright.works.packing.pack` gives them: consignee after consignee.
    weights : Weights
    pallet : Pallet
    per_bundle : int
        Cartons of a full bundle; a last bundle with fewer takes as much room.

    Returns
    -------
    tuple of PalletLoad

    Raises
    ------
    CallError
        If not even one bundle can stand on the pallet.
    """
    layer = pallet.layer(per_bundle)
    places = layer * pallet.layers
    if places < 1:
        raise CallError(f"a bundle of {per_bundle} cartons does not fit pallet {pallet.name}; make bundles smaller.")
    loads: list[PalletLoad] = []
    for to, group in groupby(bundles, lambda one: one.consignee):
        standing: list[Bundle] = []
        mass = 0.0
        for one in group:
            more = weights.bundle_kg(one)
            if more > pallet.load_kg:
                raise CallError(
                    f"bundle {one.number} weighs {more:.0f} kg and pallet {pallet.name} carries {pallet.load_kg:.0f}; "
                    "make bundles smaller."
                )
            if standing and (len(standing) == places or mass + more > pallet.load_kg):
                loads.append(_load(len(loads) + 1, to, standing, layer, mass + pallet.mass_kg))
                standing, mass = [], 0.0
            standing.append(one)
            mass += more
        loads.append(_load(len(loads) + 1, to, standing, layer, mass + pallet.mass_kg))
    return tuple(loads)


def _load(number: int, to: Consignee, standing: Sequence[Bundle], layer: int, mass_kg: float) -> PalletLoad:
    return PalletLoad(number, to, tuple(standing), -(-len(standing) // layer), mass_kg)
