"""Moves that part overlapping pieces: sampling, descent, exact contacts, and sweeps over all pieces."""

from __future__ import annotations

import math

from nesting.engine.kernels.collide import (
    depths_of,
    gather,
    line_in,
    line_up,
    loss_anywhere,
    loss_close,
)
from nesting.engine.kernels.ground import CONTACT_LINES, F64, I64, STARTS, Ground, State, hot
from nesting.engine.kernels.places import draw, settle_x, settle_y

NEAR_SAMPLES = 30
FAR_SAMPLES = 120
NEAR_REACH = 0.3
"""Near samples lie within this share of the smaller half side."""
COARSE_FROM, COARSE_TO = 0.25, 0.02
FINE_FROM, FINE_TO = 0.03, 0.0001
"""Steps of the descents, in smaller half sides."""
CONTACT_REACH = 0.1
"""Exact contacts are looked for within this share of the smaller half side."""
CLOSE_STEPS = 4.0
"""A descent asks whom a piece may meet within so many of its first steps."""
STEP_UP, STEP_DOWN = 1.1, 0.6
WEIGHT_UP, WEIGHT_MORE, WEIGHT_DOWN = 1.2, 0.8, 0.95


@hot
def descend(
    g: Ground,
    state: State,
    i: int,
    o: int,
    spot: F64,
    from_step: float,
    to_step: float,
    exact: bool,
    length: float,
) -> None:
    """Coordinate descent of body ``i`` in option ``o`` from ``spot`` (x, y, loss), in place."""
    s = g.option_shape[o]
    p = g.option
    step = from_step
    free_y = p[o, 3] > p[o, 2]
    # Whom it may meet is asked once for a place and the steps about it, and again when it has gone far.
    reach = CLOSE_STEPS * from_step
    cx, cy = spot[0], spot[1]
    count = gather(g, state, i, s, cx, cy, reach)
    while step > to_step and spot[2] > 0.0:
        axis = int(draw(state.random) * 4.0) if free_y else 0
        ax = 1.0 if axis != 1 else 0.0
        ay = 0.0 if axis == 0 else (-1.0 if axis == 3 else 1.0)
        sx = step * ax
        sy = step * ay
        # On a repeat, a step beyond the tolerance is a whole number of repeats or it leads nowhere.
        if p[o, 5] > 0.0 and abs(sx) > p[o, 7]:
            sx = max(1.0, math.floor(abs(sx) / p[o, 5] + 0.5)) * p[o, 5]
        if p[o, 8] > 0.0 and abs(sy) > p[o, 10]:
            sy = math.copysign(max(1.0, math.floor(abs(sy) / p[o, 8] + 0.5)) * p[o, 8], sy)
        better = False
        for sign in (1.0, -1.0):
            x = settle_x(g, o, spot[0] + sign * sx, length)
            y = settle_y(g, o, spot[1] + sign * sy)
            if x == spot[0] and y == spot[1]:
                continue
            if abs(x - cx) > reach or abs(y - cy) > reach:
                cx, cy = x, y
                count = gather(g, state, i, s, cx, cy, reach)
            loss = loss_close(g, state, i, s, x, y, spot[2], exact, count)
            if loss < spot[2]:
                spot[0], spot[1], spot[2] = x, y, loss
                better = True
                break
        step *= STEP_UP if better else STEP_DOWN


@hot
def contact(
    g: Ground, state: State, i: int, o: int, spot: F64, reach: float, length: float
) -> None:
    """Try the exact contacts around ``spot`` (x, y, loss): where two near no-fit edges, or an edge and
    a bound, meet. Changes ``spot`` to the best of them if better."""
    s = g.option_shape[o]
    p = g.option
    lines = state.lines
    n = 0
    x0, y0 = spot[0], spot[1]
    # Corners of the square of the reach count too, hence a little more.
    count = gather(g, state, i, s, x0, y0, 1.01 * reach)
    high = min(p[o, 1], length - p[o, 4])
    for bound in (p[o, 0], high):
        if abs(bound - x0) <= reach:
            lines[n, 0], lines[n, 1], lines[n, 2], lines[n, 3] = bound, y0, 0.0, 1.0
            n += 1
    for bound in (p[o, 2], p[o, 3]):
        if abs(bound - y0) <= reach:
            lines[n, 0], lines[n, 1], lines[n, 2], lines[n, 3] = x0, bound, 1.0, 0.0
            n += 1
    at = state.at
    for near in range(count):
        j = state.close[near]
        t = state.shape[j]
        dx, dy = x0 - at[j, 0], y0 - at[j, 1]
        f = g.pair_field[t, s]
        step = g.grid[f, 2]
        a, b = g.pair_map[t, s, 0] * step, g.pair_map[t, s, 1] * step
        c, d = g.pair_map[t, s, 3] * step, g.pair_map[t, s, 4] * step
        u, v = a * dx + b * dy, c * dx + d * dy
        col = min(max(int((u - g.grid[f, 0]) / step), 0), g.cells[f, 0] - 1)
        row = min(max(int((v - g.grid[f, 1]) / step), 0), g.cells[f, 1] - 1)
        start = g.cell[g.cells[f, 3] + row * g.cells[f, 0] + col]
        if start < 0:
            continue
        for q in range(start + 1, start + 1 + g.near[start] // 2):
            e = g.near[q]
            ux, uy = g.edge[e, 2] - g.edge[e, 0], g.edge[e, 3] - g.edge[e, 1]
            w = math.sqrt(ux * ux + uy * uy)
            off = (ux * (v - g.edge[e, 1]) - uy * (u - g.edge[e, 0])) / w
            if abs(off) > reach or n >= CONTACT_LINES:
                continue
            # The foot of the perpendicular, and the direction, back in the strip's frame: the
            # elements are orthogonal, so the transpose is the inverse.
            fu, fv = off * uy / w, -off * ux / w
            lines[n, 0] = x0 + a * fu + c * fv
            lines[n, 1] = y0 + b * fu + d * fv
            lines[n, 2] = (a * ux + c * uy) / w
            lines[n, 3] = (b * ux + d * uy) / w
            n += 1
    for k in range(n):
        for m in range(k + 1):
            if m == k:
                x, y = lines[k, 0], lines[k, 1]
            else:
                cross = lines[k, 2] * lines[m, 3] - lines[k, 3] * lines[m, 2]
                if abs(cross) < 1e-6:
                    continue
                wx, wy = lines[m, 0] - lines[k, 0], lines[m, 1] - lines[k, 1]
                r = (wx * lines[m, 3] - wy * lines[m, 2]) / cross
                x, y = lines[k, 0] + r * lines[k, 2], lines[k, 1] + r * lines[k, 3]
            x = settle_x(g, o, x, length)
            y = settle_y(g, o, y)
            if not (abs(x - x0) <= reach and abs(y - y0) <= reach):
                continue
            loss = loss_close(g, state, i, s, x, y, spot[2], True, count)
            if loss < spot[2]:
                spot[0], spot[1], spot[2] = x, y, loss
                if loss <= 0.0:
                    return


@hot
def find_place(g: Ground, state: State, i: int, length: float, spot: F64, widest: float) -> int:
    """Look for a better place for body ``i``; ``spot`` becomes (x, y, loss). Boxes must be lined up, the
    ``widest`` half side known. Returns the option."""
    first, last = g.first_option[i], g.first_option[i + 1]
    here = state.chosen[i]
    size = g.size[i]
    tries, options = state.tries, state.tried
    for k in range(STARTS):
        tries[k, 2] = math.inf
        options[k] = here
    p = g.option
    s = g.option_shape[here]
    count = gather(g, state, i, s, state.at[i, 0], state.at[i, 1], NEAR_REACH * size)
    for k in range(NEAR_SAMPLES + FAR_SAMPLES):
        if k < NEAR_SAMPLES:
            o = here
            x = state.at[i, 0] + (2.0 * draw(state.random) - 1.0) * NEAR_REACH * size
            y = state.at[i, 1] + (2.0 * draw(state.random) - 1.0) * NEAR_REACH * size
        else:
            o = first + int(draw(state.random) * (last - first))
            high = min(p[o, 1], length - p[o, 4])
            x = p[o, 0] + draw(state.random) * (high - p[o, 0])
            y = p[o, 2] + draw(state.random) * (p[o, 3] - p[o, 2])
        x = settle_x(g, o, x, length)
        y = settle_y(g, o, y)
        if math.isnan(x) or math.isnan(y):
            continue
        bound = tries[STARTS - 1, 2]
        # A repeat or the strip's end may have put it farther off than it was drawn.
        if (
            k < NEAR_SAMPLES
            and abs(x - state.at[i, 0]) <= NEAR_REACH * size
            and abs(y - state.at[i, 1]) <= NEAR_REACH * size
        ):
            loss = loss_close(g, state, i, s, x, y, bound, False, count)
        else:
            loss = loss_anywhere(g, state, i, g.option_shape[o], x, y, bound, widest)
        if loss >= tries[STARTS - 1, 2]:
            continue
        _keep(tries, options, o, x, y, loss, 0.1 * size)
    best = 0
    for k in range(STARTS):
        if tries[k, 2] < math.inf:
            descend(
                g,
                state,
                i,
                options[k],
                tries[k],
                COARSE_FROM * size,
                COARSE_TO * size,
                False,
                length,
            )
            if tries[k, 2] < tries[best, 2]:
                best = k
    for q in range(3):
        spot[q] = tries[best, q]
    o = options[best]
    if spot[2] == math.inf:
        return int(here)
    s = g.option_shape[o]
    count = gather(g, state, i, s, spot[0], spot[1], 0.0)
    spot[2] = loss_close(g, state, i, s, spot[0], spot[1], math.inf, True, count)
    descend(g, state, i, o, spot, FINE_FROM * size, FINE_TO * size, True, length)
    if spot[2] > 0.0:
        contact(g, state, i, o, spot, CONTACT_REACH * size, length)
    return int(o)


@hot
def _keep(tries: F64, options: I64, o: int, x: float, y: float, loss: float, apart: float) -> None:
    """Put a try among the best, unless it is a worse copy of one there."""
    n = tries.shape[0]
    for k in range(n):
        if options[k] == o and abs(tries[k, 0] - x) < apart and abs(tries[k, 1] - y) < apart:
            if loss >= tries[k, 2]:
                return
            for m in range(k, n - 1):
                for q in range(3):
                    tries[m, q] = tries[m + 1, q]
                options[m] = options[m + 1]
            tries[n - 1, 2] = math.inf
            break
    k = n - 1
    while k > 0 and tries[k - 1, 2] > loss:
        for q in range(3):
            tries[k, q] = tries[k - 1, q]
        options[k] = options[k - 1]
        k -= 1
    tries[k, 0], tries[k, 1], tries[k, 2] = x, y, loss
    options[k] = o


@hot
def sweep(g: Ground, state: State, length: float, depths: F64, out: F64) -> int:
    """Move every overlapping body once, in random order, then grow the weights of pairs that still
    overlap. ``depths`` (n, n) must hold the present depths and is kept up to date; ``out`` becomes
    (sum of scaled depths, deepest). Returns the number of bodies moved or tried."""
    n = state.at.shape[0]
    movable = g.first_option.shape[0] - 1
    order = state.order
    count = 0
    for i in range(movable):
        for j in range(n):
            if depths[i, j] > 0.0:
                order[count] = i
                count += 1
                break
    for k in range(count - 1, 0, -1):
        m = int(draw(state.random) * (k + 1))
        order[k], order[m] = order[m], order[k]
    spot = state.spot
    moved = 0
    widest = line_up(g, state)
    for k in range(count):
        i = order[k]
        x, y = state.at[i, 0], state.at[i, 1]
        close = gather(g, state, i, state.shape[i], x, y, 0.0)
        now = loss_close(g, state, i, state.shape[i], x, y, math.inf, True, close)
        if now <= 0.0:
            continue
        o = find_place(g, state, i, length, spot, widest)
        if spot[2] < now:
            state.at[i, 0], state.at[i, 1] = spot[0], spot[1]
            state.chosen[i] = o
            state.shape[i] = g.option_shape[o]
            line_in(g, state, i)
            widest = max(widest, g.half[state.shape[i], 0])
            order[moved] = i
            moved += 1
    total = 0.0
    deepest = 0.0
    for k in range(moved):
        depths_of(g, state, state.order[k], depths)
    for i in range(movable):
        for j in range(i + 1, n):
            d = depths[i, j]
            total += d * g.scale[i, j]
            deepest = max(deepest, d)
    out[0] = total
    out[1] = deepest
    more = WEIGHT_MORE / deepest if deepest > 0.0 else 0.0
    for i in range(movable):
        for j in range(n):
            w = state.weight[i, j]
            up = w * (WEIGHT_UP + more * depths[i, j])
            down = max(g.scale[i, j], w * WEIGHT_DOWN)
            state.weight[i, j] = up if depths[i, j] > 0.0 else down
    for i in range(movable, n):
        for j in range(movable):
            state.weight[i, j] = state.weight[j, i]
    return count


@hot
def clamp(g: Ground, state: State, length: float) -> bool:
    """Move every body to the nearest place its option allows in a strip of the given length, or to
    another option; False if some body has no place at all."""
    for i in range(g.first_option.shape[0] - 1):
        o = state.chosen[i]
        x = settle_x(g, o, state.at[i, 0], length)
        y = settle_y(g, o, state.at[i, 1])
        if math.isnan(x) or math.isnan(y):
            for o in range(g.first_option[i], g.first_option[i + 1]):
                x = settle_x(g, o, state.at[i, 0], length)
                y = settle_y(g, o, state.at[i, 1])
                if not (math.isnan(x) or math.isnan(y)):
                    break
        if math.isnan(x) or math.isnan(y):
            return False
        state.at[i, 0], state.at[i, 1] = x, y
        state.chosen[i] = o
        state.shape[i] = g.option_shape[o]
    return True
