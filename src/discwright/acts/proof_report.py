"""What a proof found, as dataclasses and as plain JSON values."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from discwright.acts.proof_side import ProofSide
from discwright.findings import Finding
from discwright.groove.distortion import OCTAVES_HZ, Departures, WorstSpot
from discwright.groove.equipment import PlayingTip
from discwright.groove.heard import Place


@dataclass(frozen=True)
class TipProof:
    """What one tip makes of the passage.

    Attributes
    ----------
    name : str
    tip : PlayingTip or None
    departures : Departures
    spots : tuple of WorstSpot
        Worst first.
    findings : tuple of Finding
    audio, difference : pathlib.Path or None
        Where they were written.
    """

    name: str
    tip: PlayingTip | None
    departures: Departures
    spots: tuple[WorstSpot, ...]
    findings: tuple[Finding, ...]
    audio: Path | None
    difference: Path | None

    @property
    def median_distortion(self) -> float:
        """Of the seconds that hold music, 0 where none does."""
        heard = self.departures.distortion[self.departures.distortion > 0]
        return float(np.median(heard)) if len(heard) else 0.0

    @property
    def worst_distortion(self) -> float:
        """Of the worst second."""
        return float(self.departures.distortion.max(initial=0.0))

    @property
    def treble_db(self) -> float | None:
        """Median of the treble's gain; None where there is no treble."""
        known = self.departures.treble_db[~np.isnan(self.departures.treble_db)]
        return float(np.median(known)) if len(known) else None


@dataclass(frozen=True)
class ProofReport:
    """A proof.

    Attributes
    ----------
    side : ProofSide
    start, end : float, s
        The passage.
    at_radius : float or None, m
        Where it was played instead of where it lies.
    player : str
    effects : tuple of str
    place : Place
    tips : tuple of TipProof
    gain_db : float
        What every file was lowered by so that none clips.
    picture : pathlib.Path or None
    """

    side: ProofSide
    start: float
    end: float
    at_radius: float | None
    player: str
    effects: tuple[str, ...]
    place: Place
    tips: tuple[TipProof, ...]
    gain_db: float
    picture: Path | None

    def as_dict(self) -> dict[str, Any]:
        """The proof as plain JSON values."""
        return {
            "fingerprint": self.side.fingerprint,
            "format": self.side.setup.disc.name,
            "level_db": round(self.side.level_db, 6) + 0.0,
            "from_s": round(self.start, 6),
            "to_s": round(self.end, 6),
            "at_radius_mm": None if self.at_radius is None else round(self.at_radius * 1e3, 6),
            "player": self.player,
            "effects": list(self.effects),
            "gain_db": self.gain_db,
            "octaves_hz": list(OCTAVES_HZ),
            "picture": None if self.picture is None else str(self.picture),
            "findings": [finding.as_dict() for one in self.tips for finding in one.findings],
            "tips": [self._tip(one) for one in self.tips],
        }

    def _tip(self, one: TipProof) -> dict[str, Any]:
        found, place = one.departures, self.place
        return {
            "tip": one.name,
            "side_radius_um": None if one.tip is None else round(one.tip.side_radius * 1e6, 6),
            "audio": None if one.audio is None else str(one.audio),
            "difference": None if one.difference is None else str(one.difference),
            "median_distortion_percent": round(100 * one.median_distortion, 4),
            "worst_distortion_percent": round(100 * one.worst_distortion, 4),
            "treble_db": None if one.treble_db is None else round(one.treble_db, 3),
            "spots": [self._spot(spot) for spot in one.spots],
            "findings": [finding.as_dict() for finding in one.findings],
            "seconds": [
                {
                    "time_s": round(float(time), 4),
                    "turn": round(float(time) / place.turn_time, 4),
                    "radius_mm": round(place.radius_at(float(time)) * 1e3, 4),
                    "level_db": round(float(level), 2) if np.isfinite(level) else None,
                    "distortion_percent": round(100 * float(share), 4),
                    "octaves_percent": [round(100 * float(octave), 4) for octave in octaves],
                    "treble_db": None if np.isnan(treble) else round(float(treble), 3),
                }
                for time, level, share, octaves, treble in zip(
                    found.time, found.level_db, found.distortion, found.band_distortion, found.treble_db, strict=True
                )
            ],
        }

    def _spot(self, spot: WorstSpot) -> dict[str, Any]:
        return {
            "time_s": round(spot.time, 4),
            "band": self.place.band_at(spot.time),
            "turn": round(spot.time / self.place.turn_time, 4),
            "radius_mm": round(self.place.radius_at(spot.time) * 1e3, 4),
            "distortion_percent": round(100 * spot.distortion, 4),
            "octave_hz": spot.octave_hz,
        }
