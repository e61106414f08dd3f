"""The international yard: 0.9144 m exactly, hence the inch 25.4 mm.

Sources: "Refinement of Values for the Yard and the Pound", Federal Register, 1 July 1959; Weights and
Measures Act 1963 (UK). The rounded centimetres are those of a sewing site's conversion table (grade
C). How cloth is measured at all (relaxed, without tension) is ISO 22198:2006, used here for the
words only.
"""

from __future__ import annotations

import pytest

from nesting.units import INCH_MM, YARD_MM, parse_length, show_cloth_length, show_length

pytestmark = pytest.mark.external


def test_yard_and_inch_are_exact() -> None:
    assert YARD_MM == 914.4
    assert INCH_MM == 25.4
    assert parse_length("1 yd") == parse_length("36 in") == parse_length("3 ft") == 914.4
    assert parse_length("0.9144 m") == pytest.approx(parse_length("1 yd"), abs=1e-9)


@pytest.mark.parametrize(
    ("yards", "rounded_cm", "exact_cm"),
    [
        # rounded: sewing site; exact: eighths of 91.44 cm
        ("1/8 yd", 11.4, 11.43),
        ("1/4 yd", 23.0, 22.86),
        ("3/8 yd", 34.25, 34.29),
        ("1/2 yd", 45.75, 45.72),
        ("5/8 yd", 57.0, 57.15),
        ("3/4 yd", 68.5, 68.58),
        ("7/8 yd", 80.0, 80.01),
        ("1 yd", 91.5, 91.44),
    ],
)
def test_eighths_of_a_yard(yards: str, rounded_cm: float, exact_cm: float) -> None:
    mm = parse_length(yards)
    assert mm / 10 == pytest.approx(exact_cm, abs=1e-9)
    assert mm / 10 == pytest.approx(rounded_cm, abs=0.15)
    assert show_cloth_length(mm, unit="yd") == yards


@pytest.mark.parametrize(
    ("label_in", "low_cm", "high_cm"),
    [
        # Width classes as printed on charts: 44-45 in = 112-115 cm, 54 in = 137, 58-60 = 147-152.
        (44, 111.5, 112.5),
        (45, 114, 115),
        (54, 136.5, 137.5),
        (58, 147, 148),
        (60, 152, 153),
    ],
)
def test_label_widths(label_in: int, low_cm: float, high_cm: float) -> None:
    assert low_cm <= parse_length(f"{label_in} in") / 10 <= high_cm


def test_an_eighth_of_a_yard_is_four_and_a_half_inches() -> None:
    assert show_length(parse_length("1/8 yd"), system="imperial") == "4 1/2 in"
