"""How fast a tile of the disc map is drawn, at any zoom and with any layer, and how large it is.

python benchmarks/tiles.py             a 20-minute side
python benchmarks/tiles.py --quick     a short one
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import soundfile as sf

import programmes
from discwright.acts.plan import plan_file
from discwright.desk.layers import VINYL, make_layers
from discwright.desk.tiles import FINEST, TILE, DiscMap, warm
from discwright.files.picture_shading import Groove
from discwright.groove.edges import edge_blocks
from discwright.groove.measures import sector_measures
from discwright.groove.sight.cut import CutSurface

Row = tuple[str, str, str]
Tile = tuple[int, int, int, str]

#: Tiles that are drawn, and what chooses them.
TILES, SEED = 400, 20
#: Coarser than this level a tile is the whole disc and more.
FIRST_LEVEL = 8


def disc_map(audio: Path, level_db: float, edges: Path) -> DiscMap:
    """The map of a file planned as one side, its edges on disk as the desk has them.

    Parameters
    ----------
    audio : pathlib.Path
    level_db : float
    edges : pathlib.Path
        File to write.
    """
    plan = plan_file(audio, level_db=level_db).plan
    rows, setup, rate = plan.rows, plan.setup, plan.programme.sample_rate_hz
    blocks = sf.blocks(audio, 1 << 18, dtype="float32", always_2d=True)
    with edges.open("wb") as file:
        for block in edge_blocks(blocks, rate, setup.practice.subsonic, 10.0 ** (level_db / 20.0)):
            block.tofile(file)
    moved = np.memmap(edges, np.float32, "r", shape=(plan.programme.frames, 2))
    turn = setup.disc.turn_time
    cut = CutSurface(rows.time, rows.radius, rows.depth, turn, float(rate), moved)
    groove = Groove(rows.time, rows.radius, rows.depth, rows.land, rows.zone == "music", turn)
    return DiscMap(cut, setup.disc, groove, make_layers(sector_measures(plan.side), setup))


def sample(made: DiscMap, count: int) -> list[Tile]:
    """Tiles within the disc, as many of each level and layer, each once where there are enough of them.

    Parameters
    ----------
    made : DiscMap
    count : int
    """
    rng = np.random.default_rng(SEED)
    names = [VINYL, *(layer.name for layer in made.layers)]
    found: list[Tile] = []
    for k in range(count):
        level = FIRST_LEVEL + k % (made.levels - FIRST_LEVEL + 1)
        # Evenly over the disc's face, label and rim included.
        reach = 0.5 * made.disc.disc_diameter * float(np.sqrt(rng.uniform()))
        angle = float(rng.uniform(0.0, 2 * np.pi))
        half, size = 0.5 * made.width * FINEST, TILE * made.scale(level)
        column, row = (int((half + reach * f(angle)) / size) for f in (np.sin, np.cos))
        found.append((level, column, row, names[int(rng.integers(len(names)))]))
    return found


@contextmanager
def one_core() -> Iterator[None]:
    """Keep to one core, where the system lets a program choose."""
    if not hasattr(os, "sched_setaffinity"):
        yield
        return
    before = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(before)})
    try:
        yield
    finally:
        os.sched_setaffinity(0, before)


def tile_rows(seconds: float, level_db: float, work: Path, count: int = TILES) -> Iterator[Row]:
    """Time and size of tiles that nobody asked for before.

    Parameters
    ----------
    seconds : float
        Length of the side.
    level_db : float
    work : pathlib.Path
        Folder for what is computed.
    count : int
        Tiles to draw.
    """
    audio, kind = programmes.side(seconds)
    made = disc_map(audio, level_db, work / "edges.f32")
    warm()
    times, sizes = [], []
    with one_core():
        begin = time.perf_counter()
        made.png(made.deep_level, 0, 0)
        first = time.perf_counter() - begin
        for level, column, row, layer in sample(made, count):
            begin = time.perf_counter()
            sizes.append(len(made.png(level, column, row, layer)))
            times.append(time.perf_counter() - begin)
    median, late = (1e3 * float(np.percentile(times, share)) for share in (50, 95))
    about = f"{count} tiles over all levels and layers, one core, {seconds / 60:g} min of {kind}, {level_db:+g} dB"
    yield "tile of the disc map, any zoom", f"{median:.0f} ms, 95 % within {late:.0f} ms", about
    yield "same, greatest size", f"{max(sizes) / 1000:.0f} kB", f"median {np.median(sizes) / 1000:.0f} kB"
    yield "before the first tile of a side", f"{first:.2f} s", "the farthest edge is found, once"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a short side: does it still run?")
    parser.add_argument("--level-db", type=float, default=6.0, help="level of the side, dB (default +6)")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as directory:
        for row in tile_rows(60.0 if options.quick else 1200.0, options.level_db, Path(directory)):
            print(*row, sep=" | ")


if __name__ == "__main__":
    main()
