"""Fixed containers that cannot hold everything: as much as goes in, and nothing lost on the way."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.engine.improve import first_layout, improve
from nesting.engine.problem import Budget, Item, Problem, Solution
from nesting.engine.search.fill import room_in
from nesting.polygon import as_points, signed_area
from tests.bench.constrained import constrained
from tests.bench.garments import blouse
from tests.bench.proof import wrongs


def box(key: str, w: float, h: float, count: int = 1) -> Item:
    return Item(key, as_points([(0, 0), (w, 0), (w, h), (0, h)]), count=count)


def left_out(problem: Problem, solution: Solution) -> float:
    return sum(signed_area(problem.items[i].outline) for i, _ in solution.unplaced)


def test_larger_pieces_take_the_place_of_smaller_ones() -> None:
    # Longest first lays the 90 x 20 and shuts the square of 85 out; the square alone holds more.
    problem = Problem(100.0, (box("strip", 90, 20), box("square", 85, 85)), length=100.0)
    solution = improve(problem, seed=1, budget=Budget(steps=400))
    assert [problem.items[i].key for i, _ in solution.unplaced] == ["strip"]
    assert wrongs(problem, solution, whole=False) == []


def test_more_of_a_blouse_goes_in_than_bottom_left_lays() -> None:
    problem = replace(blouse(), length=1000.0)
    first = first_layout(problem)
    found = improve(problem, seed=1, budget=Budget(steps=6000))
    assert wrongs(problem, found, whole=False) == []
    assert left_out(problem, found) < 0.9 * left_out(problem, first)


def test_the_result_depends_on_seed_and_steps_alone() -> None:
    problem = replace(blouse(), length=1000.0)
    runs = [improve(problem, seed=3, budget=Budget(steps=1500)) for _ in range(2)]
    assert runs[0].placements == runs[1].placements
    assert runs[0].unplaced == runs[1].unplaced


CONTAINERS = [s for s in range(4, 100, 8) if constrained(s).length is not None][:8]


@pytest.mark.parametrize("seed", CONTAINERS)
def test_shortened_containers_stay_legal(seed: int) -> None:
    problem = constrained(seed)
    assert problem.length is not None
    longest = max(float(i.posed(p)[:, 0].max()) for i in problem.items for p in range(len(i.poses)))
    short = replace(problem, length=max(0.75 * problem.length, 1.05 * longest + 500.0))
    solution = improve(short, seed=seed, budget=Budget(steps=600))
    assert wrongs(short, solution, whole=False) == []
    assert left_out(short, solution) <= left_out(short, first_layout(short))


def test_room_is_that_of_the_remnant() -> None:
    problem = Problem(100.0, (box("a", 10, 10),), length=100.0)
    assert room_in(problem) == 10_000.0
    triangle = as_points([(0, 0), (100, 0), (0, 100)])
    assert room_in(replace(problem, container=triangle)) == 5_000.0
