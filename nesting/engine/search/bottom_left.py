"""Bottom-left filling: one copy after another goes to the leftmost, then lowest place that is free.

The yardstick: simple for good. Free places are exact (a rectangle less the no-fit polygons), all of
the contract is honoured, and nothing is compiled, so it also gives the first layout on a cold machine.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.random import Generator

from nesting.clipping import Region, difference, intersection
from nesting.engine.nofit import ARC_EXCESS, ARC_SHARE
from nesting.engine.problem import Placement, Solution
from nesting.engine.scene import Comb, Option, Scene
from nesting.polygon import FloatArray, as_points

NOISE = 0.25
"""Sizes are multiplied by 1 +- this before sorting, for further orders."""

Laid = tuple[int, float, float]
"""A shape and the place of its box centre."""


QUICK_POLYGONS = 500
"""So many no-fit polygons are made for a quick first layout (a quarter of a second): beyond them pieces
keep clear of one another's boxes. Large pieces come first, so it is small ones that lie less close."""


def bottom_left(
    scene: Scene,
    order: Sequence[int],
    floor: float,
    stop: Callable[[], bool] | None = None,
    *,
    polygons: float = math.inf,
) -> Solution:
    """Lay the scene's bodies in the given order. Copies that find no room are ``unplaced``.

    When ``stop`` answers True the rest stay unplaced. At most ``polygons`` no-fit polygons are used;
    between other pairs their boxes do.
    """
    pairs = _Pairs(scene, polygons)
    laid: list[Laid] = [(p.shape, p.x, p.y) for p in scene.pins]
    placements = [p.placement for p in scene.pins]
    unplaced = []
    for body in order:
        place = None if stop is not None and stop() else _best_place(scene, body, laid, pairs)
        if place is None:
            unplaced.append(scene.bodies[body])
            continue
        option, x, y = place
        laid.append((option.shape, x, y))
        placements.append(scene.placement(body, option, x, y))
    return solution_of(scene, placements, floor, unplaced)


def is_hasty(scene: Scene) -> bool:
    """Whether a quick first layout had to do without some no-fit polygons."""
    rings = len(scene.table.rings)
    return rings * (rings + 1) // 2 > QUICK_POLYGONS


def solution_of(
    scene: Scene,
    placements: Sequence[Placement],
    floor: float,
    unplaced: Sequence[tuple[int, int]] = (),
) -> Solution:
    """A solution with its length; placements in the order of the items.

    Touching pieces may interpenetrate by micrometres, so a full layout can come out shorter than the
    floor by as much: the floor it states is then its own length.
    """
    ordered = tuple(sorted(placements, key=lambda p: (p.item, p.copy)))
    problem = scene.problem
    reach = [float(problem.items[p.item].posed(p.pose)[:, 0].max()) + p.x for p in ordered]
    length = max(reach, default=0.0)
    return Solution(ordered, length, min(floor, length), unplaced=tuple(unplaced))


def orders(scene: Scene, rng: Generator) -> Iterator[list[int]]:
    """Large area first, then long, high and wide first, then noisy orders, for ever."""
    sizes = _sizes(scene)
    for column in range(4):
        yield _descending(sizes[:, column])
    while True:
        yield noisy_order(scene, rng)


def noisy_order(scene: Scene, rng: Generator) -> list[int]:
    """Large first by one of four measures, with noise."""
    sizes = _sizes(scene)
    noise = 1.0 + NOISE * rng.uniform(-1.0, 1.0, len(sizes))
    return _descending(sizes[:, int(rng.integers(4))] * noise)


def _sizes(scene: Scene) -> FloatArray:
    return np.array([_size(scene, b) for b in range(len(scene.bodies))]).reshape(-1, 4)


def _descending(keys: FloatArray) -> list[int]:
    return [int(k) for k in np.argsort(-keys, kind="stable")]


def _size(scene: Scene, body: int) -> tuple[float, float, float, float]:
    """Area, length, height, perimeter of a body's box, with those that may lie in few places first."""
    options = scene.options[scene.bodies[body][0]]
    shape = scene.table.shapes[options[0].shape]
    bound = 1e6 if all(o.y1 == o.y0 or o.x1 == o.x0 for o in options) else 1.0
    w, h = shape.half_w, shape.half_h
    return shape.area * bound, w * bound, h * bound, (w + h) * bound


Bounds = tuple[float, float, float, float]
"""Least and greatest x, least and greatest y."""


class _Blocked:
    """A region that is asked for at many places, with its bounds."""

    def __init__(self, region: Region) -> None:
        self.region = region
        points = np.concatenate([np.zeros((0, 2)), *region])
        self.bounds: Bounds = (math.inf, -math.inf, math.inf, -math.inf)
        if len(points):
            (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
            self.bounds = x0, x1, y0, y1

    def shifted(self, x: float, y: float, within: Bounds) -> Region:
        """The region moved to (x, y), if it comes near the box ``within``."""
        x0, x1, y0, y1 = self.bounds
        if x0 + x > within[1] or x1 + x < within[0] or y0 + y > within[3] or y1 + y < within[2]:
            return []
        return [as_points(ring + (x, y)) for ring in self.region]


class _Pairs:
    """No-fit regions of shapes: exact for the first ``limit`` kinds of pairs asked for, then boxes."""

    def __init__(self, scene: Scene, limit: float) -> None:
        self.scene = scene
        self.limit = limit
        self.exact: set[tuple[int, int, int]] = set()
        self.known: dict[tuple[int, int], _Blocked] = {}

    def between(self, still: int, moving: int) -> _Blocked:
        """Where the centre of ``moving`` may not lie about ``still``."""
        pair = still, moving
        if pair not in self.known:
            self.known[pair] = _Blocked(self._region(still, moving))
        return self.known[pair]

    def _region(self, still: int, moving: int) -> Region:
        nofits = self.scene.nofits
        key = nofits.key(still, moving)[0]
        if len(self.exact) < self.limit:
            self.exact.add(key)
        if key in self.exact:
            return nofits.between(still, moving)
        a, b = (self.scene.table.shapes[s] for s in (still, moving))
        apart = self.scene.problem.gap * (1 + 2 * ARC_EXCESS * ARC_SHARE) - self.scene.table.touch
        w, h = a.half_w + b.half_w + apart, a.half_h + b.half_h + apart
        return [_box(-w, w, -h, h)]


def _best_place(
    scene: Scene, body: int, laid: Sequence[Laid], pairs: _Pairs
) -> tuple[Option, float, float] | None:
    """The free place that reaches least far along the strip, then the lowest."""
    best: tuple[float, float] | None = None
    found = None
    touch = scene.table.touch
    front = max([0.0, *(x + scene.table.shapes[s].half_w for s, x, _ in laid)])
    walls = [w.x + float(w.ring[:, 0].max()) * scene.table.grid for w in scene.walls]
    gaps = scene.problem.edge_gap + scene.problem.gap
    front = max([front, *walls]) + gaps * (1 + 2 * ARC_EXCESS * ARC_SHARE) + touch
    for option in scene.options[scene.bodies[body][0]]:
        shape = scene.table.shapes[option.shape]
        for x, y in _free_corners(scene, option, laid, front, pairs):
            key = (round((x + shape.half_w) / touch), y)
            if best is None or key < best:
                best, found = key, (option, x, y)
    return found


def _free_corners(
    scene: Scene, option: Option, laid: Sequence[Laid], front: float, pairs: _Pairs
) -> Iterator[tuple[float, float]]:
    """Corners of the region where the option's box centre may lie."""
    touch = scene.table.touch
    half_w = scene.table.shapes[option.shape].half_w
    x1 = min(option.x1, max(option.x0, front + half_w) + option.comb_x.period)
    thin = touch / 4  # a bound that is one number becomes a sliver that the clipper can hold
    bounds = (option.x0 - thin, x1 + thin, option.y0 - thin, option.y1 + thin)
    box = _box(*bounds)
    region = _on_combs([box], option, x1, touch / 8)
    blocked: Region = []
    for shape, x, y in laid:
        blocked += pairs.between(shape, option.shape).shifted(x, y, bounds)
    for k, wall in enumerate(scene.walls):
        at_wall = _Blocked(scene.nofits.at_wall(k, option.shape))
        blocked += at_wall.shifted(wall.x, wall.y, bounds)
    for ring in difference(region, blocked, grid=touch / 8):
        for x, y in ring:
            yield (
                _settle(float(x), option.x0, x1, option.comb_x),
                _settle(float(y), option.y0, option.y1, option.comb_y),
            )


def _settle(value: float, low: float, high: float, comb: Comb) -> float:
    """Into the bounds exactly, and onto the comb exactly: both were widened by a sliver."""
    value = min(max(value, low), high)
    if comb.period > 0.0:
        tooth = comb.phase + round((value - comb.phase) / comb.period) * comb.period
        value = min(max(value, tooth - comb.tolerance), tooth + comb.tolerance)
    return value


def _on_combs(region: Region, option: Option, x1: float, grid: float) -> Region:
    """The region cut down to the comb's teeth."""
    low_x, low_y = option.x0 - grid, option.y0 - grid
    if option.comb_x.period > 0.0:
        teeth = _teeth(option.comb_x, option.x0, x1)
        bands = [_box(a - grid, b + grid, low_y - 1.0, option.y1 + 1.0) for a, b in teeth]
        region = intersection(region, bands, grid=grid)
    if option.comb_y.period > 0.0:
        teeth = _teeth(option.comb_y, option.y0, option.y1)
        bands = [_box(low_x - 1.0, x1 + 1.0, a - grid, b + grid) for a, b in teeth]
        region = intersection(region, bands, grid=grid)
    return region


def _teeth(comb: Comb, low: float, high: float) -> list[tuple[float, float]]:
    if comb.tolerance * 2 >= comb.period:
        return [(low, high)]
    first = math.ceil((low - comb.tolerance - comb.phase) / comb.period)
    last = math.floor((high + comb.tolerance - comb.phase) / comb.period)
    middles = [comb.phase + k * comb.period for k in range(first, last + 1)]
    return [(m - comb.tolerance, m + comb.tolerance) for m in middles]


def _box(x0: float, x1: float, y0: float, y1: float) -> FloatArray:
    return as_points([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
