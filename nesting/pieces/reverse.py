"""The same edges met the other way round: what an edge, notch or dart becomes then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nesting.pieces.outline import Allowance, Corner, Edge
from nesting.pieces.piece import Dart, DartFold, Notch
from nesting.polygon import as_points

_OTHER_CORNER = {
    Corner.THIS_TURNS_BACK: Corner.NEXT_TURNS_BACK,
    Corner.NEXT_TURNS_BACK: Corner.THIS_TURNS_BACK,
}


def reversed_edges(edges: Sequence[Edge], *, closed: bool) -> tuple[Edge, ...]:
    """``edges`` last first, each walked from its end to its start.

    The treatment of a corner stays with the corner: it is handed to the edge that now ends there.
    In an open sequence the corner at the new end is left to be chosen.
    """
    before = [*edges[-1:], *edges[:-1]] if closed else [None, *edges[:-1]]
    return tuple(
        replace(
            edge,
            points=as_points(edge.points[::-1]),
            allowance=reversed_allowance(edge.allowance, edge.length_mm),
            corner=Corner.AUTO if b is None else _OTHER_CORNER.get(b.corner, b.corner),
            partners=edge.partners[::-1],
            run=edge.run[::-1],
        )
        for edge, b in zip(reversed(edges), reversed(before), strict=True)
    )


def reversed_allowance(allowance: Allowance, length_mm: float) -> Allowance:
    """The same widths met from the other end of an edge ``length_mm`` long."""
    widths = [allowance.width_mm, *(w for _, w in allowance.steps)]
    places = [d for d, _ in allowance.steps]
    # Widths hold from each step to the next, so from the other end they come last first.
    turned = zip(reversed(places), reversed(widths[:-1]), strict=True)
    start = widths[-1] if allowance.end_width_mm is None else allowance.end_width_mm
    end = None if allowance.end_width_mm is None else allowance.width_mm
    steps = tuple((length_mm - d, w) for d, w in turned)
    return replace(allowance, width_mm=start, end_width_mm=end, steps=steps)


def reversed_notch(notch: Notch, length_mm: float) -> Notch:
    """The notch measured from the other end of its edge."""
    return replace(notch, distance_mm=max(0.0, length_mm - notch.distance_mm))


def reversed_dart(dart: Dart, length_mm: float) -> Dart:
    """The dart measured from the other end of its edge: its legs change places."""
    fold = DartFold.SECOND_LEG if dart.fold is DartFold.FIRST_LEG else DartFold.FIRST_LEG
    return replace(
        dart, first_mm=length_mm - dart.second_mm, second_mm=length_mm - dart.first_mm, fold=fold
    )
