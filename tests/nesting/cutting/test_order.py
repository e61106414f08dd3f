from __future__ import annotations

from nesting.cloth import Cloth, Fold
from nesting.cutting.order import cutting_order
from nesting.cutting.windows import crossing, shown, windows
from nesting.engine.improve import first_layout
from nesting.lay.build import layout_of
from nesting.lay.lay import Lay
from nesting.lay.spread import spread
from nesting.layout import Layout
from nesting.pieces.piece import PAIR
from tests.nesting.making import halves_and_wholes, rectangle


def layout() -> Layout:
    pieces = (
        rectangle("Skirt", 480, 900, count=PAIR),
        rectangle("Band", 60, 700, count=PAIR),
        rectangle("Tab", 50, 80),
    )
    halves, _ = halves_and_wholes(pieces)
    plan = spread(Lay(Cloth(width_mm=1224), Fold.LENGTHWISE, tuple(halves.values())))
    return layout_of(plan, tuple(first_layout(s.problem) for s in plan.strips))


def test_folded_pieces_come_first_and_large_before_small() -> None:
    laid = layout()
    assert [laid.placed[i].piece for i in cutting_order(laid)] == ["Skirt", "Band", "Tab"]


def test_a_piece_waits_for_the_window_that_finishes_it() -> None:
    laid = layout()
    parts = windows(laid.length_mm, 600, lit_along_mm=800, lit_across_mm=700)
    skirt = next(i for i, p in enumerate(laid.placed) if p.piece == "Skirt")
    assert skirt in crossing(parts[0], laid.placed)
    assert skirt in shown(parts[1], laid.placed)
    names = [laid.placed[i].piece for i in cutting_order(laid, parts)]
    assert names.index("Band") < names.index("Skirt")


def test_every_piece_is_in_the_order_once() -> None:
    laid = layout()
    assert sorted(cutting_order(laid)) == list(range(len(laid.placed)))
