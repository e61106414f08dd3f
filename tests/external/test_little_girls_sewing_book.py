"""Work apron: *The Little Girl's Sewing Book*, edited by Flora Klickmann, about 1915 (year from memory;
Project Gutenberg 49157). Stated: 1 yd; the width is not given and must be at least 26 in. Band the full
width x 4, apron 20 x 32, two pockets 6 x 6 from the strip beside it; hems inside. Inches."""

from __future__ import annotations

import pytest

from nesting.pieces.piece import Piece
from tests.external.chain import ROUNDING_IN, box, length_in

pytestmark = pytest.mark.external


def pieces(width: float) -> list[Piece]:
    return [box("Band", width, 4), box("Apron", 20, 32), box("Pocket", 6, 6, 2)]


@pytest.mark.parametrize("width", [26.0, 27.0, 36.0])
def test_a_yard_is_enough(width: float) -> None:
    assert length_in(pieces(width), width) == pytest.approx(36.0, abs=ROUNDING_IN)


def test_an_inch_less_width_and_the_pockets_no_longer_lie_beside() -> None:
    assert length_in(pieces(25), 25) > 40
