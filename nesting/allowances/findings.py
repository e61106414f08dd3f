"""What a cutter should look at in the allowances of a piece."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

import numpy as np

from nesting.allowances.mouths import Wedge
from nesting.allowances.stretches import UNTRUE_MM
from nesting.findings import Finding, Level
from nesting.lines import cross
from nesting.pieces.outline import AllowanceState, Edge, EdgeKind
from nesting.pieces.piece import Dart, Piece
from nesting.pieces.widths import widest
from nesting.tolerance import SHORT_EDGE_MM

HEM_EASED: Final = 0.02
"""A curved hem whose raw edge is longer than where it will lie by more than this share wants a
thread to ease it in (common practice)."""

HEM_EXCESS: Final = 0.05
"""Beyond this share it will not lie flat (common practice: more flare, less hem)."""

LEGS_MM: Final = 0.5
"""Dart legs may differ by half of what a cutter can see (1 mm)."""


def allowance_findings(
    piece: Piece, wedges: Mapping[str, Wedge], made: set[str], straight: Sequence[str] = ()
) -> Iterable[Finding]:
    """Warnings about allowances; ``made`` names the edges that still show in the cut line, ``straight``
    the darts whose mouth is cut straight across."""
    for edge in piece.edges:
        if edge.name not in made and edge.length_mm >= SHORT_EDGE_MM:
            yield _swallowed(piece, edge)
        if edge.kind is EdgeKind.HEM and edge.allowance.state is AllowanceState.ADD:
            yield from _curved_hem(piece, edge)
    for dart in piece.darts:
        yield from _dart(piece, piece.edge(dart.edge), dart, wedges[dart.name])
        if dart.name in straight:
            yield _straight(piece, dart)


def _straight(piece: Piece, dart: Dart) -> Finding:
    return Finding(
        "dart-mouth-straight",
        Level.WARNING,
        f"{piece.name}: the edge beside dart {dart.name!r} turns away before the folded dart: its mouth "
        "is cut straight across",
        where=f"{piece.name}/{dart.edge}",
        hint="fold the paper dart and trim the allowance along the joined edge before cutting",
    )


def _swallowed(piece: Piece, edge: Edge) -> Finding:
    return Finding(
        "allowance-swallowed",
        Level.WARNING,
        f"{piece.name}: the allowance of edge {edge.name!r} lies wholly inside that of its neighbours",
        where=f"{piece.name}/{edge.name}",
        hint="make the allowances there narrower than the feature, or cut the piece in two",
    )


def _curved_hem(piece: Piece, edge: Edge) -> Iterable[Finding]:
    steps = np.diff(edge.points, axis=0)
    steps /= np.hypot(steps[:, 0], steps[:, 1])[:, None]
    turns = np.arctan2(cross(steps[:-1], steps[1:]), np.einsum("ij,ij->i", steps[:-1], steps[1:]))
    depth, turn = widest(edge), float(turns.sum())
    excess, target = 2.0 * turn * depth, edge.length_mm - turn * depth
    if excess > HEM_EASED * target:
        too_deep = excess > HEM_EXCESS * target
        yield Finding(
            "hem-too-deep-for-curve" if too_deep else "hem-to-be-eased",
            Level.WARNING if too_deep else Level.NOTE,
            f"{piece.name}: hem {edge.name!r} of {depth:g} mm curves: its raw edge is "
            f"{excess:.0f} mm longer than where it will lie",
            where=f"{piece.name}/{edge.name}",
            hint="make the hem narrower or face it" if too_deep else "ease it in with a thread",
        )


def _dart(piece: Piece, edge: Edge, dart: Dart, wedge: Wedge) -> Iterable[Finding]:
    where = f"{piece.name}/{dart.edge}"
    first, second = (float(np.hypot(*(leg - wedge.point))) for leg in (wedge.first, wedge.second))
    if abs(first - second) > LEGS_MM:
        yield Finding(
            "dart-legs-unequal",
            Level.WARNING,
            f"{piece.name}: the legs of dart {dart.name!r} are {first:.1f} and {second:.1f} mm "
            + (
                "long; the folded edge will not be smooth"
                if abs(first - second) <= UNTRUE_MM
                else "long; its mouth is cut as drawn"
            ),
            where=where,
            hint="true the dart: make both legs equally long",
        )
    at_corner = dart.first_mm < SHORT_EDGE_MM or dart.second_mm > edge.length_mm - SHORT_EDGE_MM
    if at_corner and edge.allowance.state is AllowanceState.ADD:
        yield Finding(
            "dart-at-corner",
            Level.WARNING,
            f"{piece.name}: dart {dart.name!r} reaches the corner of edge {edge.name!r}; its mouth is "
            "cut as drawn",
            where=where,
            hint="fold the paper dart and trim the allowance along the joined edge before cutting",
        )
