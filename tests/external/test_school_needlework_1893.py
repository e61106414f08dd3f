"""Child's drawers, age 8 (Fig. 106), and the two-breadth apron: Olive C. Hapgood, *School Needlework*,
Boston, Ginn, 1893. Seams inside, inches. The drawers' width of cloth is not given; 36 in is the book's
usual muslin (from memory), and the bindings beside the legs need 34."""

from __future__ import annotations

import pytest

from nesting.pieces.piece import Count
from service.demo.draft import curve, trace
from tests.external.chain import ROUNDING_IN, box, length_in, shape

pytestmark = pytest.mark.external


@pytest.mark.parametrize("width", [30.0, 36.0, 45.0])
def test_apron_takes_81_inches_on_any_width(width: float) -> None:
    # Stated: 2 1/4 yd = 81 in; two lengths of 40.5, one parted into side, band 3 wide, side.
    side = (width - 3) / 2
    pieces = [box("Front", width, 40.5), box("Side", side, 40.5, 2), box("Band", 3, 40.5)]
    assert length_in(pieces, width) == pytest.approx(81.0, abs=ROUNDING_IN)


def test_drawers_take_no_more_than_a_yard_and_a_quarter() -> None:
    # Stated: 1 1/4 yd = 45 in; +2 % for the drawing's curves.
    inner = trace(curve("", (14, 9.5), (10.6, 6.3), (8.5, 2)))[:-1:8]
    half = [(9.3, 0.0), (8.5, 2.0), *reversed(inner), (10, 22), (0, 19)]
    other = [(-x, y) for x, y in reversed(half[:-1])]
    leg = shape("Leg", [*half, *other], count=Count(2))
    length = length_in([leg, box("Binding", 3, 12, 2)], 36)
    assert 27.7 <= length <= 45 * 1.02
