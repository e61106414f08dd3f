"""A remnant with bites cut out of it holds what an expert cut from it.

Source: see drafts_1838, plate 16 fig. 2-3, boy's pinafore: once its breadth and half breadth are cut out
of the 26 nails that the book gives, all its small pieces must come out of what is left.
"""

from __future__ import annotations

import pytest

from nesting.cloth import Cloth, Fold, Spot, SpotKind
from nesting.engine.improve import improve
from nesting.engine.problem import Budget, Problem, Solution
from nesting.estimate import length_within
from nesting.invariants import violations_of
from nesting.lay.lay import Lay
from nesting.lay.spread import spread
from nesting.lay.within import within
from nesting.layout import Layout
from nesting.pieces.piece import Count
from tests.external.drafts_1838 import A7, NAIL_MM
from tests.nesting.making import halves_and_wholes, rectangle

pytestmark = pytest.mark.external

CUT_BEFORE = ("breadth", "half breadth")
SMALL = [
    rectangle(name, across * NAIL_MM, along * NAIL_MM, count=Count(count, 0))
    for name, (across, along, count) in A7.pieces.items()
    if name not in CUT_BEFORE
]


def laid(nails: float) -> Layout:
    bites = (
        Spot(SpotKind.MISSING, 0.0, 13 * NAIL_MM),
        Spot(SpotKind.MISSING, 13 * NAIL_MM, 26 * NAIL_MM, 0.0, 7.5 * NAIL_MM),
    )
    cloth = Cloth(
        width_mm=A7.width * NAIL_MM,
        selvedge_mm=0.0,
        end_allowance_mm=0.0,
        available_mm=nails * NAIL_MM,
        spots=bites,
    )
    halves, wholes = halves_and_wholes(SMALL)

    def search(problem: Problem) -> Solution:
        return improve(problem, seed=1, budget=Budget(steps=3000))

    plan = spread(Lay(cloth, Fold.OPEN, tuple(halves.values())))
    layout, _ = within(plan, length_within(nails * NAIL_MM, cloth), search)
    assert list(violations_of(layout, halves, wholes)) == []
    return layout


def test_the_small_pieces_come_out_of_what_the_breadths_leave() -> None:
    assert A7.stated == 26
    layout = laid(A7.stated)
    assert layout.not_laid == ()
    assert all(p.cut_line[:, 0].min() >= 13 * NAIL_MM - 0.05 for p in layout.placed)
    assert all(p.cut_line[:, 1].min() >= 7.5 * NAIL_MM - 0.05 for p in layout.placed)


def test_a_piece_of_cloth_that_is_smaller_than_them_does_not_hold_them() -> None:
    area = sum(p[0] * p[1] * p[2] for n, p in A7.pieces.items() if n not in CUT_BEFORE)
    nails = 13 + area / 7.5 - 0.5
    assert laid(nails).not_laid != ()
