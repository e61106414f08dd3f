"""From items in their poses to shapes: integer rings about their box centres, equal ones shared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nesting.engine.problem import Item, Pose, Problem
from nesting.engine.simplify import simplify_outward
from nesting.engine.symmetry import MIRROR, PRODUCT, IntArray, canonical, moved
from nesting.polygon import FloatArray, as_points, turned

GRID_CELLS: Final = 1e8
"""The longest extent of anything, in grid units: cross products of differences stay within int64."""

TOUCH_PER_WIDTH: Final = 1e-6
"""Pieces that interpenetrate by less than this share of the strip's width count as touching
(1.4 micrometres on 1400 mm): far above rounding, far below anything that can be cut."""


DETAILED: Final = 48
"""Outlines with more vertices than this are simplified outward, for the preparation's sake."""

DETAIL_PER_WIDTH: Final = 7e-5
"""How far a simplified outline may lie outside the true one, as a share of the strip's width (0.1 mm
on 1400 mm): what it costs in length is below two tenths of a millimetre a contact."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """A posed outline about the centre of its box: image ``element`` of ring ``base``.

    ``half_w`` and ``half_h`` are half its box, in problem units (rounded to the grid).
    """

    base: int
    element: int
    half_w: float
    half_h: float
    area: float


@dataclass(frozen=True, slots=True)
class Posed:
    """An item's pose: its shape, and the exact centre and half box of the posed, unshifted outline."""

    shape: int
    centre: tuple[float, float]
    half: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class ShapeTable:
    """All shapes of a problem, each item's poses in them, and the canonical integer rings of the
    shapes' bases, in units of ``grid``."""

    grid: float
    touch: float
    rings: tuple[IntArray, ...]
    shapes: tuple[Shape, ...]
    of_pose: tuple[tuple[Posed, ...], ...]

    def ring(self, shape: int) -> IntArray:
        """The integer ring of a shape, counter-clockwise, about its box centre."""
        s = self.shapes[shape]
        return moved(self.rings[s.base], s.element)


def touch_tolerance(problem: Problem) -> float:
    """How deep two pieces may interpenetrate and still count as touching."""
    return TOUCH_PER_WIDTH * problem.width


def grid_of(problem: Problem) -> float:
    """The grid's unit: a power of two, so that scaling is exact, small against every extent."""
    extent = max([problem.width, *(float(np.ptp(i.outline, axis=0).max()) for i in problem.items)])
    if problem.length is not None:
        extent = max(extent, problem.length)
    return float(2.0 ** np.ceil(np.log2(extent / GRID_CELLS)))


def build_shapes(problem: Problem) -> ShapeTable:
    """Pose every item, round to the grid and share what is equal up to quarter turns and mirroring."""
    grid = grid_of(problem)
    bases: dict[bytes, int] = {}
    exact: list[IntArray] = []
    rings: list[IntArray] = []
    shapes: list[Shape] = []
    known: dict[tuple[int, int], int] = {}
    of_pose = []
    for item in problem.items:
        row = []
        for pose in item.poses:
            ring, element = _posed_ring(item, pose, grid)
            least, back = canonical(ring)
            base = bases.setdefault(least.tobytes(), len(rings))
            if base == len(rings):
                exact.append(least)
                rings.append(_simpler(least, DETAIL_PER_WIDTH * problem.width / grid))
            element = _least_element(exact[base], PRODUCT[element][back])
            if (base, element) not in known:
                known[base, element] = len(shapes)
                shapes.append(_shape(rings[base], base, element, grid))
            box = turned(item.outline, pose.turn_deg, mirrored=pose.mirrored)
            low, high = box.min(axis=0), box.max(axis=0)
            (cx, cy), (hx, hy) = ((high + low) / 2).tolist(), ((high - low) / 2).tolist()
            row.append(Posed(known[base, element], (cx, cy), (hx, hy)))
        of_pose.append(tuple(row))
    return ShapeTable(grid, touch_tolerance(problem), tuple(rings), tuple(shapes), tuple(of_pose))


def to_ring(points: FloatArray, grid: float) -> IntArray:
    """Points (N, 2) on the grid as integers, without repeats and points on straight runs."""
    ring = np.rint(points / grid).astype(np.int64)
    while True:
        before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
        a, b = ring - before, after - ring
        bend = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] != 0
        if bend.all() or bend.sum() < 3:
            return ring
        ring = ring[bend] if (a != 0).any(axis=1).all() else ring[(a != 0).any(axis=1)]


def _simpler(ring: IntArray, tolerance: float) -> IntArray:
    if len(ring) <= DETAILED:
        return ring
    return to_ring(simplify_outward(ring.astype(float), tolerance), 1.0)


def _posed_ring(item: Item, pose: Pose, grid: float) -> tuple[IntArray, int]:
    """The centred ring of the part of a turn below a quarter, and the element for the rest.

    Rounding happens once for all quarter turns and mirrorings of it, so that they stay exact images.
    """
    quarter, rest = divmod(pose.turn_deg % 360.0, 90.0)
    element = PRODUCT[int(quarter) % 4][MIRROR if pose.mirrored else 0]
    if rest != 0.0 and pose.mirrored:
        # turn by r after mirroring = mirror after turning by -r = mirror, a quarter back, 90 - r
        element = PRODUCT[element][3]
        rest = 90.0 - rest
    points = turned(item.outline, rest)
    centred = as_points(points - (points.max(axis=0) + points.min(axis=0)) / 2)
    return to_ring(centred, grid), element


def _least_element(ring: IntArray, element: int) -> int:
    """The first element with the same image: a rectangle turned by 180 degrees is itself."""
    target = _start_sorted(moved(ring, element))
    return next(k for k in range(8) if np.array_equal(_start_sorted(moved(ring, k)), target))


def _start_sorted(ring: IntArray) -> IntArray:
    return np.roll(ring, -int(np.lexsort((ring[:, 1], ring[:, 0]))[0]), axis=0)


def _shape(ring: IntArray, base: int, element: int, grid: float) -> Shape:
    points = moved(ring, element)
    half = (points.max(axis=0) - points.min(axis=0)) / 2 * grid
    x, y = points.astype(float).T * grid
    area = 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))
    return Shape(base, element, float(half[0]), float(half[1]), area)
