"""Words for what is wrong with a pressing: what is seen, what is heard, where it usually comes from, how it is drawn.

Classes follow the tradition of attribute sampling (MIL-STD-105E): a critical defect makes the disc unfit or harms, a
major one is likely to be complained of, a minor one is not. Which word is of which class is a house's own choice; the
shipped one is data (`data/defects.toml`).
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from discwright.errors import CallError

DefectClass = Literal["critical", "major", "minor"]
#: Worst first.
CLASSES: tuple[DefectClass, ...] = ("critical", "major", "minor")
Hearing = Literal["seen", "heard", "jumps"]
HEARINGS: tuple[Hearing, ...] = ("seen", "heard", "jumps")


@dataclass(frozen=True)
class DefectWord:
    """One kind of defect.

    Attributes
    ----------
    word : str
        As it is written and said.
    mark : str
        One or two letters that stand for it in a picture.
    seen, heard : str
        How it shows; what it does to the sound.
    origin : str
        Where it usually comes from.
    on_face : bool
        It has a place on a face of the disc; else it is of the whole disc or of its sleeve.
    """

    word: str
    mark: str
    seen: str
    heard: str
    origin: str
    on_face: bool = True


#: Common practice throughout.
WORDS: Mapping[str, DefectWord] = {
    one.word: one
    for one in (
        DefectWord(
            "non-fill", "N", "silvery streaks, material missing at the top of the groove, often near rim and label",
            "tearing or a zip, sometimes nothing", "compound too cool, slow flow, air",
        ),
        DefectWord("stitching", "ST", "chains of silver dots", "swish, a train of ticks", "bad release on opening"),
        DefectWord("pit", "P", "small hole", "tick", "bump on the stamper, foreign matter"),
        DefectWord("bump", "B", "raised spot, blister", "tick or thump, may jump", "moisture, air, pit in the stamper"),
        DefectWord("scratch-repeated", "SR", "line at the same place on all discs", "tick in every turn",
                   "damaged stamper"),
        DefectWord("scratch", "S", "line, parallel sets, on one disc", "maybe", "handling"),
        DefectWord("tick", "T", "maybe nothing", "once, or in every turn", "any generation of the family"),
        DefectWord("grain", "G", "matt bands", "rumble, hiss", "stamper's back not sanded, dirty mould"),
        DefectWord("stain", "M", "colour, smear", "nothing", "compound, burnt feed"),
        DefectWord("off-centre", "OC", "arm swings", "pitch wobbles once a turn", "stamper centring, worn pin", False),
        DefectWord("dish-warp", "DW", "not flat, dished", "pitch, lift", "uneven or short cooling, packed hot", False),
        DefectWord("edge-warp", "EW", "not flat at the rim", "pitch, lift", "uneven or short cooling, packed hot",
                   False),
        DefectWord("jump", "J", "maybe a mark across turns", "the tip jumps", "cut, repair of the metal, debris"),
        DefectWord("locked-groove", "K", "maybe a mark across turns", "a turn plays again and again",
                   "cut, repair of the metal, debris"),
        DefectWord("hole-tight", "HT", "by the gauge", "nothing", "worn pin, label in the hole", False),
        DefectWord("hole-loose", "HL", "by the gauge", "nothing, or pitch wobbles", "worn pin", False),
        DefectWord("flash", "F", "rim sharp or overhanging", "nothing", "trim knife"),
        DefectWord("ragged-edge", "R", "rim torn", "nothing", "trim knife"),
        DefectWord("label-off-register", "LO", "label beside the middle", "nothing", "loading"),
        DefectWord("label-creased", "LC", "fold in the label", "nothing", "loading, damp label"),
        DefectWord("label-blister", "LB", "bubble under the label", "nothing", "damp label"),
        DefectWord("label-wrong-side", "LS", "label of the other side", "the other side plays", "loading", False),
        DefectWord("label-wrong-way-up", "LW", "label's back or a bare face shows", "nothing", "loading"),
        DefectWord("wrong-sleeve", "WS", "print of another title", "nothing", "packing", False),
        DefectWord("wrong-number", "WN", "print or run-out of another number", "nothing", "packing", False),
    )
}  # fmt: skip


def word_named(word: str) -> DefectWord:
    """A defect by its word.

    Parameters
    ----------
    word : str

    Raises
    ------
    CallError
        Naming the nearest word there is.
    """
    if word in WORDS:
        return WORDS[word]
    near = difflib.get_close_matches(word.lower(), WORDS, 1, 0.5)
    hint = f"write {near[0]}" if near else f"choose from {', '.join(WORDS)}"
    raise CallError(f"there is no defect “{word[:40]}”; {hint}.")


def class_named(word: str) -> DefectClass:
    """A word as one of the three classes.

    Parameters
    ----------
    word : str

    Raises
    ------
    CallError
    """
    if word not in CLASSES:
        raise CallError(f"there is no defect class “{word[:40]}”; choose from {', '.join(CLASSES)}.")
    return word


def class_of(
    word: str, seen: Mapping[str, str], heard: Mapping[str, str], hearing: Hearing = "seen"
) -> DefectClass:  # fmt: skip
    """Class of one defect by the house's tables.

    Parameters
    ----------
    word : str
    seen : mapping of str to str
        Class by word, of a defect that is seen only.
    heard : mapping of str to str
        Class by word, of those that are worse when heard.
    hearing : {"seen", "heard", "jumps"}
        What the listener found; whatever makes the tip jump is of the class of a jump.

    Raises
    ------
    CallError
    """
    known = word_named(word).word
    if hearing not in HEARINGS:
        raise CallError(f"a defect cannot be “{hearing[:40]}”; choose from {', '.join(HEARINGS)}.")
    if hearing == "jumps":
        return worse(class_named(seen["jump"]), class_named(heard.get(known, seen[known])))
    return class_named(heard.get(known, seen[known]) if hearing == "heard" else seen[known])


def worse(one: DefectClass, other: DefectClass) -> DefectClass:
    """The worse of two classes.

    Parameters
    ----------
    one, other : {"critical", "major", "minor"}
    """
    return min(one, other, key=CLASSES.index)
