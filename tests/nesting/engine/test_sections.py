from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from nesting.engine.sections import above, longest_run, spans
from nesting.polygon import FloatArray, as_points
from tests.bench.lays import random_outline


def section(outline: FloatArray, at: float, *, across: bool) -> float:
    """The length of a cut, by shapely."""
    ends = [(at, -1e5), (at, 1e5)] if across else [(-1e5, at), (1e5, at)]
    return float(LineString(ends).intersection(Polygon(outline)).length)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("across", [True, False])
def test_spans_are_the_sections(seed: int, across: bool) -> None:
    outline = random_outline(np.random.default_rng(seed), size=100.0)
    rows = spans([outline], across=across)
    axis = 0 if across else 1
    assert rows[:, 0].sum() == pytest.approx(np.ptp(outline[:, axis]))
    assert (rows[:, 0] * rows[:, 1:].mean(axis=1)).sum() == pytest.approx(Polygon(outline).area)
    starts = outline[:, axis].min() + np.concatenate([[0.0], np.cumsum(rows[:, 0])])
    for start, (extent, a, b) in zip(starts, rows, strict=False):
        for t in (0.2, 0.7):
            wanted = section(outline, start + t * extent, across=across)
            assert a + t * (b - a) == pytest.approx(wanted, abs=1e-6)


def test_a_hole_is_taken_off() -> None:
    ring = as_points([(0, 0), (6, 0), (6, 4), (0, 4)])
    hole = as_points([(2, 1), (2, 3), (4, 3), (4, 1)])
    rows = spans([ring, hole], across=True)
    assert rows.tolist() == [[2, 4, 4], [2, 2, 2], [2, 4, 4]]


def test_above_and_runs_by_hand() -> None:
    # Up from 0 to 10 over 10, level for 5, down to 4 over 3 and at once to 2 for 4 more.
    rows = np.array([[10.0, 0, 10], [5, 10, 10], [3, 10, 4], [4, 2, 2]])
    extents, areas = above(rows, np.array([0.0, 5.0, 9.0, 10.0]))
    assert extents == pytest.approx([22, 5 + 5 + 2.5, 1 + 5 + 0.5, 0])
    assert areas[0] == pytest.approx(50 + 50 + 21 + 8)
    assert areas[1] == pytest.approx(37.5 + 50 + 18.75)
    assert longest_run(rows, 5.0) == pytest.approx(12.5)
    assert longest_run(rows, 3.0) == pytest.approx(7 + 5 + 3)
    assert longest_run(rows, 1.0) == pytest.approx(9 + 5 + 3 + 4)
    assert longest_run(rows, 10.0) == 0.0
    dip = np.array([[2.0, 9, 9], [1.0, 3, 3], [4.0, 9, 9]])
    assert longest_run(dip, 5.0) == 4.0
