from __future__ import annotations

import numpy as np
import pytest

from nesting.polygon import as_points, point_along, signed_area, turned, without_repeats


def test_signed_area_is_positive_counter_clockwise() -> None:
    square = as_points([(0, 0), (2, 0), (2, 3), (0, 3)])
    assert signed_area(square) == pytest.approx(6.0)
    assert signed_area(as_points(square[::-1])) == pytest.approx(-6.0)


def test_quarter_turns_are_exact() -> None:
    assert turned(as_points([(1, 0)]), 90.0).tolist() == [[0.0, 1.0]]
    assert turned(as_points([(1, 2)]), 180.0, mirrored=True).tolist() == [[-1.0, 2.0]]


def test_point_along_walks_corners() -> None:
    path = as_points([(0, 0), (10, 0), (10, 10)])
    point, tangent = point_along(path, 15.0)
    assert point.tolist() == [10.0, 5.0]
    assert tangent.tolist() == [0.0, 1.0]


def test_points_are_read_only_and_of_one_shape() -> None:
    with pytest.raises(ValueError, match="read-only"):
        as_points([(0, 0)])[0] = 1
    with pytest.raises(ValueError, match="shape"):
        as_points(np.zeros((2, 3)))


def test_repeats_are_dropped() -> None:
    ring = as_points([(0, 0), (0, 0), (1, 0), (1, 1), (0, 0)])
    assert len(without_repeats(ring, closed=True)) == 3
