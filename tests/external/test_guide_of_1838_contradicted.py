"""Two figures of *The Workwoman's Guide* (By a Lady, London, 1838; Project Gutenberg 75494) that cannot
be: cloth of the stated length does not hold the pieces of its own scale. Lengths in nails of 2 1/4 in;
sizes are cut sizes, straight grain, no quarter turns."""

from __future__ import annotations

import pytest

from nesting.pieces.piece import Piece
from nesting.units import INCH_MM
from tests.external.chain import NAIL_IN, ROUNDING_IN, answer, box, length_in

pytestmark = pytest.mark.external


def nails(name: str, across: float, along: float, many: int = 1) -> Piece:
    return box(name, across * NAIL_IN, along * NAIL_IN, many)


SHIRT = [
    # Plate 17, "man small", cloth 13.5 nails, stated 52 nails = 117 in
    nails("body", 13.5, 34), nails("sleeve", 7.5, 7, 2), nails("binder", 3, 11, 2),
    nails("collar", 3, 8), nails("wristband", 2.5, 4, 2), nails("strap", 1.25, 4, 2),
    nails("sleeve-gusset", 3, 3, 2), nails("neck-gusset", 2, 2), nails("bosom gusset", 0.5, 0.5),
    nails("hip gusset", 1, 1, 2), nails("wrist gusset", 0.5, 0.5, 2),
]  # fmt: skip


def pinafore(sleeve: float) -> list[Piece]:
    # Plate 16 Fig. 8, calico of 1 yd, stated 53.5 nails = 120.375 in
    return [
        nails("breadth", 16, 20, 2), nails("sleeve", sleeve, 9.5, 2), nails("gusset", 4, 4, 2)
    ]  # fmt: skip


def test_the_small_mans_shirt_is_larger_than_its_cloth() -> None:
    laid = answer(SHIRT, 13.5 * NAIL_IN, steps=120)
    stated, area = 117.0, 118.1
    assert laid.layout.length_mm / INCH_MM >= area
    # The floor alone proves it, whatever the search finds.
    assert laid.layout.floor_mm / INCH_MM >= area > stated


def test_the_housemaids_sleeves_do_not_lie_side_by_side() -> None:
    assert length_in(pinafore(9), 36) == pytest.approx(132.75, abs=ROUNDING_IN)


def test_with_the_sleeves_the_figure_assumes_it_is_right() -> None:
    assert length_in(pinafore(8), 36) == pytest.approx(120.375, abs=ROUNDING_IN)
