"""A plan opened for looking and listening, kept in memory while it is looked at."""

from __future__ import annotations

import math
import os
import threading
from collections import OrderedDict
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from discwright.acts.look import Prepared, read_prepared
from discwright.desk.layers import make_layers
from discwright.desk.shelf import KeptPlan, Shelf
from discwright.desk.tiles import DiscMap
from discwright.files.compare import setup_from_plan
from discwright.files.kept_side import read_spiral
from discwright.files.picture_shading import Groove
from discwright.groove.equipment import Setup
from discwright.groove.sight.cut import CutSurface
from discwright.groove.table import SpiralRows


@dataclass
class OpenPlan:
    """One plan, with what is read of it when it is first asked for.

    Attributes
    ----------
    plan : KeptPlan
    cache : pathlib.Path
        Where what is computed for looking lies, once it is.
    """

    plan: KeptPlan
    cache: Path
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _prepared: Prepared | None = None
    _made: tuple[CutSurface, DiscMap] | None = None

    @cached_property
    def setup(self) -> Setup:
        """Everything it was planned with."""
        return setup_from_plan(self.plan.document)

    @cached_property
    def rows(self) -> SpiralRows:
        """The spiral."""
        return read_spiral(self.plan.folder, self.plan.document)

    @property
    def gain(self) -> float:
        """Amplitude ratio of the cut to 0 dB."""
        return float(10.0 ** (float(self.plan.document["level_db"]) / 20.0))

    @property
    def duration(self) -> float:
        """Length of the music, s."""
        return float(self.plan.document["programme"]["duration_s"])

    @property
    def sample_rate(self) -> int:
        """Of the programme, Hz."""
        return int(self.plan.document["programme"]["sample_rate_hz"])

    @cached_property
    def bands(self) -> tuple[tuple[float, float], ...]:
        """Begin and end of each band, s."""
        return tuple((float(one["start_s"]), float(one["end_s"])) for one in self.plan.document["settings"]["bands"])

    @property
    def prepared(self) -> Prepared | None:
        """What was computed for looking and listening, or None until it is."""
        with self._lock:
            if self._prepared is None:
                self._prepared = read_prepared(self.cache)
                if self._prepared is not None:
                    with suppress(OSError):
                        os.utime(self.cache)  # those looked at last are kept longest
            return self._prepared

    @cached_property
    def groove(self) -> Groove:
        """The spiral as the picture of the whole face takes it."""
        rows = self.rows
        return Groove(rows.time, rows.radius, rows.depth, rows.land, rows.zone == "music", self.setup.disc.turn_time)

    @cached_property
    def still(self) -> CutSurface:
        """The spiral as if no music moved the tip: to tell turns and times by."""
        return self._surface(np.zeros((1, 2), dtype=np.float32))

    @property
    def cut(self) -> CutSurface | None:
        """The spiral with every movement of the tip, once it is known."""
        prepared = self.prepared
        return None if prepared is None else self._ready(prepared)[0]

    @property
    def picture(self) -> DiscMap:
        """The disc map; without the music's movement until that is known."""
        prepared = self.prepared
        if prepared is None:
            return self._plain_picture
        return self._ready(prepared)[1]

    def time_near(self, x: float, y: float) -> float | None:
        """When the centre line passes nearest to a place of the disc, s; None beyond the spiral's ends.

        Parameters
        ----------
        x, y : float, m
            To the right and down from the disc's centre.
        """
        rows, turn_time = self.rows, self.setup.disc.turn_time
        reach = math.hypot(x, y)
        angle = math.atan2(-x, -y) / (2 * math.pi) % 1.0
        first, last = float(rows.time[0]) / turn_time, float(rows.time[-1]) / turn_time
        turns = np.arange(math.ceil(first - angle), math.floor(last - angle) + 1)
        times = (turns + angle) * turn_time
        if not len(times) or reach > float(rows.radius[0]) + 5e-4:
            return None
        distance = np.abs(np.interp(times, rows.time, rows.radius) - reach)
        return float(times[int(np.argmin(distance))])

    @cached_property
    def _plain_picture(self) -> DiscMap:
        return DiscMap(None, self.setup.disc, self.groove)

    def _ready(self, prepared: Prepared) -> tuple[CutSurface, DiscMap]:
        """Made once, from what lies on disk."""
        with self._lock:
            if self._made is None:
                cut = self._surface(prepared.edges)
                layers = make_layers(prepared.measures, self.setup)
                self._made = (cut, DiscMap(cut, self.setup.disc, self.groove, layers))
            return self._made

    def _surface(self, edges: NDArray[np.float32]) -> CutSurface:
        rows = self.rows
        return CutSurface(rows.time, rows.radius, rows.depth, self.setup.disc.turn_time, float(self.sample_rate), edges)


class OpenPlans:
    """The plans looked at last.

    Parameters
    ----------
    shelf : Shelf
    most : int
        How many are kept open.
    """

    def __init__(self, shelf: Shelf, most: int = 6) -> None:
        self._shelf, self._most = shelf, most
        self._open: OrderedDict[str, OpenPlan] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, id_: str) -> OpenPlan:
        """A plan by its id; opened again where it was planned anew meanwhile.

        Raises
        ------
        NotThereError
        """
        plan = self._shelf.plan(id_)
        key = f"{plan.cache_key} {plan.folder}"
        with self._lock:
            known = self._open.pop(key, None) or OpenPlan(plan, self._shelf.cache(plan))
            self._open[key] = known
            while len(self._open) > self._most:
                self._open.popitem(last=False)
        return known
