"""A piece turned over: its mirror image as a drawing of its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nesting.lines import mirrored_across
from nesting.pieces.parts import moved_grain, moved_mark, moved_point, remembered
from nesting.pieces.piece import Piece
from nesting.pieces.reverse import reversed_dart, reversed_edges, reversed_notch
from nesting.polygon import FloatArray, as_points, bounds


def mirror(piece: Piece) -> Piece:
    """The piece mirrored left to right about the middle of its own width, counts as they are: what
    was cut once as drawn is now cut once as its mirror image."""
    x0, _, x1, _ = bounds(piece.outline)
    a = np.array([(x0 + x1) / 2, 0.0])
    b = a + np.array([0.0, 1.0])

    def over(points: FloatArray) -> FloatArray:
        return mirrored_across(points, a, b)

    lengths = {e.name: e.length_mm for e in piece.edges}
    return replace(
        piece,
        edges=tuple(
            replace(e, points=as_points(over(e.points)))
            for e in reversed_edges(piece.edges, closed=True)
        ),
        grain=moved_grain(piece.grain, over),
        notches=tuple(reversed_notch(n, lengths[n.edge]) for n in piece.notches),
        darts=tuple(
            replace(reversed_dart(d, lengths[d.edge]), point=moved_point(d.point, over))
            for d in piece.darts
        ),
        marks=tuple(moved_mark(m, over) for m in piece.marks),
        origin=remembered(piece, "mirrored"),
    )
