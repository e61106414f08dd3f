"""How deep pieces overlap: one pair, one piece against all, all pairs."""

from __future__ import annotations

import math

from nesting.engine.kernels.fields import INSIDE, OUTSIDE, distance_squared
from nesting.engine.kernels.ground import F64, Ground, State, hot


@hot
def depth(g: Ground, s: int, t: int, dx: float, dy: float, exact: bool) -> float:
    """Shortest shift that parts shape ``t`` from shape ``s`` when its centre lies (dx, dy) from that
    of ``s``; 0 if they are apart. Exact near the no-fit polygon's boundary if asked for, and
    interpolated elsewhere."""
    f = g.pair_field[s, t]
    k = g.pair_turn[s, t]
    u = g.turns[k, 0] * dx + g.turns[k, 1] * dy
    v = g.turns[k, 2] * dx + g.turns[k, 3] * dy
    step = g.grid[f, 2]
    cu = (u - g.grid[f, 0]) / step
    cv = (v - g.grid[f, 1]) / step
    nx = g.cells[f, 0]
    if cu < 0.0 or cv < 0.0:
        return 0.0
    c = int(cu)
    r = int(cv)
    if c >= nx or r >= g.cells[f, 1]:
        return 0.0
    state = g.cell[g.cells[f, 3] + r * nx + c]
    if state == OUTSIDE:
        return 0.0
    if state == INSIDE or not exact:
        q = g.cells[f, 2] + r * (nx + 1) + c
        a = cu - c
        b = cv - r
        low = g.corner[q] * (1.0 - a) + g.corner[q + 1] * a
        high = g.corner[q + nx + 1] * (1.0 - a) + g.corner[q + nx + 2] * a
        return float(max(0.0, low * (1.0 - b) + high * b - g.touch))
    return float(max(0.0, exact_depth(g, f, state, c, r, u, v) - g.touch))


@hot
def exact_depth(g: Ground, f: int, start: int, c: int, r: int, u: float, v: float) -> float:
    """Depth of (u, v) in a cell near the boundary: distance of the nearest listed edge, inside or
    outside by the number of edges between the cell's centre and the point. Negative outside."""
    step = g.grid[f, 2]
    mx = g.grid[f, 0] + (c + 0.5) * step
    my = g.grid[f, 1] + (r + 0.5) * step
    px, py = u - mx, v - my
    head = g.near[start]
    inside = head % 2
    nearest = math.inf
    for k in range(start + 1, start + 1 + head // 2):
        e = g.near[k]
        nearest = min(nearest, distance_squared(g.edge, e, u, v))
        ax, ay = g.edge[e, 0] - mx, g.edge[e, 1] - my
        bx, by = g.edge[e, 2] - mx, g.edge[e, 3] - my
        # Half-open on the very numbers that neighbouring edges share, so that none counts twice.
        if (px * ay - py * ax >= 0.0) != (px * by - py * bx >= 0.0):
            ex, ey = bx - ax, by - ay
            if (ey * ax - ex * ay >= 0.0) != (ex * (py - ay) - ey * (px - ax) >= 0.0):
                inside = 1 - inside
    return math.sqrt(nearest) if inside == 1 else -math.sqrt(nearest)


@hot
def loss_at(
    g: Ground, state: State, i: int, s: int, x: float, y: float, bound: float, exact: bool
) -> float:
    """Weighted depth of body ``i`` against all others, were it shape ``s`` at (x, y). Gives up, with
    what it has, when ``bound`` is reached."""
    total = 0.0
    hx, hy = g.half[s, 0], g.half[s, 1]
    at = state.at
    for j in range(at.shape[0]):
        t = state.shape[j]
        dx = x - at[j, 0]
        if abs(dx) >= hx + g.half[t, 0]:
            continue
        dy = y - at[j, 1]
        if abs(dy) >= hy + g.half[t, 1] or j == i:
            continue
        d = depth(g, t, s, dx, dy, exact)
        if d > 0.0:
            total += d * state.weight[i, j]
            if total >= bound:
                return float(total)
    return float(total)


@hot
def gather(g: Ground, state: State, i: int, s: int, x: float, y: float, reach: float) -> int:
    """Note in ``state.close`` the bodies that body ``i``, as shape ``s``, could meet within ``reach``
    of (x, y) along each axis; returns how many."""
    count = 0
    hx, hy = g.half[s, 0] + reach, g.half[s, 1] + reach
    at = state.at
    for j in range(at.shape[0]):
        t = state.shape[j]
        if (
            abs(x - at[j, 0]) < hx + g.half[t, 0]
            and abs(y - at[j, 1]) < hy + g.half[t, 1]
            and j != i
        ):
            state.close[count] = j
            count += 1
    return count


@hot
def loss_close(
    g: Ground,
    state: State,
    i: int,
    s: int,
    x: float,
    y: float,
    bound: float,
    exact: bool,
    count: int,
) -> float:
    """The same as ``loss_at``, against the first ``count`` bodies of ``state.close``."""
    total = 0.0
    hx, hy = g.half[s, 0], g.half[s, 1]
    at = state.at
    for k in range(count):
        j = state.close[k]
        t = state.shape[j]
        dx = x - at[j, 0]
        dy = y - at[j, 1]
        if abs(dx) >= hx + g.half[t, 0] or abs(dy) >= hy + g.half[t, 1]:
            continue
        d = depth(g, t, s, dx, dy, exact)
        if d > 0.0:
            total += d * state.weight[i, j]
            if total >= bound:
                return float(total)
    return float(total)


@hot
def depths_of(g: Ground, state: State, i: int, out: F64) -> None:
    """Exact depths of body ``i`` and every other into row and column ``i`` of ``out`` (n, n)."""
    s = state.shape[i]
    x, y = state.at[i, 0], state.at[i, 1]
    for j in range(state.at.shape[0]):
        t = state.shape[j]
        dx, dy = state.at[j, 0] - x, state.at[j, 1] - y
        d = 0.0
        if (
            j != i
            and abs(dx) < g.half[s, 0] + g.half[t, 0]
            and abs(dy) < g.half[s, 1] + g.half[t, 1]
        ):
            # From the same side whoever moved, so that a depth does not depend on the order.
            d = depth(g, s, t, dx, dy, True) if i < j else depth(g, t, s, -dx, -dy, True)
        out[i, j] = d
        out[j, i] = d


@hot
def all_depths(g: Ground, state: State, out: F64) -> float:
    """Exact depth of every pair into ``out`` (n, n); returns the sum of scaled depths."""
    n = state.at.shape[0]
    movable = g.first_option.shape[0] - 1
    total = 0.0
    for i in range(n):
        out[i, i] = 0.0
    for i in range(movable):
        s = state.shape[i]
        for j in range(i + 1, n):
            t = state.shape[j]
            dx = state.at[j, 0] - state.at[i, 0]
            dy = state.at[j, 1] - state.at[i, 1]
            d = 0.0
            if abs(dx) < g.half[s, 0] + g.half[t, 0] and abs(dy) < g.half[s, 1] + g.half[t, 1]:
                d = depth(g, s, t, dx, dy, True)
            out[i, j] = d
            out[j, i] = d
            total += d * g.scale[i, j]
    return float(total)
