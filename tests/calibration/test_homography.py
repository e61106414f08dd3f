"""Homographies against worked cases and OpenCV's own; the bend of a lens and its inverse."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.errors import FitError
from calibration.homography import apply, bend, bend_limit, from_pairs, unbend

SQUARE = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=float)


def test_unit_square_to_quadrilateral_by_hand() -> None:
    """Heckbert, Fundamentals of Texture Mapping and Image Warping (1989), section 2.2.3: the square
    to (0,0) (2,0) (3,3) (0,2). By hand: dx1 = -1, dx2 = -3, sx = 1; dy1 = -3, dy2 = -1, sy = 1;
    g = (sx dy2 - dx2 sy) / (dx1 dy2 - dx2 dy1) = 2 / -8, h the same; a = 2 + 2g = 1.5 = e."""
    h = from_pairs(SQUARE, [(0, 0), (2, 0), (3, 3), (0, 2)])
    expected = np.array([[1.5, 0, 0], [0, 1.5, 0], [-0.25, -0.25, 1]])
    np.testing.assert_allclose(h / h[2, 2], expected, atol=1e-12)


def test_same_as_opencv_on_noisy_points() -> None:
    rng = np.random.default_rng(3)
    a = rng.uniform(0, 1000, (40, 2))
    h = np.array([[0.9, 0.1, 30], [-0.2, 1.1, 5], [1e-4, -2e-4, 1]])
    b = apply(h, a) + rng.normal(0, 0.01, a.shape)
    theirs, _ = cv2.findHomography(a, b, 0)
    np.testing.assert_allclose(apply(from_pairs(a, b), a), apply(theirs, a), atol=0.01)


def test_points_on_a_line_are_refused() -> None:
    line = np.stack([np.arange(6.0), 2 * np.arange(6.0)], axis=1)
    with pytest.raises(FitError, match="on one line"):
        from_pairs(line, line)
    with pytest.raises(FitError, match="four pairs"):
        from_pairs(SQUARE[:3], SQUARE[:3])
    with pytest.raises(FitError, match="one place"):
        from_pairs(np.zeros((4, 2)), SQUARE)


@given(st.floats(-0.12, 0.12), st.floats(-0.02, 0.02), st.integers(0, 10**6))
def test_unbend_undoes_bend(k1: float, k2: float, seed: int) -> None:
    limit = bend_limit(k1, k2)
    reach = min(1.0, 0.95 * limit)
    rng = np.random.default_rng(seed)
    away = rng.normal(size=(20, 2))
    away *= (reach * rng.uniform(0, 1, 20) / np.linalg.norm(away, axis=1))[:, None]
    points = np.array((960, 540)) + 1100 * away
    back = unbend(bend(points, (960, 540), 1100, (k1, k2)), (960, 540), 1100, (k1, k2))
    np.testing.assert_allclose(back, points, atol=1e-6)


def test_a_lens_bends_as_opencv_says_and_back() -> None:
    """Radial and tangential terms against cv2.projectPoints, which has them in the same form."""
    terms = (-0.08, 0.01, 0.006, -0.004)
    x, y = np.meshgrid(np.linspace(-0.9, 0.9, 9), np.linspace(-0.6, 0.6, 7))
    away = np.stack([x.ravel(), y.ravel()], axis=1)
    camera = np.array([[1100.0, 0, 960], [0, 1100, 540], [0, 0, 1]])
    solid = np.column_stack([away, np.ones(len(away))])
    theirs, _ = cv2.projectPoints(solid, np.zeros(3), np.zeros(3), camera, np.array(terms))
    points = np.array((960, 540)) + 1100 * away
    ours = bend(points, (960, 540), 1100, terms)
    np.testing.assert_allclose(ours, theirs.reshape(-1, 2), atol=1e-9)
    np.testing.assert_allclose(unbend(ours, (960, 540), 1100, terms), points, atol=1e-6)


def test_bend_limit_is_where_the_slope_is_zero() -> None:
    assert bend_limit(0.1, 0.0) == np.inf
    assert bend_limit(-1 / 3, 0.0) == pytest.approx(1.0)
