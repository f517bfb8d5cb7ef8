"""Play a planned side before it is cut: audio, numbers and a picture of what the disc will do to the programme."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from discwright.acts.proof_side import ProofSide, open_side
from discwright.errors import CallError
from discwright.files.proof_audio import ProofFiles, check_audio_place
from discwright.files.proof_picture import TipCurve, draw_proof
from discwright.files.settings import load, shipped
from discwright.findings import Finding, sort_findings
from discwright.groove.distortion import OCTAVES_HZ, DepartureMeter, Departures, WorstSpot, worst_spots
from discwright.groove.equipment import Player, PlayingTip
from discwright.groove.heard import WIDER, Place, check_distortion, check_tip_width, check_treble, contact_width
from discwright.groove.passage import PARTS, USUAL_PARTS, Hearing, Passage
from discwright.groove.playback import play
from discwright.units import clock

Progress = Callable[[str, float], None]
Float = NDArray[np.float64]
Single = NDArray[np.float32]

#: Words for a tip that follows everything, and for a player that adds nothing.
NO_TIP, NO_PLAYER = "none", "off"
#: Added to the name of a proof for what the disc changes.
DIFFERENCE = "-difference"


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
    parts : tuple of str
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
    parts: tuple[str, ...]
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
            "parts": list(self.parts),
            "gain_db": self.gain_db,
            "octaves_hz": list(OCTAVES_HZ),
            "picture": None if self.picture is None else str(self.picture),
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


def proof(
    path: str | os.PathLike[str],
    *,
    tips: Sequence[str] = (),
    player: str | None = None,
    parts: Sequence[str] | None = None,
    start: float | None = None,
    end: float | None = None,
    at_radius: float | None = None,
    out: str | os.PathLike[str] | None = None,
    difference: bool = False,
    edition: str | None = None,
    side: str | None = None,
    progress: Progress | None = None,
) -> ProofReport:
    """Hear a planned side, or a passage of it, as the disc will give it back.

    Parameters
    ----------
    path : str or os.PathLike
        Folder that `plan --out` made, or a title file; the title's side is planned first.
    tips : sequence of str, optional
        Names in `data/`, TOML files, or ``"none"`` for a tip that follows everything; the plan's own without.
    player : str, optional
        A name in `data/`, a TOML file, or ``"off"`` for the replay curve alone.
    parts : sequence of str, optional
        Of :data:`discwright.groove.passage.PARTS`: what of the player is heard.
    start, end : float, optional, s
        The passage; the whole side without.
    at_radius : float, optional, m
        Play the passage as if it lay there.
    out : str or os.PathLike, optional
        Audio file to write, .flac or .wav; a picture of the numbers is put beside it.
    difference : bool
        Also write the programme, as it is cut, less the proof.
    edition, side : str, optional
        Of a title.
    progress : callable, optional
        Called with a step's name and the fraction of it done.

    Returns
    -------
    ProofReport

    Raises
    ------
    CallError, SettingsError, AudioError, SolverError
    """
    tell = progress or (lambda _step, _done: None)
    machine, on = _player(player, parts)
    asked = None if out is None else Path(out)
    if asked is not None:
        check_audio_place(asked)
    elif difference:
        raise CallError("--difference writes a file beside the proof; give --out FILE as well.")
    named = _tips(tips)
    opened = open_side(Path(path), edition, side, tell)
    named = named or [(opened.setup.tip.name, opened.setup.tip)]
    begin, finish = _range(opened, start, end)
    _check_radius(opened, at_radius)
    rate = opened.audio.programme.sample_rate_hz
    first = round(begin * rate)
    frames = min(round(finish * rate), opened.audio.programme.frames) - first
    time, radius = opened.time, opened.radius
    if at_radius is not None:
        radius = np.full(len(time), at_radius)
    disc = opened.setup.disc
    place = Place(time, radius, disc.turn_time, tuple(one for one, _ in opened.bands), disc.outermost_radius)
    depth_time, depth = _depth(opened, begin, finish)
    for name, tip in named:
        if tip is not None and contact_width(tip) > WIDER * 2 * float(np.median(depth)):
            raise CallError(
                f"the {name} tip touches {contact_width(tip) * 1e6:.0f} µm apart and the groove is "
                f"{2e6 * float(np.median(depth)):.0f} µm wide: the tip is larger than the groove and would ride on "
                "top; choose a smaller tip or cut deeper."
            )
    passage = Passage(
        rate, first, frames, 10 ** (opened.level_db / 20), opened.setup.practice.subsonic, disc, time, radius
    )
    hearings = [Hearing(tip, machine, on) for _, tip in named]
    places = _places(asked, [name for name, _ in named], difference)
    meters = [DepartureMeter(rate, begin) for _ in named]
    with ProofFiles(rate) if asked is not None else nullcontext() as files:
        done = 0
        blocks = _stretch(opened.blocks(), first - passage.lead, passage.lead + frames + passage.tail)
        for programme, heard in play(blocks, passage, hearings):
            for meter, one, (audio, changed) in zip(meters, heard, places, strict=True):
                meter.push(programme, one)
                if files is not None and audio is not None:
                    files.write(audio, one)
                if files is not None and changed is not None:
                    files.write(changed, programme - one)
            done += len(programme)
            tell("playing the groove", done / frames)
        known = tuple(shipped(PlayingTip).values())
        results = []
        for (name, tip), meter, (audio, changed) in zip(named, meters, places, strict=True):
            found = meter.result()
            spots = worst_spots(found)
            findings: list[Finding] = []
            if tip is not None:
                practice = opened.setup.practice
                findings = [
                    *check_distortion(found, spots, tip, practice, place, known),
                    *check_treble(found, tip, practice, place),
                    *check_tip_width(tip, depth, depth_time, place),
                ]
            results.append(TipProof(name, tip, found, spots, sort_findings(findings), audio, changed))
        gain_db = 0.0
        picture = None if asked is None else asked.with_suffix(".png")
        if files is not None:
            tell("writing", 0.0)
            gain_db = files.finish()
    if picture is not None:
        draw_proof(
            picture, [TipCurve(one.name, one.departures, one.spots) for one in results],
            place=place, bands=opened.bands, caption=_caption(opened, begin, finish, at_radius, player),
            limit=opened.setup.practice.heard_distortion_max,
        )  # fmt: skip
    return ProofReport(
        opened, begin, finish, at_radius, NO_PLAYER if machine is None else machine.name, on, place,
        tuple(results), gain_db, picture,
    )  # fmt: skip


def _player(player: str | None, parts: Sequence[str] | None) -> tuple[Player | None, tuple[str, ...]]:
    if player == NO_PLAYER:
        if parts:
            raise CallError("--player off adds nothing and --parts asks for something; give one of the two.")
        return None, ()
    for part in parts or ():
        if part not in PARTS:
            raise CallError(f"--parts: there is no “{part}”; choose from {', '.join(PARTS)}, with commas between.")
    chosen = USUAL_PARTS if parts is None else tuple(part for part in PARTS if part in parts)
    return load(Player, player), chosen


def _tips(names: Sequence[str]) -> list[tuple[str, PlayingTip | None]]:
    found: list[tuple[str, PlayingTip | None]] = []
    for name in names:
        tip = None if name == NO_TIP else load(PlayingTip, name)
        word = NO_TIP if tip is None else tip.name
        if word in [one for one, _ in found]:
            raise CallError(f"--tip: “{word}” is named twice; name each tip once.")
        found.append((word, tip))
    return found


def _range(opened: ProofSide, start: float | None, end: float | None) -> tuple[float, float]:
    length = opened.audio.programme.duration
    begin, finish = start or 0.0, length if end is None else end
    # A tenth of a second is what people are shown: an end typed as shown is the end.
    if not 0.0 <= begin < min(finish, length) or finish > length + 0.05:
        raise CallError(
            f"the passage from {clock(begin)} to {clock(finish)} does not lie within the {clock(length)} of the side; "
            "mend --from or --to."
        )
    return begin, min(finish, length)


def _check_radius(opened: ProofSide, radius: float | None) -> None:
    disc = opened.setup.disc
    if radius is not None and not disc.locked_radius <= radius <= disc.outermost_radius:
        raise CallError(
            f"a groove of {disc.name} lies between {disc.locked_radius * 1e3:g} and {disc.outermost_radius * 1e3:g} mm "
            f"from the centre; {radius * 1e3:g} mm does not: choose another --at-radius-mm."
        )


def _depth(opened: ProofSide, begin: float, end: float) -> tuple[Float, Float]:
    """Unmodulated depth along the passage."""
    inside = (opened.time >= begin) & (opened.time <= end)
    if not inside.any():
        middle = np.array([0.5 * (begin + end)])
        return middle, np.interp(middle, opened.time, opened.depth)
    return opened.time[inside], opened.depth[inside]


def _places(out: Path | None, names: Sequence[str], difference: bool) -> list[tuple[Path | None, Path | None]]:
    """Where the proof of each tip goes, and what the disc changes; the tip is in the name where there are several."""
    if out is None:
        return [(None, None) for _ in names]
    places: list[tuple[Path | None, Path | None]] = []
    for name in names:
        word = "" if len(names) == 1 else "-" + "".join(c if c.isalnum() or c in "-_." else "-" for c in name)
        places.append(
            (
                out.with_name(f"{out.stem}{word}{out.suffix}"),
                out.with_name(f"{out.stem}{word}{DIFFERENCE}{out.suffix}") if difference else None,
            )
        )
    return places


def _stretch(blocks: Iterable[Single], first: int, frames: int) -> Iterator[Single]:
    """So many frames of a programme from one on, as far as it goes."""
    at = 0
    for block in blocks:
        piece = block[max(0, first - at) : max(0, first + frames - at)]
        at += len(block)
        if len(piece):
            yield piece
        if at >= first + frames:
            return


def _caption(opened: ProofSide, begin: float, end: float, at_radius: float | None, player: str | None) -> str:
    where = "" if at_radius is None else f", as if at {at_radius * 1e3:g} mm"
    how = "replay curve alone" if player == NO_PLAYER else f"player {player or 'standard'}"
    when = f"{clock(begin)} to {clock(end)}{where}"
    return f"{opened.name}, {opened.setup.disc.name}, {opened.level_db + 0.0:+.1f} dB, {when}, {how}"
