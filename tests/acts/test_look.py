"""What looking and listening need: whole or not there, and the same numbers as everything else has."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

from discwright.acts.look import EDGES, MEASURES, PROGRAMME, READY, prepare, read_prepared
from discwright.acts.plan import PlanReport, plan_file
from discwright.errors import AudioError, CallError
from discwright.groove.edges import edge_blocks
from discwright.groove.limits import slope_ratio


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory, side: Path) -> tuple[Path, PlanReport]:
    folder = tmp_path_factory.mktemp("look")
    shutil.copy(side, folder / "side.wav")
    report = plan_file(folder / "side.wav", level_db=9.0, bands=((0, 11), (12, 25)), out=folder / "plan", only=())
    return folder / "plan", report


def test_programme_edges_and_measures_are_those_of_the_plan(kept: tuple[Path, PlanReport], tmp_path: Path) -> None:
    folder, report = kept
    told: list[tuple[str, float]] = []
    prepare(folder, tmp_path / "cache" / "one", lambda step, done: told.append((step, done)))
    found = read_prepared(tmp_path / "cache" / "one")
    assert found is not None
    sound, rate = soundfile.read(folder.parent / "side.wav", dtype="float32")
    assert np.array_equal(found.programme, sound)
    # By another road: all of it at once instead of in pieces.
    edges = np.concatenate(list(edge_blocks([sound], rate, 10.0, 10 ** (9.0 / 20))))
    assert np.abs(found.edges - edges).max() < 1e-10
    # The plan's own side, from the motion it was planned with.
    plan = report.plan
    slope = np.arctan(slope_ratio(plan.side).max(axis=0) * np.tan(plan.setup.cutting_tip.clearance))
    assert found.measures.slope == pytest.approx(slope, abs=1e-9)
    # Rounded as written in spiral.csv: a tenth of a nanometre.
    land = found.measures.land[np.isfinite(found.measures.land)]
    assert land.min() == pytest.approx(plan.land_least, abs=1e-10)
    assert [one for one, _ in told][-1] == "measuring the groove"
    assert all(0 <= done <= 1.0 + 1e-9 for _, done in told)


def test_what_is_there_is_not_made_again(kept: tuple[Path, PlanReport], tmp_path: Path) -> None:
    prepare(kept[0], tmp_path / "one")
    before = (tmp_path / "one" / EDGES).stat().st_mtime_ns
    prepare(kept[0], tmp_path / "one")
    assert (tmp_path / "one" / EDGES).stat().st_mtime_ns == before


@pytest.mark.parametrize("name", [PROGRAMME, EDGES, MEASURES, READY])
def test_what_is_not_whole_is_as_good_as_missing(kept: tuple[Path, PlanReport], tmp_path: Path, name: str) -> None:
    prepare(kept[0], tmp_path / "one")
    (tmp_path / "one" / name).write_bytes(b"x")
    assert read_prepared(tmp_path / "one") is None
    prepare(kept[0], tmp_path / "one")
    assert read_prepared(tmp_path / "one") is not None


def test_what_another_version_made_is_made_again(kept: tuple[Path, PlanReport], tmp_path: Path) -> None:
    prepare(kept[0], tmp_path / "one")
    facts = json.loads((tmp_path / "one" / READY).read_text(encoding="utf-8"))
    (tmp_path / "one" / READY).write_text(json.dumps(facts | {"version": "0.0.0"}), encoding="utf-8")
    assert read_prepared(tmp_path / "one") is None


def test_nothing_is_left_of_what_is_broken_off(kept: tuple[Path, PlanReport], tmp_path: Path) -> None:
    def stop(step: str, _done: float) -> None:
        if step == "moving the tip":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        prepare(kept[0], tmp_path / "cache" / "one", stop)
    assert list((tmp_path / "cache").iterdir()) == []


def test_audio_that_changed_is_refused(kept: tuple[Path, PlanReport], tmp_path: Path) -> None:
    shutil.copytree(kept[0], tmp_path / "plan")
    plain = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    plain["programme"]["path"] = str(tmp_path / "other.wav")
    (tmp_path / "plan" / "plan.json").write_text(json.dumps(plain), encoding="utf-8")
    sound, rate = soundfile.read(kept[0].parent / "side.wav", dtype="float32")
    soundfile.write(tmp_path / "other.wav", sound[::-1], rate, subtype="PCM_16")
    with pytest.raises(AudioError, match="plan the side again"):
        prepare(tmp_path / "plan", tmp_path / "cache" / "one")
    with pytest.raises(CallError, match="there is no plan"):
        prepare(tmp_path / "nothing", tmp_path / "cache" / "one")
