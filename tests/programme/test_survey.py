"""The survey as a whole: its keys, its independence of the blocks, planted faults, the edges."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from discwright.errors import AudioError, CallError
from discwright.programme.survey import survey_programme

RATE = 44100


def blocks(sound, size=1 << 18):
    return (sound[at : at + size] for at in range(0, len(sound), size))


def surveyed(sound, rate=RATE, channels=2, size=1 << 18):
    return survey_programme(blocks(sound, size), rate, channels)


def music(seconds=8.0, rms=0.1, seed=0):
    """Correlated noise that falls towards the treble, with slow swells, shape (n, 2)."""
    rng = np.random.default_rng(seed)
    n = round(seconds * RATE)
    left, right = signal.sosfilt(signal.butter(1, 700.0, fs=RATE, output="sos"), rng.normal(size=(2, n)))
    sound = np.column_stack([left, 0.8 * left + 0.6 * right])
    sound *= (1.2 + np.sin(2 * np.pi * 0.3 * np.arange(n) / RATE))[:, None]
    return (rms * sound / sound.std()).astype(np.float32)


def codes(survey):
    return [finding.code for finding in survey.findings]


def plain(sound, **how):
    return surveyed(sound, **how).as_dict()


def test_the_keys_are_the_ones_agreed():
    found = plain(music())
    assert list(found) == [
        "duration_s",
        "sample_rate_hz",
        "channels",
        "sample_peak_dbfs",
        "true_peak_dbtp",
        "integrated_lufs",
        "loudness_range_lu",
        "loudest_3s",
        "loudest_400ms",
        "softest",
        "loudest",
        "spread_db",
        "bandwidth_hz",
        "noise_floor_dbfs",
        "dc",
        "balance_db",
        "correlation",
        "bands",
        "vertical_bass_share",
        "clipped_runs",
        "silences",
        "clicks",
        "findings",
    ]
    assert set(found["loudest_3s"]) == set(found["loudest_400ms"]) == {"lufs", "time_s"}
    assert set(found["softest"]) == set(found["loudest"]) == {"level_dbfs", "time_s"}
    assert set(found["bands"][0]) == {"low_hz", "high_hz", "balance_db", "correlation"}
    # by hand: what the music was made with
    assert found["duration_s"] == 8.0
    assert found["correlation"] == pytest.approx(0.8, abs=0.02)
    assert found["balance_db"] == pytest.approx(0.0, abs=0.1)
    assert found["spread_db"] == pytest.approx(
        found["loudest"]["level_dbfs"] - found["softest"]["level_dbfs"], abs=0.002
    )


def test_ordinary_music_has_no_finding():
    assert codes(surveyed(music())) == []


@pytest.mark.parametrize("size", [1000, 99991])
def test_the_readings_do_not_depend_on_the_blocks(size):
    sound = music()
    sound[100000, 0] += 0.2
    sound[200000:230000] = 0.0
    np.clip(sound[:, 1], -0.35, 0.35, out=sound[:, 1])
    assert surveyed(sound, size=size) == surveyed(sound)


def planted():
    sound = music()
    sound[3 * RATE : 4 * RATE] = 0.0
    sound[6 * RATE, 0] += 0.1
    sound[:, 1] *= 0.5
    sound[50000:50006, 0] = 1.0
    sound += np.float32(0.002)
    return sound


def test_planted_faults_come_back_with_their_places():
    found = plain(planted())
    # by hand: the places put in
    assert found["clicks"] == [{"time_s": 6.0, "channel": "left"}]
    assert found["silences"] == [{"time_s": 3.0, "duration_s": 1.0}]
    assert found["clipped_runs"] == [{"time_s": round(50000 / RATE, 6), "channel": "left", "samples": 6}]
    assert found["dc"] == pytest.approx([0.002, 0.002], abs=0.001)
    assert found["balance_db"] == pytest.approx(6.02, abs=0.1)
    assert {f["code"]: f["severity"] for f in found["findings"]} == {
        "click": "warn",
        "clipped": "warn",
        "over_full_scale": "note",
        "balance": "note",
        "dc": "note",
        "silence": "note",
    }
    assert all(f["band"] == 1 and f["turn"] is None and f["radius_mm"] is None for f in found["findings"])
    assert found["findings"][0]["severity"] == "warn"


def test_a_reversed_channel_is_a_warning():
    sound = music()
    sound[:, 1] *= -1
    found = surveyed(sound)
    assert "polarity" in codes(found)
    assert found.vertical_bass_share > 0.8


def test_a_mono_file_has_two_equal_channels():
    sound = np.repeat(music()[:, :1], 2, axis=1)
    found = plain(sound, channels=1)
    assert found["channels"] == 1
    assert found["correlation"] == 1.0
    assert found["balance_db"] == 0.0
    assert found["vertical_bass_share"] == 0.0
    assert found["sample_peak_dbfs"][0] == found["sample_peak_dbfs"][1]
    assert [f["code"] for f in found["findings"]] == ["mono"]
    alone = sound * np.array([1.0, 0.0], dtype=np.float32)
    # by hand: two equal channels carry twice the power of one
    assert found["integrated_lufs"] - plain(alone)["integrated_lufs"] == pytest.approx(3.0103, abs=0.01)


def strict(survey):
    """The survey as JSON that refuses NaN and Infinity."""
    return json.loads(json.dumps(survey.as_dict(), allow_nan=False))


def test_silence_has_no_readings_but_a_warning():
    found = strict(surveyed(np.zeros((4 * RATE, 2), dtype=np.float32)))
    for key in ("integrated_lufs", "loudness_range_lu", "spread_db", "noise_floor_dbfs", "balance_db"):
        assert found[key] is None
    assert found["sample_peak_dbfs"] == found["true_peak_dbtp"] == found["bandwidth_hz"] == [None, None]
    assert found["loudest_3s"] == {"lufs": None, "time_s": None}
    assert found["loudest"] == found["softest"] == {"level_dbfs": None, "time_s": None}
    assert found["silences"] == [{"time_s": 0.0, "duration_s": 4.0}]
    assert [f["code"] for f in found["findings"]] == ["no_sound"]


@pytest.mark.parametrize("frames", [1, 2, 5, 100, 4410, 17639])
def test_a_programme_of_a_moment_has_what_can_be_read(frames):
    found = strict(surveyed(music()[:frames]))
    assert found["integrated_lufs"] is None
    assert None not in found["sample_peak_dbfs"]


def test_no_sample_at_all_is_refused():
    with pytest.raises(AudioError, match="holds no sound at all; give a file with at least one sample"):
        survey_programme([], RATE, 2)
    with pytest.raises(AudioError, match="holds no sound at all"):
        survey_programme([np.zeros((0, 2), dtype=np.float32)], RATE, 2)


@pytest.mark.parametrize("bad", [np.nan, np.inf, 20000.0])
def test_a_sample_that_cannot_be_sound_is_refused_with_its_place(bad):
    sound = music()
    sound[3 * RATE, 1] = bad
    with pytest.raises(AudioError, match=r"^The sample at 0:03\.0 is .*export the file again\.$"):
        surveyed(sound, size=10000)


def test_broken_calls_are_refused():
    with pytest.raises(CallError, match="give blocks of shape"):
        survey_programme([np.zeros(100, dtype=np.float32)], RATE, 2)
    with pytest.raises(CallError, match="give a mono or stereo programme"):
        survey_programme([], RATE, 6)
    with pytest.raises(CallError, match="give 8000 Hz or more"):
        survey_programme([], 4000, 2)


def test_trouble_while_reading_reaches_the_caller():
    def broken():
        yield music()
        raise AudioError("cut in half")

    with pytest.raises(AudioError, match="cut in half"):
        survey_programme(broken(), RATE, 2)


@settings(max_examples=12, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    frames=st.integers(1, 40000),
    gain=st.floats(0.01, 1.0),
    click=st.booleans(),
)
def test_swapped_channels_swap_the_readings(seed, frames, gain, click):
    rng = np.random.default_rng(seed)
    sound = (rng.normal(size=(frames, 2)).cumsum(axis=0) * 0.003).astype(np.float32)
    sound[:, 1] *= np.float32(gain)
    if click:
        sound[frames // 2, 0] += 0.3
    one, other = plain(sound), plain(sound[:, ::-1])
    for key in ("sample_peak_dbfs", "true_peak_dbtp", "dc"):
        assert one[key] == other[key][::-1]
    for a, b in [(one, other), *zip(one["bands"], other["bands"])]:
        if a["balance_db"] is None:
            assert b["balance_db"] is None
        else:
            assert a["balance_db"] == pytest.approx(-b["balance_db"], abs=1e-3)
    for key in (
        "integrated_lufs",
        "correlation",
        "vertical_bass_share",
        "bandwidth_hz",
        "loudest",
        "silences",
    ):
        assert one[key] == other[key]
    swap = {"left": "right", "right": "left"}
    for key in ("clicks", "clipped_runs"):
        swapped = [{**place, "channel": swap[place["channel"]]} for place in other[key]]
        assert sorted(map(str, one[key])) == sorted(map(str, swapped))


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), down_db=st.floats(0.0, 20.0))
def test_turned_down_by_so_many_db_reads_so_many_db_less(seed, down_db):
    sound = music(4.0, seed=seed)
    loud, soft = surveyed(sound), surveyed((sound * 10 ** (-down_db / 20)).astype(np.float32))
    assert loud.integrated_lufs - soft.integrated_lufs == pytest.approx(down_db, abs=1e-4)
    assert loud.loudest.level_dbfs - soft.loudest.level_dbfs == pytest.approx(down_db, abs=1e-4)
    assert loud.true_peak_dbtp[0] - soft.true_peak_dbtp[0] == pytest.approx(down_db, abs=1e-4)
    assert loud.correlation == pytest.approx(soft.correlation, abs=1e-5)
