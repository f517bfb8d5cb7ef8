"""How often plain music is warned of, and whether planted faults are found: the table in `docs/warnings.md`.

    python benchmarks/budget.py            # every side, prints the table
    python benchmarks/budget.py --sides 2  # a dry run
    python benchmarks/budget.py --write    # puts the table into docs/warnings.md

A side is made of whole pieces of packaged, freely licensed music, two seconds apart, until it is long enough. Its
moderate level is the one where it uses about 80 % of its band, or the highest that nothing stops where that is lower.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile as sf
from numpy.typing import NDArray

from discwright.files.settings import load_setup
from discwright.findings import Finding
from discwright.plan import Order, Plan, Programme, plan_side
from independent import find_pieces, missing

PAGE = Path(__file__).parents[1] / "docs" / "warnings.md"
BEGIN, END = "<!-- table begins -->", "<!-- table ends -->"
LEAST_MINUTES = 21.0
SHARE = 0.80
Sound = NDArray[np.float32]


@dataclass(frozen=True)
class Outcome:
    """What became of one side."""

    name: str
    minutes: float
    plan: Plan
    level_80_db: float
    planted: tuple[str, ...]


def sides() -> Iterator[tuple[str, Sound, int]]:
    """Name, samples and rate of each side that the installed music makes."""
    for kind in ("orchestral", "electronic"):
        if missing(kind):
            continue
        parts: list[Sound] = []
        rate, number = 0, 0
        for path in find_pieces(kind, 60.0, 1000.0):
            if path.stem == "northerners":  # its file goes on after the page that ends its stream
                continue
            x, rate = sf.read(path, dtype="float32", always_2d=True)
            parts += [x, np.zeros((2 * rate, 2), dtype=np.float32)]
            if sum(map(len, parts)) >= LEAST_MINUTES * 60 * rate:
                number += 1
                side = np.concatenate(parts[:-1])
                yield f"{kind} {number}", side * np.float32(min(1.0, 0.98 / np.abs(side).max())), rate
                parts = []


def plan_at(side: Sound, rate: int, level_db: float | None) -> Plan:
    """The side as a 12-inch long-playing one."""
    blocks = (side[i : i + (1 << 18)] for i in range(0, len(side), 1 << 18))
    return plan_side(blocks, Programme(rate, len(side), 2), Order(load_setup(), level_db))


def level_for_share(side: Sound, rate: int) -> tuple[float, Plan]:
    """The level where the side uses about 80 % of its band, and the plan there."""
    level = 5.0
    for _ in range(6):
        plan = plan_at(side, rate, level)
        disc = plan.setup.disc
        band = SHARE * (disc.outermost_radius - disc.last_radius)
        if abs(plan.radius_used / band - 1) < 0.01:
            break
        silent = plan.turns * 40e-6
        step = 20 * np.log10(max((band - silent) / (plan.radius_used - silent), 0.1))
        level = round(float(np.clip(level + step, -20, 24)), 1)
    return level, plan


def plant(side: Sound, rate: int) -> dict[str, tuple[Sound, float]]:
    """The side with one fault each, and the time of it, s."""
    rng = np.random.default_rng(7)
    at = int(len(side) * 0.6)
    n = rate // 5
    spectrum = np.fft.rfft(rng.standard_normal(4 * n))
    f = np.fft.rfftfreq(4 * n, 1 / rate)
    burst = np.fft.irfft(spectrum * ((f > 5000) & (f < 12_000)))[n : 2 * n] * np.hanning(n)
    t = np.arange(3 * rate) / rate
    swell = 0.5 * np.sin(2 * np.pi * 45 * t) * np.hanning(len(t))
    faults = {
        "sibilance": (0.9 * burst / np.abs(burst).max())[:, None] * np.ones(2),
        "vertical_bass": np.stack([swell, -swell], axis=1),
        "click": np.full((1, 2), 0.7),
    }
    planted = {}
    for name, fault in faults.items():
        spoiled = side.copy()
        spoiled[at : at + len(fault)] += fault.astype(np.float32)
        planted[name] = (spoiled, at / rate)
    return planted


def near(finding: Finding, code: str, time: float) -> bool:
    """The fault itself was found; deep bass may also show as too deep a groove."""
    codes = {code, "depth"} if code == "vertical_bass" else {code}
    return finding.code in codes and finding.time_s is not None and abs(finding.time_s - time) < 4.0


def judge(name: str, side: Sound, rate: int) -> Outcome:
    """Plan one side plain and with each fault."""
    level, plan = level_for_share(side, rate)
    if not plan.ready:
        plan = plan_at(side, rate, None)
    found = tuple(
        code
        for code, (spoiled, time) in plant(side, rate).items()
        if any(near(finding, code, time) for finding in plan_at(spoiled, rate, plan.level_db).findings)
    )
    return Outcome(name, len(side) / rate / 60, plan, level, found)


def table(outcomes: list[Outcome]) -> str:
    """The outcomes as Markdown."""
    lines = [
        "| side | minutes | level at 80 % | planned at | band used | stops | warnings | notes | planted faults found |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for o in outcomes:
        disc = o.plan.setup.disc
        used = o.plan.radius_used / (disc.outermost_radius - disc.last_radius)
        by = {
            severity: [f.code for f in o.plan.findings if f.severity == severity]
            for severity in ("stop", "warn", "note")
        }
        words = [", ".join(by[s]) or "none" for s in ("stop", "warn", "note")]
        lines.append(
            f"| {o.name} | {o.minutes:.1f} | {o.level_80_db:+.1f} dB | {o.plan.level_db:+.1f} dB | "
            f"{used * 100:.0f} % | {' | '.join(words)} | {', '.join(o.planted) or 'none'} |"
        )
    return "\n".join(lines)


def main() -> None:
    """Judge the sides and print or keep the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sides", type=int, default=99, help="judge only the first so many sides")
    parser.add_argument("--write", action="store_true", help="put the table into docs/warnings.md")
    options = parser.parse_args()
    outcomes = []
    for number, (name, side, rate) in enumerate(sides()):
        if number == options.sides:
            break
        outcomes.append(judge(name, side, rate))
        print(table(outcomes[-1:]).splitlines()[-1], flush=True)
    if options.write:
        text = PAGE.read_text(encoding="utf-8")
        pattern = re.escape(BEGIN) + ".*" + re.escape(END)
        PAGE.write_text(re.sub(pattern, f"{BEGIN}\n\n{table(outcomes)}\n\n{END}", text, flags=re.S), encoding="utf-8")


if __name__ == "__main__":
    main()
