"""The command line: `discwright VERB`; exit code 0 ready, 1 a stop finding, 2 a wrong call or broken file."""

from __future__ import annotations

import os
import signal
import sys
from io import TextIOWrapper
from pathlib import Path
from typing import Annotated, NoReturn, cast

import typer

from discwright import __version__
from discwright.cli.air_verb import air
from discwright.cli.chain_verb import chain
from discwright.cli.console import console, ctrl_c, print_json, progress
from discwright.cli.desk_verb import desk
from discwright.cli.gauge_verb import gauge
from discwright.cli.inspect_verb import inspect
from discwright.cli.locate_verb import locate
from discwright.cli.pack_verb import pack
from discwright.cli.plan_verbs import layout, plan
from discwright.cli.plate_verb import plate
from discwright.cli.press_verb import press
from discwright.cli.proof_verb import proof
from discwright.cli.sample_verb import sample
from discwright.cli.works_verbs import works
from discwright.errors import DiscwrightError, TitleError

app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Plans the cut of a record: from the approved programme to a tight, provable spiral.",
)


#: What Typer raises for a call it cannot read; the base of the one such class it exports.
_WrongCall = cast("type[typer.BadParameter]", typer.BadParameter.__base__)
_INTERRUPTED = 130
_STOPPED = "stopped; nothing unfinished was kept."


def run() -> NoReturn:
    """Run the command line; a refusal is one sentence on standard error and exit code 2."""
    ctrl_c.listen()
    _open_streams()
    try:
        code = app(sys.argv[1:] or ["--help"], prog_name="discwright", standalone_mode=False)
        sys.stdout.flush()
    except TitleError as trouble:
        _leave(2, *trouble.faults)
    except DiscwrightError as trouble:
        _leave(2, str(trouble))
    except _WrongCall as trouble:
        _leave(2, _wrong_call(trouble))
    except (BrokenPipeError, SystemExit):
        # The reader of our output has gone, and so has any reason to complain (Typer makes it an exit).
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(0) from None
    except OSError as trouble:
        place = f"{trouble.filename}: " if trouble.filename else ""
        _leave(2, f"{place}{trouble.strerror or trouble}; check the path and the disk.")
    except (KeyboardInterrupt, typer.Abort):
        code = _INTERRUPTED
    except Exception as trouble:
        if ctrl_c.pressed is None:
            raise
        _leave(2, str(trouble))  # what a library made of Ctrl-C
    if code == _INTERRUPTED:  # Typer makes this of Ctrl-C
        _leave(code, _STOPPED)
    raise SystemExit(code or 0)


def _open_streams() -> None:
    """Both streams ready for any text: also where a name has no encoding, or whoever started us closed one."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w"))  # noqa: SIM115
        elif isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _leave(code: int, *sentences: str) -> NoReturn:
    if ctrl_c.pressed is not None:  # whatever went wrong, went wrong because of it
        code, sentences = _INTERRUPTED, (_STOPPED,)
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # pressed again it changes nothing
    for sentence in sentences:
        print("discwright:", " ".join(sentence.splitlines()), file=sys.stderr)  # noqa: T201
    raise SystemExit(code) from None


def _wrong_call(trouble: typer.BadParameter) -> str:
    """Typer's own refusal as one sentence that says where to read on."""
    words = trouble.format_message().rstrip(".")
    command = trouble.ctx.command_path if trouble.ctx is not None else "discwright"
    return f"{words[:1].lower()}{words[1:]}; see `{command} --help`."


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"discwright {__version__}")
        raise typer.Exit


@app.callback()
def _main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    del version


@app.command()
def survey(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The approved programme of one side.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """What the programme asks for: level, peaks, spread, bandwidth, bass, faults."""
    from discwright.acts.survey import survey as survey_file

    with progress(as_json) as tell:
        report = survey_file(file, lambda done: tell("surveying", done))
    if as_json:
        print_json(report.as_dict())
        return
    from discwright.cli.show_survey import show_survey

    show_survey(report.survey, console())


app.command()(chain)
app.command()(air)
app.command()(plan)
app.command()(layout)
app.command()(proof)
app.command()(plate)
app.command()(press)
app.command()(sample)
app.command()(pack)
app.command()(inspect)
app.command()(locate)
app.command()(gauge)
app.command()(desk)
app.add_typer(works, name="works")


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder for the demo.")] = Path("demo"),
) -> None:
    """Make the invented demo title, lay it out, plan every side, prove a passage and say where everything is."""
    from discwright.acts.demo import write_demo
    from discwright.cli.show_layout import show_layout
    from discwright.cli.show_plan import show_side
    from discwright.cli.show_proof import show_proof

    with progress(False) as tell:
        made = write_demo(folder, tell)
    screen = console()
    screen.print(f"Title file: {made.title_file}", soft_wrap=True)
    show_layout(made.layout, screen)
    for side in made.sides:
        show_side(side, screen)
    screen.print()
    show_proof(made.proof, screen)
    sheets = ", ".join(str(side.folder / "sheet.pdf") for side in made.sides if side.folder is not None)
    screen.print(f"\nSheets: {sheets}", soft_wrap=True)
    if made.ledger is not None:
        screen.print(f"Ledger: {made.ledger}", soft_wrap=True)
        screen.print(f"Orders, labels, manifest: {made.ledger.parent / 'dispatch'}", soft_wrap=True)


@app.command()
def doctor(
    as_json: Annotated[bool, typer.Option("--json", help="Print the examination as JSON.")] = False,
) -> None:
    """Versions, solver, audio library, disk, kernel cache, clock: and what to do where one is ill."""
    from discwright.acts.doctor import examine

    checks = examine()
    if as_json:
        print_json({"checks": [check.as_dict() for check in checks], "good": all(c.good for c in checks)})
    else:
        for check in checks:
            typer.echo(f"{'good' if check.good else 'ILL ':4}  {check.name:9}  {check.fact}")
            if check.remedy:
                typer.echo(f"{'':17}{check.remedy}.")
    if not all(check.good for check in checks):
        raise typer.Exit(1)
