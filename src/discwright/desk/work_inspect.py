"""The job of a test play: a capture held against a kept plan, in a child process as all long work."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from discwright.desk.jobs import write_json
from discwright.desk.plays import REPORT
from discwright.errors import CallError, DiscwrightError

Tell = Callable[[str, float], None]


def inspect_into(arguments: Mapping[str, Any], place: Path, tell: Tell) -> tuple[dict[str, Any], Path, Path]:
    """Inspect a capture.

    Parameters
    ----------
    arguments : dict
        `capture`, the file; `plan`, the folder of the plan; `tip`, the playing tip of the proof, null for the plan's
        own; `out`, the folder the result goes to.
    place : pathlib.Path
        For everything unfinished.
    tell : callable
        Called with a step's name and the fraction of it done.

    Returns
    -------
    dict, pathlib.Path, pathlib.Path
        The job's result; the folder that was made, and where it belongs.
    """
    from discwright.acts.inspect import inspect

    tell("opening the plan", 0.0)
    made, capture = place / "result", Path(arguments["capture"])
    try:
        report = inspect(capture, plan=Path(arguments["plan"]), tip=arguments.get("tip"), out=made, progress=tell)
    except DiscwrightError as trouble:
        # The sentence begins with a path that means nothing to whoever sent the file.
        raise CallError(str(trouble).replace(os.fspath(capture), capture.name)) from None
    told = report.as_dict()
    # Where this machine has its files is nobody's business who reads the report.
    told["capture"] = told["capture"] | {"path": capture.name}
    told["kept"] = None
    write_json(made / REPORT, told)
    return {"verdict": told["verdict"], "defects": len(told["defects"])}, made, Path(arguments["out"])
