"""The offset chain: parallels of every edge, joined at the corners, closed by one positive union.

Construction (measured against others, see DEVELOPERS.md): the chain winds round every point of the
piece and of each edge's strip at least once and round nothing a negative number of times, so the
region of positive winding is exactly piece and strips together, whatever crosses whatever.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import compress
from typing import Final, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.clipping import Fill, union
from nesting.lines import along_of, cross, meet, segment_distance, turn_of, unit
from nesting.polygon import FloatArray, as_points, signed_area
from nesting.tolerance import POINT_MM, SHORT_EDGE_MM, SNAP_MM

MITRE_LIMIT: Final = 3.0
"""A mitre longer than this many times the wider allowance is cut off square to the line from the
corner to its tip. Common practice: sharp points are cut blunt."""

STRAIGHT: Final = 1e-7
"""Sine of a turn below which two segments are one straight line (0.1 micrometre over a metre)."""

AGAIN: Final = 3
"""The clipper rounds crossings to its grid, which may leave a ring that crosses itself by a
micrometre where allowances nearly touch; another union cures it."""

SMOOTH_MM: Final = 0.02
"""In the hollow of a fine curve a changing width may be off by this much: as much as the cut line
strays when points are left out."""

SHARP_COS: Final = math.cos(math.radians(10.0))
"""Turns of more than 10 degrees within a short step of a corner belong to that corner."""


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """A stretch of outline that is offset as one: ``points`` (N, 2) from corner to corner and the
    width outside each point, (N,), mm."""

    name: str
    points: FloatArray
    widths: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Parallel:
    """A run's segments moved outward: ``starts`` and ``ends`` (N - 1, 2), their directions, and the
    points ``inner`` (M, 2) where they join inside the run."""

    run: Run
    starts: FloatArray
    ends: FloatArray
    along: FloatArray
    inner: FloatArray

    @property
    def path(self) -> FloatArray:
        """The whole parallel from end to end, (M + 2, 2)."""
        return np.concatenate([self.starts[:1], self.inner, self.ends[-1:]])


@dataclass(frozen=True, slots=True, eq=False)
class Join:
    """How one parallel leads into the next: ``points`` (N, 2) between their inner points.

    ``split`` of the segments that enter and leave ``points`` belong to the first run; ``keep`` inner
    points of the first run are kept (None: all) and ``skip`` of the second are left out.
    """

    points: FloatArray
    split: int
    keep: int | None = None
    skip: int = 0


Joint: TypeAlias = Callable[[Parallel, Parallel], Join]
"""Makes the join between a parallel and the next one."""


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """A closed chain (N, 2); segment i, to the next point, was made by run ``makers[i]``."""

    points: FloatArray
    makers: tuple[str, ...]


def parallel(run: Run) -> Parallel:
    """Each segment of a run moved out by its width. A segment with two widths leans."""
    steps = run.points[1:] - run.points[:-1]
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    if not run.widths.any():
        along = steps / lengths[:, None]
        return Parallel(run, run.points[:-1], run.points[1:], along, run.points[1:-1])
    normals = np.column_stack([steps[:, 1], -steps[:, 0]]) / lengths[:, None]
    starts = run.points[:-1] + normals * run.widths[:-1, None]
    ends = run.points[1:] + normals * run.widths[1:, None]
    along = ends - starts
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    return Parallel(run, starts, ends, along, _inner_points(run, starts, ends, along))


def offset_chain(stretches: Sequence[tuple[Run, Joint]]) -> Chain:
    """The chain of a counter-clockwise outline given as runs, each ending where the next begins,
    with the joint at its end."""
    parallels = [parallel(run) for run, _ in stretches]
    after = (*parallels[1:], parallels[0])
    joins = [joint(p, q) for (_, joint), p, q in zip(stretches, parallels, after, strict=True)]
    points: list[FloatArray] = []
    makers: list[str] = []
    for before, one, join, two in zip(
        (joins[-1], *joins[:-1]), parallels, joins, after, strict=True
    ):
        inner = one.inner[before.skip : join.keep]
        points += [inner, join.points]
        # The segment before the join's first point is still the first run's.
        makers += [one.run.name] * (len(inner) + join.split)
        makers += [two.run.name] * (len(join.points) - join.split)
    return _without_repeats(np.concatenate(points), makers)


def plain_joint(limit: float = MITRE_LIMIT) -> Joint:
    """Mitre up to ``limit`` times the wider allowance, step, or the way round a concave corner."""

    def join(one: Parallel, two: Parallel) -> Join:
        return crossed(one, two) or meet_join(
            one.run.points[-1],
            (one.ends[-1], one.along[-1]),
            (two.starts[0], two.along[0]),
            wider(one, two),
            limit,
        )

    return join


def crossed(one: Parallel, two: Parallel) -> Join | None:
    """In and out again at a hollow corner where a width changes so that the parallels, which lean
    towards each other there, have crossed before their ends; None anywhere else."""
    leaning = one.run.widths[-1] != one.run.widths[-2] or two.run.widths[0] != two.run.widths[1]
    if not leaning:
        return None
    vertex, end, start = one.run.points[-1], one.ends[-1], two.starts[0]
    if turn_of(vertex - one.run.points[-2], two.run.points[1] - vertex) >= 0:
        return None
    found = meet(end, one.along[-1], start, two.along[0])
    if found is None or found[0] > 0 or found[1] < 0:
        return None
    return Join(np.array([end, vertex, start]), 1)


def wider(one: Parallel, two: Parallel) -> float:
    """The wider of two allowances where they meet, mm."""
    return max(float(one.run.widths[-1]), float(two.run.widths[0]), POINT_MM)


def _inner_points(run: Run, starts: FloatArray, ends: FloatArray, along: FloatArray) -> FloatArray:
    """The points where the segments of a parallel join, (N, 2)."""
    u, v = along[:-1], along[1:]
    if not len(u):
        return np.empty((0, 2))
    lengths = np.hypot(*(ends - starts).T)
    ends, starts = ends[:-1], starts[1:]
    turn = cross(u, v)
    bend = np.abs(turn) > STRAIGHT
    safe = np.where(bend, turn, 1.0)
    ahead = np.where(bend, cross(starts - ends, v) / safe, 0.0)
    back = np.where(bend, cross(starts - ends, u) / safe, 0.0)
    meets = ends + u * ahead[:, None]
    vertices = run.points[1:-1]
    widths = np.maximum(run.widths[1:-1], POINT_MM)
    reach = np.hypot(*(meets - vertices).T)
    sharp = ~bend & (np.einsum("ij,ij->i", u, v) < 0)
    # Within half of both segments the two parallels simply cross: the union would cut there too.
    crossing = (turn < 0) & (-ahead <= lengths[:-1] / 2) & (back <= lengths[1:] / 2)
    plain = ~sharp & (((turn >= 0) & (reach <= MITRE_LIMIT * widths)) | crossing | ~bend)
    leaning = bool((run.widths != run.widths[0]).any())
    if leaning:
        plain &= _meet_between(turn, bend, ahead, back)
    if plain.all():
        return meets

    def joined(i: int) -> FloatArray:
        if leaning and not sharp[i]:
            return _leaning_join(run, i + 1)
        first, second = (ends[i], u[i]), (starts[i], v[i])
        return meet_join(vertices[i], first, second, float(widths[i]), MITRE_LIMIT).points

    return np.concatenate([meets[i : i + 1] if plain[i] else joined(i) for i in range(len(plain))])


def _meet_between(
    turn: FloatArray, bend: NDArray[np.bool_], ahead: FloatArray, back: FloatArray
) -> NDArray[np.bool_]:
    """Whether two leaning parallels meet between the end of one and the start of the next (outside a
    corner), or where each has come to (in a hollow one). Leaning by more than half the turn they
    meet aside, up to a whole width off."""
    outside = (ahead >= -POINT_MM) & (back <= POINT_MM)
    within = (ahead <= POINT_MM) & (back >= -POINT_MM)
    between: NDArray[np.bool_] = ~bend | np.where(turn >= 0, outside, within)
    return between


def _leaning_join(run: Run, i: int) -> FloatArray:
    """The join of an allowance whose width changes, at the bend in point ``i`` of its run, where its
    parallels do not meet: straight across outside a bend; in a hollow one in to the net line and out
    again, or, on a curve so fine that no width is off by more than SMOOTH_MM, in the one point where
    parallels of this very width meet."""
    vertex, width = run.points[i], float(run.widths[i])
    steps = vertex - run.points[i - 1], run.points[i + 1] - vertex
    into, away = (unit(step) for step in steps)
    ends = as_points(vertex + width * np.array([[into[1], -into[0]], [away[1], -away[0]]]))
    turn, ahead = turn_of(into, away), along_of(into, away)
    if turn >= 0:
        return ends
    # Both parallels end so much before the bend; the tangent of half the turn is sin / (1 + cos).
    short = width * -turn / (1.0 + ahead) if ahead > -1.0 else math.inf
    lengths = [math.hypot(step[0], step[1]) for step in steps]
    changes = np.abs(np.diff(run.widths[i - 1 : i + 2])) / lengths
    if short <= min(lengths) / 2 and short * float(changes.max()) <= SMOOTH_MM:
        return as_points([vertex + (ends - vertex).sum(axis=0) / (1.0 + ahead)])
    return np.array([ends[0], vertex, ends[1]])


Ray: TypeAlias = tuple[FloatArray, FloatArray]


def meet_join(vertex: FloatArray, first: Ray, second: Ray, widest: float, limit: float) -> Join:
    """The join at ``vertex`` of a parallel that ends at ``first`` (point, direction) with one that
    starts at ``second``; mitres reach at most ``limit`` times ``widest`` mm."""
    (end, u), (start, v) = first, second
    turn = turn_of(u, v)
    if abs(turn) <= STRAIGHT and along_of(u, v) > 0:
        return Join(np.array([end, start]), 1)
    found = meet(end, u, start, v)
    if turn < 0:
        return Join(_hollow(vertex, first, second, found, limit * widest), 1)
    if found is None:
        # The edge turns back on itself: cut square, one width beyond the point.
        return Join(np.array([end + u * widest, start - v * widest]), 1)
    ahead, along = found
    if ahead < 0:
        # The first edge is the deeper one: it ends square, and drops to the shallower parallel.
        return Join(step_points(vertex, end, u, start, v), 1)
    if along > 0:
        return Join(step_points(vertex, start, v, end, u)[::-1].copy(), 1)
    tip = end + u * ahead
    reach = math.dist(tip, vertex)
    if reach <= limit * widest:
        return Join(tip[None, :], 0)
    return Join(blunt(vertex, first, second, limit * widest, (tip - vertex) / reach), 1)


def _hollow(
    vertex: FloatArray,
    first: Ray,
    second: Ray,
    found: tuple[float, float] | None,
    reach: float,
) -> FloatArray:
    """In and out again at a concave corner. Where one allowance is so narrow that the other ends
    before it, that one runs on until they meet."""
    (end, u), (start, _) = first, second
    if found is not None and math.dist(end + u * found[0], vertex) <= reach:
        if found[0] > 0:
            return np.array([end + u * found[0], vertex, start])
        if found[1] < 0:
            return np.array([end, vertex, end + u * found[0]])
    return np.array([end, vertex, start])


def step_points(
    vertex: FloatArray, deep: FloatArray, u: FloatArray, shallow: FloatArray, v: FloatArray
) -> FloatArray:
    """The deeper of two parallels' end, and where it drops square to the shallower, (2, 2)."""
    inward = unit(vertex - deep) if math.dist(vertex, deep) > 0 else u
    found = meet(deep, inward, shallow, v)
    foot = shallow if found is None else deep + inward * found[0]
    return np.array([deep, foot])


def blunt(
    vertex: FloatArray, first: Ray, second: Ray, reach: float, towards: FloatArray
) -> FloatArray:
    """Both parallels cut off where they pass ``reach`` mm from the vertex in direction
    ``towards`` (unit, (2,))."""
    (end, u), (start, v) = first, second
    one = end + u * ((reach - float((end - vertex) @ towards)) / float(u @ towards))
    two = start + v * ((reach - float((start - vertex) @ towards)) / float(v @ towards))
    return np.array([one, two])


def _without_repeats(points: FloatArray, makers: list[str]) -> Chain:
    after = np.concatenate([points[1:], points[:1]])
    keep = np.hypot(*(after - points).T) > POINT_MM
    # A point that repeats the next one is dropped: the segment that leaves the next one is real.
    return Chain(as_points(points[keep]), tuple(compress(makers, keep.tolist())))


def close_chain(chain: Chain, net: FloatArray) -> list[FloatArray]:
    """The region of positive winding, largest ring first; holes are clockwise. The net line is
    handed in once more so that it stays inside even where short steps were merged."""
    rings = union([chain.points, net], fill=Fill.POSITIVE, keep_collinear=True)
    for _ in range(AGAIN):
        if all(shapely.is_valid(shapely.Polygon(r)) for r in rings):
            break
        rings = union(rings, fill=Fill.POSITIVE, keep_collinear=True)
    return sorted(rings, key=lambda r: -abs(signed_area(r)))


def makers_of(
    ring: FloatArray, chain: Chain, others: Sequence[tuple[str, FloatArray]]
) -> list[str]:
    """The run that made each segment of ``ring`` (to the next point): where a ring point is a chain
    point its segment is the chain's; elsewhere the nearest of chain and ``others`` (named paths)."""
    at = _places(ring, chain.points)
    after = np.roll(at, -1)
    whole = (at >= 0) & (after == (at + 1) % len(chain.points))
    makers = np.array(chain.makers, dtype=object)
    names: list[str] = np.where(whole, makers[at], "").tolist()
    lost = np.flatnonzero(~whole).tolist()
    if lost:
        for i, name in zip(lost, _nearest(ring, lost, chain, others), strict=True):
            names[i] = name
    return names


def _places(ring: FloatArray, points: FloatArray) -> NDArray[np.int64]:
    """For each ring point the index of a chain point on the same grid place, -1 without one."""
    keys, wanted = _keys(points), _keys(ring)
    order = np.argsort(keys, kind="stable")
    at = np.searchsorted(keys[order], wanted)
    found = order[np.minimum(at, len(order) - 1)]
    return np.where(keys[found] == wanted, found, -1)


def _keys(points: FloatArray) -> NDArray[np.int64]:
    """Grid places as one number each (coordinates stay below 2^31 grid steps, 2 km)."""
    grid = np.rint(points / SNAP_MM).astype(np.int64)
    return grid[:, 0] * 2**32 + grid[:, 1]


def _nearest(
    ring: FloatArray, lost: list[int], chain: Chain, others: Sequence[tuple[str, FloatArray]]
) -> list[str]:
    after = np.roll(ring, -1, axis=0)
    middles = (ring[lost] + after[lost]) / 2
    starts = [chain.points, *(p[:-1] for _, p in others)]
    ends = [np.roll(chain.points, -1, axis=0), *(p[1:] for _, p in others)]
    names = [*chain.makers, *(name for name, p in others for _ in range(len(p) - 1))]
    gaps = segment_distance(middles, np.concatenate(starts), np.concatenate(ends))
    return [names[int(i)] for i in gaps.argmin(axis=1)]


def merged_steps(points: FloatArray) -> FloatArray:
    """A run without short steps round a corner at its ends: there a mitre would grow on the wrong
    corner. Short steps of a smooth curve stay."""
    kept = list(points)
    while len(kept) > 2 and _is_short_turn(kept[0], kept[1], kept[2]):
        del kept[1]
    while len(kept) > 2 and _is_short_turn(kept[-1], kept[-2], kept[-3]):
        del kept[-2]
    return as_points(np.array(kept))


def _is_short_turn(corner: FloatArray, step: FloatArray, after: FloatArray) -> bool:
    first, second = step - corner, after - step
    length = float(np.hypot(*first))
    if length >= SHORT_EDGE_MM:
        return False
    return float(first @ second) < SHARP_COS * length * float(np.hypot(*second))
