"""Drafting: sides of straight lines and smooth curves between corners, in the unit of the draft.

A draft is made as on paper: points from formulas, joined by rule and French curve. Frame: y up, as
seen on the right side of the cloth; a piece's sides follow each other counter-clockwise. A curve is
a chain of cubic segments, each with two handles.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

Point = tuple[float, float]
Step = tuple[Point, ...]
"""From where the pen is: (to,) by rule, (handle, handle, to) by curve."""

CURVE_PARTS: Final = 64
"""Chords by which a cubic is measured: under 0.001 % short on the curves of a garment."""


@dataclass(frozen=True, slots=True)
class Side:
    """An edge as drafted. ``add`` is the allowance to add outside it (None: the style's default), or
    an allowance as a sheet says it, with steps or another width at its end;
    ``ease`` is how much longer it is than its ``partner`` ("piece/edge"), to be eased, pleated or
    gathered in. ``notches`` are (distance along the side, marks, name)."""

    name: str
    start: Point
    steps: tuple[Step, ...]
    kind: str = "seam"
    add: float | dict[str, Any] | None = None
    partner: str = ""
    ease: float = 0.0
    notches: tuple[tuple[float, int, str], ...] = ()

    @property
    def end(self) -> Point:
        """Where the side ends."""
        return self.steps[-1][-1]

    @property
    def length(self) -> float:
        """Length along the side."""
        points = trace(self)
        return sum(math.dist(a, b) for a, b in itertools.pairwise(points))


def line(name: str, start: Point, *to: Point, **about: object) -> Side:
    """A side by rule through the points."""
    return replace(Side(name, start, tuple((p,) for p in to)), **about)  # type: ignore[arg-type]


def curve(
    name: str,
    *through: Point,
    leave: Point | None = None,
    arrive: Point | None = None,
    **about: object,
) -> Side:
    """A side by French curve through the points, smooth at each of them.

    ``leave`` and ``arrive`` are directions (dx, dy) at the first and last point; without one the
    curve is free there. Tangents at the points between are those of the circle through the point
    and its two neighbours, so that even a few points make a fair line.
    """
    tangents = [_tangent(through, i, leave, arrive) for i in range(len(through))]
    steps: list[Step] = []
    for (p, t), (q, u) in zip(
        zip(through, tangents, strict=True),
        zip(through[1:], tangents[1:], strict=False),
        strict=False,
    ):
        reach = math.dist(p, q) / (3 * max(_half_turn_cos(p, q, t, u), 0.5))
        steps.append((_along(p, t, reach), _along(q, u, -reach), q))
    return replace(Side(name, through[0], tuple(steps)), **about)  # type: ignore[arg-type]


def arc(
    name: str, centre: Point, radius: float, start_deg: float, end_deg: float, **about: object
) -> Side:
    """A side by compass, from one angle to the other (counter-clockwise when it grows).

    Cubic segments of at most 30 degrees with handles 4/3 tan(a/4) r: off by less than 1e-6 r.
    """
    parts = max(math.ceil(abs(end_deg - start_deg) / 30), 1)
    angles = [start_deg + (end_deg - start_deg) * i / parts for i in range(parts + 1)]
    handle = 4 / 3 * math.tan(math.radians((end_deg - start_deg) / parts) / 4) * radius
    steps: list[Step] = []
    for a, b in itertools.pairwise(angles):
        p, q = on_circle(centre, radius, a), on_circle(centre, radius, b)
        steps.append((_along(p, _tangent_at(a), handle), _along(q, _tangent_at(b), -handle), q))
    start = on_circle(centre, radius, start_deg)
    return replace(Side(name, start, tuple(steps)), **about)  # type: ignore[arg-type]


def joined(name: str, *sides: Side, **about: object) -> Side:
    """Several stretches as one side, without a corner between them."""
    steps = tuple(step for s in sides for step in s.steps)
    return replace(Side(name, sides[0].start, steps), **about)  # type: ignore[arg-type]


def on_circle(centre: Point, radius: float, angle_deg: float) -> Point:
    """The point of a circle at an angle from the x axis."""
    a = math.radians(angle_deg)
    return centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)


def circle_radius(girth: float, parts: int) -> float:
    """Radius at which 1/parts of a circle measures ``girth``: full 1, half 2, third 3, quarter 4."""
    return girth * parts / (2 * math.pi)


def backwards(side: Side, **about: object) -> Side:
    """The same line drawn from its end to its start; notches are left out."""
    points = [side.start, *(s[-1] for s in side.steps)]
    steps = tuple((*reversed(s[:-1]), p) for s, p in zip(side.steps, points, strict=False))
    turned = replace(side, start=side.end, steps=tuple(reversed(steps)), notches=())
    return replace(turned, **about)  # type: ignore[arg-type]


def part(side: Side, start: float, end: float, **about: object) -> Side:
    """The stretch of a side between two distances along it; notches are left out."""
    steps: list[Step] = []
    at, pen, first = 0.0, side.start, side.start
    for step in side.steps:
        own = _step_length(pen, step)
        low, high = max(start - at, 0.0), min(end - at, own)
        if high - low > 1e-9:
            a, kept = _cut_step(pen, step, _parameter(pen, step, low), _parameter(pen, step, high))
            first = a if not steps else first
            steps.append(kept)
        at, pen = at + own, step[-1]
    return replace(
        side,
        **{"start": first, "steps": tuple(steps), "notches": (), **about},  # type: ignore[arg-type]
    )


def point_on(side: Side, distance: float) -> Point:
    """The point at a distance along the side."""
    return part(side, 0.0, distance).end if distance > 0 else side.start


def leaving(side: Side) -> Point:
    """The direction in which a side leaves its start, a unit vector."""
    to = side.steps[0][0]
    return _unit(to[0] - side.start[0], to[1] - side.start[1])


def arriving(side: Side) -> Point:
    """The direction in which a side arrives at its end, a unit vector."""
    last = side.steps[-1]
    pen = last[-2] if len(last) > 1 else (side.steps[-2][-1] if len(side.steps) > 1 else side.start)
    return _unit(side.end[0] - pen[0], side.end[1] - pen[1])


def square_after(side: Side) -> Point:
    """The direction in which the next side leaves square to this one, turning left: joined to a
    piece that does the same, its edge runs on without a corner."""
    x, y = arriving(side)
    return -y, x


def square_before(side: Side) -> Point:
    """The direction in which the side before arrives square to this one."""
    x, y = leaving(side)
    return y, -x


def square_below(side: Side, at: float, width: float, distance: float) -> Point:
    """The point ``distance`` inside the middle of a dart's mouth on a side, square to it: both legs
    are then of one length. Inside lies to the left."""
    (x0, y0), (x1, y1) = (point_on(side, at + d * width / 2) for d in (-1, 1))
    wide = math.hypot(x1 - x0, y1 - y0)
    return (
        (x0 + x1) / 2 - (y1 - y0) / wide * distance,
        (y0 + y1) / 2 + (x1 - x0) / wide * distance,
    )


def trace(side: Side) -> list[Point]:
    """The side as points fine enough to measure."""
    points = [side.start]
    for step in side.steps:
        points += _step_points(points[-1], step)
    return points


def _step_points(pen: Point, step: Step) -> list[Point]:
    if len(step) == 1:
        return [step[0]]
    return [_bezier(pen, step, i / CURVE_PARTS) for i in range(1, CURVE_PARTS + 1)]


def _step_length(pen: Point, step: Step) -> float:
    points = [pen, *_step_points(pen, step)]
    return sum(math.dist(a, b) for a, b in itertools.pairwise(points))


def _parameter(pen: Point, step: Step, distance: float) -> float:
    """Where on the step (0 to 1) a distance along it is reached."""
    points = [pen, *_step_points(pen, step)]
    at = 0.0
    for i, (a, b) in enumerate(itertools.pairwise(points)):
        own = math.dist(a, b)
        if at + own >= distance - 1e-12:
            return (i + (distance - at) / own) / (len(points) - 1) if own else 0.0
        at += own
    return 1.0


def _cut_step(pen: Point, step: Step, low: float, high: float) -> tuple[Point, Step]:
    """The step between two parameters, by de Casteljau's construction."""
    if len(step) == 1:
        return _mix(pen, step[0], low), (_mix(pen, step[0], high),)
    p = (pen, *step)
    a = p if low == 0 else _right_half(p, low)
    b = _left_half(a, (high - low) / (1 - low)) if high < 1 else a
    return b[0], tuple(b[1:])


def _left_half(p: Sequence[Point], t: float) -> tuple[Point, ...]:
    rows = _casteljau(p, t)
    return tuple(r[0] for r in rows)


def _right_half(p: Sequence[Point], t: float) -> tuple[Point, ...]:
    rows = _casteljau(p, t)
    return tuple(r[-1] for r in reversed(rows))


def _casteljau(p: Sequence[Point], t: float) -> list[list[Point]]:
    rows = [list(p)]
    while len(rows[-1]) > 1:
        row = rows[-1]
        rows.append([_mix(a, b, t) for a, b in itertools.pairwise(row)])
    return rows


def _bezier(pen: Point, step: Step, t: float) -> Point:
    return _casteljau((pen, *step), t)[-1][0]


def _mix(a: Point, b: Point, t: float) -> Point:
    return a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t


def _along(p: Point, direction: Point, distance: float) -> Point:
    return p[0] + direction[0] * distance, p[1] + direction[1] * distance


def _unit(x: float, y: float) -> Point:
    size = math.hypot(x, y)
    return x / size, y / size


def _tangent_at(angle_deg: float) -> Point:
    a = math.radians(angle_deg)
    return -math.sin(a), math.cos(a)


def _tangent(points: Sequence[Point], i: int, leave: Point | None, arrive: Point | None) -> Point:
    if i == 0:
        return _unit(*leave) if leave else _free(points[0], points[1], points, arrive, first=True)
    if i == len(points) - 1:
        return (
            _unit(*arrive) if arrive else _free(points[-2], points[-1], points, leave, first=False)
        )
    (ax, ay), (bx, by), (cx, cy) = points[i - 1], points[i], points[i + 1]
    before, after = math.hypot(bx - ax, by - ay), math.hypot(cx - bx, cy - by)
    # The circle through three points has this tangent at the middle one.
    return _unit(
        (bx - ax) / before * after + (cx - bx) / after * before,
        (by - ay) / before * after + (cy - by) / after * before,
    )


def _free(
    a: Point, b: Point, points: Sequence[Point], other: Point | None, *, first: bool
) -> Point:
    """Tangent at a free end: the chord's direction turned as far the other way as the tangent at
    the far end of its segment turns, which is how a circle behaves."""
    chord = _unit(b[0] - a[0], b[1] - a[1])
    if len(points) == 2:
        far = _unit(*other) if other else chord
    else:
        far = _tangent(points, 1 if first else len(points) - 2, None, None)
    dot = far[0] * chord[0] + far[1] * chord[1]
    return 2 * dot * chord[0] - far[0], 2 * dot * chord[1] - far[1]


def _half_turn_cos(p: Point, q: Point, t: Point, u: Point) -> float:
    """How far handles must reach beyond a third of the chord: cos2 of half the mean bend."""
    c = _unit(q[0] - p[0], q[1] - p[1])
    bend = (t[0] * c[0] + t[1] * c[1] + u[0] * c[0] + u[1] * c[1]) / 2
    return (1 + max(bend, 0.0)) / 2
