"""A commented title file to start from: every key, what it means and what may stand there."""

from __future__ import annotations

import os
from pathlib import Path

from discwright.errors import CallError

STARTER = """# A title: its bands, and the editions they go out in. Text stands in quotes, numbers have a decimal point.
# Look at the sides:   discwright layout THIS-FILE
# Plan and write all:  discwright plan THIS-FILE --out DIR

[title]
name = "Name of the title"
catalogue = "ABC 0001"               # catalogue number; the matrix number is made of it
people = ["Performers", "Engineer"]  # as they should stand on the sheet; may be left out

# One [[band]] for each piece, in the order of the programme.
[[band]]
id = "first"                # short name used below: letters, digits, dots, hyphens
name = "First piece"
file = "first.wav"          # counted from this file's folder: WAV, RF64, AIFF, FLAC or Ogg
isrc = "AA6Q72000047"       # ISO 3901, hyphens allowed; may be left out
gap_s = 2.0                 # silence after it where another band follows; 2.0 when left out
trim_db = 0.0               # level of this band against the others; 0.0 when left out
may_move = false            # true: `layout` may put it anywhere; otherwise the order is kept

[[band]]
id = "second"
name = "Second piece"
file = "reel.wav"           # several bands may lie in one file …
start = "0:00"              # … each from start to end, as minutes:seconds or in seconds
end = "4:31.5"

# One [[edition]] for each format.
[[edition]]
id = "lp"                   # names the folders: lp-A, lp-B
format = "12in-33"          # 12in-33, 12in-45, 10in-33, 7in-45, 7in-33, a TOML file, or "tape"
quantity = 300              # whole; may be left out
due = 2031-05-30            # a date; may be left out
level = "fit"               # "fit": the highest that nothing stops; "clean": the tip also traces it; or dB
# lathe = "standard"        # these five: a name in data/ or a TOML file; the default when left out
# head = "standard"
# cutting_tip = "standard"
# tip = "spherical-18"      # playing tip
# practice = "standard"     # house practice

# Sides may be fixed. Without them `layout` proposes and `plan` takes its first proposal.
# [[edition.side]]
# letter = "A"
# bands = ["first", "second"]
#
# Treatments, only where they are written here; the sheet says what each did. Kinds:
#   bass_blend below_hz     side signal faded to lateral below this frequency
#   low_cut below_hz        both channels
#   high_cut above_hz       both channels
#   treble_limit            only where the playing tip could not follow
# [[edition.side.treatment]]
# kind = "bass_blend"
# below_hz = 150.0
#
# A warning that is accepted, with the reason; it stays on everything printed. Without time: all of that code.
# [[edition.side.accepted]]
# code = "sibilance"
# time = "3:12.4"
# reason = "producer wants it so"
"""


def write_starter(path: Path) -> None:
    """Write the starter where there is no file yet.

    Parameters
    ----------
    path : pathlib.Path

    Raises
    ------
    CallError
        If something is there already, or the file cannot be written.
    """
    try:
        with open(path, "x", encoding="utf-8", newline="") as file:
            file.write(STARTER)
            file.flush()
            os.fsync(file.fileno())
    except FileExistsError:
        raise CallError(f"{path}: is there already and stays as it is; choose another name.") from None
    except OSError as trouble:
        raise CallError(f"{path}: cannot be written ({trouble.strerror}); choose another place.") from None
