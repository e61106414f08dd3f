"""Which pieces lie under others in the garment: facings, linings, interfacings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import shapely

from nesting.pieces.piece import Piece

NARROW: Final = 0.6
"""A facing has less than this share of its piece's area (common practice: 5 to 8 cm of it)."""

COVERED_MM: Final = 0.5
"""A piece may stand out by so much from the one it lies on: drawing, not shape."""

UNDER_WORDS: Final = ("facing", "interfacing", "lining", "interlining", "underlining")
"""Words of a name that say that the piece lies under another one."""


def faces(first: Piece, second: Piece) -> bool:
    """Whether one piece is a narrow part of the other, in its own place: a facing. A front and a back
    drafted upon each other share an edge too, but are of one size."""
    shapes = sorted((shapely.Polygon(p.outline) for p in (first, second)), key=lambda s: s.area)
    narrow = shapes[0].area < NARROW * shapes[1].area
    return bool(narrow and shapes[1].buffer(COVERED_MM).covers(shapes[0]))


def lies_under(piece: Piece, pieces: Sequence[Piece]) -> str:
    """Why a piece is no part of the garment's outside, in words; empty if nothing says so: its name,
    what it was made from, or that it lies on another piece of its cloth in that one's own place."""
    words = piece.name.lower().split()
    # Among the pieces of a lining, a name that says lining sets none apart.
    named = next((w for w in UNDER_WORDS if w in words and w != piece.cloth.lower()), "")
    if named:
        return f"its name says {named}"
    if "facing of" in piece.origin:
        return "it was made as a facing"
    area = shapely.Polygon(piece.outline).area
    for other in pieces:
        larger = other is not piece and shapely.Polygon(other.outline).area > area
        if larger and other.cloth == piece.cloth and faces(piece, other):
            return f"it lies on {other.name}"
    return ""
