"""Usual allowances by the kind of edge, and a piece filled in with them.

Widths and their sources: seams, S. Lo, Pattern Cutting (2011), p. 107 (1 cm in the trade) and the
5/8 inch of home patterns; curved and enclosed seams 1/4 inch (production practice); zip seams 3/4
inch; hems, American Sewing Guild, How Deep Is That Hem (2025), middle of the published range.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from nesting.pieces.outline import NO_ALLOWANCE, Allowance, AllowanceState, EdgeKind
from nesting.pieces.piece import Piece

INCH_MM: Final = 25.4

SEAMS_MM: Final[Mapping[str, float]] = MappingProxyType(
    {
        "home sewing": 5 / 8 * INCH_MM,
        "trade": 10.0,
        "construction": 1 / 2 * INCH_MM,
        "curved or enclosed": 1 / 4 * INCH_MM,
        "zip": 3 / 4 * INCH_MM,
        "overlocked": 3 / 8 * INCH_MM,
        "quilting": 1 / 4 * INCH_MM,
    }
)
"""Seam allowances by use, mm."""

HEMS_MM: Final[Mapping[str, float]] = MappingProxyType(
    {
        "blouse tucked in": 3 / 8 * INCH_MM,
        "blouse worn out": 9 / 16 * INCH_MM,
        "coat or jacket": 7 / 4 * INCH_MM,
        "dress": 7 / 4 * INCH_MM,
        "trousers, women's": 15 / 16 * INCH_MM,
        "trousers, men's": 2 * INCH_MM,
        "shirt": 1 / 2 * INCH_MM,
        "shorts": 15 / 16 * INCH_MM,
        "top": 1 * INCH_MM,
        "skirt, full or flared": 5 / 16 * INCH_MM,
        "skirt, straight or A-line": 5 / 2 * INCH_MM,
    }
)
"""Hem depths by garment, mm."""


def allowances_by_kind(seam_mm: float, hem_mm: float) -> dict[EdgeKind, Allowance]:
    """What each kind of edge has added, where nothing else is said."""
    return {
        EdgeKind.SEAM: Allowance(AllowanceState.ADD, seam_mm),
        EdgeKind.HEM: Allowance(AllowanceState.ADD, hem_mm),
        EdgeKind.FINISHED: NO_ALLOWANCE,
        EdgeKind.FOLD: NO_ALLOWANCE,
    }


def with_defaults(piece: Piece, defaults: Mapping[EdgeKind, Allowance], *overridden: str) -> Piece:
    """The piece with every edge's allowance set by its kind, but for the edges named
    ``overridden``, which keep their own."""
    return replace(
        piece,
        edges=tuple(
            e if e.name in overridden else replace(e, allowance=defaults.get(e.kind, e.allowance))
            for e in piece.edges
        ),
    )
