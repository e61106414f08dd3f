"""A lower bound from pieces too wide to pass one another: one after another, in the best order.

Whatever the layout, its pieces have an order along the strip. Two that follow one another in it have
their centres at least as far apart as the nearest free offset of the pair allows, with both within the
strip, so no layout is shorter than the cheapest order of any set of its pieces. The set is made of pieces
wider than half the strip; the distances come from exact no-fit polygons, and orders are counted by
dynamic programming over how many copies of each item were laid.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from nesting.clipping import Join, difference, offset
from nesting.engine.nofit import nofit
from nesting.engine.scene import Scene
from nesting.engine.sections import DRAWN_IN, drawn_in
from nesting.engine.shapes import to_ring
from nesting.engine.symmetry import IntArray
from nesting.polygon import as_points, signed_area, turned

MOST_ITEMS: Final = 4
"""So many of the widest items are put in order: each pair of poses costs a no-fit polygon."""

MOST_STATES: Final = 5000
"""So many combinations of copies laid and last pose are looked at."""

GAP_SHARE: Final = 0.99
"""Distances count this share of the gap: the arcs of an offset are polylines."""


@dataclass(frozen=True, slots=True, eq=False)
class _Lying:
    """A way for an item to lie: its drawn-in outline about the box centre, half its length, and where
    that centre may be."""

    item: int
    ring: IntArray
    half_w: float
    x0: float
    y0: float
    y1: float


def order_floor(scene: Scene) -> float:
    """The best bound from the widest items (0 if none is wider than half the strip)."""
    items = _widest(scene)
    best = 0.0
    for k in range(len(items)):
        chosen = items[: k + 1]
        counts = [sum(1 for i, _ in scene.bodies if i == item) for item in chosen]
        lying = [_ways(scene, item) for item in chosen]
        states = math.prod(n + 1 for n in counts) * sum(map(len, lying))
        if states > MOST_STATES or not all(lying):
            break
        best = max(best, _cheapest(counts, _Distances(scene, [w for row in lying for w in row])))
    return best


class _Distances:
    """Ways to lie, and the least distance along the strip from each to each that follows it."""

    def __init__(self, scene: Scene, ways: Sequence[_Lying]) -> None:
        self.ways = ways
        self.kinds = sorted({w.item for w in ways}, key=[w.item for w in ways].index)
        self.apart = [[_distance(scene, a, b) for b in ways] for a in ways]

    def kind(self, way: int) -> int:
        return self.kinds.index(self.ways[way].item)


def _widest(scene: Scene) -> list[int]:
    """Items with copies to lay that are wider than half the strip however they lie, widest first."""
    least = {}
    for item in {i for i, _ in scene.bodies}:
        rows = scene.table.of_pose[item]
        least[item] = min(2 * rows[o.pose].half[1] for o in scene.options[item])
    wide = [i for i, width in least.items() if width > scene.problem.width / 2]
    return sorted(wide, key=lambda i: (-least[i], i))[:MOST_ITEMS]


def _ways(scene: Scene, index: int) -> list[_Lying]:
    """The distinct ways an item may lie; none if drawing in leaves nothing of it."""
    problem, item = scene.problem, scene.problem.items[index]
    shapes = {o.shape for o in scene.options[index]}
    out = []
    for shape in sorted(shapes):
        options = [o for o in scene.options[index] if o.shape == shape]
        pose = item.poses[options[0].pose]
        outline = turned(item.outline, pose.turn_deg, mirrored=pose.mirrored)
        region = drawn_in(as_points(outline - np.array(options[0].centre)), problem.width)
        if not region:
            return []
        ring = to_ring(max(region, key=signed_area), scene.table.grid)
        half_w = scene.table.of_pose[index][options[0].pose].half[0]
        x0, y0 = min(o.x0 for o in options), min(o.y0 for o in options)
        out.append(_Lying(index, ring, half_w, x0, y0, max(o.y1 for o in options)))
    return out


def _distance(scene: Scene, a: _Lying, b: _Lying) -> float:
    """How far b's centre lies at least beyond a's along the strip, if it does not lie before it."""
    problem, grid = scene.problem, scene.table.grid
    inset = DRAWN_IN * problem.width
    region = nofit(a.ring, b.ring, grid)
    gap = GAP_SHARE * problem.gap
    if gap > 0.0:
        region = offset(region, gap, join=Join.ROUND, chord=problem.gap / 1000, grid=grid)
    far = max(float(ring[:, 0].max()) for ring in region) + problem.width
    low, high = b.y0 - a.y1 - 2 * inset, b.y1 - a.y0 + 2 * inset
    free = difference(
        [as_points([(0.0, low), (far, low), (far, high), (0.0, high)])], region, grid=grid
    )
    least = min(float(ring[:, 0].min()) for ring in free)
    # Drawing in took an inset off both.
    return least + 2 * inset if least > grid else 0.0


def _cheapest(counts: Sequence[int], distances: _Distances) -> float:
    """The shortest strip over all orders of all copies."""
    ways = distances.ways
    kinds = [distances.kind(w) for w in range(len(ways))]
    start = tuple(0 for _ in counts)
    at: dict[tuple[tuple[int, ...], int], float] = {}
    for w, kind in enumerate(kinds):
        at[_one_more(start, kind), w] = ways[w].x0
    for _ in range(sum(counts) - 1):
        following: dict[tuple[tuple[int, ...], int], float] = {}
        for (laid, last), x in at.items():
            for w, kind in enumerate(kinds):
                if laid[kind] < counts[kind]:
                    state = _one_more(laid, kind), w
                    there = max(x + distances.apart[last][w], ways[w].x0)
                    following[state] = min(following.get(state, math.inf), there)
        at = following
    return min(x + ways[w].half_w for (_, w), x in at.items())


def _one_more(laid: tuple[int, ...], kind: int) -> tuple[int, ...]:
    return (*laid[:kind], laid[kind] + 1, *laid[kind + 1 :])
