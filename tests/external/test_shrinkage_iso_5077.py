"""Shrinkage: ISO 5077:2007 states the change as (after - before) / before x 100, length and width
apart, negative when the cloth shrinks (AATCC TM135-2018 likewise). A cloth sold is a cloth before
the wash, so what must be bought is what is wanted over (1 - s)."""

from __future__ import annotations

import pytest

from nesting.cloth import Cloth
from nesting.estimate import estimate, length_within

pytestmark = pytest.mark.external


def iso_5077_change_percent(before_mm: float, after_mm: float) -> float:
    """The standard's own formula."""
    return (after_mm - before_mm) / before_mm * 100


@pytest.mark.parametrize(("change", "needed"), [(-5.0, 1052.63), (-8.0, 1086.96)])
def test_a_metre_that_shrinks(change: float, needed: float) -> None:
    # Allowance rule "new = wanted / (1 - s)": 105.263 cm and 108.696 cm for 100 cm.
    cloth = Cloth(shrink_along=-change / 100, end_allowance_mm=0)
    need = estimate(1000.0, 0.0, cloth).need_mm
    assert need == pytest.approx(needed, abs=5e-3)
    assert iso_5077_change_percent(need, 1000.0) == pytest.approx(change)
    assert length_within(need, cloth) == pytest.approx(1000.0)


def test_multiplying_instead_of_dividing_would_fall_short() -> None:
    # A published calculator page multiplies by (1 + s): 105.0 cm, too short by 2.6 mm a metre.
    cloth = Cloth(shrink_along=0.05, end_allowance_mm=0)
    need = estimate(1000.0, 0.0, cloth).need_mm
    assert need - 1050.0 == pytest.approx(2.63, abs=5e-3)
    assert length_within(1050.0, cloth) < 1000.0


def test_length_and_width_shrink_apart() -> None:
    cloth = Cloth(width_mm=1500, selvedge_mm=0, shrink_along=0.03, shrink_across=0.02)
    assert iso_5077_change_percent(1500, cloth.usable_width_mm) == pytest.approx(-2.0)
    assert estimate(970.0, 0.0, cloth).terms[1].total_mm == pytest.approx(1010.0)
    assert estimate(970.0, 0.0, cloth).need_mm == pytest.approx(1010 / 0.97)
