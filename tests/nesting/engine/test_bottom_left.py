from __future__ import annotations

import math
import time

import numpy as np
import pytest

from nesting.engine.improve import first_layout, improve
from nesting.engine.problem import (
    Budget,
    Domain,
    Item,
    Lattice,
    Placement,
    Pose,
    Problem,
    Side,
    Solution,
)
from nesting.engine.scene import build_scene
from nesting.engine.search.bottom_left import bottom_left, orders
from nesting.errors import ProblemError
from nesting.polygon import FloatArray, as_points
from tests.bench.garments import blouse
from tests.bench.lays import HALF_TURNS, random_outline, random_problem
from tests.bench.proof import wrongs


def box(w: float, h: float) -> FloatArray:
    return as_points([(0, 0), (w, 0), (w, h), (0, h)])


def steps(n: int) -> Budget:
    return Budget(steps=n)


def test_rows_that_fill_the_width_exactly_are_laid_side_by_side() -> None:
    problem = Problem(900.0, (Item("third", box(100.1, 300.0), count=6),))
    solution = first_layout(problem)
    assert wrongs(problem, solution) == []
    assert solution.length == pytest.approx(200.2, abs=0.01)


def test_an_exact_slot_between_two_pins_is_used() -> None:
    pins = (Placement(0, 0, 0, 0.0, 0.0), Placement(0, 1, 0, 0.0, 200.0))
    wall = Item("wall", box(300.0, 100.0), count=2, pinned=pins)
    problem = Problem(300.0, (wall, Item("bar", box(300.0, 100.0))))
    solution = first_layout(problem)
    assert wrongs(problem, solution) == []
    assert solution.length == pytest.approx(300.0, abs=0.01)


@pytest.mark.parametrize("seed", range(40))
def test_random_constrained_lays_are_legal(seed: int) -> None:
    problem = random_problem(seed)
    assert wrongs(problem, first_layout(problem)) == []


def test_twenty_pieces_take_about_a_second_at_most() -> None:
    rng = np.random.default_rng(1)
    items = tuple(Item(str(k), random_outline(rng, size=300.0), HALF_TURNS, 2) for k in range(10))
    started = time.process_time()
    first_layout(Problem(1400.0, items))
    assert time.process_time() - started < 1.0


def test_the_right_pose_is_found_where_only_one_fits() -> None:
    problem = Problem(100.0, (Item("bar", box(50.0, 200.0), (Pose(0.0), Pose(90.0))),))
    solution = first_layout(problem)
    assert solution.placements[0].pose == 1
    assert solution.length == pytest.approx(200.0)


def test_a_fixed_container_says_what_found_no_room() -> None:
    problem = Problem(100.0, (Item("square", box(60.0, 60.0), count=3),), length=125.0)
    solution = first_layout(problem)
    assert wrongs(problem, solution, whole=False) == []
    assert len(solution.placements) == 2
    assert solution.unplaced == ((0, 2),)
    assert not solution.complete


def test_an_irregular_container_is_kept_to() -> None:
    remnant = as_points([(0, 50), (150, 0), (400, 20), (350, 300), (60, 280)])
    problem = Problem(
        300.0,
        (Item("square", box(80.0, 80.0), count=6),),
        length=400.0,
        container=remnant,
        edge_gap=4.0,
        gap=2.0,
    )
    solution = first_layout(problem)
    assert wrongs(problem, solution, whole=False) == []
    assert len(solution.placements) >= 5


def test_a_touching_item_moves_along_its_line_only() -> None:
    fold = Domain(touch=(Side.Y0,), poses=(0,))
    items = (Item("half front", box(200.0, 90.0), HALF_TURNS, 3, (fold,)),)
    solution = first_layout(Problem(500.0, items))
    assert [p.y for p in solution.placements] == [0.0, 0.0, 0.0]
    assert solution.length == pytest.approx(600.0, abs=0.01)
    assert solution.floor == pytest.approx(600.0, abs=0.01)


def test_the_lattice_is_kept_exactly() -> None:
    lattice = Lattice((10.0, 10.0), 60.0, 80.0, 5.0, 7.0, 0.5)
    items = (Item("check", box(100.0, 70.0), HALF_TURNS, 5, (Domain(lattice=lattice),)),)
    problem = Problem(400.0, items)
    solution = first_layout(problem)
    assert wrongs(problem, solution) == []


def test_impossible_demands_are_refused_by_name() -> None:
    with pytest.raises(ProblemError, match="back does not fit"):
        first_layout(Problem(100.0, (Item("back", box(10.0, 200.0)),)))
    narrow = Domain(y1=90.0, lattice=Lattice((0.0, 0.0), None, 300.0, 0.0, 50.0, 1.0))
    with pytest.raises(ProblemError, match="back can lie nowhere"):
        first_layout(Problem(100.0, (Item("back", box(10.0, 80.0), domains=(narrow,)),)))
    open_end = Domain(touch=(Side.X1,))
    with pytest.raises(ProblemError, match="open end"):
        first_layout(Problem(100.0, (Item("back", box(10.0, 80.0), domains=(open_end,)),)))


def test_pins_that_overlap_are_refused_by_name() -> None:
    pins = (Placement(0, 0, 0, 0.0, 0.0), Placement(0, 1, 0, 20.0, 20.0))
    problem = Problem(300.0, (Item("cuff", box(100.0, 100.0), count=2, pinned=pins),))
    with pytest.raises(ProblemError, match="cuff and cuff overlap"):
        first_layout(problem)


def test_nothing_to_lay_has_length_zero() -> None:
    assert first_layout(Problem(100.0, ())).length == 0.0
    assert first_layout(Problem(100.0, (Item("none", box(1, 1), count=0),))).floor == 0.0


def test_the_same_seed_and_steps_give_the_same_layout() -> None:
    problem = random_problem(3)
    first = improve(problem, seed=4, budget=steps(200))
    again = improve(problem, seed=4, budget=steps(200))
    assert first.placements == again.placements
    assert wrongs(problem, first) == []


def test_an_incumbent_is_never_made_worse_and_must_belong() -> None:
    problem = random_problem(3)
    long_search = improve(problem, seed=4, budget=steps(400))
    assert improve(problem, long_search, seed=9, budget=steps(20)).length <= long_search.length
    with pytest.raises(ProblemError, match="does not belong"):
        improve(random_problem(4), long_search, seed=1, budget=steps(20))


def test_reports_get_better_and_stop_ends_the_search() -> None:
    problem = random_problem(5)
    seen: list[Solution] = []
    improve(problem, seed=1, budget=steps(100000), stop=lambda: len(seen) >= 1, report=seen.append)
    assert len(seen) == 1
    lengths = [p.length for p in seen[0].history]
    assert lengths == sorted(lengths, reverse=True)


def test_the_search_stops_when_the_floor_is_met() -> None:
    problem = Problem(100.0, (Item("square", box(50.0, 50.0), count=4),))
    solution = improve(problem, seed=1, budget=steps(10**9))
    assert math.isclose(solution.length, solution.floor, abs_tol=1e-3)


def test_boxes_stand_in_for_polygons_that_are_not_made() -> None:
    problem = blouse()
    scene = build_scene(problem)
    order = next(orders(scene, np.random.default_rng(0)))
    exact = bottom_left(scene, order, 0.0)
    for polygons in (0, 5, 20):
        hasty = bottom_left(build_scene(problem), order, 0.0, polygons=polygons)
        assert wrongs(problem, hasty) == []
        assert hasty.length >= exact.length - 1e-6
    assert bottom_left(scene, order, 0.0, polygons=10_000).placements == exact.placements
