"""How many from one yard: Margaret Swanson and Ann Macbeth, *Educational Needlecraft*, 1911; Effie A.
Archer, *Needlecraft*, 1911 (both in the public domain in the US). Sizes are cut sizes, inches."""

from __future__ import annotations

import pytest

from tests.external.chain import ROUNDING_IN, answer, box, length_in

pytestmark = pytest.mark.external

YARD = [
    # Swanson and Macbeth: what a yard of 36 in cloth gives, width x length
    ("lap-bags", 2, 18.0, 36.0, 36.0),
    ("tray cloths 12 x 9", 12, 12.0, 9.0, 36.0),
    ("tray cloths 12 x 12", 9, 12.0, 12.0, 36.0),
    ("needle-cases 6 x 18", 12, 6.0, 18.0, 36.0),
    ("needle-cases 6 x 12", 18, 6.0, 12.0, 36.0),
    ("strips on 36", 3, 12.0, 36.0, 36.0),
    # the same book: a yard of 30 in cloth
    ("strips on 30", 3, 10.0, 36.0, 30.0),
]


@pytest.mark.parametrize(("what", "many", "across", "along", "width"), YARD)
def test_a_yard_yields_what_the_book_says_and_not_one_more(
    what: str, many: int, across: float, along: float, width: float
) -> None:
    full = answer([box(what, across, along, many)], width)
    assert full.layout.length_mm / 25.4 == pytest.approx(36.0, abs=ROUNDING_IN)
    assert full.utilisation == pytest.approx(1.0, abs=1e-4)
    assert length_in([box(what, across, along, many + 1)], width) > 36.0 + 1.0


@pytest.mark.parametrize(("what", "many", "across", "along", "width"), YARD)
def test_an_eighth_of_an_inch_all_round_no_longer_fits(
    what: str, many: int, across: float, along: float, width: float
) -> None:
    assert length_in([box(what, across, along, many, add_in=1 / 8)], width) > 36.0 + 1 / 8


def test_handkerchiefs_from_a_third_of_a_yard() -> None:
    # Archer: 1/3 yd of 36 in linen makes three handkerchiefs of 12 in.
    assert length_in([box("handkerchief", 12, 12, 3)], 36) == pytest.approx(12.0, abs=ROUNDING_IN)
    assert length_in([box("handkerchief", 12, 12, 4)], 36) > 13
