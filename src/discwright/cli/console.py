"""What every verb of the command line shares: Ctrl-C that is not lost, progress, and two ways to print."""

from __future__ import annotations

import json
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import FrameType

    from rich.console import Console


class CtrlC:
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


ctrl_c = CtrlC()


def print_json(document: object) -> None:
    write(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n")


def write(text: str) -> None:
    """JSON in UTF-8 whatever the terminal speaks; a broken name as JSON's own escape."""
    sys.stdout.flush()
    sys.stdout.buffer.write(text.encode("utf-8", "backslashreplace"))


def console() -> Console:
    from rich.console import Console

    # A path may hold brackets and colons that would otherwise be read as markup.
    return Console(highlight=False, markup=False, emoji=False)


@contextmanager
def progress(quiet: bool) -> Iterator[Callable[[str, float], None]]:
    """A progress bar on a terminal's standard error; nothing anywhere else."""
    if quiet or not sys.stderr.isatty():
        yield lambda _step, _done: ctrl_c.check()
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=1.0)

        def tell(step: str, done: float) -> None:
            ctrl_c.check()
            bar.update(task, description=step, completed=done)

        yield tell
