"""Discs spoiled on purpose, inspected and judged: how well the test play finds what was planted.

    python benchmarks/spoiled_discs.py                      # every disc, the table for docs/
    python benchmarks/spoiled_discs.py --only northern      # discs whose name holds a word
    python benchmarks/spoiled_discs.py --bad                # captures that should be refused or stopped
    python benchmarks/spoiled_discs.py --keep DIR --dry     # only make the discs, and say what is on them

A disc is real music, planned as a side, played with a tip (the proof), then spoiled by `tests/inspection/spoiler.py`,
which shares no code with the inspector. The same name always gives the same disc. In the folder given by --keep each
is NAME.recording.wav, NAME.plan/, NAME.capture.wav and NAME.truth.json; what is there already is not made again.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import math
import shutil
import subprocess
import sys
import tempfile
import time
import zlib
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf

sys.path.append(str(Path(__file__).resolve().parents[1] / "tests" / "independent"))
sys.path.append(str(Path(__file__).resolve().parents[1] / "tests" / "inspection"))

from music import build_programme, find_pieces
from spoiler import Crackle, Dropout, Jump, Pop, Scratch, Spoil, Swish, spoil
from spoiler_judge import Score, judge

#: Raised when the spoiler changes, and when plan or proof do: kept discs are then made anew.
SPOILER, STAGE = 3, 1
#: Real pieces, by kind and name: dense strings and brass, dense drums and voices, a quiet one, and one more.
PIECES = {
    "northern": ("orchestral", "northern_mountains.ogg"),
    "drums": ("electronic", "track22.opus"),
    "knolls": ("orchestral", "knolls.ogg"),
    "battle": ("orchestral", "battle.ogg"),
}
SECONDS, LEVEL_DB, TICKS = 240.0, 0.0, 60
FORMAT, INNERMOST_MM = "12in-33", 60.325


@dataclass(frozen=True)
class Case:
    """One disc.

    `bare` leaves the proof out and gives the inspector no plan, only the format. `inner` plans the side so that it
    ends at the innermost radius. The inspector is given the recording and plan of the piece `against`, where that is
    another. `extra` is what is planted beyond the usual.
    """

    piece: str
    noise_dbfs: float
    tip: str = "spherical-18"
    inner: bool = False
    bare: bool = False
    seconds: float = SECONDS
    word: str = ""
    against: str = ""
    extra: dict[str, Any] = field(default_factory=dict)

    @property
    def name(self) -> str:
        parts = [self.piece, f"{self.noise_dbfs:g}"[1:], "" if self.tip == "spherical-18" else self.tip]
        parts += ["inner" if self.inner else "", "bare" if self.bare else "", self.word]
        return "-".join(part for part in parts if part)


def many_faults(seconds: float) -> dict[str, Any]:
    """Everything else a pressing can have, spread over the side; places in s of the programme."""
    at = [seconds * share for share in (0.08, 0.2, 0.3, 0.42, 0.5, 0.6, 0.7, 0.8, 0.9)]
    return {
        "pops": (Pop(at[0]), Pop(at[4] + 4.1, 20.0, "left")),
        "crackles": (Crackle(at[1], 1.5),),
        "scratches": (Scratch(at[2], 9, 18.0), Scratch(at[6], 6, 14.0, "right")),
        "swishes": (Swish(at[3], 5),),
        "dropouts": (Dropout(at[4]), Dropout(at[5] + 2.0, 0.08, 30.0, "left")),
        "jumps": (Jump(at[7], 2), Jump(at[8], -1, 2)),
        "ticks": 30,
    }


def cases(seconds: float) -> list[Case]:
    """Every disc of the table."""
    three = ("northern", "drums", "knolls")
    out = [Case(piece, noise) for piece in three for noise in (-60.0, -55.0, -50.0, -45.0)]
    out += [Case(piece, noise, inner=True) for piece in three for noise in (-60.0, -45.0)]
    out += [Case(piece, -55.0, tip="elliptical-8", inner=inner) for piece in three for inner in (False, True)]
    out += [Case(piece, -55.0, bare=True) for piece in (*three, "battle")]
    out += [Case(piece, -55.0, word="faults", extra=many_faults(seconds)) for piece in ("battle", "knolls")]
    out += [
        Case("battle", -55.0, word="flat", extra={"flat": True}),
        Case("battle", -55.0, word="96kHz", extra={"sample_rate": 96_000}),
        Case("drums", -55.0, word="44kHz", extra={"sample_rate": 44_100}),
        Case("battle", -50.0, word="groove-noise", extra={"noise_colour": "groove", "rumble_dbfs": -50.0}),
        Case("northern", -55.0, word="dish", extra={"warp_waves": 0, "warp_mm": 2.0, "speed_error_percent": 0.5}),
        Case("northern", -55.0, word="tilted", extra={"warp_waves": 1, "warp_mm": 1.0}),
        Case("battle", -55.0, word="flutter", extra={"flutter_percent": 0.08, "flutter_hz": 8.0}),
    ]
    return [replace(one, seconds=seconds) for one in out]


def bad_cases(seconds: float) -> list[Case]:
    """Captures that cannot be judged, or only in part."""
    extras: dict[str, dict[str, Any]] = {
        "wrong-side": {}, "stops-early": {"stops_early_s": seconds / 3}, "mono": {"mono": True},
        "clipped": {"gain_db": 6.0, "clip_dbfs": -0.1}, "reversed": {"reversed": True},
        "half-speed": {"half_speed": True}, "mostly-silence": {"silence": 0.9}, "silence": {"silence": 1.0, "ticks": 0},
    }  # fmt: skip
    return [
        Case("battle", -55.0, word=f"bad-{word}", against="knolls" if word == "wrong-side" else "", extra=extra,
             seconds=seconds)
        for word, extra in extras.items()
    ]  # fmt: skip


def wrongs(case: Case) -> Spoil:
    """What is done to a disc: drawn from its name, but for the noise and what the case asks for."""
    rng = np.random.default_rng(zlib.crc32(case.name.encode()))

    def either(least: float, most: float) -> float:
        return float(rng.uniform(least, most) * rng.choice([-1.0, 1.0]))

    usual = Spoil(
        start_s=float(rng.uniform(1.0, 6.0)), after_s=float(rng.uniform(1.0, 5.0)),
        speed_error_percent=either(0.2, 0.5), off_centre_mm=float(rng.uniform(0.1, 0.5)),
        off_centre_angle_deg=float(rng.uniform(0, 360)), warp_mm=float(rng.uniform(0.5, 1.5)), warp_waves=2,
        warp_angle_deg=float(rng.uniform(0, 360)), gain_db=-float(rng.uniform(4, 9)), balance_db=either(0.2, 1.5),
        tilt_db_per_decade=either(0.5, 2.0), treble_db=either(1.0, 2.5),
        treble_kind=str(rng.choice(["shelf", "resonance"])), crosstalk_db=-float(rng.uniform(20, 32)),
        noise_dbfs=case.noise_dbfs, ticks=round(TICKS * case.seconds / SECONDS),
    )  # fmt: skip
    return replace(usual, **case.extra)


def make(case: Case, folder: Path) -> dict[str, Any]:
    """The disc in the folder, made where it is not there yet; returns its truth."""
    what = wrongs(case)
    recipe = {"versions": (SPOILER, STAGE), "case": asdict(case), "planted": asdict(what)}
    mark = hashlib.sha256(json.dumps(recipe, sort_keys=True).encode()).hexdigest()
    kept = folder / f"{case.name}.truth.json"
    if kept.exists():
        truth: dict[str, Any] = json.loads(kept.read_text(encoding="utf-8"))
        if truth["recipe"] == mark:
            return truth
    stage = _stage(case, folder)
    played, rate = sf.read(stage.with_suffix(".recording.wav" if case.bare else ".proof.wav"), always_2d=True)
    disc = spoil(
        played, rate, radius_of(stage.with_suffix(".plan")), 100 / 3, what, seed=zlib.crc32(case.name.encode())
    )
    told = _stage(replace(case, piece=case.against), folder) if case.against else stage
    for ending in (".recording.wav", ".plan"):
        link = folder / f"{case.name}{ending}"
        link.unlink(missing_ok=True)
        link.symlink_to(told.with_suffix(ending).relative_to(folder))
    part = folder / f".{case.name}.part"
    sf.write(part, disc.audio, disc.sample_rate, format="WAV", subtype="FLOAT")
    part.replace(folder / f"{case.name}.capture.wav")
    truth = {"recipe": mark, "name": case.name, "tip": None if case.bare else case.tip} | disc.truth.as_dict()
    kept.write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")
    return truth


def _stage(case: Case, folder: Path) -> Path:
    """Recording, plan and proof that several discs share; the plan carries the tip."""
    from discwright.acts.plan import plan_file
    from discwright.acts.proof import proof

    kind, name = PIECES[case.piece]
    found = [path for path in find_pieces(kind) if path.name == name]
    if not found:
        raise SystemExit(f"{name} is not installed; see tests/independent/music.py for the packages.")
    place = "-inner" if case.inner else ""
    stage = folder / "stages" / f"{case.piece}-{case.tip}{place}-{round(case.seconds)}s-{STAGE}"
    stage.parent.mkdir(parents=True, exist_ok=True)
    recording, plan, played = (stage.with_suffix(ending) for ending in (".recording.wav", ".plan", ".proof.wav"))
    if not played.exists():
        seconds = min(case.seconds, sf.info(found[0]).duration)
        shutil.copyfile(build_programme(found, seconds, "PCM_24", directory=folder / "music"), recording)
        shutil.rmtree(plan, ignore_errors=True)
        usual = plan_file(
            recording, format=FORMAT, level_db=LEVEL_DB, tip=case.tip, out=None if case.inner else plan, only=("sheet",)
        )
        if case.inner:
            _plan_inside(recording, plan, case.tip, usual.plan.radius_used * 1e3)
        proof(plan, out=played)
    return stage


def _plan_inside(recording: Path, plan: Path, tip: str, used_mm: float) -> None:
    """Plan on a disc whose music begins so far in that it ends at the innermost radius."""
    import discwright
    from discwright.acts.plan import plan_file

    text = (Path(discwright.__file__).parent / "data" / "formats.toml").read_text(encoding="utf-8")
    lines = text.split(f'["{FORMAT}"]')[1].split("\n[")[0].splitlines()
    outermost = (
        f'outermost_radius_mm = {{ value = {INNERMOST_MM + 1.05 * used_mm + 0.3:.2f}, source = "this benchmark" }}'
    )
    kept = [outermost if line.startswith("outermost_radius_mm") else line for line in lines]
    format_file = plan.with_suffix(".format.toml")
    format_file.write_text("\n".join([f'["{FORMAT}"]', *kept]) + "\n", encoding="utf-8")
    plan_file(recording, format=str(format_file), level_db=LEVEL_DB, tip=tip, out=plan, only=("sheet",))


def radius_of(plan: Path) -> Callable[[np.ndarray], np.ndarray]:
    """The groove's radius over programme time, m, from the plan's own spiral."""
    with (plan / "spiral.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    times = np.array([float(row["time_s"]) for row in rows])
    radii = np.array([float(row["radius_mm"]) for row in rows]) * 1e-3
    return lambda t: np.interp(t, times, radii)


def command(case: Case, folder: Path) -> list[str]:
    """How a person would inspect it."""
    base = folder / case.name
    words = ["inspect", f"{base}.capture.wav", "--recording", f"{base}.recording.wav", "--json"]
    words += ["--format", FORMAT] if case.bare else ["--plan", f"{base}.plan"]
    return [sys.executable, "-m", "discwright", *words]


def inspect(case: Case, folder: Path) -> tuple[subprocess.CompletedProcess[str], float]:
    """The command as it ended, and how long it took, s."""
    began = time.perf_counter()
    done = subprocess.run(command(case, folder), capture_output=True, text=True, check=False)
    return done, time.perf_counter() - began


def judged(case: Case, folder: Path, truth: dict[str, Any], scores: dict[str, Score]) -> str:
    """One line of the table, or why there is none; the score is added to the others."""
    done, took = inspect(case, folder)
    if done.returncode not in (0, 1):
        return f"| {case.name} | exit {done.returncode}: {_last(done.stderr)} |"
    (folder / f"{case.name}.report.json").write_text(done.stdout, encoding="utf-8")
    scores[case.name] = score = judge(json.loads(done.stdout), truth)
    (folder / f"{case.name}.score.json").write_text(json.dumps(asdict(score), indent=1) + "\n", encoding="utf-8")
    return row(case, score, took)


def said(case: Case, folder: Path) -> str:
    """One line of the table of bad captures: what the command said."""
    done, _ = inspect(case, folder)
    words = _last(done.stderr)
    if done.returncode in (0, 1) and done.stdout.strip():
        report = json.loads(done.stdout)
        stops = [str(one.get("remedy")) for one in report.get("findings") or [] if one.get("severity") == "stop"]
        words = " ".join([str(report.get("verdict")), *stops])
    return f"| {case.name.partition('bad-')[2]} | {done.returncode} | {words} |"


def worst(scores: dict[str, Score]) -> str:
    """The worst disc for each promise, in words."""
    measures: dict[str, Callable[[Score], float]] = {
        "share found": lambda one: -one.found_share, "false": lambda one: one.false_per_5_min,
        "place": lambda one: one.place_ms, "angle": lambda one: one.angle_deg,
        "speed": lambda one: abs(one.speed_percent), "off centre": lambda one: abs(one.eccentricity_mm),
        "response": lambda one: abs(one.response_db), "separation": lambda one: abs(one.separation_db),
    }  # fmt: skip
    out = []
    for what, value in measures.items():
        known = {name: value(one) for name, one in scores.items() if not math.isnan(value(one))}
        if known:
            name = max(known, key=lambda one: known[one])
            out.append(f"{what} {abs(known[name]):.4g} ({name})")
    return "Worst: " + ", ".join(out) + "."


def _last(text: str) -> str:
    lines = text.strip().splitlines()
    return lines[-1] if lines else "nothing was said"


COLUMNS = (
    "disc", "ticks found", "false per 5 min", "place, ms", "angle, °", "speed, %", "off centre, mm", "response, dB",
    "separation, dB", "level, dB", "balance, dB", "other faults", "took, s", "kept",
)  # fmt: skip


def row(case: Case, score: Score, took: float) -> str:
    """One line of the table."""
    others = ", ".join(f"{kind} {found}/{planted}" for kind, (found, planted) in score.others.items())
    cells = [
        case.name, f"{score.found}/{score.planted}", f"{score.false_per_5_min:.1f}", _cell(score.place_ms, 2),
        _cell(score.angle_deg, 2), _cell(score.speed_percent, 4), _cell(score.eccentricity_mm, 4),
        f"{_cell(score.response_db, 2)} {score.response_at}".strip(), _cell(score.separation_db, 2),
        _cell(score.level_db, 2), _cell(score.balance_db, 2), others or "–", f"{took:.0f}",
        "all" if score.passes else "; ".join(score.shortfalls),
    ]  # fmt: skip
    return "| " + " | ".join(cells) + " |"


def _cell(value: float, digits: int) -> str:
    return "–" if math.isnan(value) else f"{value:.{digits}f}"


def tell(truth: dict[str, Any]) -> None:
    """What is on a disc, in a few lines."""
    planted = truth["planted"]
    sizes = sorted(one["size_db"] for one in truth["ticks"])
    names = [one["shape"] for one in truth["ticks"]]
    shapes = {shape: names.count(shape) for shape in sorted(set(names))}
    print(f"{truth['name']}: {truth['programme_s']:.1f} s, starts at {truth['start_s']:.4f} s")
    print(
        f"  speed {truth['speed_error_percent']:+.3f} %, off centre {truth['eccentricity_mm']:.3f} mm at "
        f"{truth['eccentricity_angle_deg']:.0f}°, warp {planted['warp_mm']:.2f} mm, "
        f"wow {truth['wow_peak_percent']:.3f} %"
    )
    print(
        f"  level {truth['level_db']:+.2f} dB, balance {truth['balance_db']:+.2f} dB, "
        f"separation {truth['separation_db']:.1f} dB, tilt {planted['tilt_db_per_decade']:+.2f} dB, "
        f"treble {planted['treble_db']:+.2f} dB ({planted['treble_kind']})"
    )
    print(f"  {len(sizes)} ticks of {sizes[0]:.1f} to {sizes[-1]:.1f} dB: {shapes}" if sizes else "  no ticks")
    for one in truth["others"]:
        print(f"  {one['kind']} at {one['time_s']:.2f} s")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", metavar="WORD", action="append", help="discs whose name holds it; may be given again")
    parser.add_argument("--exactly", metavar="NAME", action="append", help="the disc of this name; may be given again")
    parser.add_argument("--bad", action="store_true", help="bad captures instead of spoiled discs")
    parser.add_argument("--keep", metavar="DIR", type=Path, help="keep discs and reports here, and use those kept")
    parser.add_argument("--seconds", type=float, default=SECONDS, help=f"of each piece at most; {SECONDS:g} without")
    parser.add_argument("--dry", action="store_true", help="make the discs and tell what is on them; inspect nothing")
    parser.add_argument("--list", action="store_true", help="print the names and stop")
    given = parser.parse_args()
    chosen = [
        one
        for one in (bad_cases if given.bad else cases)(given.seconds)
        if not (given.only or given.exactly)
        or any(word in one.name for word in given.only or ())
        or one.name in (given.exactly or ())
    ]
    if given.list:
        print("\n".join(one.name for one in chosen))
        return
    with tempfile.TemporaryDirectory() as passing:
        folder = (given.keep or Path(passing)).resolve()
        folder.mkdir(parents=True, exist_ok=True)
        if not given.dry:
            columns = ("capture", "exit", "what was said") if given.bad else COLUMNS
            print("| " + " | ".join(columns) + " |\n|" + "---|" * len(columns))
        scores: dict[str, Score] = {}
        for case in chosen:
            truth = make(case, folder)
            if given.dry:
                tell(truth)
            else:
                print(said(case, folder) if given.bad else judged(case, folder, truth, scores), flush=True)
            if given.keep is None:
                (folder / f"{case.name}.capture.wav").unlink()
        if scores:
            print(f"\n{worst(scores)}")


if __name__ == "__main__":
    main()
