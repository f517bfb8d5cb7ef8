"""The planned spiral for machines that cut: G-code (RS-274/NGC) for a lathe with numerical control, and SVG.

X is the radius of the unmodulated groove and Z the height of the tip above the lacquer. The platter turns by
itself: nothing here drives it, so feeds are given as inverse time and one line is one sector of the plan.
"""

from __future__ import annotations

import math
import re
import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from itertools import pairwise
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError
from discwright.groove.cues import Cue
from discwright.groove.equipment import DiscFormat, Lathe, Setup
from discwright.groove.grid import FINE, JOIN, LEAD_OUT, MUSIC
from discwright.groove.table import LEAD_IN, STOP, SpiralRows

Float = NDArray[np.float64]

#: The longest comment, well below the 256 characters that RS-274/NGC allows a line.
COMMENT_WIDTH = 100
#: A segment shorter than this is written as this long; the next one makes up for it.
SHORTEST_S = 1e-6
#: The tip takes this long to come down: it must not fall upon the lacquer.
PLUNGE_S = 1.0
#: What a limit may be passed by and still be kept: less than the last digit that is written.
TOLERANCE = 5e-9
#: Farthest that a drawn line may run beside the true spiral, mm.
CHORD_ERROR_MM = 0.05
#: Paper around the disc, mm.
MARGIN_MM = 10.0
#: How each zone is drawn: width and dashes in mm, and its words. Told apart without colour.
ZONE_STYLES: dict[str, tuple[float, str, str]] = {
    LEAD_IN: (0.2, "6 2", "lead-in"),
    FINE: (0.1, "1 1", "fine pitch before the music"),
    MUSIC: (0.04, "", "music"),
    JOIN: (0.35, "", "join between bands"),
    LEAD_OUT: (0.2, "6 1.5 0.6 1.5", "lead-out"),
    STOP: (0.6, "", "locked groove"),
}

_FIRST_WORD = re.compile(r"^ *([A-Za-z_]+) *,")
_NEAREST = str.maketrans(
    {"⅓": " 1/3", "½": " 1/2", "–": "-", "—": "-", "−": "-", "×": "x", "µ": "u", "μ": "u", "→": "to", "⁄": "/"}
    | {"ß": "ss", "ø": "o", "Ø": "O", "æ": "ae", "Æ": "Ae", "œ": "oe", "“": '"', "”": '"', "’": "'", "°": " deg"}
    # Parentheses do not nest, and some readers end a comment at a semicolon or a file at a per cent sign.
    | {"(": None, ")": None, ";": ",", "%": " per cent"}
)


def gcode(
    rows: SpiralRows, cues: Sequence[Cue], setup: Setup, header: tuple[str, ...], air: bool = False
) -> Iterator[str]:
    """The cut as G-code, line by line.

    Time 0 of the file is the first lead-in row, with the tip down. A cue stands between the line that reaches
    its place and the line that leaves it; one within a sector stands before that sector's line.

    Parameters
    ----------
    rows : SpiralRows
        From the rim to the locked groove, SI.
    cues : sequence of Cue
    setup : Setup
    header : tuple of str
        What identifies the side; written as comments, in ASCII.
    air : bool
        Hold the tip up at the lift height all the time, to try the moves without a lacquer.

    Returns
    -------
    iterator of str
        Lines without their end.

    Raises
    ------
    CallError
        If a move would leave the lathe's limits. Raised by the call, before the first line.
    """
    _check_rows(rows)
    _check_moves(rows, setup)
    return _program(rows, cues, setup, header, air)


def _check_rows(rows: SpiralRows) -> None:
    """Refuse rows that are no cut."""
    whole = all(bool(np.isfinite(values).all()) for values in (rows.time, rows.radius, rows.depth))
    if len(rows.time) < 2 or not whole or not (np.diff(rows.time) > 0).all():
        raise CallError("the spiral's rows do not follow one another in time: plan the side again.")


def _check_moves(rows: SpiralRows, setup: Setup) -> None:
    """Refuse what lies outside the lathe's radius and depth, or is faster than its carriage."""
    lathe, deepest = setup.lathe, setup.practice.depth_max
    far = int(np.argmax(rows.radius))
    if rows.radius[far] > lathe.radius_rest + TOLERANCE:
        raise CallError(
            f"turn {rows.turn[far]:.1f} lies at {rows.radius[far] * 1e3:.3f} mm, outside the carriage's rest at "
            f"{lathe.radius_rest * 1e3:.3f} mm: raise radius_rest_mm or choose a smaller disc."
        )
    near = int(np.argmin(rows.radius))
    if rows.radius[near] < 0.0:
        raise CallError(
            f"turn {rows.turn[near]:.1f} lies at {rows.radius[near] * 1e3:.3f} mm, beyond the centre of the disc: "
            "plan the side again."
        )
    deep = int(np.argmax(rows.depth))
    if rows.depth[deep] > deepest + TOLERANCE:
        raise CallError(
            f"turn {rows.turn[deep]:.1f} would be cut {rows.depth[deep] * 1e6:.2f} µm deep, more than depth_max_um "
            f"{deepest * 1e6:.2f}: lower the side or blend its bass."
        )
    shallow = int(np.argmin(rows.depth))
    if rows.depth[shallow] < 0.0:
        raise CallError(f"at turn {rows.turn[shallow]:.1f} the tip would leave the lacquer: plan the side again.")
    speed = np.abs(np.diff(rows.radius)) / np.diff(rows.time)
    fast = int(np.argmax(speed))
    if speed[fast] > lathe.traverse_max * (1 + 1e-9):
        raise CallError(
            f"at turn {rows.turn[fast]:.1f} the carriage would have to move {speed[fast] * 1e3:.2f} mm/s, more than "
            f"traverse_max_mm_s {lathe.traverse_max * 1e3:.2f}: choose a smaller coarse pitch."
        )


def _program(rows: SpiralRows, cues: Sequence[Cue], setup: Setup, header: tuple[str, ...], air: bool) -> Iterator[str]:
    lathe = setup.lathe
    for text in (*header, *_facts(rows, setup, air)):
        yield from _comments(text)
    height = np.full(len(rows.depth), lathe.lift_height) if air else -rows.depth
    yield from _approach(rows, height, cues, lathe)
    yield from _cut(rows, height, cues)
    yield "G94"
    yield f"G0 Z{_mm(lathe.lift_height)}"
    yield f"G1 X{_mm(lathe.radius_rest)} F{_feed(lathe.traverse_max)}"
    yield "M2"


def _facts(rows: SpiralRows, setup: Setup, air: bool) -> tuple[str, ...]:
    disc = setup.disc
    before = -float(rows.time[0])
    held = (f"AIR: the tip is held up at Z {setup.lathe.lift_height * 1e3:.3f} mm, nothing is cut",) if air else ()
    return (
        *held,
        f"disc {disc.name}, {disc.revolutions_per_second * 60:.4f} rpm: the lathe turns by itself, no axis drives it",
        "X radius in mm, Z height above the lacquer in mm, unmodulated groove, F in G93 is 1/min",
        f"the cut begins with the tip down at the first lead-in row, the music follows {before:.6f} s later",
        "times of cues are counted from the first sample of music",
    )


def _comments(text: str) -> Iterator[str]:
    """Text as comments: one line of ASCII each, with nothing a controller could take for an order."""
    apart = unicodedata.normalize("NFKD", text.translate(_NEAREST)).translate(_NEAREST)
    kept = "".join(c for c in apart if not unicodedata.combining(c))
    plain = "".join(c if c.isascii() and c.isprintable() else " " if c.isspace() else "?" for c in kept)
    for line in textwrap.wrap(plain, COMMENT_WIDTH):
        # A first word with a comma is how some controllers are told to show, log or probe.
        harmless = _FIRST_WORD.sub(r"\g<1> ", line)
        yield f"({harmless})"


def _approach(rows: SpiralRows, height: Float, cues: Sequence[Cue], lathe: Lathe) -> Iterator[str]:
    """From anywhere by way of the rest to the first row, with the tip down in the end."""
    yield "G21"
    yield "G90"
    yield "G17"
    yield "G94"
    yield f"G0 Z{_mm(lathe.lift_height)}"
    for radius in (lathe.radius_rest, float(rows.radius[0])):
        yield f"G1 X{_mm(radius)} F{_feed(lathe.traverse_max)}"
    yield from (_cue_comment(cue) for cue in cues if cue.time <= rows.time[0] + 1e-9)
    yield f"G1 Z{_mm(float(height[0]))} F{_feed(min(lathe.traverse_max, lathe.lift_height / PLUNGE_S))}"


def _cut(rows: SpiralRows, height: Float, cues: Sequence[Cue]) -> Iterator[str]:
    """One line for each row after the first, each as long as brings the sum of all to the row's time."""
    coming = sorted((cue for cue in cues if cue.time > rows.time[0] + 1e-9), key=lambda cue: cue.time)
    start, reached, k = float(rows.time[0]), 0.0, 0
    yield "G93"
    for time, radius, z in zip(rows.time[1:].tolist(), rows.radius[1:].tolist(), height[1:].tolist()):
        while k < len(coming) and coming[k].time < time - 1e-9:
            yield _cue_comment(coming[k])
            k += 1
        feed = f"{60.0 / max(time - start - reached, SHORTEST_S):.6f}"
        reached += 60.0 / float(feed)
        yield f"G1 X{_mm(radius)} Z{_mm(z)} F{feed}"
    yield from (_cue_comment(cue) for cue in coming[k:])


def _cue_comment(cue: Cue) -> str:
    time, turn = round(cue.time, 3) + 0.0, round(cue.turn, 1) + 0.0
    return f"(cue {cue.kind} {time:.3f} s turn {turn:.1f} r {cue.radius * 1e3:.3f} mm)"


def _mm(length: float) -> str:
    return f"{round(length * 1e3, 5) + 0.0:.5f}"


def _feed(speed: float) -> str:
    """A speed in mm per minute, never rounded up."""
    return f"{math.floor(speed * 60e6 + 1e-6) / 1e3:.3f}"


def spiral_svg(rows: SpiralRows, cues: Sequence[Cue], setup: Setup, title: str) -> str:
    """The true spiral as a drawing in millimetres, seen as it is played.

    Laid as `disc.png` is: a record turns clockwise, so the music runs anticlockwise; whole turns stand at
    12 o'clock, a quarter of a turn later is at 9 o'clock.

    Parameters
    ----------
    rows : SpiralRows
    cues : sequence of Cue
    setup : Setup
    title : str

    Returns
    -------
    str
        SVG, one path for each zone, centre of the disc at 0, 0; coordinates with four decimals.

    Raises
    ------
    CallError
        If the rows do not follow one another in time.
    """
    _check_rows(rows)
    disc = setup.disc
    rim = max(0.5 * disc.disc_diameter, float(rows.radius.max())) * 1e3
    half = rim + MARGIN_MM
    words = escape(_printable(title))
    box = f"{-half:.4f} {-half:.4f} {2 * half:.4f} {2 * half:.4f}"
    size = f'width="{2 * half:.4f}mm" height="{2 * half:.4f}mm"'
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="{box}">',
            f"<title>{words}</title>",
            *_circles(disc),
            '<g class="spiral" fill="none" stroke="#000">',
            *_paths(rows, disc.turn_time, _turn_points(rim)),
            "</g>",
            *(_cue_mark(cue, disc.turn_time) for cue in cues),
            *_words(words, half),
            "</svg>",
            "",
        ]
    )


def _turn_points(rim_mm: float) -> int:
    """Points per turn that keep the chords close enough at the rim, as a multiple of eight."""
    angle = 2.0 * math.acos(1.0 - CHORD_ERROR_MM / max(rim_mm, 1.0))
    return 8 * math.ceil(2.0 * math.pi / angle / 8.0)


def _circles(disc: DiscFormat) -> list[str]:
    sizes = (("rim", disc.disc_diameter, 0.3), ("label", disc.label_diameter, 0.2), ("hole", disc.hole_diameter, 0.3))
    return [
        f'<circle class="{name}" cx="0" cy="0" r="{across * 500:.4f}" fill="none" stroke="#000" '
        f'stroke-width="{width}"><title>{name}</title></circle>'
        for name, across, width in sizes
    ]


def _paths(rows: SpiralRows, turn_time: float, turn_points: int) -> Iterator[str]:
    """One path for each zone; where a zone comes more than once, each time is a piece of it."""
    zone = rows.zone[:-1]
    edges = [0, *(np.flatnonzero(zone[1:] != zone[:-1]) + 1).tolist(), len(zone)]
    for name, (width, dashes, words) in ZONE_STYLES.items():
        pieces = [
            "M" + " ".join(_piece(rows, float(rows.time[first]), float(rows.time[last]), turn_time, turn_points))
            for first, last in pairwise(edges)
            if zone[first] == name
        ]
        if pieces:
            dash = f' stroke-dasharray="{dashes}"' if dashes else ""
            yield (
                f'<path class="{name}" stroke-width="{width}"{dash} d="{" ".join(pieces)}">'
                f"<title>{words}</title></path>"
            )


def _piece(rows: SpiralRows, begin: float, end: float, turn_time: float, turn_points: int) -> list[str]:
    # Points stand at the same angles in every turn, so that the chords of neighbours never cross.
    step = turn_time / turn_points
    ticks = np.arange(np.floor(begin / step) + 1, np.ceil(end / step)) * step
    time = np.concatenate([[begin], ticks[(ticks > begin + 1e-9) & (ticks < end - 1e-9)], [end]])
    x, y = _place(time, np.interp(time, rows.time, rows.radius), turn_time)
    return [f"{a:.4f},{b:.4f}" for a, b in zip(x.tolist(), y.tolist())]


def _place(time: Float, radius: Float, turn_time: float) -> tuple[Float, Float]:
    """Places on the drawing, mm."""
    angle = 2.0 * np.pi * time / turn_time
    return -radius * 1e3 * np.sin(angle), -radius * 1e3 * np.cos(angle)


def _cue_mark(cue: Cue, turn_time: float) -> str:
    """A ring around the place of a cue, and a stroke outward from it."""
    time, radius = np.full(2, cue.time), np.array([cue.radius, cue.radius + 3e-3])
    (x, far_x), (y, far_y) = (values.tolist() for values in _place(time, radius, turn_time))
    band = "" if cue.band is None else f", band {cue.band}"
    words = f"{cue.kind.replace('_', '-')}{band}: {_cue_comment(cue)[6 + len(cue.kind) : -1]}"
    return (
        f'<g class="cue {cue.kind}" fill="none" stroke="#000" stroke-width="0.15"><title>{words}</title>'
        f'<circle cx="{x:.4f}" cy="{y:.4f}" r="1"/><path d="M{x:.4f},{y:.4f} {far_x:.4f},{far_y:.4f}"/></g>'
    )


def _words(title: str, half: float) -> Iterator[str]:
    """The title in the upper left corner, what the lines mean in the lower left."""
    left = -half + 4.0
    yield f'<g font-family="sans-serif" font-size="4"><text x="{left:.4f}" y="{-half + 8:.4f}">{title}</text>'
    for k, (width, dashes, words) in enumerate(ZONE_STYLES.values()):
        y = half - 4.0 - 5.0 * (len(ZONE_STYLES) - 1 - k)
        yield (
            f'<path stroke="#000" stroke-width="{width}" stroke-dasharray="{dashes or "none"}" '
            f'd="M{left:.4f},{y - 1.2:.4f} {left + 12:.4f},{y - 1.2:.4f}"/>'
            f'<text x="{left + 14:.4f}" y="{y:.4f}" font-size="3">{words}</text>'
        )
    yield "</g>"


def _printable(text: str) -> str:
    """The text without what XML cannot hold."""
    return "".join(c if c.isprintable() else " " for c in text)
