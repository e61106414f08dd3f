"""How wide the allowance is along an edge: even, changing, stepping; drawn already or to be added."""

from __future__ import annotations

from nesting.pieces.outline import AllowanceState, Edge
from nesting.tolerance import POINT_MM


def width_at(edge: Edge, distance_mm: float, *, inlay: bool = False) -> float:
    """Width of an edge's allowance (drawn or to be added) ``distance_mm`` from its start, mm.

    At a step the width is the one that holds from there on. An inlay counts only where it is asked
    for and added outside.
    """
    a = edge.allowance
    if a.state is AllowanceState.NONE:
        return 0.0
    extra = edge.inlay_mm if inlay and a.state is AllowanceState.ADD else 0.0
    if a.end_width_mm is not None:
        t = min(max(distance_mm / max(edge.length_mm, POINT_MM), 0.0), 1.0)
        return a.width_mm + t * (a.end_width_mm - a.width_mm) + extra
    width = a.width_mm
    for place, wide in a.steps:
        if distance_mm >= place:
            width = wide
    return width + extra


def widest(edge: Edge) -> float:
    """Greatest width of an edge's allowance, drawn or to be added, without inlay, mm."""
    a = edge.allowance
    if a.state is AllowanceState.NONE:
        return 0.0
    return max(a.width_mm, a.end_width_mm or 0.0, *(w for _, w in a.steps), 0.0)


def has_added(edges: tuple[Edge, ...]) -> bool:
    """Whether anything is to be added outside any edge."""
    return any(
        e.allowance.state is AllowanceState.ADD and widest(e) + e.inlay_mm > 0 for e in edges
    )


def has_included(edges: tuple[Edge, ...]) -> bool:
    """Whether any drawn edge has a known allowance in it."""
    return any(e.allowance.state is AllowanceState.INCLUDED and widest(e) > 0 for e in edges)
