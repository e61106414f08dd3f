"""Curves to polylines with a promised chord error."""

from __future__ import annotations

import math

import numpy as np

from nesting.polygon import FloatArray
from nesting.tolerance import CHORD_MM

MAX_STEPS = 5000
"""A 100 m long cubic at 0.02 mm asks for fewer: more means that a coordinate is nonsense."""


def flatten_cubic(
    p0: FloatArray, p1: FloatArray, p2: FloatArray, p3: FloatArray, *, chord: float = CHORD_MM
) -> FloatArray:
    """Points of a cubic Bezier curve after ``p0``, (N, 2), with ``p3`` itself last.

    No point of the curve is farther than ``chord`` from the polyline: even steps, their number by
    Wang's bound n = sqrt(d (d - 1) / 8 x M / chord) with M the largest second difference of the
    control points (Wang 1984; Sederberg, Computer Aided Geometric Design, section 10.6).
    """
    seconds = (p0 - 2 * p1 + p2, p1 - 2 * p2 + p3)
    bend = max(float(np.hypot(*d)) for d in seconds)
    steps = min(max(math.ceil(math.sqrt(0.75 * bend / chord)), 1), MAX_STEPS)
    t = np.linspace(0.0, 1.0, steps + 1)[1:, None]
    u = 1.0 - t
    points = u**3 * p0 + 3 * u * u * t * p1 + 3 * u * t * t * p2 + t**3 * p3
    points[-1] = p3
    return np.asarray(points, dtype=float)


def smooth_through(points: FloatArray) -> FloatArray:
    """A smooth curve through points (N, 2), N >= 2, as a polyline (M, 2); two give a straight line.

    A cubic between neighbours; the tangent at a point is that of the circle through it and its
    neighbours, at an end that of the circle through the first three.
    """
    if len(points) < 3:
        return points
    steps = np.diff(points, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])[:, None]
    along = steps / lengths
    inner = along[:-1] * lengths[1:] + along[1:] * lengths[:-1]
    inner /= np.hypot(inner[:, 0], inner[:, 1])[:, None]
    tangents = np.vstack([_mirrored(inner[0], along[0]), inner, _mirrored(inner[-1], along[-1])])
    parts = [points[:1]]
    for i, length in enumerate(lengths[:, 0]):
        p, q = points[i], points[i + 1]
        parts.append(
            flatten_cubic(p, p + tangents[i] * length / 3, q - tangents[i + 1] * length / 3, q)
        )
    return np.asarray(np.vstack(parts), dtype=float)


def _mirrored(tangent: FloatArray, chord: FloatArray) -> FloatArray:
    """The tangent at the other end of a chord of a circle."""
    turned: FloatArray = 2.0 * float(tangent @ chord) * chord - tangent
    return turned
