"""How wide the allowance is along an edge: even, changing, stepping; drawn already or to be added."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from nesting.allowances.chain import Run, merged_steps
from nesting.pieces.outline import Allowance, AllowanceState, Edge
from nesting.polygon import FloatArray, as_points, path_length, point_along
from nesting.tolerance import POINT_MM, SHORT_EDGE_MM


def width_at(edge: Edge, distance_mm: float, *, inlay: bool = False) -> float:
    """Width of an edge's allowance (drawn or to be added) ``distance_mm`` from its start, mm."""
    extra = edge.inlay_mm if inlay and edge.allowance.state is AllowanceState.ADD else 0.0
    a = edge.allowance
    if a.state is AllowanceState.NONE:
        return 0.0
    if a.end_width_mm is not None:
        t = min(max(distance_mm / max(edge.length_mm, POINT_MM), 0.0), 1.0)
        return a.width_mm + t * (a.end_width_mm - a.width_mm) + extra
    width = a.width_mm
    for place, wide in a.steps:
        if distance_mm >= place:
            width = wide
    return width + extra


def outward_runs(edges: Sequence[Edge], *, inlay: bool = True) -> list[Run]:
    """Runs of a counter-clockwise outline with what is to be added outside the drawn line."""
    return _runs(edges, AllowanceState.ADD, inlay=inlay)


def inward_runs(edges: Sequence[Edge]) -> list[Run]:
    """Runs of the outline walked clockwise, with what is included inside the drawn line."""
    runs = _runs(edges, AllowanceState.INCLUDED, inlay=False)
    return [Run(r.name, as_points(r.points[::-1]), r.widths[::-1].copy()) for r in reversed(runs)]


def has(edges: Sequence[Edge], state: AllowanceState) -> bool:
    """Whether any edge has an allowance of this state that is wider than nothing."""
    return any(
        float(r.widths.max()) > 0 for r in _runs(edges, state, inlay=state is AllowanceState.ADD)
    )


def short_edges(edges: Sequence[Edge]) -> list[str]:
    """Names of edges too short to be offset on their own."""
    return [e.name for e in edges if e.length_mm < SHORT_EDGE_MM]


def _runs(edges: Sequence[Edge], state: AllowanceState, *, inlay: bool) -> list[Run]:
    runs: list[Run] = []
    kept = [e for e in edges if e.length_mm >= SHORT_EDGE_MM]
    for edge, after in zip(kept, (*kept[1:], *kept[:1]), strict=True):
        # An edge left out hands its end to the one before it, so that the runs still close.
        points = merged_steps(_to(edge.points, after.points[0]))
        a = edge.allowance if edge.allowance.state is state else Allowance()
        extra = edge.inlay_mm if inlay and a.state is AllowanceState.ADD else 0.0
        runs += _edge_runs(edge.name, points, a, extra)
    return runs


def _to(points: FloatArray, corner: FloatArray) -> FloatArray:
    moved = np.array(points)
    moved[-1] = corner
    return as_points(moved)


def _edge_runs(name: str, points: FloatArray, a: Allowance, extra: float) -> list[Run]:
    if a.end_width_mm is not None:
        steps = np.hypot(*np.diff(points, axis=0).T)
        t = np.concatenate([[0.0], np.cumsum(steps)]) / max(float(steps.sum()), POINT_MM)
        return [Run(name, points, a.width_mm + t * (a.end_width_mm - a.width_mm) + extra)]
    runs: list[Run] = []
    width = a.width_mm
    rest, gone = points, 0.0
    for place, wide in a.steps:
        first, rest = cut_path(rest, place - gone)
        gone = place
        runs.append(Run(name, first, np.full(len(first), width + extra)))
        width = wide
    runs.append(Run(name, rest, np.full(len(rest), width + extra)))
    return runs


def cut_path(path: FloatArray, distance_mm: float) -> tuple[FloatArray, FloatArray]:
    """An open (N, 2) path cut in two at ``distance_mm`` from its start; both parts hold the place."""
    steps = np.hypot(*np.diff(path, axis=0).T)
    places = np.concatenate([[0.0], np.cumsum(steps)])
    distance = min(max(distance_mm, 0.0), path_length(path))
    at, _ = point_along(path, distance)
    before = path[places < distance - POINT_MM]
    after = path[places > distance + POINT_MM]
    first = np.vstack([before, at]) if len(before) else np.vstack([path[:1], at])
    second = np.vstack([at, after]) if len(after) else np.vstack([at, path[-1:]])
    return as_points(first), as_points(second)
