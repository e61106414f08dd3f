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
