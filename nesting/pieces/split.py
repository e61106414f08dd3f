"""A piece cut in two along a line or curve, or through its darts; both new edges become seams."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
import shapely.ops

from nesting.lines import unit
from nesting.pieces.outline import Allowance, Corner, Edge, EdgeKind
from nesting.pieces.parts import (
    change_error,
    dart_named,
    edge_named,
    joined,
    notches_on,
    pairs,
    part,
    place_on,
    remembered,
    unused,
)
from nesting.pieces.piece import Count, Dart, Grain, Mark, Notch, Piece
from nesting.polygon import FloatArray, as_points, path_length, point_along
from nesting.tolerance import POINT_MM, SHORT_EDGE_MM

THIRDS: Final = (1 / 3, 2 / 3)
"""Paired notches lie here along a new seam unless their places are given."""


TOUCH_MM: Final = 0.01
"""Crossings nearer than this to each other are one."""


@dataclass(frozen=True, slots=True, eq=False)
class _End:
    """Where the cut leaves the piece: edge number, and the place mm from its start where the outline
    walked counter-clockwise is left (``before``) and taken up again (``after``): one place, or the
    ends of a dart's two legs. ``point`` is the dart's, None without one."""

    edge: int
    before: float
    after: float
    point: FloatArray | None = None


def split(
    piece: Piece,
    line: FloatArray,
    *,
    names: tuple[str, str],
    allowance: Allowance,
    seam: str = "panel seam",
    notches: Sequence[float] | None = None,
    darts: tuple[str, str] = ("", ""),
) -> tuple[Piece, Piece]:
    """The piece cut in two along ``line`` (N, 2); the first part lies on the line's right.

    The line may bend at corners; a curve comes as its chords. It runs from outside to outside, or
    starts or ends at the point of a dart named in ``darts``: there the cut follows the dart's legs,
    and its wedge drops out. The new edges are seams named ``seam`` with ``allowance`` and paired
    notches, ``notches`` mm along the line between the outline (or dart points) it joins; thirds, if
    not given. What lay inside goes to the part that holds it; lines are cut where they cross. Raises
    PieceError where the line does not cross the piece just once or crosses itself, or would cut
    another dart.
    """
    path, start, end = _ends(piece, as_points(line), darts)
    length = path_length(path)
    places = [t * length for t in THIRDS] if notches is None else sorted(notches)
    if any(not 0 <= p <= length for p in places):
        raise change_error(
            piece,
            f"a notch lies off the new seam, which is {length:.1f} mm long",
            "give places between 0 and the seam's length",
        )
    _keep_darts_whole(piece, path, darts)
    first = _half(piece, as_points(path[::-1]), end, start, names[0], seam, allowance)
    second = _half(piece, path, start, end, names[1], seam, allowance)
    legs_at = (_reach(piece, end, first=True), _reach(piece, start, first=True))
    ways = ([length - p for p in reversed(places)], places)
    made = [
        _notched(half, name, seam, f"{other}/{seam}", [lead + w for w in way])
        for half, name, other, lead, way in zip(
            (first, second), (seam, seam), (names[1], names[0]), legs_at, ways, strict=True
        )
    ]
    return made[0], made[1]


def drawn_on(piece: Piece, line: FloatArray, *, at_start: bool, at_end: bool) -> FloatArray:
    """A line (N, 2) whose ends, where they lie inside the piece, are drawn on straight until they
    leave it, so that it can be split along it."""
    shape = shapely.Polygon(piece.outline)
    path = line
    for wanted in (at_end, at_start):
        if wanted:
            path = _on_from_end(shape, path)
        path = as_points(path[::-1])
    return path


def _on_from_end(shape: shapely.Polygon, path: FloatArray) -> FloatArray:
    end = path[-1]
    if not shape.covers(shapely.Point(end)):
        return path
    along = unit(path[-1] - path[-2])
    x0, y0, x1, y1 = shape.bounds
    ray = shapely.LineString([end, end + along * ((x1 - x0) + (y1 - y0) + 1.0)])
    met = shapely.get_coordinates(shapely.intersection(ray, shape.exterior))
    places = (met - end) @ along
    ahead = places[places > -TOUCH_MM]
    # A millimetre beyond, so that rounding leaves it outside.
    return as_points(np.vstack([path, end + along * (float(ahead.min()) + 1.0)]))


def _reach(piece: Piece, end: _End, *, first: bool) -> float:
    """Length of the leg along which a new edge starts, 0 without a dart."""
    if end.point is None:
        return 0.0
    at, _ = point_along(piece.edges[end.edge].points, end.before if first else end.after)
    return float(np.hypot(*(at - end.point)))


def _notched(half: Piece, name: str, seam: str, partner: str, places: Sequence[float]) -> Piece:
    edges = tuple(replace(e, partners=(partner,)) if e.name == name else e for e in half.edges)
    added = tuple(Notch(name, p, name=seam) for p in places)
    return replace(half, edges=edges, notches=(*half.notches, *added))


def _ends(piece: Piece, line: FloatArray, darts: tuple[str, str]) -> tuple[FloatArray, _End, _End]:
    """The part of the line inside the piece and where its two ends leave it."""
    starts = [dart_named(piece, d) if d else None for d in darts]
    if starts[0] is not None and np.hypot(*(line[0] - np.array(starts[0].point))) > TOUCH_MM:
        line = as_points(np.vstack([starts[0].point, line]))
    if starts[1] is not None and np.hypot(*(line[-1] - np.array(starts[1].point))) > TOUCH_MM:
        line = as_points(np.vstack([line, starts[1].point]))
    drawn = shapely.LineString(line)
    if not drawn.is_simple:
        raise change_error(
            piece, "the line crosses itself", "put its points in the order in which it passes them"
        )
    crossings = _crossings(piece, drawn)
    wanted = sum(s is None for s in starts)
    if len(crossings) != wanted:
        raise change_error(
            piece,
            f"the line crosses the outline {len(crossings)} time(s), not {wanted}",
            "draw it from outside to outside so that it leaves the piece in two parts",
        )
    s = crossings[0] if starts[0] is None else 0.0
    e = crossings[-1] if starts[1] is None else drawn.length
    path = as_points(shapely.get_coordinates(shapely.ops.substring(drawn, s, e)))
    ends = [
        _dart_end(piece, dart) if dart is not None else _plain_end(piece, at)
        for dart, at in zip(starts, (path[0], path[-1]), strict=True)
    ]
    return _snapped(piece, path, ends), ends[0], ends[1]


def _snapped(piece: Piece, path: FloatArray, ends: Sequence[_End]) -> FloatArray:
    """The path with its ends in the places where the outline is left; points beside them go."""
    corners = [
        path[k] if e.point is not None else point_along(piece.edges[e.edge].points, e.before)[0]
        for k, e in zip((0, -1), ends, strict=True)
    ]
    inner = path[1:-1]
    away = [np.hypot(*(inner - c).T) > SHORT_EDGE_MM for c in corners]
    return as_points(np.vstack([corners[0], inner[away[0] & away[1]], corners[1]]))


def _crossings(piece: Piece, drawn: shapely.LineString) -> list[float]:
    """Distances along the line at which it meets the outline."""
    met = shapely.intersection(drawn, shapely.LinearRing(piece.outline))
    places = sorted(drawn.project(shapely.Point(p)) for p in shapely.get_coordinates(met).tolist())
    return [p for i, p in enumerate(places) if i == 0 or p - places[i - 1] > TOUCH_MM]


def _plain_end(piece: Piece, at: FloatArray) -> _End:
    gaps = [float(shapely.LineString(e.points).distance(shapely.Point(at))) for e in piece.edges]
    i = int(np.argmin(gaps))
    edge = piece.edges[i]
    place = place_on(edge, at)
    # A cut that ends beside a corner ends in it: no edge of less than half a millimetre is left.
    if place < SHORT_EDGE_MM:
        place = 0.0
    elif place > edge.length_mm - SHORT_EDGE_MM:
        place = edge.length_mm
    return _End(i, place, place)


def _dart_end(piece: Piece, dart: Dart) -> _End:
    names = [e.name for e in piece.edges]
    return _End(names.index(dart.edge), dart.first_mm, dart.second_mm, np.array(dart.point))


def _keep_darts_whole(piece: Piece, path: FloatArray, darts: tuple[str, str]) -> None:
    inside = shapely.LineString(path)
    for dart in piece.darts:
        if dart.name in darts:
            continue
        points = edge_named(piece, dart.edge).points
        legs = [point_along(points, d)[0] for d in (dart.first_mm, dart.second_mm)]
        if shapely.Polygon([legs[0], np.array(dart.point), legs[1]]).intersects(inside):
            raise change_error(
                piece,
                f"the line cuts dart {dart.name!r}",
                "move the dart, close it, or let the line end at its point and name the dart",
                edge=dart.edge,
            )


def _half(
    piece: Piece,
    path: FloatArray,
    leave: _End,
    enter: _End,
    name: str,
    seam: str,
    allowance: Allowance,
) -> Piece:
    """The part whose outline is taken up at ``enter``'s far side, walked to ``leave`` and closed by
    ``path``, which runs from ``leave`` to ``enter``."""
    spans = _spans(piece, (enter.edge, enter.after), (leave.edge, leave.before))
    edges: list[Edge] = []
    notches: list[Notch] = []
    darts: list[Dart] = []
    gone = {leave.edge, enter.edge}
    for i, start, end in spans:
        edge = piece.edges[i]
        made = replace(
            part(edge, start, end),
            name=unused(edge.name, [e.name for e in edges]),
            ease_mm=edge.ease_mm * _sewn_share(piece, edge, start, end),
        )
        edges.append(made)
        notches += notches_on(piece, edge.name, between=(start, end), shift_mm=-start, to=made.name)
        darts += [
            replace(d, edge=made.name, first_mm=d.first_mm - start, second_mm=d.second_mm - start)
            for d in piece.darts
            if d.edge == edge.name and (start <= d.first_mm and d.second_mm <= end)
            and not (i in gone and _is_open(d, (leave, enter)))
        ]  # fmt: skip
    last = point_along(piece.edges[leave.edge].points, leave.before)[0]
    first = point_along(piece.edges[enter.edge].points, enter.after)[0]
    closing = joined([last[None, :], path, first[None, :]])
    if not edges or sum(len(e.points) - 1 for e in edges) + len(closing) < 4:
        # Ended in corners, it may run along a single straight edge.
        raise change_error(piece, "the line cuts nothing off", "draw it across the piece")
    edges[-1] = replace(edges[-1], corner=Corner.AUTO)
    taken = [e.name for e in edges]
    if seam in taken:
        raise change_error(
            piece, f"there is an edge {seam!r} already", "give the new seam another name"
        )
    edges.append(Edge(seam, closing, EdgeKind.SEAM, allowance))
    outline = shapely.Polygon(np.concatenate([e.points[:-1] for e in edges]))
    if not outline.is_valid or outline.area < 1.0:
        raise change_error(
            piece, "the line touches the outline on its way", "keep it inside the piece"
        )
    return replace(
        piece,
        name=name,
        edges=tuple(edges),
        grain=grain_inside(outline, piece.grain),
        count=_count(piece, edges),
        notches=tuple(notches),
        darts=tuple(darts),
        marks=tuple(m for mark in piece.marks for m in marks_inside(outline, mark)),
        origin=remembered(piece, f"split at {seam}"),
    )


def _sewn_share(piece: Piece, edge: Edge, start: float, end: float) -> float:
    """The share of an edge's length without its dart mouths that lies between two places."""
    mouths = [(d.first_mm, d.second_mm) for d in piece.darts if d.edge == edge.name]

    def sewn(a: float, b: float) -> float:
        return (b - a) - sum(max(0.0, min(b, q) - max(a, p)) for p, q in mouths)

    whole = sewn(0.0, edge.length_mm)
    return sewn(start, end) / whole if whole > 0 else 0.0


def _count(piece: Piece, edges: Sequence[Edge]) -> Count:
    """A part of a half piece that no longer reaches the fold is needed once on either side."""
    if not piece.fold_edges or any(e.kind is EdgeKind.FOLD for e in edges):
        return piece.count
    return Count(piece.count.total, piece.count.total)


def _is_open(dart: Dart, ends: Sequence[_End]) -> bool:
    return any(
        e.point is not None and dart.first_mm == e.before and dart.second_mm == e.after
        for e in ends
    )


def _spans(
    piece: Piece, start: tuple[int, float], end: tuple[int, float]
) -> list[tuple[int, float, float]]:
    """The outline from one place counter-clockwise to another, as (edge, from mm, to mm)."""
    n = len(piece.edges)
    i, at = start
    j, to = end
    if i == j and to > at:
        return [(i, at, to)]
    spans = [(i, at, piece.edges[i].length_mm)]
    k = (i + 1) % n
    while k != j:
        spans.append((k, 0.0, piece.edges[k].length_mm))
        k = (k + 1) % n
    spans.append((j, 0.0, to))
    return [(e, a, b) for e, a, b in spans if b - a > POINT_MM]


def grain_inside(outline: shapely.Polygon, grain: Grain | None) -> Grain | None:
    """The grain line, moved into ``outline`` if it does not lie there; its direction stays."""
    if grain is None or outline.covers(shapely.LineString([grain.tail, grain.head])):
        return grain
    along = unit(np.subtract(grain.head, grain.tail))
    middle = shapely.get_coordinates(outline.representative_point())[0]
    reach = float(np.hypot(*np.subtract(outline.bounds[2:], outline.bounds[:2])))
    through = shapely.LineString([middle - along * reach, middle + along * reach])
    inside = shapely.get_parts(shapely.intersection(through, outline))
    longest = max(inside, key=shapely.length)
    a, b = shapely.get_coordinates(longest)[[0, -1]]
    if float((b - a) @ along) < 0:
        a, b = b, a
    tail, head = pairs(as_points([a + 0.1 * (b - a), a + 0.9 * (b - a)]))
    return Grain(tail, head)


def marks_inside(outline: shapely.Polygon, mark: Mark) -> list[Mark]:
    """What of a mark lies inside: the point, or the parts of the line."""
    if len(mark.points) == 1:
        return [mark] if outline.covers(shapely.Point(mark.points[0])) else []
    cut = shapely.get_parts(shapely.intersection(shapely.LineString(mark.points), outline))
    return [
        replace(mark, points=pairs(as_points(shapely.get_coordinates(g))))
        for g in cut
        if isinstance(g, shapely.LineString) and g.length > 1.0
    ]
