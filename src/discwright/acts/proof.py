"""Play a planned side before it is cut: audio, numbers and a picture of what the disc will do to the programme."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from discwright.acts.proof_report import ProofReport, TipProof
from discwright.acts.proof_side import ProofSide, open_side
from discwright.errors import CallError
from discwright.files.proof_audio import ProofFiles, check_audio_place, check_overwrites
from discwright.files.proof_picture import TipCurve, draw_proof
from discwright.files.settings import load, shipped
from discwright.findings import Finding, sort_findings
from discwright.groove.distortion import DepartureMeter, Departures, worst_spots
from discwright.groove.equipment import Player, PlayingTip
from discwright.groove.heard import WIDER, Place, check_distortion, check_tip_width, check_treble, contact_width
from discwright.groove.passage import EFFECTS, USUAL_EFFECTS, Hearing, Passage
from discwright.groove.playback import play
from discwright.units import clock

Progress = Callable[[str, float], None]
Float = NDArray[np.float64]
Single = NDArray[np.float32]
#: Where the proof of a tip goes, and what the disc changes.
Files = tuple[Path | None, Path | None]

#: Words for a tip that follows everything, and for a player that adds nothing.
NO_TIP, NO_PLAYER = "none", "off"
#: Added to the name of a proof for what the disc changes.
DIFFERENCE = "-difference"


def proof(
    path: str | os.PathLike[str],
    *,
    tips: Sequence[str] = (),
    player: str | None = None,
    effects: Sequence[str] | None = None,
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
    effects : sequence of str, optional
        Of :data:`discwright.groove.passage.EFFECTS`: what of the player is heard.
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
    machine, on = _player(player, effects)
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
    _check_tips(opened, named, begin, finish)
    passage = _passage(opened, begin, finish, at_radius)
    places = _places(asked, [name for name, _ in named], difference)
    picture = None if asked is None else asked.with_suffix(".png")
    written = [one for pair in (*places, (picture,)) for one in pair if one is not None]
    check_overwrites(written, [one.band.path for one in opened.audio.ranges])
    hearings = [Hearing(tip, machine, on) for _, tip in named]
    measured, gain_db = _hear(opened, passage, hearings, places, tell)
    disc = opened.setup.disc
    place = Place(
        passage.time, passage.radius, disc.turn_time, tuple(one for one, _ in opened.bands), disc.outermost_radius
    )
    results = tuple(
        _judged(opened, place, (begin, finish), name, tip, found, files)
        for (name, tip), found, files in zip(named, measured, places, strict=True)
    )
    if picture is not None:
        draw_proof(
            picture, [TipCurve(one.name, one.departures, one.spots) for one in results],
            place=place, bands=opened.bands, caption=_caption(opened, begin, finish, at_radius, player),
            limit=opened.setup.practice.heard_distortion_max,
        )  # fmt: skip
    used = NO_PLAYER if machine is None else machine.name
    return ProofReport(opened, begin, finish, at_radius, used, on, place, results, gain_db, picture)


def _hear(
    opened: ProofSide, passage: Passage, hearings: Sequence[Hearing], places: Sequence[Files], tell: Progress
) -> tuple[list[Departures], float]:
    """Play the passage once with every tip, write what is asked for, and measure."""
    rate = passage.sample_rate
    meters = [DepartureMeter(rate, passage.first / rate) for _ in hearings]
    blocks = _stretch(opened.blocks(), passage.first - passage.lead, passage.lead + passage.frames + passage.tail)
    done, gain_db = 0, 0.0
    with ProofFiles(rate) as files:
        for programme, heard in play(blocks, passage, hearings):
            for meter, one, (audio, changed) in zip(meters, heard, places, strict=True):
                meter.push(programme, one)
                if audio is not None:
                    files.write(audio, one)
                if changed is not None:
                    files.write(changed, programme - one)
            done += len(programme)
            tell("playing the groove", done / passage.frames)
        measured = [meter.result() for meter in meters]
        if any(audio is not None for audio, _ in places):
            tell("writing", 0.0)
            gain_db = files.finish()
    return measured, gain_db


def _judged(
    opened: ProofSide, place: Place, span: tuple[float, float], name: str, tip: PlayingTip | None,
    found: Departures, files: Files,
) -> TipProof:  # fmt: skip
    """What was measured with one tip, and what the house makes of it."""
    spots = worst_spots(found)
    findings: list[Finding] = []
    if tip is not None:
        practice = opened.setup.practice
        known = tuple(shipped(PlayingTip).values())
        time, depth = _depth(opened, *span)
        findings = [
            *check_distortion(found, spots, tip, practice, place, known),
            *check_treble(found, tip, practice, place),
            *check_tip_width(tip, depth, time, place),
        ]
    return TipProof(name, tip, found, spots, sort_findings(findings), *files)


def _passage(opened: ProofSide, begin: float, finish: float, at_radius: float | None) -> Passage:
    rate = opened.audio.programme.sample_rate_hz
    first = round(begin * rate)
    frames = min(round(finish * rate), opened.audio.programme.frames) - first
    if frames < 1:
        raise CallError("the passage holds not one sample; put --from and --to further apart.")
    radius = opened.radius if at_radius is None else np.full(len(opened.time), at_radius)
    gain = 10 ** (opened.level_db / 20)
    return Passage(rate, first, frames, gain, opened.setup.practice.subsonic, opened.setup.disc, opened.time, radius)


def _check_tips(opened: ProofSide, named: Sequence[tuple[str, PlayingTip | None]], begin: float, finish: float) -> None:
    """Refuse a tip that would ride on top of the groove for half the passage and more."""
    groove = 2 * float(np.median(_depth(opened, begin, finish)[1]))
    for name, tip in named:
        if tip is not None and contact_width(tip) > WIDER * groove:
            raise CallError(
                f"the {name} tip touches {contact_width(tip) * 1e6:.0f} µm apart and the groove is "
                f"{groove * 1e6:.0f} µm wide: the tip is larger than the groove and would ride on top; "
                "choose a smaller tip or cut deeper."
            )


def _player(player: str | None, effects: Sequence[str] | None) -> tuple[Player | None, tuple[str, ...]]:
    if player == NO_PLAYER:
        if effects:
            raise CallError("--player off adds nothing and --effects asks for something; give one of the two.")
        return None, ()
    for effect in effects or ():
        if effect not in EFFECTS:
            raise CallError(
                f"--effects: there is no “{effect}”; choose from {', '.join(EFFECTS)}, with commas between."
            )
    chosen = USUAL_EFFECTS if effects is None else tuple(effect for effect in EFFECTS if effect in effects)
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


def _places(out: Path | None, names: Sequence[str], difference: bool) -> list[Files]:
    """Where the proof of each tip goes, and what the disc changes; the tip is in the name where there are several."""
    if out is None:
        return [(None, None) for _ in names]
    places: list[Files] = []
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
