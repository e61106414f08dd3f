"""Random drafted pieces: everything that an allowance must cope with, mixed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from hypothesis import assume
from hypothesis import strategies as st

from nesting.pieces.outline import Allowance, AllowanceState, Corner, Edge, EdgeKind, Pressed
from nesting.pieces.piece import Dart, DartFold, Grain, Notch, Piece
from nesting.polygon import FloatArray, as_points, bounds, path_length, point_along
from tests.nesting.drafts import outlines, wavy_outlines

KINDS = [EdgeKind.SEAM, EdgeKind.SEAM, EdgeKind.SEAM, EdgeKind.HEM, EdgeKind.FINISHED]
WIDTHS = [0.0, 3.0, 6.0, 10.0, 15.0, 25.0, 40.0]
CORNERS = [*[Corner.AUTO] * 8, *Corner]
PRESSED = [*[Pressed.UNSAID] * 3, *Pressed]


@st.composite
def drafted_pieces(draw: st.DrawFn) -> Piece:
    """Star-shaped and waving outlines cut into 3 to 10 edges of every kind and corner, with even,
    leaning and stepping widths, inlays, slivers, edges of less than half a millimetre, darts and
    notches; some widths are larger than the feature they lie at."""
    ring = draw(st.one_of(outlines(), wavy_outlines()))
    ring = _with_slivers(draw, ring)
    x0, y0, x1, y1 = bounds(ring)
    room = 0.5 * min(x1 - x0, y1 - y0)
    count = draw(st.integers(3, min(10, len(ring))))
    starts = sorted(draw(st.sets(st.integers(0, len(ring) - 1), min_size=count, max_size=count)))
    edges = []
    for i, start in enumerate(starts):
        end = starts[(i + 1) % count] + (len(ring) if i + 1 == count else 0)
        points = as_points(ring[np.arange(start, end + 1) % len(ring)])
        edges.append(_edge(draw, f"e{i}", points, room))
    piece = Piece(
        "Random",
        tuple(edges),
        grain=Grain((x0, y0), (x0, y1)),
        notches=tuple(Notch(e.name, 0.4 * e.length_mm) for e in edges if e.length_mm > 10),
    )
    hosts = [e for e in edges if e.length_mm > 120]
    wanted = draw(st.integers(0, 2))
    darts = [d for e in hosts[:wanted] if (d := _dart(draw, piece, e)) is not None]
    return replace(piece, darts=tuple(darts))


def _with_slivers(draw: st.DrawFn, ring: FloatArray) -> FloatArray:
    """Sometimes steps of 0.05 to 0.45 mm beside a point, as sloppy tracing leaves them."""
    if draw(st.integers(0, 3)):
        return ring
    k = draw(st.integers(0, len(ring) - 1))
    step = draw(st.floats(0.05, 0.45))
    turn = draw(st.floats(0, 2 * np.pi))
    beside = ring[k] + step * np.array([np.cos(turn), np.sin(turn)])
    made = np.insert(ring, k + 1, beside, axis=0)
    assume(shapely.is_valid(shapely.Polygon(made)))
    return as_points(made)


def _edge(draw: st.DrawFn, name: str, points: FloatArray, room: float) -> Edge:
    width = min(draw(st.sampled_from(WIDTHS)), room)
    length = path_length(points)
    allowance = Allowance(AllowanceState.ADD, width)
    how = draw(st.integers(0, 9))
    if how == 0:
        allowance = replace(allowance, end_width_mm=min(draw(st.sampled_from(WIDTHS)), room))
    elif how == 1 and length > 20:
        allowance = replace(allowance, steps=((0.4 * length, min(2 * width, room)),))
    elif how == 2:
        allowance = Allowance()
    return Edge(
        name,
        points,
        draw(st.sampled_from(KINDS)),
        allowance,
        inlay_mm=draw(st.sampled_from([0.0, 0.0, 0.0, min(12.0, room)])),
        corner=draw(st.sampled_from(CORNERS)),
        pressed=draw(st.sampled_from(PRESSED)),
    )


def _dart(draw: st.DrawFn, piece: Piece, edge: Edge) -> Dart | None:
    """A dart in the middle of an edge, legs equal, if its triangle lies inside the piece."""
    mouth = draw(st.floats(8, 30))
    first = edge.length_mm / 2 - mouth / 2
    a, b = (point_along(edge.points, d)[0] for d in (first, first + mouth))
    across = b - a
    gap = float(np.hypot(*across))
    if gap < 4:
        return None
    inward = np.array([-across[1], across[0]]) / gap
    point = (a + b) / 2 + inward * draw(st.floats(40, 110))
    triangle = shapely.Polygon([a, b, point]).buffer(3.0)
    outline = shapely.Polygon(piece.outline)
    # Inside but for the mouth itself.
    if shapely.difference(triangle, outline).area > 12.0 * gap + 40.0:
        return None
    if not outline.covers(shapely.LineString([(a + b) / 2 + inward * 2, point])):
        return None
    fold = draw(st.sampled_from(list(DartFold)))
    return Dart(f"dart on {edge.name}", edge.name, first, first + mouth, (point[0], point[1]), fold)
