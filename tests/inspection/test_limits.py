"""Limits of a test play: the shipped file, and a works' own."""

from __future__ import annotations

from pathlib import Path

import pytest

from discwright.errors import CallError, SettingsError
from discwright.files.settings import load
from discwright.inspection.limits import PlayLimits


def test_the_shipped_limits_are_read_in_their_units() -> None:
    limits = load(PlayLimits, None)
    assert limits.name == "standard"
    # Published: IEC 98:1987 for the hole; the rest as the file says.
    assert limits.eccentricity_max == pytest.approx(0.2e-3)
    assert limits.speed_error_max == pytest.approx(0.005)
    assert limits.wow_flutter_max == pytest.approx(0.002)
    assert limits.separation_min == 20.0
    assert limits.audible_faults_max == 3


def own_file(folder: Path, **changed: str) -> Path:
    source = Path(__file__).parents[2] / "src/discwright/data/test_play.toml"
    lines = source.read_text(encoding="utf-8").replace("[standard]", "[strict]").splitlines()
    for key, value in changed.items():
        lines = [
            f'{key} = {{ value = {value}, source = "the house" }}' if one.startswith(key) else one for one in lines
        ]
    path = folder / "strict.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def test_a_works_own(tmp_path: Path) -> None:
    limits = load(PlayLimits, str(own_file(tmp_path, eccentricity_max_mm="0.1", audible_faults_max="0")))
    assert limits.name == "strict"
    assert limits.eccentricity_max == pytest.approx(1e-4)
    assert limits.audible_faults_max == 0


def test_an_unknown_name_is_refused() -> None:
    with pytest.raises(CallError, match="use standard, or the path of a TOML file"):
        load(PlayLimits, "no-such-limits")


@pytest.mark.parametrize("value", ['"many"', "-0.1"])
def test_a_limit_that_is_none_is_refused(tmp_path: Path, value: str) -> None:
    with pytest.raises(SettingsError, match="eccentricity_max_mm"):
        load(PlayLimits, str(own_file(tmp_path, eccentricity_max_mm=value)))
