"""Folders that were opened before, in the user's own state folder."""

from __future__ import annotations

import json
import os
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

#: How many are remembered.
MOST = 12


@dataclass(frozen=True)
class Recent:
    """One folder.

    Attributes
    ----------
    place : pathlib.Path
    opened : datetime
        UTC.
    """

    place: Path
    opened: datetime


def recent_file() -> Path:
    """Where they are remembered: the XDG state folder."""
    home = os.environ.get("XDG_STATE_HOME") or str(Path.home() / ".local" / "state")
    return Path(home) / "discwright" / "recent.json"


def read_recent() -> list[Recent]:
    """Newest first; what cannot be read is nothing to be troubled by."""
    with suppress(OSError, ValueError, KeyError, TypeError, AttributeError):
        folders = json.loads(recent_file().read_text(encoding="utf-8"))["folders"]
        return [Recent(Path(str(one["place"])), datetime.fromisoformat(one["opened"])) for one in folders][:MOST]
    return []


def remember(folder: Path) -> None:
    """Put a folder at the head of the list.

    Parameters
    ----------
    folder : pathlib.Path
    """
    place = folder.resolve()
    kept = [Recent(place, datetime.now(UTC)), *(one for one in read_recent() if one.place != place)][:MOST]
    text = {"folders": [{"place": str(one.place), "opened": one.opened.isoformat(timespec="seconds")} for one in kept]}
    file = recent_file()
    with suppress(OSError):  # a list of what was opened is not worth a refusal
        file.parent.mkdir(parents=True, exist_ok=True)
        part = file.with_name(f".{file.name}.{os.getpid()}")
        part.write_text(
            json.dumps(text, ensure_ascii=False, indent=2) + "\n", encoding="utf-8", errors="backslashreplace"
        )
        os.replace(part, file)
