"""Plane to plane: 3x3 homographies, named destination first, and the bend of a lens."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calibration.errors import FitError

Array = NDArray[np.float64]

NEWTON_STEPS = 12
"""Enough for the radial equation to settle to rounding error from any bend we accept."""

NEWTON_SETTLED = 1e-9
"""A step in the radius (in units of the half diagonal) after which the next would be below rounding:
each step squares the error."""

ACROSS_STEPS, ACROSS_SETTLED = 12, 1e-11
"""The part across the radius: each step shrinks the error some hundred times for lenses we accept."""


def apply(homography: ArrayLike, points: ArrayLike) -> Array:
    """Map ``points`` (N, 2) by ``homography`` (3, 3); points on the horizon come out infinite.

    The sign of the denominator is not looked at: see :func:`denominators`.
    """
    h = np.asarray(homography, dtype=np.float64)
    xy = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    top = xy @ h[:2, :2].T + h[:2, 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        mapped: Array = top / denominators(h, xy)[:, None]
    return mapped


def denominators(homography: ArrayLike, points: ArrayLike) -> Array:
    """Third homogeneous coordinate (N,) of each mapped point; its sign tells the horizon's sides."""
    h = np.asarray(homography, dtype=np.float64)
    xy = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    return np.asarray(xy @ h[2, :2] + h[2, 2], dtype=np.float64)


def from_pairs(source: ArrayLike, destination: ArrayLike) -> Array:
    """Homography (3, 3) that takes ``source`` to ``destination``, both (N, 2), N >= 4.

    Normalised direct linear transform (Hartley, In defense of the eight-point algorithm, 1997);
    exact for four points, algebraic least squares for more. Raises FitError when the points do not
    determine it (three of four on one line).
    """
    a = np.asarray(source, dtype=np.float64).reshape(-1, 2)
    b = np.asarray(destination, dtype=np.float64).reshape(-1, 2)
    if len(a) != len(b) or len(a) < 4:
        raise FitError(
            f"A plane-to-plane map needs four pairs of points or more; {len(a)} and {len(b)} came.",
            code="fit.too-few-points",
        )
    ta, tb = _normaliser(a), _normaliser(b)
    an, bn = apply(ta, a), apply(tb, b)
    x, y = an.T
    u, v = bn.T
    one, nil = np.ones_like(x), np.zeros_like(x)
    rows = np.concatenate(
        [
            np.stack([x, y, one, nil, nil, nil, -u * x, -u * y, -u], axis=1),
            np.stack([nil, nil, nil, x, y, one, -v * x, -v * y, -v], axis=1),
        ]
    )
    _, singular, vt = np.linalg.svd(rows, full_matrices=True)
    if singular[7] < 1e-9 * singular[0]:
        raise FitError(
            "The points lie on one line, or too many of them do, so they settle no map.",
            code="fit.degenerate",
        )
    h = np.linalg.inv(tb) @ vt[-1].reshape(3, 3) @ ta
    h /= np.linalg.norm(h)
    if np.sum(denominators(h, a)) < 0:
        h = -h
    return np.asarray(h, dtype=np.float64)


def bend(points: ArrayLike, centre: ArrayLike, radius: float, terms: ArrayLike) -> Array:
    """Move ``points`` (N, 2) as a lens does, a = (q - c) / radius, r = |a|: radially and across it,

    c + radius (a (1 + k1 r^2 + k2 r^4) + (2 p1 x y + p2 (r^2 + 2 x^2), p1 (r^2 + 2 y^2) + 2 p2 x y))

    (Brown, Decentering distortion of lenses, 1966). ``terms`` are k1, k2 or k1, k2, p1, p2.
    """
    q = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    c = np.asarray(centre, dtype=np.float64)
    k1, k2, *across = (float(t) for t in np.asarray(terms, dtype=np.float64))
    away = (q - c) / radius
    r2 = np.sum(away * away, axis=1)
    bent: Array = c + radius * away * (1 + r2 * (k1 + k2 * r2))[:, None]
    return bent + radius * _across(away, across) if any(across) else bent


def unbend(points: ArrayLike, centre: ArrayLike, radius: float, terms: ArrayLike) -> Array:
    """Inverse of :func:`bend` inside the :func:`bend_limit`.

    Newton's method on the radius; the small part across it is taken off again and again, each time
    with the place found before.
    """
    p = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    c = np.asarray(centre, dtype=np.float64)
    k1, k2, *across = (float(t) for t in np.asarray(terms, dtype=np.float64))
    seen = (p - c) / radius
    away = _unbend_radially(seen, k1, k2)
    if any(across):
        for _ in range(ACROSS_STEPS):
            before = away
            away = _unbend_radially(seen - _across(away, across), k1, k2)
            if np.max(np.abs(away - before), initial=0.0) < ACROSS_SETTLED:
                break
    elif not (k1 or k2):
        return p.copy()
    return c + radius * away


def _across(away: Array, terms: Sequence[float]) -> Array:
    p1, p2 = terms
    x, y = away.T
    r2 = x * x + y * y
    return np.stack(
        [2 * p1 * x * y + p2 * (r2 + 2 * x * x), p1 * (r2 + 2 * y * y) + 2 * p2 * x * y], axis=1
    )


def _unbend_radially(seen: Array, k1: float, k2: float) -> Array:
    if k1 == 0 and k2 == 0:
        return seen
    wanted = np.sqrt(np.sum(seen * seen, axis=1))
    limit = bend_limit(k1, k2)
    r = np.minimum(wanted, limit)
    for _ in range(NEWTON_STEPS):
        r2 = r * r
        slope = 1 + r2 * (3 * k1 + 5 * k2 * r2)
        step = (r * (1 + r2 * (k1 + k2 * r2)) - wanted) / np.maximum(slope, 1e-3)
        r = np.clip(r - step, 0, limit)
        if np.max(np.abs(step), initial=0.0) < NEWTON_SETTLED:
            break
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(wanted > 0, r / wanted, 1.0)
    return np.asarray(seen * share[:, None])


def bend_limit(k1: float, k2: float) -> float:
    """Largest r for which r(1 + k1 r^2 + k2 r^4) still grows; infinite when it always does.

    Beyond it the polynomial folds back on itself, and a place far outside would be drawn inside.
    """
    # Derivative 1 + 3 k1 s + 5 k2 s^2 with s = r^2. Its reciprocal roots t solve
    # t^2 + 3 k1 t + 5 k2 = 0; the largest positive t is the smallest positive s. No division by a
    # term that may be nothing.
    inside = 9 * k1 * k1 - 20 * k2
    if inside < 0:
        return float("inf")
    largest = (-3 * k1 + math.sqrt(inside)) / 2
    return 1 / math.sqrt(largest) if largest > 1e-12 else float("inf")


def _normaliser(points: Array) -> Array:
    """Similarity that moves the centroid to 0 and the mean distance from it to sqrt 2."""
    centre = points.mean(axis=0)
    spread = float(np.mean(np.linalg.norm(points - centre, axis=1)))
    if not np.isfinite(spread) or spread <= 0:
        raise FitError(
            "The points are all in one place, or not numbers, so they settle no map.",
            code="fit.degenerate",
        )
    s = np.sqrt(2) / spread
    return np.array([[s, 0, -s * centre[0]], [0, s, -s * centre[1]], [0, 0, 1]])
