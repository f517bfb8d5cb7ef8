"""Long audio put down and read again: any place, no name left behind, and what is said when the disk is full."""

from __future__ import annotations

import tempfile
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discwright.errors import AudioError
from discwright.files.sample_store import SampleStore

AUDIO = np.random.default_rng(1).standard_normal((5000, 2)).astype(np.float32)


@settings(max_examples=60, deadline=None)
@given(
    cuts=st.lists(st.integers(0, 5000), max_size=6), first=st.integers(-3000, 8000), count=st.integers(-5, 6000)
)  # fmt: skip
def test_any_place_is_read_as_it_was_put_down(cuts: list[int], first: int, count: int) -> None:
    edges = [0, *sorted(cuts), 5000]
    with SampleStore(44_100) as store:
        store.fill(AUDIO[a:b] for a, b in pairwise(edges))
        assert store.frames == 5000
        padded = np.pad(AUDIO, ((10_000, 20_000), (0, 0)))
        expected = padded[10_000 + first : 10_000 + first + max(count, 0)]
        assert np.array_equal(store.read(first, count), expected)


def test_other_kinds_of_numbers_are_put_down_as_single() -> None:
    with SampleStore(48_000) as store:
        store.add(np.asfortranarray(AUDIO.astype(np.float64)))  # type: ignore[arg-type]
        assert np.array_equal(store.read(0, 5000), AUDIO)
        assert store.read(0, 3).dtype == np.float32


def test_it_may_grow_after_it_was_read() -> None:
    with SampleStore(48_000) as store:
        store.add(AUDIO[:100])
        assert not store.read(100, 10).any()
        store.add(AUDIO[100:])
        assert np.array_equal(store.read(95, 10), AUDIO[95:105])


def test_nothing_is_left_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    store = SampleStore(48_000).fill([AUDIO])
    assert list(tmp_path.iterdir()) == []  # it has no name even while it is used
    store.close()
    store.close()
    with pytest.raises(ValueError, match="closed file"):
        store.read(0, 10)


class FullDisk:
    def write(self, _view: Any) -> int:
        raise OSError(28, "No space left on device")

    def close(self) -> None:
        return None


def test_a_full_disk_is_said_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    with SampleStore(48_000) as store:
        store._file.close()
        monkeypatch.setattr(store, "_file", FullDisk())
        with pytest.raises(
            AudioError, match=r"there is no room to work in .* \(No space left on device\); make some, or set TMPDIR\."
        ):
            store.add(AUDIO)


def test_a_short_write_is_gone_on_with(monkeypatch: pytest.MonkeyPatch) -> None:
    with SampleStore(48_000) as store:
        real = store._file

        class Slow:
            def write(self, view: memoryview) -> int:
                return real.write(view[:999])

            def __getattr__(self, name: str) -> Any:
                return getattr(real, name)

        monkeypatch.setattr(store, "_file", Slow())
        store.add(AUDIO)
        assert np.array_equal(store.read(0, 5000), AUDIO)


def test_a_file_cut_short_by_something_else_is_said() -> None:
    with SampleStore(48_000) as store:
        store.add(AUDIO)
        store._file.truncate(80)
        with pytest.raises(AudioError, match="was cut short by something else; start again"):
            store.read(0, 100)
