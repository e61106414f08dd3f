from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Point, Polygon

from nesting.engine.floor import area_floor, floor, lines_floor, reach_floor
from nesting.engine.floor_order import order_floor
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
from tests.bench.lays import HALF_TURNS, random_outline, random_problem


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
    assert floor(thirds) == pytest.approx(21.0)
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


def best_of_polyominoes(width: int, shapes: list[list[frozenset[tuple[int, int]]]]) -> int:
    """Shortest strip for shapes of unit squares, each in any of its poses, by trying every whole place
    (rounding all places of a layout down keeps any two squares apart)."""

    def fits(length: int, k: int, taken: frozenset[tuple[int, int]]) -> bool:
        if k == len(shapes):
            return True
        for pose in shapes[k]:
            w, h = (max(c[axis] for c in pose) + 1 for axis in (0, 1))
            for x, y in itertools.product(range(length - w + 1), range(width - h + 1)):
                cells = frozenset((x + i, y + j) for i, j in pose)
                if not cells & taken and fits(length, k + 1, taken | cells):
                    return True
        return False

    return next(n for n in range(1, 200) if fits(n, 0, frozenset()))


def l_shape(w: int, h: int, a: int, b: int) -> FloatArray:
    """A box of w x h whose upper right part beyond (a, b) is cut away; a T or a box if none is."""
    return as_points([(0, 0), (w, 0), (w, b), (a, b), (a, h), (0, h)])


def cells_of(outline: FloatArray) -> frozenset[tuple[int, int]]:
    shape = Polygon(outline - outline.min(axis=0))
    w, h = (round(v) for v in np.ptp(outline, axis=0))
    middles = itertools.product(range(w), range(h))
    return frozenset((i, j) for i, j in middles if shape.contains(Point(i + 0.5, j + 0.5)))


@pytest.mark.parametrize("seed", range(40))
def test_no_floor_is_above_the_best_of_polyominoes(seed: int) -> None:
    rng = np.random.default_rng(seed)
    width = int(rng.integers(3, 6))
    turns = (Pose(0.0), Pose(180.0)) if seed % 3 else (Pose(0.0), Pose(90.0))
    items, shapes = [], []
    for k in range(4):
        w, h = int(rng.integers(2, 5)), int(rng.integers(2, 4))
        outline = l_shape(w, h, int(rng.integers(1, w)), int(rng.integers(1, h)))
        item = Item(str(k), outline, turns)
        if seed % 3 == 0 and w > width:
            item = replace(item, poses=turns[:1])
        items.append(item)
        shapes.append([cells_of(item.posed(p)) for p in range(len(item.poses))])
    bound = floor(Problem(float(width), tuple(items)))
    area = sum(len(poses[0]) for poses in shapes)
    assert area / width - 1e-9 <= bound <= best_of_polyominoes(width, shapes) + 1e-6


@pytest.mark.parametrize("seed", range(30))
def test_no_floor_is_above_the_best_round_a_flaw(seed: int) -> None:
    """A flaw is a piece that lies where it lies: the same search with it laid first."""
    rng = np.random.default_rng(seed)
    width = int(rng.integers(3, 6))
    sizes = [(int(rng.integers(1, 4)), int(rng.integers(1, width + 1))) for _ in range(3)]
    at = int(rng.integers(0, 3)), int(rng.integers(0, width))
    flaw = box(1, 1) + at
    items = tuple(Item(str(k), box(*size)) for k, size in enumerate(sizes))
    bound = floor(Problem(float(width), items, holes=(as_points(flaw),)))

    def fits(length: int, k: int, taken: frozenset[tuple[int, int]]) -> bool:
        if k == len(sizes):
            return True
        w, h = sizes[k]
        for x, y in itertools.product(range(length - w + 1), range(width - h + 1)):
            cells = frozenset(itertools.product(range(x, x + w), range(y, y + h)))
            if not cells & taken and fits(length, k + 1, taken | cells):
                return True
        return False

    best = next(n for n in range(1, 200) if fits(n, 0, frozenset({at})))
    assert bound <= best + 1e-6


def test_sections_prove_what_areas_do_not() -> None:
    def bound(width: float, *pieces: tuple[float, float, int], gap: float = 0.0) -> float:
        items = (Item(str(k), box(w, h), count=n) for k, (w, h, n) in enumerate(pieces))
        return floor(Problem(width, tuple(items), gap=gap))

    # Two of 6 do not follow one another in less than 12, and three of 4 do not lie beside one another.
    assert bound(10.0, (6.0, 4.0, 3)) == pytest.approx(12.0, rel=1e-4)
    assert bound(16.0, (9.0, 9.5, 2)) == pytest.approx(18.0, rel=1e-4)
    # Seven of 0.34 of the width: three columns of two, and a fourth.
    assert bound(10.0, (7.0, 3.4, 7)) == pytest.approx(28.0, rel=1e-4)
    # Nothing lies beside a whole breadth: what is left of the strip must hold the rest.
    assert bound(10.0, (20.0, 10.0, 2), (6.0, 4.0, 3)) == pytest.approx(52.0, rel=1e-4)
    # A gap between three of 3.2 in 10: 9.6 + 2 x 0.3 is too much, so they lie in two columns, a gap apart.
    assert bound(10.0, (5.0, 3.2, 3)) == pytest.approx(5.0)
    assert bound(10.0, (5.0, 3.2, 3), gap=0.3) == pytest.approx(10.3, rel=1e-4)


def test_three_that_all_but_fit_side_by_side_are_no_proof() -> None:
    # A third and half a millionth of the width: three of them lie side by side as touching.
    tight = Problem(1000.0, (Item("third", box(500.0, 1000.0 / 3 + 5e-4), count=3),))
    assert improve(tight, seed=1, budget=Budget(steps=200)).length == pytest.approx(500.0)
    assert floor(tight) == pytest.approx(500.0, rel=1e-4)
    clear = Problem(1000.0, (Item("third", box(500.0, 1000.0 / 3 + 0.1), count=3),))
    assert floor(clear) == pytest.approx(1000.0, rel=1e-4)


def test_discs_follow_one_another_in_zigzag() -> None:
    t = np.linspace(0.0, 2.0 * np.pi, 240, endpoint=False)
    disc = as_points(np.column_stack([3 * np.cos(t), 3 * np.sin(t)]))
    for count in (2, 3, 5):
        # Centres lie 10 - 6 apart across at most and 6 apart in all: the square root of 36 - 16 along.
        bound = order_floor(build_scene(Problem(10.0, (Item("disc", disc, count=count),))))
        assert bound == pytest.approx(6.0 + (count - 1) * np.sqrt(20.0), rel=1e-3)
        assert bound <= 6.0 + (count - 1) * np.sqrt(20.0)


def test_the_cheapest_order_and_poses_are_found() -> None:
    # A slope of 1 in 2: the straight side comes to 9 where the other wedge lies 2 lower; slope to slope,
    # one turned, 6 in line and 1 less for the 2 that they may be shifted across.
    wedge = as_points([(0, 0), (10, 0), (6, 8), (0, 8)])
    one_way = Problem(10.0, (Item("wedge", wedge, count=2),))
    assert order_floor(build_scene(one_way)) == pytest.approx(10.0 + 9.0, rel=1e-3)
    both_ways = Problem(10.0, (Item("wedge", wedge, HALF_TURNS, 2),))
    assert order_floor(build_scene(both_ways)) == pytest.approx(15.0, rel=1e-3)
    found = improve(both_ways, seed=1, budget=Budget(steps=2000))
    assert found.length == pytest.approx(15.0, rel=1e-3)
    narrow = Problem(17.0, (Item("wedge", wedge, HALF_TURNS, 2),))
    assert order_floor(build_scene(narrow)) == 0.0


@pytest.mark.parametrize("seed", range(20))
def test_no_order_is_longer_than_what_is_found(seed: int) -> None:
    rng = np.random.default_rng(seed)
    items = []
    for k in range(3):
        outline = random_outline(rng, size=90.0)
        outline = as_points(outline * (1.0, 90.0 / np.ptp(outline[:, 1])))
        items.append(Item(str(k), outline, HALF_TURNS, int(rng.integers(1, 3))))
    gap = float(rng.choice([0.0, 2.0]))
    problem = Problem(float(rng.uniform(92.0, 150.0)), tuple(items), gap=gap)
    found = improve(problem, seed=1, budget=Budget(steps=1500))
    bound = order_floor(build_scene(problem))
    assert 0.0 < bound <= found.length + 2e-5 * problem.width


def test_a_search_ends_when_its_floor_is_met() -> None:
    # Area says 7.2 and the longest piece 6; sections say 12, and so it ends there.
    trio = Problem(10.0, (Item("plate", box(6.0, 4.0), count=3),))
    found = improve(trio, seed=1, budget=Budget(steps=1_000_000))
    assert found.length == pytest.approx(found.floor, rel=1e-6)
    assert found.steps < 1000


@pytest.mark.parametrize("seed", range(12))
def test_no_layout_goes_below_the_floor(seed: int) -> None:
    problem = random_problem(seed + 100)
    found = improve(problem, seed=1, budget=Budget(steps=1200))
    assert found.length >= floor(problem) - 2e-5 * problem.width
    shorter = replace(problem, items=problem.items[1:])
    pinned_items = {p.item for item in problem.items for p in item.pinned}
    if not pinned_items and shorter.items:
        assert floor(shorter) <= floor(problem) + 1e-9
