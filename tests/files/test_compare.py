"""Two plans side by side: differences made by hand, old plans, broken files, and the setup that comes back."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discwright.acts.plan import PlanReport, plan_file
from discwright.errors import CallError, SettingsError
from discwright.files.compare import MEASURES, Comparison, compare, read_plan, setup_from_plan
from discwright.files.settings import load_setup, setup_as_plain, shipped
from discwright.groove.equipment import DiscFormat


def finding(code: str = "slope", time_s: float | None = 10.0, band: int | None = 1, **more: Any) -> dict[str, Any]:
    turn = None if time_s is None else time_s / 1.8
    return {
        "code": code, "severity": "stop", "time_s": time_s, "band": band, "turn": turn,
        "radius_mm": None if time_s is None else 140.0, "value": 47.0, "limit": 45.0, "unit": "deg",
        "remedy": "Lower the side 0.6 dB.",
    } | more  # fmt: skip


def plan(*findings: dict[str, Any], **more: Any) -> dict[str, Any]:
    """A plan by hand: nothing is solved."""
    settings = setup_as_plain(load_setup()) | {"bands": [{"start_s": 0.0, "end_s": 25.0}], "solver": "invented 1"}
    return {
        "fingerprint": "a" * 64, "version": "0.1.0",
        "programme": {
            "path": "side.wav", "sha256": "0" * 64, "sample_rate_hz": 44_100, "frames": 1_102_500, "duration_s": 25.0,
        },
        "level_db": 2.0, "settings": settings, "radius_used_mm": 0.665689, "spare_mm": 85.309311,
        "mean_pitch_um": 47.9296, "min_land_um": 8.0, "findings": list(findings),
        "ready": not any(item["severity"] == "stop" for item in findings),
    } | more  # fmt: skip


def codes(findings: tuple[dict[str, Any], ...]) -> list[str]:
    return [item["code"] for item in findings]


@pytest.fixture(scope="module")
def kept(side: Path, tmp_path_factory: pytest.TempPathFactory) -> PlanReport:
    return plan_file(side, level_db=2.0, lathe=None, out=tmp_path_factory.mktemp("plans") / "a")


# What differs -----------------------------------------------------------------------------------------


def test_a_plan_is_like_itself() -> None:
    one = compare(plan(finding()), plan(finding()))
    assert one.alike
    assert (one.settings, one.programme, one.gained, one.cured, one.changed) == ((), (), (), (), ())
    assert codes(one.kept) == ["slope"]
    assert {key: item.change for key, item in one.measures.items()} == dict.fromkeys(MEASURES, 0.0)


def test_settings_that_differ() -> None:
    new = plan()
    new["settings"] = copy.deepcopy(new["settings"])
    new["settings"]["lathe"]["pitch_min_um"] = 50.0
    new["settings"]["tip"] |= {"name": "elliptical-8", "shape": "elliptical"}
    del new["settings"]["practice"]["echo_widening_um"]
    new["settings"]["bands"].append({"start_s": 13.0, "end_s": 25.0})
    new["version"] = "0.2.0"
    # By hand.
    assert compare(plan(), new).settings == (
        ("lathe.pitch_min_um", 40.0, 50.0),
        ("tip.name", "spherical-18", "elliptical-8"),
        ("tip.shape", "spherical", "elliptical"),
        ("practice.echo_widening_um", 0.0, None),
        ("bands.2.start_s", None, 13.0),
        ("bands.2.end_s", None, 25.0),
        ("version", "0.1.0", "0.2.0"),
    )
    assert not compare(plan(), new).alike


def test_another_programme() -> None:
    new = plan()
    new["programme"] = new["programme"] | {"path": "other.wav", "sha256": "1" * 64, "duration_s": 26.5}
    assert compare(plan(), new).programme == (
        ("path", "side.wav", "other.wav"),
        ("sha256", "0" * 64, "1" * 64),
        ("duration_s", 25.0, 26.5),
    )


def test_what_was_won_and_lost() -> None:
    new = plan(level_db=3.1, radius_used_mm=0.7, spare_mm=85.275, mean_pitch_um=50.4, min_land_um=None)
    changes = {key: item.change for key, item in compare(plan(), new).measures.items()}
    # By hand: new less old; 0.7 − 0.665689 = 0.034311, 85.275 − 85.309311, 50.4 − 47.9296.
    assert changes == {
        "level_db": 1.1, "radius_used_mm": 0.034311, "spare_mm": -0.034311, "mean_pitch_um": 2.4704,
        "min_land_um": None,
    }  # fmt: skip


# Which findings are the same --------------------------------------------------------------------------


def test_gained_cured_changed_kept() -> None:
    old = plan(finding(), finding("echo", 5.0, severity="note"), finding("mono", None, None), finding("land", 8.0))
    new = plan(
        finding(value=46.0),
        finding("mono", None, None),
        finding("curvature", 10.0, severity="warn"),
        finding("land", 8.0, severity="warn"),
    )
    one = compare(old, new)
    # By hand.
    assert (codes(one.gained), codes(one.cured), codes(one.kept)) == (["curvature"], ["echo"], ["mono"])
    assert [(a["code"], a["value"], b["value"], a["severity"], b["severity"]) for a, b in one.changed] == [
        ("slope", 47.0, 46.0, "stop", "stop"),
        ("land", 47.0, 47.0, "stop", "warn"),
    ]
    assert one.ready == (False, False)


@pytest.mark.parametrize(
    ("other", "same"),
    [
        (finding(time_s=12.0), True),  # house rule: 2 s
        (finding(time_s=12.0001), False),
        (finding(time_s=8.0), True),
        (finding(time_s=7.9999), False),
        (finding(band=2), False),
        (finding("head_heat"), False),
        (finding(time_s=None, band=1), False),
        (finding(remedy="Other words."), True),
    ],
)
def test_the_same_finding(other: dict[str, Any], same: bool) -> None:
    for one in (compare(plan(finding()), plan(other)), compare(plan(other), plan(finding()))):
        assert (len(one.kept), len(one.gained), len(one.cured)) == ((1, 0, 0) if same else (0, 1, 1))


def test_an_accepted_warning_has_changed() -> None:
    one = compare(plan(finding(severity="warn")), plan(finding(severity="warn", accepted="as the producer wants it")))
    assert len(one.changed) == 1


def test_the_nearest_is_the_same() -> None:
    # By hand: 10.0 and 11.5 before, 11.4 and 13.3 now: 11.5 is 11.4, and 13.3 is too far from 10.0.
    old = plan(finding(time_s=10.0), finding(time_s=11.5))
    one = compare(old, plan(finding(time_s=11.4), finding(time_s=13.3)))
    assert [item["time_s"] for item in one.kept] == [11.4]
    assert [item["time_s"] for item in one.cured] == [10.0]
    assert [item["time_s"] for item in one.gained] == [13.3]


PLACES = st.lists(
    st.builds(finding, st.sampled_from(["slope", "echo"]), st.none() | st.integers(0, 12), st.sampled_from([1, 2])),
    max_size=8,
)


@given(PLACES, PLACES)
def test_every_finding_is_told_once(old: list[dict[str, Any]], new: list[dict[str, Any]]) -> None:
    one, back = compare(plan(*old), plan(*new)), compare(plan(*new), plan(*old))
    met = len(one.kept) + len(one.changed)
    assert (met + len(one.cured), met + len(one.gained)) == (len(old), len(new))
    # Nothing left over on both sides could have been the same.
    assert all(
        (a["code"], a["band"]) != (b["code"], b["band"])
        or (a["time_s"] is None) != (b["time_s"] is None)
        or (a["time_s"] is not None and abs(a["time_s"] - b["time_s"]) > 2)
        for a in one.cured
        for b in one.gained
    )
    assert len(back.kept) + len(back.changed) == met


def test_as_plain_values() -> None:
    one = compare(plan(finding("echo", 5.0)), plan(finding(value=46.0), level_db=1.0))
    document = json.loads(json.dumps(one.as_dict(), allow_nan=False))
    assert document["alike"] is False
    assert document["ready"] == {"old": False, "new": False}
    assert document["level_db"] == {"old": 2.0, "new": 1.0, "change": -1.0}
    assert document["settings"] == {}
    assert codes(document["findings"]["gained"]) == ["slope"]
    assert codes(document["findings"]["cured"]) == ["echo"]
    assert set(document) == {"alike", "fingerprint", "ready", "programme", "settings", "findings", *MEASURES}


# Reading ----------------------------------------------------------------------------------------------


def written(path: Path, document: Any) -> Path:
    path.write_text(document if isinstance(document, str) else json.dumps(document), encoding="utf-8")
    return path


def test_a_kept_plan_by_folder_and_by_file(kept: PlanReport) -> None:
    assert kept.folder is not None
    assert read_plan(kept.folder) == kept.document
    assert read_plan(kept.folder / "plan.json") == kept.document
    assert compare(read_plan(kept.folder), kept.document).alike


def test_no_plan_there(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none", tmp_path / "none" / "plan.json"):
        with pytest.raises(CallError) as refused:
            read_plan(path)
        assert str(refused.value) == f"{path}: there is no plan; name a folder made with --out."


@pytest.mark.parametrize("text", ["", "{", "plan", '{"a": NaN}', "[" * 100_000])
def test_no_json(tmp_path: Path, text: str) -> None:
    file = written(tmp_path / "plan.json", text)
    with pytest.raises(CallError) as refused:
        read_plan(tmp_path)
    assert str(refused.value).startswith(f"{file}: is not valid JSON (")
    assert str(refused.value).endswith("); keep the plan again with --out.")
    assert "\n" not in str(refused.value)


def test_no_text(tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_bytes(b"\xff")
    with pytest.raises(CallError, match=r": cannot be read as text \(it is not UTF-8\); check the file\.$"):
        read_plan(tmp_path)


@pytest.mark.parametrize("document", [[], 3, '"plan"', None])
def test_json_but_no_plan(tmp_path: Path, document: Any) -> None:
    file = written(tmp_path / "plan.json", document)
    with pytest.raises(CallError) as refused:
        read_plan(tmp_path)
    assert str(refused.value) == f"{file}: is JSON but no plan; name a folder made with --out."


@pytest.mark.parametrize(
    "key",
    ["programme", "settings", "level_db", "radius_used_mm", "spare_mm", "mean_pitch_um", "findings", "ready"],
)
def test_keys_that_are_needed(tmp_path: Path, key: str) -> None:
    document = plan()
    for wrong in ("no", None):
        file = written(tmp_path / "plan.json", document | {key: wrong})
        with pytest.raises(CallError) as refused:
            read_plan(tmp_path)
        assert str(refused.value) == f"{file}: has a {key} no plan has; keep the plan again with --out."
    del document[key]
    written(file, document)
    with pytest.raises(CallError) as refused:
        read_plan(tmp_path)
    assert str(refused.value) == f"{file}: lacks {key}, so it is no whole plan; keep the plan again with --out."


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"value": "much"}, "finding 2 has a value no plan has; keep the plan again with --out."),
        ({"value": True}, "finding 2 has a value no plan has; keep the plan again with --out."),
        ({"time_s": "10"}, "finding 2 has a time_s no plan has; keep the plan again with --out."),
        ({"code": None}, "finding 2 has a code no plan has; keep the plan again with --out."),
    ],
)
def test_findings_that_are_broken(tmp_path: Path, change: dict[str, Any], sentence: str) -> None:
    file = written(tmp_path / "plan.json", plan(finding(), finding() | change))
    with pytest.raises(CallError) as refused:
        read_plan(tmp_path)
    assert str(refused.value) == f"{file}: {sentence}"
    written(file, plan(finding()) | {"findings": [1]})
    with pytest.raises(CallError, match=r": finding 1 is not a table of values; keep the plan again with --out\.$"):
        read_plan(tmp_path)


def test_what_was_not_kept_yet(tmp_path: Path) -> None:
    """An old plan without the least land, and a newer one with keys nobody knows yet."""
    old = plan()
    for key in ("min_land_um", "fingerprint", "version"):
        del old[key]
    old = read_plan(written(tmp_path / "plan.json", old))
    one: Comparison = compare(old, plan(moon="full"))
    assert one.measures["min_land_um"].change is None
    assert one.fingerprints == (None, "a" * 64)
    assert one.settings == (("version", None, "0.1.0"),)


# The setup that comes back ----------------------------------------------------------------------------


@pytest.mark.parametrize("disc", sorted(shipped(DiscFormat)))
def test_exactly_the_setup_it_was_made_with(disc: str) -> None:
    setup = load_setup(disc)
    document = json.loads(json.dumps(plan(settings=setup_as_plain(setup) | {"bands": [], "solver": "invented 1"})))
    assert setup_from_plan(document) == setup


def test_a_real_plan_gives_its_setup_and_its_fingerprint(kept: PlanReport, side: Path) -> None:
    assert kept.folder is not None
    setup = setup_from_plan(read_plan(kept.folder))
    assert setup == kept.plan.setup
    assert setup_as_plain(setup).items() <= kept.document["settings"].items()


def test_a_plan_from_before_some_values() -> None:
    """By hand: fields with defaults came later; a plan without them had those defaults."""
    document = plan()
    for word, keys in (
        ("lathe", ("control_pitch_full_scale_um", "control_full_scale_v", "radius_rest_mm", "lift_height_mm")),
        ("practice", ("echo_widening_um", "layout_level_db")),
    ):
        for key in keys:
            del document["settings"][word][key]
    assert setup_from_plan(document) == load_setup()


@pytest.mark.parametrize(
    ("word", "change", "sentence"),
    [
        ("lathe", {"pitch_min_um": None}, "[lathe] pitch_min_um: must be a number; got None."),
        ("lathe", {"pitch_minn_um": 1}, "[lathe] has an unknown key “pitch_minn_um”; write pitch_min_um."),
        ("practice", {"land_min_um": -1}, "[practice] land_min_um: must be greater than zero; got -1."),
        ("head", {"name": None}, "[head] needs its name, a word in quotes; add it."),
    ],
)
def test_settings_that_are_no_setup(word: str, change: dict[str, Any], sentence: str) -> None:
    document = plan()
    document["settings"][word] |= change
    with pytest.raises(SettingsError) as refused:
        setup_from_plan(document)
    assert str(refused.value) == f"the plan's settings: {sentence}"


def test_settings_without_a_tip() -> None:
    document = plan()
    del document["settings"]["tip"]
    with pytest.raises(SettingsError, match=r"^the plan's settings: lacks the table \[tip\]; add it\.$"):
        setup_from_plan(document)
