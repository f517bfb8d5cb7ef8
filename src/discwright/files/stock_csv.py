"""Stock as CSV (heads ``edition,run,count,bin``), and how much an account counts (``account,weight``)."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from discwright.errors import CallError
from discwright.files.csv_guard import LineFinding, Told, lost_letters, read_table
from discwright.files.orders_csv import NUMBER_MOST, read_count
from discwright.units import number
from discwright.works.order_lines import StockLine

HEADS = ("edition", "run", "count", "bin")
WEIGHT_HEADS = ("account", "weight")
_WEIGHT_MOST = 1e6


@dataclass(frozen=True)
class StockRead:
    """What a stock list came to.

    Attributes
    ----------
    lines : tuple of StockLine
        Empty where there is a stop.
    findings : tuple of LineFinding
    more : int
        Findings beyond those that are told.
    refused : bool
        There is a stop: nothing of the list may be used.
    """

    lines: tuple[StockLine, ...]
    findings: tuple[LineFinding, ...]
    more: int
    refused: bool


@dataclass(frozen=True)
class WeightsRead:
    """What a list of weights came to: weight by account, empty where there is a stop."""

    weights: dict[str, float]
    findings: tuple[LineFinding, ...]
    refused: bool


def read_stock(path: Path, *, encoding: str | None = None) -> StockRead:
    """Read a stock list, whole or not at all.

    Parameters
    ----------
    path : pathlib.Path
    encoding : str or None
        As for :func:`discwright.files.csv_guard.read_table`.

    Returns
    -------
    StockRead

    Raises
    ------
    CallError
        If the file cannot be opened or read as text.
    """
    told = Told(path.name)
    lines: list[StockLine] = []
    seen: dict[tuple[str, str, str], int] = {}
    of_run: dict[str, tuple[str, int]] = {}
    for line, cells in read_table(path, HEADS, (), told, encoding):
        edition, run, counted, bin_ = cells
        stops = told.stops
        _check_words(told, line, {"edition": edition, "run": run, "bin": bin_})
        count = read_count(told, line, counted, least=0)
        if told.stops > stops:
            continue
        first = seen.setdefault((edition, run, bin_), line)
        if first != line:
            words = f"run {run} of {edition} is in bin {bin_} in line {first} already; put them together."
            told.finding("twice", line, "bin", bin_, words)
            continue
        other, there = of_run.setdefault(run, (edition, line))
        if other != edition:
            words = f"run {run} is of {other} in line {there}; one run presses one edition, look at the label."
            told.finding("run_of_two", line, "run", run, words, "warn")
        lines.append(StockLine(edition, run, count, bin_, line))
    kept = () if told.stops else tuple(lines)
    return StockRead(kept, tuple(told.findings), told.more, bool(told.stops))


def read_weights(path: Path, *, encoding: str | None = None) -> WeightsRead:
    """Read how much each account counts when there is too little.

    Parameters
    ----------
    path : pathlib.Path
    encoding : str or None

    Returns
    -------
    WeightsRead

    Raises
    ------
    CallError
        If the file cannot be opened or read as text.
    """
    told = Told(path.name)
    weights: dict[str, float] = {}
    for line, (account, text) in read_table(path, WEIGHT_HEADS, (), told, encoding):
        stops = told.stops
        _check_words(told, line, {"account": account})
        weight = _weight(told, line, text)
        if account in weights:
            told.finding("twice", line, "account", account, f"account {account} stands further up; leave one.")
        if told.stops == stops:
            weights[account] = weight
    return WeightsRead({} if told.stops else weights, tuple(told.findings), bool(told.stops))


def _weight(told: Told, line: int, text: str) -> float:
    try:
        weight = number(text, "weight")
        if 0.0 < weight <= _WEIGHT_MOST:
            return weight
    except CallError:
        pass
    told.finding("wrong_weight", line, "weight", text, f"is no weight; give one above 0, {_WEIGHT_MOST:.0f} at most.")
    return 1.0


def _check_words(told: Told, line: int, cells: dict[str, str]) -> None:
    for column, value in cells.items():
        if not value:
            told.finding("missing_number", line, column, "", f"lacks the {column}; fill it in.")
        elif len(value) > NUMBER_MOST:
            words = f"has {len(value)} characters; at most {NUMBER_MOST} can be printed."
            told.finding("too_long", line, column, value, words)
    if lost_letters(cells.values()):
        told.finding("lost_letters", line, "", "", "holds the sign for a letter that was lost; type it anew.")
