"""A piece's edges as the runs and joints of an offset chain: cut up at steps and at darts."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from nesting.allowances.chain import (
    MITRE_LIMIT,
    Chain,
    Joint,
    Run,
    merged_steps,
    plain_joint,
)
from nesting.allowances.corners import corner_joint
from nesting.allowances.mouths import Wedge, mouth_joint
from nesting.pieces.outline import AllowanceState, Edge
from nesting.pieces.parts import place_on, sub_path
from nesting.pieces.piece import Dart, Piece
from nesting.pieces.widths import width_at
from nesting.polygon import FloatArray, as_points, point_along
from nesting.tolerance import POINT_MM, SHORT_EDGE_MM

Stretch = tuple[Run, Joint]

UNTRUE_MM: Final = 2.0
"""Legs that differ by more than this do not close to one edge: the mouth is cut as drawn, and the
dart is to be trued first."""


def outward(piece: Piece, *, inlay: bool = True, limit: float = MITRE_LIMIT) -> list[Stretch]:
    """The counter-clockwise outline with what is to be added outside it, dart mouths folded."""

    def width(edge: Edge, at: float) -> float:
        if edge.allowance.state is not AllowanceState.ADD:
            return 0.0
        return width_at(edge, at, inlay=inlay)

    return _stretches(piece, width, limit)


def net_of(stretches: Sequence[Stretch]) -> list[Stretch]:
    """The same stretches without allowance: the outline as it is, but for dart mouths, which are
    drawn as their fold leaves them."""
    return [
        (Run(run.name, run.points, np.zeros(len(run.points))), joint) for run, joint in stretches
    ]


def inward(edges: Sequence[Edge]) -> list[Stretch]:
    """The outline walked clockwise, with what is included inside the drawn line."""
    stretches: list[Stretch] = []
    for edge, points in reversed(_closed(edges)):
        for start, end in reversed(_kept_spans(edge, points, ())):
            run = _run(edge, points, (start, end), _included)
            turned = Run(run.name, as_points(run.points[::-1]), run.widths[::-1].copy())
            stretches.append((turned, plain_joint()))
    return stretches


def foldable_darts(piece: Piece, edge: Edge) -> tuple[Dart, ...]:
    """The edge's darts whose mouth is ours to shape, in order: not where the cut line is drawn
    already, not at a corner, where there is no edge to fold onto, and not where the legs are so
    unequal that the folded edges do not meet."""
    if edge.allowance.state is AllowanceState.INCLUDED:
        return ()
    inside = (
        d
        for d in piece.darts
        if d.edge == edge.name
        and d.first_mm >= SHORT_EDGE_MM
        and d.second_mm <= edge.length_mm - SHORT_EDGE_MM
        and abs(legs_differ_mm(edge, d)) <= UNTRUE_MM
    )
    return tuple(sorted(inside, key=lambda d: d.first_mm))


def legs_differ_mm(edge: Edge, dart: Dart) -> float:
    """Length of a dart's first leg less that of its second, mm."""
    ends = (point_along(edge.points, d)[0] for d in (dart.first_mm, dart.second_mm))
    first, second = (math.dist(e, dart.point) for e in ends)
    return first - second


def wedges_of(piece: Piece) -> dict[str, Wedge]:
    """Every dart's triangle in the piece as drawn, by name."""
    edges = {e.name: e.points for e in piece.edges}
    return {
        d.name: Wedge(
            np.array(d.point),
            point_along(edges[d.edge], d.first_mm)[0],
            point_along(edges[d.edge], d.second_mm)[0],
            d.fold,
        )
        for d in piece.darts
    }


def straight_mouths(piece: Piece, built: Sequence[Stretch], chain: Chain) -> tuple[str, ...]:
    """Names of darts whose mouth is cut straight across, because the edge beside it never reaches the
    folded wedge; ``built`` are the stretches as ``outward`` makes them, ``chain`` what they make."""
    wedges = wedges_of(piece)
    found = []
    for edge in piece.edges:
        for dart in foldable_darts(piece, edge):
            wedge = wedges[dart.name]
            for (run, _), (after, _) in zip(built, (*built[1:], built[0]), strict=True):
                if run.name == edge.name and math.dist(run.points[-1], wedge.first) < POINT_MM:
                    ends = _moved_out(run, -1), _moved_out(after, 0)
                    at = np.flatnonzero(np.hypot(*(chain.points - ends[0]).T) < POINT_MM)
                    next_ones = chain.points[(at + 1) % len(chain.points)]
                    if len(at) and math.dist(next_ones[0], ends[1]) < POINT_MM:
                        found.append(dart.name)
    return tuple(found)


def _moved_out(run: Run, end: int) -> FloatArray:
    """Where a run's parallel begins (0) or ends (-1), (2,)."""
    step = run.points[1] - run.points[0] if end == 0 else run.points[-1] - run.points[-2]
    normal = np.array([step[1], -step[0]]) / math.hypot(step[0], step[1])
    moved: FloatArray = run.points[end] + normal * run.widths[end]
    return moved


Width = Callable[[Edge, float], float]
Span = tuple[float, float]


def _included(edge: Edge, at: float) -> float:
    return width_at(edge, at) if edge.allowance.state is AllowanceState.INCLUDED else 0.0


def _stretches(piece: Piece, width: Width, limit: float) -> list[Stretch]:
    closed, wedges = _closed(piece.edges), wedges_of(piece)
    after = [e for e, _ in (*closed[1:], closed[0])]
    stretches: list[Stretch] = []
    for (edge, points), following in zip(closed, after, strict=True):
        darts = foldable_darts(piece, edge)
        spans = _kept_spans(edge, points, darts)
        for i, span in enumerate(spans):
            joint = plain_joint(limit)
            if i == len(spans) - 1:
                joint = corner_joint(edge, following, limit=limit)
            for dart in darts:
                if span[1] == dart.first_mm:
                    joint = mouth_joint(wedges[dart.name], limit=limit)
            stretches.append((_run(edge, points, span, width), joint))
    return stretches


def _closed(edges: Sequence[Edge]) -> list[tuple[Edge, FloatArray]]:
    """Edges long enough to be offset on their own, each with its points up to the next of them."""
    kept = [e for e in edges if e.length_mm >= SHORT_EDGE_MM]
    closed: list[tuple[Edge, FloatArray]] = []
    for edge, after in zip(kept, (*kept[1:], *kept[:1]), strict=True):
        points = np.array(edge.points)
        # An edge left out hands its end to the one before it, so that the runs still close.
        points[-1] = after.points[0]
        closed.append((edge, merged_steps(as_points(points))))
    return closed


def _spans(edge: Edge, darts: Sequence[Dart]) -> list[Span]:
    """Stretches of an edge between its steps, without the mouths of its darts, mm from its start."""
    inside = [d for d, _ in edge.allowance.steps]
    cuts = [d for d in inside if not any(t.first_mm <= d <= t.second_mm for t in darts)]
    starts = sorted([0.0, *cuts, *(t.second_mm for t in darts)])
    ends = sorted([*cuts, *(t.first_mm for t in darts), edge.length_mm])
    return list(zip(starts, ends, strict=True))


def _kept_spans(edge: Edge, points: FloatArray, darts: Sequence[Dart]) -> list[Span]:
    """The spans that have a length on the points that are offset (short steps of them may be gone)."""
    place = _places_on(edge, points)
    return [s for s in _spans(edge, darts) if place(s[1]) - place(s[0]) > POINT_MM]


def _places_on(edge: Edge, points: FloatArray) -> Callable[[float], float]:
    """From a distance along an edge as drawn to the same place on the points that are offset."""
    if points.shape == edge.points.shape and bool((points == edge.points).all()):
        return lambda distance: distance
    whole, offset = edge.length_mm, Edge(edge.name, points)

    def place(distance: float) -> float:
        if distance <= 0.0:
            return 0.0
        if distance >= whole:
            return offset.length_mm
        return place_on(offset, point_along(edge.points, distance)[0])

    return place


def _run(edge: Edge, points: FloatArray, span: Span, width: Width) -> Run:
    start, end = span
    place = _places_on(edge, points)
    path = points
    if span != (0.0, edge.length_mm):
        path = sub_path(points, place(start), place(end))
    if edge.allowance.end_width_mm is None:
        return Run(edge.name, path, np.full(len(path), width(edge, (start + end) / 2)))
    places = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    widths = np.array([width(edge, start + float(p)) for p in places])
    return Run(edge.name, path, widths)
