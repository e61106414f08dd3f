"""Circle skirts: radii and lengths of sewing blogs (grade C, recomputed), and a half measure of *A
Complete Course in Dressmaking*, vol. 5 (p. 63, early 1920s from memory).

r = girth x k / (2 pi), k = 1, 2, 3, 4 for a full, half, third, quarter circle.
"""

from __future__ import annotations

import math

import pytest

from nesting.cloth import ShopStep
from nesting.estimate import round_up_to_step
from nesting.units import INCH_MM, YARD_MM, show_cloth_length
from service.demo.draft import circle_radius

pytestmark = pytest.mark.external

EIGHTH = ShopStep(YARD_MM / 8, unit="yd")


@pytest.mark.parametrize(
    ("girth", "parts", "published", "rounding"),
    [
        # Sewing blog 2014: waist 26 in; the page cuts 8.276 off to 8.2
        (26, 1, 4.13, 0.01), (26, 2, 8.2, 0.08), (26, 3, 12.4, 0.05), (26, 4, 16.56, 0.01),
        # Sewing blog: waist 68 cm
        (68, 1, 10.8, 0.05), (68, 2, 21.6, 0.05), (68, 4, 43.3, 0.05),
    ],
)  # fmt: skip
def test_radius(girth: float, parts: int, published: float, rounding: float) -> None:
    assert circle_radius(girth, parts) == pytest.approx(published, abs=rounding)
    assert 2 * math.pi * circle_radius(girth, parts) / parts == pytest.approx(girth)


def test_a_quarter_of_the_waist_is_not_the_radius() -> None:
    # A page exists only to explain why such skirts come out too big.
    assert 2 * math.pi * (70 / 4) > 1.5 * 70
    assert circle_radius(70, 1) < 0.65 * 70 / 4


@pytest.mark.parametrize(
    ("panels", "yards", "bought"), [(2, 2.722, "2 3/4 yd"), (3, 4.083, "4 1/8 yd")]
)
def test_panels_of_49_inches(panels: int, yards: float, bought: str) -> None:
    # Costume page: 2.72 -> 2 3/4 yd; 4.08 yd, which it then calls "roughly four": 3 in short.
    need = panels * 49 * INCH_MM
    assert need / YARD_MM == pytest.approx(yards, abs=5e-4)
    buy = round_up_to_step(need, EIGHTH)
    assert show_cloth_length(buy, unit="yd") == bought
    assert buy >= need


def test_three_tiers() -> None:
    # Craft blog 2013: length 36, tiers of 36/3 + 1 = 13 in, 14 cuts and a band of 5 in: 187 in.
    need = (14 * (36 / 3 + 1) + 5) * INCH_MM
    assert need == pytest.approx(187 * INCH_MM)
    assert show_cloth_length(round_up_to_step(need, EIGHTH), unit="yd") == "5 1/4 yd"
