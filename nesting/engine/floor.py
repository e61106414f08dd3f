"""Proved lower bounds on the length of any layout of a problem.

Five arguments, each true for every legal layout:

- *reach*: some item, wherever it may lie, reaches so far (touching sides, zones, repeats included);
- *area*: what must lie in a band of the strip has at least its own area there, gaps and flaws counted;
- *lines*: pieces never share a point, so along any line across which they lie, their chords add up to
  no more than the length. A piece that is free across the strip gives the least chord that any of its
  permitted places gives. The mean over several lines is a bound as well, and a stronger one where a
  piece can avoid any single line but not all of them (pieces too wide to lie side by side);
- *sections*: how many pieces can lie beside or behind one another at all (``floor_sections``);
- *order*: how near pieces too wide to pass one another can follow one another (``floor_order``).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np

from nesting.clipping import Join, intersection, offset
from nesting.engine.floor_order import order_floor
from nesting.engine.floor_sections import sections_floor
from nesting.engine.problem import Item, Problem
from nesting.engine.scene import Option, Scene, build_scene
from nesting.engine.sections import DRAWN_IN, chords, drawn_in, upright
from nesting.polygon import FloatArray, as_points, signed_area, turned

MOST_LINES: Final = 5
"""Bundles of 1 to this many equally spaced lines are tried."""

SINGLE_LINES: Final = 24
"""Single lines tried across the strip, beside those just inside each touched side."""

INSIDE: Final = 4 * DRAWN_IN
"""A line just inside a touched side lies this share of the width from it."""

BANDS: Final = 12
"""At most so many edges of bands are combined in the area argument."""


def floor(problem: Problem) -> float:
    """A length below which no layout of all the problem's items can go (0 for no items)."""
    return floor_of(build_scene(problem))


def floor_of(scene: Scene) -> float:
    """As ``floor``, for a scene that is there already."""
    if not scene.problem.items:
        return 0.0
    simple = max(0.0, reach_floor(scene), area_floor(scene), lines_floor(scene), order_floor(scene))
    return sections_floor(scene, simple)


def reach_floor(scene: Scene) -> float:
    """The furthest of what each item reaches at least, and of what is pinned."""
    problem = scene.problem
    reach = [0.0]
    for index in {item for item, _ in scene.bodies}:
        least = [_least_x(o) + _half_width(scene, index, o) for o in scene.options[index]]
        reach.append(min(least))
    reach += [
        float(problem.items[p.placement.item].posed(p.placement.pose)[:, 0].max()) + p.placement.x
        for p in scene.pins
    ]
    return max(reach)


def area_floor(scene: Scene) -> float:
    """The longest that any band of the strip must be to hold what may lie nowhere else."""
    rows = [_whereabouts(scene, item) for item, _ in scene.bodies]
    areas = [_grown_area(scene.problem, item) for item, _ in scene.bodies]
    if not rows:
        return 0.0
    starts = _few(row[0] for row in rows)
    lows, highs = _few(row[1] for row in rows), _few(row[2] for row in rows)
    best = 0.0
    for x0 in starts:
        for low in lows:
            for high in highs:
                held = sum(
                    area
                    for area, row in zip(areas, rows, strict=True)
                    if row[0] >= x0 and row[1] >= low and row[2] <= high
                )
                if held > 0.0:
                    best = max(best, _length_for(scene, held, x0, low, high))
    return best


def lines_floor(scene: Scene) -> float:
    """The best bound that bundles of lines along the strip give."""
    problem = scene.problem
    width = problem.width
    bundles = [
        np.arange(1, k + 1) * width / (k + 1) + width * INSIDE / 3 for k in range(2, MOST_LINES + 1)
    ]
    singles = set(((np.arange(SINGLE_LINES) + 0.5) * width / SINGLE_LINES).tolist())
    for rows in scene.options:
        for o in rows:
            if o.y1 - o.y0 <= 1e-9 * width:
                half = _half_height(scene, o)
                singles |= {o.y0 - half + INSIDE * width, o.y0 + half - INSIDE * width}
    bundles += [np.array([y]) for y in sorted(singles) if 0.0 < y < width]
    total = np.zeros(len(bundles))
    for index, item in enumerate(problem.items):
        count = sum(1 for i, _ in scene.bodies if i == index)
        if count:
            total += count * _least_means(scene, index, item, bundles)
    for pin in scene.pins:
        outline = problem.items[pin.placement.item].posed(pin.placement.pose) + (
            pin.placement.x,
            pin.placement.y,
        )
        rings = upright(outline)
        total += [_mean_chord(rings, 0.0, 0.0, lines, problem.gap) for lines in bundles]
    # The gap after the last piece is not needed; a line with no piece on it has length 0.
    return float(max(0.0, total.max() - problem.gap)) if len(total) else 0.0


def _least_x(o: Option) -> float:
    """Least allowed x of the box centre."""
    comb = o.comb_x
    if comb.period <= 0.0:
        return o.x0
    k = math.ceil((o.x0 - comb.tolerance - comb.phase) / comb.period)
    return max(o.x0, comb.phase + k * comb.period - comb.tolerance)


def _half_width(scene: Scene, item: int, o: Option) -> float:
    return scene.table.of_pose[item][o.pose].half[0]


def _half_height(scene: Scene, o: Option) -> float:
    return scene.table.shapes[o.shape].half_h


def _whereabouts(scene: Scene, item: int) -> tuple[float, float, float]:
    """(least x, least y, greatest y) of any outline point of the item, over all its options."""
    lows, highs, starts = [], [], []
    for o in scene.options[item]:
        half_w, half_h = scene.table.of_pose[item][o.pose].half
        starts.append(o.x0 - half_w)
        lows.append(o.y0 - half_h)
        highs.append(o.y1 + half_h)
    return min(starts), min(lows), max(highs)


def _few(values: Iterable[float]) -> list[float]:
    """Distinct values, no more than BANDS of them, spread over their range with both ends."""
    distinct = sorted(set(values))
    if len(distinct) <= BANDS:
        return distinct
    picks = np.linspace(0, len(distinct) - 1, BANDS).round().astype(int)
    return [distinct[k] for k in picks]


def _grown_area(problem: Problem, item: int) -> float:
    """Area of an item grown by half the gap: grown items do not overlap either."""
    outline = as_points(problem.items[item].outline)
    if problem.gap <= 0.0:
        return signed_area(outline)
    grid = problem.width * 1e-7
    grown = offset([outline], problem.gap / 2, join=Join.ROUND, chord=problem.gap / 100, grid=grid)
    # Rounding to the grid may add a sliver along the outline: take it off again.
    sliver = grid * sum(float(np.hypot(*(np.roll(r, -1, axis=0) - r).T).sum()) for r in grown)
    return sum(signed_area(r) for r in grown) - sliver


def _length_for(scene: Scene, area: float, x0: float, low: float, high: float) -> float:
    """Least L so that the band from x0 to L, grown by half the gap on all sides, holds the area after
    flaws and a container's outside are taken off."""
    problem = scene.problem
    half = problem.gap / 2
    band = high - low + problem.gap
    length = x0 - half + area / band - half
    if not problem.holes and problem.container is None:
        return length
    top = length if problem.length is None else max(length, problem.length)
    span = top + sum(float(np.ptp(h[:, 0])) for h in problem.holes)
    for _ in range(60):
        free = _free_area(problem, x0 - half, length + half, low - half, high + half)
        if free >= area * (1 - 1e-9) or length >= span:
            return length
        length += max((area - free) / band, 1e-9 * span)
    return length


def _free_area(problem: Problem, x0: float, x1: float, y0: float, y1: float) -> float:
    """Area of a box less the flaws in it (never less than what is really free)."""
    box = as_points([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    grid = problem.width * 1e-7
    slack = grid * 8 * (x1 - x0 + y1 - y0)
    free = (x1 - x0) * (y1 - y0)
    if problem.container is not None:
        # Grown pieces may stick out of the container by half the gap.
        inside = offset([problem.container], problem.gap / 2 + grid, join=Join.SQUARE, grid=grid)
        return sum(map(signed_area, intersection([box], inside, grid=grid))) + slack
    # Grown pieces may reach half the gap into a flaw: only its core is surely lost.
    for hole in problem.holes:
        core = (
            [as_points(hole)] if problem.gap <= 0 else offset([hole], -problem.gap / 2, grid=grid)
        )
        if core:
            free -= sum(map(signed_area, intersection([box], core, grid=grid)))
    return free + slack


def _least_means(scene: Scene, index: int, item: Item, bundles: Sequence[FloatArray]) -> FloatArray:
    """For each bundle the least mean chord (with the gap) over all places of the item."""
    out = np.full(len(bundles), math.inf)
    done: set[tuple[int, float, float]] = set()
    width = scene.problem.width
    for o in scene.options[index]:
        if (o.shape, o.y0, o.y1) in done:
            continue
        done.add((o.shape, o.y0, o.y1))
        pose = item.poses[o.pose]
        posed = turned(item.outline, pose.turn_deg, mirrored=pose.mirrored)
        region = drawn_in(as_points(posed - np.array(o.centre)), width)
        if not region:
            return np.zeros(len(bundles))
        centred = np.concatenate([upright(ring) for ring in region])
        # Drawing in took as much off both ends of every chord at the least.
        more = 2 * DRAWN_IN * width + scene.problem.gap
        for k, lines in enumerate(bundles):
            if out[k] > 0.0:
                out[k] = min(out[k], _mean_chord(centred, o.y0, o.y1, lines, more))
    return out


def _mean_chord(edges: FloatArray, y0: float, y1: float, lines: FloatArray, more: float) -> float:
    """Least mean, over centre places y in [y0, y1], of the chords that the lines cut off, ``more`` added
    to each.

    The mean is piecewise linear in y and breaks where a vertex meets a line, so its limits from both
    sides at the breaks, and the ends, are enough.
    """
    top, bottom = float(edges[:, 3].max()), float(edges[:, 1].min())
    lows, highs = np.append(-np.inf, lines), np.append(lines, np.inf)
    if (np.maximum(lows - bottom, y0) <= np.minimum(highs - top, y1)).any():
        return 0.0  # it can lie between two lines
    levels = np.unique(np.concatenate([edges[:, 1], edges[:, 3]]))
    at = (lines[:, None] - levels[None, :]).ravel()
    at = np.unique(np.concatenate([[y0, y1], at[(at > y0) & (at < y1)]]))
    t = lines[None, :] - at[:, None]
    below = chords(edges, t, from_below=True)
    above = chords(edges, t, from_below=False)
    if more > 0.0:
        below = below + more * (below > 0.0)
        above = above + more * (above > 0.0)
    return float(min(below.mean(axis=1).min(), above.mean(axis=1).min()))
