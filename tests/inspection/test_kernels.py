"""Each compiled loop against a plain NumPy twin; the same file also runs uncompiled."""

from __future__ import annotations

import os
from itertools import pairwise, product
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from discwright.inspection import kernels

UNCOMPILED = os.environ.get("NUMBA_DISABLE_JIT") == "1"
RNG = np.random.default_rng(11)
Complex = NDArray[np.complex64]


def spectra(frames: int, bins: int) -> Complex:
    made: Complex = (RNG.standard_normal((frames, 2, bins)) + 1j * RNG.standard_normal((frames, 2, bins))).astype(
        np.complex64
    )
    return made


@pytest.mark.parametrize("seed", range(6))
def test_the_cheapest_way_is_the_best_of_all(seed: int) -> None:
    # By brute force: every way through five steps of six states.
    rng = np.random.default_rng(seed)
    score = rng.random((5, 6)).astype(np.float32)
    drift, price, by_far = 0.1, 0.5, 0.05

    def worth(way: tuple[int, ...]) -> float:
        cost = 0.0
        for a, b in pairwise(way):
            far = abs(a - b)
            cost += 0.0 if far == 0 else min(price + by_far * far, drift if far == 1 else np.inf)
        return float(sum(score[k, j] for k, j in enumerate(way))) - cost

    best = max(product(range(6), repeat=5), key=worth)
    got = kernels.cheapest_way(score, drift, price, by_far)
    assert worth(tuple(int(one) for one in got)) == pytest.approx(worth(best), abs=1e-6)


def test_samples_along_a_map() -> None:
    audio = RNG.standard_normal((200, 2)).astype(np.float32)
    taps = RNG.standard_normal((9, 8)).astype(np.float32)
    place = RNG.uniform(10, 180, 50)
    out = np.empty((50, 2), dtype=np.float32)
    kernels.read_along(audio, place, taps, out)
    for k, at in enumerate(place):
        whole, fine = int(np.floor(at)), (at - np.floor(at)) * 8
        row = int(fine)
        tap = taps[row] + (fine - row) * (taps[row + 1] - taps[row])
        assert out[k] == pytest.approx(tap @ audio[whole - 3 : whole + 5], abs=1e-4)
    kernels.read_along(audio, np.array([-1.0, 1.0, 199.5, 500.0]), taps, out[:4])
    assert not out[:4].any()  # half a filter must lie within


def smoothed(seen: Any, variance: Any, step: Any, angle: Any, loosen: Any, noise: Any) -> Any:
    """Most probable places of the same motion by one big least-squares problem: another road."""
    n, m = len(seen), 7
    rows, right = [], []

    def add(weights: dict[int, float], value: float, deviation: float) -> None:
        row = np.zeros(n * m)
        for at, weight in weights.items():
            row[at] = weight / deviation
        rows.append(row)
        right.append(value / deviation)

    first = [noise[4] + loosen[0], 2.5e7, *[9e6] * 4, noise[2]]
    for j in range(m):
        add({j: 1.0}, 0.0, np.sqrt(first[j]))
    for k in range(n):
        if k:
            dt, at, before = step[k], k * m, (k - 1) * m
            keep = np.exp(-dt / noise[3])
            q = noise[0] * np.array([[dt**3 / 3, dt**2 / 2], [dt**2 / 2, dt]]) + np.diag([loosen[k], 0.0])
            root = np.linalg.inv(np.linalg.cholesky(q))
            for i in range(2):
                weights = {
                    at: root[i, 0],
                    at + 1: root[i, 1],
                    before: -root[i, 0],
                    before + 1: -root[i, 0] * dt - root[i, 1],
                }
                add(weights, 0.0, 1.0)
            for j in range(2, 6):
                add({at + j: 1.0, before + j: -1.0}, 0.0, np.sqrt(noise[1] * dt))
            add({at + 6: 1.0, before + 6: -keep}, 0.0, np.sqrt(noise[2] * (1 - keep**2)))
        if np.isfinite(variance[k]):
            a = angle[k]
            h = [1.0, 0.0, np.cos(a), np.sin(a), np.cos(2 * a), np.sin(2 * a), 1.0]
            add({k * m + j: h[j] for j in range(m) if h[j]}, seen[k], np.sqrt(variance[k]))
    solved, *_ = np.linalg.lstsq(np.array(rows), np.array(right), rcond=None)
    return solved.reshape(n, m)


def test_the_smoother_is_the_most_probable_motion() -> None:
    n = 24
    step = RNG.uniform(0.05, 0.4, n)
    angle = 2 * np.pi * np.cumsum(step) / 1.8
    seen = 300 * np.sin(angle) + RNG.standard_normal(n) * 20
    seen[12:] += 5000.0
    variance = np.full(n, 400.0)
    variance[[5, 6, 17]] = np.inf
    loosen = np.zeros(n)
    loosen[12] = 1.6e9
    noise = np.array([100.0, 50.0, 100.0, 0.12, 1e10])
    out, spread = np.zeros((n, 7)), np.zeros(n)
    kernels.smooth_delay(seen, variance, step, angle, loosen, noise, out, spread)
    expected = smoothed(seen, variance, step, angle, loosen, noise)
    waves = np.stack(
        [np.ones(n), np.zeros(n), *(w(k * angle) for k in (1, 2) for w in (np.cos, np.sin)), np.ones(n)], axis=1
    )
    assert np.sum(out * waves, axis=1) == pytest.approx(np.sum(expected * waves, axis=1), abs=0.05)
    assert (spread > 0).all()
    assert spread[5] > spread[3]


def test_expectation_mixes_the_channels_of_each_bin() -> None:
    programme, gain = spectra(3, 40), spectra(40, 2).reshape(40, 2, 2).astype(np.complex64)
    out = np.empty_like(programme)
    kernels.expect(programme, gain, out)
    assert out == pytest.approx(np.einsum("bij,kjb->kib", gain, programme), abs=1e-4)


@pytest.mark.parametrize("delay", [0.0, 2e-6, -7e-5, 1.3e-4])
def test_a_delay_put_in_is_read_off_the_phase(delay: float) -> None:
    omega = 2 * np.pi * np.arange(257) * 20.0
    programme = spectra(4, 257)
    capture = programme * np.exp(-1j * omega * delay).astype(np.complex64)
    out = np.empty((4, 4))
    kernels.phase_delays(programme, capture, np.full((2, 257), 0.5), omega, 4, 100, 2e-4, out)
    assert out[:, 0] == pytest.approx(delay, abs=2e-9)  # by hand
    power = np.abs(programme[:, :, 4:100]) ** 2
    # By another road: Fisher's information of a delay, and the signal over the noise.
    assert out[:, 1] == pytest.approx(2 * np.sum(omega[4:100] ** 2 * 0.5 * power, axis=(1, 2)), rel=1e-5)
    assert out[:, 2] == pytest.approx(0.5 * power.mean(axis=(1, 2)), rel=1e-5)
    assert out[:, 3] == pytest.approx(0.0, abs=1e-6)


def test_a_delay_without_a_top_near_by_tells_nothing() -> None:
    omega = 2 * np.pi * np.arange(257) * 20.0
    programme = spectra(1, 257)
    out = np.empty((1, 4))
    # By hand: turned round, the likelihood is least where it starts.
    kernels.phase_delays(programme, -programme, np.ones((2, 257)), omega, 4, 100, 1e-9, out)
    assert out[0, 1] == 0.0


def test_sums_of_the_least_squares() -> None:
    programme, capture = spectra(5, 30), spectra(5, 30)
    omega = 2 * np.pi * np.arange(30) * 100.0
    delay, weight, doubt = RNG.uniform(-1e-4, 1e-4, 5), RNG.random(5), RNG.uniform(0, 1e-4, 5)
    own, cross = np.zeros((30, 2, 2), dtype=complex), np.zeros((30, 2, 2), dtype=complex)
    kernels.gather(programme, capture, delay, weight, doubt, omega, own, cross)
    blur = omega[None, :] * doubt[:, None]
    w = weight[:, None] * np.where(blur > 1e-3, np.exp(-(blur**2)), 1.0)
    moved = capture * np.exp(1j * delay[:, None] * omega[None, :])[:, None, :]
    assert own == pytest.approx(np.einsum("kb,kib,kjb->bij", w, programme, np.conj(programme)), abs=1e-4)
    assert cross == pytest.approx(np.einsum("kb,kib,kjb->bij", w, moved, np.conj(programme)), abs=1e-4)


def test_what_stands_out() -> None:
    n, cell, window, near = 4000, 50, 201, 15
    spare = (0.01 * RNG.standard_normal((n, 2))).astype(np.float32)
    music = (RNG.standard_normal((n, 2)) * (0.02 + 0.1 * (np.arange(n)[:, None] > 2000))).astype(np.float32)
    spare[[500, 1500, 3000], 0] = (0.5, 0.09, 0.5)
    usual, share = RNG.uniform(0.005, 0.02, (n // cell, 2)), RNG.uniform(0.0, 0.5, (n // cell, 2))
    noise, least, over_noise, over_rest = np.array([0.04, 0.03]), 1.7, 6.0, 4.0
    ratio, speaks = np.empty((n, 2), dtype=np.float32), np.empty((n, 2), dtype=bool)
    kernels.stand_out(
        spare, music, usual, share, noise, cell, window, near, least, over_noise, over_rest, ratio, speaks
    )  # fmt: skip
    peaks = np.abs(music[: n // near * near]).reshape(-1, near, 2).max(axis=1)
    for c in (0, 1):
        for k in [*range(0, n, 37), 500, 1500, 3000]:
            around = music[max(0, k - window // 2) : k + window // 2 + 1, c].astype(float)
            masks = max(np.sqrt(np.sum(around**2) / window), noise[c])
            size = abs(float(spare[k, c]))
            if size < least * noise[c]:
                assert ratio[k, c] == 0.0
                assert not speaks[k, c]
                continue
            j, at = min(k // near, len(peaks) - 1), min(k // cell, n // cell - 1)
            peak = peaks[max(0, j - 1) : j + 2, c].max()
            assert ratio[k, c] == pytest.approx(size / masks, rel=1e-4)
            assert speaks[k, c] == (
                size > least * masks and size > over_noise * usual[at, c] and size > over_rest * share[at, c] * peak
            )


def test_every_kernel_is_tested_here_and_works_uncompiled() -> None:
    if not UNCOMPILED:
        compiled = {name for name in dir(kernels) if hasattr(getattr(kernels, name), "py_func")}
        assert compiled == {
            "cheapest_way", "read_along", "smooth_delay", "expect", "phase_delays", "gather", "stand_out",
        }  # fmt: skip
