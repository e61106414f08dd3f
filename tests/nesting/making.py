"""Small pieces for tests: rectangles and outlines by points, made without any file."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.allowances.cut_piece import CutPiece
from nesting.allowances.make import cut_piece, unfold_cut
from nesting.pieces.outline import Allowance, AllowanceState, Edge, EdgeKind
from nesting.pieces.piece import Count, Grain, GrainRule, Notch, Piece
from nesting.polygon import as_points

UP = Grain((0, 0), (0, 100))


def polygon_piece(
    name: str,
    points: Sequence[tuple[float, float]],
    *,
    count: Count | None = None,
    add: float = 0.0,
    fold: int | None = None,
    rule: GrainRule = GrainRule.EITHER_WAY,
    grain: Grain | None = UP,
    cloth: str = "shell",
    notches: tuple[Notch, ...] = (),
) -> Piece:
    """A piece whose edges ``e0``, ``e1`` ... run from point to point; edge ``fold`` is its fold."""
    edges = []
    for i, start in enumerate(points):
        end = points[(i + 1) % len(points)]
        folded = i == fold
        allowance = Allowance(AllowanceState.ADD, add) if add and not folded else Allowance()
        kind = EdgeKind.FOLD if folded else EdgeKind.SEAM
        edges.append(Edge(f"e{i}", as_points([start, end]), kind, allowance))
    return Piece(name, tuple(edges), grain, rule, count or Count(), cloth=cloth, notches=notches)


def rectangle(name: str, across: float, along: float, **options: object) -> Piece:
    """``across`` wide (x) and ``along`` tall (y); its grain runs up."""
    points = [(0.0, 0.0), (across, 0.0), (across, along), (0.0, along)]
    return polygon_piece(name, points, **options)  # type: ignore[arg-type]


def halves_and_wholes(
    pieces: Sequence[Piece],
) -> tuple[dict[str, CutPiece], dict[str, CutPiece]]:
    """Cut pieces by name: as cut, and unfolded."""
    halves = {p.name: cut_piece(p) for p in pieces}
    return halves, {n: unfold_cut(c) if c.fold is not None else c for n, c in halves.items()}
