"""A button stand added along an edge, and the buttons and buttonholes on its centre line."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from nesting.lines import distance_left, mirrored_across, unit
from nesting.pieces.outline import Corner, Edge, EdgeKind
from nesting.pieces.parts import change_error, edge_named, joined, pairs, remembered, sub_path
from nesting.pieces.piece import Mark, MarkKind, Notch, Piece
from nesting.polygon import FloatArray, as_points, path_length
from nesting.tolerance import CONTACT_MM, POINT_MM

BEYOND_CENTRE_MM: Final = 3.0
"""A horizontal buttonhole begins this far beyond the centre line (published: 1/8 inch), so that the
button, pulling, comes to sit on it."""

HOLE_EASE_MM: Final = 3.0
"""A buttonhole is as long as the button's diameter and thickness and up to this much more; here the
diameter and this much, for flat buttons (published for the sum; common practice for flat ones)."""


def add_stand(piece: Piece, edge: str, width_mm: float, *, stand: str = "stand edge") -> Piece:
    """The piece with a stand ``width_mm`` wide beyond a straight edge, which becomes the centre line.

    The edges that meet the centre line are carried on to the stand's end as their own mirror images,
    so that the closed front lies neck on neck and hem on hem. A fold edge becomes a centre line too:
    the piece is then a pair, and its counts are the caller's to set. Raises PieceError for an edge
    that is not straight, and where a neighbour does not run back from the centre line.
    """
    centre = edge_named(piece, edge)
    a, b = centre.points[0], centre.points[-1]
    if float(np.abs(distance_left(centre.points, a, b)).max()) > CONTACT_MM:
        raise change_error(
            piece, f"edge {edge!r} is not straight", "a stand lies along a straight centre line"
        )
    if width_mm <= 0:
        raise change_error(piece, f"a stand of {width_mm:g} mm", "give a width above 0")
    if any(d.edge == edge for d in piece.darts):
        raise change_error(piece, f"a dart opens on edge {edge!r}", "move it to another edge first")
    i = piece.edges.index(centre)
    before, after = piece.edges[i - 1], piece.edges[(i + 1) % len(piece.edges)]
    # The neighbours' mirror images beyond the centre line, each from the line outwards.
    late = _carried(piece, before, as_points(before.points[::-1]), a, b, width_mm)
    early = _carried(piece, after, after.points, a, b, width_mm)
    outer = Edge(
        stand,
        as_points([late[-1], early[-1]]),
        EdgeKind.SEAM if centre.kind is EdgeKind.FOLD else centre.kind,
        before.allowance if centre.kind is EdgeKind.FOLD else centre.allowance,
    )
    changed = {
        before.name: replace(before, points=joined([before.points, late]), corner=Corner.AUTO),
        after.name: replace(after, points=joined([early[::-1], after.points])),
        edge: outer,
    }
    added = path_length(early)
    notches = [
        replace(n, distance_mm=n.distance_mm + added) if n.edge == after.name else n
        for n in piece.notches
        if n.edge != edge
    ]
    centres = (
        Notch(before.name, before.length_mm, name="centre"),
        Notch(after.name, added, name="centre"),
    )
    darts = tuple(
        replace(d, first_mm=d.first_mm + added, second_mm=d.second_mm + added)
        if d.edge == after.name
        else d
        for d in piece.darts
    )
    line = Mark(MarkKind.CENTRE_LINE, pairs(as_points([a, b])), edge)
    return replace(
        piece,
        edges=tuple(changed.get(e.name, e) for e in piece.edges),
        notches=(*notches, *centres),
        darts=darts,
        marks=(*piece.marks, line),
        origin=remembered(piece, f"stand of {width_mm:g} mm at {edge}"),
    )


def add_buttons(
    piece: Piece,
    *,
    count: int,
    first_mm: float,
    last_mm: float,
    diameter_mm: float,
    holes: bool = True,
    line: str = "",
) -> Piece:
    """Button places on the centre line, ``first_mm`` from its upper end to ``last_mm`` from its lower
    end, evenly; with ``holes`` each gets a horizontal buttonhole that begins BEYOND_CENTRE_MM beyond
    the centre line and runs inwards.

    Upper and lower follow the grain line's head. Raises PieceError without centre line or grain.
    """
    centre = _centre_line(piece, line)
    if piece.grain is None:
        raise change_error(piece, "no grain line says which end is up", "draw the grain line")
    up = np.subtract(piece.grain.head, piece.grain.tail)
    top, bottom = (centre[0], centre[-1]) if up @ (centre[0] - centre[-1]) > 0 else centre[::-1]
    length = float(np.hypot(*(bottom - top)))
    if count < 1 or diameter_mm <= 0 or first_mm < 0 or first_mm + last_mm > length:
        raise change_error(
            piece,
            f"{count} buttons from {first_mm:g} mm below the top to {last_mm:g} mm above the lower "
            f"end do not fit a centre line of {length:.0f} mm",
            "give at least one button and places on the line",
        )
    down = unit(bottom - top)
    places = np.linspace(first_mm, length - last_mm, count) if count > 1 else [first_mm]
    outward = _outward(piece, centre, down)
    marks: list[Mark] = []
    for k, place in enumerate(places):
        at = top + down * place
        marks.append(Mark(MarkKind.BUTTON, pairs(as_points([at])), f"button {k + 1}"))
        if holes:
            start = at + outward * BEYOND_CENTRE_MM
            end = start - outward * (diameter_mm + HOLE_EASE_MM)
            marks.append(
                Mark(MarkKind.BUTTONHOLE, pairs(as_points([start, end])), f"buttonhole {k + 1}")
            )
    return replace(
        piece, marks=(*piece.marks, *marks), origin=remembered(piece, f"{count} buttons")
    )


def stand_width_mm(diameter_mm: float) -> float:
    """Least width of a stand for a button: half the diameter and 1/4 inch, or three quarters of the
    diameter if that is more (the two published rules)."""
    return max(diameter_mm / 2 + 6.35, 0.75 * diameter_mm)


def _carried(
    piece: Piece, neighbour: Edge, path: FloatArray, a: FloatArray, b: FloatArray, width: float
) -> FloatArray:
    """The mirror image beyond a -> b of the part of ``path`` (from the line inwards) that lies
    within ``width`` of it, ending exactly there, (N, 2)."""
    depth = distance_left(path, a, b)
    beyond = np.flatnonzero(depth >= width)
    inner = depth[: int(beyond[0]) + 1] if len(beyond) else depth
    if not len(beyond) or (np.diff(inner) <= 0).any():
        raise change_error(
            piece,
            f"edge {neighbour.name!r} does not run back {width:g} mm from the centre line",
            "make the stand narrower",
            edge=neighbour.name,
        )
    k = int(beyond[0])
    t = (width - depth[k - 1]) / (depth[k] - depth[k - 1])
    lengths = np.hypot(*np.diff(path[: k + 1], axis=0).T)
    reach = float(lengths[:-1].sum() + t * lengths[-1])
    return mirrored_across(sub_path(path, 0.0, max(reach, POINT_MM)), a, b)


def _centre_line(piece: Piece, name: str) -> FloatArray:
    for mark in piece.marks:
        if mark.kind is MarkKind.CENTRE_LINE and (not name or mark.name == name):
            return as_points(mark.points)
    raise change_error(
        piece, "there is no centre line", "add a stand first, or mark the centre line"
    )


def _outward(piece: Piece, centre: FloatArray, down: FloatArray) -> FloatArray:
    """Across the centre line, away from where most of the piece lies."""
    across = np.array([-down[1], down[0]])
    side = float(((piece.outline - centre[0]) @ across).sum())
    return -across if side > 0 else across
