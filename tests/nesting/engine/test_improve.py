from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from nesting.engine import improve as engine
from nesting.engine.depth_field import build_ground
from nesting.engine.improve import first_layout, improve, warm_up
from nesting.engine.kernels.ground import Ground
from nesting.engine.problem import Budget, Domain, Item, Lattice, Placement, Problem, Side, Solution
from nesting.engine.scene import Scene
from nesting.polygon import FloatArray, as_points
from tests.bench.garments import two_sizes
from tests.bench.lays import HALF_TURNS, random_outline, random_problem
from tests.bench.pieces import lay_of
from tests.bench.proof import wrongs


def box(w: float, h: float) -> FloatArray:
    return as_points([(0, 0), (w, 0), (w, h), (0, h)])


def blobs(seed: int = 1) -> Problem:
    rng = np.random.default_rng(seed)
    items = tuple(Item(str(k), random_outline(rng, size=280.0), HALF_TURNS, 2) for k in range(6))
    return Problem(1000.0, items)


@pytest.mark.parametrize("seed", range(20))
def test_random_constrained_lays_stay_legal_and_get_no_worse(seed: int) -> None:
    problem = random_problem(seed)
    solution = improve(problem, seed=seed, budget=Budget(steps=1500))
    assert wrongs(problem, solution) == []
    assert solution.length <= first_layout(problem).length
    assert solution.length >= solution.floor - 1e-6


def test_the_search_is_better_than_bottom_left() -> None:
    problem = blobs()
    first = first_layout(problem)
    found = improve(problem, seed=1, budget=Budget(steps=6000))
    assert wrongs(problem, found) == []
    assert found.length < 0.97 * first.length


def test_a_hundred_pieces_stay_legal_from_the_first_moves_on() -> None:
    """Found at 100 pieces: slivers that clipping left deep inside a no-fit polygon were free places."""
    problem = lay_of(100)
    seen: list[Solution] = []
    start = replace(first_layout(problem), steps=1)  # as if searched: it is not laid anew
    improve(problem, start, seed=0, budget=Budget(steps=290), report=seen.append)
    assert len(seen) > 2
    assert [wrongs(problem, s) for s in seen] == [[] for _ in seen]


def test_a_first_layout_made_in_haste_is_laid_exactly_before_the_search() -> None:
    problem = lay_of(100)
    start = first_layout(problem)
    found = improve(problem, start, seed=0, budget=Budget(steps=1))
    assert wrongs(problem, found) == []
    assert found.length < 0.97 * start.length


def test_what_was_given_comes_back_if_all_that_is_found_is_wrong(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    problem = blobs()
    start = first_layout(problem)

    def only_the_first(asked: Problem, placements: Sequence[Placement]) -> list[str]:
        return [] if tuple(placements) == start.placements else ["wrong"]

    monkeypatch.setattr(engine, "faults", only_the_first)
    found = improve(problem, start, seed=1, budget=Budget(steps=3000))
    assert found.placements == start.placements


def test_the_result_depends_on_the_seed_and_the_steps_alone() -> None:
    problem = blobs()
    a = improve(problem, seed=5, budget=Budget(steps=2000))
    improve(blobs(2), seed=1, budget=Budget(steps=300))
    b = improve(problem, seed=5, budget=Budget(steps=2000))
    assert a.placements == b.placements
    assert a.steps == b.steps


def test_cancelling_takes_no_more_than_fifty_milliseconds() -> None:
    warm_up()
    problem = blobs()
    asked = 0.0

    def stop() -> bool:
        nonlocal asked
        if not asked and time.process_time() - started > 0.5:
            asked = time.process_time()
        return asked > 0.0

    started = time.process_time()
    solution = improve(problem, seed=1, budget=Budget(seconds=60.0), stop=stop)
    assert asked
    assert time.process_time() - asked < 0.05
    assert wrongs(problem, solution) == []


def test_cancelling_while_polygons_are_prepared_is_as_quick() -> None:
    warm_up()
    problem = replace(two_sizes(), width=1401.0)  # not yet prepared in this process
    start = first_layout(problem)
    asked: list[float] = []

    def stop() -> bool:
        asked.append(time.process_time())
        return len(asked) > 40

    solution = improve(problem, start, seed=1, budget=Budget(seconds=60.0), stop=stop)
    assert time.process_time() - asked[40] < 0.05
    assert solution.placements == start.placements


def test_problems_that_take_turns_are_made_ready_once(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[float] = []

    def counted(scene: Scene, **options: Any) -> Ground:
        made.append(scene.problem.width)
        return build_ground(scene, **options)

    monkeypatch.setattr(engine, "build_ground", counted)
    turns = [replace(blobs(), width=1002.0 + k) for k in range(6)]
    for problem in turns * 2:
        improve(problem, first_layout(problem), seed=1, budget=Budget(steps=20))
    assert made == [p.width for p in turns]


def test_no_more_problems_are_kept_ready_than_there_is_memory_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(engine, "READY_MB", 0.0)
    for k in range(3):
        improve(replace(blobs(), width=1020.0 + k), seed=1, budget=Budget(steps=20))
    first_layout(blobs())
    assert len(engine._ready) == 1


def test_a_better_layout_is_handed_on_and_never_lost() -> None:
    problem = blobs()
    seen: list[Solution] = []
    long_search = improve(problem, seed=1, budget=Budget(steps=5000), report=seen.append)
    assert [s.length for s in seen] == sorted((s.length for s in seen), reverse=True)
    assert all(wrongs(problem, s) == [] for s in seen)
    for seed in range(3):
        again = improve(problem, long_search, seed=seed, budget=Budget(steps=300))
        assert again.length <= long_search.length


def test_exact_rows_of_rectangles_are_found() -> None:
    items = (
        Item("a", box(70.0, 50.0), HALF_TURNS, 4),
        Item("b", box(70.0, 25.0), HALF_TURNS, 4),
        Item("c", box(35.0, 100.0), HALF_TURNS, 2),
    )
    problem = Problem(100.0, items)
    solution = improve(problem, seed=1, budget=Budget(steps=20000))
    assert wrongs(problem, solution) == []
    assert solution.length == pytest.approx(280.0, abs=0.01)


def test_a_full_container_is_filled_where_bottom_left_fails() -> None:
    sizes = [(60, 40), (40, 30), (40, 70), (60, 60)]
    items = tuple(Item(f"{w}x{h}", box(w, h)) for w, h in sizes)
    problem = Problem(100.0, items, length=100.0)
    solution = improve(problem, seed=2, budget=Budget(steps=30000))
    assert wrongs(problem, solution) == []
    assert solution.complete


def test_a_fixed_container_leaves_a_long_offcut() -> None:
    problem = replace(blobs(), length=2000.0)
    solution = improve(problem, seed=2, budget=Budget(steps=4000))
    assert wrongs(problem, solution) == []
    assert solution.length < first_layout(problem).length


def test_what_does_not_fit_is_named_and_the_rest_is_laid() -> None:
    problem = Problem(100.0, (Item("square", box(60.0, 60.0), count=3),), length=125.0)
    solution = improve(problem, seed=1, budget=Budget(steps=800))
    assert solution.unplaced == ((0, 2),)
    assert wrongs(problem, solution, whole=False) == []


def test_pins_holes_folds_and_repeats_together() -> None:
    rng = np.random.default_rng(8)
    lattice = Lattice((0.0, 0.0), 60.0, 80.0, 0.0, 10.0, 1.0)
    fold = (Domain(touch=(Side.Y0,), poses=(0,)),)
    pin = (Placement(2, 0, 1, 900.0, 700.0),)
    items = (
        Item("half", box(300.0, 120.0), HALF_TURNS, 2, fold),
        Item("checked", random_outline(rng, size=200.0), HALF_TURNS, 3, (Domain(lattice=lattice),)),
        Item("pinned", box(200.0, 150.0), HALF_TURNS, 2, pinned=pin),
        Item("free", random_outline(rng, size=150.0), HALF_TURNS, 4),
    )
    hole = as_points([(200, 300), (260, 310), (230, 380)])
    problem = Problem(800.0, items, holes=(hole,), gap=3.0, edge_gap=5.0)
    solution = improve(problem, seed=3, budget=Budget(steps=4000))
    assert wrongs(problem, solution) == []
    assert pin[0] in solution.placements
    assert solution.length >= solution.floor >= 900.0
