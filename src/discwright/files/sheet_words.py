"""The words of a cutting sheet: those that stand on every one, and those that say a cue, a margin or a finding."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from discwright.files.fonts import LEFT, MM, RIGHT, WIDTH, Pen, minus, plain, signed, wrap
from discwright.findings import Finding
from discwright.groove.cues import Cue
from discwright.units import clock

if TYPE_CHECKING:
    from discwright.groove.ladder import Rung
    from discwright.groove.preflight import Margin

#: At most so many margins, and so many lines of treatments and rungs, are printed.
MARGINS_SHOWN, REMARK_LINES = 3, 6
FIELDS = (
    "Lacquer number", "Lacquer batch", "Cutting tip number", "Tip hours",
    "Depth at start, µm, microscope", "Depth at end, µm, microscope", "Cut by", "Date",
)  # fmt: skip
CAUTIONS = (
    "Swarf is cellulose nitrate: highly flammable. Keep it wet in a closed metal container with water; empty it often.",
    "No flame, no smoking, no sparks. Keep the suction running as long as anything is cut.",
    "The cutting tip is sharp, and the hot wire is hot even after it is switched off.",
    "Wear eye protection.",
    "Local codes, safety data sheets and licensed practice come before this sheet.",
)
STOPPED = (
    "A lacquer cannot be resumed. Lift the tip; switch the hot wire off; stop the suction last.",
    "Scrap the lacquer and mark it as scrap.",
    "Write down what happened, and at what time and turn.",
    "Take a new lacquer and start again from the lead-in.",
)
#: Before a sentence of a list, and as wide before its further lines.
_DASH, _HANG = "– ", "\u2002 "
_CUE_WORDS = {
    "lead_in": "Lower the tip in the lead-in",
    "music": "Music begins",
    "stop": "Locked groove begins",
    "lift": "Groove closed: lift the tip",
}


@dataclass(frozen=True)
class Entry:
    """One finding set out in lines."""

    finding: Finding
    remedy: list[str]
    reason: list[str]

    @classmethod
    def of(cls, finding: Finding, lines: int) -> Entry:
        width = (WIDTH - 26.0 - 22.0) * MM
        said = f"{_against(finding)} {finding.remedy}".strip()
        reason = wrap(finding.accepted, width - 17.0 * MM, 8, False, lines) if finding.accepted else []
        return cls(finding, wrap(said, width, 8, False, lines), reason)

    @property
    def height(self) -> float:
        return max(9.4, 6.0 + 3.7 * (len(self.remedy) + len(self.reason)))

    def draw(self, pen: Pen, y: float) -> None:
        finding, x = self.finding, LEFT + 26.0
        pen.shape(finding.severity, LEFT + 1.5, y + 3.2, 1.25)
        pen.text(LEFT + 5.0, y + 4.2, finding.severity, 8.5, bold=True)
        pen.text(x, y + 4.2, finding.code.replace("_", " "), 8.5, bold=True, width=36.0)
        pen.text(RIGHT - 22.0, y + 4.2, _place(finding), 8.5, width=94.0, align="right")
        foot = y + 4.5
        for line in self.remedy:
            foot += 3.7
            pen.text(x, foot, line, 8)
        for k, line in enumerate(self.reason):
            foot += 3.7
            pen.text(x, foot, "Accepted:" if k == 0 else "", 8, bold=True)
            pen.text(x + 17.0, foot, line, 8)
        pen.box(RIGHT - 18.0, y + 1.2, 18.0, 7.0)


def cue_words(cue: Cue) -> str:
    """What a cue says to the person at the lathe.

    Parameters
    ----------
    cue : Cue
    """
    if cue.kind == "fine":
        return f"Fine pitch, {-cue.turn:.3g} turns before music"
    if cue.kind == "join":
        return f"Band {cue.band} ends: join"
    if cue.kind == "band":
        return f"Band {cue.band} begins"
    if cue.kind == "lead_out":
        return "End of music: lead-out"
    return _CUE_WORDS[cue.kind]


def _place(finding: Finding) -> str:
    parts = []
    if finding.time_s is not None:
        parts.append(minus(clock(finding.time_s)))
    if finding.band is not None:
        parts.append(f"band {finding.band}")
    if finding.turn is not None:
        parts.append(minus(f"turn {finding.turn:.1f}"))
    if finding.radius_mm is not None:
        parts.append(f"r {finding.radius_mm:.1f} mm")
    return "   ".join(parts) or "whole side"


def _against(finding: Finding) -> str:
    if finding.time_s is None and not finding.limit:
        return ""
    return f"{plain(finding.value)} against {plain(finding.limit)} {finding.unit}".rstrip() + "."


def speed_words(rpm: float) -> str:
    """Turns a minute as they are spoken of.

    Parameters
    ----------
    rpm : float
    """
    return "33⅓" if abs(rpm - 100 / 3) < 1e-6 else f"{rpm:g}"


def isrc_words(code: str) -> str:
    """As it is read: country, owner, year, recording (ISO 3901).

    Parameters
    ----------
    code : str
        Without hyphens; anything that is none is left as it is.
    """
    return f"{code[:2]}-{code[2:5]}-{code[5:7]}-{code[7:]}" if len(code) == 12 else code


def margin_words(margin: Margin) -> str:
    """A margin in words, without how far inside it is.

    Parameters
    ----------
    margin : Margin
    """
    words = f"{margin.what.replace('_', ' ')}: {plain(margin.value)} against {plain(margin.limit)} {margin.unit}"
    return words if margin.time is None else f"{words} at {minus(clock(margin.time))}"


def rung_words(rung: Rung) -> str:
    """A rung in words, without its level.

    Parameters
    ----------
    rung : Rung
    """
    words = rung.limit.replace("_", " ")
    if rung.time is None or rung.turn is None:
        return words
    return f"{words}, met at {minus(clock(rung.time))}, turn {rung.turn:.1f}"


def remark_columns(
    treatments: tuple[str, ...], margins: Sequence[Margin], ladder: tuple[Rung, ...], width: float
) -> list[tuple[str, str, list[tuple[str, str]]]]:
    """What is said of treatments, margins and ladder.

    Parameters
    ----------
    treatments : tuple of str
    margins : sequence of Margin
    ladder : tuple of Rung
    width : float, mm
        Of a column.

    Returns
    -------
    list of (str, str, list of (str, str))
        Head, what its values are, and lines of words and value; the treatments always, first.
    """
    left: list[tuple[str, str]] = [] if treatments else [("None: the programme is cut as approved.", "")]
    for k, sentence in enumerate(treatments):
        lines = wrap(sentence, (width - 3.0) * MM, 7.6, False, 4)
        if k and len(left) + len(lines) > REMARK_LINES:
            left.append((f"and {len(treatments) - k} more in the title file", ""))
            break
        left += [(f"{_HANG if n else _DASH}{line}", "") for n, line in enumerate(lines)]
    tightest = sorted(margins, key=lambda m: round(m.inside_percent))[:MARGINS_SHOWN]
    right = [(margin_words(m), minus(f"{round(m.inside_percent) + 0:d} %")) for m in tightest]
    rungs = [(rung_words(rung), f"{signed(rung.level_db)} dB") for rung in ladder[:REMARK_LINES]]
    columns = [("Treatments", "", left)]
    columns += [("Tightest margins", "inside the limit", right)] if right else []
    columns += [("Ladder", "highest level", rungs)] if rungs else []
    return columns
