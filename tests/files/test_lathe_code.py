"""G-code read back by two readers, and the drawn spiral: every row is where the plan says, no move leaves the lathe.

Unless a test says otherwise its expected numbers come *by another road*: from the plan's own rows.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from xml.etree import ElementTree

import numpy as np
import pytest
from pygcode import Line
from support import RATE, music

from discwright.errors import CallError
from discwright.files.lathe_code import CHORD_ERROR_MM, COMMENT_WIDTH, ZONE_STYLES, gcode, spiral_svg
from discwright.files.settings import load_setup
from discwright.groove.cues import Cue, cue_list
from discwright.groove.table import SpiralRows
from discwright.plan import Order, Plan, Programme, plan_side

HEADER = ("Études (Nº 1, “ø”) – side A\nmatrix DW-001-A", "msg, say hello; " + "word " * 60)


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Two bands of invented music with a join between them, 12-inch at 33⅓."""
    x = music(24.0).astype(np.float32)
    order = Order(load_setup(), level_db=12.0, band_starts=(0.0, 13.1), band_ends=(10.0, 24.0))
    return plan_side([x[:500_000], x[500_000:]], Programme(RATE, len(x), 2), order)


@pytest.fixture(scope="module")
def cues(plan: Plan) -> tuple[Cue, ...]:
    return cue_list(plan.rows, plan.bands, plan.setup.disc)


@pytest.fixture(scope="module")
def text(plan: Plan, cues: tuple[Cue, ...]) -> list[str]:
    return list(gcode(plan.rows, cues, plan.setup, HEADER))


@dataclass
class Moves:
    """What a reader made of a file: places after each line of the cut, all moves, and the cues met on the way."""

    time: list[float]
    x: list[float]
    z: list[float]
    everywhere: list[tuple[float | None, float | None]]
    speeds: list[float]
    cues: list[tuple[str, float]]


def letters_by_hand(line: str) -> tuple[list[tuple[str, float]], str]:
    """A reader of our own, which knows no more of G-code than letters with numbers."""
    words = re.findall(r"([A-Z])(-?\d+(?:\.\d+)?)", re.sub(r"\(.*?\)", "", line))
    comment = re.search(r"\((.*?)\)", line)
    return [(letter, float(value)) for letter, value in words], comment.group(1) if comment else ""


def letters_by_pygcode(line: str) -> tuple[list[tuple[str, float]], str]:
    found = Line(line)
    words = [(str(word.letter), float(word.value)) for word in found.block.words]
    return words, str(found.comment)[1:-1] if found.comment else ""


def follow(lines: list[str], letters: object = letters_by_hand) -> Moves:
    """Run a file; the clock starts with the first line of inverse time."""
    moves = Moves([], [], [], [], [], [])
    x = z = None
    clock, inverse = 0.0, False
    for line in lines:
        words, comment = letters(line)  # type: ignore[operator]
        if comment.startswith("cue "):
            moves.cues.append((comment, clock))
        values = dict(words)
        code = (words[0][0] + f"{words[0][1]:g}") if words else ""
        inverse = code == "G93" or (inverse and code != "G94")
        if code not in ("G0", "G1"):
            continue
        before = x
        x, z = values.get("X", x), values.get("Z", z)
        moves.everywhere.append((x, z))
        if inverse:
            clock += 60.0 / values["F"]
            moves.time.append(clock)
            moves.x.append(x)
            moves.z.append(z)
            moves.speeds.append(abs(x - before) * values["F"])  # mm per minute
        elif "F" in values:
            moves.speeds.append(values["F"])
    return moves


# the rows ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("letters", [letters_by_hand, letters_by_pygcode])
def test_every_row_is_reached_in_place_and_in_time(plan: Plan, text: list[str], letters: object) -> None:
    """Within 1 µm and 1 ms is what a cut needs; what is written holds a hundredth of either."""
    moves, rows = follow(text, letters), plan.rows
    assert len(moves.time) == len(rows.time) - 1
    assert np.abs(np.array(moves.time) - (rows.time[1:] - rows.time[0])).max() < 1e-5
    assert np.abs(np.array(moves.x) - rows.radius[1:] * 1e3).max() < 1e-5
    assert np.abs(np.array(moves.z) + rows.depth[1:] * 1e3).max() < 1e-5
    # The move before the clock starts brings the tip to the first row.
    first = moves.everywhere[len(moves.everywhere) - len(moves.time) - 3]
    assert first == pytest.approx((rows.radius[0] * 1e3, -rows.depth[0] * 1e3), abs=1e-5)


def test_the_clock_does_not_drift(plan: Plan) -> None:
    """Twenty-five minutes of sectors, none a round number: the end is reached within a microsecond."""
    count = 27_000
    step = plan.setup.disc.turn_time / 32 * (1 + 1e-3 * np.sin(np.arange(count)))
    time = np.concatenate([[-1.0], -1.0 + np.cumsum(step)])
    rows = flat(time)
    reached = np.array(follow(list(gcode(rows, (), plan.setup, ()))).time)
    assert time[-1] - time[0] > 1500
    assert np.abs(reached - (time[1:] - time[0])).max() < 1e-6


def flat(time: np.ndarray, **columns: object) -> SpiralRows:
    """Rows at 100 mm, 20 µm deep."""
    n = len(time)
    given = {
        "time": time,
        "turn": time / 1.8,
        "zone": np.full(n, "music"),
        "radius": np.full(n, 0.1),
        "pitch": np.zeros(n),
        "depth": np.full(n, 20e-6),
        "land": np.full(n, np.nan),
    }
    return SpiralRows(**(given | columns))  # type: ignore[arg-type]


def test_a_very_short_sector_is_made_up_for(plan: Plan) -> None:
    time = np.array([0.0, 0.05, 0.05 + 2e-8, 0.1, 0.15])
    lines = list(gcode(flat(time), (), plan.setup, ()))
    reached = np.array(follow(lines).time)
    assert np.abs(reached - time[1:]).max() < 2e-6
    assert reached[-1] == pytest.approx(0.15, abs=1e-9)
    assert not any("e" in line for line in lines if line.startswith("G1"))


# the frame of the file --------------------------------------------------------------------------------


def test_every_line_of_a_short_cut(plan: Plan) -> None:
    """By hand: the shipped lathe rests at 160 mm, lifts 3 mm and moves 10 mm/s = 600 mm/min; 60/0.9 s = 66.666667."""
    rows = flat(np.array([-0.9, 0.0, 1.8]), radius=np.array([0.15, 0.1463, 0.14625]))
    rows = replace(rows, zone=np.array(["lead_in", "music", "stop"]))
    cues = (
        Cue("lead_in", -0.9, -0.5, 0.15),
        Cue("music", 0.0, 0.0, 0.1463, 1),
        Cue("band", 0.5, 0.3, 0.1462, 2),
        Cue("lift", 1.8, 1.0, 0.14625),
    )
    assert list(gcode(rows, cues, plan.setup, ("side A",))) == [
        "(side A)",
        "(disc 12in-33, 33.3333 rpm: the lathe turns by itself, no axis drives it)",
        "(X radius in mm, Z height above the lacquer in mm, unmodulated groove, F in G93 is 1/min)",
        "(the cut begins with the tip down at the first lead-in row, the music follows 0.900000 s later)",
        "(times of cues are counted from the first sample of music)",
        "G21",
        "G90",
        "G17",
        "G94",
        "G0 Z3.00000",
        "G1 X160.00000 F600.000",
        "G1 X150.00000 F600.000",
        "(cue lead_in -0.900 s turn -0.5 r 150.000 mm)",
        "G1 Z-0.02000 F180.000",
        "G93",
        "G1 X146.30000 Z-0.02000 F66.666667",
        "(cue music 0.000 s turn 0.0 r 146.300 mm)",
        "(cue band 0.500 s turn 0.3 r 146.200 mm)",
        "G1 X146.25000 Z-0.02000 F33.333333",
        "(cue lift 1.800 s turn 1.0 r 146.250 mm)",
        "G94",
        "G0 Z3.00000",
        "G1 X160.00000 F600.000",
        "M2",
    ]


def test_each_cue_is_met_at_its_time(plan: Plan, cues: tuple[Cue, ...], text: list[str]) -> None:
    met = follow(text).cues
    assert [words.split()[1] for words, _ in met] == [cue.kind for cue in cues]
    assert {"lead_in", "fine", "music", "join", "band", "lead_out", "stop", "lift"} == {c.kind for c in cues}
    sector = plan.setup.disc.turn_time / 32
    for (words, clock), cue in zip(met, cues, strict=True):
        late = cue.time - plan.rows.time[0] - clock
        assert -1e-3 < late < (sector if cue.kind == "band" else 1e-3)  # a band may begin within a sector
        assert f"{cue.time:.3f} s" in words


def test_the_header_is_harmless_comment(text: list[str]) -> None:
    assert text[0] == '(Etudes No 1, "o" - side A matrix DW-001-A)'
    assert text[1].startswith("(msg  say hello, word")
    for line in text:
        assert line.isascii()
        assert len(line) <= COMMENT_WIDTH + 2
        assert ";" not in line
        assert line.count("(") == line.count(")") <= 1


def test_words_that_controllers_obey_are_disarmed(plan: Plan) -> None:
    rows = flat(np.array([0.0, 1.0]))
    for word in ("MSG", " probeopen", "LOG", "print"):
        assert re.match(rf"\({word.strip()}  ?x", next(gcode(rows, (), plan.setup, (f"{word},x",))))


# limits -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("air", [False, True])
def test_no_move_leaves_the_lathe(plan: Plan, cues: tuple[Cue, ...], air: bool) -> None:
    """By hand, from the shipped lathe and practice: rest 160 mm, lift 3 mm, 100 µm deep, 10 mm/s."""
    moves = follow(list(gcode(plan.rows, cues, plan.setup, HEADER, air)))
    lowest = 0.0 if air else -0.1
    for x, z in moves.everywhere:
        assert x is None or 0.0 <= x <= 160.0
        assert z is None or lowest <= z <= 3.0
    # Five decimals of a short sector move the speed by less than a thousandth.
    assert max(moves.speeds) <= 600.0 * 1.001
    assert moves.everywhere[-1] == (160.0, 3.0)


def test_in_the_air_the_tip_stays_up(plan: Plan, cues: tuple[Cue, ...], text: list[str]) -> None:
    lines = list(gcode(plan.rows, cues, plan.setup, HEADER, air=True))
    moves, cut = follow(lines), follow(text)
    assert {z for _, z in moves.everywhere} == {3.0}
    assert "(AIR: the tip is held up at Z 3.000 mm, nothing is cut)" in lines
    assert "AIR" not in "".join(text)
    assert (moves.time, moves.x) == (cut.time, cut.x)


def three(**columns: list[float]) -> SpiralRows:
    return flat(np.array([0.0, 1.0, 2.0]), **{name: np.array(values) for name, values in columns.items()})


#: Each breaks one limit of the shipped lathe or practice; sentences by hand.
REFUSED = {
    "outside the rest": (
        three(radius=[0.1605, 0.16, 0.16]),
        "turn 0.0 lies at 160.500 mm, outside the carriage's rest at 160.000 mm: raise radius_rest_mm or choose a "
        "smaller disc.",
    ),
    "beyond the centre": (
        three(radius=[0.005, 0.003, -0.001]),
        "turn 1.1 lies at -1.000 mm, beyond the centre of the disc: plan the side again.",
    ),
    "too deep": (
        three(depth=[20e-6, 101e-6, 20e-6]),
        "turn 0.6 would be cut 101.00 µm deep, more than depth_max_um 100.00: lower the side or blend its bass.",
    ),
    "out of the lacquer": (
        three(depth=[20e-6, -1e-6, 20e-6]),
        "at turn 0.6 the tip would leave the lacquer: plan the side again.",
    ),
    "too fast": (
        three(radius=[0.12, 0.109, 0.109]),
        "at turn 0.0 the carriage would have to move 11.00 mm/s, more than traverse_max_mm_s 10.00: choose a smaller "
        "coarse pitch.",
    ),
    "too fast outward": (
        three(radius=[0.1, 0.1, 0.111]),
        "at turn 0.6 the carriage would have to move 11.00 mm/s, more than traverse_max_mm_s 10.00: choose a smaller "
        "coarse pitch.",
    ),
}


@pytest.mark.parametrize("what", REFUSED)
def test_what_would_break_the_lathe_is_refused_before_the_first_line(plan: Plan, what: str) -> None:
    rows, sentence = REFUSED[what]
    with pytest.raises(CallError) as refusal:
        gcode(rows, (), plan.setup, ())
    assert str(refusal.value) == sentence


@pytest.mark.parametrize(
    "rows",
    [
        three(radius=[0.1, float("nan"), 0.1]),
        three(depth=[20e-6, float("inf"), 20e-6]),
        flat(np.array([0.0, 1.0, 1.0])),
        flat(np.array([0.0, 1.0, 0.5])),
        flat(np.array([0.0])),
    ],
)
def test_rows_that_are_no_cut_are_refused(plan: Plan, rows: SpiralRows) -> None:
    sentence = "the spiral's rows do not follow one another in time: plan the side again."
    for make in (lambda: gcode(rows, (), plan.setup, ()), lambda: spiral_svg(rows, (), plan.setup, "")):
        with pytest.raises(CallError) as refusal:
            make()
        assert str(refusal.value) == sentence


def test_exactly_at_the_limits_is_allowed(plan: Plan) -> None:
    rows = three(radius=[0.16, 0.15, 0.15], depth=[0.0, 100e-6, 20e-6])
    assert follow(list(gcode(rows, (), plan.setup, ()))).z == [-0.1, -0.02]


# the drawing ------------------------------------------------------------------------------------------

NAMES = {"s": "http://www.w3.org/2000/svg"}


@pytest.fixture(scope="module")
def drawing(plan: Plan, cues: tuple[Cue, ...]) -> ElementTree.Element:
    return ElementTree.fromstring(spiral_svg(plan.rows, cues, plan.setup, "Études <A> & \x07“B”"))


def pieces(path: ElementTree.Element) -> Iterator[np.ndarray]:
    """Points of each piece of a path, shape (n, 2), mm."""
    for piece in path.attrib["d"].split("M")[1:]:
        yield np.array([[float(v) for v in pair.split(",")] for pair in piece.split()])


def test_the_drawing_is_in_millimetres(drawing: ElementTree.Element) -> None:
    left, top, wide, high = map(float, drawing.attrib["viewBox"].split())
    assert drawing.attrib["width"] == f"{wide:.4f}mm"
    assert drawing.attrib["height"] == f"{high:.4f}mm"
    assert (left, top) == (-wide / 2, -high / 2)
    assert drawing.findtext("s:title", namespaces=NAMES) == "Études <A> &  “B”"


def test_every_point_lies_on_the_spiral(plan: Plan, drawing: ElementTree.Element) -> None:
    """By another road: the place on the row line at the point's own angle, nearest turn, within 0.001 mm."""
    rows, turn = plan.rows, plan.setup.disc.turn_time
    paths = drawing.findall(".//s:g[@class='spiral']/s:path", NAMES)
    assert [path.attrib["class"] for path in paths] == list(ZONE_STYLES)
    covered = 0.0
    for path in paths:
        for points in pieces(path):
            angle = np.unwrap(np.arctan2(-points[:, 0], -points[:, 1])) / (2 * np.pi)
            reach = np.hypot(*points.T)
            whole = [
                np.abs(np.interp((angle + k) * turn, rows.time, rows.radius) * 1e3 - reach).max()
                for k in range(int(rows.turn[0]) - 2, int(rows.turn[-1]) + 3)
            ]
            assert min(whole) < 1e-3
            covered += angle[-1] - angle[0]
    assert covered == pytest.approx(rows.turn[-1] - rows.turn[0], abs=1e-3)


def test_zones_lie_where_the_plan_has_them(plan: Plan, drawing: ElementTree.Element) -> None:
    rows = plan.rows
    for name in ZONE_STYLES:
        inside = np.flatnonzero(rows.zone[:-1] == name)
        (path,) = drawing.findall(f".//s:path[@class='{name}']", NAMES)
        reach = np.concatenate([np.hypot(*points.T) for points in pieces(path)])
        assert reach.max() == pytest.approx(rows.radius[inside[0]] * 1e3, abs=1e-3)
        assert reach.min() == pytest.approx(rows.radius[inside[-1] + 1] * 1e3, abs=1e-3)
    assert len(list(pieces(drawing.find(".//s:path[@class='music']", NAMES)))) == 2  # type: ignore[arg-type]


def test_chords_stay_close_to_the_spiral(drawing: ElementTree.Element) -> None:
    """By hand: a chord of length c on a circle of radius r leaves it by c²/8r."""
    for path in drawing.findall(".//s:g[@class='spiral']/s:path", NAMES):
        for points in pieces(path):
            chord = np.hypot(*np.diff(points, axis=0).T)
            assert (chord**2 / 8 / np.hypot(*points[1:].T)).max() < CHORD_ERROR_MM


def test_a_quarter_of_a_turn_later_is_at_nine_o_clock(plan: Plan) -> None:
    """By hand: 100 mm; t = 0 above the centre, T/4 left of it. The lathe of these rows has no other zone."""
    rows = flat(np.array([0.0, 0.45]))
    drawn = ElementTree.fromstring(spiral_svg(rows, (), plan.setup, ""))
    (points,) = pieces(drawn.find(".//s:path[@class='music']", NAMES))  # type: ignore[arg-type]
    assert points[0] == pytest.approx([0.0, -100.0], abs=1e-4)
    assert points[-1] == pytest.approx([-100.0, 0.0], abs=1e-4)


def test_circles_and_cues(plan: Plan, cues: tuple[Cue, ...], drawing: ElementTree.Element) -> None:
    disc = plan.setup.disc
    for name, across in (("rim", disc.disc_diameter), ("label", disc.label_diameter), ("hole", disc.hole_diameter)):
        circle = drawing.find(f".//s:circle[@class='{name}']", NAMES)
        assert circle is not None
        assert float(circle.attrib["r"]) == pytest.approx(across * 500, abs=1e-4)
    marks = [g for g in drawing.findall("s:g", NAMES) if g.attrib.get("class", "").startswith("cue ")]
    assert len(marks) == len(cues)
    for mark, cue in zip(marks, cues, strict=True):
        ring = mark.find("s:circle", NAMES)
        assert ring is not None
        place = np.array([float(ring.attrib["cx"]), float(ring.attrib["cy"])])
        assert np.hypot(*place) == pytest.approx(cue.radius * 1e3, abs=1e-3)
        turn = np.arctan2(-place[0], -place[1]) / (2 * np.pi)
        assert (turn - cue.turn + 0.5) % 1.0 - 0.5 == pytest.approx(0.0, abs=1e-5)
    # By hand: DESIGN 5.8, the music starts at 146.3 mm.
    assert marks[2].findtext("s:title", namespaces=NAMES) == "music, band 1: 0.000 s turn 0.0 r 146.300 mm"


def test_zones_are_told_apart_without_colour(drawing: ElementTree.Element) -> None:
    paths = drawing.findall(".//s:g[@class='spiral']/s:path", NAMES)
    looks = {(p.attrib["stroke-width"], p.attrib.get("stroke-dasharray", "")) for p in paths}
    assert len(looks) == len(paths)
    words = {text.text for text in drawing.iter("{http://www.w3.org/2000/svg}text")}
    assert {words_of for _, _, words_of in ZONE_STYLES.values()} <= words


def test_a_whole_side_is_no_big_file(plan: Plan) -> None:
    """750 turns: less than 4 MB."""
    time = np.arange(750 * 32 + 1) * 1.8 / 32
    rows = flat(time, radius=np.linspace(0.1463, 0.0603, len(time)))
    assert len(spiral_svg(rows, (), plan.setup, "").encode()) < 4e6
