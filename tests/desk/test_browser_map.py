"""The picture itself: edges, width and land of a real side, measured in the pixels that the browser shows."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import music
import numpy as np
import pytest
import soundfile
import walls
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from discwright.acts.look import prepare
from discwright.acts.plan import plan_file
from discwright.desk.shelf import Shelf
from discwright.desk.tiles import LAND

pytestmark = [pytest.mark.slow, pytest.mark.music]
Serve = Callable[[Path, Path], AbstractContextManager[str]]
FINEST_UM = 0.5
#: Asked for: the picture agrees with the motion this far, µm.
WITHIN_UM = 1.0
HIDE = ".map > :not(.map-picture), .map-picture svg, .map-picture::after, .map-marks { visibility: hidden !important }"


@dataclass(frozen=True)
class RealSide:
    """A real side at the desk, and where its edges stand by the checker's own road."""

    address: str
    spiral: walls.Spiral
    walls: walls.Walls

    def edges(self, time: float) -> tuple[float, float]:
        """Inner and outer edge at a time, µm from the centre."""
        centre, depth = (
            float(np.interp(time, self.spiral.time, one)) for one in (self.spiral.radius, self.spiral.depth)
        )
        at = time * self.walls.sample_rate - self.walls.first
        near = np.arange(math.floor(at) - 2, math.floor(at) + 4)
        inner, outer = (float(np.interp(at, near, one[near])) for one in (self.walls.left, self.walls.right))
        return (centre - depth + inner) * 1e6, (centre + depth + outer) * 1e6


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory, serve: Serve) -> Iterator[RealSide]:
    if why := music.missing("orchestral"):
        pytest.skip(why)
    folder = tmp_path_factory.mktemp("real") / "works"
    audio = music.build_programme(music.find_pieces("orchestral"), 300.0)
    plan_file(audio, level_db=6.0, out=folder / "side", only=())
    shelf = Shelf(folder)
    prepare(folder / "side", shelf.cache(shelf.plan("side")))
    document = json.loads((folder / "side" / "plan.json").read_text(encoding="utf-8"))
    samples, rate = soundfile.read(audio, dtype="float32")
    spiral = walls.read_spiral(folder / "side" / "spiral.csv", document["settings"], len(samples) / rate)
    moved, _ = walls.make_walls(samples, rate, document, spiral)
    with serve(folder, folder.parent / "state") as address:
        yield RealSide(address, spiral, moved)


@pytest.fixture
def page(browser: Browser, real: RealSide) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1600, "height": 1000}, reduced_motion="reduce")
    page = context.new_page()
    page.goto(f"{real.address}/plans/side")
    expect(page.locator("#bench")).to_have_attribute("data-ready", "yes", timeout=30_000)
    yield page
    context.close()


def seen(page: Page, address: str, x_um: float, y_um: float) -> np.ndarray:
    """The map at one pixel for one pixel of the finest level, without what lies over it, shape (h, w, 3)."""
    width = page.locator("#map-picture").evaluate("one => one.clientWidth")
    page.goto(f"{address}/plans/side?x_um={x_um}&y_um={y_um}&wide_um={width * FINEST_UM}&marks=off")
    expect(page.locator("#bench")).to_have_attribute("data-ready", "yes", timeout=30_000)
    page.add_style_tag(content=HIDE)
    page.wait_for_load_state("networkidle")
    before = b""
    for _ in range(40):  # until it no longer changes: every tile has come
        page.wait_for_timeout(800)
        picture = page.screenshot()
        if picture == before:
            break
        before = picture
    box = page.locator("#map-picture").bounding_box()
    assert box is not None
    left, top = round(box["x"]), round(box["y"])  # as the browser itself puts a picture on whole pixels
    whole = np.asarray(Image.open(BytesIO(before)).convert("RGB")).astype(int)
    return whole[top : top + round(box["height"]), left : left + width]


#: Says that there is hardware for WebGL, so that the page takes that drawer.
HARDWARE = """
const told = WebGLRenderingContext.prototype.getParameter;
WebGLRenderingContext.prototype.getParameter = function (name) {
  return name === 0x9246 ? "hardware" : told.call(this, name);
};
"""


@pytest.mark.parametrize(("share", "drawer"), [(0.13, "canvas"), (0.5, "canvas"), (0.88, "canvas"), (0.5, "webgl")])
def test_edges_width_and_land_in_pixels(page: Page, real: RealSide, share: float, drawer: str) -> None:
    if drawer == "webgl":
        page.add_init_script(HARDWARE)
    turn_time = real.spiral.turn_time
    # At 9 o'clock the radius runs along a row of pixels: x = -r, y = 0.
    turn = round(share * real.spiral.duration / turn_time) + 0.25
    inner, outer = real.edges(turn * turn_time)
    middle = 0.5 * (inner + outer)
    picture = seen(page, real.address, -middle, 0.0)
    expect(page.locator("#map-picture")).to_have_attribute("data-drawer", drawer)
    height, width, _ = picture.shape
    land = (np.abs(picture[height // 2] - np.array(LAND)) <= 3).all(axis=1)
    # Where land begins or ends along the row, as a radius.
    border = np.flatnonzero(np.diff(land.astype(int))) + 1
    radius = middle - (border - width / 2) * FINEST_UM
    measured = []
    for other in (turn - 1, turn, turn + 1):
        edges = real.edges(other * turn_time)
        for edge in edges:
            if abs(edge - middle) < 0.5 * width * FINEST_UM - 5:
                nearest = float(radius[np.argmin(np.abs(radius - edge))])
                assert nearest == pytest.approx(edge, abs=WITHIN_UM)
                measured.append(nearest)
    assert len(measured) >= 2
    # Width of this groove, and the land to the turn outside where it is in view, from the picture alone.
    ends = sorted(measured, key=lambda one: abs(one - middle))[:2]
    assert abs(ends[0] - ends[1]) == pytest.approx(outer - inner, abs=2 * WITHIN_UM)
    outside = real.edges((turn - 1) * turn_time)[0]
    if outside - middle < 0.5 * width * FINEST_UM - 5:
        seen_land = min(one for one in measured if one > middle + 0.5 * (outer - inner) + WITHIN_UM) - max(ends)
        assert seen_land == pytest.approx(outside - outer, abs=2 * WITHIN_UM)
    # And between the edges there is groove, beside them land.
    inside = np.abs(middle - radius_of(width, middle)) < 0.5 * (outer - inner) - 2
    assert not land[inside].any()


def radius_of(width: int, middle: float) -> np.ndarray:
    """Radius of each pixel of the row, µm."""
    return middle - (np.arange(width) + 0.5 - width / 2) * FINEST_UM


def test_the_number_under_the_pointer_is_that_of_the_picture(page: Page, real: RealSide) -> None:
    time = (round(0.4 * real.spiral.duration / 1.8) + 0.25) * 1.8
    inner, outer = real.edges(time)
    page.goto(f"{real.address}/plans/side?x_um={-0.5 * (inner + outer)}&y_um=0&wide_um=400")
    expect(page.locator("#bench")).to_have_attribute("data-ready", "yes", timeout=30_000)
    box = page.locator("#map-picture").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    expect(page.locator("#readout-words")).to_contain_text(f"{outer - inner:.1f} µm")
