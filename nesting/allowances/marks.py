"""What a cut piece carries besides its notches: darts with their drill marks, inlays, and clips."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final, TypeAlias

import numpy as np
import shapely

from nesting.allowances.cut_piece import CutNotch
from nesting.allowances.mouths import Wedge
from nesting.allowances.notches import CLEARANCE_MM, DEPTH_MM, first_exit
from nesting.lines import along_of, turn_of, unit
from nesting.pieces.outline import AllowanceState, Edge, EdgeKind
from nesting.pieces.piece import Dart, Mark, MarkKind, Piece, Point
from nesting.pieces.widths import width_at
from nesting.polygon import FloatArray, point_along

DRILL_SHORT_MM: Final = 12.0
"""A drill mark lies this far inside the dart's point, where the sewn dart hides it (published: half
an inch; held to be common practice)."""


CLIP: Final = "clip"
"""Name of the line along which a hollow corner is clipped."""

CLIP_SHORT_MM: Final = 2.0
"""A clip stops this far from the seam (common practice: one or two threads, drawn wide enough to be
cut by)."""

HOLLOW_DEG: Final = 30.0
"""Corners that turn inwards by less than this spread without a clip (common practice)."""

CLIP_REACH: Final = 3.0
"""The cut line lies within so many widths of a hollow corner."""


def dart_notches(
    piece: Piece, wedges: Mapping[str, Wedge], cut_line: FloatArray
) -> tuple[CutNotch, ...]:
    """A notch for each leg, where the leg drawn on leaves the cut line (N, 2), square to the edge."""
    return tuple(
        _leg_notch(piece.edge(d.edge), d, wedges[d.name], cut_line, first)
        for d in piece.darts
        for first in (True, False)
    )


def dart_marks(wedges: Mapping[str, Wedge]) -> tuple[Mark, ...]:
    """The legs of every dart as lines to be sewn, and its drill mark."""
    marks: list[Mark] = []
    for name, wedge in wedges.items():
        legs = (_pair(wedge.first), _pair(wedge.point), _pair(wedge.second))
        marks.append(Mark(MarkKind.LINE, legs, name))
        marks.append(Mark(MarkKind.DRILL, (drill_point(wedge),), name))
    return tuple(marks)


def drill_point(wedge: Wedge) -> Point:
    """Where a dart is drilled: on its middle line, short of its point; in a dart shorter than twice
    that distance, half way."""
    middle = (wedge.first + wedge.second) / 2 - wedge.point
    length = float(np.hypot(*middle))
    return _pair(wedge.point + middle / length * min(DRILL_SHORT_MM, length / 2))


def clip_marks(piece: Piece, cut_line: FloatArray) -> tuple[Mark, ...]:
    """Where the allowance in a hollow corner is clipped so that it can be turned or spread: from the
    cut line to CLIP_SHORT_MM before the net corner, halving the angle. Corners within an edge (a
    seam drawn straight from point to point) count like those between edges. Only where both sides
    have an allowance that lets a clip stop short, and never at the fold edge or in a dart's mouth."""
    ring = shapely.LinearRing(cut_line)
    corners: list[_Hollow] = []
    for edge, after in zip(piece.edges, (*piece.edges[1:], piece.edges[0]), strict=True):
        if edge.kind is EdgeKind.FOLD or edge.allowance.state is AllowanceState.NONE:
            continue
        corners += _inner_corners(piece, edge)
        if after.kind is not EdgeKind.FOLD and after.allowance.state is not AllowanceState.NONE:
            steps = edge.points[-1] - edge.points[-2], after.points[1] - after.points[0]
            widths = width_at(edge, edge.length_mm), width_at(after, 0.0)
            corners.append((edge.points[-1], *steps, widths))
    return tuple(m for corner in corners if (m := _clip(ring, *corner)) is not None)


_Hollow: TypeAlias = tuple[FloatArray, FloatArray, FloatArray, tuple[float, float]]
"""A corner, the steps that lead into it and away, (2,) each, and the widths on either side, mm."""


def _inner_corners(piece: Piece, edge: Edge) -> list[_Hollow]:
    """The corners within an edge, but for its dart mouths."""
    steps = np.diff(edge.points, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    u, v = steps[:-1], steps[1:]
    turns = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], np.einsum("ij,ij->i", u, v))
    places = np.cumsum(lengths)[:-1]
    mouths = [(d.first_mm, d.second_mm) for d in piece.darts if d.edge == edge.name]
    found: list[_Hollow] = []
    for i in np.flatnonzero(np.degrees(turns) <= -HOLLOW_DEG).tolist():
        at = float(places[i])
        if not any(a <= at <= b for a, b in mouths):
            width = width_at(edge, at)
            found.append((edge.points[i + 1], steps[i], steps[i + 1], (width, width)))
    return found


def _clip(
    ring: shapely.LinearRing,
    corner: FloatArray,
    into: FloatArray,
    away: FloatArray,
    widths: tuple[float, float],
) -> Mark | None:
    """The clip of one corner; None where it does not turn inwards by enough, or has no room."""
    into, away = unit(into), unit(away)
    turn = math.degrees(math.atan2(turn_of(into, away), along_of(into, away)))
    if turn > -HOLLOW_DEG or min(widths) <= 2 * CLIP_SHORT_MM:
        return None
    outward = np.array([into[1] + away[1], -into[0] - away[0]])
    if not outward.any():
        # The line turns back on itself: there is no corner to spread.
        return None
    outward = unit(outward)
    ray = shapely.LineString([corner, corner + outward * CLIP_REACH * max(widths)])
    met = shapely.get_coordinates(shapely.intersection(ray, ring))
    if not len(met):
        return None
    at = met[int(np.hypot(*(met - corner).T).argmin())]
    tip = corner + outward * CLIP_SHORT_MM
    if float((at - tip) @ outward) <= CLIP_SHORT_MM:
        return None
    return Mark(MarkKind.LINE, (_pair(at), _pair(tip)), CLIP)


def inlay_marks(piece: Piece, runs: Sequence[tuple[str, FloatArray]]) -> tuple[Mark, ...]:
    """The line where the allowance ends and the inlay begins, for each edge that has one; ``runs``
    are the stretches of the cut line without inlays."""
    names = {e.name for e in piece.edges if e.inlay_mm > 0}
    return tuple(
        Mark(MarkKind.INLAY, tuple(_pair(p) for p in path), name)
        for name, path in runs
        if name in names
    )


def _leg_notch(edge: Edge, dart: Dart, wedge: Wedge, cut_line: FloatArray, first: bool) -> CutNotch:
    distance = dart.first_mm if first else dart.second_mm
    at = wedge.first if first else wedge.second
    # The edge beside the leg, not across the mouth, is what the notch is square to.
    beside = max(0.0, distance - 0.5) if first else min(edge.length_mm, distance + 0.5)
    _, along = point_along(edge.points, beside)
    width = width_at(edge, beside, inlay=True)
    if edge.allowance.state is AllowanceState.ADD and width > 0:
        leg = unit(at - wedge.point)
        at = at + leg * first_exit(at, leg, cut_line, width)
    depth = max(0.0, min(DEPTH_MM, width - CLEARANCE_MM))
    tip = at - np.array([along[1], -along[0]]) * depth
    return CutNotch(_pair(at), _pair(tip), 1, dart.name)


def _pair(p: FloatArray) -> Point:
    return float(p[0]), float(p[1])
