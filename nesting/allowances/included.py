"""Edges drawn with their allowance: the net line inside, found inwards and checked by adding back."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
import shapely

from nesting.allowances.chain import close_chain, makers_of, offset_chain
from nesting.allowances.line import Line, begun, halved, stretches, too_large
from nesting.allowances.stretches import inward, outward
from nesting.clipping import Fill, union
from nesting.findings import Finding, Level
from nesting.pieces.outline import AllowanceState, Edge
from nesting.pieces.parts import place_on, remembered
from nesting.pieces.piece import DrawnAs, Piece
from nesting.pieces.unfold import OTHER_HALF, unfold
from nesting.pieces.widths import has_included, widest
from nesting.polygon import as_points, bounds, point_along, signed_area

ADD_BACK_MM: Final = 0.05
"""A net line found inside an included allowance gives the drawn line back to this, or we say so."""

CORNER_CUT: Final = 2.5
"""An edge up to this many times as long as its included allowance may be a cut-off corner, which
has no seam of its own: a right-angled point cut back by one width leaves an edge twice as long."""


def net_inside(whole: Piece) -> Line:
    """The line inside the included allowances. Raises AllowanceError where none is left, or none
    along an edge that is more than a corner cut off."""
    line = inner_line(whole)
    for edge in whole.edges:
        # A short edge that only cuts off a corner may well have no seam of its own.
        lost = edge.name not in line.makers
        if lost and edge.length_mm > CORNER_CUT * max(widest(edge), 1.0):
            raise too_large(whole, f"no net line is left along edge {edge.name!r}", edge.name)
    return line


def inner_line(whole: Piece) -> Line:
    """A sheet of cloth round the piece, grown inwards by what each edge is said to include: the
    line that is left inside, counter-clockwise. Raises AllowanceError where none is left."""
    chain = offset_chain(inward(whole.edges))
    x0, y0, x1, y1 = bounds(whole.outline)
    far = 1.0 + 2.0 * max(x1 - x0, y1 - y0)
    sheet = as_points(
        [(x0 - far, y0 - far), (x1 + far, y0 - far), (x1 + far, y1 + far), (x0 - far, y1 + far)]
    )
    rings = union([sheet, chain.points], fill=Fill.POSITIVE, keep_collinear=True)
    holes = sorted((r for r in rings if signed_area(r) < 0), key=signed_area)
    if not holes or abs(signed_area(holes[0])) < 1.0:
        raise too_large(whole, "nothing is left inside the included allowances")
    makers = makers_of(holes[0], chain, ())
    # Walked backwards, the segment that leaves point i is the one that came to it before.
    return Line(as_points(holes[0][::-1]), (*reversed(makers[:-1]), makers[-1]))


def net_piece(piece: Piece) -> Piece:
    """The piece as if it were drawn net: what its lines include is to be added instead.

    Notches and darts are carried square to the net line. A piece that includes nothing is returned
    as it is. Raises AllowanceError as ``net_inside`` does.
    """
    if not has_included(piece.edges):
        return replace(piece, drawn_as=DrawnAs.NET)
    whole = unfold(piece)
    runs = dict(stretches(begun(piece, halved(piece, net_inside(whole)))))
    edges = tuple(
        replace(
            e,
            points=runs[e.name],
            allowance=replace(e.allowance, state=AllowanceState.ADD)
            if e.allowance.state is AllowanceState.INCLUDED
            else e.allowance,
        )
        for e in piece.edges
        if e.name in runs
    )

    def place(edge: str, distance: float) -> float:
        return place_on(
            next(e for e in edges if e.name == edge),
            point_along(piece.edge(edge).points, distance)[0],
        )

    return replace(
        piece,
        edges=edges,
        drawn_as=DrawnAs.NET,
        notches=tuple(
            replace(n, distance_mm=place(n.edge, n.distance_mm))
            for n in piece.notches
            if n.edge in runs
        ),
        darts=tuple(
            replace(d, first_mm=place(d.edge, d.first_mm), second_mm=place(d.edge, d.second_mm))
            for d in piece.darts
            if d.edge in runs
        ),
        origin=remembered(piece, "net line"),
    )


def added_back(whole: Piece, net: Line) -> list[Finding]:
    """Adds the included widths to the net line again and compares with what was drawn."""
    findings = _lost(whole, net)
    edges = [
        replace(
            whole.edge(name),
            points=path,
            allowance=replace(whole.edge(name).allowance, state=AllowanceState.ADD),
        )
        if whole.edge(name).allowance.state is AllowanceState.INCLUDED
        else replace(whole.edge(name), points=path)
        for name, path in stretches(net)
    ]
    again = replace(whole, edges=tuple(edges), darts=())
    ring = close_chain(offset_chain(outward(again, inlay=False)), net.points)[0]
    back = shapely.LinearRing(ring)
    for edge in whole.edges:
        if edge.allowance.state is not AllowanceState.INCLUDED or edge.name.endswith(OTHER_HALF):
            continue
        stray = _stray(edge, back)
        if stray > ADD_BACK_MM:
            findings.append(
                Finding(
                    "included-not-parallel",
                    Level.WARNING,
                    f"{whole.name}: edge {edge.name!r} as drawn bends too tightly for the "
                    f"{widest(edge):g} mm it is said to include: off by {stray:.1f} mm",
                    where=f"{whole.name}/{edge.name}",
                    hint="check the seam line drawn inside it, or make the allowance narrower",
                )
            )
    return findings


def unknown_net(piece: Piece) -> list[Finding]:
    unknown = [
        e.name
        for e in piece.edges
        if e.allowance.state is AllowanceState.INCLUDED and widest(e) == 0
    ]
    if not unknown and piece.drawn_as is DrawnAs.NET:
        return []
    if not unknown and any(e.allowance.state is AllowanceState.INCLUDED for e in piece.edges):
        return []
    return [
        Finding(
            "net-line-unknown",
            Level.NOTE,
            f"{piece.name}: drawn with its allowance, but not how wide; the drawn line is cut",
            where=f"{piece.name}/{unknown[0]}" if unknown else piece.name,
            hint="give the width that is included, so that notches stay clear of the seam",
        )
    ]


def _lost(whole: Piece, net: Line) -> list[Finding]:
    lost = [e.name for e in whole.edges if e.name not in net.makers]
    return [
        Finding(
            "edge-without-seam",
            Level.NOTE,
            f"{whole.name}: edge {name!r} lies wholly in the allowance of its neighbours; it is "
            "taken for a corner cut off",
            where=f"{whole.name}/{name}",
            hint="if it is a seam, its included allowance is too wide",
        )
        for name in lost
        if not name.endswith(OTHER_HALF)
    ]


def _stray(edge: Edge, back: shapely.LinearRing) -> float:
    """Greatest distance of an edge's points from the line added back, away from its corners."""
    steps = np.hypot(*np.diff(edge.points, axis=0).T)
    places = np.concatenate([[0.0], np.cumsum(steps)])
    margin = 2.0 * widest(edge)
    inner = edge.points[(places > margin) & (places < places[-1] - margin)]
    if not len(inner):
        return 0.0
    return float(shapely.distance(shapely.points(inner), back).max())
