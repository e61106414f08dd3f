"""End loss and end bits: textile course notes. A marker of 6 m with 2 cm at each end loses 4 cm a ply,
4 m over 100 plies; a roll of 61 m yields 12 plies of a 5 m marker and leaves an end bit of 1 m.
Efficiency = areas over marker area; utilisation charges the ends and selvedges too, so it is the
lesser (attributed to Glock and Kunz, Apparel Manufacturing)."""

from __future__ import annotations

import pytest

from nesting.cloth import Cloth
from nesting.estimate import estimate
from nesting.lengths import whole_lengths

pytestmark = pytest.mark.external


def test_end_loss_of_a_ply() -> None:
    terms = {t.code: t for t in estimate(6000.0, 0.0, Cloth(end_allowance_mm=20)).terms}
    assert terms["ends"].mm == pytest.approx(40.0)
    assert terms["ends"].mm * 100 == pytest.approx(4000.0)


def test_plies_from_a_roll() -> None:
    assert whole_lengths(61_000, 5000) == (12, pytest.approx(1000.0))


def test_utilisation_is_below_efficiency() -> None:
    cloth = Cloth(width_mm=1500, selvedge_mm=12, end_allowance_mm=20)
    pieces_mm2 = 0.85 * 6000 * cloth.usable_width_mm
    efficiency = pieces_mm2 / (6000 * cloth.usable_width_mm)
    bought = estimate(6000.0, 0.0, cloth).need_mm
    assert pieces_mm2 / (bought * cloth.width_mm) < efficiency <= 1
