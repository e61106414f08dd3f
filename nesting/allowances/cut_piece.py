"""What the shears follow: a piece with its cut line and the marks carried to it. Values only."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.findings import Finding
from nesting.pieces.piece import Mark, Piece, Point
from nesting.polygon import FloatArray


@dataclass(frozen=True, slots=True)
class CutNotch:
    """A notch as snipped: from ``at`` on the cut line to ``tip`` inside, square to the edge, mm."""

    at: Point
    tip: Point
    marks: int = 1
    name: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class CutPiece:
    """A piece and its cut line, in the piece's own frame (mm, y up, right side).

    ``cut_line`` and ``net_line`` are closed (N, 2), counter-clockwise. ``fold`` is the (2, 2) fold
    edge on the cut line, start to end, of a half piece; None for a whole one. ``runs`` are the open
    stretches of cut line with the name of the edge that made each.
    """

    piece: Piece
    cut_line: FloatArray
    net_line: FloatArray
    fold: FloatArray | None = None
    notches: tuple[CutNotch, ...] = ()
    marks: tuple[Mark, ...] = ()
    findings: tuple[Finding, ...] = ()
    runs: tuple[tuple[str, FloatArray], ...] = ()
