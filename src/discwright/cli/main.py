"""The command line: `discwright VERB`; exit code 0 ready, 1 a stop finding, 2 a wrong call or broken file."""

from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from io import TextIOWrapper
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Annotated, NoReturn, cast

import typer

from discwright import __version__
from discwright.errors import CallError, DiscwrightError
from discwright.units import number, seconds

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import FrameType

    from rich.console import Console

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


class _CtrlC:
    """Ctrl-C that is not lost where a library swallows it, and does not cut the tidying up short."""

    def __init__(self) -> None:
        self.pressed: float | None = None

    def listen(self) -> None:
        """Take Ctrl-C from Python, unless whoever started us wants it ignored."""
        if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
            signal.signal(signal.SIGINT, self._press)
            sys.unraisablehook = self._swallowed

    def check(self) -> None:
        """Stop now if it was pressed and nobody stopped."""
        if self.pressed is not None:
            raise KeyboardInterrupt

    def _press(self, _number: int, _frame: FrameType | None) -> None:
        if self.pressed is None or monotonic() > self.pressed + 1.0:
            self.pressed = monotonic()
            raise KeyboardInterrupt

    def _swallowed(self, trouble: sys.UnraisableHookArgs) -> None:
        if trouble.exc_type is not KeyboardInterrupt:  # that one is remembered, and no news
            sys.__unraisablehook__(trouble)


_ctrl_c = _CtrlC()


class Fit(StrEnum):
    """What a fitted level must satisfy."""

    cut = "cut"
    clean = "clean"


def run() -> NoReturn:
    """Run the command line; a refusal is one sentence on standard error and exit code 2."""
    _ctrl_c.listen()
    _open_streams()
    try:
        code = app(sys.argv[1:] or ["--help"], prog_name="discwright", standalone_mode=False)
        sys.stdout.flush()
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
        if _ctrl_c.pressed is None:
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


def _leave(code: int, sentence: str) -> NoReturn:
    if _ctrl_c.pressed is not None:  # whatever went wrong, went wrong because of it
        code, sentence = _INTERRUPTED, _STOPPED
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # pressed again it changes nothing
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

    with _progress(as_json) as tell:
        report = survey_file(file, lambda done: tell("surveying", done))
    if as_json:
        _print_json(report.as_dict())
        return
    from discwright.cli.show_survey import show_survey

    show_survey(report.survey, _console())


@app.command()
def plan(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The approved programme of one side.")],
    format: Annotated[
        str, typer.Option("--format", help="12in-33, 12in-45, 10in-33, 7in-45, 7in-33, or a TOML file.")
    ] = "12in-33",
    level: Annotated[
        str | None,
        typer.Option("--level-db", help="Fixed level in dB; without it the highest that nothing stops is found."),
    ] = None,
    fit: Annotated[
        str,
        typer.Option(
            metavar="[cut|clean]",
            help="cut: nothing stops it. clean: the playing tip also traces it cleanly.",
        ),
    ] = Fit.cut,
    lathe: Annotated[str | None, typer.Option(help="Name in data/, or a TOML file.")] = None,
    head: Annotated[str | None, typer.Option(help="Name in data/, or a TOML file.")] = None,
    cutting_tip: Annotated[str | None, typer.Option(help="Name in data/, or a TOML file.")] = None,
    tip: Annotated[str | None, typer.Option(help="Playing tip: name in data/, or a TOML file.")] = None,
    practice: Annotated[str | None, typer.Option(help="House practice: name in data/, or a TOML file.")] = None,
    band: Annotated[
        list[str] | None,
        typer.Option("--band", metavar="START-END", help="Where a band lies, e.g. 0:00-4:31.5; once per band."),
    ] = None,
    exact: Annotated[bool, typer.Option("--exact", help="Also solve the whole side at once: minutes.")] = False,
    out: Annotated[Path | None, typer.Option(metavar="DIR", help="Folder to keep the plan in.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print plan.json.")] = False,
) -> None:
    """The groove of one side: at what level it fits, how every turn lies, what will not cut or not play."""
    level_db = None if level is None else number(level, "--level-db")
    clean = _fit(fit) is Fit.clean
    if level_db is not None and clean:
        raise CallError("--level-db fixes the level and --fit looks for one; give one of the two.")
    bands = tuple(_band(text) for text in band or [])
    from discwright.acts.plan import plan_file

    with _progress(as_json) as tell:
        report = plan_file(
            file, format=format, level_db=level_db, clean=clean, lathe=lathe, head=head,
            cutting_tip=cutting_tip, tip=tip, practice=practice, exact=exact, bands=bands, out=out,
            progress=tell,
        )  # fmt: skip
    if as_json:
        _write(report.json)
    else:
        from discwright.cli.show_plan import show_plan

        show_plan(report, _console())
    if not report.plan.ready:
        raise typer.Exit(1)


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder for the demo.")] = Path("demo"),
) -> None:
    """Make the invented demo programme, plan both sides and say where the pictures are."""
    from discwright.acts.demo import write_demo
    from discwright.cli.show_plan import show_plan

    with _progress(False) as tell:
        sides = write_demo(folder, tell)
    console = _console()
    for side in sides:
        console.print(f"\n{side.title}, side {side.letter}: {side.audio}", style="bold", soft_wrap=True)
        show_plan(side.report, console)
    pictures = ", ".join(str(side.picture) for side in sides)
    console.print(f"\nPictures: {pictures}", soft_wrap=True)


@app.command()
def doctor(
    as_json: Annotated[bool, typer.Option("--json", help="Print the examination as JSON.")] = False,
) -> None:
    """Versions, solver, audio library, disk, kernel cache, clock: and what to do where one is ill."""
    from discwright.acts.doctor import examine

    checks = examine()
    if as_json:
        _print_json({"checks": [check.as_dict() for check in checks], "good": all(c.good for c in checks)})
    else:
        for check in checks:
            typer.echo(f"{'good' if check.good else 'ILL ':4}  {check.name:9}  {check.fact}")
            if check.remedy:
                typer.echo(f"{'':17}{check.remedy}.")
    if not all(check.good for check in checks):
        raise typer.Exit(1)


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


def _print_json(document: object) -> None:
    _write(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n")


def _write(text: str) -> None:
    """JSON in UTF-8 whatever the terminal speaks; a broken name as JSON's own escape."""
    sys.stdout.flush()
    sys.stdout.buffer.write(text.encode("utf-8", "backslashreplace"))


def _console() -> Console:
    from rich.console import Console

    # A path may hold brackets and colons that would otherwise be read as markup.
    return Console(highlight=False, markup=False, emoji=False)


@contextmanager
def _progress(quiet: bool) -> Iterator[Callable[[str, float], None]]:
    """A progress bar on a terminal's standard error; nothing anywhere else."""
    if quiet or not sys.stderr.isatty():
        yield lambda _step, _done: _ctrl_c.check()
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=1.0)

        def tell(step: str, done: float) -> None:
            _ctrl_c.check()
            bar.update(task, description=step, completed=done)

        yield tell
