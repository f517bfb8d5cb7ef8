"""The tools that judge a plan, from `tests/independent`, where they share no code with discwright."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[1] / "tests" / "independent"))

from checker import check_plan, disagreements
from music import CACHE, build_programme, find_pieces, missing
from walls import FINE_TURNS, Floats, Spiral, Walls, depth_range, lands, motion_blocks

__all__ = [
    "CACHE",
    "FINE_TURNS",
    "Floats",
    "Spiral",
    "Walls",
    "build_programme",
    "check_plan",
    "depth_range",
    "disagreements",
    "find_pieces",
    "lands",
    "missing",
    "motion_blocks",
]
