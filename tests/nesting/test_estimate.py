from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.cloth import Cloth, ShopStep, check_cloth
from nesting.errors import ClothError
from nesting.estimate import estimate, length_within, round_up_to_step
from nesting.units import YARD_MM

EIGHTH = ShopStep(YARD_MM / 8, unit="yd")


def test_each_term_is_a_line_and_they_add_up() -> None:
    cloth = Cloth(shrink_along=0.05, repeat_along_mm=60, end_allowance_mm=25, price_per_m=20)
    e = estimate(950.0, 900.0, cloth, matched=True)
    assert [t.code for t in e.terms] == ["length", "ends", "shrinkage", "repeat", "step"]
    assert e.need_mm == pytest.approx((950 + 50) / 0.95 + 60)
    assert e.buy_mm == 1200.0
    assert sum(t.mm for t in e.terms) == pytest.approx(e.buy_mm)
    assert e.buy_text == "1.20 m"
    assert e.price == pytest.approx(24.0)


def test_exact_multiples_gain_no_step() -> None:
    assert round_up_to_step(2.25 * YARD_MM, EIGHTH) == pytest.approx(2.25 * YARD_MM)
    assert round_up_to_step(1500.0, ShopStep(100.0)) == 1500.0
    assert round_up_to_step(1500.1, ShopStep(100.0)) == 1600.0
    assert round_up_to_step(0.0, ShopStep(100.0)) == 0.0
    assert round_up_to_step(30.0, ShopStep(10.0, minimum_mm=250.0)) == 250.0


@given(st.floats(0.01, 1e5), st.sampled_from([ShopStep(100.0), EIGHTH, ShopStep(250.0)]))
def test_rounding_covers_the_need_and_is_idempotent(need: float, step: ShopStep) -> None:
    bought = round_up_to_step(need, step)
    assert need - 1e-3 <= bought < need + step.step_mm + 1e-6
    assert round_up_to_step(bought, step) == pytest.approx(bought)


def test_the_cloth_one_owns_is_the_estimate_turned_round() -> None:
    cloth = Cloth(shrink_along=0.03, end_allowance_mm=20)
    need = estimate(1234.0, 0.0, cloth).need_mm
    assert length_within(need, cloth) == pytest.approx(1234.0)


def test_a_cloth_with_nothing_left_is_refused() -> None:
    with pytest.raises(ClothError, match="usable width"):
        check_cloth(Cloth(width_mm=20))
    with pytest.raises(ClothError) as caught:
        check_cloth(replace(Cloth(), shrink_along=0.7))
    assert caught.value.where == "shrink_along"
