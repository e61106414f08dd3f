"""Outward simplification: fewer vertices, never less area, no point moved by more than a tolerance.

Two steps keep the old outline inside the new one: a reflex vertex is bridged, or an edge between two
convex corners is replaced by the point where its neighbours meet. The smallest change goes first, as
in Visvalingam and Whyatt's line generalisation (1993), with distance in place of area.
"""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon

from nesting.polygon import FloatArray, as_points


def simplify_outward(outline: FloatArray, tolerance: float) -> FloatArray:
    """A simple outline that contains the counter-clockwise (N, 2) ``outline``, with the same box and
    within ``tolerance`` of it; the outline itself where no such thing comes out."""
    points = np.array(outline, dtype=float)
    moved = np.zeros(len(points))
    low, high = points.min(axis=0), points.max(axis=0)
    while len(points) > 4:
        cost, corner = _costs(points, moved, low, high)
        k = int(np.argmin(cost))
        if not cost[k] <= tolerance:
            break
        if np.isnan(corner[k, 0]):
            after, before = (k + 1) % len(points), k - 1
            moved[[after, before]] = np.maximum(moved[[after, before]], cost[k])
            points, moved = np.delete(points, k, axis=0), np.delete(moved, k)
        else:
            points[k] = corner[k]
            moved[k] = cost[k]
            gone = (k + 1) % len(points)
            points, moved = np.delete(points, gone, axis=0), np.delete(moved, gone)
    polygon = Polygon(points)
    slack = 1e-9 * float(np.abs(outline).max())
    if not polygon.is_valid or not polygon.buffer(slack).covers(Polygon(outline)):
        return outline
    return as_points(points)


def _costs(
    points: FloatArray, moved: FloatArray, low: FloatArray, high: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """For each vertex the distance its cheapest removal adds (counting what was moved before), and
    the corner that replaces it and its successor; NaN where it is simply bridged."""
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    beyond = np.roll(points, -2, axis=0)
    turn = _cross(points - before, after - points)
    chord = np.hypot(*(after - before).T)
    with np.errstate(divide="ignore", invalid="ignore"):
        bridge = np.where(turn <= 0.0, np.abs(turn) / chord, np.inf)
        a, b = points - before, beyond - after
        across = _cross(a, b)
        t = _cross(after - points, b) / across
        corner = points + t[:, None] * a
        edge = after - points
        height = np.abs(_cross(corner - points, edge)) / np.hypot(*edge.T)
        convex = (turn > 0.0) & (np.roll(turn, -1) > 0.0) & (across > 0.0) & (t >= 0.0)
        inside = (corner >= low).all(axis=1) & (corner <= high).all(axis=1)
        extend = np.where(convex & inside & np.isfinite(height), height, np.inf)
    bridge = bridge + moved
    extend = extend + np.maximum(moved, np.roll(moved, -1))
    corner = np.where((extend < bridge)[:, None], corner, np.nan)
    return np.minimum(bridge, extend), corner


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    out: FloatArray = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return out
