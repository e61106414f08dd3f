"""Slow and plain twins of the engine's kernels, by shapely and by counting."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Point, Polygon

from nesting.engine.kernels.ground import Ground, State
from nesting.engine.nofit import nofit
from nesting.engine.scene import Scene


def nofit_polygon(scene: Scene, s: int, t: int) -> Polygon:
    """The no-fit polygon of shape ``t`` about shape ``s``, made directly for this pair."""
    table = scene.table
    m = len(table.shapes)
    if s >= m or t >= m:
        wall = scene.walls[max(s, t) - m].ring
        shape = table.ring(min(s, t))
        rings = (wall, shape) if s >= m else (shape, wall)
        region = nofit(*rings, table.grid, gap=scene.problem.edge_gap)
    else:
        region = nofit(table.ring(s), table.ring(t), table.grid, gap=scene.problem.gap)
    polygon = Polygon()
    for ring in region:
        polygon = polygon.symmetric_difference(Polygon(ring))
    return polygon


def depth(scene: Scene, s: int, t: int, dx: float, dy: float) -> float:
    """Distance to the boundary for a point inside the no-fit polygon, less the touch tolerance."""
    polygon = nofit_polygon(scene, s, t)
    point = Point(dx, dy)
    if not polygon.contains(point):
        return 0.0
    return max(0.0, float(polygon.boundary.distance(point)) - scene.table.touch)


def overlap_area(scene: Scene, s: int, t: int, dx: float, dy: float) -> float:
    """Area shared by two shapes of the table."""
    a, b = (Polygon(scene.table.ring(k) * scene.table.grid) for k in (s, t))
    return float(a.intersection(affinity.translate(b, dx, dy)).area)


def loss_at(scene: Scene, state: State, i: int, s: int, x: float, y: float) -> float:
    """Weighted depth of a body against all others, one by one."""
    total = 0.0
    for j in range(len(state.at)):
        if j != i:
            dx, dy = x - state.at[j, 0], y - state.at[j, 1]
            total += state.weight[i, j] * depth(scene, int(state.shape[j]), s, dx, dy)
    return total


def settle(
    value: float, low: float, high: float, period: float, phase: float, tolerance: float
) -> float:
    """The nearest allowed number, by trying every tooth."""
    if high < low:
        return math.nan
    clipped = min(max(value, low), high)
    if period <= 0.0:
        return clipped
    best = math.nan
    for k in range(math.floor((low - phase) / period) - 2, math.ceil((high - phase) / period) + 3):
        tooth = phase + k * period
        if tooth + tolerance < low or tooth - tolerance > high:
            continue
        at = min(max(clipped, tooth - tolerance), tooth + tolerance)
        at = min(max(at, low), high)
        if math.isnan(best) or abs(at - clipped) < abs(best - clipped):
            best = at
    return best


def all_depths(g: Ground, scene: Scene, state: State) -> NDArray[np.float64]:
    """Depth of every pair of which one is movable."""
    n, movable = len(state.at), len(g.first_option) - 1
    out = np.zeros((n, n))
    for i in range(n):
        for j in range(n):
            if i != j and min(i, j) < movable:
                dx, dy = (state.at[j] - state.at[i]).tolist()
                out[i, j] = depth(scene, int(state.shape[i]), int(state.shape[j]), dx, dy)
    return out
