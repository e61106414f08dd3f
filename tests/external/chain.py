"""The whole chain on pieces in inches: piece -> cut piece -> lay -> layout -> estimate, by steps."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.answer import Answer
from nesting.cloth import Cloth, Fold
from nesting.engine.problem import Budget
from nesting.pieces.piece import Count, GrainRule, Piece, Style
from nesting.units import INCH_MM
from service.pipeline import cut_style, finish, lay_for, plan, solve
from tests.nesting.making import polygon_piece, rectangle

NAIL_IN = 2.25
"""The cloth yard halves down to the nail, a sixteenth: 2 1/4 in."""

ROUNDING_IN = 1e-3
"""A fortieth of a millimetre: rounding to the engine's grid at every contact along the cloth."""


def box(
    name: str, across_in: float, along_in: float, many: int = 1, *, add_in: float = 0.0
) -> Piece:
    """A rectangle, cut size, straight grain, half turns free."""
    return rectangle(
        name, across_in * INCH_MM, along_in * INCH_MM, count=Count(many), add=add_in * INCH_MM
    )


def shape(
    name: str,
    points_in: Sequence[tuple[float, float]],
    *,
    count: Count | None = None,
    fold: int | None = None,
    rule: GrainRule = GrainRule.EITHER_WAY,
    add_in: float = 0.0,
) -> Piece:
    """A piece from typed points, cut size; edge ``fold`` (from the end when negative) is its fold."""
    fold = fold if fold is None else fold % len(points_in)
    points = [(x * INCH_MM, y * INCH_MM) for x, y in points_in]
    return polygon_piece(name, points, count=count, fold=fold, rule=rule, add=add_in * INCH_MM)


def answer(
    pieces: Sequence[Piece],
    width_in: float,
    *,
    fold: Fold = Fold.OPEN,
    steps: int = 200,
    copies: int = 1,
    nap: bool = False,
) -> Answer:
    """The answer for cloth whose whole width may be used and whose ends need no squaring: the
    books count neither."""
    cloth = Cloth(width_mm=width_in * INCH_MM, selvedge_mm=0, end_allowance_mm=0, nap=nap)
    cut = cut_style(Style("from a book", tuple(pieces)))
    planned = plan(lay_for(cut, cloth, fold, copies=copies))
    return finish(cut, planned, solve(planned, seed=1, budget=Budget(steps=steps)))


def length_in(pieces: Sequence[Piece], width_in: float, **how: object) -> float:
    """Length of cloth the layout takes, inches; never below the floor that is proved for it."""
    layout = answer(pieces, width_in, **how).layout  # type: ignore[arg-type]
    assert layout.floor_mm <= layout.length_mm + 1e-6
    return layout.length_mm / INCH_MM
