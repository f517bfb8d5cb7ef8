"""What a person sees of two plans: exact text, made by hand; nothing is solved."""

from __future__ import annotations

import io
from typing import Any

import pytest
from rich.console import Console

from discwright.cli.show_compare import show_compare
from discwright.files.compare import compare


def finding(code: str, severity: str, time_s: float | None, value: float, **more: Any) -> dict[str, Any]:
    place = {"time_s": time_s, "band": 1, "turn": time_s / 1.8, "radius_mm": 91.0} if time_s is not None else {}
    return {
        "code": code, "severity": severity, **place, "value": value, "limit": 45.0, "unit": "deg",
        "remedy": "Lower it.",
    } | more  # fmt: skip


def plan(*findings: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {
        "programme": {"path": "a.wav", "sha256": "0", "frames": 10, "duration_s": 25.0},
        "settings": {"lathe": {"name": "standard", "pitch_min_um": 40.0}},
        "level_db": 2.0, "radius_used_mm": 80.0, "spare_mm": 5.0, "mean_pitch_um": 100.0, "min_land_um": 8.0,
        "findings": list(findings), "ready": not any(item["severity"] == "stop" for item in findings),
    } | more  # fmt: skip


def printed(old: dict[str, Any], new: dict[str, Any], width: int = 80) -> str:
    out = io.StringIO()
    console = Console(file=out, width=width, color_system=None, highlight=False, markup=False, emoji=False)
    show_compare(compare(old, new), console)
    return out.getvalue()


def test_every_line() -> None:
    old = plan(
        finding("slope", "stop", 739.8, 47.12),
        finding("echo", "note", 36.0, 50.0),
        finding("curvature", "warn", 100.0, 1.4),
        finding("mono", "note", None, 1.0, limit=0.0),
    )
    new = plan(
        finding("sibilance", "warn", 900.0, 60.0, accepted="as the producer wants it"),
        finding("slope", "warn", 740.0, 47.124),
        finding("curvature", "warn", 101.0, 1.4),
        finding("mono", "note", None, 1.0, limit=0.0),
        programme={"path": "b.wav", "sha256": "1", "frames": 11, "duration_s": 26.5},
        settings={"lathe": {"name": "standard", "pitch_min_um": 50.0, "lift_height_mm": 3.0}},
        level_db=3.1, radius_used_mm=79.5, spare_mm=5.5, mean_pitch_um=100.001, min_land_um=None,
    )  # fmt: skip
    # By hand: the differences of the numbers above, 739.8/1.8 = 411; the wording is ours: regression only.
    assert printed(old, new) == (
        "audio     another, path a.wav → b.wav, duration_s 25 → 26.5\n"
        "setting   lathe.pitch_min_um  40 → 50\n"
        "setting   lathe.lift_height_mm  none → 3\n"
        "level     +2.00 → +3.10 dB, 1.10 dB won\n"
        "radius    80.000 → 79.500 mm used, 0.500 mm less\n"
        "spare     5.000 → 5.500 mm, 0.500 mm won\n"
        "pitch     100.00 → 100.00 µm mean, the same\n"
        "land      8.00 → none µm at the least\n"
        "gained    warn     sibilance      15:00.0  turn 500.0  r  91.00 mm  60 against 45 deg. Lower it."
        " Accepted: as the producer wants it\n"
        "cured     note     echo            0:36.0  turn  20.0  r  91.00 mm  50 against 45 deg. Lower it.\n"
        "changed   stop → warn slope          12:20.0  turn 411.1  r  91.00 mm  47.12 → 47.124 against 45 deg."
        " Lower it.\n"
        "kept      warn     curvature       1:41.0  turn  56.1  r  91.00 mm  1.4 against 45 deg. Lower it.\n"
        "kept      note     mono          Lower it.\n"
        "1 gained, 1 cured, 1 changed, 2 kept: not ready to cut → ready to cut.\n"
    )


def test_plans_that_are_alike() -> None:
    one = plan(finding("slope", "stop", 739.8, 47.12))
    assert printed(one, one) == "The two plans are alike.\n"


def test_what_is_the_same_is_said_once() -> None:
    lines = printed(plan(), plan(level_db=1.0, programme=plan()["programme"] | {"path": "b.wav"})).splitlines()
    assert lines[0] == "audio     the same, path a.wav → b.wav"
    assert lines[1] == "level     +2.00 → +1.00 dB, 1.00 dB lost"
    assert lines[2] == "radius    80.000 → 80.000 mm used, the same"
    assert lines[-1] == "0 gained, 0 cured, 0 changed, 0 kept: ready to cut."


def test_no_land_no_word_of_it() -> None:
    assert "land" not in printed(plan(min_land_um=None), plan(min_land_um=None, level_db=1.0))


@pytest.mark.parametrize("level_db", [-0.0, -0.004])
def test_a_level_of_nothing_has_a_plus(level_db: float) -> None:
    assert "level     +2.00 → +0.00 dB" in printed(plan(), plan(level_db=level_db))


def test_no_line_is_broken_by_a_narrow_terminal_and_no_word_is_markup() -> None:
    new = plan(finding("slope", "stop", 739.8, 47.12, remedy="Lower it. " * 20), settings={"lathe": "[bold]:disc:[/]"})
    assert printed(plan(), new, 40) == printed(plan(), new, 400)
    assert "[bold]:disc:[/]" in printed(plan(), new)
