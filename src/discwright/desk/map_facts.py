"""What a page must know to show the disc map: size, levels, layers, bands, and where the findings lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from discwright.desk.layers import VINYL, Layer
from discwright.desk.opened import OpenPlan
from discwright.desk.tiles import FINEST, TILE
from discwright.desk.words import Words
from discwright.findings import Severity


@dataclass(frozen=True)
class LayerFacts:
    """A layer with its key: values and colours, low to high, and the limit beyond which it is hatched."""

    name: str
    words: str
    unit: str
    low: float
    high: float
    limit: float | None
    stops: list[Sequence[float | str]]


_PLAIN = LayerFacts(VINYL, "plain vinyl", "", 0.0, 0.0, None, [])


@dataclass(frozen=True)
class Mark:
    """A finding on the disc; x to the right and y down from its centre."""

    number: int
    severity: Severity
    code: str
    words: str
    time_s: float
    x_um: float
    y_um: float


@dataclass(frozen=True)
class BandFacts:
    """A band of the side."""

    number: int
    name: str
    start_s: float
    end_s: float


@dataclass(frozen=True)
class MapFacts:
    """The disc map of one plan.

    Attributes
    ----------
    width_px : int
        Side of the finest level; the disc's centre lies in its middle.
    tile_px, levels, deep_level : int
        From `deep_level` on the side must have been made ready.
    finest_um : float
        Per pixel.
    prepared : bool
    rim_um, label_um : float
        Radii.
    start_s, end_s : float
        Of the whole spiral.
    """

    width_px: int
    tile_px: int
    levels: int
    deep_level: int
    finest_um: float
    prepared: bool
    rim_um: float
    label_um: float
    start_s: float
    end_s: float
    layers: list[LayerFacts]
    marks: list[Mark]
    bands: list[BandFacts]


def map_facts(plan: OpenPlan, words: Words) -> MapFacts:
    """Put together what the map needs.

    Parameters
    ----------
    plan : OpenPlan
    words : Words
    """
    picture, disc, rows = plan.picture, plan.setup.disc, plan.rows
    titled = plan.plan.document.get("title", {}).get("bands")
    bands = [
        BandFacts(i, str(titled[i - 1]["name"]) if titled else f"Band {i}", start, end)
        for i, (start, end) in enumerate(plan.bands, 1)
    ]
    return MapFacts(
        width_px=picture.width,
        tile_px=TILE,
        levels=picture.levels,
        deep_level=picture.deep_level,
        finest_um=FINEST * 1e6,
        prepared=plan.prepared is not None,
        rim_um=round(0.5e6 * disc.disc_diameter, 3),
        label_um=round(0.5e6 * disc.label_diameter, 3),
        start_s=round(float(rows.time[0]), 4),
        end_s=round(float(rows.time[-1]), 4),
        layers=[
            LayerFacts(VINYL, "plain vinyl", "", 0.0, 0.0, None, []),
            *(_layer(one, words) for one in picture.layers),
        ],
        marks=_marks(plan),
        bands=bands,
    )


def _layer(layer: Layer, words: Words) -> LayerFacts:
    unit, factor = layer.unit, 1.0
    if words.inches and unit == "µm":
        unit, factor = "thou", words.unit("µm")[1] * 1e-6

    def told(value: float) -> float:
        return float(f"{value * factor:.4g}")

    return LayerFacts(
        layer.name, layer.words, unit, told(layer.low), told(layer.high),
        told(layer.limit), [(told(value), colour) for value, colour in layer.stops],
    )  # fmt: skip


def _marks(plan: OpenPlan) -> list[Mark]:
    marks = []
    for number, one in enumerate(plan.plan.document["findings"], 1):
        if one.get("time_s") is None:
            continue
        time = float(one["time_s"])
        x, y = (float(c[0]) for c in plan.still.place_of(np.array([time])))
        code = str(one["code"]).replace("_", " ")
        marks.append(
            Mark(number, one["severity"], code, str(one["remedy"]), time, round(x * 1e6, 2), round(y * 1e6, 2))
        )
    return marks
