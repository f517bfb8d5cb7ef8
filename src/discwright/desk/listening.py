"""Four seconds of a spot: the programme as it is cut, its proof with a tip, and what the disc changes; equally long."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from discwright.desk.opened import OpenPlan
from discwright.errors import CallError
from discwright.files.settings import load
from discwright.groove.equipment import DiscFormat, Player, PlayingTip
from discwright.groove.passage import USUAL_EFFECTS, Hearing, Passage
from discwright.groove.playback import play

Float = NDArray[np.float64]
Single = NDArray[np.float32]

#: How long a clip is, s; a side that is shorter gives all it has.
SECONDS = 4.0
VERSIONS = ("programme", "proof", "difference")
#: Quieter than this nothing is matched: there is nothing to hear, full scale.
_SILENCE = 1e-5
#: A match greater than this would be no match of level but of something else, dB.
_MOST_DB = 12.0


@dataclass(frozen=True)
class Clips:
    """What can be heard of one spot.

    Attributes
    ----------
    first : int
        Frame of the side where the clips begin.
    sample_rate : int, Hz
    programme, proof, difference : ndarray, shape (n, 2), float32
        The proof at the loudness of the programme; the difference, programme less proof, as it is.
    matched_db : float
        What the proof was raised by to be as loud as the programme.
    """

    first: int
    sample_rate: int
    programme: Single
    proof: Single
    difference: Single
    matched_db: float

    @property
    def start(self) -> float:
        """Where the clips begin, s from the first sample of music."""
        return self.first / self.sample_rate

    @property
    def seconds(self) -> float:
        """Length, s."""
        return len(self.programme) / self.sample_rate

    def wav(self, version: str) -> bytes:
        """One of the versions as a WAV file, 24 bits.

        Raises
        ------
        CallError
            If there is no such version.
        """
        if version not in VERSIONS:
            raise CallError(f"a spot can be heard as {', '.join(VERSIONS)}; choose one of them.")
        out = BytesIO()
        sound = np.clip(getattr(self, version), -1.0, 1.0 - 2.0**-23)
        soundfile.write(out, sound, self.sample_rate, format="WAV", subtype="PCM_24")
        return out.getvalue()


class Listening:
    """The spots heard last: three files are asked for, the groove is played once.

    Parameters
    ----------
    most : int
        How many are kept.
    """

    def __init__(self, most: int = 8) -> None:
        self._most = most
        self._kept: OrderedDict[tuple[str, int, str], Clips] = OrderedDict()
        self._lock = threading.Lock()

    def clips(self, plan: OpenPlan, at: float, tip: str | None) -> Clips:
        """Hear a spot: from there on, or as near to the end as four seconds allow.

        Parameters
        ----------
        plan : OpenPlan
            Made ready.
        at : float, s
        tip : str or None
            A shipped playing tip's name; the plan's own without.

        Raises
        ------
        CallError
            If the plan is not ready, the time lies outside the music or there is no such tip.
        """
        prepared = plan.prepared
        if prepared is None:
            raise CallError("this side is still being made ready; listen again when that is done.")
        if not 0.0 <= at <= plan.duration + 0.05:
            raise CallError("there is no music at this place; choose one within the bands.")
        frames = len(prepared.programme)
        length = min(frames, round(SECONDS * plan.sample_rate))
        first = min(round(at * plan.sample_rate), frames - length)
        name = tip or plan.setup.tip.name
        check_shipped_name(name, plan.plan.document["settings"])
        playing = plan.setup.tip if name == plan.setup.tip.name else load(PlayingTip, name)
        key = (f"{plan.cache}", first, name)
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        made = _hear(plan, prepared.programme, first, length, playing)
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return made


def warm() -> None:
    """Play a tenth of a second of silence, so that whatever must be loaded for it has been."""
    disc = load(DiscFormat, None)
    passage = Passage(44_100, 0, 4410, 1.0, 10.0, disc, np.array([0.0, 60.0]), np.array([0.14, 0.13]))
    tip = load(PlayingTip, None)
    for _ in play(iter([np.zeros((8820, 2), np.float32)]), passage, [Hearing(tip, load(Player, None), USUAL_EFFECTS)]):
        pass


def check_shipped_name(name: str | None, settings: Mapping[str, Any]) -> None:
    """Refuse anything but a name that comes with the program: the desk opens no file that a page names.

    Parameters
    ----------
    name : str or None
    settings : dict
        Of the plan; its own names are good.

    Raises
    ------
    CallError
    """
    if name is not None and ("/" in name or "\\" in name or name.endswith(".toml") or Path(name).exists()):
        own = [one.get("name") for one in settings.values() if isinstance(one, Mapping)]
        if name not in own:
            raise CallError("a page can only choose from what comes with the program; choose one of the list.")


def _hear(plan: OpenPlan, programme: Single, first: int, length: int, tip: PlayingTip) -> Clips:
    practice = plan.setup.practice
    rows = plan.rows
    passage = Passage(
        plan.sample_rate, first, length, plan.gain, practice.subsonic, plan.setup.disc, rows.time, rows.radius
    )
    begin = first - passage.lead
    stretch = np.asarray(programme[begin : first + length + passage.tail])
    cut: list[Float] = []
    heard: list[Float] = []
    for as_cut, (proof,) in play(_blocks(stretch), passage, [Hearing(tip, load(Player, None), USUAL_EFFECTS)]):
        cut.append(as_cut)
        heard.append(proof)
    before, after = np.concatenate(cut), np.concatenate(heard)
    gain = _match(before, after)
    return Clips(
        first, plan.sample_rate, before.astype(np.float32), (gain * after).astype(np.float32),
        (before - after).astype(np.float32), 20.0 * float(np.log10(gain)),
    )  # fmt: skip


def _blocks(stretch: Single) -> Iterator[Single]:
    for at in range(0, len(stretch), 1 << 15):
        yield stretch[at : at + (1 << 15)]


def _match(before: Float, after: Float) -> float:
    """Factor that makes the second as loud as the first, by their root mean squares."""
    loud, other = (float(np.sqrt(np.mean(sound**2))) for sound in (before, after))
    if min(loud, other) < _SILENCE:
        return 1.0
    most = 10.0 ** (_MOST_DB / 20.0)
    return float(np.clip(loud / other, 1.0 / most, most))
