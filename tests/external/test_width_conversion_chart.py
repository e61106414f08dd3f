"""The fabric conversion chart printed in U.S. sewing material for decades (three web copies, grade
B/C, alike cell for cell; its origin is not documented). Each row is "the same garment".

It is a rule of thumb with rounded cells, so it bounds areas, never a layout exactly.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from nesting.cloth import Cloth, Fold
from nesting.engine.problem import Budget
from nesting.errors import LayError
from nesting.units import INCH_MM, YARD_MM, parse_length
from service.demo import FOLDER
from service.formats.piece_sheet import read_piece_sheet
from service.pipeline import cut_style, finish, lay_for, plan, solve

pytestmark = pytest.mark.external

WIDTHS_IN = (36, 39, 41, 45, 50, 54, 60, 66)
"""Upper end of each width class: 35-36, 39, 41, 44-45, 50, 52-54, 58-60, 66."""

CHART = """\
1 3/4,1 1/2,1 1/2,1 3/8,1 1/4,1 1/8,1,7/8
2,1 3/4,1 3/4,1 5/8,1 1/2,1 3/8,1 1/4,1 1/8
2 1/4,2,2,1 3/4,1 5/8,1 1/2,1 3/8,1 1/4
2 1/2,2 1/4,2 1/4,2 1/8,1 3/4,1 3/4,1 5/8,1 1/2
2 7/8,2 1/2,2 1/2,2 1/4,2,1 7/8,1 3/4,1 5/8
3 1/8,2 3/4,2 3/4,2 1/2,2 1/4,2,1 7/8,1 3/4
3 3/8,3,2 7/8,2 3/4,2 3/8,2 1/4,2,1 7/8
3 3/4,3 1/4,3 1/8,2 7/8,2 5/8,2 3/8,2 1/4,2 1/8
4 1/4,3 1/2,3 3/8,3 1/8,2 3/4,2 5/8,2 3/8,2 1/4
4 1/2,3 3/4,3 5/8,3 3/8,3,2 3/4,2 5/8,2 1/2
4 3/4,4,3 7/8,3 5/8,3 1/4,2 7/8,2 3/4,2 5/8
5,4 1/4,4 1/8,3 7/8,3 3/8,3 1/8,2 7/8,2 3/4"""
"""Yards needed, one garment a row."""

AREA_BAND = (0.88, 1.13)
"""Area of a cell over that of another of its row, as the chart itself has it: 0.88 and its inverse."""

ROWS = [[parse_length(cell, unit="yd") for cell in row.split(",")] for row in CHART.splitlines()]


def test_every_cell_is_read_as_eighths_of_a_yard() -> None:
    assert len(ROWS) == 12
    assert all(len(row) == len(WIDTHS_IN) for row in ROWS)
    assert ROWS[0][0] == pytest.approx(1.75 * YARD_MM)
    assert ROWS[3][3] == pytest.approx(2.125 * YARD_MM)
    for row in ROWS:
        assert all(
            (Fraction(mm).limit_denominator(1000) * 8 / Fraction("914.4")) % 1 == 0 for mm in row
        )


def test_wider_cloth_never_needs_more_and_a_bigger_garment_always_does() -> None:
    for row in ROWS:
        assert row == sorted(row, reverse=True)
    for column in zip(*ROWS, strict=True):
        assert list(column) == sorted(set(column))


def test_the_chart_keeps_to_its_area_band() -> None:
    for row in ROWS:
        areas = [mm * w * INCH_MM for mm, w in zip(row, WIDTHS_IN, strict=True)]
        assert AREA_BAND[0] - 5e-3 <= min(areas) / max(areas) <= 1
        assert all(0.885 <= a / areas[0] <= 1.105 for a in areas)


def test_a_second_reading_of_the_chart() -> None:
    # Another page of the same chart: 2 yd of 36 = 1 5/8 yd of 45 = 1 3/8 yd of 54;
    # 2 yd of 60 = 2 3/4 yd of 45.
    at = {w: i for i, w in enumerate(WIDTHS_IN)}
    assert [ROWS[1][at[w]] / YARD_MM for w in (36, 45, 54)] == pytest.approx([2, 1.625, 1.375])
    row = next(r for r in ROWS if r[at[60]] == pytest.approx(2 * YARD_MM))
    assert row[at[45]] / YARD_MM == pytest.approx(2.75)


@pytest.fixture(scope="module")
def laid_yards() -> dict[int, float]:
    """Three pairs of the demo wardrobe's breeches, laid open on four widths, yards by width."""
    breeches = (FOLDER / "breeches.json").read_bytes()
    cut = cut_style(read_piece_sheet(breeches, source="breeches.json")[0])
    laid = {}
    for width in (36, 45, 54, 60):
        cloth = Cloth(width_mm=width * INCH_MM, selvedge_mm=0, end_allowance_mm=0)
        planned = plan(lay_for(cut, cloth, Fold.OPEN, copies=3))
        layout = finish(cut, planned, solve(planned, seed=1, budget=Budget(steps=6000))).layout
        laid[width] = layout.length_mm / YARD_MM
    return laid


def test_a_real_lay_keeps_to_the_charts_area_band(laid_yards: dict[int, float]) -> None:
    # Small pieces, so that none stops fitting side by side (else the chart may jump).
    areas = [width * yards for width, yards in laid_yards.items()]
    assert AREA_BAND[0] <= min(areas) / max(areas)


def test_the_chart_cannot_help_when_a_piece_is_wider_than_the_cloth() -> None:
    # Said beside the chart: then no length will do, whatever the areas say.
    cut = cut_style(read_piece_sheet((FOLDER / "cloak.json").read_bytes(), source="cloak.json")[0])
    with pytest.raises(LayError, match=r"Back is 137\d mm across") as caught:
        plan(lay_for(cut, Cloth(width_mm=45 * INCH_MM), Fold.OPEN))
    assert caught.value.code == "too_wide"
