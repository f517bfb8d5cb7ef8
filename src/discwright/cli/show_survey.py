"""A survey as a short table and its findings, for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Console
from rich.table import Table
from rich.text import Text

from discwright.findings import Finding, count_words
from discwright.units import clock

if TYPE_CHECKING:
    from discwright.programme.bands import Band
    from discwright.programme.survey import Survey

Number = float | None
STYLES = {"stop": "bold red", "warn": "bold yellow", "note": "dim"}


def show_survey(survey: Survey, console: Console) -> None:
    """Print a survey: the readings, then one line for each finding, then their count.

    Parameters
    ----------
    survey : Survey
    console : rich.console.Console
    """
    table = _plain_table()
    for name, text in _rows(survey):
        table.add_row(name, text)
    console.print(table)
    console.print()
    console.print(_band_table(survey.bands))
    console.print()
    if survey.findings:
        console.print(_finding_table(survey.findings))
    console.print(Text(f"{_capital(count_words(survey.findings))}."))


def _rows(survey: Survey) -> list[tuple[str, str]]:
    """Each reading as words; a reading that does not exist is a dash."""
    kind = "mono" if survey.channels == 1 else "stereo"
    short, burst, soft, loud = survey.loudest_3s, survey.loudest_400ms, survey.softest, survey.loudest
    low, high = survey.bandwidth_hz
    dc = "  ".join(_number(100.0 * value, "+.3f") for value in survey.dc)
    return [
        ("length", f"{clock(survey.duration_s)}, {survey.sample_rate_hz / 1000:g} kHz, {kind}"),
        ("sample peak", f"{_pair(survey.sample_peak_dbfs)} dBFS, left and right"),
        ("true peak", f"{_pair(survey.true_peak_dbtp)} dBTP"),
        (
            "loudness",
            f"{_number(survey.integrated_lufs)} LUFS, range {_number(survey.loudness_range_lu)} LU",
        ),
        ("loudest 3 s", f"{_number(short.lufs)} LUFS{_at(short.time_s)}"),
        ("loudest 0.4 s", f"{_number(burst.lufs)} LUFS{_at(burst.time_s)}"),
        ("loud passage", f"{_number(loud.level_dbfs)} dBFS{_at(loud.time_s)}"),
        ("soft passage", f"{_number(soft.level_dbfs)} dBFS{_at(soft.time_s)}"),
        ("spread", f"{_number(survey.spread_db)} dB"),
        ("noise floor", f"{_number(survey.noise_floor_dbfs)} dBFS in the quietest second"),
        ("bandwidth", f"{_hertz(low)} to {_hertz(high)}"),
        ("balance", f"{_number(survey.balance_db, '+.1f')} dB, left over right"),
        ("correlation", _number(survey.correlation, "+.2f")),
        ("vertical bass", f"{_percent(survey.vertical_bass_share)} of the power below 300 Hz"),
        ("direct current", f"{dc} % of full scale, left and right"),
    ]


def _band_table(bands: tuple[Band, ...]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for head in ("band", "balance dB", "correlation"):
        table.add_column(head, justify="left" if head == "band" else "right")
    for band in bands:
        table.add_row(
            f"{_hertz(band.low_hz)} to {_hertz(band.high_hz)}",
            _number(band.balance_db, "+.1f"),
            _number(band.correlation, "+.2f"),
        )
    return table


def _finding_table(findings: tuple[Finding, ...]) -> Table:
    """Severity, code, time and what to do; a long sentence wraps under itself."""
    table = Table(box=None, pad_edge=False, show_header=False, padding=(0, 2, 0, 0))
    for _ in range(3):
        table.add_column(no_wrap=True)
    table.add_column(ratio=1)
    for finding in findings:
        place = "" if finding.time_s is None else clock(finding.time_s)
        severity = Text(finding.severity, style=STYLES[finding.severity])
        table.add_row(severity, Text(finding.code), Text(place), Text(finding.remedy))
    return table


def _plain_table() -> Table:
    table = Table(box=None, pad_edge=False, show_header=False, padding=(0, 2, 0, 0))
    table.add_column(style="dim", no_wrap=True)
    table.add_column()
    return table


def _number(value: Number, form: str = ".1f") -> str:
    return "–" if value is None else format(value, form).replace("-", "−")


def _pair(values: tuple[Number, Number]) -> str:
    return "  ".join(_number(value) for value in values)


def _percent(share: Number) -> str:
    return "–" if share is None else f"{100.0 * share:.0f} %"


def _hertz(value: Number) -> str:
    if value is None:
        return "–"
    return f"{value:.0f} Hz" if value < 1000.0 else f"{value / 1000.0:.3g} kHz"


def _at(time_s: Number) -> str:
    return "" if time_s is None else f" at {clock(time_s)}"


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]
