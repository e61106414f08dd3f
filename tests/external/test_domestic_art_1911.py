"""Gingham apron and drawers with ruffle: Carrie Crane Ingalls, *Text-Book on Domestic Art*, San
Francisco, Foster & ten Bosch, 1911. Inches; a generous expert: "no more than" only."""

from __future__ import annotations

import pytest

from nesting.pieces.piece import PAIR, Piece
from tests.external.chain import ROUNDING_IN, box, length_in, shape

pytestmark = pytest.mark.external


def leg(seam: float) -> Piece:
    """The opened leg, curves of the fork drawn straight (which only makes it larger)."""
    back = [(12.0, 0.0), (17.0, 17 / 3), (12.0, 19.0)]
    front = [(-10.0, 16.0), (-17.0, 17 / 3), (-12.0, 0.0)]
    return shape("Leg", [*back, (0.0, 17.0), *front], count=PAIR, add_in=seam)


def test_apron_from_two_and_a_half_yards() -> None:
    # Stated: 90 in of 36 in cloth. Areas alone need 69.44.
    pieces = [box("Breadth", 33.5, 35), box("Belt", 2.5, 27), box("Half", 18, 35, 2)]
    assert 69.44 <= length_in(pieces, 36) <= 90
    assert length_in(pieces, 36) == pytest.approx(70.0, abs=ROUNDING_IN)


@pytest.mark.parametrize("seam", [3 / 8, 3 / 4])
def test_drawers_from_a_yard_and_three_quarters(seam: float) -> None:
    # Stated: 63 in of 36 in cloth. The leg was made 34 wide to fit unpieced: with 3/4 in seams it is
    # 35.5 and must still not be refused. Band and placket sizes are assumed, as is the ruffles' hem.
    pieces = [
        leg(seam),
        box("Ruffle", 36, 6.5, 2),
        box("Band", 2.5, 26, 2),
        box("Placket", 2, 15, 2),
    ]
    length = length_in(pieces, 36, steps=2000)
    assert length >= 41.4
    if seam == 3 / 8:
        assert length <= 63
