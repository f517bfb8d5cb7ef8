"""The verbs that plan: `plan` for a side or a title, `layout` for the sides of a title."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from discwright.cli.console import console, print_json, progress, write
from discwright.errors import CallError
from discwright.units import number, seconds

if TYPE_CHECKING:
    from discwright.acts.recall import Recalled

Name = Annotated[str | None, typer.Option(help="Name in data/, or a TOML file.")]


class Fit(StrEnum):
    """What a fitted level must satisfy."""

    cut = "cut"
    clean = "clean"


def plan(
    file: Annotated[
        str | None, typer.Argument(metavar="FILE", help="The programme of one side, or a title file (.toml).")
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
        raise CallError("there is nothing to plan; name an audio file or a title file.")
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
    new: Annotated[
        Path | None, typer.Option("--new", metavar="FILE", help="Write a commented title file to start from.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Which bands on which side of each edition, and the level that each side then reaches."""
    if new is not None:
        from discwright.files.title_starter import write_starter

        write_starter(new)
        if not as_json:
            console().print(f"written   {new}: fill it in, then `discwright layout {new}`", soft_wrap=True)
        return
    if file is None:
        raise CallError("there is no title to lay out; name its file, or write one with --new FILE.")
    from discwright.acts.layout import layout as lay_out

    with progress(as_json) as tell:
        report = lay_out(file, edition=edition, progress=tell)
    if as_json:
        print_json(report.as_dict())
    else:
        from discwright.cli.show_layout import show_layout

        show_layout(report, console())
    if not report.complete:
        raise typer.Exit(1)


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
