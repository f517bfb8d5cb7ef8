"""What a person sees of a survey: exact text."""

import io

import numpy as np
from rich.console import Console

from discwright.cli.show_survey import show_survey
from discwright.findings import Finding
from discwright.programme.bands import Band
from discwright.programme.loudness import Loudest, Passage
from discwright.programme.peaks import Click
from discwright.programme.survey import Survey, survey_programme


def printed(survey, width=100):
    out = io.StringIO()
    show_survey(survey, Console(file=out, width=width, color_system=None))
    return "\n".join(line.rstrip() for line in out.getvalue().splitlines())


SURVEY = Survey(
    duration_s=1300.2,
    sample_rate_hz=44100,
    channels=2,
    sample_peak_dbfs=(-0.31, -1.0),
    true_peak_dbtp=(0.12, -0.8),
    integrated_lufs=-14.21,
    loudness_range_lu=7.94,
    loudest_3s=Loudest(-9.96, 721.3),
    loudest_400ms=Loudest(-8.0, 722.0),
    softest=Passage(-42.0, 3.4),
    loudest=Passage(-11.0, 721.4),
    spread_db=31.0,
    bandwidth_hz=(28.4, 19834.0),
    noise_floor_dbfs=-76.0,
    dc=(0.00002, -0.0001),
    balance_db=-0.3,
    correlation=0.62,
    bands=(Band(20.0, 60.0, 0.1, 0.97), Band(60.0, 150.0, None, None)),
    vertical_bass_share=0.07,
    clipped_runs=(),
    silences=(),
    clicks=(Click(822.4, "left"),),
    findings=(
        Finding("click", "warn", 822.4, 1, None, None, 1, 0, "clicks", "1 click of a single sample. Listen."),
        Finding("true_peak", "note", None, 1, None, None, 0.12, 0.0, "dBTP", "Leave room."),
    ),
)


def test_the_table_and_the_findings():
    # regression only: invented readings, the wording is ours
    assert (
        printed(SURVEY)
        == """\
length          21:40.2, 44.1 kHz, stereo
sample peak     −0.3  −1.0 dBFS, left and right
true peak       0.1  −0.8 dBTP
loudness        −14.2 LUFS, range 7.9 LU
loudest 3 s     −10.0 LUFS at 12:01.3
loudest 0.4 s   −8.0 LUFS at 12:02.0
loud passage    −11.0 dBFS at 12:01.4
soft passage    −42.0 dBFS at 0:03.4
spread          31.0 dB
noise floor     −76.0 dBFS in the quietest second
bandwidth       28 Hz to 19.8 kHz
balance         −0.3 dB, left over right
correlation     +0.62
vertical bass   7 % of the power below 300 Hz
direct current  +0.002  −0.010 % of full scale, left and right

band             balance dB  correlation
20 Hz to 60 Hz         +0.1        +0.97
60 Hz to 150 Hz           –            –

warn  click      13:42.4  1 click of a single sample. Listen.
note  true_peak           Leave room.
1 warning, 1 note."""
    )


def test_a_long_sentence_wraps_under_itself():
    text = printed(SURVEY, width=48).splitlines()
    start = next(line for line in text if line.startswith("warn"))
    column = start.index("1 click")
    assert text[text.index(start) + 1].startswith(" " * column)


def test_readings_that_do_not_exist_are_dashes():
    text = printed(survey_programme([np.zeros((44100, 2), dtype=np.float32)], 44100, 2))
    assert "loudness        – LUFS, range – LU" in text
    assert "loudest 3 s     – LUFS\n" in text
    assert "bandwidth       – to –" in text
    assert text.splitlines()[-2].startswith("warn  no_sound")
    assert "None" not in text


def test_no_findings_is_said():
    left, other = np.random.default_rng(0).normal(0.0, 0.1, (2, 44100))
    sound = np.column_stack([left, 0.8 * left + 0.6 * other]).astype(np.float32)
    text = printed(survey_programme([sound], 44100, 2))
    assert text.endswith("\nNo findings.")
