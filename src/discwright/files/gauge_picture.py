"""The photograph with everything that was measured drawn into it: edges, number and width of each groove, a scale bar.

Left and upper edges are drawn solid, right and lower ones dashed, so that grooves are told from land in grey, too.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from discwright.files.picture import plain_letters
from discwright.files.picture_file import picture_file
from discwright.files.picture_pen import INK, PAPER, PicturePen, Rgb
from discwright.inspection.gauge import Gauged, Groove

#: Longer side of the photograph on the sheet, and the paper around it, px.
_LONG, _MARGIN, _HEAD, _FOOT = 1800.0, 40.0, 96.0, 150.0
_LEAST_WIDTH = 1300.0
#: Everything is drawn this many times larger and reduced, for smooth edges.
_FINE = 2
_EDGE: Rgb = (24, 118, 210)
_CASE: Rgb = (255, 255, 255)
_TINT, _TINTED = (24, 118, 210), 46
_TEXT, _SMALL = 26, 22
#: Height of a label, and the room between labels.
_LABEL, _ROOM = 32.0, 8.0


def draw_gauge(path: Path, grey: NDArray[np.float32], gauged: Gauged, caption: str) -> None:
    """Draw a measured photograph; the file is whole or not there.

    Parameters
    ----------
    path : pathlib.Path
        PNG.
    grey : ndarray, shape (rows, columns)
        The photograph, 1 = white.
    gauged : Gauged
        What was measured in it.
    caption : str

    Raises
    ------
    CallError
        If the file cannot be written.
    """
    rows, columns = grey.shape
    scale = _LONG / max(rows, columns)
    wide, high = columns * scale, rows * scale
    width = max(_LEAST_WIDTH, wide + 2 * _MARGIN)
    left, top = (width - wide) / 2.0, _HEAD
    sheet = Image.new("RGB", (round(width * _FINE), round((high + _HEAD + _FOOT) * _FINE)), PAPER)
    box = (round(wide * _FINE), round(high * _FINE))
    sheet.paste(_photograph(grey, gauged, box), (round(left * _FINE), round(top * _FINE)))
    pen = PicturePen(ImageDraw.Draw(sheet), float(_FINE))

    def on_sheet(line: NDArray[np.float64]) -> NDArray[np.float64]:
        placed: NDArray[np.float64] = line * scale + np.array([left, top])
        return placed

    for groove in gauged.grooves:
        _edges(pen, on_sheet(groove.left), on_sheet(groove.right))
    _labels(pen, gauged, [on_sheet((one.left + one.right) / 2.0) for one in gauged.grooves], (left, top))
    pen.text(left, 34, plain_letters(caption), 30, most=width - left - _MARGIN)
    _foot(pen, gauged, left, top + high + 26, scale)
    _save(sheet.resize((sheet.width // _FINE, sheet.height // _FINE), Image.Resampling.BOX), path)


def _photograph(grey: NDArray[np.float32], gauged: Gauged, box: tuple[int, int]) -> Image.Image:
    """The photograph, spread over all greys, its grooves tinted."""
    dark, light = np.percentile(grey[:: max(1, grey.shape[0] // 300)], (0.5, 99.5))
    shown = np.clip((grey - dark) / max(1e-6, float(light - dark)), 0.0, 1.0) * 255.0
    picture = Image.fromarray(shown.astype(np.uint8)).resize(box, Image.Resampling.BILINEAR).convert("RGB")
    mask = Image.new("L", box)
    brush = ImageDraw.Draw(mask)
    times = np.array([box[0] / grey.shape[1], box[1] / grey.shape[0]])
    for groove in gauged.grooves:
        outline = np.concatenate([groove.left, groove.right[::-1]]) * times
        brush.polygon([tuple(one) for one in outline.tolist()], fill=_TINTED)
    picture.paste(Image.new("RGB", box, _TINT), (0, 0), mask)
    return picture


def _edges(pen: PicturePen, left: NDArray[np.float64], right: NDArray[np.float64]) -> None:
    for line, dash in ((left, ()), (right, (16, 9))):
        points = line.tolist()
        pen.line(points, _CASE, 4.5)
        pen.line(points, _EDGE, 2.5, dash)


def _labels(pen: PicturePen, gauged: Gauged, centres: list[NDArray[np.float64]], corner: tuple[float, float]) -> None:
    """Number and width of each groove, near where they begin; where there is no room, further along."""
    taken: list[tuple[float, float, float, float]] = []
    for k, (groove, centre) in enumerate(zip(gauged.grooves, centres, strict=True), 1):
        words = _words(k, groove)
        wide = pen.width(words, _SMALL) + 18.0
        along = 1 if gauged.upright else 0
        size = (wide, _LABEL)
        for tried in range(40):
            place = corner[along] + 14.0 + size[along] / 2.0 + tried * (size[along] + _ROOM)
            other = float(np.interp(place, centre[:, along], centre[:, 1 - along]))
            x, y = (other, place) if gauged.upright else (place, other)
            mine = (x - wide / 2.0, y - _LABEL / 2.0, x + wide / 2.0, y + _LABEL / 2.0)
            if not any(_meet(mine, one) for one in taken):
                break
        taken.append(mine)
        pen.box(mine[0] - 1.5, mine[1] - 1.5, mine[2] + 1.5, mine[3] + 1.5, INK)
        pen.box(*mine, PAPER)
        pen.text(x, y, words, _SMALL, INK, "mm")


def _words(number: int, groove: Groove) -> str:
    return plain_letters(f"{number}   {groove.width * 1e6:.1f} µm")


def _meet(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    apart = a[2] + _ROOM < b[0] or b[2] + _ROOM < a[0] or a[3] + _ROOM < b[1] or b[3] + _ROOM < a[1]
    return not apart


def _foot(pen: PicturePen, gauged: Gauged, left: float, top: float, scale: float) -> None:
    """Scale bar and what all grooves have in common."""
    unit = scale / gauged.pixel
    length = _round_length(360.0 / unit)
    long = length * unit
    pen.box(left, top, left + long, top + 12.0, INK)
    pen.text(left, top + 22, plain_letters(f"{length * 1e6:g} µm"), _TEXT)
    width, land = gauged.width, gauged.land
    words = [f"width {width.mean * 1e6:.1f} µm ({width.least * 1e6:.1f} to {width.greatest * 1e6:.1f})"]
    if land is not None:
        words.append(f"land {land.mean * 1e6:.1f} µm, {land.least * 1e6:.1f} at least")
    if gauged.pitch is not None:
        words.append(f"pitch {gauged.pitch * 1e6:.1f} µm")
    words.append(f"tilt {round(math.degrees(gauged.tilt), 2) + 0.0:.2f}°")
    pen.text(left + long + 48, top - 8, plain_letters("   ".join(words)), _TEXT)
    solid, dashed = ("left", "right") if gauged.upright else ("upper", "lower")
    pen.text(
        left + long + 48, top + 32,
        f"{solid} edge solid, {dashed} edge dashed, grooves tinted; walls {gauged.shade} than the land", _SMALL,
    )  # fmt: skip


def _round_length(most: float) -> float:
    """The largest of 1, 2, 5, 10, 20 ... µm that is not longer, m."""
    decade = 10.0 ** math.floor(math.log10(most))
    return max(step * decade for step in (1.0, 2.0, 5.0) if step * decade <= most)


def _save(image: Image.Image, path: Path) -> None:
    with picture_file(path) as part:
        # Noise hardly gets smaller however long one presses it.
        image.save(part, format="PNG", compress_level=2)
