"""Hold a playing of a mother or pressing against the programme: where it departs, how far, and whether it passes."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from discwright.acts.inspect_capture import equalised, find_programme, is_unequalised, read_capture
from discwright.acts.inspect_keep import check_place, keep_report
from discwright.acts.inspect_reference import (
    Candidate,
    Reference,
    candidates,
    choose,
    loud_passages,
    open_reference,
    played,
    resampled,
)
from discwright.acts.inspect_report import CaptureFacts, InspectReport
from discwright.files.sample_store import SampleStore
from discwright.files.settings import load
from discwright.findings import Finding, sort_findings
from discwright.groove.heard import Place
from discwright.inspection.align import Alignment, align
from discwright.inspection.bursts import find_dropouts, find_swishes
from discwright.inspection.defects import Defect, Face, all_defects
from discwright.inspection.difference import CellSums, differences, noise_of
from discwright.inspection.features import RATE
from discwright.inspection.frames import Pair, Part
from discwright.inspection.growth import growth
from discwright.inspection.jumps import follow
from discwright.inspection.limits import PlayLimits
from discwright.inspection.sound import sound_of
from discwright.inspection.speed import turning
from discwright.inspection.ticks import Tick, TickFinder
from discwright.inspection.timemap import TimeMap, first_map
from discwright.inspection.verdict import Played, judge

Float = NDArray[np.float64]
Progress = Callable[[str, float], None]

#: A full-scale sine at 1 kHz in both channels cuts 5 cm/s, and rumble is told re 10: dB.
_RUMBLE_REFERENCE_DB = 20 * float(np.log10(2.0))


def inspect(
    capture: str | os.PathLike[str],
    *,
    recording: str | os.PathLike[str] | None = None,
    plan: str | os.PathLike[str] | None = None,
    format: str | None = None,
    tip: str | None = None,
    limits: str | None = None,
    out: str | os.PathLike[str] | None = None,
    progress: Progress | None = None,
) -> InspectReport:
    """Inspect one playing of one side.

    Parameters
    ----------
    capture : str or os.PathLike
        Audio file of the playing: any start, gain and length beyond the programme, with or without replay curve.
    recording : str or os.PathLike, optional
        The programme; the plan's own without.
    plan : str or os.PathLike, optional
        Folder of the kept plan the side was cut from.
    format : str, optional
        Disc format, where there is no plan.
    tip : str, optional
        Playing tip the proof is made with: a name in `data/`, a TOML file, or ``"none"`` for the bare programme. With a
        plan and no tip, the plan's own tip or the bare programme, whichever explains the capture better.
    limits : str, optional
        Of a test play: a name in `data/` or a TOML file.
    out : str or os.PathLike, optional
        A folder to make: the report, its picture, and programme, capture and difference as audio of one length.
    progress : callable, optional
        Called with a step's name and the fraction of it done.

    Returns
    -------
    InspectReport

    Raises
    ------
    CallError, SettingsError, AudioError
        Also where the capture does not hold the programme, with what was seen.
    """
    tell = progress or (lambda _step, _done: None)
    bounds = load(PlayLimits, limits)
    reference = open_reference(_path(recording), _path(plan), format, tell)
    choices = candidates(reference, tip)
    if out is not None:
        check_place(Path(out))
    with ExitStack() as stack:
        programme = stack.enter_context(SampleStore(reference.working_rate))
        for block in resampled(reference.blocks(), reference.rate, programme.rate):
            programme.add(block)
            tell("reading the programme", programme.frames / max(reference.duration * programme.rate, 1))
        heard, facts = read_capture(Path(capture), programme.rate, lambda done: tell("reading the capture", done))
        stack.callback(lambda: heard.close())
        tell("finding the programme", 0.0)
        line, (own, level), features = find_programme(programme, heard, Path(capture))
        if is_unequalised(programme, heard, line):
            heard, facts = equalised(heard), replace(facts, equalised=False)
        way = follow(own, features, line)
        known = first_map(line, way.stretches, reference.duration)
        covered = _covered(known, heard, reference.duration, way.heard(level))
        loud = [
            one for one in loud_passages(level, RATE, programme.rate)
            if covered[0] <= one / programme.rate and one / programme.rate + 8.0 <= covered[1]
        ]  # fmt: skip
        tell("choosing what to hold it against", 0.0)
        chosen = choose(reference, programme, heard, known, choices, loud)
        against = stack.enter_context(_proved(reference, programme, chosen, tell))
        pair = Pair(Part(against, *covered), heard)
        laid = align(pair, known, reference.disc.turn_time, tell)
        return _report(
            reference, facts, bounds, chosen, programme, pair, laid, covered,
            None if out is None else Path(out), tell,
        )  # fmt: skip


def _path(given: str | os.PathLike[str] | None) -> Path | None:
    return None if given is None else Path(given)


def _covered(
    known: TimeMap, heard: SampleStore, duration: float, alike: tuple[float, float]
) -> tuple[float, float]:  # fmt: skip
    """What of the programme lies within the capture, s."""
    place = known.at(known.time)
    inside = (place >= 0) & (place <= heard.frames / heard.rate) & (known.time >= 0) & (known.time <= duration)
    time = known.time[inside]
    if len(time) < 2:
        return 0.0, duration
    begin, end = max(float(time[0]), alike[0]), min(float(time[-1]), alike[1])
    # A part of a step at either end is no loss.
    return (0.0 if begin < 0.02 else begin), (duration if end > duration - 0.02 else end)


def _proved(reference: Reference, programme: SampleStore, chosen: Candidate, tell: Progress) -> SampleStore:
    store = SampleStore(programme.rate)
    hearing = chosen.hearing
    if hearing is None:
        size = 1 << 20
        return store.fill(
            programme.read(at, min(size, programme.frames - at)) for at in range(0, programme.frames, size)
        )
    try:
        for block in played(reference, programme, hearing, 0, programme.frames):
            store.add(block)
            tell("proving the plan", store.frames / max(programme.frames, 1))
    except BaseException:
        store.close()
        raise
    return store


def _report(
    reference: Reference, facts: CaptureFacts, bounds: PlayLimits, chosen: Candidate, programme: SampleStore,
    pair: Pair, laid: Alignment, covered: tuple[float, float], out: Path | None, tell: Progress,
) -> InspectReport:  # fmt: skip
    turn_time = reference.disc.turn_time
    noise = noise_of(laid)
    defects = _defects(reference, pair, laid, noise, covered, tell)
    sound = sound_of(laid)
    gain = 10 ** (sound.level_db / 20)
    whole_noise = 10 ** (sound.noise_db / 20) / math.sqrt(2)
    grown = [] if chosen.hearing is None else growth(programme, pair, laid, whole_noise, covered)
    radius = np.interp(laid.swings.time, reference.time, reference.radius)
    result = Played(
        turning(laid.map, laid.swings, radius, covered, turn_time), sound, defects, grown, covered,
        reference.duration, facts.clipped, _alike(pair, laid),
    )  # fmt: skip
    place = Place(reference.time, reference.radius, turn_time, reference.band_starts, reference.disc.outermost_radius)
    findings = judge(result, bounds, place, reference.planned)
    rumble = sound.rumble_db + reference.level_db - _RUMBLE_REFERENCE_DB
    if rumble > bounds.rumble_max:
        findings.append(
            Finding(
                "rumble", "warn", None, None, None, None, rumble, bounds.rumble_max, "dB",
                "Look at the turntable's bearing and belt first, then at the lathe's.",
            )
        )  # fmt: skip
    if reference.other_audio:
        findings.append(
            Finding(
                "other_recording", "note", None, None, None, None, 0.0, 0.0, "",
                "The recording given is not the file the plan was made from, only as long.",
            )
        )  # fmt: skip
    report = InspectReport(
        facts, reference.name, chosen.words, reference.fingerprint, result, rumble, bounds,
        sort_findings(findings), turn_time, out,
    )  # fmt: skip
    if out is not None:
        keep_report(report, reference, pair, laid, gain, out, tell)
    return report


def _defects(
    reference: Reference, pair: Pair, laid: Alignment, noise: Float, covered: tuple[float, float], tell: Progress
) -> tuple[Defect, ...]:  # fmt: skip
    finder, cells = TickFinder(pair.rate, noise), CellSums(pair.rate)
    ticks: list[Tick] = []
    for block in differences(pair, laid):
        cells.add(block)
        ticks += finder.push(block)
        tell("looking for faults", min(1.0, block.first / max(pair.programme.frames, 1)))
    ticks += finder.finish()
    summed = cells.result()
    bursts = [*find_swishes(summed, noise[0]), *find_dropouts(summed, noise)]
    edge = 0.1  # the needle is set down and lifted outside the programme, and filters begin there
    inside = (covered[0] + edge * (covered[0] > 0), covered[1] - edge * (covered[1] < reference.duration))
    face = Face(reference.disc.turn_time, reference.radius_at)
    return all_defects(
        face,
        [one for one in ticks if inside[0] <= one.time <= inside[1]],
        [one for one in bursts if inside[0] <= one.begin and one.end <= inside[1] + edge],
        laid.map.stretches,
    )


def _alike(pair: Pair, laid: Alignment) -> bool:
    """Both channels of the capture the same, where the programme's are not."""
    sides = []
    for samples, time in ((pair.programme, 0.0), (pair.capture, float(laid.map.at(np.zeros(1))[0]))):
        same = other = 0.0
        for at in np.linspace(time, time + 0.9 * pair.duration, 30):
            audio = samples.read(round(at * samples.rate), samples.rate // 2).astype(np.float64)
            same += float(np.sum(audio**2))
            other += float(np.sum((audio[:, 0] - audio[:, 1]) ** 2))
        sides.append(other / (same + 1e-20))
    return sides[0] > 1e-3 and sides[1] < 1e-5
