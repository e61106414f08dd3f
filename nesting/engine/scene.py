"""A problem made ready for any search: every way an item may lie, what is fixed, and what is in the way."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from nesting.clipping import Join, Region, offset
from nesting.engine.nofit import image, nofit
from nesting.engine.problem import (
    Domain,
    Item,
    Lattice,
    Placement,
    Problem,
    Side,
    check_problem,
    domain_poses,
)
from nesting.engine.shapes import Posed, ShapeTable, build_shapes, to_ring
from nesting.engine.symmetry import INVERSE, PRODUCT, IntArray, moved
from nesting.errors import ProblemError
from nesting.polygon import FloatArray, as_points, turned


@dataclass(frozen=True, slots=True)
class Comb:
    """Places of a box centre along one axis: phase + k * period, within ``tolerance``.
    A period of 0 means anywhere."""

    period: float = 0.0
    phase: float = 0.0
    tolerance: float = 0.0


FREE = Comb()


@dataclass(frozen=True, slots=True)
class Option:
    """One way for an item to lie: a shape, and where its box centre may be.

    ``x1`` is infinite where only the strip's end bounds it. ``centre`` is the box centre of the posed,
    unshifted outline, to get back to a placement.
    """

    domain: int
    pose: int
    shape: int
    centre: tuple[float, float]
    x0: float
    x1: float
    y0: float
    y1: float
    comb_x: Comb = FREE
    comb_y: Comb = FREE


@dataclass(frozen=True, slots=True)
class Pin:
    """A pinned copy: its given placement, its shape and where its box centre is."""

    placement: Placement
    shape: int
    x: float
    y: float


@dataclass(frozen=True, slots=True, eq=False)
class Wall:
    """Something that never moves and nothing may touch: an integer ring about ``(x, y)``."""

    ring: IntArray
    x: float
    y: float


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """A checked problem with its shapes, the options of each item, the copies to be placed
    (item, copy), pins and walls."""

    problem: Problem
    table: ShapeTable
    options: tuple[tuple[Option, ...], ...]
    bodies: tuple[tuple[int, int], ...]
    pins: tuple[Pin, ...]
    walls: tuple[Wall, ...]
    nofits: NoFits

    def placement(self, body: int, option: Option, x: float, y: float) -> Placement:
        """The placement of a copy whose box centre lies at (x, y)."""
        item, copy = self.bodies[body]
        cx, cy = option.centre
        return Placement(item, copy, option.pose, x - cx, y - cy, option.domain)


@dataclass(slots=True, eq=False)
class NoFits:
    """No-fit regions, made when first asked for and shared between all pairs that are images of one
    another."""

    table: ShapeTable
    gap: float
    edge_gap: float
    walls: tuple[Wall, ...]
    _known: dict[tuple[int, int, int], Region] = field(default_factory=dict)
    _between: dict[tuple[int, int], Region] = field(default_factory=dict)
    _at_wall: dict[tuple[int, int], Region] = field(default_factory=dict)
    _edges: dict[tuple[int, int], FloatArray] = field(default_factory=dict)
    _elements: dict[tuple[int, int], int] = field(default_factory=dict)

    def key(self, still: int, moving: int) -> tuple[tuple[int, int, int], int, bool]:
        """The region that serves a pair of shapes, and the element and flip that turn it into theirs."""
        s, m = self.table.shapes[still], self.table.shapes[moving]
        flipped = s.base > m.base
        if flipped:
            s, m = m, s
        relative = self._least(m.base, PRODUCT[INVERSE[s.element]][m.element])
        return (s.base, m.base, relative), s.element, flipped

    def region(self, key: tuple[int, int, int]) -> Region:
        """The region of a key: base ring against the other base ring under an element."""
        if key not in self._known:
            a, b, relative = key
            rings = self.table.rings
            self._known[key] = nofit(
                rings[a], moved(rings[b], relative), self.table.grid, gap=self.gap
            )
        return self._known[key]

    def between(self, still: int, moving: int) -> Region:
        """Where the centre of ``moving`` may not lie about ``still``, drawn in by the touch tolerance."""
        if (still, moving) not in self._between:
            key, element, flipped = self.key(still, moving)
            drawn_in = self._drawn_in(image(self.region(key), element, flipped=flipped))
            self._between[still, moving] = drawn_in
        return self._between[still, moving]

    def at_wall(self, wall: int, moving: int) -> Region:
        """As ``between``, for a wall."""
        if (wall, moving) not in self._at_wall:
            self._at_wall[wall, moving] = self._drawn_in(self.wall_region(wall, moving))
        return self._at_wall[wall, moving]

    def wall_region(self, wall: int, moving: int) -> Region:
        """The exact region of a shape about a wall."""
        ring = self.walls[wall].ring
        return nofit(ring, self.table.ring(moving), self.table.grid, gap=self.edge_gap)

    def edges(self, still: int, moving: int) -> FloatArray:
        """Edges (E, 4) of the exact region of ``moving`` about ``still``, both ends, the inside on their
        left; walls are counted after the shapes."""
        if (still, moving) not in self._edges:
            walls_from = len(self.table.shapes)
            if still >= walls_from:
                region = self.wall_region(still - walls_from, moving)
            else:
                key, element, flipped = self.key(still, moving)
                region = image(self.region(key), element, flipped=flipped)
            rows = [np.column_stack([r, np.roll(r, -1, axis=0)]) for r in region]
            edges = np.concatenate([*rows, np.zeros((0, 4))])
            ax, ay, bx, by = edges.T
            if float((ax * by - bx * ay).sum()) < 0.0:
                edges = edges[:, [2, 3, 0, 1]]
            self._edges[still, moving] = edges[(edges[:, :2] != edges[:, 2:]).any(axis=1)]
        return self._edges[still, moving]

    def _drawn_in(self, region: Region) -> Region:
        touch = self.table.touch
        return offset(region, -touch, join=Join.MITRE, grid=touch / 8)

    def _least(self, base: int, element: int) -> int:
        if (base, element) not in self._elements:
            self._elements[base, element] = self._least_of(base, element)
        return self._elements[base, element]

    def _least_of(self, base: int, element: int) -> int:
        for shape in self.table.shapes:
            if shape.base == base and shape.element == element:
                return element
        ring = self.table.rings[base]
        target = _sorted(moved(ring, element))
        return next(k for k in range(8) if np.array_equal(_sorted(moved(ring, k)), target))


def build_scene(problem: Problem) -> Scene:
    """Check a problem and make it ready. Raises ProblemError, naming the item, if it cannot be."""
    check_problem(problem)
    table = build_shapes(problem)
    walls = tuple(_wall(w, table.grid) for w in wall_outlines(problem))
    options = []
    for index, item in enumerate(problem.items):
        rows = _options_of(problem, item, table.of_pose[index], table)
        if item.count > len(item.pinned) and not rows:
            raise ProblemError(
                f"{item.key} can lie nowhere: its domains leave it no place",
                where=item.key,
                code="no_place",
                hint="Check the zone, the touching side and the repeat it must keep.",
            )
        options.append(tuple(rows))
    pins = tuple(_pin(p, table) for item in problem.items for p in item.pinned)
    pinned = {(p.placement.item, p.placement.copy) for p in pins}
    bodies = tuple(
        (i, c)
        for i, item in enumerate(problem.items)
        for c in range(item.count)
        if (i, c) not in pinned
    )
    nofits = NoFits(table, problem.gap, problem.edge_gap, walls)
    return Scene(problem, table, tuple(options), bodies, pins, walls, nofits)


def wall_outlines(problem: Problem) -> list[FloatArray]:
    """Holes, and what surrounds a container that is not a rectangle, as simple outlines."""
    walls = [as_points(h) for h in problem.holes]
    if problem.container is not None:
        margin = 2 * max(
            [problem.width]
            + [float(np.hypot(*np.ptp(item.outline, axis=0))) for item in problem.items]
        )
        walls += _surroundings(problem.container, margin)
    return walls


def _surroundings(container: FloatArray, margin: float) -> list[FloatArray]:
    """The outside of a counter-clockwise outline, cut into an upper and a lower part at its leftmost
    and rightmost points."""
    n = len(container)
    left, right = int(np.argmin(container[:, 0])), int(np.argmax(container[:, 0]))
    x0, y0 = container.min(axis=0) - margin
    x1, y1 = container.max(axis=0) + margin
    below = container[[(left + k) % n for k in range((right - left) % n + 1)]]
    above = container[[(right + k) % n for k in range((left - right) % n + 1)]]
    lower = [(x0, below[0, 1]), (x0, y0), (x1, y0), (x1, below[-1, 1]), *below[::-1].tolist()]
    upper = [(x1, above[0, 1]), (x1, y1), (x0, y1), (x0, above[-1, 1]), *above[::-1].tolist()]
    return [as_points(lower), as_points(upper)]


def _wall(outline: FloatArray, grid: float) -> Wall:
    centre = (outline.max(axis=0) + outline.min(axis=0)) / 2
    return Wall(to_ring(as_points(outline - centre), grid), float(centre[0]), float(centre[1]))


def _pin(placement: Placement, table: ShapeTable) -> Pin:
    posed = table.of_pose[placement.item][placement.pose]
    cx, cy = posed.centre
    return Pin(placement, posed.shape, placement.x + cx, placement.y + cy)


def _options_of(
    problem: Problem,
    item: Item,
    posed: tuple[Posed, ...],
    table: ShapeTable,
) -> list[Option]:
    """The options of an item that leave it any place, equal ones once."""
    options: dict[tuple[object, ...], Option] = {}
    for d, p in domain_poses(item):
        option = _option(problem, item, d, p, posed[p], table.touch)
        if option is not None:
            where = (option.shape, option.x0, option.x1, option.y0, option.y1)
            options.setdefault((*where, option.comb_x, option.comb_y), option)
    return list(options.values())


def _option(
    problem: Problem,
    item: Item,
    d: int,
    p: int,
    posed: Posed,
    touch: float,
) -> Option | None:
    domain = item.domains[d]
    if Side.X1 in domain.touch and math.isinf(domain.x1):
        raise ProblemError(f"{item.key}: cannot touch an open end", where=item.key)
    half_w, half_h = posed.half
    low_x, high_x, low_y, high_y = domain_box(problem, domain)
    x = _interval(low_x + half_w, high_x - half_w, Side.X0, Side.X1, domain, touch / 2)
    y = _interval(low_y + half_h, high_y - half_h, Side.Y0, Side.Y1, domain, touch / 2)
    if x is None or y is None:
        return None
    combs = _combs(domain.lattice, item, p, posed.centre)
    if not (_reaches(combs[0], x) and _reaches(combs[1], y)):
        return None
    return Option(d, p, posed.shape, posed.centre, *x, *y, *combs)


def domain_box(problem: Problem, domain: Domain) -> tuple[float, float, float, float]:
    """(x0, x1, y0, y1) within which a whole outline must lie: the domain less the edge gap, which is
    not kept on sides that must be touched."""
    e = problem.edge_gap
    end = math.inf if problem.length is None else problem.length
    x0 = max(domain.x0, 0.0 if Side.X0 in domain.touch else e)
    x1 = min(domain.x1, end if Side.X1 in domain.touch else end - e)
    y0 = max(domain.y0, 0.0 if Side.Y0 in domain.touch else e)
    y1 = min(domain.y1, problem.width - (0.0 if Side.Y1 in domain.touch else e))
    return x0, x1, y0, y1


def _interval(
    low: float, high: float, side0: Side, side1: Side, domain: Domain, slack: float
) -> tuple[float, float] | None:
    if high < low - slack:
        return None
    high = max(high, low)
    if side0 in domain.touch:
        high = low if side1 not in domain.touch or high <= low + slack else math.nan
    elif side1 in domain.touch:
        low = high
    return None if math.isnan(high) else (low, high)


def _combs(
    lattice: Lattice | None, item: Item, pose: int, centre: tuple[float, float]
) -> tuple[Comb, Comb]:
    if lattice is None:
        return FREE, FREE
    held = item.poses[pose]
    anchor = turned(as_points([lattice.anchor]), held.turn_deg, mirrored=held.mirrored)[0]
    out = []
    for axis, period, phase in (
        (0, lattice.period_x, lattice.phase_x),
        (1, lattice.period_y, lattice.phase_y),
    ):
        if period is None:
            out.append(FREE)
        else:
            at = (phase - float(anchor[axis]) + centre[axis]) % period
            out.append(Comb(period, at, lattice.tolerance))
    return out[0], out[1]


def _reaches(comb: Comb, interval: tuple[float, float]) -> bool:
    """Whether any tooth of the comb reaches into the interval."""
    if comb.period <= 0.0 or math.isinf(interval[1]):
        return True
    low, high = interval
    k = math.ceil((low - comb.tolerance - comb.phase) / comb.period)
    return comb.phase + k * comb.period - comb.tolerance <= high


def _sorted(ring: IntArray) -> IntArray:
    return np.roll(ring, -int(np.lexsort((ring[:, 1], ring[:, 0]))[0]), axis=0)
