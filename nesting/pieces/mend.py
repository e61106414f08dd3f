"""Edges redrawn so that pieces sew together: a corner moved along its edge, or onto a smooth line.

These are the changes that truing proposes; each moves one corner of a piece and redraws the two
edges that meet there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final, Literal

import numpy as np
import shapely

from nesting.lines import unit
from nesting.pieces.mirror import mirror
from nesting.pieces.outline import Edge
from nesting.pieces.parts import change_error, edge_named, joined, place_on, remembered, sub_path
from nesting.pieces.piece import Piece
from nesting.polygon import FloatArray, as_points, path_length, point_along
from nesting.tolerance import POINT_MM, SHORT_EDGE_MM

At = Literal["start", "end"]
"""Which corner of an edge."""

DRAWN_TO_MM: Final = 60.0
"""A neighbour is drawn to a moved corner over this length, or ten times the move if that is more."""

REACH_MM: Final = 100.0
"""A seam may be drawn on so far to end on the line."""

STEP_MM: Final = 4.0
"""Points of a redrawn stretch lie this near to each other."""


def end_edge(piece: Piece, edge: str, length_mm: float, *, at: At = "end") -> Piece:
    """The piece with the edge ended sooner, ``length_mm`` long; the edge beyond that corner is drawn
    to the new place. Raises PieceError where that is no shortening, or would cut off a dart or notch.
    """
    old = edge_named(piece, edge)
    if not SHORT_EDGE_MM < length_mm < old.length_mm:
        raise change_error(
            piece,
            f"edge {edge!r} is {old.length_mm:.1f} mm long and cannot be ended at {length_mm:.1f} mm",
            "give a length shorter than the edge's",
            edge=edge,
        )
    if at == "start":
        return mirror_back(piece, lambda p: end_edge(p, edge, length_mm))
    path = sub_path(old.points, 0.0, length_mm)
    after = _next(piece, edge)
    moved = _drawn_to(after.points, path[-1])
    return _with(piece, {edge: path, after.name: moved}, f"{edge} ended {length_mm:.1f} mm long")


def redraw(piece: Piece, edge: str, line: FloatArray, *, at: At) -> Piece:
    """The piece with the edge redrawn along ``line`` (N, 2) up to its corner ``at``, which moves to
    where the line meets the edge beyond (drawn on straight if need be).

    The line begins or ends on the edge. Raises PieceError where it does not, or where it does not
    meet the edge beyond.
    """
    if at == "start":
        x0, x1 = float(piece.outline[:, 0].min()), float(piece.outline[:, 0].max())
        flipped = as_points(np.column_stack([x0 + x1 - line[:, 0], line[:, 1]]))
        return mirror_back(piece, lambda p: redraw(p, edge, flipped, at="end"))
    old, beyond = edge_named(piece, edge), _next(piece, edge)
    gaps = [shapely.LineString(old.points).distance(shapely.Point(line[k])) for k in (0, -1)]
    drawn = line if gaps[0] <= gaps[1] else as_points(line[::-1])
    if min(gaps) > SHORT_EDGE_MM:
        raise change_error(
            piece,
            f"the line begins {min(gaps):.1f} mm away from edge {edge!r}",
            "begin it on the edge that is redrawn",
            edge=edge,
        )
    leaves = place_on(old, drawn[0])
    drawn, seam = _cut_at(piece, edge, drawn, beyond)
    before = [sub_path(old.points, 0.0, leaves)] if leaves > POINT_MM else []
    path = joined([*before, drawn])
    return _with(piece, {edge: path, beyond.name: seam}, f"{edge} redrawn at {beyond.name}")


def mirror_back(piece: Piece, change: Callable[[Piece], Piece]) -> Piece:
    """A change made on the mirror image, so that starts and ends change places, and mirrored back."""
    changed = change(mirror(piece))
    x0, x1 = (float(f(piece.outline[:, 0])) for f in (np.min, np.max))
    back = mirror(changed)
    # Mirrored about the middle of its own width each time: shift what a new width moved.
    y0, y1 = (float(f(changed.outline[:, 0])) for f in (np.min, np.max))
    shift = np.array([(x0 + x1) - (y0 + y1), 0.0])
    edges = tuple(replace(e, points=as_points(e.points + shift)) for e in back.edges)
    dx = float(shift[0])
    first = edges.index(next(e for e in edges if e.name == piece.edges[0].name))
    return replace(
        back,
        edges=(*edges[first:], *edges[:first]),
        grain=piece.grain,
        darts=tuple(replace(d, point=(d.point[0] + dx, d.point[1])) for d in back.darts),
        marks=piece.marks,
        origin=remembered(piece, changed.origin.rsplit("; ", 1)[-1]),
    )


def _next(piece: Piece, edge: str) -> Edge:
    names = [e.name for e in piece.edges]
    return piece.edges[(names.index(edge) + 1) % len(names)]


def _drawn_to(path: FloatArray, to: FloatArray) -> FloatArray:
    """A path whose start is moved to ``to``; what follows comes with it, the less the farther."""
    shift = to - path[0]
    whole = path_length(path)
    reach = min(whole, max(DRAWN_TO_MM, 10.0 * float(np.hypot(*shift))))
    finer = np.append(np.arange(STEP_MM, reach, STEP_MM), reach)
    places = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    every = np.unique(np.concatenate([places, finer]))
    points = np.column_stack([np.interp(every, places, path[:, k]) for k in (0, 1)])
    t = np.clip(1.0 - every / reach, 0.0, 1.0)[:, None]
    return as_points(points + t**2 * (3.0 - 2.0 * t) * shift)


def _cut_at(piece: Piece, edge: str, line: FloatArray, seam: Edge) -> tuple[FloatArray, FloatArray]:
    """The line up to where it meets the seam, and the seam from there on."""
    back = unit(seam.points[0] - seam.points[1])
    drawn_on = as_points(np.vstack([seam.points[0] + back * REACH_MM, seam.points]))
    met = shapely.intersection(shapely.LineString(drawn_on), shapely.LineString(line))
    places = shapely.get_coordinates(met)
    if not len(places):
        raise change_error(
            piece,
            f"the line does not meet edge {seam.name!r}",
            "draw it across the corner",
            edge=edge,
        )
    gaps = np.hypot(*(places - seam.points[0]).T)
    corner = as_points(places[int(gaps.argmin())][None, :])
    host = Edge("", drawn_on)
    at = place_on(host, corner[0])
    rest = sub_path(drawn_on, at, path_length(drawn_on))
    if at < REACH_MM - POINT_MM and len(rest) > 2:
        # The seam is drawn on straight beyond its old corner, which is no point of it any more.
        rest = as_points(np.delete(rest, 1, axis=0))
    end = place_on(Edge("", line), corner[0])
    drawn = joined([sub_path(line, 0.0, max(end, POINT_MM))[:-1], corner])
    return drawn, as_points(np.vstack([corner, rest[1:]]))


def _with(piece: Piece, paths: dict[str, FloatArray], change: str) -> Piece:
    """The piece with new points for some edges; notches and darts stay where they are and are found
    again on the new lines."""
    edges = {e.name: replace(e, points=paths.get(e.name, e.points)) for e in piece.edges}
    for name, path in paths.items():
        for dart in piece.darts:
            if dart.edge == name and not _holds(
                piece.edge(name), path, dart.first_mm, dart.second_mm
            ):
                raise change_error(
                    piece,
                    f"dart {dart.name!r} opens where {name!r} is redrawn",
                    "move the dart first",
                    edge=name,
                )

    def place(edge: str, distance: float) -> float:
        if edge not in paths:
            return distance
        return place_on(edges[edge], point_along(piece.edge(edge).points, distance)[0])

    return replace(
        piece,
        edges=tuple(edges[e.name] for e in piece.edges),
        notches=tuple(replace(n, distance_mm=place(n.edge, n.distance_mm)) for n in piece.notches),
        darts=tuple(
            replace(d, first_mm=place(d.edge, d.first_mm), second_mm=place(d.edge, d.second_mm))
            for d in piece.darts
        ),
        origin=remembered(piece, change),
    )


def _holds(edge: Edge, path: FloatArray, first: float, second: float) -> bool:
    """Whether both ends of a mouth still lie on the new path."""
    drawn = shapely.LineString(path)
    ends = (point_along(edge.points, d)[0] for d in (first, second))
    return all(drawn.distance(shapely.Point(p)) < 1e-3 for p in ends)
