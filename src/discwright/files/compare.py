"""Two plans side by side: what was asked otherwise, what it won or cost, which findings came and went."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

from discwright.errors import CallError
from discwright.files.house import TABLES, Difference, differ, setup_from_tables
from discwright.files.plans import PLAN
from discwright.groove.equipment import Setup

#: Findings of one code and band no further apart than this are the same one, s.
SAME_PLACE_S = 2.0
#: What is measured, under the key of `plan.json`, and the decimals it is kept with.
MEASURES = {"level_db": 6, "radius_used_mm": 6, "spare_mm": 6, "mean_pitch_um": 4, "min_land_um": 4}
#: What a finding may change in and still be the same finding.
_MAY_CHANGE = ("severity", "value", "limit", "unit", "accepted")
_NUMBER = (int, float)
#: What a plan holds at the least; a side shorter than a turn has no land, the rest always is.
_NEEDED: dict[str, type | tuple[type, ...]] = {
    "programme": dict,
    "settings": dict,
    "level_db": _NUMBER,
    "radius_used_mm": _NUMBER,
    "spare_mm": _NUMBER,
    "mean_pitch_um": _NUMBER,
    "findings": list,
    "ready": bool,
}
_FINDING_NEEDED: dict[str, type | tuple[type, ...]] = {
    "code": str,
    "severity": str,
    "value": _NUMBER,
    "limit": _NUMBER,
    "unit": str,
    "remedy": str,
}


@dataclass(frozen=True)
class Measure:
    """One number of both plans; None where a plan has none.

    Attributes
    ----------
    key : str
        Unit included.
    old, new : float or None
    change : float or None
        New less old.
    """

    key: str
    old: float | None
    new: float | None
    change: float | None


@dataclass(frozen=True)
class Comparison:
    """What two plans differ in.

    Attributes
    ----------
    settings : tuple of Difference
        Dotted keys with their units; the version of discwright and of the solver among them.
    programme : tuple of Difference
        Audio and length.
    measures : dict of str to Measure
        Under the keys of `MEASURES`.
    gained, cured, kept : tuple of dict
        Findings only the new plan has, only the old one has, and both have alike; each as in `plan.json`.
    changed : tuple of (dict, dict)
        Findings of both that differ in severity, value, limit or acceptance: old and new.
    ready : (bool, bool)
        Old and new.
    fingerprints : (str or None, str or None)
    """

    settings: tuple[Difference, ...]
    programme: tuple[Difference, ...]
    measures: dict[str, Measure]
    gained: tuple[dict[str, Any], ...]
    cured: tuple[dict[str, Any], ...]
    kept: tuple[dict[str, Any], ...]
    changed: tuple[tuple[dict[str, Any], dict[str, Any]], ...]
    ready: tuple[bool, bool]
    fingerprints: tuple[str | None, str | None]

    @property
    def alike(self) -> bool:
        """Nothing that is compared differs."""
        moved = any(measure.old != measure.new for measure in self.measures.values())
        found = self.gained or self.cured or self.changed
        return not (self.settings or self.programme or moved or found) and self.ready[0] == self.ready[1]

    def as_dict(self) -> dict[str, Any]:
        """The comparison as plain JSON values."""
        return {
            "alike": self.alike,
            "fingerprint": _both(*self.fingerprints),
            "ready": _both(*self.ready),
            "programme": {item.key: _both(item.old, item.new) for item in self.programme},
            "settings": {item.key: _both(item.old, item.new) for item in self.settings},
            **{key: _both(m.old, m.new) | {"change": m.change} for key, m in self.measures.items()},
            "findings": {
                "gained": list(self.gained),
                "cured": list(self.cured),
                "changed": [_both(old, new) for old, new in self.changed],
                "kept": list(self.kept),
            },
        }


def compare(old: Mapping[str, Any], new: Mapping[str, Any]) -> Comparison:
    """Hold one plan against another.

    Parameters
    ----------
    old, new : dict
        What :func:`read_plan` or :func:`discwright.files.plans.plan_as_dict` returned.

    Returns
    -------
    Comparison
    """
    pairs = _same_findings(old["findings"], new["findings"])
    met_old, met_new = {i for i, _ in pairs}, {j for _, j in pairs}
    met = [(old["findings"][i], new["findings"][j]) for i, j in pairs]
    version = differ(old.get("version"), new.get("version"), "version")
    return Comparison(
        settings=differ(old["settings"], new["settings"]) + version,
        programme=differ(old["programme"], new["programme"]),
        measures={key: _measure(key, old.get(key), new.get(key)) for key in MEASURES},
        gained=tuple(finding for j, finding in enumerate(new["findings"]) if j not in met_new),
        cured=tuple(finding for i, finding in enumerate(old["findings"]) if i not in met_old),
        kept=tuple(b for a, b in met if not _changed(a, b)),
        changed=tuple((a, b) for a, b in met if _changed(a, b)),
        ready=(bool(old["ready"]), bool(new["ready"])),
        fingerprints=(old.get("fingerprint"), new.get("fingerprint")),
    )


def read_plan(folder: Path) -> dict[str, Any]:
    """Read a plan that was kept.

    Parameters
    ----------
    folder : pathlib.Path
        The folder of the plan, or its `plan.json`.

    Returns
    -------
    dict
        As :func:`discwright.files.plans.plan_as_dict` made it; plans of older versions may lack newer keys.

    Raises
    ------
    CallError
        If there is none, or the file is not a whole plan.
    """
    try:
        file = folder / PLAN if folder.is_dir() else folder
        text = file.read_text(encoding="utf-8")
    except (FileNotFoundError, NotADirectoryError):
        raise CallError(f"{folder}: there is no plan; name a folder made with --out.") from None
    except (OSError, UnicodeDecodeError) as trouble:
        why = trouble.strerror if isinstance(trouble, OSError) else "it is not UTF-8"
        raise CallError(f"{folder}: cannot be read as text ({why}); check the file.") from None
    try:
        document = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError) as trouble:
        raise CallError(f"{file}: is not valid JSON ({trouble}); keep the plan again with --out.") from None
    _check_plan(document, file)
    return dict(document)


def setup_from_plan(document: Mapping[str, Any]) -> Setup:
    """Exactly the setup a plan was made with.

    Parameters
    ----------
    document : dict
        What :func:`read_plan` returned.

    Returns
    -------
    Setup
        Values that came after the plan's version have their defaults.

    Raises
    ------
    SettingsError
        If the settings are no whole setup.
    """
    settings: Mapping[str, Any] = document["settings"]
    return setup_from_tables({key: value for key, value in settings.items() if key in TABLES}, "the plan's settings")


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")


def _check_plan(document: Any, file: Path) -> None:
    if not isinstance(document, dict):
        raise CallError(f"{file}: is JSON but no plan; name a folder made with --out.")
    _check_keys(document, _NEEDED, f"{file}:")
    for place, finding in enumerate(document["findings"], 1):
        where = f"{file}: finding {place}"
        if not isinstance(finding, dict):
            raise CallError(f"{where} is not a table of values; keep the plan again with --out.")
        _check_keys(finding, _FINDING_NEEDED, where)
        for key in ("time_s", "band", "turn", "radius_mm"):
            if finding.get(key) is not None:
                _check_keys(finding, {key: _NUMBER}, where)


def _check_keys(table: Mapping[str, Any], needed: Mapping[str, type | tuple[type, ...]], where: str) -> None:
    for key, kind in needed.items():
        if key not in table:
            raise CallError(f"{where} lacks {key}, so it is no whole plan; keep the plan again with --out.")
        right = isinstance(table[key], kind) and (kind is bool or not isinstance(table[key], bool))
        if not right:
            raise CallError(f"{where} has a {key} no plan has; keep the plan again with --out.")


def _measure(key: str, old: float | None, new: float | None) -> Measure:
    change = None if old is None or new is None else round(new - old, MEASURES[key]) + 0.0
    return Measure(key, old, new, change)


def _same_findings(old: list[dict[str, Any]], new: list[dict[str, Any]]) -> list[tuple[int, int]]:
    """Which findings of the two are the same, nearest first where several could be; in the order of the new."""
    near = []
    for i, a in enumerate(old):
        for j, b in enumerate(new):
            apart = _apart(a, b)
            if apart is not None:
                near.append((apart, i, j))
    pairs: list[tuple[int, int]] = []
    for _, i, j in sorted(near):
        if all(i != taken_i and j != taken_j for taken_i, taken_j in pairs):
            pairs.append((i, j))
    return sorted(pairs, key=lambda pair: pair[1])


def _apart(a: Mapping[str, Any], b: Mapping[str, Any]) -> float | None:
    """Seconds between two findings that could be the same; None where they cannot."""
    if (a["code"], a.get("band")) != (b["code"], b.get("band")):
        return None
    times = a.get("time_s"), b.get("time_s")
    if times == (None, None):
        return 0.0
    if None in times:
        return None
    apart = abs(float(times[0]) - float(times[1]))  # type: ignore[arg-type]
    return apart if apart <= SAME_PLACE_S + 1e-9 else None


def _changed(a: Mapping[str, Any], b: Mapping[str, Any]) -> bool:
    return any(a.get(key) != b.get(key) for key in _MAY_CHANGE)


def _both(old: Any, new: Any) -> dict[str, Any]:
    return {"old": old, "new": new}
