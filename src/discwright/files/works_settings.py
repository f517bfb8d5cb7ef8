"""The limits of a works as TOML: shipped defaults, or a file of the works' own."""

from __future__ import annotations

import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from discwright.errors import SettingsError
from discwright.works.parts import Limits, limits_from

_TABLE = "limits"


def load_limits(path: Path | None = None) -> Limits:
    """The limits a works goes by.

    Parameters
    ----------
    path : pathlib.Path, optional
        A TOML file with a table ``[limits]``; what it leaves out is at the shipped default.

    Raises
    ------
    SettingsError
        If the file cannot be read, or holds what is no limit.
    """
    shipped = resources.files("discwright") / "data" / "works.toml"
    values = _values(tomllib.loads(shipped.read_text(encoding="utf-8")), "works.toml")
    if path is not None:
        try:
            tables = tomllib.loads(path.read_text(encoding="utf-8-sig"))
        except FileNotFoundError:
            raise SettingsError(f"{path}: there is no such file; name one with a table [limits].") from None
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as trouble:
            raise SettingsError(f"{path}: cannot be read as TOML ({trouble}); mend it.") from None
        values |= _values(tables, str(path))
    try:
        return limits_from(values)
    except SettingsError as trouble:
        raise SettingsError(f"{path or 'works.toml'}: {trouble}") from None


def _values(tables: dict[str, Any], where: str) -> dict[str, Any]:
    """Bare numbers, or tables with `value` and `source`."""
    table = tables.get(_TABLE)
    if not isinstance(table, dict):
        raise SettingsError(f"{where}: has no table [{_TABLE}]; write one.")
    return {name: one.get("value") if isinstance(one, dict) else one for name, one in table.items()}
