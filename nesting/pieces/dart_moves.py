"""Darts moved, divided, trued and shortened: paper is cut at the new place and turned about a pivot."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
import shapely

from nesting.lines import cross, unit
from nesting.pieces.lengthen import blended
from nesting.pieces.outline import Edge, EdgeKind
from nesting.pieces.parts import (
    Motion,
    change_error,
    dart_named,
    edge_named,
    joined,
    moved_grain,
    moved_mark,
    moved_point,
    pairs,
    part,
    place_on,
    remembered,
    sub_path,
    unused,
)
from nesting.pieces.piece import Dart, DartFold, Notch, Piece, Point
from nesting.polygon import FloatArray, as_points, path_length, point_along
from nesting.tolerance import POINT_MM

LEGS_MM: Final = 0.5
"""Legs that differ by more than this do not close on each other: true the dart first."""

FROM_CORNER_MM: Final = 1.0
"""A mouth needs an edge on either side to be folded onto."""

WHOLE: Final = 1.0

NEARLY: Final = 0.001
"""Less of a dart than this is not left open."""


def dart_angle_deg(piece: Piece, dart: str) -> float:
    """Angle between a dart's legs at its point, degrees."""
    d = dart_named(piece, dart)
    first, second = leg_ends(piece, d)
    u, v = first - np.array(d.point), second - np.array(d.point)
    return math.degrees(math.atan2(float(cross(u, v)), float(u @ v)))


def leg_ends(piece: Piece, dart: Dart) -> tuple[FloatArray, FloatArray]:
    """The two ends of a dart's legs on the net line, (2,) each."""
    points = edge_named(piece, dart.edge).points
    return point_along(points, dart.first_mm)[0], point_along(points, dart.second_mm)[0]


def move_dart(
    piece: Piece,
    dart: str,
    edge: str,
    distance_mm: float,
    *,
    name: str = "",
    share: float = WHOLE,
    fold: DartFold | None = None,
    blend_mm: float = 0.0,
) -> Piece:
    """The dart closed (or ``share`` of its angle) and opened again ``distance_mm`` along ``edge``.

    The part of the piece between the two places is turned about the dart's point; the part that
    holds the fold edge or the grain line stays where it is. The angle at the point is kept, so the
    new mouth is as wide as its legs are long. The edge where a whole dart was closed is redrawn
    smooth within ``blend_mm`` of the closed mouth, as far as no corner, notch or other mouth lies
    there. Distances are measured before the change. Raises PieceError for unequal legs, or where the
    cut would run through another dart or outside.
    """
    d = dart_named(piece, dart)
    if not 0 < share <= WHOLE:
        raise change_error(piece, f"a share of {share:g} of a dart", "give one above 0, up to 1")
    if share > WHOLE - NEARLY:
        share = WHOLE
    _need_true_legs(piece, d)
    _need_free_cut(piece, d, edge, distance_mm)
    slash = _Cut(piece, d, edge, distance_mm)
    angle = math.radians(dart_angle_deg(piece, dart)) * share
    moved = _turned(slash, angle, name or d.name, d.fold if fold is None else fold, share)
    if share < WHOLE or blend_mm <= 0:
        return moved
    return _smoothed(moved, d.edge, _closed_at(slash, moved), blend_mm)


def shorten_dart(piece: Piece, dart: str, by_mm: float) -> Piece:
    """The dart with its point drawn back along its middle line, its mouth as it was."""
    d = dart_named(piece, dart)
    first, second = leg_ends(piece, d)
    middle = (first + second) / 2 - np.array(d.point)
    length = float(np.hypot(*middle))
    if not 0 <= by_mm < length:
        raise change_error(
            piece, f"dart {dart!r} is {length:.1f} mm long", "shorten it by less than that"
        )
    (point,) = pairs(as_points([np.array(d.point) + middle / length * by_mm]))
    darts = tuple(replace(d, point=point) if o is d else o for o in piece.darts)
    return replace(piece, darts=darts, origin=remembered(piece, f"dart {dart} shortened"))


def true_dart(piece: Piece, dart: str) -> Piece:
    """The dart with both legs as long as their mean: each leg's end is moved along its own leg, and
    the edge on either side is drawn to it from its other end."""
    d = dart_named(piece, dart)
    edge = edge_named(piece, d.edge)
    point = np.array(d.point)
    ends = leg_ends(piece, d)
    mean = sum(float(np.hypot(*(e - point))) for e in ends) / 2
    first, second = (point + unit(e - point) * mean for e in ends)
    before = _drawn_to(part(edge, 0.0, d.first_mm).points, first, at_end=True)
    after = _drawn_to(part(edge, d.second_mm, edge.length_mm).points, second, at_end=False)
    points = joined([before, after])
    first_mm = path_length(before)
    gap = path_length(as_points([first, second]))
    shift = first_mm + gap - d.second_mm
    return replace(
        piece,
        edges=tuple(replace(e, points=points) if e is edge else e for e in piece.edges),
        darts=tuple(
            replace(o, first_mm=first_mm, second_mm=first_mm + gap) if o is d
            else _shifted_dart(o, d, shift)
            for o in piece.darts
        ),
        notches=tuple(_shifted_notch(n, d, shift) for n in piece.notches),
        origin=remembered(piece, f"dart {dart} trued"),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Turning:
    """Turns points (N, 2) about a point, counter-clockwise by ``angle`` radians."""

    about: FloatArray
    angle: float

    def __call__(self, points: FloatArray) -> FloatArray:
        if self.angle == 0.0:
            return as_points(points)
        c, s = math.cos(self.angle), math.sin(self.angle)
        return as_points(self.about + (points - self.about) @ np.array([[c, s], [-s, c]]))


@dataclass(frozen=True, slots=True, eq=False)
class _Stretch:
    """A stretch of an edge, from ``start`` to ``end`` mm, and how it moves."""

    edge: Edge
    start: float
    end: float
    motion: Motion

    def laid(self) -> FloatArray:
        return self.motion(sub_path(self.edge.points, self.start, self.end))


@dataclass(frozen=True, slots=True, eq=False)
class _Cut:
    """The old dart, and the place where the paper is cut from the outline to its point."""

    piece: Piece
    dart: Dart
    edge: str
    at: float


def _need_true_legs(piece: Piece, dart: Dart) -> None:
    lengths = [float(np.hypot(*(e - np.array(dart.point)))) for e in leg_ends(piece, dart)]
    if abs(lengths[0] - lengths[1]) > LEGS_MM:
        raise change_error(
            piece,
            f"the legs of dart {dart.name!r} are {lengths[0]:.1f} and {lengths[1]:.1f} mm long and "
            "do not close on each other",
            "true the dart first",
            edge=dart.edge,
        )


def _need_free_cut(piece: Piece, dart: Dart, edge: str, at: float) -> None:
    host = edge_named(piece, edge)
    if not FROM_CORNER_MM <= at <= host.length_mm - FROM_CORNER_MM:
        raise change_error(
            piece,
            f"edge {edge!r} is {host.length_mm:.1f} mm long: a dart cannot open at {at:.1f} mm",
            f"open it on the edge, at least {FROM_CORNER_MM:g} mm from its corners",
        )
    if host.kind is EdgeKind.FOLD:
        raise change_error(piece, "a dart cannot open on the fold edge", "choose another edge")
    if edge == dart.edge and dart.first_mm < at < dart.second_mm:
        raise change_error(piece, "the new place lies in the old dart", "choose another place")
    place, _ = point_along(host.points, at)
    cut = shapely.LineString([place, np.array(dart.point)])
    shape = shapely.Polygon(piece.outline)
    for other in piece.darts:
        if other is not dart:
            legs = leg_ends(piece, other)
            wedge = shapely.Polygon([legs[0], np.array(other.point), legs[1]])
            touches = shapely.intersection(wedge, cut).length > 0.01
            if touches or wedge.contains(shapely.Point(dart.point)):
                raise change_error(
                    piece,
                    f"the cut from {edge!r} to the dart's point runs through dart {other.name!r}",
                    "choose another place, or close that dart first",
                )
    if shapely.difference(cut, shape.buffer(0.01)).length > 0:
        raise change_error(
            piece, "the cut to the dart's point leaves the piece", "choose another place"
        )


def _turned(cut: _Cut, angle: float, name: str, fold: DartFold, share: float) -> Piece:
    """The piece with the paper between dart and cut turned.

    Counter-clockwise from the old dart's second leg to the cut lies the near part of the outline,
    from the cut to the first leg the far part. Turning the near one by -angle or the far one by
    +angle closes the dart and opens the cut alike; what holds the fold edge or the grain stays.
    """
    piece, point = cut.piece, np.array(cut.dart.point)
    spans = _spans(cut)
    region = _region(spans, point)
    turn_near = not _stays(piece, spans, region)
    near = Turning(point, -angle if turn_near else 0.0)
    far = Turning(point, 0.0 if turn_near else angle)
    stretches = [_Stretch(e, a, b, near if is_near else far) for e, a, b, is_near in spans]
    edges = tuple(
        replace(e, points=joined(s.laid() for s in stretches if s.edge is e)) for e in piece.edges
    )

    def place(edge: str, distance: float) -> float:
        """Where a place on an old edge lies on the new one."""
        old = edge_named(piece, edge)
        on = min(
            (s for s in stretches if s.edge is old),
            key=lambda s: max(s.start - distance, distance - s.end, 0.0),
        )
        at = on.motion(point_along(old.points, distance)[0][None, :])[0]
        return place_on(next(e for e in edges if e.name == edge), at)

    def motion_at(p: Point) -> Motion:
        return near if region.covers(shapely.Point(p)) else far

    mouth = (
        point_along(edge_named(piece, cut.edge).points, cut.at)[0][None, :],
        next(e for e in edges if e.name == cut.edge),
    )
    opened = Dart(
        name if share == WHOLE else unused(name, [d.name for d in piece.darts]),
        cut.edge,
        place_on(mouth[1], near(mouth[0])[0]),
        place_on(mouth[1], far(mouth[0])[0]),
        cut.dart.point,
        fold,
    )
    return replace(
        piece,
        edges=edges,
        grain=moved_grain(piece.grain, _motion_of_grain(piece, motion_at)),
        notches=tuple(replace(n, distance_mm=place(n.edge, n.distance_mm)) for n in piece.notches),
        darts=(*_other_darts(cut, share, place, motion_at), opened),
        marks=tuple(moved_mark(m, motion_at(m.points[0])) for m in piece.marks),
        origin=remembered(piece, f"dart {cut.dart.name} moved to {cut.edge}"),
    )


def _closed_at(cut: _Cut, moved: Piece) -> float:
    """Where the old mouth closed on its edge, mm from the new edge's start."""
    dart = cut.dart
    at = dart.first_mm
    if cut.edge == dart.edge and cut.at < at:
        opened = moved.darts[-1]
        at += opened.second_mm - opened.first_mm
    return min(at, edge_named(moved, dart.edge).length_mm)


def _smoothed(piece: Piece, name: str, at: float, blend_mm: float) -> Piece:
    """The edge redrawn as one smooth curve round a place, as far as nothing else lies there."""
    edge = edge_named(piece, name)
    marks = [n.distance_mm for n in piece.notches if n.edge == name]
    for d in piece.darts:
        if d.edge == name:
            marks += [d.first_mm, d.second_mm]
    reach = min([blend_mm, at, edge.length_mm - at, *(abs(m - at) for m in marks)])
    if reach < FROM_CORNER_MM:
        return piece
    points = blended(edge.points, at, reach)
    grown = path_length(points) - edge.length_mm

    def on(place: float) -> float:
        return place + grown if place > at else place

    return replace(
        piece,
        edges=tuple(replace(e, points=points) if e is edge else e for e in piece.edges),
        notches=tuple(
            replace(n, distance_mm=on(n.distance_mm)) if n.edge == name else n
            for n in piece.notches
        ),
        darts=tuple(
            replace(d, first_mm=on(d.first_mm), second_mm=on(d.second_mm)) if d.edge == name else d
            for d in piece.darts
        ),
    )


def _other_darts(
    cut: _Cut,
    share: float,
    place: Callable[[str, float], float],
    motion_at: Callable[[Point], Motion],
) -> list[Dart]:
    darts = []
    for d in cut.piece.darts:
        if d is cut.dart and share == WHOLE:
            continue
        point = d.point if d is cut.dart else moved_point(d.point, motion_at(d.point))
        first, second = place(d.edge, d.first_mm), place(d.edge, d.second_mm)
        darts.append(replace(d, first_mm=first, second_mm=second, point=point))
    return darts


def _spans(cut: _Cut) -> list[tuple[Edge, float, float, bool]]:
    """The outline without the old mouth, cut at the new place: (edge, from, to, near)."""
    piece, dart = cut.piece, cut.dart
    host, at = _number(piece, dart.edge), _number(piece, cut.edge)
    n = len(piece.edges)
    # Places counted in edges from the dart's second leg round to its first.
    second = (host, dart.second_mm)
    round_trip = float(n)

    def turned(i: int, mm: float) -> float:
        along = i + mm / piece.edges[i].length_mm - (host + second[1] / piece.edges[host].length_mm)
        return along % round_trip

    limit = turned(at, cut.at)
    spans = []
    for i, edge in enumerate(piece.edges):
        places = {0.0, edge.length_mm}
        if i == host:
            places |= {dart.first_mm, dart.second_mm}
        if i == at:
            places |= {cut.at}
        for a, b in pairwise(sorted(places)):
            if i == host and a >= dart.first_mm and b <= dart.second_mm:
                continue
            spans.append((edge, a, b, turned(i, (a + b) / 2) < limit))
    return spans


def _number(piece: Piece, edge: str) -> int:
    return [e.name for e in piece.edges].index(edge)


def _region(spans: Sequence[tuple[Edge, float, float, bool]], point: FloatArray) -> shapely.Polygon:
    """What the near part of the outline encloses with the dart's point."""
    count = len(spans)
    first = next((i for i in range(count) if spans[i][3] and not spans[i - 1][3]), 0)
    rounds = [spans[(first + k) % count] for k in range(count)]
    paths = [sub_path(e.points, a, b) for e, a, b, near in rounds if near]
    return shapely.Polygon(np.vstack([point, *paths])).buffer(0)


def _stays(
    piece: Piece, spans: Sequence[tuple[Edge, float, float, bool]], region: shapely.Polygon
) -> bool:
    """Whether the near part holds what must not turn: the fold edge, else the grain line, else the
    greater share of the piece."""
    for edge, _, _, near in spans:
        if edge.kind is EdgeKind.FOLD:
            return near
    if piece.grain is not None:
        middle = np.add(piece.grain.tail, piece.grain.head) / 2
        return bool(region.covers(shapely.Point(middle)))
    return bool(2 * region.area > shapely.Polygon(piece.outline).area)


def _motion_of_grain(piece: Piece, motion_at: Callable[[Point], Motion]) -> Motion:
    if piece.grain is None or piece.fold_edges:
        return Turning(np.zeros(2), 0.0)
    (x0, y0), (x1, y1) = piece.grain.tail, piece.grain.head
    return motion_at(((x0 + x1) / 2, (y0 + y1) / 2))


def _drawn_to(path: FloatArray, to: FloatArray, *, at_end: bool) -> FloatArray:
    """A path whose one end is moved to ``to`` and whose points follow, the less the farther."""
    steps = np.hypot(*np.diff(path, axis=0).T)
    t = np.concatenate([[0.0], np.cumsum(steps)]) / max(float(steps.sum()), POINT_MM)
    weight = t if at_end else 1.0 - t
    shift = to - (path[-1] if at_end else path[0])
    return as_points(path + weight[:, None] * shift)


def _shifted_notch(notch: Notch, dart: Dart, shift: float) -> Notch:
    if notch.edge != dart.edge or notch.distance_mm < dart.second_mm:
        return notch
    return replace(notch, distance_mm=notch.distance_mm + shift)


def _shifted_dart(other: Dart, dart: Dart, shift: float) -> Dart:
    if other.edge != dart.edge or other.first_mm < dart.second_mm:
        return other
    return replace(other, first_mm=other.first_mm + shift, second_mm=other.second_mm + shift)
