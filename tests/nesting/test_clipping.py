from __future__ import annotations

import math

import pytest

from nesting.clipping import Fill, Join, difference, intersection, offset, union
from nesting.polygon import FloatArray, as_points, bounds, signed_area


def box(x0: float, y0: float, x1: float, y1: float) -> FloatArray:
    return as_points([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def area(region: list[FloatArray]) -> float:
    return sum(signed_area(ring) for ring in region)


def test_union_difference_and_intersection_of_two_boxes() -> None:
    a, b = box(0, 0, 10, 10), box(5, 5, 15, 15)
    assert area(union([a, b])) == pytest.approx(175)
    assert area(difference([a], [b])) == pytest.approx(75)
    assert area(intersection([a], [b])) == pytest.approx(25)
    assert intersection([a], []) == []


def test_a_hole_is_a_clockwise_ring() -> None:
    region = difference([box(0, 0, 10, 10)], [box(4, 4, 6, 6)])
    assert sorted(signed_area(r) for r in region) == pytest.approx([-4, 100])


def test_positive_fill_drops_a_clockwise_ring() -> None:
    backwards = as_points(box(0, 0, 10, 10)[::-1])
    assert union([backwards], fill=Fill.POSITIVE) == []
    assert area(union([backwards], fill=Fill.NON_ZERO)) == pytest.approx(100)


def test_points_are_rounded_not_truncated() -> None:
    assert bounds(union([box(0, 0, 0.9996, 1.0004)])[0]) == pytest.approx((0, 0, 1.0, 1.0))


def test_offsets_grow_and_shrink() -> None:
    square = box(0, 0, 10, 10)
    assert area(offset([square], 1, join=Join.MITRE)) == pytest.approx(144)
    assert area(offset([square], -1)) == pytest.approx(64)
    assert area(offset([square], 1)) == pytest.approx(140 + math.pi, abs=0.02)
    assert offset([square], -6) == []
    assert offset([], 1) == []


def test_rings_without_area_are_left_out_and_huge_ones_refused() -> None:
    assert union([as_points([(0, 0), (1e-5, 0), (0, 1e-5)])]) == []
    with pytest.raises(ValueError, match="too large"):
        union([box(0, 0, 1e18, 1)])
