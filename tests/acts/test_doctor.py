"""The examination of the machine."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from discwright.acts import doctor
from discwright.cli.main import app
from discwright.kernel_cache import kernel_folder


def test_this_machine_is_well(discwright: Callable[..., Any]) -> None:
    result = discwright("doctor")
    assert result.returncode == 0, result.stdout
    for word in ("discwright", "Python", "HiGHS", "libsndfile", "compiled", "GiB free", "+00:00"):
        assert word in result.stdout
    document = json.loads(discwright("doctor", "--json").stdout)
    assert document["good"]
    assert [c["name"] for c in document["checks"]] == [
        "versions", "libraries", "solver", "audio", "kernels", "disk", "clock",
    ]  # fmt: skip


def test_every_ill_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doctor, "LIBRARIES", ("numpy", "no-such-library"))
    monkeypatch.setattr(doctor, "_FREE_GIB", 1e9)
    monkeypatch.setattr(doctor, "_MADE", doctor.datetime(9999, 1, 1, tzinfo=doctor.UTC))
    ill = {check.name: check for check in doctor.examine() if not check.good}
    assert set(ill) == {"libraries", "disk", "clock"}
    assert "no-such-library" in ill["libraries"].remedy
    assert all(check.remedy for check in ill.values())


def test_an_ill_machine_is_exit_one_with_the_remedy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doctor, "LIBRARIES", ("numpy", "no-such-library"))
    shown = CliRunner().invoke(app, ["doctor"])
    assert shown.exit_code == 1
    assert [line[:15] for line in shown.stdout.splitlines() if line.startswith("ILL")] == ["ILL   libraries"]
    assert "install no-such-library: make install.\n" in shown.stdout
    told = CliRunner().invoke(app, ["doctor", "--json"])
    assert (told.exit_code, json.loads(told.stdout)["good"]) == (1, False)


def test_it_says_where_the_kernels_are_kept(tmp_path: Path, discwright: Callable[..., Any]) -> None:
    """In the cache of one's choice or, where that cannot be written, in the second choice: no ill either way."""
    (tmp_path / "file").write_text("")
    for cache, kept in (("cache", "cache/discwright/kernels-"), ("file", "discwright-")):
        checks = json.loads(
            discwright("doctor", "--json", XDG_CACHE_HOME=str(tmp_path / cache), TMPDIR=str(tmp_path)).stdout
        )["checks"]
        line = next(check for check in checks if check["name"] == "kernels")
        assert line["good"]
        assert f"{tmp_path}/{kept}" in line["fact"]


def test_no_place_for_the_kernels_is_an_ill(tmp_path: Path, discwright: Callable[..., Any]) -> None:
    (tmp_path / "file").write_text("")
    (tmp_path / f"discwright-{os.getuid()}").write_text("")
    nowhere = {"XDG_CACHE_HOME": str(tmp_path / "file"), "TMPDIR": str(tmp_path)}
    result = discwright("doctor", **nowhere)
    assert result.returncode == 1
    assert f"make {tmp_path}/file/discwright writable, or each start compiles.\n" in result.stdout


def test_a_broken_library_is_a_line_not_a_crash(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> str:
        raise OSError("cannot open shared object file")

    monkeypatch.setattr(doctor.shutil, "disk_usage", broken)
    line = next(check for check in doctor.examine() if check.name == "disk")
    assert not line.good
    assert "cannot open shared object file" in line.fact


def test_kernel_folder_is_named_by_its_source(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    source = tmp_path / "kernels.py"
    source.write_text("one")
    one = kernel_folder(str(source), "1.0")
    assert one == kernel_folder(str(source), "1.0")
    source.write_text("two")
    assert kernel_folder(str(source), "1.0") != one
    assert kernel_folder(str(source), "1.1") != kernel_folder(str(source), "1.0")


def test_an_unwritable_cache_falls_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    folder = kernel_folder(__file__, "1.0")
    assert folder is not None
    assert not str(folder).startswith(str(tmp_path / "file"))
