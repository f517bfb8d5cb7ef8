"""Undocumented is untested: every verb, option and finding is named on the page where a person looks it up."""

from __future__ import annotations

import ast
import re
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import typer

from discwright.acts.doctor import examine
from discwright.acts.keep import EXTRAS
from discwright.acts.layout import layout
from discwright.acts.plan import plan_file
from discwright.acts.survey import survey
from discwright.acts.title import Choice, plan_title
from discwright.cli.main import app
from discwright.files.plans import COLUMNS, KEPT_FILES
from discwright.files.settings import KINDS, shipped
from discwright.files.title import KEYS as TITLE_KEYS
from discwright.files.title_starter import STARTER
from discwright.findings import Finding
from discwright.groove.equipment import file_keys
from discwright.programme.title import TREATMENTS

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "discwright"
DOCS = ROOT / "docs"

COMMAND = typer.main.get_command(app)
VERBS = tuple(COMMAND.commands)  # type: ignore[attr-defined]


def options_of(verb: str) -> list[str]:
    parameters = COMMAND.commands[verb].params  # type: ignore[attr-defined]
    return [option for parameter in parameters for option in parameter.opts if option.startswith("--")]


def finding_codes() -> dict[str, str]:
    """Every code that can stand in a finding, and the module it comes from, as the source has them."""
    codes: dict[str, str] = {}
    for path in sorted(SOURCE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            for constant in _code_of(node):
                if isinstance(constant, ast.Constant) and constant.value:
                    codes.setdefault(str(constant.value), path.stem)
    return codes


def _code_of(node: ast.AST) -> list[ast.expr]:
    """The code in `finding("code", …)`, `Finding("code", …)`, `replace(note, code="code")`, and in the head's table."""
    if isinstance(node, ast.FunctionDef) and node.name == "_head_loads":
        rows = [inner for inner in ast.walk(node) if isinstance(inner, ast.Tuple) and len(inner.elts) == 6]
        return [row.elts[0] for row in rows]
    if not isinstance(node, ast.Call):
        return []
    name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
    named = [keyword.value for keyword in node.keywords if keyword.arg == "code"]
    return named + (node.args[:1] if name in ("finding", "Finding") else [])


CODES = finding_codes()


@cache
def page(name: str) -> str:
    return (DOCS / name).read_text(encoding="utf-8")


def mentions(text: str, word: str) -> bool:
    """The whole word: `--fit` is not named by `--fitted`, nor `depth` by `depth_min_um`."""
    return re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", text) is not None


def test_a_word_within_a_word_is_no_mention() -> None:
    assert mentions("`--fit clean`, see depth.", "--fit")
    assert not mentions("--fitted and pre--fit", "--fit")
    assert not mentions("depth_min_um", "depth")


def test_the_search_for_codes_finds_them() -> None:
    """by hand: the checks of a cut (DESIGN 6) and one of each way a finding is written."""
    assert CODES.keys() >= {
        "radius", "slope", "head_velocity", "head_acceleration", "head_heat", "depth", "land", "curvature",
        "sibilance", "vertical_bass", "echo", "mono", "short", "quiet", "over_full_scale", "clipped",
    }  # fmt: skip
    assert all(re.fullmatch(r"[a-z]+(_[a-z]+)*", code) for code in CODES)


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_and_option_is_in_the_commands_page(verb: str) -> None:
    text = page("commands.md")
    assert mentions(text, f"discwright {verb}")
    assert [option for option in options_of(verb) if not mentions(text, option)] == []


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_and_option_says_what_it_is_for(verb: str) -> None:
    command = COMMAND.commands[verb]  # type: ignore[attr-defined]
    assert command.help
    assert [parameter.name for parameter in command.params if not parameter.help] == []


@pytest.mark.parametrize("code", CODES)
def test_every_finding_is_explained(code: str) -> None:
    assert mentions(page("findings.md"), code), f"{code} ({CODES[code]}.py) is not in docs/findings.md"


def test_the_page_explains_no_finding_that_is_gone() -> None:
    """Codes stand in `back quotes` at the head of their entry or row."""
    heads = re.findall(r"^(?:#+\s*|\|\s*|[-*]\s+)`([a-z]+(?:_[a-z]+)*)`", page("findings.md"), re.MULTILINE)
    assert set(heads) <= set(CODES) | _equipment_keys()


def _equipment_keys() -> set[str]:
    return {key for kind in KINDS for key in file_keys(kind)}


def test_no_page_names_a_verb_or_option_that_is_not_there() -> None:
    known = {"--help", "--version", *(option for verb in VERBS for option in options_of(verb))}
    for path in sorted([*ROOT.glob("*.md"), *DOCS.rglob("*.md")]):
        for line in re.findall(r"^(?:\$ )?discwright .*$", path.read_text(encoding="utf-8"), re.MULTILINE):
            words = line.removeprefix("$ ").split()
            assert words[1] in (*VERBS, "--help", "--version"), f"{path.name}: {line}"
            wrong = [word for word in words if word.startswith("--") and word.partition("=")[0] not in known]
            assert wrong == [], f"{path.name}: {line}"


def test_the_help_of_plan_names_every_shipped_format() -> None:
    help_text = next(p.help for p in COMMAND.commands["plan"].params if p.name == "format")  # type: ignore[attr-defined]
    formats = next(kind for kind, (word, _, _) in KINDS.items() if word == "format")
    assert [name for name in shipped(formats) if name not in help_text] == []


def test_the_columns_wear_their_units() -> None:
    assert [c for c in COLUMNS.split(",") if not re.search(r"_(s|mm|um|mm_s)$", c)] == ["turn", "zone"]


def keys_in(value: object) -> set[str]:
    if isinstance(value, dict):
        return set(value).union(*(keys_in(inner) for inner in value.values()))
    return set().union(*(keys_in(inner) for inner in value)) if isinstance(value, list) else set()


def test_every_key_that_is_printed_is_explained(side: Path) -> None:
    """Of a plan and of a survey; what a plan repeats of the equipment's files stands in their page."""
    plan = plan_file(side, level_db=12.0, bands=((0.0, 11.0), (13.0, 25.0))).document
    read = survey(side).as_dict()
    equipment = page("equipment.md")
    keys = keys_in(plan) | keys_in(read) | {f.name for f in fields(Finding)}
    assert {"spiral_sha256", "start_s", "true_peak_dbtp"} <= keys
    unnamed = [key for key in sorted(keys) if not mentions(page("commands.md"), key)]
    assert [key for key in unnamed if not mentions(equipment, key)] == []
    assert set(unnamed) <= _equipment_keys()


def test_every_key_of_a_title_file_is_explained_and_in_the_starter() -> None:
    for table, keys in TITLE_KEYS.items():
        for key in keys:
            assert mentions(page("title.md"), key), f"[{table}] {key}"
            assert mentions(STARTER, key), f"[{table}] {key}"
    assert [kind for kind in TREATMENTS if not mentions(page("title.md"), kind)] == []


def test_every_file_that_is_kept_is_explained() -> None:
    text = page("commands.md")
    assert [word for word in (*EXTRAS, *KEPT_FILES) if not mentions(text, word)] == []


def test_every_kind_of_treatment_and_extra_is_there_to_be_missed() -> None:
    assert not mentions(page("title.md"), "bass_bland")
    assert len(EXTRAS) == 5


def test_every_key_of_a_titles_side_and_a_layout_is_explained(side: Path, tmp_path: Path) -> None:
    """A side with everything a plan can hold: ladder, treatment, an accepted finding; and its layout."""
    title = tmp_path / "title.toml"
    title.write_text(
        f"""
        [title]
        name = "A"
        [[band]]
        id = "a"
        name = "A"
        file = "{side}"
        [[edition]]
        id = "lp"
        format = "12in-33"
        level = 0.0
        [[edition.side]]
        letter = "A"
        bands = ["a"]
        [[edition.side.treatment]]
        kind = "low_cut"
        below_hz = 40.0
        [[edition.side.accepted]]
        code = "nothing_to_accept"
        reason = "to see it told"
        """,
        encoding="utf-8",
    )
    (report,) = plan_title(title, Choice(ladder=True))
    keys = keys_in(report.document) | keys_in(layout(title).as_dict())
    assert {"ladder", "prices", "treatments", "inner_worry"} <= keys
    known = page("commands.md") + page("equipment.md") + page("title.md")
    assert [key for key in sorted(keys) if not mentions(known, key)] == []


def test_every_column_and_zone_of_the_spiral_is_explained(side: Path) -> None:
    zones = set(plan_file(side, level_db=0.0, bands=((0.0, 11.0), (13.0, 25.0))).plan.rows.zone.tolist())
    assert zones == {"lead_in", "fine", "music", "join", "lead_out", "stop"}
    text = page("commands.md")
    assert [word for word in (*COLUMNS.split(","), *zones) if not mentions(text, word)] == []


def test_every_line_of_the_doctor_is_explained() -> None:
    text = page("commands.md")
    assert [check.name for check in examine() if f"| {check.name} |" not in text] == []


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_shipped_entry_and_its_keys_are_named(kind: Any) -> None:
    text = page("equipment.md") + page("commands.md")
    assert [word for word in (*shipped(kind), *file_keys(kind)) if not mentions(text, word)] == []


def test_every_exit_code_is_explained() -> None:
    """0, 1 and 2 of DESIGN 8, and what a shell makes of Ctrl-C."""
    assert re.findall(r"^\| (\d+) \|", page("commands.md"), re.MULTILINE) == ["0", "1", "2", "130"]
