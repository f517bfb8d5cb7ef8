"""The house rules that no other tool holds: module size, silence, docstrings, units worn, sources given."""

from __future__ import annotations

import ast
import json
import re
import tomllib
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from discwright.acts.plan import plan_file
from discwright.acts.proof import proof
from discwright.files.settings import KINDS
from discwright.findings import Finding
from discwright.groove.equipment import file_keys
from discwright.units import TO_SI

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "discwright"
MODULES = sorted(SOURCE.rglob("*.py"))
SPOKEN = [path for path in MODULES if path.parent.name in ("groove", "programme", "files", "acts")]

#: Lines in a module: 100 to 400 are the aim, this is where it is split.
MOST_LINES = 450
#: Keys of files that hold a word, a count or a ratio, or group others.
BARE_KEYS = {
    "shape", "sectors_per_turn", "name",
    "fingerprint", "version", "spiral_sha256", "programme", "path", "sha256", "frames", "format", "settings",
    "lathe", "head", "cutting_tip", "tip", "practice", "bands", "solver", "turns", "mean_lines_per_inch", "exact",
    "findings", "warp_waves", "pieces", "first_frame", "gap_frames", "audible_faults_max",
    "code", "severity", "band", "turn", "value", "limit", "unit", "remedy", "ready", "accepted", "part", "seq",
}  # fmt: skip


def short(path: Path) -> str:
    return path.relative_to(SOURCE).as_posix()


def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", MODULES, ids=short)
def test_a_module_can_be_read_in_one_sitting(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_LINES


@pytest.mark.parametrize("path", MODULES, ids=short)
def test_a_module_says_what_it_is(path: Path) -> None:
    words = ast.get_docstring(tree(path)) or ""
    assert len(words) > 20
    assert words.splitlines()[0].endswith((".", ":")), "the first line is a sentence"


def says(node: ast.AST) -> bool:
    """A call that speaks to the terminal: `print`, or anything of `sys.stdout` and `sys.stderr`."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        return node.func.id in ("print", "input", "breakpoint")
    return isinstance(node, ast.Attribute) and ast.unparse(node) in ("sys.stdout", "sys.stderr")


@pytest.mark.parametrize("path", [p for p in MODULES if p.parent.name not in ("cli", "files")], ids=short)
def test_only_the_command_line_speaks(path: Path) -> None:
    assert [node.lineno for node in ast.walk(tree(path)) if says(node)] == []  # type: ignore[attr-defined]


def public_functions(path: Path) -> Iterator[ast.FunctionDef]:
    for node in tree(path).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node


def arguments_of(function: ast.FunctionDef) -> list[str]:
    a = function.args
    return [arg.arg for arg in (*a.posonlyargs, *a.args, *a.kwonlyargs, a.vararg, a.kwarg) if arg is not None]


def unnamed(function: ast.FunctionDef) -> list[str]:
    """Arguments that the docstring passes over; of a single argument, its type says enough."""
    words, names = ast.get_docstring(function) or "", arguments_of(function)
    return [name for name in names if len(names) > 1 and not re.search(rf"\b{name}\b", words)]


# Compiled loops share the conventions at the head of their module.
@pytest.mark.parametrize("path", [p for p in SPOKEN if p.name != "kernels.py"], ids=short)
def test_public_functions_name_their_arguments(path: Path) -> None:
    functions = list(public_functions(path))
    assert [f.name for f in functions if not ast.get_docstring(f)] == []
    silent = {f.name: unnamed(f) for f in functions if unnamed(f)}
    assert silent == {}


def test_the_docstring_check_can_fail() -> None:
    bad, good = ast.parse('def f(a, depth):\n "About a."\ndef g(a, depth):\n "a, depth: m"').body
    assert isinstance(bad, ast.FunctionDef)
    assert isinstance(good, ast.FunctionDef)
    assert (unnamed(bad), unnamed(good)) == (["depth"], [])
    assert says(ast.parse("print(1)", mode="eval").body)


# Numba reads no types.
@pytest.mark.parametrize("path", [p for p in MODULES if p.name != "kernels.py"], ids=short)
def test_every_argument_and_result_is_typed(path: Path) -> None:
    bare = [
        f"{node.name}({arg.arg})" if arg else f"{node.name} ->"
        for node in ast.walk(tree(path))
        if isinstance(node, ast.FunctionDef)
        for arg in (*(a for a in node.args.args + node.args.kwonlyargs if a.annotation is None), None)
        if (arg is None and node.returns is None) or (arg is not None and arg.arg not in ("self", "cls"))
    ]
    assert bare == []


def test_every_pure_module_of_the_works_is_kept_pure() -> None:
    """All of `works/` but the store stands in the contract that forbids databases, files, clocks and faces."""
    tables = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    contracts = tables["tool"]["importlinter"]["contracts"]
    named = next(one["source_modules"] for one in contracts if one["name"].startswith("The rules of the works"))
    pure = {f"discwright.works.{path.stem}" for path in (SOURCE / "works").glob("[a-z]*.py")}
    assert set(named) == pure


# Units and sources -------------------------------------------------------------------------------------


def wears_a_unit(key: str) -> bool:
    return any(key.endswith(f"_{unit}") for unit in TO_SI)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_key_of_a_settings_file_wears_its_unit(kind: Any) -> None:
    assert [key for key in file_keys(kind) if not wears_a_unit(key) and key not in BARE_KEYS] == []


@pytest.mark.parametrize("path", sorted((SOURCE / "data").glob("*.toml")), ids=lambda path: path.name)
def test_every_shipped_value_names_its_source(path: Path) -> None:
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    assert tables
    for name, table in tables.items():
        for key, entry in table.items():
            assert set(entry) == {"value", "source"}, f"[{name}] {key}"
            assert len(entry["source"]) > 5, f"[{name}] {key}"


def keys_in(value: Any) -> set[str]:
    if isinstance(value, dict):
        return set(value).union(*(keys_in(inner) for inner in value.values()))
    return set().union(*(keys_in(inner) for inner in value)) if isinstance(value, list) else set()


def test_every_key_of_a_proof_wears_its_unit(side: Path, tmp_path: Path) -> None:
    plan_file(side, level_db=6.0, out=tmp_path / "plan", only=())
    keys = keys_in(proof(tmp_path / "plan", end=3.0).as_dict())
    bare = BARE_KEYS | {"player", "effects", "tips", "audio", "difference", "picture", "spots", "seconds"}
    assert {"worst_distortion_percent", "octave_hz"} <= keys
    assert sorted(key for key in keys if not wears_a_unit(key) and key not in bare) == []


def test_every_key_of_a_plan_wears_its_unit(side: Path) -> None:
    document = json.loads(plan_file(side, level_db=12.0, bands=((0.0, 11.0), (13.0, 25.0))).json)
    keys = keys_in(document) | {f.name for f in fields(Finding)}
    assert {"radius_mm", "start_s", "pitch_slew_um_per_turn", "traverse_max_mm_s"} <= keys
    assert sorted(key for key in keys if not wears_a_unit(key) and key not in BARE_KEYS) == []
