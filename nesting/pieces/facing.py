"""Facings and hem facings: a strip of given depth along edges of a piece, as a piece of its own."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import shapely

from nesting.allowances.included import inner_line
from nesting.allowances.line import Line, stretches
from nesting.clipping import difference
from nesting.lines import along_of, segment_distance, turn_of
from nesting.pieces.outline import NO_ALLOWANCE, Allowance, AllowanceState, Corner, Edge, EdgeKind
from nesting.pieces.parts import change_error, edge_named, joined, place_on, remembered, unused
from nesting.pieces.piece import DrawnAs, Piece
from nesting.pieces.split import grain_inside, marks_inside
from nesting.polygon import FloatArray, as_points, point_along, signed_area

INNER: Final = "inner edge"
"""Name of a facing's free edge."""

SLIVER_MM: Final = 0.01
"""A strip narrower than this is no cloth but rounding."""

NEAR_MM: Final = 0.05
"""A notch lies on a facing when its place is this near to the facing's edge."""


def facing(
    piece: Piece,
    edges: Sequence[str],
    depth_mm: float,
    *,
    name: str = "",
    inner: Allowance = NO_ALLOWANCE,
    cloth: str = "",
) -> Piece:
    """A facing ``depth_mm`` deep along the named edges of a piece drawn net; its other edges follow
    the piece, its free edge has the allowance ``inner`` (none: it is finished as it is cut).

    A hem facing is a facing of the hem. Raises PieceError where a dart opens on a faced edge, and
    where the strip would close to a ring or leave nothing of the piece.
    """
    faced = [edge_named(piece, n) for n in edges]
    if not faced or depth_mm <= 0:
        raise change_error(
            piece, "a facing needs an edge and a depth", "name edges, and a depth above 0"
        )
    for edge in faced:
        if edge.kind is EdgeKind.FOLD or any(d.edge == edge.name for d in piece.darts):
            raise change_error(
                piece,
                f"edge {edge.name!r} cannot be faced as it is",
                "a fold edge has no facing; a dart that opens there is closed or moved first",
                edge=edge.name,
            )
    strip = _strip(piece, {e.name for e in faced}, depth_mm)
    made = _edges(piece, strip, inner)
    outline = shapely.Polygon(strip.points)
    named = {e.name: e for e in made}
    notches = []
    for n in piece.notches:
        at = point_along(edge_named(piece, n.edge).points, n.distance_mm)[0]
        host = named.get(n.edge)
        if (
            host is not None
            and shapely.LineString(host.points).distance(shapely.Point(at)) < NEAR_MM
        ):
            notches.append(replace(n, distance_mm=place_on(host, at)))
    return replace(
        piece,
        name=name or f"{piece.name} facing",
        edges=made,
        grain=grain_inside(outline, piece.grain),
        cloth=cloth or piece.cloth,
        drawn_as=DrawnAs.NET,
        notches=tuple(notches),
        darts=(),
        marks=tuple(m for mark in piece.marks for m in marks_inside(outline, mark)),
        origin=remembered(piece, f"facing of {', '.join(edges)}"),
    )


def hem_facing(
    piece: Piece,
    edge: str,
    depth_mm: float,
    allowance: Allowance,
    *,
    name: str = "",
    inner: Allowance = NO_ALLOWANCE,
    cloth: str = "",
) -> tuple[Piece, Piece]:
    """The piece with its hem made a seam with ``allowance``, and the facing that is sewn to it there,
    ``depth_mm`` deep; each edge names the other as its partner. Raises PieceError as ``facing`` does."""
    called = name or f"{piece.name} hem facing"
    hem = edge_named(piece, edge)
    seam = replace(
        hem,
        kind=EdgeKind.SEAM,
        allowance=allowance,
        folds_mm=(),
        inlay_mm=0.0,
        corner=Corner.AUTO,
        partners=(f"{called}/{edge}",),
        run=(),
        ease_mm=0.0,
    )
    sewn = replace(piece, edges=tuple(seam if e is hem else e for e in piece.edges))
    made = facing(sewn, [edge], depth_mm, name=called, inner=inner, cloth=cloth)
    faced = tuple(
        replace(e, partners=(f"{piece.name}/{edge}",)) if e.name == edge else e for e in made.edges
    )
    return replace(sewn, origin=remembered(piece, f"hem {edge} faced")), replace(made, edges=faced)


def _strip(piece: Piece, names: set[str], depth: float) -> Line:
    """The closed strip and the edge each of its segments lies on; INNER for the free edge."""
    deep = Allowance(AllowanceState.INCLUDED, depth)
    marked = tuple(
        replace(e, allowance=deep if e.name in names else NO_ALLOWANCE) for e in piece.edges
    )
    rest = inner_line(replace(piece, edges=marked, darts=(), notches=()))
    rings = difference([piece.outline], [rest.points], keep_collinear=True)
    outer = [r for r in rings if signed_area(r) > 1.0]
    if any(signed_area(r) < -1.0 for r in rings) or not outer:
        raise change_error(
            piece, "the facing would close to a ring", "face fewer edges, or split the piece first"
        )
    ring = _without_spikes(max(outer, key=signed_area))
    return Line(ring, _owners(piece, ring))


def _without_spikes(ring: FloatArray) -> FloatArray:
    """The ring without slivers a few micrometres wide: there and back along an edge of the piece."""
    points = list(ring)
    i = 0
    while i < len(points) and len(points) > 3:
        before, at, after = points[i - 1], points[i], points[(i + 1) % len(points)]
        there, back = at - before, after - at
        narrow = abs(turn_of(there, back)) < SLIVER_MM * max(
            math.hypot(*there), math.hypot(*back), SLIVER_MM
        )
        if narrow and along_of(there, back) < 0:
            del points[i]
            i = max(0, i - 2)
        else:
            i += 1
    return as_points(np.array(points))


def _owners(piece: Piece, ring: FloatArray) -> tuple[str, ...]:
    starts = np.concatenate([e.points[:-1] for e in piece.edges])
    ends = np.concatenate([e.points[1:] for e in piece.edges])
    names = [e.name for e in piece.edges for _ in range(len(e.points) - 1)]
    middles = (ring + np.roll(ring, -1, axis=0)) / 2
    gaps = segment_distance(middles, starts, ends)
    nearest = gaps.argmin(axis=1)
    return tuple(names[int(i)] if gaps[k, i] < 0.005 else INNER for k, i in enumerate(nearest))


def _edges(piece: Piece, strip: Line, inner: Allowance) -> tuple[Edge, ...]:
    made: list[Edge] = []
    for name, points in stretches(strip):
        if made and made[-1].name == name:
            made[-1] = replace(made[-1], points=joined([made[-1].points, points]))
            continue
        fresh = unused(name, [e.name for e in made])
        if name == INNER:
            made.append(Edge(fresh, points, EdgeKind.FINISHED, inner))
        else:
            edge = replace(piece.edge(name), name=fresh, points=points, corner=Corner.AUTO)
            # What the piece is sewn to there, its facing is not.
            made.append(replace(edge, partners=(), run=(), ease_mm=0.0))
    return tuple(replace(e, points=as_points(e.points)) for e in made)
