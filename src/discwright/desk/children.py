"""Child processes of the desk: started in a group of their own, told apart from later ones of the same number, ended.

A child holds the reading end of a pipe of which the desk holds the other: however the desk ends, its children know.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event
from typing import Self

#: How long a child may tidy up after it was asked to stop, s.
GRACE_S = 0.9
#: How often a child that another desk has started is looked at, and how long the dead are waited for, s.
_LOOK_S, _BURIAL_S = 0.1, 5.0


@dataclass
class Child:
    """A process and all that it has started: ours, or one of an earlier desk.

    Attributes
    ----------
    pid : int
        Its number, and that of its group.
    born : str
        See :func:`birth`.
    process : subprocess.Popen or None
        None where an earlier desk has started it.
    gone : Event
        It has ended.
    settled : Event
        And whoever waits for it has put everything in order.
    """

    pid: int
    born: str
    process: subprocess.Popen[bytes] | None = None
    gone: Event = field(default_factory=Event)
    settled: Event = field(default_factory=Event)

    @classmethod
    def start(cls, module: str, argument: str, log: Path, temporary: Path) -> Self:
        """Run a module of ours.

        Parameters
        ----------
        module, argument : str
        log : pathlib.Path
            Takes what it says.
        temporary : pathlib.Path
            For its temporary files.

        Raises
        ------
        OSError
        """
        # -P: a module that happens to lie where the desk was started is not taken for one of ours.
        command: Sequence[str] = [sys.executable, "-P", "-m", module, argument]
        with log.open("ab") as file:
            process = subprocess.Popen(
                command, stdin=subprocess.PIPE, stdout=file, stderr=file, start_new_session=True,
                env=os.environ | {"TMPDIR": str(temporary)},
            )  # fmt: skip
        return cls(process.pid, birth(process.pid), process)

    @property
    def ours(self) -> bool:
        """This desk has started it, and learns what it ends with."""
        return self.process is not None

    def wait(self) -> int | None:
        """Wait for its end, and end whatever it leaves running; what it ended with, where that can be known."""
        code = None
        if self.process is not None:
            code = self.process.wait()
            assert self.process.stdin is not None
            self.process.stdin.close()
        while self.process is None and birth(self.pid) == self.born:
            time.sleep(_LOOK_S)
        self.gone.set()
        # Its number is free from now on, too short a time to be another's already.
        self._send(signal.SIGKILL)
        return code

    def stop(self) -> None:
        """Ask it to tidy up and go; when it does not, end it; return when everything is in order."""
        self._send(signal.SIGINT)
        if not self.gone.wait(GRACE_S):
            self._send(signal.SIGKILL)
        self.settled.wait(_BURIAL_S)

    def _send(self, number: int) -> None:
        """A signal to it and all that it has started."""
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(self.pid, number)


def birth(pid: int) -> str:
    """When a process was born, to tell it from a later one of the same number.

    Parameters
    ----------
    pid : int

    Returns
    -------
    str
        Of no meaning in itself; empty where no such process runs.
    """
    if sys.platform != "linux":
        told = subprocess.run(
            ["ps", "-o", "stat=,lstart=", "-p", str(pid)], capture_output=True, text=True, check=False
        )
        state, _, when = told.stdout.strip().partition(" ")
        return "" if state.startswith("Z") else when.strip()
    try:
        # After the name in brackets, which may hold anything: the state, and as the twentieth word the clock's tick.
        words = Path(f"/proc/{pid}/stat").read_bytes().rpartition(b")")[2].split()
        boot = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except OSError:
        return ""
    return "" if words[0] in (b"Z", b"X") else f"{boot} {words[19].decode()}"
