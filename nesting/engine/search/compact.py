"""Simultaneous compaction: all pieces move together, each pair on its side of a free place.

About every pair's present offset a convex part of its free offsets is grown: the nearest point of the
no-fit polygon gives a half plane, the nearest point of what lies beyond it the next, until nothing lies
beyond (the locality heuristic of Li and Milenkovic 1993). Within these parts the shortest strip is a
linear program in all places at once, and its answer is legal by construction; new parts are grown about
it until nothing is gained. Options, teeth of repeats and what is pinned stay as they are.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_array

from nesting.engine.kernels.collide import all_depths
from nesting.engine.kernels.ground import F64
from nesting.engine.search.clock import Clock
from nesting.engine.search.separate import Separator

REACH: Final = 0.03
"""How far a piece may go in one program along each axis, as a share of the strip's width."""

PROGRAMS: Final = 10
GAIN: Final = 1e-5
"""The next program is solved if the last one gained this share of the length."""

SLACK: Final = 0.25
"""What of a no-fit polygon may lie beyond a plane, in touches: less than pieces may interpenetrate."""

PLANES: Final = 6
"""Half planes to a pair; where more are needed the pair keeps to a square about its offset."""

MENDING: Final = 10
"""Sweeps that may mend what overlaps by less than a hair."""

LEFT: Final = 1e-3
"""Weight of the pieces' mean place beside the length: what need not lie right is drawn left."""


def compact(s: Separator, clock: Clock) -> bool:
    """Push the separator's legal layout together. True if it became shorter; else nothing changed."""
    if not s.movable:
        return False
    length = s.reach()
    gained = False
    for _ in range(PROGRAMS):
        if clock.over():
            break
        kept = s.snapshot()
        if not (_program(s) and _legal(s, clock)):
            s.restore(kept)
            break
        shorter = s.reach()
        if shorter >= length:
            s.restore(kept)
            break
        gained, last, length = True, length, shorter
        if last - length <= GAIN * length:
            break
    return gained


def _program(s: Separator) -> bool:
    """Move all pieces to the answer of one linear program; False if it has none."""
    g, at = s.ground, s.state.at
    n, m = len(at), s.movable
    unit, nofits = s.scene.problem.width, s.scene.nofits
    reach = REACH * unit
    length = s.reach()
    option = g.option[s.state.chosen]
    rows: list[tuple[int, int, float, float, float]] = []
    half = g.half[s.state.shape]
    for i in range(m):
        still = np.arange(i + 1, n)
        gap = np.abs(at[still] - at[i]) - half[still] - half[i]
        for j in still[(gap < 2 * reach).all(axis=1)].tolist():
            edges = nofits.edges(int(s.state.shape[j]), int(s.state.shape[i]))
            edges = edges - np.tile(at[i] - at[j], 2)
            for nx, ny, least in free_part(edges, 2 * reach, g.touch):
                rows.append((i, j, nx, ny, least))
    low, high = _bounds(option[:, 0], option[:, 1], option[:, 5:8], at[:m, 0], reach)
    low_y, high_y = _bounds(option[:, 2], option[:, 3], option[:, 8:11], at[:m, 1], reach)
    index, column, value, upper = [], [], [], []
    for r, (i, j, nx, ny, least) in enumerate(rows):
        index += [r, r]
        column += [i, m + i]
        value += [-nx, -ny]
        if j < m:
            index += [r, r]
            column += [j, m + j]
            value += [nx, ny]
        upper.append(-least / unit)
    first = len(rows)
    for i in range(m):
        index += [first + i, first + i]
        column += [i, 2 * m]
        value += [1.0, -1.0]
        upper.append(max(0.0, length - option[i, 4] - at[i, 0]) / unit)
    cost = np.concatenate([np.full(m, LEFT / m), np.zeros(m), [1.0]])
    lows = np.concatenate([low, low_y, [-math.inf]]) / unit
    highs = np.concatenate([high, high_y, [0.0]]) / unit
    bounds = list(zip(lows.tolist(), highs.tolist(), strict=True))
    # The stubs know no sparse matrix here; the solver does.
    matrix: Any = csr_array((value, (index, column)), shape=(first + m, 2 * m + 1))
    answer = linprog(cost, A_ub=matrix, b_ub=upper, bounds=bounds, method="highs")
    if answer.x is None:
        return False
    moved = np.column_stack([answer.x[:m], answer.x[m : 2 * m]]) * unit
    s.state.at[:m] = np.clip(
        at[:m] + moved,
        np.column_stack([at[:m, 0] + low, at[:m, 1] + low_y]),
        np.column_stack([at[:m, 0] + high, at[:m, 1] + high_y]),
    )
    return True


def _legal(s: Separator, clock: Clock) -> bool:
    """Whether nothing overlaps; what the program's own tolerance left is mended by a few moves."""
    if all_depths(s.ground, s.state, s.depths) <= 0.0:
        return True
    return s.separate(s.reach(), clock, patience=MENDING)


def _bounds(low: F64, high: F64, comb: F64, at: F64, reach: float) -> tuple[F64, F64]:
    """How far each body may go along an axis: its bounds, and the tooth that it stands on."""
    period, phase, tolerance = comb.T
    toothed = period > 0.0
    safe = np.where(toothed, period, 1.0)
    tooth = phase + np.floor((at - phase) / safe + 0.5) * period
    low = np.where(toothed, np.maximum(low, tooth - tolerance), low)
    high = np.where(toothed, np.minimum(high, tooth + tolerance), high)
    return np.clip(low - at, -reach, 0.0), np.clip(high - at, 0.0, reach)


def free_part(edges: F64, reach: float, touch: float) -> list[tuple[float, float, float]]:
    """A convex part of the free offsets about the present one, as half planes n . d >= least.

    ``edges`` (E, 4) are the no-fit polygon's, the inside on their left, the present offset at the
    origin, which lies outside, on the boundary, or inside by no more than ``touch``. Counts within a
    square of half side ``reach``. The origin is always in the part.
    """
    ax, ay, bx, by = edges.T
    near = (
        (np.minimum(ax, bx) < reach)
        & (np.maximum(ax, bx) > -reach)
        & (np.minimum(ay, by) < reach)
        & (np.maximum(ay, by) > -reach)
    )
    ax, ay, bx, by = ax[near], ay[near], bx[near], by[near]
    planes: list[tuple[float, float, float]] = []
    slack = SLACK * touch
    while len(ax):
        ux, uy = bx - ax, by - ay
        squared = np.maximum(ux * ux + uy * uy, 1e-300)
        t = np.clip(-(ax * ux + ay * uy) / squared, 0.0, 1.0)
        qx, qy = ax + t * ux, ay + t * uy
        k = int(np.argmin(qx * qx + qy * qy))
        d = math.hypot(qx[k], qy[k])
        if d > reach * math.sqrt(2.0):
            return planes
        if len(planes) == PLANES:
            d /= math.sqrt(2.0)
            return [*planes, (1.0, 0.0, -d), (-1.0, 0.0, -d), (0.0, 1.0, -d), (0.0, -1.0, -d)]
        if d > touch:
            nx, ny = -qx[k] / d, -qy[k] / d
            least = -d
        else:
            size = math.sqrt(squared[k])
            nx, ny = uy[k] / size, -ux[k] / size
            least = min(0.0, nx * qx[k] + ny * qy[k])
        planes.append((float(nx), float(ny), float(least)))
        fa, fb = nx * ax + ny * ay - least, nx * bx + ny * by - least
        beyond = np.maximum(fa, fb) > slack
        ax, ay, bx, by, fa, fb = (v[beyond] for v in (ax, ay, bx, by, fa, fb))
        # Only what lies beyond the plane is left.
        cut_a = np.where(fa < slack, (slack - fa) / np.where(fb == fa, 1.0, fb - fa), 0.0)
        cut_b = np.where(fb < slack, (fa - slack) / np.where(fb == fa, 1.0, fa - fb), 1.0)
        ux, uy = bx - ax, by - ay
        ax, ay, bx, by = ax + cut_a * ux, ay + cut_a * uy, ax + cut_b * ux, ay + cut_b * uy
    return planes
