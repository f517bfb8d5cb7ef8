"""The report as plain values: the keys that are promised, and numbers that JSON can hold."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from chain_captures import both, measured, noise, tone


def test_the_keys_that_are_promised() -> None:
    plain = measured(both(tone(1000.0, 2.0, 0.1))).as_dict()
    assert plain.keys() >= {"tones", "response", "separation_db", "noise_dbfs", "findings"}
    (one,) = plain["tones"]
    assert one.keys() >= {"frequency_hz", "level_dbfs", "thd_percent", "thdn_percent", "harmonics_percent"}
    assert (one["frequency_hz"], one["level_dbfs"]) == (pytest.approx(1000.0), pytest.approx(-20.0))
    assert len(one["harmonics_percent"]) == 9


def test_a_response_has_both_channels() -> None:
    sound = np.concatenate([both(tone(f, 1.0)) * (1.0, 0.5) for f in (100.0, 1000.0, 10_000.0)])
    plain = measured(sound).as_dict()
    assert plain["response"][0] == {"frequency_hz": 100.0, "left_db": 0.0, "right_db": 0.0}
    assert plain["balance_db"] == pytest.approx(6.0206, abs=1e-3)
    assert plain["separation_db"] is None


def test_every_kind_of_capture_is_valid_json() -> None:
    pair = both(tone(60.0, 3.0, 0.4) + tone(7000.0, 3.0, 0.1))
    for sound in (both(tone(440.0, 2.0)), pair, noise(3.0, 1e-4)):
        text = json.dumps(measured(sound).as_dict(), allow_nan=False)
        assert json.loads(text)["findings"] == []


def test_the_worse_channel_speaks_for_a_tone() -> None:
    clean, bent = tone(500.0, 2.0), tone(500.0, 2.0) + tone(1000.0, 2.0, 0.002)
    (one,) = measured(np.stack([clean, bent], axis=1)).as_dict()["tones"]
    assert (one["channel"], one["thd_percent"]) == ("right", pytest.approx(1.0, abs=1e-3))
    assert one["left"]["thd_percent"] < 1e-3
    # A channel far below the other does not, however bent it is.
    (one,) = measured(np.stack([clean, 0.01 * bent + tone(1000.0, 2.0, 0.001)], axis=1)).as_dict()["tones"]
    assert (one["channel"], one["side"], one["right"]) == ("left", "left", None)
