"""A closed line that remembers which edge made each of its segments: the cut line in the making."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.allowances.chain import Chain, makers_of
from nesting.clipping import intersection
from nesting.errors import AllowanceError
from nesting.lines import distance_left, unit
from nesting.pieces.outline import AllowanceState, Edge, EdgeKind
from nesting.pieces.piece import Piece
from nesting.polygon import FloatArray, as_points, signed_area

SIMPLIFY_MM: Final = 0.02
"""The cut line leaves out points that bend it by less than this."""

ON_FOLD_MM: Final = 0.005
"""Points of the cut line this near to the fold line lie on it."""

BoolArray: TypeAlias = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A closed line (N, 2) and the edge that made each segment to the next point."""

    points: FloatArray
    makers: tuple[str, ...]


def as_drawn(edges: Sequence[Edge]) -> Line:
    """The edges as one closed line, every point kept; a fold edge is one segment."""
    paths = [e.points[[0, -1]] if e.kind is EdgeKind.FOLD else e.points for e in edges]
    names = [e.name for e, p in zip(edges, paths, strict=True) for _ in range(len(p) - 1)]
    points = np.concatenate([p[:-1] for p in paths])
    keep = np.hypot(*(np.roll(points, -1, axis=0) - points).T) > 0
    return Line(as_points(points[keep]), tuple(n for n, k in zip(names, keep, strict=True) if k))


def begun(piece: Piece, line: Line) -> Line:
    """The same closed line, begun where the first edge's stretch begins; that of a half piece ends
    with its fold edge."""
    fold = [i for i, e in enumerate(piece.edges) if e.kind is EdgeKind.FOLD]
    order = [*piece.edges[fold[0] + 1 :], *piece.edges[: fold[0]]] if fold else [*piece.edges]
    for edge in order:
        for i, maker in enumerate(line.makers):
            if maker == edge.name and line.makers[i - 1] != maker:
                makers = (*line.makers[i:], *line.makers[:i])
                return Line(as_points(np.roll(line.points, -i, axis=0)), makers)
    return line


def halved(piece: Piece, line: Line) -> Line:
    """The part of a whole line on the piece's side of its fold edge; the fold closes it."""
    if not piece.fold_edges:
        return line
    fold = piece.fold_edges[0]
    a, b = fold.points[0], fold.points[-1]
    along = unit(b - a)
    left = np.array([-along[1], along[0]])
    reach = 4.0 * float(np.abs(np.ptp(line.points, axis=0)).max())
    middle = (a + b) / 2
    side = as_points(
        [
            middle - along * reach,
            middle + along * reach,
            middle + along * reach + left * reach,
            middle - along * reach + left * reach,
        ]
    )
    rings = sorted(intersection([line.points], [side], keep_collinear=True), key=signed_area)
    ring = np.array(rings[-1])
    on_fold = np.abs(distance_left(as_points(ring), a, b)) <= ON_FOLD_MM
    ring[on_fold] = a + np.outer((ring[on_fold] - a) @ along, along)
    return _named(piece, as_points(ring), on_fold, line)


def stretches(line: Line) -> tuple[tuple[str, FloatArray], ...]:
    """Open stretches of a line with one maker each, (M, 2), in the line's order."""
    n = len(line.points)
    starts = [i for i in range(n) if line.makers[i] != line.makers[i - 1]] or [0]
    closed = np.vstack([line.points, line.points])
    ends = [*starts[1:], starts[0] + n]
    return tuple(
        (line.makers[i], as_points(closed[i : j + 1])) for i, j in zip(starts, ends, strict=True)
    )


def simplified(piece: Piece, line: Line) -> Line:
    """The line with fewer points where an allowance was added; corners between edges are kept, and
    so is every point of a line that was drawn to be cut."""
    added = {e.name for e in piece.edges if e.allowance.state is AllowanceState.ADD}
    names: list[str] = []
    points: list[FloatArray] = []
    for name, path in stretches(line):
        tolerance = SIMPLIFY_MM if name in added else 0.0
        short = shapely.get_coordinates(
            shapely.simplify(shapely.LineString(path), tolerance, preserve_topology=False)
        )
        points.append(short[:-1])
        names += [name] * (len(short) - 1)
    ring = as_points(np.concatenate(points))
    if len(ring) < 3 or not shapely.is_valid(shapely.Polygon(ring)):
        return line
    return Line(ring, tuple(names))


def _named(piece: Piece, ring: FloatArray, on_fold: BoolArray, line: Line) -> Line:
    fold = piece.fold_edges[0].name
    chain = Chain(line.points, line.makers)
    makers = makers_of(ring, chain, ())
    both = on_fold & np.roll(on_fold, -1)
    makers = [fold if f else m for f, m in zip(both, makers, strict=True)]
    starts = [i for i in range(len(ring)) if both[i] and not both[i - 1]]
    if len(starts) != 1:
        raise too_large(piece, "the cut line meets the fold in more than one stretch", fold)
    # Begin after the fold edge; drop points inside it; end with the fold as one segment.
    ring, makers = np.roll(ring, -starts[0], axis=0), makers[starts[0] :] + makers[: starts[0]]
    count = next(i for i, m in enumerate(makers) if m != fold)
    points = np.vstack([ring[count:], ring[:1]])
    return Line(as_points(points), (*makers[count:], fold))


def too_large(piece: Piece, why: str, edge: str = "") -> AllowanceError:
    """The refusal of an allowance that leaves no cut line, said for a piece (and edge)."""
    return AllowanceError(
        f"{piece.name}: allowance larger than the piece: {why}",
        hint="check the unit of the allowance, or make it narrower",
        where=f"{piece.name}/{edge}" if edge else piece.name,
        code="allowance-too-large",
    )
