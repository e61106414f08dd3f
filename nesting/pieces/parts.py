"""Parts of edges: an edge cut in two, with its allowance, notches and darts going where they belong."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from nesting.errors import PieceError
from nesting.pieces.outline import Allowance, Corner, Edge
from nesting.pieces.piece import Dart, Grain, Mark, Notch, Piece, Point
from nesting.pieces.widths import width_at
from nesting.polygon import FloatArray, as_points, path_length, point_along
from nesting.tolerance import POINT_MM

ORIGIN_CHAPTERS: Final = 12
"""An origin tells at most so many changes: enough to see what happened, short enough to be read."""

Motion = Callable[[FloatArray], FloatArray]
"""Moves points (N, 2)."""


def change_error(piece: Piece, message: str, hint: str, *, edge: str = "") -> PieceError:
    """The refusal of a change, naming the piece."""
    where = f"{piece.name}/{edge}" if edge else piece.name
    return PieceError(f"{piece.name}: {message}", hint=hint, where=where, code="piece-change")


def remembered(piece: Piece, change: str) -> str:
    """The origin of what a change makes of a piece: where that came from, and the change. Of a long
    story the first and the last chapters are told."""
    told = [*(piece.origin or piece.name).split("; "), change]
    if len(told) > ORIGIN_CHAPTERS:
        told = [told[0], "...", *told[2 - ORIGIN_CHAPTERS :]]
    return "; ".join(told)


def edge_named(piece: Piece, name: str) -> Edge:
    """The edge of that name. Raises PieceError with the names there are."""
    for edge in piece.edges:
        if edge.name == name:
            return edge
    names = ", ".join(e.name for e in piece.edges)
    raise change_error(piece, f"there is no edge {name!r}", f"name one of: {names}")


def dart_named(piece: Piece, name: str) -> Dart:
    """The dart of that name. Raises PieceError with the names there are."""
    for dart in piece.darts:
        if dart.name == name:
            return dart
    names = ", ".join(d.name for d in piece.darts) or "none: it has no darts"
    raise change_error(piece, f"there is no dart {name!r}", f"name one of: {names}")


def sub_path(points: FloatArray, start_mm: float, end_mm: float) -> FloatArray:
    """The part of an open path (N, 2) between two distances from its start."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    places = np.concatenate([[0.0], np.cumsum(steps)])
    inner = points[(places > start_mm + POINT_MM) & (places < end_mm - POINT_MM)]
    ends = [point_along(points, d)[0] for d in (start_mm, end_mm)]
    return as_points(np.vstack([ends[0], inner, ends[1]]))


def part(edge: Edge, start_mm: float, end_mm: float) -> Edge:
    """The edge between two distances from its start, with the allowance it has there; only a part
    that reaches the edge's end keeps the treatment of its corner."""
    whole = edge.length_mm
    corner = edge.corner if end_mm >= whole - POINT_MM else Corner.AUTO
    return replace(
        edge,
        points=sub_path(edge.points, start_mm, end_mm),
        allowance=_allowance_between(edge, start_mm, end_mm),
        corner=corner,
    )


def place_on(edge: Edge, point: Sequence[float] | FloatArray) -> float:
    """Distance along an edge of the place on it nearest to ``point``, mm."""
    p = np.asarray(point, dtype=float)
    steps = np.diff(edge.points, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    squared = np.maximum(lengths**2, POINT_MM**2)
    t = np.clip(np.einsum("ij,ij->i", p - edge.points[:-1], steps) / squared, 0.0, 1.0)
    gaps = np.hypot(*(edge.points[:-1] + t[:, None] * steps - p).T)
    i = int(np.argmin(gaps))
    return float(lengths[:i].sum() + t[i] * lengths[i])


def moved_edge(edge: Edge, motion: Motion) -> Edge:
    """The edge moved as it is."""
    return replace(edge, points=as_points(motion(edge.points)))


def moved_mark(mark: Mark, motion: Motion) -> Mark:
    """The mark moved as it is."""
    return replace(mark, points=pairs(motion(as_points(mark.points))))


def moved_point(point: Point, motion: Motion) -> Point:
    """One point moved."""
    return pairs(motion(as_points([point])))[0]


def moved_grain(grain: Grain | None, motion: Motion) -> Grain | None:
    """The grain line moved."""
    if grain is None:
        return None
    tail, head = pairs(motion(as_points([grain.tail, grain.head])))
    return Grain(tail, head)


def pairs(points: FloatArray) -> tuple[Point, ...]:
    """Points (N, 2) as plain pairs."""
    return tuple((float(x), float(y)) for x, y in points)


def joined(paths: Iterable[FloatArray]) -> FloatArray:
    """Open paths laid end to end as one, points that repeat dropped."""
    points = np.concatenate(list(paths))
    keep = np.ones(len(points), dtype=bool)
    keep[1:] = np.hypot(*np.diff(points, axis=0).T) > POINT_MM
    return as_points(points[keep])


def notches_on(
    piece: Piece, edge: str, *, between: tuple[float, float], shift_mm: float, to: str
) -> tuple[Notch, ...]:
    """The notches of a part of an edge, as they stand on the edge ``to`` they become part of."""
    start, end = between
    return tuple(
        replace(n, edge=to, distance_mm=n.distance_mm + shift_mm)
        for n in piece.notches
        if n.edge == edge and start - POINT_MM <= n.distance_mm <= end + POINT_MM
    )


def unused(name: str, taken: Iterable[str]) -> str:
    """``name``, or with the first number after it that is not taken."""
    names = set(taken)
    if name not in names:
        return name
    return next(n for k in range(2, 1000) if (n := f"{name} {k}") not in names)


def _allowance_between(edge: Edge, start_mm: float, end_mm: float) -> Allowance:
    a = edge.allowance
    if a.end_width_mm is not None and path_length(edge.points) > 0:
        return replace(a, width_mm=width_at(edge, start_mm), end_width_mm=width_at(edge, end_mm))
    steps = tuple((d - start_mm, w) for d, w in a.steps if start_mm < d < end_mm)
    return replace(a, width_mm=width_at(edge, start_mm) if a.steps else a.width_mm, steps=steps)
