from __future__ import annotations

import pytest

from nesting.units import (
    LengthError,
    parse_length,
    parse_share,
    show_cloth_length,
    show_fraction,
    show_length,
)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("150 cm", 1500), ("60in", 1524), ('1 3/8"', 34.925), ("1⅜", 34.925), ("1-3/8 in", 34.925),
        ("2 yd", 1828.8), ("2 1/4 yards", 2057.4), ("1,5 m", 1500), ("35mm", 35), ("⅝ in", 15.875),
        ("1500", 1500), (1500, 1500), ("0", 0),
    ],
)  # fmt: skip
def test_lengths_are_read(text: str | float, mm: float) -> None:
    assert parse_length(text) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize("text", ["abc", "-3", "5 furlong", "1/0 in", "", "1.2.3", "nan", "1e9x"])
def test_anything_else_is_refused_and_quoted(text: str) -> None:
    with pytest.raises(LengthError) as caught:
        parse_length(text)
    assert f"“{text}”" in caught.value.message
    assert caught.value.hint


def test_shares() -> None:
    assert parse_share("3%") == pytest.approx(0.03)
    assert parse_share("0.03") == pytest.approx(0.03)
    with pytest.raises(LengthError):
        parse_share("3")


def test_inches_and_yards_are_never_decimal() -> None:
    assert show_fraction(1.375) == "1 3/8"
    assert show_fraction(-0.5) == "-1/2"
    assert show_cloth_length(2.25 * 914.4, unit="yd") == "2 1/4 yd"
    assert show_length(34.925, system="imperial") == "1 3/8 in"
    assert show_length(624) == "62.4 cm"
