from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon

from nesting.engine.improve import first_layout, improve
from nesting.engine.problem import Budget, Item, Problem
from nesting.engine.shapes import DETAILED, build_shapes
from nesting.engine.simplify import simplify_outward
from nesting.polygon import FloatArray, as_points, bounds, signed_area
from tests.bench.lays import HALF_TURNS
from tests.bench.proof import wrongs


def wavy(n: int, seed: int = 1) -> FloatArray:
    rng = np.random.default_rng(seed)
    t = np.arange(n) / n * 2 * np.pi
    r = 200 + 40 * np.sin(3 * t + rng.uniform(0, 6)) + 20 * np.cos(5 * t)
    return as_points(np.column_stack([r * np.cos(t), 0.6 * r * np.sin(t)]))


@pytest.mark.parametrize("tolerance", [0.05, 0.5, 5.0])
def test_the_outline_stays_inside_and_nothing_moves_too_far(tolerance: float) -> None:
    outline = wavy(240)
    simple = simplify_outward(outline, tolerance)
    assert len(simple) < len(outline)
    assert Polygon(simple).buffer(1e-7).covers(Polygon(outline))
    assert Polygon(outline).buffer(tolerance * 1.0001).covers(Polygon(simple))
    assert bounds(simple) == pytest.approx(bounds(outline))
    assert signed_area(simple) >= signed_area(outline)


def test_corners_that_matter_are_kept() -> None:
    ell = as_points([(0, 0), (100, 0), (100, 40), (40, 40), (40, 90), (0, 90)])
    assert np.array_equal(simplify_outward(ell, 1.0), ell)


def test_a_detailed_outline_is_packed_simplified_and_proved_true() -> None:
    outline = wavy(400)
    problem = Problem(900.0, (Item("wavy", outline, HALF_TURNS, 4),))
    table = build_shapes(problem)
    assert len(table.rings[0]) < 0.8 * len(outline)
    assert len(outline) > DETAILED
    found = improve(problem, seed=1, budget=Budget(steps=1500))
    assert wrongs(problem, found) == []
    assert found.length < first_layout(problem).length
