"""Settings taken over from an old plan or a house set, with what the call puts in their place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from discwright.files.audio import read_head
from discwright.files.compare import read_plan, setup_from_plan
from discwright.files.house import load_house
from discwright.files.settings import KINDS, check_together, load
from discwright.groove.equipment import Setup

#: Fields of a setup, in the order of the settings' kinds.
_FIELDS = ("disc", "lathe", "head", "cutting_tip", "tip", "practice")


@dataclass(frozen=True)
class Recalled:
    """What was taken over.

    Attributes
    ----------
    base : Setup
        As it was kept.
    setup : Setup
        With what the call names in its place.
    level_db : float or None
        Of the old plan; None of a house set.
    bands : tuple of (float, float), s
        Of the old plan, where the programme is as long as it was then; otherwise empty.
    treatments : tuple of str
        Kinds that the old plan's programme was treated with: a bare file is not.
    """

    base: Setup
    setup: Setup
    level_db: float | None
    bands: tuple[tuple[float, float], ...]
    treatments: tuple[str, ...] = ()


def recall(file: str, house: Path | None, like: Path | None, chosen: dict[str, str | None]) -> Recalled:
    """Take settings over.

    Parameters
    ----------
    file : str
        The programme to plan.
    house, like : pathlib.Path or None
        A house set, or the folder of an old plan; one of the two.
    chosen : dict
        format, lathe, head, cutting_tip, tip, practice: a name or file in place of what was kept.

    Returns
    -------
    Recalled

    Raises
    ------
    CallError, SettingsError, AudioError
    """
    level_db: float | None = None
    bands: tuple[tuple[float, float], ...] = ()
    treatments: tuple[str, ...] = ()
    if like is not None:
        document = read_plan(like)
        base, level_db = setup_from_plan(document), float(document["level_db"])
        treatments = tuple(str(one["kind"]) for one in document["settings"].get("treatments", ()))
        header = read_head(file)
        same = (header.frames, header.sample_rate_hz)
        if same == (document["programme"]["frames"], document["programme"]["sample_rate_hz"]):
            bands = tuple((one["start_s"], one["end_s"]) for one in document["settings"]["bands"])
    else:
        assert house is not None
        base = load_house(house)
    parts: dict[str, Any] = {}
    for name, kind in zip(_FIELDS, KINDS, strict=False):  # the player comes after what a setup holds
        wanted = chosen["format" if name == "disc" else name]
        if wanted is not None:
            parts[name] = load(kind, wanted)  # type: ignore[type-var]
    setup = replace(base, **parts)
    check_together(setup)
    return Recalled(base, setup, level_db, bands, treatments)
