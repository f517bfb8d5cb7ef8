"""The act of surveying: wiring from a file to the readings."""

import hashlib
import subprocess
import sys

import numpy as np
import pytest
import soundfile

from discwright.acts.survey import survey
from discwright.errors import AudioError


def written(path, channels=2, seconds=7.0):
    n = round(48000 * seconds)
    sound = np.random.default_rng(0).normal(0.0, 0.1, (n, channels))
    soundfile.write(path, sound, 48000, subtype="PCM_24")
    return path


def test_the_report_names_the_file_and_its_readings(tmp_path):
    path = written(tmp_path / "side-a.wav")
    report = survey(path)
    found = report.as_dict()
    assert found["path"] == str(path)
    assert found["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert (found["duration_s"], found["sample_rate_hz"], found["channels"]) == (7.0, 48000, 2)
    assert report.survey.as_dict().items() <= found.items()


def test_progress_runs_to_the_end(tmp_path):
    shares = []
    survey(written(tmp_path / "side-a.wav", channels=1), shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_a_missing_file_is_refused(tmp_path):
    with pytest.raises(AudioError):
        survey(tmp_path / "nothing.wav")


def test_the_act_and_its_table_are_imported_without_scipy():
    code = "import sys, discwright.acts.survey, discwright.cli.show_survey; print('scipy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"
