"""The guilty part out of the ledger: the published table, growth dates, pressings, days, and what is said of it."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from ledgers import cut, grow, put, take_in

from discwright.acts.works import Hand
from discwright.acts.works_locate import SideGuilt, any_of, find_guilty, spots_at, word_for
from discwright.acts.works_locate_told import advice, days_words, guilt_as_dict, heard_of, way_words
from discwright.acts.works_paces import paces
from discwright.acts.works_plays import HeardFault, fault_text, hear, placed
from discwright.acts.works_record import correct
from discwright.errors import CallError
from discwright.files.guilt_settings import load_guilt
from discwright.inspection.remaking import Way
from discwright.works import events as e
from discwright.works.parts import part_number
from discwright.works.store.ledger import Ledger, begin_ledger, open_ledger

TICK = {"kind": "tick", "turn": 312, "angle_deg": 41.5, "radius_mm": 97.4, "audible": True}
ANN = Hand("Ann", "listening")


class Clock:
    """Stands where it is put."""

    def __init__(self) -> None:
        self.now = datetime.now(UTC)

    def __call__(self) -> datetime:
        return self.now

    def later(self, hours: float) -> None:
        self.now += timedelta(hours=hours)


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger with one title, to be copied."""
    path = tmp_path_factory.mktemp("begun") / "works.sqlite"
    made = begin_ledger(str(path))
    take_in(made)
    made.close()
    return path


@pytest.fixture(scope="module")
def grown(begun: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    """The family of the published table: L, N, M1, M2 and two stampers of each."""
    path = Path(shutil.copy(begun, tmp_path_factory.mktemp("grown") / "works.sqlite"))
    ledger = open_ledger(str(path))
    found = {"L": cut(ledger)}
    found["N"] = grow(ledger, found["L"], "master")
    for mother in ("M1", "M2"):
        found[mother] = grow(ledger, found["N"], "mother")
        for k in (1, 2):
            found[f"S{mother[1]}{k}"] = grow(ledger, found[mother], "stamper")
    ledger.close()
    return path, found


@pytest.fixture
def family(grown: tuple[Path, dict[str, str]]) -> dict[str, str]:
    """Numbers of the family's parts."""
    return grown[1]


@pytest.fixture
def ledger(tmp_path: Path, grown: tuple[Path, dict[str, str]]) -> Iterator[Ledger]:
    """A ledger with that family, nothing played yet."""
    opened = open_ledger(str(shutil.copy(grown[0], tmp_path / "works.sqlite")))
    yield opened
    opened.close()


@pytest.fixture
def undamaged(tmp_path: Path) -> Path:
    """Settings without damage after the making, as the published table has them."""
    path = tmp_path / "guilt.toml"
    path.write_text("[damage]\nlacquer = 0\nmaster = 0\nmother = 0\nstamper = 0\n")
    return path


def play(ledger: Ledger, part: str, *faults: dict[str, Any], **more: Any) -> None:
    """A play that hears these faults, and no other."""
    put(ledger, e.TestPlayed(defects=faults, **{"count": len(faults)} | more), part=part)


def side_of(ledger: Ledger, **more: Any) -> SideGuilt:
    (side,) = find_guilty(ledger, "VK 1001", **more).sides
    return side


# published: reference table "finding the guilty part" (d = 0.9, f = 0.02, one play each); tolerance 1e-4.
TABLE = [
    (("S11", "S12", "S21", "S22"), {"L": 0.4991, "N": 0.4941, "M1": 0.0057, "M2": 0.0057}, 0.000),
    (("S11", "S12"), {"M1": 0.8369, "S11": 0.0692, "S12": 0.0692, "L": 0.0093}, 0.039),
    (("S11",), {"S11": 0.4667, "M1": 0.0245}, 0.505),
    (("S11", "S21"), {"S11": 0.4162, "S21": 0.4162, "L": 0.0546, "N": 0.0541}, 0.230),
]


@pytest.mark.parametrize(("heard", "posterior", "none"), TABLE)
def test_the_published_table_from_the_ledger(
    ledger: Ledger, family: dict[str, str], undamaged: Path, heard: tuple[str, ...], posterior: dict[str, float],
    none: float,
) -> None:  # fmt: skip
    for name in ("S11", "S12", "S21", "S22"):
        play(ledger, family[name], *[TICK] * (name in heard))
    side = side_of(ledger, settings=undamaged)
    (spot,) = side.spots
    for name, chance in posterior.items():
        assert spot.guilt.posterior[family[name]] == pytest.approx(chance, abs=1e-4)
    assert spot.guilt.none == pytest.approx(none, abs=5e-4)
    by_id = {one.part.id: one for one in side.parts}
    for name, chance in posterior.items():
        assert by_id[family[name]].heads == pytest.approx(chance, abs=1e-4)  # one spot: the sum is that spot


def test_a_mother_damaged_between_two_stampers(ledger: Ledger, family: dict[str, str]) -> None:
    """by hand, after the inheritance rule: what was grown before the damage stays good, what came after falls."""
    later = [grow(ledger, family["M1"], "stamper") for _ in range(2)]
    for part in (family["S11"], family["S12"]):
        play(ledger, part)
        play(ledger, part)
    for part in later:
        play(ledger, part, TICK)
        play(ledger, part, TICK)
    side = side_of(ledger)
    guilty = max(side.parts, key=lambda one: one.heads)
    assert (guilty.part.id, guilty.word) == (family["M1"], "guilty")
    assert set(guilty.falls) == {family["M1"], *later}
    assert guilty.way == Way(family["S11"], (), 0.0)


def test_a_play_of_a_mother_before_her_damage_says_nothing_after_it(ledger: Ledger, family: dict[str, str]) -> None:
    for _ in range(3):
        play(ledger, family["M1"])
    before = side_of(ledger)
    assert before.spots == ()
    last = grow(ledger, family["M1"], "stamper")
    for _ in range(3):
        play(ledger, family["M1"], TICK)
        play(ledger, last, TICK)
    (spot,) = side_of(ledger).spots
    assert spot.guilt.carries[last] > 0.9
    # by hand: three silent plays make a mother faulty from the start (0.01 × 0.1³) far rarer than one damaged since
    # (0.002 / 4), so that her older stampers are little worse than they were.
    assert spot.guilt.carries[family["S11"]] < 0.1


def test_plays_add_up_and_what_was_undone_does_not_count(ledger: Ledger, family: dict[str, str]) -> None:
    play(ledger, family["S11"], TICK)
    play(ledger, family["S11"])
    play(ledger, family["S11"], TICK | {"kind": "pop", "angle_deg": 42.4})
    side = side_of(ledger)
    assert heard_of(side, side.spots[0]) == [(family["S11"], 2, 3)]
    wrong = list(ledger.lines(part=family["S11"]))[-1]
    correct(ledger, wrong.seq, "another disc", ANN)
    side = side_of(ledger)
    assert heard_of(side, side.spots[0]) == [(family["S11"], 1, 2)]


def test_two_plays_of_one_pressing_do_not_condemn_the_stamper(ledger: Ledger, family: dict[str, str]) -> None:
    for _ in range(3):
        play(ledger, family["S11"], TICK, pressing="7")
    for pressing in ("8", "9"):
        play(ledger, family["S11"], pressing=pressing)
    (spot,) = side_of(ledger).spots
    assert spot.likeliest == f"{family['S11']} pressing 7"
    assert spot.guilt.posterior[spot.likeliest] > 0.9


def test_a_scratch_seen_on_the_stamper_is_the_one_that_is_heard(ledger: Ledger, family: dict[str, str]) -> None:
    play(ledger, family["S11"], TICK)
    seen = {"kind": "scratch", "turn": 312, "angle_deg": 360 - 41.5}
    put(ledger, e.Checked(defects=(seen,)), part=family["S11"])
    side = side_of(ledger)
    (spot,) = side.spots
    assert heard_of(side, spot) == [(family["S11"], 2, 2)]
    # The same angle on a mother, which is positive, is another place.
    put(ledger, e.Checked(defects=(seen,)), part=family["M1"])
    assert len(side_of(ledger).spots) == 2


def test_a_play_that_names_no_place_tells_nothing(ledger: Ledger, family: dict[str, str]) -> None:
    put(ledger, e.TestPlayed(count=3), part=family["M1"])
    put(ledger, e.TestPlayed(), part=family["M1"])
    side = side_of(ledger)
    assert (side.plays, side.placeless, side.choices) == ((), 1, ())
    assert advice(side) == "Faults were heard and nobody said where; enter them with turn and angle."
    play(ledger, family["M1"])
    assert advice(side_of(ledger)) == "No play found a fault; nothing need be made again."


def test_what_is_not_heard_condemns_nobody(ledger: Ledger, family: dict[str, str]) -> None:
    play(ledger, family["M1"], TICK | {"audible": False}, capture_sha256="0" * 64)
    side = side_of(ledger)
    assert (len(side.spots), side.next_play, {one.heads for one in side.parts}) == (1, "", {0.0})
    assert advice(side) == "No play found a fault that is heard; nothing need be made again."


def test_several_spots_are_taken_together(ledger: Ledger, family: dict[str, str], undamaged: Path) -> None:
    other = TICK | {"turn": 400, "angle_deg": 3.0}
    play(ledger, family["S11"], TICK, other)
    for name in ("S12", "S21", "S22"):
        play(ledger, family[name])
    by_id = {one.part.id: one for one in side_of(ledger, settings=undamaged).parts}
    # by hand: each spot alone is the third row of the published table; 1 − (1 − 0.4667)².
    assert by_id[family["S11"]].heads == pytest.approx(1 - (1 - 0.4667) ** 2, abs=2e-4)
    assert any_of([0.5, 0.5, 0.5]) == 0.875


def test_what_is_best_done_and_in_how_many_days(ledger: Ledger, family: dict[str, str]) -> None:
    for name in ("S11", "S12", "M1"):
        play(ledger, family[name], TICK)
    for name in ("S21", "S22"):
        play(ledger, family[name])
    side = side_of(ledger)
    guilty = max(side.parts, key=lambda one: one.heads)
    assert guilty.part.id == family["M1"]
    # The other mother's stampers were heard and are good: nothing need be made.
    assert guilty.way.makes == ()
    assert advice(side).startswith(f"Press from {side.choices[0].way.start}: at once")
    assert side.choices[0].way.start in (family["S21"], family["S22"])
    for name in ("S21", "S22", "M2"):
        put(ledger, e.Scrapped(), part=family[name])
    side = side_of(ledger)
    # by hand, after the house defaults: 1 day for a mother, 0.5 for hearing her, 1 for a stamper.
    assert side.choices[0].way == Way(family["N"], ("mother", "stamper"), 2.5)
    told = advice(side)
    assert told.startswith(f"Grow a new mother from {family['N']}, then a stamper: 2.5 days")
    assert side.next_play in told
    assert side.next_play not in (family["S21"], family["S22"], family["M2"], family["L"], family["N"])


def test_everywhere_heard_means_another_lacquer(ledger: Ledger, family: dict[str, str]) -> None:
    for name in ("S11", "S12", "S21", "S22", "M1", "M2"):
        play(ledger, family[name], TICK)
    side = side_of(ledger)
    assert side.choices[0].way == Way("", ("lacquer", "master", "mother", "stamper"), 5.5)
    assert advice(side).startswith("Cut a new lacquer, then a master, then a mother, then a stamper: 5.5 days")


def test_one_place_alone(ledger: Ledger, family: dict[str, str]) -> None:
    play(ledger, family["M1"], TICK, TICK | {"turn": 7, "angle_deg": 359.5})
    found = find_guilty(ledger, family["S11"])
    assert spots_at(found, 312, 40.0)["lp", "A"].number == 2
    assert spots_at(found, 8, 0.4)["lp", "A"].number == 1  # over the seam
    with pytest.raises(CallError, match=r"no play found anything at turn 312, 44.0°; ask without a place"):
        spots_at(found, 312, 44.0)
    told = guilt_as_dict(found, spots_at(found, 312, 41.5))
    assert [one["number"] for one in told["sides"][0]["spots"]] == [2]


def test_the_json_is_plain_and_whole(ledger: Ledger, family: dict[str, str]) -> None:
    play(ledger, family["M1"], TICK)
    told = json.loads(json.dumps(guilt_as_dict(find_guilty(ledger, "VK 1001"))))
    (side,) = told["sides"]
    assert {one["id"] for one in side["parts"]} == set(family.values())
    assert side["spots"][0]["heard"] == [side["plays"][0]["seq"]]
    assert set(side["spots"][0]["posterior"]) == set(family.values())
    assert side["days"]["stamper"] == {"days": 1.0, "measured": 0}
    assert side["assumption"].endswith("as if the spots had nothing to do with each other")


def test_a_side_that_is_not_there(ledger: Ledger, family: dict[str, str]) -> None:
    with pytest.raises(CallError, match="no lacquer was cut yet of side B; its sides are A of lp"):
        find_guilty(ledger, "VK 1001", side="B")
    with pytest.raises(CallError, match="of side A of ep; its sides are"):
        find_guilty(ledger, "VK 1001", side="A", edition="ep")


def test_a_title_without_a_part(begun: Path) -> None:
    ledger = open_ledger(str(begun))
    with pytest.raises(CallError, match="no lacquer was cut yet of it; cut one first"):
        find_guilty(ledger, "VK 1001")
    ledger.close()


# By hand -----------------------------------------------------------------------------------------------


def part_of(ledger: Ledger, number: str) -> tuple[Any, Any]:
    family = ledger.family_of(number)
    return family.parts[number], family


def test_a_fault_entered_by_hand(ledger: Ledger, family: dict[str, str]) -> None:
    part, whole = part_of(ledger, family["M1"])
    hear(ledger, part, whole, [fault_text("tick 312 41,5"), fault_text("pop 9:21.8 41.5")], ANN, note="soft")
    line = list(ledger.lines(part=family["M1"]))[-1]
    # by hand: 9:21.8 are 561.8 s, of 1.8 s a turn 312.1; with 41.5° (0.115 of a turn) that is turn 312.
    assert [(one["kind"], one["turn"], one["angle_deg"]) for one in line.data["defects"]] == [
        ("tick", 312, 41.5), ("pop", 312, 41.5),
    ]  # fmt: skip
    assert ledger.family("VK 1001").parts[family["M1"]].faults == 2
    hear(ledger, part, whole, [], ANN)
    side = side_of(ledger)
    assert heard_of(side, side.spots[0]) == [(family["M1"], 1, 2)]


def test_a_time_by_a_watch_is_good_to_half_a_turn() -> None:
    for off in (-0.8, 0.0, 0.8):
        said = placed(HeardFault("tick", f"9:{21.8 + off:.1f}", "41.5"), 100 / 3)
        assert (said["turn"], said["angle_deg"]) == (312, 41.5)
    # by hand: at 45 rpm 60 s are 45 turns; −30° is 330°, so 44 and 330°.
    assert placed(HeardFault("tick", "1:00", "-30"), 45.0)["turn"] == 44


def test_a_fault_seen_on_a_negative_is_written_as_it_reads_there(ledger: Ledger, family: dict[str, str]) -> None:
    part, whole = part_of(ledger, family["S11"])
    hear(ledger, part, whole, [HeardFault("scratch", "9:21.8", "318.5")], ANN, seen=True)
    line = list(ledger.lines(part=family["S11"]))[-1]
    assert line.kind == "checked_under_the_microscope"
    assert line.data["defects"][0]["angle_deg"] == 318.5
    (spot,) = side_of(ledger).spots
    assert (spot.spot.turn, spot.spot.angle_deg) == (312, 41.5)


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (HeardFault("click", "3", "1"), "“click” is no kind of fault; write tick"),
        (HeardFault("tick", "3.5", "1"), "is no whole turn"),
        (HeardFault("tick", "3", ""), "needs its angle"),
        (HeardFault("tick", "3", "400"), "needs its angle, from 0 to 360"),
        (HeardFault("tick", "soon", "4"), "turn"),
    ],
)
def test_a_fault_that_cannot_be_is_refused(fault: HeardFault, words: str) -> None:
    with pytest.raises(CallError, match=words) as caught:
        placed(fault, 100 / 3)
    assert str(caught.value).endswith(".")


def test_what_cannot_be_played_is_refused(ledger: Ledger, family: dict[str, str]) -> None:
    part, whole = part_of(ledger, family["N"])
    with pytest.raises(CallError, match="is a master and no disc to play"):
        hear(ledger, part, whole, [], ANN)
    with pytest.raises(CallError, match="nothing was seen on it"):
        hear(ledger, part, whole, [], ANN, seen=True)
    with pytest.raises(CallError, match="is no fault; write kind, turn or time, and angle"):
        fault_text("tick 312")


# Days --------------------------------------------------------------------------------------------------


def test_the_ledgers_own_durations_count_from_enough_on(begun: Path, tmp_path: Path) -> None:
    clock = Clock()
    ledger = open_ledger(str(shutil.copy(begun, tmp_path / "works.sqlite")), clock=clock)
    default = {"lacquer": 2.0, "master": 1.0, "mother": 1.0, "stamper": 1.0, "play": 0.5}
    lacquer = cut(ledger)
    clock.later(30)
    master = grow(ledger, lacquer, "master")
    for hours in (12.0, 24.0, 60.0):
        put(ledger, e.Passivated(), part=master)
        clock.later(hours)
        mother = put(ledger, e.Plated(parent=master, part_kind="mother"))
        put(ledger, e.Separated(), part=mother)
        clock.later(6)
        put(ledger, e.TestPlayed(count=0), part=mother)
    stamper = grow(ledger, mother, "stamper")
    clock.later(18)
    put(ledger, e.Formed(), part=stamper)
    lines = list(ledger.lines())
    found = paces(lines, default, 3)
    # by hand: the median of 12, 24 and 60 h is a day, of three times 6 h a quarter; one master and one stamper are few.
    assert list(found) == ["lacquer", "master", "mother", "stamper", "play"]
    assert [(one.days, one.measured) for one in found.values()] == [
        (2.0, 0), (1.0, 0), (pytest.approx(1.0), 3), (1.0, 0), (pytest.approx(0.25), 3),
    ]  # fmt: skip
    few = paces(lines, default, 1)
    assert (few["master"].days, few["stamper"].days) == (pytest.approx(1.25), pytest.approx(0.75))
    ledger.close()


def test_words() -> None:
    by = load_guilt()
    assert [word_for(chance, by) for chance in (0.51, 0.2, 0.05, 0.001)] == [
        "guilty", "suspect", "doubtful", "unsuspected",
    ]  # fmt: skip
    number = part_number("master", 2)
    assert way_words(Way(number, ("mother", "stamper"), 2.5)) == f"grow a new mother from {number}, then a stamper"
    assert way_words(Way(number, (), 0.0)) == f"press from {number}"
    assert [days_words(days) for days in (0.0, 1.0, 2.5)] == ["at once", "1.0 day", "2.5 days"]


def test_it_pays_to_play_the_mother_before_a_new_lacquer_is_cut(ledger: Ledger, family: dict[str, str]) -> None:
    play(ledger, family["S11"], TICK)
    play(ledger, family["S11"], TICK)
    for name in ("M2", "S12", "S21", "S22"):
        put(ledger, e.Scrapped(), part=family[name])
    told = advice(side_of(ledger))
    assert re.match(rf"Play {family['M1']} first, for it would tell most: 0.5 days, on the mean \d\.\d with", told)
    assert "; without it, " in told
