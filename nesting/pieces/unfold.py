"""A half piece, drawn to its fold edge, as the whole piece it stands for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nesting.lines import distance_left, mirrored_across
from nesting.pieces.outline import Allowance, Edge
from nesting.pieces.piece import Dart, DartFold, Mark, Notch, Piece, Point
from nesting.polygon import FloatArray, as_points
from nesting.tolerance import CONTACT_MM

OTHER_HALF = " (other half)"
"""Ends the name of what the unfolded half adds."""


def unfold(piece: Piece) -> Piece:
    """The whole piece of a half piece; a piece without a fold edge is returned as it is.

    The half as drawn keeps its frame and its edges come first, from the fold edge's end round to
    its start; then follow the same edges of the other half, in its own order. Marks on the fold
    line are not doubled. The piece is not checked.
    """
    if not piece.fold_edges:
        return piece
    fold = piece.fold_edges[0]
    a, b = fold.points[0], fold.points[-1]
    at = piece.edges.index(fold)
    half = (*piece.edges[at + 1 :], *piece.edges[:at])
    other = tuple(_other_edge(e, a, b) for e in reversed(half))
    lengths = {e.name: e.length_mm for e in half}
    notches = [n for n in piece.notches if n.edge in lengths]
    return replace(
        piece,
        edges=(*half, *other),
        notches=(*notches, *(_other_notch(n, lengths[n.edge]) for n in notches)),
        darts=(*piece.darts, *(_other_dart(d, lengths, a, b) for d in piece.darts)),
        marks=(*piece.marks, *(o for m in piece.marks if (o := _other_mark(m, a, b)))),
        origin=f"{piece.name}, unfolded at {fold.name}",
    )


def reversed_allowance(allowance: Allowance, length_mm: float) -> Allowance:
    """The same widths met from the other end of an edge ``length_mm`` long."""
    widths = [allowance.width_mm, *(w for _, w in allowance.steps)]
    places = [d for d, _ in allowance.steps]
    turned = zip(reversed(places), reversed(widths[:-1]), strict=True)
    start = widths[-1] if allowance.end_width_mm is None else allowance.end_width_mm
    end = None if allowance.end_width_mm is None else allowance.width_mm
    steps = tuple((length_mm - d, w) for d, w in turned)
    return replace(allowance, width_mm=start, end_width_mm=end, steps=steps)


def reversed_dart(dart: Dart, length_mm: float, edge: str, point: Point, name: str) -> Dart:
    """A dart as met from the other end of its (mirrored) edge."""
    fold = DartFold.SECOND_LEG if dart.fold is DartFold.FIRST_LEG else DartFold.FIRST_LEG
    return replace(
        dart,
        name=name,
        edge=edge,
        first_mm=length_mm - dart.second_mm,
        second_mm=length_mm - dart.first_mm,
        point=point,
        fold=fold,
    )


def mirrored_points(points: FloatArray, a: FloatArray, b: FloatArray) -> tuple[Point, ...]:
    """Points reflected in the line a -> b, as plain pairs."""
    return tuple((float(x), float(y)) for x, y in mirrored_across(points, a, b))


def _other_edge(edge: Edge, a: FloatArray, b: FloatArray) -> Edge:
    return replace(
        edge,
        name=edge.name + OTHER_HALF,
        points=as_points(mirrored_across(edge.points, a, b)[::-1]),
        allowance=reversed_allowance(edge.allowance, edge.length_mm),
    )


def _other_notch(notch: Notch, length_mm: float) -> Notch:
    return replace(
        notch, edge=notch.edge + OTHER_HALF, distance_mm=max(0.0, length_mm - notch.distance_mm)
    )


def _other_dart(dart: Dart, lengths: dict[str, float], a: FloatArray, b: FloatArray) -> Dart:
    (point,) = mirrored_points(as_points([dart.point]), a, b)
    return reversed_dart(
        dart, lengths[dart.edge], dart.edge + OTHER_HALF, point, dart.name + OTHER_HALF
    )


def _other_mark(mark: Mark, a: FloatArray, b: FloatArray) -> Mark | None:
    points = as_points(mark.points)
    if float(np.abs(distance_left(points, a, b)).max(initial=0.0)) <= CONTACT_MM:
        return None
    return replace(mark, points=mirrored_points(points, a, b))
