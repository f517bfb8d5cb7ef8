"""The verbs that plan: `plan` for a side, a title or a kept plan, `layout` for the sides of a title."""

from __future__ import annotations

import hashlib
from contextlib import suppress
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from discwright.cli.console import console, print_json, progress, write
from discwright.cli.what_if_verb import is_kept, plan_otherwise, read_changes, refuse_with_kept
from discwright.errors import CallError
from discwright.units import number, seconds

if TYPE_CHECKING:
    from discwright.acts.layout import LayoutReport
    from discwright.acts.recall import Recalled

Name = Annotated[str | None, typer.Option(help="Name in data/, or a TOML file.")]


class Fit(StrEnum):
    """What a fitted level must satisfy."""

    cut = "cut"
    clean = "clean"


def plan(
    file: Annotated[
        str | None,
        typer.Argument(
            metavar="FILE",
            help="The programme of one side, a title file (.toml), or the folder of a kept plan to plan otherwise.",
        ),
    ] = None,
    edition: Annotated[str | None, typer.Option(metavar="ID", help="Of a title: this edition only.")] = None,
    side: Annotated[str | None, typer.Option(metavar="LETTER", help="Of a title: this side only.")] = None,
    format: Annotated[
        str | None,
        typer.Option(
            "--format", help="12in-33 (without the option), 12in-45, 10in-33, 7in-45, 7in-33, or a TOML file."
        ),
    ] = None,
    level: Annotated[
        str | None,
        typer.Option("--level-db", help="Fixed level in dB; without it the highest that nothing stops is found."),
    ] = None,
    fit: Annotated[
        str | None,
        typer.Option(
            metavar="[cut|clean]",
            help="cut (without the option): nothing stops it. clean: the playing tip also traces it cleanly.",
        ),
    ] = None,
    lathe: Name = None,
    head: Name = None,
    cutting_tip: Name = None,
    tip: Annotated[str | None, typer.Option(help="Playing tip: name in data/, or a TOML file.")] = None,
    practice: Annotated[str | None, typer.Option(help="House practice: name in data/, or a TOML file.")] = None,
    house: Annotated[
        Path | None, typer.Option(metavar="SET.toml", help="House set: everything the six options above name.")
    ] = None,
    save_house: Annotated[
        Path | None, typer.Option(metavar="SET.toml", help="Save this plan's settings as a house set.")
    ] = None,
    like: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Take the settings and the level of an old plan.")
    ] = None,
    band: Annotated[
        list[str] | None,
        typer.Option("--band", metavar="START-END", help="Where a band lies, e.g. 0:00-4:31.5; once per band."),
    ] = None,
    treatment: Annotated[
        list[str] | None,
        typer.Option(
            "--treatment",
            metavar="KIND[:HZ]",
            help="Of a kept plan: bass_blend:150, low_cut:30, high_cut:16000 or treble_limit, once for each, in place "
            "of what it was treated with; none for nothing.",
        ),
    ] = None,
    ladder: Annotated[
        bool, typer.Option("--ladder", help="Also say up to what level the side fits, cuts and is traced.")
    ] = False,
    exact: Annotated[bool, typer.Option("--exact", help="Also solve the whole side at once: minutes.")] = False,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Folder to keep plan, sheet and lathe files in.")
    ] = None,
    only: Annotated[
        str | None,
        typer.Option(metavar="LIST", help="With --out: of sheet,gcode,control,svg,removed only these."),
    ] = None,
    calibration: Annotated[
        bool, typer.Option("--calibration", help="Begin the control file with known levels and pitches.")
    ] = False,
    compare: Annotated[
        tuple[Path, Path] | None,
        typer.Option(metavar="DIR_A DIR_B", help="Name every difference between two kept plans instead."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print plan.json.")] = False,
) -> None:
    """The groove of one side: at what level it fits, how every turn lies, what will not cut or not play."""
    if compare is not None:
        _compare(compare, as_json)
        return
    if file is None:
        raise CallError("there is nothing to plan; name an audio file, a title file or a kept plan's folder.")
    if save_house is not None:
        _check_house_place(save_house)
    level_db = None if level is None else number(level, "--level-db")
    clean = _fit(fit or "cut") is Fit.clean
    if level_db is not None and clean:
        raise CallError("--level-db fixes the level and --fit looks for one; give one of the two.")
    if only is not None and out is None:
        raise CallError("--only chooses what --out keeps; give --out DIR as well.")
    if calibration and out is None:
        raise CallError("--calibration is for the control file that --out keeps; give --out DIR as well.")
    extras = None if only is None else tuple(word.strip() for word in only.split(",") if word.strip())
    kinds = {"lathe": lathe, "head": head, "cutting_tip": cutting_tip, "tip": tip, "practice": practice}
    if is_kept(file):
        refuse_with_kept({
            "--edition": edition, "--side": side, "--house": house, "--like": like, "--band": band,
        })  # fmt: skip
        changes = read_changes(level_db, fit, {"format": format, **kinds}, treatment, ladder)
        document, ready = plan_otherwise(file, changes, exact, out, extras, calibration, as_json)
        if save_house is not None:
            _save_house(save_house, document)
        if not ready:
            raise typer.Exit(1)
        return
    if treatment:
        raise CallError("--treatment is for a kept plan's folder; a title file names its own, a bare file has none.")
    if file.endswith(".toml"):
        single = {"--format": format, "--fit": fit, "--house": house, "--like": like, "--band": band}
        for name, given in single.items():
            if given:
                raise CallError(f"{name} is for a single audio file; a title file says that itself.")
        _plan_title(file, edition, side, level_db, kinds, exact, ladder, out, extras, calibration, save_house, as_json)
        return
    if edition or side:
        raise CallError("--edition and --side choose from a title file; name one that ends with .toml.")
    if house is not None and like is not None:
        raise CallError("--house and --like both bring settings; give one of the two.")
    bands = tuple(_band(text) for text in band or [])
    from discwright.acts.plan import plan_file
    from discwright.acts.recall import recall

    with progress(as_json) as tell:
        recalled = recall(file, house, like, {"format": format, **kinds}) if house or like else None
        if recalled is not None:
            _say_changes(recalled)
            level_db = recalled.level_db if level_db is None and fit is None else level_db
            bands = bands or recalled.bands
        report = plan_file(
            file, format=format, level_db=level_db, clean=clean, **kinds, exact=exact, bands=bands,
            setup=recalled.setup if recalled else None, ladder=ladder, out=out, only=extras, calibration=calibration,
            progress=tell,
        )  # fmt: skip
    if save_house is not None:
        _save_house(save_house, report.document)
    if as_json:
        write(report.json)
    else:
        from discwright.cli.show_plan import show_plan

        show_plan(report, console())
    if not report.plan.ready:
        raise typer.Exit(1)


def layout(
    file: Annotated[str | None, typer.Argument(metavar="TITLE.toml", help="A title file.")] = None,
    edition: Annotated[str | None, typer.Option(metavar="ID", help="This edition only.")] = None,
    fix: Annotated[
        int | None,
        typer.Option(
            "--fix", metavar="N", min=1, help="Write the sides of this split of the edition into the title file."
        ),
    ] = None,
    new: Annotated[
        Path | None, typer.Option("--new", metavar="FILE", help="Write a commented title file to start from.")
    ] = None,
    audio: Annotated[
        Path | None,
        typer.Option("--audio", metavar="DIR", help="With --new: a band for each audio file that lies in this folder."),
    ] = None,
    name: Annotated[
        str | None, typer.Option("--name", metavar="TEXT", help="With --audio: what the title is called.")
    ] = None,
    format: Annotated[
        str | None, typer.Option("--format", help="With --audio: format of its edition, 12in-33 without the option.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Which bands on which side of each edition, and the level that each side then reaches."""
    if new is not None:
        _new_title(new, audio, name, format, as_json)
        return
    for option, given in (("--audio", audio), ("--name", name), ("--format", format)):
        if given is not None:
            raise CallError(f"{option} is for a new title file; give --new FILE as well.")
    if fix is not None and file is not None:
        _check_one_disc(file, edition)
    if file is None:
        raise CallError("there is no title to lay out; name its file, or write one with --new FILE.")
    from discwright.acts.layout import layout as lay_out

    seen = None if fix is None else _sha256(file)
    with progress(as_json) as tell:
        report = lay_out(file, edition=edition, progress=tell)
    if as_json:
        print_json(report.as_dict())
    else:
        from discwright.cli.show_layout import show_layout

        show_layout(report, console())
    if fix is not None:
        _fix_sides(file, report, fix, seen)
    if not report.complete:
        raise typer.Exit(1)


def _check_one_disc(file: str, edition: str | None) -> None:
    """Refuse to fix the sides of several editions at once, before minutes are spent on their layout."""
    from discwright.acts.layout import choose_editions
    from discwright.files.title import load_title
    from discwright.programme.title import TAPE

    if sum(one.format != TAPE for one in choose_editions(load_title(Path(file)), edition)) != 1:
        raise CallError("--fix writes the sides of one edition on disc; choose it with --edition.")


def _sha256(file: str) -> str | None:
    """Of a title file as it is laid out; what cannot be read is refused by who reads it."""
    with suppress(OSError):
        return hashlib.sha256(Path(file).read_bytes()).hexdigest()
    return None


def _fix_sides(file: str, report: LayoutReport, number: int, seen: str | None) -> None:
    """Write one of the splits shown into the title file, unless that has changed meanwhile."""
    from discwright.files.title_edit import fix_sides
    from discwright.programme.title import TAPE, SideOrder

    (disc,) = (one for one in report.editions if one.edition.format != TAPE)
    if number > len(disc.candidates):
        raise CallError(f"--fix: edition “{disc.edition.id}” has no split {number}; choose one that is shown.")
    best = disc.candidates[number - 1]
    sides = [SideOrder(letter, bands) for letter, bands in zip(best.letters, best.split, strict=True)]
    fix_sides(file, disc.edition.id, sides, seen)
    typer.echo(f"fixed     {file}: edition {disc.edition.id}, sides {', '.join(best.letters)}", err=True)


def _new_title(new: Path, audio: Path | None, name: str | None, format: str | None, as_json: bool) -> None:
    """A commented title file, or one for the audio in a folder."""
    for option, given in (("--name", name), ("--format", format)):
        if given is not None and audio is None:
            raise CallError(f"{option} is for a title of the audio in a folder; give --audio DIR as well.")
    if audio is None:
        from discwright.files.title_starter import write_starter

        write_starter(new)
        then = "fill it in, then"
    else:
        from discwright.acts.new_title import new_title

        new_title(audio, audio.resolve().name if name is None else name, format=format or "12in-33", path=new)
        then = "look it over, then"
    if not as_json:
        console().print(f"written   {new}: {then} `discwright layout {new}`", soft_wrap=True)


def _plan_title(
    file: str, edition: str | None, side: str | None, level_db: float | None, kinds: dict[str, str | None],
    exact: bool, ladder: bool, out: Path | None, extras: tuple[str, ...] | None, calibration: bool,
    save_house: Path | None, as_json: bool,
) -> None:  # fmt: skip
    from discwright.acts.title import Choice, changes, check_one_edition, plan_title
    from discwright.files.plans import plan_json

    choice = Choice(edition=edition, side=side, level_db=level_db, exact=exact, ladder=ladder, **kinds)
    if save_house is not None:
        check_one_edition(file, choice)
    if any(kinds.values()):
        for item in changes(file, choice):
            typer.echo(f"changes   {item.key}: {item.old} → {item.new}", err=True)
    with progress(as_json) as tell:
        sides = plan_title(file, choice, out=out, only=extras, calibration=calibration, progress=tell)
    if save_house is not None:
        _save_house(save_house, sides[0].document)
    if as_json and edition is not None and side is not None:
        write(plan_json(sides[0].document))
    elif as_json:
        write(plan_json({"sides": [one.document for one in sides]}))
    else:
        from discwright.cli.show_plan import show_side

        for one in sides:
            show_side(one, console())
    if not all(one.plan.ready for one in sides):
        raise typer.Exit(1)


def _compare(folders: tuple[Path, Path], as_json: bool) -> None:
    from discwright.files.compare import compare, read_plan

    found = compare(read_plan(folders[0]), read_plan(folders[1]))
    if as_json:
        print_json(found.as_dict())
    else:
        from discwright.cli.show_compare import show_compare

        show_compare(found, console())


def _say_changes(recalled: Recalled) -> None:
    """Before anything is computed: what is otherwise than in the settings that were taken over."""
    from discwright.files.house import differences

    for item in differences(recalled.base, recalled.setup):
        typer.echo(f"changes   {item.key}: {item.old} → {item.new}", err=True)
    if recalled.treatments:
        typer.echo(
            f"changes   treatments: {', '.join(recalled.treatments)} → none, a bare file is cut as it is", err=True
        )


def _check_house_place(path: Path) -> None:
    """Refuse a place where no house set can be written, before anything is planned."""
    if path.is_dir() or not path.parent.is_dir():
        raise CallError(f"{path}: cannot be written as a house set; name a file in a folder that is there.")


def _save_house(path: Path, document: dict[str, object]) -> None:
    from discwright.files.house import save_house

    save_house(path, document)
    typer.echo(f"house set {path}", err=True)


def _fit(text: str) -> Fit:
    try:
        return Fit(text)
    except ValueError:
        raise CallError(f"--fit: there is no “{text}”; write {' or '.join(Fit)}.") from None


def _band(text: str) -> tuple[float, float]:
    start, dash, end = text.partition("-")
    if not dash:
        raise CallError(f"--band: “{text}” names no end; write for example 0:00-4:31.5.")
    return seconds(start, "--band"), seconds(end, "--band")
