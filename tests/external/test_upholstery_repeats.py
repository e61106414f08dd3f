"""Extra cloth for a repeat: a slip-cover workroom's chart (grade B). Vertical and horizontal repeat are
added up; the row of the cloth's width then gives a share of the plain cloth. Its example: 10 + 17 = 27 in
on 54 in cloth is 20 %, so 8 yd become 9.6 yd.

We cut up to whole repeats instead of adding a share, so the chart is a yardstick of the right size,
not a value to meet: cuts of every length between 20 and 40 in (common for seats, backs, arms) waste on
average what the chart adds, give or take half of it.
"""

from __future__ import annotations

import pytest

from nesting.lengths import length_to_repeat
from nesting.units import INCH_MM, parse_length

pytestmark = pytest.mark.external

BANDS_IN = ((0, 2), (3, 14), (15, 19), (20, 27), (28, 36), (37, 45), (46, 54))
SHARES_54_IN = (0.0, 0.10, 0.15, 0.20, 0.25, 0.30, 0.35)
SHARES_50_52_IN = (0.10, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45)

CUTS_MM = [tenth / 10 * INCH_MM for tenth in range(200, 401)]


def share_on_54(repeats_in: float) -> float:
    """The chart's share for the sum of both repeats."""
    return next(
        share
        for (low, high), share in zip(BANDS_IN, SHARES_54_IN, strict=True)
        if low <= repeats_in <= high
    )


def test_the_charts_example() -> None:
    assert share_on_54(10 + 17) == 0.20
    assert parse_length("8 yd") * (1 + share_on_54(27)) == pytest.approx(parse_length("9.6 yd"))


def test_narrow_cloth_takes_a_tenth_more_throughout() -> None:
    gaps = [n - w for n, w in zip(SHARES_50_52_IN, SHARES_54_IN, strict=True)]
    assert gaps == pytest.approx([0.10] * len(gaps))


@pytest.mark.parametrize("both_in", [12, 18, 24, 27, 36, 45])
def test_cutting_to_whole_repeats_wastes_what_the_chart_adds(both_in: float) -> None:
    repeat = both_in / 2 * INCH_MM  # the chart adds both repeats; equal ones are the plainest case
    cut = sum(length_to_repeat(mm, repeat) for mm in CUTS_MM)
    waste = cut / sum(CUTS_MM) - 1
    assert 0.5 <= waste / share_on_54(both_in) <= 1.5
