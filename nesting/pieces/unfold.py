"""A half piece, drawn to its fold edge, as the whole piece it stands for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nesting.lines import distance_left, mirrored_across
from nesting.pieces.outline import Edge
from nesting.pieces.parts import remembered
from nesting.pieces.piece import Dart, Mark, Notch, Piece, Point
from nesting.pieces.reverse import reversed_dart, reversed_edges, reversed_notch
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
    lengths = {e.name: e.length_mm for e in half}
    notches = [n for n in piece.notches if n.edge in lengths]
    return replace(
        piece,
        edges=(*half, *(_other_edge(e, a, b) for e in reversed_edges(half, closed=False))),
        notches=(*notches, *(_other_notch(n, lengths[n.edge]) for n in notches)),
        darts=(*piece.darts, *(_other_dart(d, lengths[d.edge], a, b) for d in piece.darts)),
        marks=(*piece.marks, *(o for m in piece.marks if (o := _other_mark(m, a, b)))),
        origin=remembered(piece, f"unfolded at {fold.name}"),
    )


def mirrored_points(points: FloatArray, a: FloatArray, b: FloatArray) -> tuple[Point, ...]:
    """Points reflected in the line a -> b, as plain pairs."""
    return tuple((float(x), float(y)) for x, y in mirrored_across(points, a, b))


def _other_edge(edge: Edge, a: FloatArray, b: FloatArray) -> Edge:
    return replace(edge, name=edge.name + OTHER_HALF, points=mirrored_across(edge.points, a, b))


def _other_notch(notch: Notch, length_mm: float) -> Notch:
    return replace(reversed_notch(notch, length_mm), edge=notch.edge + OTHER_HALF)


def _other_dart(dart: Dart, length_mm: float, a: FloatArray, b: FloatArray) -> Dart:
    (point,) = mirrored_points(as_points([dart.point]), a, b)
    return replace(
        reversed_dart(dart, length_mm),
        name=dart.name + OTHER_HALF,
        edge=dart.edge + OTHER_HALF,
        point=point,
    )


def _other_mark(mark: Mark, a: FloatArray, b: FloatArray) -> Mark | None:
    points = as_points(mark.points)
    if float(np.abs(distance_left(points, a, b)).max(initial=0.0)) <= CONTACT_MM:
        return None
    return replace(mark, points=mirrored_points(points, a, b))
