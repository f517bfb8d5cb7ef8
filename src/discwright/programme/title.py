"""A title: its bands, its editions, what is fixed for each side and what is left to `layout`."""

from __future__ import annotations

from dataclasses import dataclass, replace

from discwright.findings import Finding
from discwright.units import clock

#: Kinds of treatment, and which corner each needs.
TREATMENTS: dict[str, tuple[str, ...]] = {
    "bass_blend": ("below",),
    "treble_limit": (),
    "low_cut": ("below",),
    "high_cut": ("above",),
}
#: What `level` may be besides a number of dB.
LEVEL_WORDS = ("fit", "clean")
#: An edition without a disc.
TAPE = "tape"
#: A finding is the one accepted when it lies this close to the time given, s.
SAME_PLACE_S = 1.0


@dataclass(frozen=True)
class TitleBand:
    """One band of a title.

    Attributes
    ----------
    id, name : str
    path : str
        Audio file, found from the title file's folder.
    start, end : float or None, s
        Time range within the file; None for its begin or end.
    isrc : str
        Without hyphens, or empty.
    gap : float, s
        Silence after the band where another follows on the side.
    trim_db : float
        Level of this band against the others.
    may_move : bool
        `layout` may place it anywhere.
    line : int
        Of the title file.
    """

    id: str
    name: str
    path: str
    start: float | None = None
    end: float | None = None
    isrc: str = ""
    gap: float = 2.0
    trim_db: float = 0.0
    may_move: bool = False
    line: int = 0


@dataclass(frozen=True)
class Treatment:
    """What is done to a side's programme before the cut, because the title file says so.

    Attributes
    ----------
    kind : str
        A key of :data:`TREATMENTS`.
    below, above : float or None, Hz
        The corner: of a blend or low cut, of a high cut.
    """

    kind: str
    below: float | None = None
    above: float | None = None


@dataclass(frozen=True)
class Accepted:
    """A warning that the engineer accepts, with the reason.

    Attributes
    ----------
    code : str
    time : float or None, s
        Of the side; None for every finding of this code.
    reason : str
    """

    code: str
    time: float | None
    reason: str


@dataclass(frozen=True)
class SideOrder:
    """One side as the title file fixes it.

    Attributes
    ----------
    letter : str
    bands : tuple of str
        Ids, in order.
    treatments : tuple of Treatment
    accepted : tuple of Accepted
    """

    letter: str
    bands: tuple[str, ...]
    treatments: tuple[Treatment, ...] = ()
    accepted: tuple[Accepted, ...] = ()


@dataclass(frozen=True)
class Edition:
    """One format of a title.

    Attributes
    ----------
    id, format : str
        The format is a disc format's name or file, or ``"tape"``.
    quantity : int
    due : str
        ISO date, or empty.
    lathe, head, cutting_tip, tip, practice : str or None
        None for the default.
    level : str or float
        ``"fit"``, ``"clean"`` or dB.
    sides : tuple of SideOrder
        Empty where `layout` proposes them.
    """

    id: str
    format: str
    quantity: int = 0
    due: str = ""
    lathe: str | None = None
    head: str | None = None
    cutting_tip: str | None = None
    tip: str | None = None
    practice: str | None = None
    level: str | float = "fit"
    sides: tuple[SideOrder, ...] = ()


@dataclass(frozen=True)
class Title:
    """A whole title.

    Attributes
    ----------
    name, catalogue : str
    people : tuple of str
        Performers, engineers: as they should stand on the sheet.
    bands : tuple of TitleBand
    editions : tuple of Edition
    """

    name: str
    catalogue: str
    people: tuple[str, ...]
    bands: tuple[TitleBand, ...]
    editions: tuple[Edition, ...]


@dataclass(frozen=True)
class SideLabel:
    """What identifies one side on everything printed.

    Attributes
    ----------
    title, edition, letter, matrix : str
        Any may be empty; the matrix number is what is scribed beside the locked groove.
    people : tuple of str
    band_names, isrcs : tuple of str
        One for each band.
    band_ids : tuple of str
    trims_db : tuple of float
        One for each band of a title, otherwise empty.
    """

    title: str
    edition: str
    letter: str
    matrix: str
    people: tuple[str, ...]
    band_names: tuple[str, ...]
    isrcs: tuple[str, ...]
    band_ids: tuple[str, ...] = ()
    trims_db: tuple[float, ...] = ()

    @property
    def trims(self) -> tuple[str, ...]:
        """What was trimmed, a sentence for each band that was."""
        pairs = zip(self.band_names, self.trims_db, strict=False)
        return tuple(f"trim: “{name}” as a whole {trim:+.1f} dB" for name, trim in pairs if trim)


def accept(findings: tuple[Finding, ...], accepted: tuple[Accepted, ...]) -> tuple[Finding, ...]:
    """Findings with the reasons for which the engineer accepts them.

    Parameters
    ----------
    findings : tuple of Finding
    accepted : tuple of Accepted

    Returns
    -------
    tuple of Finding
        A stop is never accepted. What is accepted and was not found is a note of its own.
    """
    told = list(findings)
    for one in accepted:
        places = [i for i, finding in enumerate(told) if _is_meant(finding, one)]
        for i in places:
            told[i] = replace(told[i], accepted=one.reason)
        if not places:
            where = "" if one.time is None else f" at {clock(one.time)}"
            remedy = f"The title file accepts “{one.code}”{where} and there is no such warning or note: take that out."
            told.append(Finding("nothing_to_accept", "note", None, None, None, None, 0.0, 0.0, "", remedy))
    return tuple(told)


def _is_meant(finding: Finding, one: Accepted) -> bool:
    if finding.code != one.code or finding.severity == "stop":
        return False
    return one.time is None or (finding.time_s is not None and abs(finding.time_s - one.time) <= SAME_PLACE_S)
