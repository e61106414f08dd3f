"""What every reader shares: direction of outlines, grain lines said in a word, sizes said in words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely.geometry import LineString, Polygon

from nesting.findings import Finding, Level
from nesting.pieces.piece import Grain, Piece
from nesting.pieces.reverse import reversed_dart, reversed_edges, reversed_notch
from nesting.polygon import FloatArray, bounds, signed_area
from nesting.units import show_length

JOIN_MM = 0.05
"""Ends nearer than this are one corner: below what is cut, above what drawing programs round to."""

FARTHEST_MM = 1e5
"""Coordinates beyond 100 m are a wrong unit or damage."""


def size_text(piece: Piece, *, system: str = "metric") -> str:
    """The piece's size as a person would check it: ``Front: 62.4 cm tall, 31.0 cm wide``.

    Tall is along the drawing's y, wide along its x; ``system`` is ``metric`` or ``imperial``.
    """
    x0, y0, x1, y1 = bounds(piece.outline)
    tall, wide = show_length(y1 - y0, system=system), show_length(x1 - x0, system=system)
    half = " (half, on the fold)" if piece.fold_edges else ""
    return f"{piece.name}: {tall} tall, {wide} wide{half}"


def size_finding(piece: Piece) -> Finding:
    """The size said in words, as a note to be looked at: a wrong unit shows here first."""
    return Finding(
        "size",
        Level.NOTE,
        size_text(piece),
        where=piece.name,
        hint="If that is not the size you drafted, the file's unit is wrong: do not cut from it.",
    )


def counter_clockwise_piece(piece: Piece) -> tuple[Piece, tuple[Finding, ...]]:
    """The piece with its outline running counter-clockwise; edges, notches and darts follow.

    The shape stays as it is (nothing is mirrored): only the order of the edges is turned round, so
    that distances along an edge are measured from its other end.
    """
    if signed_area(piece.outline) >= 0:
        return piece, ()
    lengths = {e.name: e.length_mm for e in piece.edges}
    turned = replace(
        piece,
        edges=reversed_edges(piece.edges, closed=True),
        notches=tuple(reversed_notch(n, lengths[n.edge]) for n in piece.notches),
        darts=tuple(reversed_dart(d, lengths[d.edge]) for d in piece.darts),
    )
    finding = Finding(
        "clockwise",
        Level.NOTE,
        "the outline was given clockwise; its edges are now listed counter-clockwise, the shape is "
        "unchanged",
        where=piece.name,
    )
    return turned, (finding,)


def grain_through(outline: FloatArray, direction: tuple[float, float]) -> Grain:
    """A grain line through the middle of ``outline`` (N, 2) along ``direction``, inside the piece.

    It runs over the middle four fifths of the longest stretch inside, so that it can be drawn and
    read; only its direction matters to the lay.
    """
    d = np.array(direction, dtype=float) / np.hypot(*direction)
    shape = Polygon(outline).buffer(0)
    if shape.is_empty:
        middle, reach = outline.mean(axis=0), float(np.ptp(outline, axis=0).max()) or 1.0
        return _grain(middle - d * 0.4 * reach, middle + d * 0.4 * reach)
    point = shape.centroid if shape.contains(shape.centroid) else shape.representative_point()
    middle = np.array([point.x, point.y])
    reach = 2 * float(np.hypot(*np.ptp(outline, axis=0)))
    inside = LineString([middle - d * reach, middle + d * reach]).intersection(shape)
    parts = [np.array(g.coords) for g in getattr(inside, "geoms", [inside]) if g.length > 0]
    longest = max(parts, key=lambda p: float(np.hypot(*(p[-1] - p[0]))))
    ends = sorted((longest[0], longest[-1]), key=lambda p: float(p @ d))
    return _grain(ends[0] + 0.1 * (ends[1] - ends[0]), ends[1] - 0.1 * (ends[1] - ends[0]))


def _grain(tail: FloatArray, head: FloatArray) -> Grain:
    return Grain((float(tail[0]), float(tail[1])), (float(head[0]), float(head[1])))
