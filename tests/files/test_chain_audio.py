"""The signals as a file: whole numbers as they are, nothing written over, nothing half written."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from discwright.errors import CallError
from discwright.files.chain_audio import write_signals

BLOCK = np.array([[1, -1], [2**31 - 2**16, -(2**31)], [5 << 16, 9 << 16]], dtype=np.int32)


@pytest.mark.parametrize("bits", [16, 24])
def test_the_samples_are_those_that_were_given(tmp_path: Path, bits: int) -> None:
    path = tmp_path / "signals.wav"
    write_signals(path, [BLOCK, BLOCK[:1]], 48_000, bits)
    sound, rate = soundfile.read(path, dtype="int32")
    assert (rate, soundfile.info(path).subtype) == (48_000, f"PCM_{bits}")
    kept = ~((1 << (32 - bits)) - 1)
    assert np.array_equal(sound, np.concatenate([BLOCK, BLOCK[:1]]) & kept)
    assert list(tmp_path.iterdir()) == [path]


def test_what_is_there_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "signals.wav"
    path.write_bytes(b"mine")
    with pytest.raises(CallError, match="is there already and is not written over; choose another name"):
        write_signals(path, [BLOCK], 48_000, 24)
    assert path.read_bytes() == b"mine"


def test_only_wav_is_written(tmp_path: Path) -> None:
    with pytest.raises(CallError, match=r"the signals are a WAV file; choose a name that ends with .wav\."):
        write_signals(tmp_path / "signals.flac", [BLOCK], 48_000, 24)


def test_trouble_leaves_nothing_behind(tmp_path: Path) -> None:
    def broken() -> Iterator[np.ndarray]:
        yield BLOCK
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_signals(tmp_path / "signals.wav", broken(), 48_000, 24)
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(CallError, match="cannot be written"):
        write_signals(tmp_path / "none" / "signals.wav", [BLOCK], 48_000, 24)
