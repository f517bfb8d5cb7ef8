"""The limits of a chain as TOML: the shipped ones, and a house file that replaces some of them.

A house file holds the tables and keys it wants otherwise and nothing else. A value is bare, or a table with `value` and
`source`.
"""

from __future__ import annotations

import difflib
import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from discwright.errors import SettingsError
from discwright.files.house_toml import read_house_toml
from discwright.programme.chain_findings import ChainLimits

_FILE = "chain.toml"
_BANDS = "bands"
#: Levels are negative; everything else is greater than nothing.
_LEVELS = ("limit_dbfs", "hum_dbfs")
Band = tuple[float, float, float]


def load_chain(path: Path | None = None) -> ChainLimits:
    """The shipped limits, with what a house file says otherwise.

    Parameters
    ----------
    path : pathlib.Path or None
        The house file; None for the shipped limits alone.

    Raises
    ------
    SettingsError
        If the file cannot be read, or has a wrong table, key or value.
    """
    shipped = tomllib.loads((resources.files("discwright") / "data" / _FILE).read_text(encoding="utf-8"))
    tables = {name: _values(name, table, table, _FILE) for name, table in shipped.items()}
    if path is not None:
        for name, table in read_house_toml(path, "chain limits").items():
            if name not in tables:
                raise SettingsError(f"{path}: has an unknown table [{name}]; {_nearest(name, list(tables))}.")
            if not isinstance(table, dict):
                raise SettingsError(f"{path}: {name} is a table; write [{name}] and its keys below it.")
            tables[name] = tables[name] | _values(name, table, tables[name], str(path))
    distortion, pairs = tables["distortion"], tables["intermodulation"]
    if distortion["from_hz"] >= distortion["to_hz"]:
        raise SettingsError(f"{path or _FILE}: [distortion] from_hz is not below to_hz; exchange them.")
    return ChainLimits(
        distortion_percent=distortion["limit_percent"],
        distortion_from_hz=distortion["from_hz"],
        distortion_to_hz=distortion["to_hz"],
        modulation_percent=pairs["modulation_percent"],
        difference_percent=pairs["difference_percent"],
        response_bands=tables["response"][_BANDS],
        balance_db=tables["balance"]["limit_db"],
        separation_bands=tables["separation"][_BANDS],
        noise_dbfs=tables["noise"]["limit_dbfs"],
        hum_dbfs=tables["noise"]["hum_dbfs"],
        speed_percent=tables["speed"]["limit_percent"],
    )


def _values(name: str, table: dict[str, Any], known: dict[str, Any], place: str) -> dict[str, Any]:
    """Values without their sources, each checked."""
    values = {}
    for key, raw in table.items():
        where = f"{place}: [{name}] {key}"
        if key not in known:
            raise SettingsError(f"{place}: [{name}] has an unknown key “{key}”; {_nearest(key, list(known))}.")
        if isinstance(raw, dict):
            if "value" not in raw or set(raw) - {"value", "source"}:
                got = ", ".join(raw) or "nothing"
                raise SettingsError(f"{where}: needs value and source, nothing else; got {got}.")
            raw = raw["value"]
        values[key] = _bands(where, raw) if key == _BANDS else _number(where, key, raw)
    return values


def _number(where: str, key: str, raw: Any) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not abs(raw) < 1e6:
        raise SettingsError(f"{where}: must be a number; got {raw!r}.")
    if key in _LEVELS:
        if not -200.0 <= raw <= 0.0:
            raise SettingsError(f"{where}: must lie between -200 and 0 dBFS; got {raw!r}.")
    elif raw <= 0:
        raise SettingsError(f"{where}: must be greater than zero; got {raw!r}.")
    return float(raw)


def _bands(where: str, raw: Any) -> tuple[Band, ...]:
    if not isinstance(raw, list) or not raw:
        raise SettingsError(f"{where}: must be a list of bands such as [[20, 20000, 1.0]]; got {raw!r}.")
    bands: list[Band] = []
    for one in raw:
        if not isinstance(one, list) or len(one) != 3:
            raise SettingsError(f"{where}: a band is from, to, Hz, and dB, such as [20, 20000, 1.0]; got {one!r}.")
        low, high, limit = (_number(where, "", part) for part in one)
        if low >= high:
            raise SettingsError(f"{where}: a band begins at {low:g} Hz and ends at {high:g} Hz; exchange them.")
        bands.append((low, high, limit))
    return tuple(bands)


def _nearest(word: str, known: list[str]) -> str:
    near = difflib.get_close_matches(word, known, 1, 0.5)
    return f"write {near[0]}" if near else f"it knows {', '.join(known)}"
