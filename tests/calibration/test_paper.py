"""Noise and waves read off residuals: both found again where they were put in, flat paper found flat."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.boards import board_corners
from calibration.homography import Array
from calibration.paper import Paper, alike, read_paper, whitener
from tests.calibration.simulator import A3

PLACES = board_corners(A3)


def sheets(noise: float, wave: float, n: int, seed: int = 0) -> list[tuple[Array, Array]]:
    """Misses drawn from the model itself, with an even bend on top that must not matter."""
    rng = np.random.default_rng(seed)
    root = np.linalg.cholesky(alike(PLACES) + 1e-9 * np.eye(len(PLACES)))
    x = (PLACES[:, :1] - PLACES[:, 0].mean()) / 100
    return [
        (PLACES, rng.normal(0, noise, PLACES.shape)
         + wave * root @ rng.normal(size=PLACES.shape) + rng.normal() * x * x)
        for _ in range(n)
    ]  # fmt: skip


@pytest.mark.parametrize("wave", [0.03, 0.1])
def test_noise_and_waves_are_told_apart(wave: float) -> None:
    found = read_paper(sheets(0.025, wave, 9))
    assert found.noise_px == pytest.approx(0.025, rel=0.15)
    assert found.wave_px == pytest.approx(wave, rel=0.25)


@pytest.mark.parametrize("seed", range(3))
def test_flat_paper_is_found_flat(seed: int) -> None:
    found = read_paper(sheets(0.025, 0.0, 9, seed))
    assert found.noise_px == pytest.approx(0.025, rel=0.1)
    assert found.wave_px < 0.2 * found.noise_px


def test_one_wrong_corner_is_no_wave() -> None:
    ((places, misses),) = sheets(0.025, 0.0, 1)
    misses[20] += (2.0, -1.5)
    assert read_paper([(places, misses)]).wave_px < 0.03


def test_whitened_misses_are_independent() -> None:
    paper = Paper(0.02, 0.05)
    matrix = whitener(PLACES, paper)
    asked = paper.noise_px**2 * np.eye(len(PLACES)) + paper.wave_px**2 * alike(PLACES)
    np.testing.assert_allclose(matrix @ asked @ matrix.T, np.eye(len(PLACES)), atol=1e-8)
    np.testing.assert_allclose(matrix, matrix.T, atol=1e-9)
