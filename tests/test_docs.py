"""Undocumented is untested: every verb, option and finding is named on the page where a person looks it up."""

from __future__ import annotations

import ast
import re
import tomllib
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import typer

from discwright.acts.doctor import examine
from discwright.acts.keep import EXTRAS
from discwright.acts.layout import EditionLayout, layout
from discwright.acts.plan import plan_file
from discwright.acts.proof import proof
from discwright.acts.survey import survey
from discwright.acts.title import Choice, plan_title
from discwright.acts.tone import tone_bench
from discwright.cli.main import app
from discwright.files.compare import compare
from discwright.files.lathe_control import CALIBRATION_STEPS
from discwright.files.plans import COLUMNS, CONTROL_SCALE, KEPT_FILES
from discwright.files.settings import KINDS, shipped
from discwright.files.title import KEYS as TITLE_KEYS
from discwright.files.title import load_title
from discwright.files.title_starter import STARTER
from discwright.findings import Finding
from discwright.groove.cues import CUE_KINDS
from discwright.groove.equipment import file_keys
from discwright.groove.passage import EFFECTS
from discwright.groove.preflight import MARGINS
from discwright.programme.title import LEVEL_WORDS, TAPE, TREATMENTS

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "discwright"
DOCS = ROOT / "docs"

COMMAND = typer.main.get_command(app)
VERBS = tuple(COMMAND.commands)  # type: ignore[attr-defined]


def commands_of(verb: str) -> dict[str, Any]:
    """A verb, or every verb below it with the words that lead there."""

    def below(path: str, command: Any) -> dict[str, Any]:
        if not hasattr(command, "commands"):
            return {path: command}
        return {k: v for name, one in command.commands.items() for k, v in below(f"{path} {name}", one).items()}

    return below(verb, COMMAND.commands[verb])  # type: ignore[attr-defined]


def options_of(verb: str) -> list[str]:
    parameters = [parameter for command in commands_of(verb).values() for parameter in command.params]
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
    assert [path for path in (verb, *commands_of(verb)) if not mentions(text, f"discwright {path}")] == []
    assert [option for option in options_of(verb) if not mentions(text, option)] == []


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_and_option_says_what_it_is_for(verb: str) -> None:
    for path, command in commands_of(verb).items():
        assert command.help, path
        assert [f"{path} {parameter.name}" for parameter in command.params if not parameter.help] == []


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
            known_paths = commands_of(words[1]) if words[1] in VERBS else {words[1]: None}
            spoken = " ".join(words[1:])
            assert "VERB" in words or any(f"{spoken} ".startswith(f"{one} ") for one in known_paths), (
                f"{path.name}: {line}"
            )
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


def key_tables(text: str) -> dict[str, set[str]]:
    """Of the page's table of keys: each table of the title file, and what stands in its rows in `back quotes`."""
    found: dict[str, set[str]] = {}
    table = ""
    for head, keys in re.findall(r"^\| (?:`\[+([a-z.]+)\]+`)? ?\| (`[^|]+) \|", text, re.MULTILINE):
        table = head.rpartition(".")[2] or table
        found.setdefault(table, set()).update(re.findall(r"`(\w+)`", keys))
    return found


def test_every_key_of_a_title_file_is_explained_and_in_the_starter() -> None:
    rows = key_tables(page("title.md"))
    assert rows == {table: set(keys) for table, keys in TITLE_KEYS.items() if table}
    assert rows.keys() >= set(TITLE_KEYS[""])
    assert [key for keys in TITLE_KEYS.values() for key in keys if not mentions(STARTER, key)] == []
    words = (*TREATMENTS, *LEVEL_WORDS, TAPE)
    assert [word for word in words if not mentions(page("title.md"), word) or not mentions(STARTER, word)] == []


def test_the_search_for_keys_tells_the_tables_apart() -> None:
    rows = key_tables("| `[title]` | `name` | x |\n| | `a_hz`, `b` | y |\n| `[[edition.side]]` | `name` | z |\n")
    assert rows == {"title": {"name", "a_hz", "b"}, "side": {"name"}}  # by hand


def test_the_example_of_a_title_file_is_one(tmp_path: Path) -> None:
    for name in ("reel-1.wav", "reel-2.wav"):
        soundfile.write(tmp_path / name, np.zeros(280 * 44_100, dtype=np.int16), 44_100, subtype="PCM_16")
    lines = page("title.md").partition("## Keys")[0].splitlines()
    place = tmp_path / "title.toml"
    place.write_text("\n".join(line[4:] for line in lines if line.startswith("    ")), encoding="utf-8")
    title = load_title(place)
    assert [band.id for band in title.bands] == ["mooring", "glass-and-tin"]
    assert [len(edition.sides) for edition in title.editions] == [0, 2]


def test_every_file_that_is_kept_is_explained() -> None:
    text = page("commands.md")
    assert [word for word in (*EXTRAS, *KEPT_FILES) if not mentions(text, word)] == []
    told = page("lathe-files.md") + "plan.json spiral.csv disc.png"  # of these the commands page says what they hold
    assert [name for name in KEPT_FILES if not mentions(told, name)] == []


def test_every_key_of_a_control_file_is_explained(side: Path, tmp_path: Path) -> None:
    plan_file(
        side, level_db=0.0, bands=((0.0, 11.0), (13.0, 25.0)), out=tmp_path / "plan", only=("control",),
        calibration=True,
    )  # fmt: skip
    written = tomllib.loads((tmp_path / "plan" / CONTROL_SCALE).read_text(encoding="utf-8"))
    keys = keys_in(written)
    assert {"cue_pulse", "tone_hz", "at_frame", "fingerprint", "band"} <= keys
    assert [key for key in sorted(keys) if not mentions(page("lathe-files.md"), key)] == []


def test_every_margin_cue_and_step_of_the_calibration_is_explained() -> None:
    text = page("lathe-files.md")
    assert [word for word in (*MARGINS, *CUE_KINDS) if f"`{word}`" not in text] == []
    steps = re.findall(r"^\| \d \| ([\d.]+)(?: µm)? \| ([\d.]+)(?: µm)? \|$", text, re.MULTILINE)
    told = [(float(pitch), float(depth)) for pitch, depth in steps]
    assert told == [(round(pitch * 1e6, 6), round(depth * 1e6, 6)) for pitch, depth in CALIBRATION_STEPS]


def test_every_key_of_a_comparison_is_explained(side: Path) -> None:
    old, new = (plan_file(side, level_db=level).document for level in (0.0, 1.0))
    keys = set(compare(old, new).as_dict()).union(*({"old", "new", "change"}, compare(old, new).as_dict()["findings"]))
    assert {"alike", "fingerprint", "level_db", "gained"} <= keys
    text = page("commands.md").partition("### `--compare`")[2].partition("\n## ")[0]
    assert [key for key in sorted(keys) if f"`{key}`" not in text] == []


def test_every_key_and_effect_of_a_proof_is_explained(side: Path, tmp_path: Path) -> None:
    plan_file(side, level_db=6.0, out=tmp_path / "plan", only=())
    heard = proof(tmp_path / "plan", tips=("spherical-18", "none"), end=3.0).as_dict()
    bench = tone_bench(1000.0, 0.05, 0.06, 18e-6, "lateral").as_dict()
    keys = keys_in(heard) | keys_in(bench)
    assert {"median_distortion_percent", "octaves_hz", "fundamental_gain", "velocity_percent"} <= keys
    text = page("commands.md").partition("## discwright proof")[2].partition("\n## discwright demo")[0]
    assert [word for word in (*sorted(keys), *EFFECTS) if f"`{word}`" not in text] == []


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
    found = layout(title)
    broken = EditionLayout(found.editions[0].edition, (), ("A remark.",), (("a", 1.0, -40.0),))
    keys = keys_in(report.document) | keys_in(found.as_dict()) | keys_in(broken.as_dict())
    assert {"ladder", "prices", "treatments", "inner_worry", "level_dbfs"} <= keys
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


def test_every_word_of_the_glossary_says_what_not_to_say() -> None:
    entries = re.split(r"^- \*\*", (ROOT / "GLOSSARY.md").read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]
    assert len(entries) > 80
    assert [entry.splitlines()[0] for entry in entries if "\n  *Avoid:* " not in entry] == []
    words = [entry.partition("**")[0] for entry in entries]
    assert sorted({word for word in words if words.count(word) > 1}) == []


def test_decisions_are_counted_through_and_of_one_form() -> None:
    places = sorted((DOCS / "decisions").glob("*.md"))
    assert [int(place.name[:4]) for place in places] == list(range(1, len(places) + 1))
    for place in places:
        text = place.read_text(encoding="utf-8")
        assert text.startswith(f"# {place.name[:4]}. "), place.name
        assert re.findall(r"^## (.+)$", text, re.MULTILINE) == ["Context", "Decision", "Consequences"], place.name


def test_every_link_leads_somewhere() -> None:
    places = [*ROOT.glob("*.md"), *DOCS.rglob("*.md")]
    links = [
        (place, link.partition("#")[0])
        for place in places
        for link in re.findall(r"\]\(([^)\s]+)\)", place.read_text(encoding="utf-8"))
        if not link.startswith(("https://", "#"))
    ]
    assert len(links) > 20
    assert [f"{place.name}: {link}" for place, link in links if not (place.parent / link).exists()] == []
