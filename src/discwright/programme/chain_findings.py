"""What of a chain leaves its limits, in a sentence each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from discwright.findings import Finding, Severity, sort_findings
from discwright.programme.chain_report import CHANNELS, ChainReport, Channel, Tone
from discwright.programme.chain_tones import ToneReading

#: A harmonic within so many Hz of a line of hum and not stronger than so many times it is the hum's.
_HUM_NEAR_HZ, _HUM_TIMES = 1.5, 2.0
#: Noise explains what it makes on the average, and so many standard deviations more.
_SWAY = 5.0
#: Distortion of tones above this alone is a matter of headroom.
_LOUD_DBFS = -12.0
_CHANNEL_WORDS: dict[Channel, str] = {"left": "the left channel", "right": "the right channel"}


@dataclass(frozen=True)
class ChainLimits:
    """What a chain is held against; all of it can be changed in a house file.

    Attributes
    ----------
    distortion_percent : float
        Of a tone, harmonics over the fundamental, less what the noise explains.
    distortion_from_hz, distortion_to_hz : float
    modulation_percent, difference_percent : float
        Of the two pairs of tones.
    response_bands : tuple of (float, float, float)
        From, to, Hz, and how far from 1 kHz, dB.
    balance_db : float
    separation_bands : tuple of (float, float, float)
        From, to, Hz, and the least separation between, dB.
    noise_dbfs, hum_dbfs : float
    speed_percent : float
    """

    distortion_percent: float
    distortion_from_hz: float
    distortion_to_hz: float
    modulation_percent: float
    difference_percent: float
    response_bands: tuple[tuple[float, float, float], ...]
    balance_db: float
    separation_bands: tuple[tuple[float, float, float], ...]
    noise_dbfs: float
    hum_dbfs: float
    speed_percent: float


def chain_findings(report: ChainReport, limits: ChainLimits) -> tuple[Finding, ...]:
    """What to say of a chain: crossed or opposed channels are stops, all else warns or notes.

    Parameters
    ----------
    report : ChainReport
    limits : ChainLimits
    """
    found = [
        *_wiring(report),
        *_capture(report),
        *_distortion(report, limits),
        *_pairs(report, limits),
        *_response(report, limits),
        *_balance(report, limits),
        *_separation(report, limits),
        *_noise(report, limits),
        *_speed(report, limits),
    ]
    return sort_findings(found)


def finding(
    code: str, severity: Severity, value: float, limit: float, unit: str, remedy: str, time: float | None = None
) -> Finding:
    """A finding of a chain; its time is that of the capture.

    Parameters
    ----------
    code, severity, value, limit, unit, remedy
        As in :class:`discwright.findings.Finding`.
    time : float, optional, s
    """
    return Finding(code, severity, time, None, None, None, value, limit, unit, remedy)


def _wiring(report: ChainReport) -> list[Finding]:
    wiring, found = report.wiring, []
    if wiring.swapped:
        words = "Left comes back on the right and right on the left: exchange the two lines."
        found.append(finding("chain_swapped", "stop", 1.0, 0.0, "crossed", words))
    if wiring.opposed:
        words = "The channels work against each other, so what is lateral would be cut vertical: reverse one line."
        found.append(finding("chain_opposed", "stop", 1.0, 0.0, "reversed", words))
    elif wiring.reversed_left and wiring.reversed_right:
        words = "Both channels come back upside down: reverse both lines, or leave it and write it down."
        found.append(finding("chain_polarity", "note", 2.0, 0.0, "reversed", words))
    return found


def _capture(report: ChainReport) -> list[Finding]:
    found = []
    runs = sum(report.full_scale)
    if runs:
        words = "The capture stands at full scale, so what is beyond was cut off: lower the level and capture again."
        found.append(finding("chain_full_scale", "warn", runs, 0.0, "places", words))
    if report.channels == 1:
        words = "A mono file: nothing is known of separation, balance and the other channel."
        found.append(finding("chain_mono", "note", 1.0, 2.0, "channels", words))
    else:
        heard = {name for tone in report.tones for name in tone.readings}
        if len(heard) == 1 and len(report.tones) > 2:
            dead = next(name for name in CHANNELS if name not in heard)
            words = f"No tone plays in {_CHANNEL_WORDS[dead]}: check its line, unless only one was captured."
            found.append(finding("chain_one_channel", "warn", 1.0, 2.0, "channels", words))
    if report.what == "signals" and report.found < report.asked:
        words = "Part of the signals is missing in the capture; what is there was measured."
        found.append(finding("chain_incomplete", "note", report.found, report.asked, "stretches", words))
    return found


def _distortion(report: ChainReport, limits: ChainLimits) -> list[Finding]:
    judged = [
        (_sure(report, name, one), tone, name, one)
        for tone in report.tones
        if limits.distortion_from_hz <= tone.about_hz <= limits.distortion_to_hz
        for name, one in tone.readings.items()
    ]
    over = [row for row in judged if 100.0 * row[0] > limits.distortion_percent]
    if not over:
        return []
    sure, tone, name, one = max(over, key=lambda row: row[0])
    many = len({id(row[1]) for row in over})
    order = 2 + int(np.argmax(one.harmonics))
    where = f"{_hz(tone.about_hz)} at {one.level_dbfs:.1f} dBFS in {_CHANNEL_WORDS[name]}, most of it harmonic {order}"
    words = f"The worst is {where}; {many} of {len(report.tones)} tones exceed the limit. "
    words += _distortion_remedy([row[1] for row in over])
    return [finding("chain_distortion", "warn", 100.0 * sure, limits.distortion_percent, "%", words, tone.start)]


def _sure(report: ChainReport, name: Channel, one: ToneReading) -> float:
    """Distortion that neither the noise beside the harmonics explains nor hum that happens to lie on one."""
    noise = dict(zip(CHANNELS, report.noise, strict=True))[name] if report.noise is not None else None
    hum = [(line.frequency, 10.0 ** (line.level_dbfs / 20.0)) for line in noise.hum] if noise is not None else []
    rest = 0.0
    for order, share in enumerate(one.harmonics, 2):
        on_hum = any(
            abs(order * one.frequency - at) < _HUM_NEAR_HZ and share * one.amplitude < _HUM_TIMES * level
            for at, level in hum
        )
        rest += 0.0 if on_hum else share * share
    # Of n lines of noise the power sways by 1/√n of itself.
    if rest <= one.floor**2 * (1.0 + _SWAY / math.sqrt(max(1, len(one.harmonics)))):
        return 0.0
    return math.sqrt(rest - one.floor**2)


def _distortion_remedy(over: Sequence[Tone]) -> str:
    if min(tone.worse[1].level_dbfs for tone in over) > _LOUD_DBFS:
        return "Only loud tones do: give the chain more headroom."
    return "Soft tones do, too: look for a faulty stage before the programme is approved."


def _pairs(report: ChainReport, limits: ChainLimits) -> list[Finding]:
    most = {"modulation": limits.modulation_percent, "difference": limits.difference_percent}
    found = []
    for pair in report.pairs:
        worse, limit = pair.worse, most[pair.worse.kind]
        if 100.0 * worse.total > limit:
            words = (
                f"Two tones at once, {_hz(worse.low)} and {_hz(worse.high)}, make {worse.kind} products: "
                "look for the stage that bends first."
            )
            found.append(
                finding("chain_intermodulation", "warn", 100.0 * worse.total, limit, "%", words, pair.start)
            )  # fmt: skip
    return found


def _response(report: ChainReport, limits: ChainLimits) -> list[Finding]:
    found = []
    for column, name in enumerate(CHANNELS):
        if len(report.curve_hz):
            hz, db = report.curve_hz, report.curve_db[column]
        else:
            rows = [(row.frequency, (row.left_db, row.right_db)[column]) for row in report.response]
            hz = np.array([f for f, value in rows if value is not None])
            db = np.array([value for _, value in rows if value is not None])
        worst: tuple[float, float, float, float] | None = None
        for low, high, limit in limits.response_bands:
            inside = (hz >= low) & (hz <= high) & np.isfinite(db)
            if inside.any():
                k = int(np.argmax(np.where(inside, np.abs(db), -1.0)))
                excess = abs(float(db[k])) - limit
                if excess > 0.0 and (worst is None or excess > worst[0]):
                    worst = (excess, float(hz[k]), float(db[k]), limit)
        if worst is not None:
            _, at, value, limit = worst
            words = (
                f"{_hz(at)} comes back {abs(value):.2f} dB {'below' if value < 0 else 'above'} 1 kHz in "
                f"{_CHANNEL_WORDS[name]}: line up the chain, or write down why it is so."
            )
            found.append(finding("chain_response", "warn", value, math.copysign(limit, value), "dB", words))
    return found


def _balance(report: ChainReport, limits: ChainLimits) -> list[Finding]:
    value = report.balance_db
    if value is None or abs(value) <= limits.balance_db:
        return []
    words = f"The {'left' if value > 0 else 'right'} channel is louder at 1 kHz: set the two gains alike."
    return [finding("chain_balance", "warn", value, math.copysign(limits.balance_db, value), "dB", words)]


def _separation(report: ChainReport, limits: ChainLimits) -> list[Finding]:
    short = []
    for tone in report.separations:
        value = tone.separation_db
        for low, high, least in limits.separation_bands:
            if value is not None and low <= tone.about_hz <= high and value < least:
                short.append((value - least, value, least, tone))
    if not short:
        return []
    _, value, least, tone = min(short, key=lambda row: row[0])
    words = f"A tone of {_hz(tone.about_hz)} in {_CHANNEL_WORDS[tone.worse[0]]} alone is heard in the other: look at"
    words += " wiring, ground and head."
    return [finding("chain_separation", "warn", value, least, "dB", words, tone.start)]


def _noise(report: ChainReport, limits: ChainLimits) -> list[Finding]:
    found, level = [], report.noise_dbfs
    if level is not None and level > limits.noise_dbfs:
        words = "The chain at rest is noisy: look for a gain set too high, or a stage that hisses."
        found.append(finding("chain_noise", "warn", level, limits.noise_dbfs, "dBFS", words))
    lines = [
        (line.level_dbfs, line.frequency, name)
        for name, one in zip(CHANNELS, report.noise or (), strict=False)
        for line in one.hum
    ]
    if lines:
        level, frequency, name = max(lines)
        if level > limits.hum_dbfs:
            words = f"Mains hum at {frequency:.1f} Hz in {_CHANNEL_WORDS[name]}: look at grounds and transformers."
            found.append(finding("chain_hum", "warn", level, limits.hum_dbfs, "dBFS", words))
    return found


def _speed(report: ChainReport, limits: ChainLimits) -> list[Finding]:
    if report.speed is None or abs(100.0 * report.speed) <= limits.speed_percent:
        return []
    value = 100.0 * report.speed
    words = f"The capture runs {'fast' if value > 0 else 'slow'}: check the speed of the machine, or the clocks."
    return [finding("chain_speed", "warn", value, math.copysign(limits.speed_percent, value), "%", words)]


def _hz(frequency: float) -> str:
    return f"{frequency / 1000.0:.4g} kHz" if frequency >= 1000.0 else f"{frequency:.4g} Hz"
