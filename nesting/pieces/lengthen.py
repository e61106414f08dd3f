"""A piece lengthened or shortened at a line across it."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from nesting.lines import distance_left, unit
from nesting.pieces.outline import Edge
from nesting.pieces.parts import (
    change_error,
    joined,
    pairs,
    place_on,
    remembered,
    sub_path,
)
from nesting.pieces.piece import Grain, Piece, Point
from nesting.polygon import FloatArray, as_points, path_length, point_along
from nesting.tolerance import POINT_MM

BLEND_MM: Final = 60.0
"""An edge that crosses the line is redrawn over this length on either side of it, so that it runs
smooth again (common practice: blend the side seam)."""


def lengthen(
    piece: Piece, a: Point, b: Point, by_mm: float, *, blend_mm: float = BLEND_MM
) -> Piece:
    """The piece with what lies left of the line a -> b moved away from it by ``by_mm``, or towards it
    where that is negative.

    Edges that cross the line are redrawn smooth within ``blend_mm`` of it. Notches and darts keep
    their distance from the nearer end of their edge's own part. Raises PieceError where the line cuts
    a dart, or where there is less than ``-by_mm`` to take out.
    """
    p, q = np.array(a), np.array(b)
    if float(np.hypot(*(q - p))) < 1.0:
        raise change_error(piece, "the line has no length", "draw it across the piece")
    along = unit(q - p)
    left = np.array([-along[1], along[0]])
    heights = distance_left(piece.outline, p, q)
    if not heights.min() < -1.0 < 1.0 < heights.max() + min(0.0, by_mm):
        raise change_error(
            piece,
            f"the line does not leave enough of the piece on both sides for {by_mm:g} mm",
            "draw it across the piece",
        )
    _keep_darts(piece, p, q, min(0.0, by_mm))

    def moved(points: FloatArray) -> FloatArray:
        up = distance_left(points, p, q) > max(0.0, -by_mm / 2)
        return as_points(points + np.outer(up, left * by_mm))

    edges = {e.name: _edge(e, p, q, left, by_mm, blend_mm) for e in piece.edges}

    def place(edge: str, distance: float) -> float:
        at, _ = point_along(piece.edge(edge).points, distance)
        return place_on(edges[edge], moved(at[None, :])[0])

    def one(point: Point) -> Point:
        return pairs(moved(as_points([point])))[0]

    return replace(
        piece,
        edges=tuple(edges[e.name] for e in piece.edges),
        grain=_grain(piece, p, q, by_mm),
        notches=tuple(
            replace(n, distance_mm=place(n.edge, n.distance_mm)) for n in piece.notches
        ),
        darts=tuple(
            replace(
                d, first_mm=place(d.edge, d.first_mm), second_mm=place(d.edge, d.second_mm),
                point=one(d.point),
            )
            for d in piece.darts
        ),
        marks=tuple(replace(m, points=tuple(one(x) for x in m.points)) for m in piece.marks),
        origin=remembered(piece, f"{'lengthened' if by_mm > 0 else 'shortened'} by {abs(by_mm):g} mm"),
    )  # fmt: skip


def _keep_darts(piece: Piece, p: FloatArray, q: FloatArray, out_mm: float) -> None:
    for dart in piece.darts:
        points = piece.edge(dart.edge).points
        corners = [point_along(points, d)[0] for d in (dart.first_mm, dart.second_mm)]
        heights = distance_left(as_points([*corners, np.array(dart.point)]), p, q)
        if heights.min() < -out_mm and heights.max() > 0.0:
            raise change_error(
                piece,
                f"the line cuts dart {dart.name!r}",
                "draw it above or below the dart",
                edge=dart.edge,
            )


def _edge(
    edge: Edge, p: FloatArray, q: FloatArray, left: FloatArray, by_mm: float, blend_mm: float
) -> Edge:
    taken = max(0.0, -by_mm)
    heights = distance_left(edge.points, p, q)
    if heights.max() <= taken / 2:
        return edge
    if heights.min() >= taken / 2:
        return replace(edge, points=as_points(edge.points + left * by_mm))
    below = _crossings(edge, heights, 0.0)
    above = _crossings(edge, heights, taken)
    if len(below) != len(above):
        below = above = _crossings(edge, heights, taken / 2)
    paths: list[FloatArray] = []
    joins: list[float] = []
    rising = bool(heights[0] < taken / 2)
    start = 0.0
    for low, high in zip(below, above, strict=True):
        end = low if rising else high
        paths.append(_laid(edge, start, end, left, 0.0 if rising else by_mm))
        joins.append(path_length(joined(paths)) + max(0.0, by_mm) / 2)
        start = high if rising else low
        rising = not rising
    paths.append(_laid(edge, start, edge.length_mm, left, 0.0 if rising else by_mm))
    points = joined(paths)
    for join in joins:
        points = blended(points, join, blend_mm)
    return replace(edge, points=points)


def _laid(edge: Edge, start: float, end: float, left: FloatArray, by_mm: float) -> FloatArray:
    return as_points(sub_path(edge.points, start, max(end, start + POINT_MM)) + left * by_mm)


def _crossings(edge: Edge, heights: FloatArray, level: float) -> list[float]:
    """Distances along an edge at which its height above the line passes ``level``."""
    steps = np.hypot(*np.diff(edge.points, axis=0).T)
    places = np.concatenate([[0.0], np.cumsum(steps)])
    h = heights - level
    passed = np.flatnonzero((h[:-1] < 0) != (h[1:] < 0))
    return [float(places[i] + steps[i] * h[i] / (h[i] - h[i + 1])) for i in passed]


def blended(points: FloatArray, at_mm: float, reach_mm: float) -> FloatArray:
    """A path (N, 2) redrawn as one smooth curve from ``reach_mm`` before ``at_mm`` to as far after,
    keeping place and direction at both ends."""
    whole = path_length(points)
    start, end = max(0.0, at_mm - reach_mm), min(whole, at_mm + reach_mm)
    if end - start < 1.0:
        return points
    a, u = point_along(points, start)
    b, v = point_along(points, end)
    if end >= whole - POINT_MM:
        v = unit(points[-1] - points[-2])
    span = float(np.hypot(*(b - a)))
    t = np.linspace(0.0, 1.0, max(9, int(span / 4.0)))[:, None]
    curve = (
        (2 * t**3 - 3 * t**2 + 1) * a
        + (t**3 - 2 * t**2 + t) * u * span
        + (-2 * t**3 + 3 * t**2) * b
        + (t**3 - t**2) * v * span
    )
    before = [sub_path(points, 0.0, start)] if start > POINT_MM else []
    after = [sub_path(points, end, whole)] if end < whole - POINT_MM else []
    return joined([*before, as_points(curve), *after])


def _grain(piece: Piece, p: FloatArray, q: FloatArray, by_mm: float) -> Grain | None:
    """The grain line where it was drawn, longer or shorter if the line crosses it."""
    if piece.grain is None:
        return None
    ends = as_points([piece.grain.tail, piece.grain.head])
    heights = distance_left(ends, p, q)
    along = unit(ends[1] - ends[0])
    left = np.array([-(q - p)[1], (q - p)[0]]) / np.hypot(*(q - p))
    if heights.min() >= max(0.0, -by_mm):
        tail, head = pairs(as_points(ends + left * by_mm))
    elif heights.max() <= 0:
        return piece.grain
    else:
        length = max(10.0, float(np.hypot(*(ends[1] - ends[0]))) + by_mm)
        tail, head = pairs(as_points([ends[0], ends[0] + along * length]))
    return Grain(tail, head)
