"""The offset chain: parallels of every edge, joined at the corners, closed by one positive union.

Construction (measured against others, see DEVELOPERS.md): the chain winds round every point of the
piece and of each edge's strip at least once and round nothing a negative number of times, so the
region of positive winding is exactly piece and strips together, whatever crosses whatever.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from nesting.clipping import Fill, union
from nesting.lines import cross, meet, segment_distance, unit
from nesting.polygon import FloatArray, as_points, signed_area
from nesting.tolerance import POINT_MM, SHORT_EDGE_MM, SNAP_MM

MITRE_LIMIT: Final = 3.0
"""A mitre longer than this many times the wider allowance is cut off square to the line from the
corner to its tip. Common practice: sharp points are cut blunt."""

STRAIGHT: Final = 1e-7
"""Sine of a turn below which two segments are one straight line (0.1 micrometre over a metre)."""

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
    """A run's segments moved outward: ``starts`` and ``ends`` (N - 1, 2), and their directions."""

    run: Run
    starts: FloatArray
    ends: FloatArray
    along: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """A closed chain (N, 2); segment i, to the next point, was made by run ``makers[i]``."""

    points: FloatArray
    makers: tuple[str, ...]


def parallel(run: Run) -> Parallel:
    """Each segment of a run moved out by its width. A segment with two widths leans."""
    steps = np.diff(run.points, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    normals = np.column_stack([steps[:, 1], -steps[:, 0]]) / lengths[:, None]
    starts = run.points[:-1] + normals * run.widths[:-1, None]
    ends = run.points[1:] + normals * run.widths[1:, None]
    along = ends - starts
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    return Parallel(run, starts, ends, along)


def offset_chain(runs: Sequence[Run]) -> Chain:
    """The chain of a counter-clockwise outline given as runs, each ending where the next begins."""
    parallels = [parallel(r) for r in runs]
    points: list[FloatArray] = []
    makers: list[str] = []
    for one, two in zip(parallels, (*parallels[1:], parallels[0]), strict=True):
        inner = inner_points(one)
        corner, split = corner_points(one, two)
        points += [inner, corner]
        # The segment before the corner's first point is still the first run's.
        makers += [one.run.name] * (len(inner) + split)
        makers += [two.run.name] * (len(corner) - split)
    return _without_repeats(np.concatenate(points), makers)


def inner_points(line: Parallel) -> FloatArray:
    """The parallel between its two ends, (N, 2)."""
    u, v = line.along[:-1], line.along[1:]
    if not len(u):
        return np.empty((0, 2))
    turn = cross(u, v)
    ends, starts = line.ends[:-1], line.starts[1:]
    bend = np.abs(turn) > STRAIGHT
    safe = np.where(bend, turn, 1.0)
    ahead = np.where(bend, cross(starts - ends, v) / safe, 0.0)
    back = np.where(bend, cross(starts - ends, u) / safe, 0.0)
    lengths = np.hypot(*(line.ends - line.starts).T)
    meets = ends + u * ahead[:, None]
    vertices = line.run.points[1:-1]
    reach = np.hypot(*(meets - vertices).T)
    limit = MITRE_LIMIT * np.maximum(line.run.widths[1:-1], POINT_MM)
    sharp = ~bend & (np.einsum("ij,ij->i", u, v) < 0)
    # Within half of both segments the two parallels simply cross: the union would cut there too.
    crossing = (turn < 0) & (-ahead <= lengths[:-1] / 2) & (back <= lengths[1:] / 2)
    plain = ~sharp & (((turn >= 0) & (reach <= limit)) | crossing | ~bend)
    if plain.all():
        return meets
    pieces: list[FloatArray] = []
    for i, is_plain in enumerate(plain):
        if is_plain:
            pieces.append(meets[i : i + 1])
        else:
            width = float(line.run.widths[i + 1])
            pieces.append(
                _join(vertices[i], ends[i], u[i], starts[i], v[i], max(width, POINT_MM))[0]
            )
    return np.concatenate(pieces)


def corner_points(one: Parallel, two: Parallel) -> tuple[FloatArray, int]:
    """Points (N, 2) that join the ends of two parallels, and how many segments that leave them
    still belong to the first run."""
    widest = max(float(one.run.widths[-1]), float(two.run.widths[0]), POINT_MM)
    return _join(
        one.run.points[-1], one.ends[-1], one.along[-1], two.starts[0], two.along[0], widest
    )


def _join(
    vertex: FloatArray,
    end: FloatArray,
    u: FloatArray,
    start: FloatArray,
    v: FloatArray,
    widest: float,
) -> tuple[FloatArray, int]:
    turn = float(cross(u, v))
    if abs(turn) <= STRAIGHT and float(u @ v) > 0:
        return np.array([end, start]), 1
    if turn < 0:
        return np.array([end, vertex, start]), 1
    found = meet(end, u, start, v)
    if found is None:
        # The edge turns back on itself: cut square, one width beyond the point.
        return np.array([end + u * widest, start - v * widest]), 1
    ahead, along = found
    if ahead < 0:
        # The first edge is the deeper one: it ends square, and drops to the shallower parallel.
        return _step(end, unit(vertex - end) if np.any(vertex != end) else u, start, v), 1
    if along > 0:
        normal = unit(vertex - start) if np.any(vertex != start) else v
        return _step(start, normal, end, u)[::-1].copy(), 1
    tip = end + u * ahead
    reach = float(np.hypot(*(tip - vertex)))
    if reach <= MITRE_LIMIT * widest:
        return tip[None, :], 0
    return _blunt(vertex, end, u, start, v, MITRE_LIMIT * widest, (tip - vertex) / reach), 1


def _step(deep: FloatArray, inward: FloatArray, shallow: FloatArray, v: FloatArray) -> FloatArray:
    found = meet(deep, inward, shallow, v)
    foot = shallow if found is None else deep + inward * found[0]
    return np.array([deep, foot])


def _blunt(
    vertex: FloatArray,
    end: FloatArray,
    u: FloatArray,
    start: FloatArray,
    v: FloatArray,
    reach: float,
    towards: FloatArray,
) -> FloatArray:
    """Both parallels cut off where they pass ``reach`` from the vertex in direction ``towards``."""
    first = end + u * ((reach - float((end - vertex) @ towards)) / float(u @ towards))
    second = start + v * ((reach - float((start - vertex) @ towards)) / float(v @ towards))
    return np.array([first, second])


def _without_repeats(points: FloatArray, makers: list[str]) -> Chain:
    keep = np.hypot(*(np.roll(points, -1, axis=0) - points).T) > POINT_MM
    # A point that repeats the next one is dropped: the segment that leaves the next one is real.
    return Chain(as_points(points[keep]), tuple(m for m, k in zip(makers, keep, strict=True) if k))


def close_chain(chain: Chain, net: FloatArray) -> list[FloatArray]:
    """The region of positive winding, largest ring first; holes are clockwise. The net line is
    handed in once more so that it stays inside even where short steps were merged."""
    rings = union([chain.points, net], fill=Fill.POSITIVE, keep_collinear=True)
    return sorted(rings, key=lambda r: -abs(signed_area(r)))


def makers_of(
    ring: FloatArray, chain: Chain, others: Sequence[tuple[str, FloatArray]]
) -> list[str]:
    """The run that made each segment of ``ring`` (to the next point): where a ring point is a chain
    point its segment is the chain's; elsewhere the nearest of chain and ``others`` (named paths)."""
    places = {key: i for i, key in enumerate(_keys(chain.points))}
    found = [places.get(key, -1) for key in _keys(ring)]
    n = len(ring)
    names = [""] * n
    for i, at in enumerate(found):
        if at >= 0 and found[(i + 1) % n] == (at + 1) % len(chain.points):
            names[i] = chain.makers[at]
    lost = [i for i, name in enumerate(names) if not name]
    if lost:
        for i, name in zip(lost, _nearest(ring, lost, chain, others), strict=True):
            names[i] = name
    return names


def _keys(points: FloatArray) -> list[tuple[int, int]]:
    grid = np.rint(points / SNAP_MM).astype(np.int64).tolist()
    return [(x, y) for x, y in grid]


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
