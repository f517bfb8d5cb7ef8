"""The demo programme: two invented sides, composed from a small score and played by the demo's own voices.

Not a test tone: chords that lead somewhere, a pulse, a quiet that is really quiet and a tutti that is really
loud, a bass that is wide where the score says ``wide``, and bright consonants where it says ``hush``, so that
a cut of it meets what a cut of real music meets.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from discwright.programme.demo_voices import Note, Room, Samples, Voices, bend_peaks

TITLE = "A Lantern for Tarrowmere"
PERFORMERS = "The Brackenlow Players"
CATALOGUE_NUMBER = "BRK 0107"

_BLOCK_S = 3.0
_LONGEST_NOTE_S = 24.0
_RING_OUT_S = 5.5
_MASTER_GAIN = 0.235
_CEILING = 0.88
#: How the level breathes over a phrase of four bars, dB.
_PHRASE_DB = (-1.8, 0.0, 1.8, -0.6)
#: Written levels and those that are played, dB: the middle of the range is drawn up, the quiet stays quiet.
_WRITTEN_DB, _PLAYED_DB = (-36.0, -16.0, 1.0), (-30.0, -7.0, 0.4)

_Chord = tuple[int, ...]
_MINOR = (0, 2, 3, 5, 7, 8, 10)
_MAJOR = (0, 2, 4, 5, 7, 9, 11)
#: Semitones above the tonic, the root first.
_CHORDS: dict[str, _Chord] = {
    "i": (0, 3, 7, 10),
    "III": (3, 7, 10, 2),
    "iv": (5, 8, 0, 3),
    "v": (7, 10, 2, 5),
    "VI": (8, 0, 3, 7),
    "VII": (10, 2, 5, 9),
    "I": (0, 4, 7, 2),
    "ii": (2, 5, 9, 0),
    "iii": (4, 7, 11, 2),
    "IV": (5, 9, 0, 4),
    "V": (7, 11, 2, 5),
    "vi": (9, 0, 4, 7),
}


@dataclass(frozen=True)
class _Section:
    """Bars played by the same parts, the level moving evenly from one value to another."""

    bars: int
    parts: str
    level_db: float
    to_db: float
    chords: str


@dataclass(frozen=True)
class DemoBand:
    """One piece of a side.

    Attributes
    ----------
    title : str
    start_s, duration_s : float
        On the side, s; the duration holds the ringing out of the last chord.
    tonic, scale, beats, seed, sections
        The score: keynote in semitones, scale above it, beats to the bar, the chances of its own, the form.
    """

    title: str
    start_s: float
    duration_s: float
    tonic: int
    scale: tuple[int, ...]
    beats: int
    seed: int
    sections: tuple[_Section, ...]

    @property
    def end_s(self) -> float:
        """Where the gap after the band begins, s."""
        return self.start_s + self.duration_s


@dataclass(frozen=True)
class DemoSide:
    """One side of the demo.

    Attributes
    ----------
    letter, title, performers, catalogue_number : str
    bands : tuple of DemoBand
    duration_s : float
    """

    letter: str
    title: str
    performers: str
    catalogue_number: str
    bands: tuple[DemoBand, ...]
    duration_s: float

    def blocks(self, sample_rate_hz: int = 44100) -> Iterator[NDArray[np.float32]]:
        """Play the side.

        Parameters
        ----------
        sample_rate_hz : int

        Yields
        ------
        ndarray, shape (m, 2), float32
            Left and right, full scale = 1.0, never above 0.9; the same samples at every run.
        """
        voices = Voices(sample_rate_hz)
        room = Room(sample_rate_hz)
        air = voices.room_tone(19.0)
        notes = sorted((note for band in self.bands for note in _score(band)), key=lambda n: n.start_s)
        total = round(self.duration_s * sample_rate_hz)
        block = round(_BLOCK_S * sample_rate_hz)
        pending = block + round(_LONGEST_NOTE_S * sample_rate_hz)
        stage = np.zeros((2, pending), dtype=np.float32)
        send = np.zeros(pending, dtype=np.float32)
        upcoming = 0
        for at in range(0, total, block):
            while upcoming < len(notes) and round(notes[upcoming].start_s * sample_rate_hz) < at + block:
                _play(voices, notes[upcoming], at, stage, send)
                upcoming += 1
            m = min(block, total - at)
            here = np.take(air, np.arange(at, at + m), axis=1, mode="wrap")
            mixed = (stage[:, :m] + room.answer(send[:block])[:, :m]) * np.float32(_MASTER_GAIN) + here
            yield np.ascontiguousarray(bend_peaks(mixed, _CEILING).T)
            stage, send = _move_on(stage, block), _move_on(send, block)


def demo_sides() -> tuple[DemoSide, ...]:
    """Both sides of the demo, A of 14:30 in three bands and B of 13:00 in three."""
    side_a = (
        DemoBand("Mooring", 0.0, 275.0, 50, _MINOR, 4, 11, _MOORING),
        DemoBand("Copper Rain", 277.5, 300.0, 45, _MINOR, 4, 12, _COPPER_RAIN),
        DemoBand("The Long Weir", 580.0, 290.0, 48, _MAJOR, 3, 13, _LONG_WEIR),
    )
    side_b = (
        DemoBand("Ferry Hours", 0.0, 255.0, 43, _MAJOR, 4, 21, _FERRY_HOURS),
        DemoBand("Glass and Tin", 257.0, 268.0, 52, _MINOR, 4, 22, _GLASS_AND_TIN),
        DemoBand("Home by Owl-light", 527.5, 252.5, 46, _MAJOR, 3, 23, _OWL_LIGHT),
    )
    return (
        DemoSide("A", TITLE, PERFORMERS, CATALOGUE_NUMBER, side_a, 870.0),
        DemoSide("B", TITLE, PERFORMERS, CATALOGUE_NUMBER, side_b, 780.0),
    )


def _play(voices: Voices, note: Note, at: int, stage: Samples, send: Samples) -> None:
    """Add one note to what is waiting to be heard; `at` is the sample the buffers begin with."""
    sound = voices.render(note)
    begin = max(0, round(note.start_s * voices.rate) - at)
    end = begin + sound.shape[1]
    stage[:, begin:end] += sound
    send[begin:end] += (sound[0] + sound[1]) * np.float32(0.5 * note.send)


def _move_on(buffer: Samples, block: int) -> Samples:
    """Forget the block that has been heard and make room for another."""
    return np.concatenate([buffer[..., block:], np.zeros_like(buffer[..., :block])], axis=-1)


_MOORING = (
    _Section(8, "pad", -26, -22, "i VI III VII"),
    _Section(8, "pad harp cello", -20, -17, "i VI III VII"),
    _Section(8, "pad harp cello melody", -16, -13, "iv i VI v"),
    _Section(8, "pad harp cello melody brush", -12, -8, "i VI III VII"),
    _Section(4, "pad bell", -24, -24, "iv VI"),
    _Section(8, "pad harp wide melody brush timpani", -9, -4, "i III VI VII"),
    _Section(8, "pad harp wide melody brass timpani brush pulse", -4, 0, "i VI III VII"),
    _Section(8, "pad harp cello bell", -14, -24, "iv i VI i"),
)
_COPPER_RAIN = (
    _Section(4, "harp", -18, -12, "i i VII VII"),
    _Section(12, "harp cello pulse", -11, -8, "i VII VI VII"),
    _Section(12, "harp wide pulse brush melody", -8, -5, "i III VII iv"),
    _Section(8, "pad bell hush choir", -16, -12, "VI VII i i"),
    _Section(16, "pad harp wide pulse brush melody timpani", -6, -2, "i III VII iv"),
    _Section(12, "pad harp wide pulse brush brass timpani melody", -1, 0, "i VI III VII"),
    _Section(8, "harp cello pulse hush", -9, -14, "i VII VI VII"),
    _Section(8, "harp bell", -16, -26, "i VI"),
)
_LONG_WEIR = (
    _Section(12, "pad cello", -30, -22, "I iii vi IV"),
    _Section(16, "pad cello melody", -20, -13, "I V vi IV"),
    _Section(12, "choir cello harp hush", -14, -11, "vi IV I V"),
    _Section(16, "pad cello harp melody timpani", -10, -3, "I iii IV V"),
    _Section(16, "pad choir wide brass timpani melody harp cymbals", -3.5, -1.5, "I V vi IV ii V I I"),
    _Section(12, "pad cello bell", -16, -22, "vi IV I V"),
    _Section(8, "pad", -24, -32, "IV I"),
)
_FERRY_HOURS = (
    _Section(8, "harp cello", -16, -12, "I vi IV V"),
    _Section(12, "harp cello melody brush", -11, -8, "I vi ii V"),
    _Section(8, "pad bell", -22, -18, "IV I ii V"),
    _Section(12, "pad harp wide melody brush pulse", -8, -4, "I iii vi IV"),
    _Section(12, "pad harp wide brass timpani brush pulse", -3, 0, "I vi ii V"),
    _Section(8, "harp cello bell", -13, -20, "IV I"),
)
_GLASS_AND_TIN = (
    _Section(8, "bell pulse", -14, -11, "i VI"),
    _Section(12, "bell pulse cello harp", -10, -8, "i VI iv v"),
    _Section(8, "choir hush cello", -13, -9, "VI VII i v"),
    _Section(16, "pad harp wide pulse brush melody cymbals", -7, -2, "i VII VI VII"),
    _Section(8, "choir hush bell pulse", -12, -9, "iv VI III v"),
    _Section(12, "pad harp wide pulse brush brass timpani cymbals", -2, 1, "i VI III VII"),
    _Section(8, "bell", -16, -28, "i VI"),
)
_OWL_LIGHT = (
    _Section(12, "pad", -28, -22, "I IV ii V"),
    _Section(16, "pad harp cello", -20, -14, "I vi IV V"),
    _Section(16, "choir cello harp melody", -12, -7, "I iii vi IV"),
    _Section(12, "pad choir wide brass timpani", -5, 0, "IV V iii vi ii V I I"),
    _Section(12, "pad harp cello melody", -13, -20, "I vi IV V"),
    _Section(8, "pad bell", -26, -34, "IV I"),
)


@dataclass(frozen=True)
class _Bar:
    """What a part needs to know to play one bar."""

    start_s: float
    beat_s: float
    beats: int
    index: int
    tonic: int
    scale: tuple[int, ...]
    chord: _Chord
    gain: float
    seed: int

    def draw(self, *what: int) -> np.random.Generator:
        """Chance that belongs to this piece and to `what`, whatever else is playing."""
        return np.random.Generator(np.random.PCG64([self.seed, *what]))

    def above(self, semitones: int, low: int) -> int:
        """The lowest pitch of that degree not under `low`."""
        return low + (self.tonic + semitones - low) % 12

    def note(self, beat: float, voice: str, pitch: float, beats: float, level_db: float) -> Note:
        gain = round(self.gain * 10.0 ** (level_db / 20.0), 7)
        return Note(self.start_s + beat * self.beat_s, voice, pitch, beats * self.beat_s, gain)


def _score(band: DemoBand) -> Iterator[Note]:
    """Every note of a band, bar by bar; the last bar ends a ringing out before the band does."""
    bars = sum(section.bars for section in band.sections)
    beat_s = (band.duration_s - _RING_OUT_S) / (bars * band.beats)
    index = 0
    for section in band.sections:
        chords = section.chords.split()
        for k in range(section.bars):
            along = k / max(1, section.bars - 1)
            written_db = section.level_db + (section.to_db - section.level_db) * along
            level_db = float(np.interp(written_db, _WRITTEN_DB, _PLAYED_DB)) + _PHRASE_DB[k % 4]
            start_s = band.start_s + 0.05 + index * band.beats * beat_s
            chord, gain = _CHORDS[chords[k % len(chords)]], 10.0 ** (level_db / 20.0)
            bar = _Bar(start_s, beat_s, band.beats, index, band.tonic, band.scale, chord, gain, band.seed)
            for part in section.parts.split():
                yield from _PARTS[part](bar)
            index += 1


def _pad(bar: _Bar) -> Iterator[Note]:
    """Four bowed notes from the viola up, the upper ones spread to both sides."""
    low = 55
    for k, tone in enumerate(bar.chord):
        pitch = bar.above(tone, low)
        low = pitch + 3
        note = bar.note(0.0, "strings", pitch, bar.beats + 0.3, -7.0 - 1.5 * k)
        yield replace(note, pan=(0.1, -0.45, 0.45, -0.2)[k], send=0.45)


def _choir(bar: _Bar) -> Iterator[Note]:
    for k, tone in enumerate(bar.chord[:3]):
        note = bar.note(0.0, "choir", bar.above(tone, 57 + 4 * k), bar.beats - 0.4, -7.5)
        yield replace(note, pan=(-0.3, 0.3, 0.0)[k], send=0.55)


def _cello(bar: _Bar) -> Iterator[Note]:
    root = bar.above(bar.chord[0], 36)
    yield replace(bar.note(0.0, "strings", root, bar.beats + 0.2, -5.0), pan=0.15, send=0.2)
    yield replace(bar.note(0.0, "bass", root, bar.beats - 0.5, -3.5), send=0.1)


def _wide(bar: _Bar) -> Iterator[Note]:
    """A bass whose channels part by up to a third of a cycle: the vertical kind of bass."""
    root = bar.above(bar.chord[0], 33)
    fifth = bar.above(bar.chord[2], 33)
    steps = ((0.0, root, 1.4), (1.5, root, 0.9), (bar.beats - 1.0, fifth, 0.9))
    width = (0.1, 0.2, 0.45, 0.15)[bar.index % 4]
    for beat, pitch, beats in steps:
        yield replace(bar.note(beat, "bass", pitch, beats, 0.5), width=width, send=0.1)


def _harp(bar: _Bar) -> Iterator[Note]:
    """Broken chords in quavers, the figure kept for four bars at a time."""
    rng = bar.draw(1, bar.index // 4)
    figure = rng.random(2 * bar.beats)
    for k in range(2 * bar.beats):
        tone = bar.chord[int(figure[k] * 4)]
        pitch = bar.above(tone, 52 if k % 4 == 0 else 62 if figure[k] < 0.6 else 72)
        accent = 0.0 if k % 2 == 0 else -4.0
        note = bar.note(k / 2 + 0.012 * (figure[-k] - 0.5), "harp", pitch, 0.5, -4.5 + accent)
        yield replace(note, pan=-0.35 + 0.25 * float(figure[k]), send=0.3)


def _melody(bar: _Bar) -> Iterator[Note]:
    """A phrase of four bars that comes back; strong beats lean on the chord, the others on the scale."""
    rng = bar.draw(2, bar.index % 4)
    step = int(7 + 4 * bar.draw(3, bar.index % 8).random())
    beat = 0.0
    while beat < bar.beats - 0.25:
        beats = min((0.5, 1.0, 1.0, 1.5)[int(rng.random() * 4)], bar.beats - beat)
        step = min(13, max(4, step + (-2, -1, -1, 1, 1, 2)[int(rng.random() * 6)]))
        octave, degree = divmod(step, 7)
        pitch = bar.above(0, 50) + 12 * octave + bar.scale[degree]
        if beat == int(beat):
            pitch = min((bar.above(tone, pitch - 6) for tone in bar.chord), key=lambda p: abs(p - pitch))
        yield replace(bar.note(beat, "strings", pitch, beats * 0.95, -2.0), pan=-0.1, send=0.4)
        beat += beats


def _bell(bar: _Bar) -> Iterator[Note]:
    rng = bar.draw(4, bar.index % 4)
    for k in range(bar.beats):
        if rng.random() < 0.75:
            pitch = bar.above(bar.chord[int(rng.random() * 4)], 74)
            note = bar.note(k + (0.5 if rng.random() < 0.3 else 0.0), "bell", pitch, 1.0, -7.0)
            yield replace(note, pan=0.4, send=0.5)


def _brass(bar: _Bar) -> Iterator[Note]:
    rhythm = ((0.0, 1.3), (1.5, 0.4), (2.0, bar.beats - 2.1))
    for beat, beats in rhythm:
        for k, tone in enumerate(bar.chord[:3]):
            note = bar.note(beat, "brass", bar.above(tone, 48 + 5 * k), beats, -4.5)
            yield replace(note, pan=(0.1, 0.35, 0.25)[k], send=0.35)


def _pulse(bar: _Bar) -> Iterator[Note]:
    """Closed hats in quavers, a little uneven, as a hand plays them."""
    rng = bar.draw(5, bar.index)
    for k in range(2 * bar.beats):
        note = bar.note(k / 2 + 0.01 * rng.random(), "hat", k % 5, 0.1, (-9.0, -4.5)[k % 2] - 3 * rng.random())
        yield replace(note, pan=0.3, send=0.08)


def _brush(bar: _Bar) -> Iterator[Note]:
    for beat in range(1, bar.beats, 2):
        yield replace(bar.note(beat, "brush", bar.index % 4, 0.2, -2.0), pan=-0.15, send=0.25)


def _timpani(bar: _Bar) -> Iterator[Note]:
    root = bar.above(bar.chord[0], 38)
    yield replace(bar.note(0.0, "timpani", root, 1.0, 2.0), pan=-0.1, send=0.25)
    if bar.index % 2:
        yield replace(bar.note(bar.beats - 0.5, "timpani", root, 1.0, -3.0), pan=-0.1, send=0.25)


def _cymbals(bar: _Bar) -> Iterator[Note]:
    if bar.index % 4 == 0:
        yield replace(bar.note(0.0, "cymbal", bar.index % 3, 1.0, -1.0), pan=0.05, send=0.2)


def _hush(bar: _Bar) -> Iterator[Note]:
    """Consonants of the choir: bright and short, on the beat and before the bar."""
    for beat, take in ((0.0, 1), (bar.beats / 2, 2), (bar.beats - 0.5, 3)):
        yield replace(bar.note(beat - 0.1, "hush", take, 0.15, 16.0), send=0.15)


_PARTS: dict[str, Callable[[_Bar], Iterator[Note]]] = {
    "pad": _pad,
    "choir": _choir,
    "cello": _cello,
    "wide": _wide,
    "harp": _harp,
    "melody": _melody,
    "bell": _bell,
    "brass": _brass,
    "pulse": _pulse,
    "brush": _brush,
    "timpani": _timpani,
    "cymbals": _cymbals,
    "hush": _hush,
}
