"""Depth fields: how deep an offset lies inside a no-fit polygon, tabulated on a grid of cells."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from nesting.engine.kernels.ground import F32, F64, I32, hot

BLOCK = 8
"""Cells a side of the blocks in which edge lists are narrowed before they are narrowed per cell."""

OUTSIDE = -1
INSIDE = -2
TOO_SMALL = -1
ON_EDGE = -2


@hot
def distance_squared(edge: F64, e: int, u: float, v: float) -> float:
    """Squared distance of (u, v) from edge number ``e``."""
    ax, ay = edge[e, 0], edge[e, 1]
    dx, dy = edge[e, 2] - ax, edge[e, 3] - ay
    t = ((u - ax) * dx + (v - ay) * dy) * edge[e, 4]
    t = min(1.0, max(0.0, t))
    px, py = ax + t * dx - u, ay + t * dy - v
    return float(px * px + py * py)


@njit(cache=True)
def inside_row(
    edge: F64, first: int, last: int, x0: float, step: float, y: float, out: I32
) -> None:
    """Whether the points (x0 + k * step, y) lie inside the edges' rings: parity of crossings to the left."""
    crossings = np.empty(last - first)
    count = 0
    for e in range(first, last):
        ya, yb = edge[e, 1], edge[e, 3]
        if (ya > y) != (yb > y):
            crossings[count] = edge[e, 0] + (y - ya) / (yb - ya) * (edge[e, 2] - edge[e, 0])
            count += 1
    crossings = np.sort(crossings[:count])
    q = 0
    for k in range(len(out)):
        x = x0 + k * step
        while q < count and crossings[q] < x:
            q += 1
        out[k] = q % 2


@njit(cache=True)
def fill_field(
    edge: F64,
    first: int,
    last: int,
    x0: float,
    y0: float,
    step: float,
    nx: int,
    ny: int,
    corner: F32,
    cell: I32,
    near: I32,
    start: int,
) -> int:
    """Tabulate edges ``first`` to ``last`` on nx * ny cells from (x0, y0).

    Writes ``corner`` ((nx + 1) * (ny + 1)), ``cell`` (nx * ny) and edge lists into ``near`` from
    ``start`` on; returns the end of the lists, TOO_SMALL if ``near`` is, or ON_EDGE if a cell's centre
    lies on an edge, so that it is neither inside nor outside: shift the grid.
    """
    reach_block = BLOCK * step * math.sqrt(0.5)
    reach_cell = step * math.sqrt(0.5)
    count = last - first
    far = np.empty(count)
    some = np.empty(count, np.int32)
    centre_in = np.empty((ny, nx), np.int32)
    corner_in = np.empty((ny + 1, nx + 1), np.int32)
    for r in range(ny):
        inside_row(edge, first, last, x0 + 0.5 * step, step, y0 + (r + 0.5) * step, centre_in[r])
    for r in range(ny + 1):
        inside_row(edge, first, last, x0, step, y0 + r * step, corner_in[r])
    at = start
    for by in range(0, ny + 1, BLOCK):
        for bx in range(0, nx + 1, BLOCK):
            u, v = x0 + (bx + BLOCK / 2) * step, y0 + (by + BLOCK / 2) * step
            least = math.inf
            for e in range(count):
                far[e] = math.sqrt(distance_squared(edge, first + e, u, v))
                least = min(least, far[e])
            some_count = 0
            for e in range(count):
                if far[e] <= least + 2 * reach_block:
                    some[some_count] = first + e
                    some_count += 1
            for r in range(by, min(by + BLOCK, ny + 1)):
                for c in range(bx, min(bx + BLOCK, nx + 1)):
                    u, v = x0 + c * step, y0 + r * step
                    nearest = math.inf
                    for k in range(some_count):
                        nearest = min(nearest, distance_squared(edge, some[k], u, v))
                    depth = math.sqrt(nearest)
                    corner[r * (nx + 1) + c] = depth if corner_in[r, c] == 1 else -depth
                    if r == ny or c == nx:
                        continue
                    u, v = u + 0.5 * step, v + 0.5 * step
                    nearest = math.inf
                    for k in range(some_count):
                        far[k] = distance_squared(edge, some[k], u, v)
                        nearest = min(nearest, far[k])
                    nearest = math.sqrt(nearest)
                    if nearest < 1e-9 * step:
                        return ON_EDGE
                    if nearest > reach_cell * 1.0001:
                        cell[r * nx + c] = INSIDE if centre_in[r, c] == 1 else OUTSIDE
                        continue
                    limit = (nearest + 2.0001 * reach_cell) ** 2
                    if at + some_count + 1 > len(near):
                        return TOO_SMALL
                    cell[r * nx + c] = at
                    head = at
                    at += 1
                    for k in range(some_count):
                        if far[k] <= limit:
                            near[at] = some[k]
                            at += 1
                    near[head] = 2 * (at - head - 1) + centre_in[r, c]
    return at
