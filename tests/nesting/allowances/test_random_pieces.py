"""Everything mixed, on random pieces: what must hold of every cut line whatever was drawn."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from hypothesis import assume, event, given

from nesting.allowances.make import cut_piece
from nesting.allowances.treatments import Treatment, corners_made
from nesting.errors import AllowanceError
from nesting.pieces.mirror import mirror
from nesting.pieces.outline import AllowanceState, Edge
from nesting.pieces.piece import Piece
from nesting.pieces.widths import width_at
from nesting.polygon import FloatArray, signed_area
from nesting.tolerance import SHORT_EDGE_MM
from tests.examples import examples
from tests.nesting.random_pieces import drafted_pieces

NEAR_MM = 0.05
"""Points that bend the cut line by less than 0.02 mm are left out; steps under half a millimetre at
a corner are merged."""


@given(drafted_pieces())
@examples(120)
def test_every_cut_line_holds_what_it_must(piece: Piece) -> None:
    try:
        cut = cut_piece(piece)
    except AllowanceError as error:
        # The one refusal there may be: an allowance too much for the piece.
        event(f"refused: {error.message[:60]}")
        return
    event("cut, with darts" if piece.darts else "cut")
    shape = shapely.Polygon(cut.cut_line)
    assert shape.is_valid
    assert signed_area(cut.cut_line) > 0
    loose = shape.buffer(NEAR_MM)
    assert loose.covers(shapely.Polygon(cut.net_line))
    if not piece.darts:
        assert loose.covers(shapely.Polygon(piece.outline))
    _strips_inside(piece, loose)
    _no_edge_lost(piece, [name for name, _ in cut.runs], [f.where for f in cut.findings])


@given(drafted_pieces())
@examples(60)
def test_a_mirrored_piece_has_the_mirrored_cut_line(piece: Piece) -> None:
    # A step of less than half a millimetre is merged with the edge before it, and which edge that is
    # depends on the direction.
    assume(all(_end_step(e, k) >= SHORT_EDGE_MM for e in piece.edges for k in (0, -1)))
    try:
        one, two = cut_piece(piece), cut_piece(mirror(piece))
    except AllowanceError:
        return
    x0, x1 = (float(f(piece.outline[:, 0])) for f in (np.min, np.max))
    back = two.cut_line * np.array([-1.0, 1.0]) + np.array([x0 + x1, 0.0])
    a, b = shapely.Polygon(one.cut_line), shapely.Polygon(back)
    # Both lines leave out points that bend them by less than 0.02 mm.
    assert a.symmetric_difference(b).area < 0.05 * a.exterior.length


def _no_edge_lost(piece: Piece, runs: list[str], said: list[str]) -> None:
    for edge in piece.edges:
        assert edge.name in runs or f"{piece.name}/{edge.name}" in said, edge.name


def _strips_inside(piece: Piece, loose: shapely.Polygon) -> None:
    """The strip of every stretch of an edge lies inside, away from ends that are folded back, from
    dart mouths and from steps that were merged."""
    shaped = _shaped_corners(piece)
    outline = shapely.Polygon(piece.outline)
    for edge in piece.edges:
        if edge.allowance.state is not AllowanceState.ADD or edge.length_mm < 2.0:
            continue
        darts = [(d.first_mm, d.second_mm) for d in piece.darts if d.edge == edge.name]
        for at, quad in _quads(edge):
            near_corner = any(
                shapely.Point(*corner).distance(quad) < 3.0 * depth for corner, depth in shaped
            )
            half = (
                float(np.hypot(*(quad.exterior.coords[3] - np.array(quad.exterior.coords[0])))) / 2
            )
            margin = half + 3.0 * (width_at(edge, at, inlay=True) + 2.0)
            if near_corner or any(a - margin < at < b + margin for a, b in darts):
                continue
            assert loose.covers(_beside(quad, outline)), (edge.name, at)


def _beside(quad: shapely.Polygon, outline: shapely.Polygon) -> shapely.Geometry:
    """The part of a strip that lies beside its edge: what would come out on the far side of a spike
    narrower than the allowance is none."""
    coords = list(quad.exterior.coords)
    segment = shapely.LineString([coords[0], coords[3]])
    parts = shapely.get_parts(shapely.difference(quad, outline))
    return shapely.union_all([g for g in parts if g.distance(segment) < 1e-6])


def _shaped_corners(piece: Piece) -> list[tuple[FloatArray, float]]:
    """Corners whose allowance is shaped, and the depth; ends beside merged steps count as such."""
    found = []
    corners = corners_made(piece)
    for i, corner in enumerate(corners):
        edge, after = piece.edges[i], piece.edges[(i + 1) % len(piece.edges)]
        depth = max(_widest(edge), _widest(after))
        short = min(_end_step(edge, -1), _end_step(after, 0)) < SHORT_EDGE_MM
        if corner.made is Treatment.TURNED_BACK or short:
            found.append((edge.points[-1], depth + 1.0))
    return found


def _end_step(edge: Edge, which: int) -> float:
    return float(np.hypot(*(np.diff(edge.points, axis=0)[which])))


def _widest(edge: Edge) -> float:
    a = edge.allowance
    return max(a.width_mm, a.end_width_mm or 0.0, *(w for _, w in a.steps), 0.0) + edge.inlay_mm


def _quads(edge: Edge) -> list[tuple[float, shapely.Polygon]]:
    """(distance along the edge, strip beside that segment) of each segment."""
    made = []
    at = 0.0
    steps = [0.0, *(d for d, _ in edge.allowance.steps), edge.length_mm]
    for a, b in pairwise(edge.points):
        length = float(np.hypot(*(b - a)))
        middle = at + length / 2
        width = width_at(edge, middle, inlay=True)
        crosses = any(at < s < at + length for s in steps[1:-1])
        if width > 0 and not crosses:
            n = np.array([b[1] - a[1], a[0] - b[0]]) / length
            leans = edge.allowance.end_width_mm is not None
            w = [width_at(edge, d, inlay=True) if leans else width for d in (at, at + length)]
            made.append((middle, shapely.Polygon([a, a + n * w[0], b + n * w[1], b])))
        at += length
    return made
