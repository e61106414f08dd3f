"""Cloth is sold by steps: eighths, quarters, halves of a yard (U.S. shops); quarter and half metres
(UK and Australian shops), some by the centimetre; 10 cm in metric shops (common practice, no source).

An exact multiple of the step gains none: 2.25 yd stays 2.25, and 0.9144 m is exactly 1 yd.
"""

from __future__ import annotations

import pytest

from nesting.cloth import ShopStep
from nesting.estimate import round_up_to_step
from nesting.units import YARD_MM, show_cloth_length

pytestmark = pytest.mark.external


@pytest.mark.parametrize("parts", [8, 4, 2, 1])
def test_every_multiple_of_a_part_of_a_yard_stays_what_it_is(parts: int) -> None:
    step = ShopStep(YARD_MM / parts, unit="yd")
    for n in range(1, 400):
        assert round_up_to_step(n * YARD_MM / parts, step) == pytest.approx(n * YARD_MM / parts)


@pytest.mark.parametrize("step_mm", [10.0, 100.0, 250.0, 500.0])
def test_every_multiple_of_a_metric_step_stays_what_it_is(step_mm: float) -> None:
    for n in range(1, 400):
        assert round_up_to_step(n * step_mm, ShopStep(step_mm)) == pytest.approx(n * step_mm)


def test_published_needs_round_as_published() -> None:
    eighth = ShopStep(YARD_MM / 8, unit="yd")
    quarter = ShopStep(YARD_MM / 4, unit="yd")
    # Costume page (C): 2 panels of 49 in are 2.72 yd -> 2 3/4 yd.
    assert _said(2 * 49, eighth) == "2 3/4 yd"
    # Craft blog 2013 (C): 187 in = 5.19 yd -> 5 1/4 yd.
    assert _said(187, eighth) == "5 1/4 yd"
    # Quilting shop blog (C): 17 1/2 in = 0.486 yd, up to the quarter -> 1/2 yd.
    assert _said(17.5, quarter) == "1/2 yd"


def _said(inches: float, step: ShopStep) -> str:
    return show_cloth_length(round_up_to_step(inches * 25.4, step), unit="yd")
