"""What the search for a guilty part goes by, as TOML: the shipped figures, and a house file over some of them."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

from discwright.errors import SettingsError

_FILE = "guilt.toml"


@dataclass(frozen=True)
class GuiltSettings:
    """Everything in the file.

    Attributes
    ----------
    prior : mapping of str to float
        Probability of a fault at one place from the making on, by kind of part; and of a pressing's own.
    damage : mapping of str to float
        Probability of damage there between one child and the next.
    detect, false_alarm : float
    window_deg, window_ms : float
    days : mapping of str to float
        By kind of part, and of a play.
    enough : int
        From so many durations on, the ledger's own median counts.
    pitch_um : float
        At which a fault is drawn on the face that has a turn and no radius.
    words : mapping of str to float
        From which probability on a part is called guilty, suspect, doubtful.
    """

    prior: Mapping[str, float]
    damage: Mapping[str, float]
    detect: float
    false_alarm: float
    window_deg: float
    window_ms: float
    days: Mapping[str, float]
    enough: int
    pitch_um: float
    words: Mapping[str, float]


def load_guilt(path: Path | None = None) -> GuiltSettings:
    """The shipped settings, with what a house file says otherwise.

    Parameters
    ----------
    path : pathlib.Path, optional
        TOML with the tables and keys it wants otherwise; bare numbers, or tables with `value` and `source`.

    Raises
    ------
    SettingsError
        If the file cannot be read, or says what cannot be.
    """
    shipped = resources.files("discwright") / "data" / _FILE
    tables = _bare(tomllib.loads(shipped.read_text(encoding="utf-8")))
    if path is not None:
        _replace(tables, _read(path), str(path))
    _check(tables, str(path or _FILE))
    days = {name: value for name, value in tables["days"].items() if name != "enough"}
    return GuiltSettings(
        tables["prior"], tables["damage"], tables["play"]["detect"], tables["play"]["false_alarm"],
        tables["match"]["window_deg"], tables["match"]["window_ms"], days, int(tables["days"]["enough"]),
        tables["face"]["pitch_um"], tables["words"],
    )  # fmt: skip


def _read(path: Path) -> dict[str, dict[str, Any]]:
    try:
        return _bare(tomllib.loads(path.read_text(encoding="utf-8-sig")))
    except FileNotFoundError:
        raise SettingsError(f"{path}: there is no such file; name a house file of guilt settings.") from None
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as trouble:
        raise SettingsError(f"{path}: cannot be read as TOML ({trouble}); mend it.") from None


def _bare(tables: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    return {
        name: {key: one.get("value") if isinstance(one, dict) else one for key, one in table.items()}
        if isinstance(table, dict) else {}
        for name, table in tables.items()
    }  # fmt: skip


def _replace(tables: dict[str, dict[str, Any]], own: Mapping[str, Mapping[str, Any]], where: str) -> None:
    for name, table in own.items():
        if name not in tables:
            raise SettingsError(f"{where}: has no table [{name[:40]}]; the tables are {', '.join(tables)}.")
        strange = sorted(set(table) - set(tables[name]))
        if strange:
            raise SettingsError(f"{where}: [{name}] has no {strange[0][:40]}; its keys are {', '.join(tables[name])}.")
        tables[name] |= table


def _check(tables: Mapping[str, Mapping[str, Any]], where: str) -> None:
    for name, table in tables.items():
        for key, value in table.items():
            if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
                raise SettingsError(f"{where}: [{name}] {key} is no number; write one.")
            most = {"match": 20.0, "days": 1000.0, "face": 1000.0}.get(name, 1.0)
            if not 0.0 <= value <= most:
                raise SettingsError(
                    f"{where}: [{name}] {key} = {value:g} cannot be; write a number from 0 to {most:g}."
                )
    if not tables["play"]["false_alarm"] < tables["play"]["detect"]:
        raise SettingsError(f"{where}: [play] detect must be above false_alarm; mend them.")
    words = tables["words"]
    if not words["doubtful"] <= words["suspect"] <= words["guilty"]:
        raise SettingsError(f"{where}: [words] must rise from doubtful to suspect to guilty; mend them.")
    if tables["days"]["enough"] < 1:
        raise SettingsError(f"{where}: [days] enough must be at least 1; mend it.")
