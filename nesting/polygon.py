"""Small facts about outlines given as point arrays. Arrays are (N, 2), float64, C-contiguous, mm;
closed outlines do not repeat their first point."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from nesting.tolerance import POINT_MM

FloatArray: TypeAlias = NDArray[np.float64]


def as_points(xy: Iterable[Iterable[float]] | FloatArray) -> FloatArray:
    """Return ``xy`` as a read-only (N, 2) float64 copy. Raises ValueError on another shape."""
    points = np.array(xy if isinstance(xy, np.ndarray) else [tuple(p) for p in xy], dtype=float)
    if points.size == 0:
        points = points.reshape(0, 2)
    if points.ndim != 2 or points.shape[1] != 2:
        raise ValueError(f"expected an (N, 2) array of points, got shape {points.shape}")
    points = np.ascontiguousarray(points)
    points.setflags(write=False)
    return points


def signed_area(outline: FloatArray) -> float:
    """Shoelace area of a closed (N, 2) outline, mm2; positive when counter-clockwise (y up)."""
    x, y = outline[:, 0] - outline[0, 0], outline[:, 1] - outline[0, 1]
    return 0.5 * float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def counter_clockwise(outline: FloatArray) -> FloatArray:
    """The same closed outline, running counter-clockwise."""
    return outline if signed_area(outline) >= 0 else as_points(outline[::-1])


def bounds(points: FloatArray) -> tuple[float, float, float, float]:
    """(x0, y0, x1, y1) of an (N, 2) array, mm."""
    x0, y0 = points.min(axis=0)
    x1, y1 = points.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def path_length(path: FloatArray) -> float:
    """Length of an open (N, 2) path, mm."""
    if len(path) < 2:
        return 0.0
    steps = path[1:] - path[:-1]
    return float(np.hypot(steps[:, 0], steps[:, 1]).sum())


def point_along(path: FloatArray, distance: float) -> tuple[FloatArray, FloatArray]:
    """Point at ``distance`` mm along an open (N, 2) path and the unit tangent there, each (2,).

    Distances before the start or past the end give the end point and the end tangent.
    """
    steps = path[1:] - path[:-1]
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    ends = np.cumsum(lengths)
    i = min(int(np.searchsorted(ends, distance, side="left")), len(lengths) - 1)
    while lengths[i] <= POINT_MM and i > 0:
        i -= 1
    before = ends[i] - lengths[i]
    t = min(max((distance - before) / lengths[i], 0.0), 1.0) if lengths[i] > 0 else 0.0
    tangent = steps[i] / lengths[i] if lengths[i] > 0 else np.array([1.0, 0.0])
    return path[i] + t * steps[i], tangent


def without_repeats(points: FloatArray, *, closed: bool) -> FloatArray:
    """Drop points nearer than POINT_MM to their predecessor (and, if closed, a repeated first)."""
    if len(points) < 2:
        return as_points(points)
    keep = np.ones(len(points), dtype=bool)
    keep[1:] = np.hypot(*np.diff(points, axis=0).T) > POINT_MM
    kept = points[keep]
    while closed and len(kept) > 1 and np.hypot(*(kept[0] - kept[-1])) <= POINT_MM:
        kept = kept[:-1]
    return as_points(kept)


def turned(points: FloatArray, turn_deg: float, *, mirrored: bool = False) -> FloatArray:
    """Pose of ``points`` (N, 2): reflected in the x axis first if ``mirrored``, then turned
    counter-clockwise by ``turn_deg`` about the origin. Quarter turns are exact."""
    p = points * np.array([1.0, -1.0]) if mirrored else points
    c, s = exact_cos_sin(turn_deg)
    return as_points(p @ np.array([[c, s], [-s, c]]))


def exact_cos_sin(turn_deg: float) -> tuple[float, float]:
    """Cosine and sine of an angle in degrees, exact at quarter turns."""
    quarter, rest = divmod(turn_deg % 360.0, 90.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    a = math.radians(turn_deg)
    return math.cos(a), math.sin(a)
