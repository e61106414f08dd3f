from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from nesting.engine.floor import area_floor, floor, lines_floor, reach_floor
from nesting.engine.improve import improve
from nesting.engine.problem import (
    Budget,
    Domain,
    Item,
    Lattice,
    Placement,
    Pose,
    Problem,
    Side,
)
from nesting.engine.scene import build_scene
from nesting.polygon import FloatArray, as_points
from tests.bench.lays import HALF_TURNS, random_problem


def box(w: float, h: float) -> FloatArray:
    return as_points([(0, 0), (w, 0), (w, h), (0, h)])


def best_on_a_grid(width: int, sizes: list[tuple[int, int]], fold: int = 0) -> int:
    """Shortest strip for rectangles of whole sizes, by trying every whole place (rectangles have a
    shortest layout at whole places). The first ``fold`` of them must lie at y = 0."""

    def fits(length: int, k: int, taken: frozenset[tuple[int, int]]) -> bool:
        if k == len(sizes):
            return True
        w, h = sizes[k]
        for x in range(length - w + 1):
            for y in range(1 if k < fold else width - h + 1):
                cells = frozenset(itertools.product(range(x, x + w), range(y, y + h)))
                if not cells & taken and fits(length, k + 1, taken | cells):
                    return True
        return False

    return next(n for n in range(1, 200) if fits(n, 0, frozenset()))


@pytest.mark.parametrize("seed", range(25))
def test_no_floor_is_above_the_best_that_brute_force_finds(seed: int) -> None:
    rng = np.random.default_rng(seed)
    width = int(rng.integers(3, 6))
    sizes = [(int(rng.integers(1, 4)), int(rng.integers(1, width + 1))) for _ in range(4)]
    fold = int(rng.integers(0, 3))
    on_fold = (Domain(touch=(Side.Y0,)),)
    items = tuple(
        Item(str(k), box(*size), domains=on_fold if k < fold else (Domain(),))
        for k, size in enumerate(sizes)
    )
    bound = floor(Problem(float(width), items))
    assert bound <= best_on_a_grid(width, sizes, fold) + 1e-6
    assert bound >= sum(w * h for w, h in sizes) / width - 1e-9


def test_each_argument_is_sharp_where_it_should_be() -> None:
    wide = Problem(
        16.0, (Item("sleeve", box(9.5, 9.0), count=2), Item("back", box(20, 16.0), count=2))
    )
    assert lines_floor(build_scene(wide)) == pytest.approx(59.0)
    assert area_floor(build_scene(wide)) == pytest.approx(811 / 16)
    thirds = Problem(10.0, (Item("strip", box(7.0, 3.4), count=5),))
    # Only two of 3.4 lie side by side in 10, so five need three columns; the lines give 2.5 of them.
    assert lines_floor(build_scene(thirds)) == pytest.approx(17.5)
    fold = Problem(
        50.0, (Item("half", box(30.0, 5.0), count=4, domains=(Domain(touch=(Side.Y0,)),)),)
    )
    assert lines_floor(build_scene(fold)) == pytest.approx(120.0)


def test_reach_counts_zones_sides_repeats_and_pins() -> None:
    zone = (Domain(x0=100.0),)
    assert reach_floor(build_scene(Problem(50.0, (Item("a", box(30, 5), domains=zone),)))) == 130.0
    comb = (Domain(lattice=Lattice((0.0, 0.0), 40.0, None, 25.0, 0.0, 1.0)),)
    repeat = Problem(50.0, (Item("a", box(30.0, 5.0), domains=comb),))
    assert reach_floor(build_scene(repeat)) == pytest.approx(54.0)
    pin = (Placement(0, 0, 0, 70.0, 0.0),)
    assert reach_floor(build_scene(Problem(50.0, (Item("a", box(30, 5), pinned=pin),)))) == 100.0


def test_area_counts_bands_flaws_and_gaps() -> None:
    bands = (
        Item("edge", box(10.0, 4.0), count=5, domains=(Domain(y1=10.0),)),
        Item("free", box(10.0, 4.0), count=2),
    )
    assert area_floor(build_scene(Problem(50.0, bands))) == pytest.approx(20.0)
    hole = as_points([(0, 0), (20, 0), (20, 25), (0, 25)])
    holed = Problem(50.0, (Item("piece", box(10.0, 10.0), count=10),), holes=(hole,))
    assert area_floor(build_scene(holed)) == pytest.approx(30.0, abs=1e-3)
    gaps = Problem(50.0, (Item("piece", box(10.0, 10.0), count=10),), gap=2.0)
    # 10 grown squares of 144 less rounded corners, in a strip grown to 52, less the gap.
    assert area_floor(build_scene(gaps)) == pytest.approx((1440 - 10 * 0.8584) / 52 - 2, abs=0.03)


def test_a_piece_that_can_dodge_every_line_gives_no_chord() -> None:
    small = Problem(100.0, (Item("small", box(10.0, 2.0), HALF_TURNS, 3),))
    assert lines_floor(build_scene(small)) == 0.0
    assert floor(small) == pytest.approx(10.0)
    either = Item("a", box(30.0, 8.0), (Pose(0.0), Pose(90.0)))
    assert floor(Problem(40.0, (either,))) == pytest.approx(8.0)


@pytest.mark.parametrize("seed", range(12))
def test_no_layout_goes_below_the_floor(seed: int) -> None:
    problem = random_problem(seed + 100)
    found = improve(problem, seed=1, budget=Budget(steps=1200))
    assert found.length >= floor(problem) - 2e-5 * problem.width
    shorter = replace(problem, items=problem.items[1:])
    pinned_items = {p.item for item in problem.items for p in item.pinned}
    if not pinned_items and shorter.items:
        assert floor(shorter) <= floor(problem) + 1e-9
