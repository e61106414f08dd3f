"""Squares and strips from a width: charts of quilting shops and guilds (grade B/C, recomputed), pillow
tables of a web article and of a sewing primer's cheat sheet (Saunders Maresh). Inches.

What is a layout question is laid by the engine; what is a count of strips is counted.
"""

from __future__ import annotations

import pytest

from nesting.engine.improve import first_layout
from nesting.engine.problem import Item, Problem
from nesting.lengths import whole_lengths, widths_needed
from nesting.pieces.piece import Count, GrainRule, Piece
from nesting.polygon import as_points
from nesting.units import INCH_MM, YARD_MM
from tests.external.chain import ROUNDING_IN, box, length_in, shape

pytestmark = pytest.mark.external

CHART_YD = (1 / 8, 1 / 4, 1 / 3, 3 / 8, 1 / 2, 5 / 8, 2 / 3, 3 / 4, 7 / 8, 1)


def yield_of(square_in: float, width_in: float, length_in: float) -> int:
    """How many squares the engine lays on a piece of cloth of that size."""
    s = square_in * INCH_MM
    many = int(width_in * length_in / square_in**2) + 2
    item = Item("square", as_points([(0, 0), (s, 0), (s, s), (0, s)]), count=many)
    problem = Problem(width_in * INCH_MM, (item,), length=length_in * INCH_MM)
    if length_in < square_in:
        return 0  # the engine refuses an item that is larger than its container
    return len(first_layout(problem).placements)


@pytest.mark.parametrize(
    ("square", "printed"),
    [
        # Square chart on 44 in washed cloth: every cell is floor(44 / s) x floor(L / s).
        (5.0, (0, 8, 16, 16, 24, 32, 32, 40, 48, 56)),
        (6.5, (0, 6, 6, 12, 12, 18, 18, 24, 24, 30)),
    ],
)
def test_squares_from_44_inch_cloth(square: float, printed: tuple[int, ...]) -> None:
    assert tuple(yield_of(square, 44, yd * 36) for yd in CHART_YD) == printed


def test_an_exact_multiple_loses_no_row() -> None:
    # The chart prints 96 squares of 3 1/2 from 7/8 yd, a row kept back; 31.5 / 3.5 is 9 exactly.
    assert whole_lengths(7 / 8 * YARD_MM, 3.5 * INCH_MM)[0] == 9
    assert yield_of(3.5, 44, 31.5) == 108


def test_a_printed_cell_that_cannot_be() -> None:
    # The chart prints 6 squares of 12 in from 1/2 yd: 864 sq in from 792.
    assert yield_of(12, 44, 18) == 3


def test_binding_strips() -> None:
    # Quilting shop blog: 66 x 58 + 20 = 268 in of strips 40 long, 2 1/2 wide -> 7 strips, 17.5 in.
    strips = widths_needed((2 * (66 + 58) + 20) * INCH_MM, 40 * INCH_MM)
    assert strips == 7
    assert strips * 2.5 == 17.5
    # Guild blog: 50 x 60, cloth 40, 2 in of each strip lost to joins -> 6.
    assert widths_needed(2 * (50 + 60) * INCH_MM, 40 * INCH_MM, join_mm=2 * INCH_MM) == 6


@pytest.mark.parametrize(
    ("side", "widths"), [(60, 2), (72, 2), (78, 2), (81, 3), (96, 3), (110, 3)]
)
def test_backing(side: int, widths: int) -> None:
    # Guild newsletter 2012: side up to 80: (side + 6) x 2 / 36 yd; both over 80: x 3; cloth 42 usable.
    assert widths_needed((side + 6) * INCH_MM, 42 * INCH_MM) == widths


def test_area_is_not_length() -> None:
    # Calculator page: a backing of 50 x 70 "takes 111 yd", an area divided by 36. Two widths do.
    widths = widths_needed(50 * INCH_MM, 44 * INCH_MM)
    assert widths * 70 * INCH_MM / YARD_MM == pytest.approx(3.89, abs=0.01)


def covers(width: float, height: float, *, seam: float = 0.5) -> Piece:
    """Both sides of a pillow: plain cloth, so they may be turned by a quarter."""
    w, h = width + 2 * seam, height + 2 * seam
    corners = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]
    return shape("Cover", corners, count=Count(2), rule=GrainRule.QUARTER_TURNS)


def test_a_pillow_from_half_a_yard_on_any_bolt() -> None:
    # Web article: 14 in pillow, 1/2 in seams: two squares of 15, buy 1/2 yd.
    for bolt in (36, 44, 54, 60):
        assert length_in([box("Cover", 15, 15, 2)], bolt) == pytest.approx(15, abs=ROUNDING_IN)


@pytest.mark.parametrize(
    ("width", "height", "yards"),
    [
        # Cheat sheet, 54 in cloth, no matching
        (14, 14, 1 / 2), (16, 16, 1 / 2), (18, 18, 5 / 8), (20, 20, 3 / 4),
        (20, 26, 5 / 8),  # only if all 54 in are usable: 27 + 27
        (20, 30, 1 + 1 / 8), (20, 36, 1 + 1 / 4),  # only turned: 31 and 37 in long
    ],
)  # fmt: skip
def test_pillows_of_the_cheat_sheet(width: float, height: float, yards: float) -> None:
    assert length_in([covers(width, height)], 54) <= yards * 36 + ROUNDING_IN


@pytest.mark.parametrize(("side", "needed", "printed_yd"), [(12, 13, 1 / 3), (30, 62, 1)])
def test_pillows_that_the_cheat_sheet_cuts_too_short(
    side: int, needed: float, printed_yd: float
) -> None:
    length = length_in([box("Cover", side + 1, side + 1, 2)], 54)
    assert length == pytest.approx(needed, abs=ROUNDING_IN)
    assert length > printed_yd * 36


def test_a_box_cushion() -> None:
    # Common practice: 24 x 24 x 4, seams 1/2: panels 25 x 25 two across, bands 25 x 5 two across.
    pieces = [box("Panel", 25, 25, 2), box("Band", 25, 5, 4)]
    assert length_in(pieces, 54) == pytest.approx(35, abs=ROUNDING_IN)
