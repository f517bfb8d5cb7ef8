"""The cues of a side: which, in what order and when."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from support import coarse_setup, music, walk

from discwright.groove.cues import CUE_KINDS, Cue, cue_list
from discwright.groove.equipment import Setup
from discwright.groove.rows import pose
from discwright.groove.spiral import lay_spiral
from discwright.groove.table import SpiralRows, tabulate

DURATION = 24.0
SETUP = coarse_setup()
TURN = 1.8
#: Three bands; the gaps last 2.3 s and, too short for a coarse move of whole sectors, 0.2 s.
BANDS = ((0.0, 8.0), (10.3, 17.0), (17.2, DURATION))


def laid(setup: Setup, bands: tuple[tuple[float, float], ...], duration: float = DURATION) -> SpiralRows:
    joins = tuple((end, start) for (_, end), (start, _) in pairwise(bands))
    motion = walk(music(duration), setup, joins=joins)
    return tabulate(motion, 1.0, lay_spiral(pose(motion, 1.0, setup)), setup.disc)


@pytest.fixture(scope="module")
def rows() -> SpiralRows:
    return laid(SETUP, BANDS)


@pytest.fixture(scope="module")
def cues(rows: SpiralRows) -> tuple[Cue, ...]:
    return cue_list(rows, BANDS, SETUP.disc)


def test_every_cue_in_its_order(cues: tuple[Cue, ...]) -> None:
    # By hand: from the rim to the locked groove; the second gap has no join.
    assert [(cue.kind, cue.band) for cue in cues] == [
        ("lead_in", None), ("fine", None), ("music", 1), ("join", 1), ("band", 2), ("band", 3), ("lead_out", 3),
        ("stop", None), ("lift", None),
    ]  # fmt: skip
    assert {cue.kind for cue in cues} == set(CUE_KINDS)
    assert all(a.time < b.time for a, b in pairwise(cues))
    assert all(a.radius >= b.radius for a, b in pairwise(cues))


def test_at_the_right_times(cues: tuple[Cue, ...]) -> None:
    at = {(cue.kind, cue.band): cue.time for cue in cues}
    # By hand: fine pitch begins 1.5 turns of 1.8 s before the music.
    assert at["fine", None] == pytest.approx(-2.7)
    assert at["music", 1] == 0.0
    # A join begins with the first whole sector (of 0.225 s) inside the gap: 36 · 0.225 = 8.1 s.
    assert at["join", 1] == pytest.approx(8.1)
    assert at["band", 2] == 10.3
    assert at["band", 3] == 17.2
    assert at["lead_out", 3] == pytest.approx(DURATION)
    # The locked groove is one turn.
    assert at["lift", None] - at["stop", None] == pytest.approx(TURN)


def test_lead_in_and_lead_out_by_hand(cues: tuple[Cue, ...]) -> None:
    first, fine, music_begins = cues[:3]
    # By hand: the rim at 150.5 mm; 1.2 mm a turn from there to the fine pitch.
    assert first.radius == pytest.approx(0.1505)
    assert fine.time - first.time == pytest.approx((0.1505 - fine.radius) / 1.2e-3 * TURN)
    assert music_begins.radius == pytest.approx(0.1463)
    # By hand: 6.4 mm a turn from the last music to the locked groove at 53.2 mm.
    end, stop, lift = cues[-3:]
    assert stop.time - end.time == pytest.approx((end.radius - 53.2e-3) / 6.4e-3 * TURN)
    assert stop.radius == lift.radius == pytest.approx(53.2e-3)


def test_turns_and_radii_are_those_of_the_table(rows: SpiralRows, cues: tuple[Cue, ...]) -> None:
    for cue in cues:
        assert cue.turn == pytest.approx(cue.time / TURN)
        assert cue.radius == pytest.approx(float(np.interp(cue.time, rows.time, rows.radius)))


def test_the_join_is_where_the_pitch_opens(rows: SpiralRows, cues: tuple[Cue, ...]) -> None:
    """By another road: the table's own pitch, 1 mm a turn in the join and below the lathe's 0.4 mm elsewhere."""
    join = next(cue for cue in cues if cue.kind == "join")
    music_rows = (rows.time >= 0.0) & (rows.time < DURATION - 1e-9)
    coarse = rows.time[music_rows & (rows.pitch > 0.5e-3)]
    assert coarse[0] == pytest.approx(join.time)
    assert coarse[-1] < 10.3


def test_one_band_has_no_join_and_no_further_band() -> None:
    rows = laid(SETUP, ((0.0, 6.0),), 6.0)
    told = [cue.kind for cue in cue_list(rows, ((0.0, 6.0),), SETUP.disc)]
    assert told == ["lead_in", "fine", "music", "lead_out", "stop", "lift"]


def test_bands_that_touch() -> None:
    bands = ((0.0, 3.0), (3.0, 6.0))
    told = cue_list(laid(SETUP, bands, 6.0), bands, SETUP.disc)
    assert [(cue.kind, cue.band) for cue in told][2:5] == [("music", 1), ("band", 2), ("lead_out", 2)]
    assert told[3].time == 3.0


def test_several_joins() -> None:
    bands = ((0.0, 4.0), (6.0, 10.0), (12.0, 16.0), (18.0, DURATION))
    told = [cue for cue in cue_list(laid(SETUP, bands), bands, SETUP.disc) if cue.kind in ("join", "band")]
    assert [(cue.kind, cue.band) for cue in told] == [
        ("join", 1), ("band", 2), ("join", 2), ("band", 3), ("join", 3), ("band", 4),
    ]  # fmt: skip
    # By hand: the next multiple of 0.225 s at or after 4, 10 and 16 s.
    assert [cue.time for cue in told[::2]] == pytest.approx([4.05, 10.125, 16.2])
    assert [cue.time for cue in told[1::2]] == [6.0, 12.0, 18.0]


def test_past_the_locked_groove_there_is_nothing_to_stop() -> None:
    # The locked groove is put outside of where the music ends.
    disc = replace(SETUP.disc, locked_radius=0.1462, innermost_radius=0.1462)
    rows = laid(replace(SETUP, disc=disc), ((0.0, DURATION),))
    assert [cue.kind for cue in cue_list(rows, ((0.0, DURATION),), disc)] == ["lead_in", "fine", "music", "lead_out"]
