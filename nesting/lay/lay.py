"""A lay: the cloth as spread and the cut pieces it must yield, each hand counted."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.allowances.cut_piece import CutPiece
from nesting.cloth import Cloth, Fold, check_cloth
from nesting.errors import LayError
from nesting.layout import Asked
from nesting.pieces.piece import NAP_TURNS_DEG, TURNS_DEG, GrainRule, Piece


@dataclass(frozen=True, slots=True, eq=False)
class Lay:
    """``copies`` garments' worth of ``pieces`` from one ``cloth`` doubled as ``fold`` says.

    ``gap_mm`` is kept between pieces for the shears. ``fold_depth_mm`` is the depth of an
    off-centre fold.
    """

    cloth: Cloth
    fold: Fold
    pieces: tuple[CutPiece, ...]
    copies: int = 1
    gap_mm: float = 0.0
    fold_depth_mm: float | None = None


def asked(lay: Lay) -> tuple[Asked, ...]:
    """Hands asked of each piece, all garments together."""
    return tuple(
        Asked(c.piece.name, c.piece.count.drawn * lay.copies, c.piece.count.turned * lay.copies)
        for c in lay.pieces
    )


def permitted_turns(piece: Piece, cloth: Cloth) -> tuple[float, ...]:
    """Turns that the piece's grain rule and the cloth permit, degrees counter-clockwise from grain
    head towards +x."""
    return (NAP_TURNS_DEG if cloth.one_way else TURNS_DEG)[piece.grain_rule]


def check_lay(lay: Lay) -> None:
    """Raise LayError or ClothError, naming piece or field, if this lay cannot be spread at all."""
    check_cloth(lay.cloth)
    if lay.copies < 1:
        raise LayError(
            f"the number of garments must be 1 or more, got {lay.copies}", where="copies"
        )
    if not 0 <= lay.gap_mm <= 100:
        raise LayError(f"the gap must be between 0 and 100 mm, got {lay.gap_mm:g}", where="gap")
    if not lay.pieces:
        raise LayError(f"no piece is cut from {lay.cloth.role}", where=lay.cloth.role)
    names = [c.piece.name for c in lay.pieces]
    for name in names:
        if names.count(name) > 1:
            raise LayError(f"two pieces are called “{name}”", where=name, hint="Rename one.")
    for cut in lay.pieces:
        _check_piece(cut.piece)
    if lay.cloth.flaws and lay.fold is not Fold.OPEN:
        raise LayError(
            "a flaw can only be laid round on open cloth, where its ply is seen",
            where="flaws",
            hint="Spread the cloth open, right side up.",
        )
    if lay.cloth.lacks and lay.fold is Fold.CROSSWISE:
        raise LayError(
            "how far flaws and missing cloth lie from a fold across the cloth is only known once it is "
            "folded",
            where="fold",
            hint="Lay it open or fold it lengthwise.",
        )
    if lay.cloth.matched and lay.fold not in (Fold.OPEN, Fold.LENGTHWISE):
        raise LayError(
            f"stripes and checks are matched on open cloth or on a lengthwise fold, not {lay.fold}",
            where="fold",
            hint="Open is surest: each ply can be seen.",
        )
    if lay.fold is Fold.CROSSWISE and lay.cloth.nap:
        raise LayError(
            "a crosswise fold turns the nap round on the upper ply",
            where="fold",
            hint="Fold lengthwise, lay it open, or cut at the fold and turn the upper ply.",
        )


def _check_piece(piece: Piece) -> None:
    if piece.grain is None and piece.grain_rule is not GrainRule.ANY_WAY:
        raise LayError(
            f"{piece.name} has no grain line, so nobody can say how it lies on the cloth",
            where=piece.name,
            hint="Draw its grain line, or say “any way” if the grain does not matter.",
            code="no_grain",
        )
    if piece.count.total < 1:
        raise LayError(
            f"{piece.name} is asked for no times",
            where=piece.name,
            hint="Give its count: as drawn, turned over, a pair, or on the fold.",
        )
    if piece.fold_edges and piece.count.turned:
        raise LayError(
            f"{piece.name} is cut on the fold, so it has no left and right hand",
            where=piece.name,
            hint="Count it as whole pieces, or turn its fold edge into a seam.",
        )
