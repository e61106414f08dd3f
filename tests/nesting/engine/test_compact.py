"""Simultaneous compaction: free parts against shapely, layouts stay legal and get no longer."""

from __future__ import annotations

import math
from itertools import islice

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon

from nesting.engine.depth_field import build_ground
from nesting.engine.legal import faults
from nesting.engine.problem import Budget, Item, Problem
from nesting.engine.scene import build_scene
from nesting.engine.search.bottom_left import bottom_left, orders
from nesting.engine.search.clock import Clock
from nesting.engine.search.compact import compact, free_part
from nesting.engine.search.separate import Separator
from nesting.polygon import FloatArray, as_points
from tests.bench.lays import random_outline, random_problem

TOUCH = 1e-3


def edges_of(ring: FloatArray) -> FloatArray:
    return np.column_stack([ring, np.roll(ring, -1, axis=0)])


def inside(planes: list[tuple[float, float, float]], x: float, y: float) -> bool:
    return all(nx * x + ny * y >= least for nx, ny, least in planes)


def test_beside_a_square_half_the_plane_is_free() -> None:
    square = as_points([(10, -50), (60, -50), (60, 50), (10, 50)])
    planes = free_part(edges_of(square), 100.0, TOUCH)
    assert planes == [pytest.approx((-1.0, 0.0, -10.0))]


def test_in_a_notch_both_sides_bound() -> None:
    """The offset lies in the inner corner of an L, touching both arms."""
    ell = as_points([(-20, -20), (80, -20), (80, 0), (0, 0), (0, 80), (-20, 80)])
    planes = free_part(edges_of(ell), 30.0, TOUCH)
    assert inside(planes, 5.0, 5.0)
    assert not inside(planes, -1.0, 5.0)
    assert not inside(planes, 5.0, -1.0)
    assert inside(planes, 0.0, 0.0)


@pytest.mark.parametrize("seed", range(12))
def test_no_offset_of_a_free_part_lies_inside_the_polygon(seed: int) -> None:
    """Against shapely: random outlines, many offsets about points on and outside their boundary."""
    rng = np.random.default_rng(seed)
    ring = random_outline(rng, size=100.0)
    polygon = Polygon(ring)
    reach = 40.0
    free = 0
    for k in range(8):
        on = polygon.exterior.interpolate(float(rng.uniform(0, polygon.exterior.length)))
        away = rng.normal(0, 10.0, 2) if k % 2 else np.zeros(2)
        x, y = on.x + float(away[0]), on.y + float(away[1])
        if polygon.contains(Point(x, y)) and k % 2:
            continue
        planes = free_part(edges_of(ring - (x, y)), reach, TOUCH)
        moved = affinity.translate(polygon, -x, -y).buffer(-2 * TOUCH)
        for dx, dy in rng.uniform(-reach, reach, (100, 2)).tolist():
            if inside(planes, dx, dy):
                free += 1
                assert not moved.contains(Point(dx, dy))
                # Convex: the straight way there is free too.
                assert not moved.intersects(LineString([(0, 0), (dx, dy)]))
    assert free > 30


def separator_of(problem: Problem, seed: int = 0) -> Separator:
    """A separator with a whole bottom-left layout, of the first order that gives one."""
    scene = build_scene(problem)
    rng = np.random.default_rng(seed)
    starts = (bottom_left(scene, order, 0.0) for order in islice(orders(scene, rng), 50))
    start = next(s for s in starts if s.complete)
    s = Separator(scene, build_ground(scene), np.random.default_rng(seed))
    s.load(start.placements)
    return s


def test_loose_boxes_close_up_exactly() -> None:
    box = as_points([(0, 0), (100, 0), (100, 40), (0, 40)])
    scene = build_scene(Problem(80.0, (Item("box", box, count=4),)))
    s = Separator(scene, build_ground(scene), np.random.default_rng(0))
    for body, (x, y) in enumerate([(51, 20), (50.5, 60), (153, 20), (151, 60)]):
        s.place(body, 0, x, y)
    assert compact(s, Clock(Budget(steps=1000)))
    assert s.reach() == pytest.approx(200.0, abs=1e-3)
    assert not compact(s, Clock(Budget(steps=1000)))


@pytest.mark.parametrize("seed", range(24))
def test_constrained_layouts_stay_legal_and_get_no_longer(seed: int) -> None:
    """Folds, repeats, pins, flaws, zones, gaps and quarter turns; checked on the true outlines."""
    problem = random_problem(seed)
    s = separator_of(problem)
    before = s.reach()
    shorter = compact(s, Clock(Budget(steps=1000)))
    assert not faults(problem, s.placements())
    assert s.reach() < before if shorter else s.reach() == before


def test_some_first_layouts_are_pushed_together() -> None:
    gains = []
    for seed in range(24):
        s = separator_of(random_problem(seed))
        before = s.reach()
        compact(s, Clock(Budget(steps=1000)))
        gains.append(1 - s.reach() / before)
    assert max(gains) > 0.01
    assert math.isfinite(sum(gains))
