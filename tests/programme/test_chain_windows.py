"""Stretches cut out of a stream: the same whatever the pieces it comes in."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from discwright.programme.chain_windows import Window, measure_windows

SOUND = np.arange(2000, dtype=np.float32).reshape(1000, 2)


def blocks(size: int) -> Iterator[np.ndarray]:
    for at in range(0, len(SOUND), size):
        yield SOUND[at : at + size]


@pytest.mark.parametrize("size", [1, 7, 100, 333, 1000, 5000])
def test_every_stretch_is_cut_where_it_should_be(size: int) -> None:
    spans = [(900, 1000), (0, 10), (5, 400), (399, 401), (120, 121)]
    found = measure_windows(blocks(size), [Window(a, b, lambda one: one.copy()) for a, b in spans])
    assert all(np.array_equal(one, SOUND[a:b]) for one, (a, b) in zip(found, spans, strict=True))


def test_what_lies_beyond_the_end_is_none() -> None:
    found = measure_windows(blocks(100), [Window(950, 1001, len), Window(0, 3, len)])
    assert found == [None, 3]


def test_nothing_is_read_beyond_the_last_stretch() -> None:
    read = []

    def watched() -> Iterator[np.ndarray]:
        for block in blocks(100):
            read.append(len(block))
            yield block

    assert measure_windows(watched(), [Window(0, 150, len)]) == [150]
    assert sum(read) == 200


def test_trouble_in_a_measurement_is_not_swallowed() -> None:
    def wrong(_: np.ndarray) -> None:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        measure_windows(blocks(10), [Window(0, 5, wrong)])
