"""How deep pieces overlap: one pair, one piece against all, all pairs."""

from __future__ import annotations

import math

from nesting.engine.kernels.fields import INSIDE, OUTSIDE, distance_squared
from nesting.engine.kernels.ground import F64, I64, Ground, State, hot


@hot
def depth(g: Ground, s: int, t: int, dx: float, dy: float, exact: bool) -> float:
    """Shortest shift that parts shape ``t`` from shape ``s`` when its centre lies (dx, dy) from that
    of ``s``; 0 if they are apart. Exact near the no-fit polygon's boundary if asked for, and
    interpolated elsewhere."""
    p = g.pair_map
    cu = p[s, t, 0] * dx + p[s, t, 1] * dy + p[s, t, 2]
    cv = p[s, t, 3] * dx + p[s, t, 4] * dy + p[s, t, 5]
    nx = g.pair_cells[s, t, 0]
    if not (cu >= 0.0 and cv >= 0.0 and cu < nx and cv < g.pair_cells[s, t, 1]):
        return 0.0
    c = int(cu)
    r = int(cv)
    if exact:
        state = g.cell[g.pair_cells[s, t, 3] + r * nx + c]
        if state == OUTSIDE:
            return 0.0
        if state != INSIDE:
            f = g.pair_field[s, t]
            return float(max(0.0, exact_depth(g, f, state, c, r, cu, cv) - g.touch))
    q = g.pair_cells[s, t, 2] + r * (nx + 1) + c
    a = cu - c
    b = cv - r
    low = g.corner[q] * (1.0 - a) + g.corner[q + 1] * a
    high = g.corner[q + nx + 1] * (1.0 - a) + g.corner[q + nx + 2] * a
    return float(max(0.0, low * (1.0 - b) + high * b - g.touch))


@hot
def exact_depth(g: Ground, f: int, start: int, c: int, r: int, cu: float, cv: float) -> float:
    """Depth of (cu, cv), in cells, in a cell near the boundary: distance of the nearest listed edge,
    inside or outside by the number of edges between the cell's centre and the point. Negative
    outside."""
    step = g.grid[f, 2]
    mx = g.grid[f, 0] + (c + 0.5) * step
    my = g.grid[f, 1] + (r + 0.5) * step
    u = g.grid[f, 0] + cu * step
    v = g.grid[f, 1] + cv * step
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
def line_up(g: Ground, state: State) -> float:
    """Sort all boxes by their x into ``state.row``; returns the widest half side."""
    row, body = state.row, state.row_body
    n = state.at.shape[0]
    widest = 0.0
    for k in range(n):
        j = body[k]
        t = state.shape[j]
        x, y = state.at[j, 0], state.at[j, 1]
        widest = max(widest, g.half[t, 0])
        # Almost in order from the last time: insertion.
        m = k
        while m > 0 and row[m - 1, 0] > x:
            _copy(row, body, m - 1, m)
            m -= 1
        row[m, 0], row[m, 1], row[m, 2], row[m, 3] = x, y, g.half[t, 0], g.half[t, 1]
        body[m] = j
    return widest


@hot
def line_in(g: Ground, state: State, i: int) -> None:
    """Put the box of body ``i``, which has moved, where it belongs in ``state.row``."""
    row, body = state.row, state.row_body
    n = state.at.shape[0]
    k = 0
    while body[k] != i:
        k += 1
    t = state.shape[i]
    x, y = state.at[i, 0], state.at[i, 1]
    while k > 0 and row[k - 1, 0] > x:
        _copy(row, body, k - 1, k)
        k -= 1
    while k < n - 1 and row[k + 1, 0] < x:
        _copy(row, body, k + 1, k)
        k += 1
    row[k, 0], row[k, 1], row[k, 2], row[k, 3] = x, y, g.half[t, 0], g.half[t, 1]
    body[k] = i


@hot
def _copy(row: F64, body: I64, source: int, target: int) -> None:
    for q in range(4):
        row[target, q] = row[source, q]
    body[target] = body[source]


@hot
def loss_anywhere(
    g: Ground,
    state: State,
    i: int,
    s: int,
    x: float,
    y: float,
    bound: float,
    widest: float,
) -> float:
    """Weighted depth of body ``i`` against all others, were it shape ``s`` at (x, y), interpolated; by
    the boxes lined up in ``state.row``. Gives up, with what it has, when ``bound`` is reached."""
    total = 0.0
    hx, hy = g.half[s, 0], g.half[s, 1]
    row = state.row
    n = row.shape[0]
    low, high = 0, n
    start = x - hx - widest
    while low < high:
        middle = (low + high) // 2
        if row[middle, 0] <= start:
            low = middle + 1
        else:
            high = middle
    end = x + hx + widest
    for k in range(low, n):
        dx = x - row[k, 0]
        if row[k, 0] >= end:
            break
        dy = y - row[k, 1]
        if abs(dx) >= hx + row[k, 2] or abs(dy) >= hy + row[k, 3]:
            continue
        j = state.row_body[k]
        if j == i:
            continue
        d = depth(g, state.shape[j], s, dx, dy, False)
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
    """Weighted depth of body ``i`` against the first ``count`` bodies of ``state.close``, were it shape
    ``s`` at (x, y). Gives up, with what it has, when ``bound`` is reached."""
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
