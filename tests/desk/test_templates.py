"""Every page keeps its contract, escapes what it is given, holds no script, and can be read in both looks."""

from __future__ import annotations

import dataclasses
import re
import typing
from collections.abc import Iterator
from html.parser import HTMLParser
from itertools import combinations, pairwise
from pathlib import Path
from types import UnionType

import pytest
from jinja2 import Environment, meta, nodes

import discwright.desk
from discwright.desk import pages
from discwright.desk.page_parts import JobRow
from discwright.desk.pages import PAGES, JobPart, PatternsPage, context
from discwright.desk.patterns import sample_facts, sample_findings, sample_jobs, sample_options
from discwright.desk.rendering import environment

DESK = Path(discwright.desk.__file__).parent
TEMPLATES = DESK / "templates"
STATIC = DESK / "static"
FILES = sorted(TEMPLATES.rglob("*.html"))
SHEETS = sorted(STATIC.glob("*.css"))
#: What would become markup, or close an attribute, if it were not escaped.
HOSTILE = "<i>\"'&{{x}}"
#: Fields that hold one of a few words, each with a shape of its own.
KNOWN = {"state": "running", "severity": "warn", "shape": "fault-tick"}


def short(path: Path) -> str:
    return path.relative_to(DESK).as_posix()


# Contracts ---------------------------------------------------------------------------------------------


def stored(tree: nodes.Template) -> set[str]:
    """Names that a template sets itself, and so hands on to what it includes."""
    return imported(tree) | {node.name for node in tree.find_all(nodes.Name) if node.ctx == "store"}


def imported(tree: nodes.Template) -> set[str]:
    """Macros and files of macros; a block sees them, though the search for variables does not know that."""
    names = {node.target for node in tree.find_all(nodes.Import)}
    for node in tree.find_all(nodes.FromImport):
        names |= {name[1] if isinstance(name, tuple) else name for name in node.names}
    return names


def asked_for(source: str, env: Environment) -> set[str]:
    """Variables a template takes from its page, those of its base and of what it includes with them."""
    tree = env.parse(source)
    asked = meta.find_undeclared_variables(tree) - imported(tree)
    for node in tree.find_all((nodes.Extends, nodes.Include)):
        assert isinstance(node.template, nodes.Const), "which template it is must stand in the template"
        inner = (TEMPLATES / node.template.value).read_text(encoding="utf-8")
        asked |= asked_for(inner, env) - stored(tree)
    return asked


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.template)
def test_a_template_shows_just_what_its_contract_names(page: type[pages.Page]) -> None:
    source = (TEMPLATES / page.template).read_text(encoding="utf-8")
    assert asked_for(source, environment()) == {field.name for field in dataclasses.fields(page)}


def test_the_contract_check_can_fail() -> None:
    source = '{% extends "job_part.html" %}{% for one in rows %}{{ one }}{% endfor %}'
    assert asked_for(source, environment()) == {"rows", "job"}


@pytest.mark.parametrize("path", sorted((TEMPLATES / "macros").glob("*.html")), ids=short)
def test_macros_read_nothing_but_their_arguments(path: Path) -> None:
    assert asked_for(path.read_text(encoding="utf-8"), environment()) == set()


# Samples of any contract -------------------------------------------------------------------------------


def made(kind: object, full: bool) -> object:
    """A value of a field's kind: everything there and hostile, or everything empty and untrue."""
    if isinstance(kind, type) and dataclasses.is_dataclass(kind):
        hints = typing.get_type_hints(kind)
        return kind(
            **{one.name: KNOWN.get(one.name) or made(hints[one.name], full) for one in dataclasses.fields(kind)}
        )
    if typing.get_origin(kind) is tuple:
        inner = typing.get_args(kind)
        if inner[-1] is Ellipsis:
            return (made(inner[0], True), made(inner[0], False)) if full else ()
        return tuple(made(one, full) for one in inner)
    if isinstance(kind, UnionType):
        return made(typing.get_args(kind)[0], full) if full else None
    plain: dict[object, tuple[object, object]] = {
        str: (HOSTILE, ""),
        bool: (True, False),
        int: (3, 0),
        float: (1.5, 0.0),
    }
    return plain[kind][0 if full else 1]


def drawn(page: pages.Page) -> str:
    return environment().get_template(page.template).render(context(page))


def every_page() -> Iterator[pages.Page]:
    for kind in PAGES:
        for full in (True, False):
            page = made(kind, full)
            assert isinstance(page, kind)
            yield page
    frame = made(pages.Frame, True)
    assert isinstance(frame, pages.Frame)
    for state in ("waiting", "running", "done", "failed", "stopped"):
        yield JobPart(JobRow("a1", HOSTILE, state, HOSTILE, 40, HOSTILE, HOSTILE, "/plans/a1"))
    yield PatternsPage(frame, sample_findings(), sample_jobs(), sample_facts(), sample_options())


class Reading(HTMLParser):
    """Collects what a browser would act on."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.open_script = False
        self.script = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        self.open_script = tag == "script"

    def handle_endtag(self, tag: str) -> None:
        self.open_script = False

    def handle_data(self, data: str) -> None:
        self.script += data.strip() if self.open_script else ""


def read(html: str) -> Reading:
    reading = Reading()
    reading.feed(html)
    return reading


@pytest.mark.parametrize("page", list(every_page()), ids=lambda page: page.template)
def test_a_page_is_drawn_from_anything_and_escapes_it(page: pages.Page) -> None:
    html = drawn(page)
    assert "<i>" not in html
    assert "undefined" not in html.lower()
    reading = read(html)
    assert reading.script == "", "script stands in files, never in the page"
    assert [name for _, attrs in reading.tags for name in attrs if name.startswith("on")] == []
    assert all("src" in attrs for tag, attrs in reading.tags if tag == "script")


def test_the_escape_check_can_fail() -> None:
    assert "<i>" in Environment(autoescape=False).from_string("{{ x }}").render(x=HOSTILE)
    spoiled = read("<p onclick='x'>a</p><script>x()</script>")
    assert spoiled.script == "x()"
    assert "onclick" in spoiled.tags[0][1]


@pytest.mark.parametrize("path", FILES, ids=short)
def test_templates_keep_the_content_policy(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    assert not re.search(r"\|\s*safe\b|autoescape\s+false|javascript:|hx-on|hx-vals=.js:", source)
    # A number is worked out where it is known, not where it is shown.
    sums = [type(node).__name__ for node in environment().parse(source).find_all((nodes.Sub, nodes.Mul, nodes.Div))]
    assert sums == []


@pytest.mark.parametrize("page", list(every_page()), ids=lambda page: page.template)
def test_a_page_has_its_landmarks_and_headings_in_order(page: pages.Page) -> None:
    if isinstance(page, JobPart):
        return
    tags = [tag for tag, _ in read(drawn(page)).tags]
    assert [tags.count(tag) for tag in ("header", "main", "footer", "h1")][1::2] == [1, 1]
    steps = [int(tag[1]) for tag in tags if re.fullmatch(r"h[1-6]", tag)]
    assert steps[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(steps))


def test_only_a_job_that_goes_on_asks_for_itself_again() -> None:
    polls = {
        state: "hx-get" in drawn(JobPart(JobRow("a1", "plan lp side A", state, percent=40)))
        for state in ("waiting", "running", "done", "failed", "stopped")
    }
    assert polls == {"waiting": True, "running": True, "done": False, "failed": False, "stopped": False}


def test_a_running_job_says_step_share_and_time_left() -> None:
    html = drawn(JobPart(JobRow("a1", "plan lp side A", "running", "laying the spiral", 43, "about 12 s")))
    assert "laying the spiral, 43 %, about 12 s left" in html
    nobody_knows = drawn(JobPart(JobRow("a1", "plan lp side A", "running", "laying the spiral", 43)))
    assert "laying the spiral, 43 %<" in nobody_knows


# What the pages point at -------------------------------------------------------------------------------


@pytest.mark.parametrize("page", list(every_page()), ids=lambda page: page.template)
def test_what_a_page_loads_is_shipped(page: pages.Page) -> None:
    shapes = re.findall(r'<symbol id="([^"]+)"', (STATIC / "shapes.svg").read_text(encoding="utf-8"))
    for _, attrs in read(drawn(page)).tags:
        for place in (attrs.get("src", ""), attrs.get("href", "")):
            if place.startswith("/static/shapes.svg#"):
                assert place.split("#")[1] in shapes
            elif place.startswith("/static/"):
                assert (STATIC / place.removeprefix("/static/")).is_file(), place


def test_every_shipped_face_has_its_licence() -> None:
    words = (STATIC / "fonts" / "LICENSES.txt").read_text(encoding="utf-8")
    families = {path.name.split("-latin")[0] for path in (STATIC / "fonts").glob("*.woff2")}
    assert families
    assert [name for name in families if name not in words] == []
    assert "SIL OPEN FONT LICENSE" in words


# The look ----------------------------------------------------------------------------------------------


def tokens(name: str) -> dict[str, str]:
    return dict(re.findall(r"--([\w-]+):\s*([^;]+);", (STATIC / name).read_text(encoding="utf-8")))


LIGHT = tokens("tokens.css")
LOOKS = {"light": LIGHT, "dark": LIGHT | tokens("dark.css")}
GROUNDS = ("paper", "paper-sunk", "paper-raised")


def contrast(one: str, other: str) -> float:
    """Contrast of two colours as #rrggbb, WCAG 2.2, "contrast ratio" and "relative luminance"."""

    def luminance(colour: str) -> float:
        shares = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in shares)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    dark, bright = sorted((luminance(one), luminance(other)))
    return (bright + 0.05) / (dark + 0.05)


def test_contrast_of_black_on_white_is_twenty_one() -> None:
    # Published: WCAG 2.2 gives 21:1 as the greatest. From memory: #767676 on white is the usual example of 4.54:1.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("look", LOOKS)
def test_words_can_be_read_in_both_looks(look: str) -> None:
    # Published: WCAG 2.2, 1.4.3: 4.5:1 for text; 1.4.11: 3:1 for edges of controls, focus, lines with a meaning.
    tone = {name: value for name, value in LOOKS[look].items() if re.fullmatch(r"#[0-9a-f]{6}", value)}
    words = ("ink", "ink-soft", "accent", "stop", "warn", "note", "ready")
    pairs = [(word, ground) for word in words for ground in GROUNDS]
    pairs += [("on-accent", "accent"), ("paper", "ink"), ("ink", "accent-wash"), ("ink-soft", "accent-wash")]
    pairs += [(f"disc-{name}", "disc-ground") for name in ("ink", "mark", "stop", "warn", "note")]
    assert {
        pair: contrast(*(tone[name] for name in pair)) for pair in pairs if contrast(*map(tone.get, pair)) < 4.5
    } == {}
    lines = ["rule-strong", "focus", "line-limit", *(f"line-{n}" for n in range(1, 7))]
    pairs = [(line, ground) for line in lines for ground in GROUNDS]
    assert {pair for pair in pairs if contrast(tone[pair[0]], tone[pair[1]]) < 3.0} == set()


def test_the_dark_look_gives_every_tone_anew() -> None:
    colours = {name for name, value in LIGHT.items() if value.startswith("#") and not name.startswith("disc-")}
    assert set(tokens("dark.css")) == colours


def test_no_two_severities_share_a_shape() -> None:
    symbols = re.findall(
        r'<symbol id="(stop|warn|note|ready)"[^>]*>(.*?)</symbol>', (STATIC / "shapes.svg").read_text()
    )
    assert len(symbols) == 4
    assert all(one[1] != other[1] for one, other in combinations(symbols, 2))


@pytest.mark.parametrize("path", SHEETS, ids=short)
def test_sheets_use_only_known_names(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    known = set(LIGHT) | set(re.findall(r"--([\w-]+):", text)) | {"page"}
    assert set(re.findall(r"var\(--([\w-]+)", text)) <= known
    assert "gradient(" not in text
    assert not re.search(r"url\([\"']?(https?:)?//", text)
