from __future__ import annotations

import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from nesting.engine.depth_field import build_ground
from nesting.engine.kernels import collide, moves, places
from nesting.engine.problem import Item, Pose, Problem
from nesting.engine.scene import Scene, build_scene
from nesting.engine.search.separate import Separator
from nesting.polygon import as_points
from tests.bench.lays import random_outline, random_problem
from tests.reference import naive_kernels as naive

CELLS = 100
"""Few cells: these tests also run interpreted."""


def turned_scene(*, gap: float = 0.0) -> Scene:
    """Three items in several turned and mirrored poses, and a hole."""
    rng = np.random.default_rng(3)
    poses = (Pose(0.0), Pose(90.0), Pose(180.0, True))
    items = [Item(str(k), random_outline(rng, size=200.0), poses, 2) for k in range(2)]
    round_numbers = as_points([(0, 0), (100, 0), (100, 50), (50, 50), (50, 100), (0, 100)])
    items.append(Item("round numbers", round_numbers, (*poses, Pose(45.0)), 2))
    hole = as_points([(400, 300), (450, 310), (420, 360)])
    return build_scene(Problem(900.0, tuple(items), holes=(hole,), gap=gap, edge_gap=gap))


@pytest.mark.parametrize("gap", [0.0, 4.0])
def test_depth_agrees_with_shapely(gap: float) -> None:
    scene = turned_scene(gap=gap)
    g = build_ground(scene, cells=CELLS)
    rng = np.random.default_rng(1)
    shapes = len(scene.table.shapes)
    for _ in range(25):
        s, t = (int(k) for k in rng.integers(shapes + 1, size=2))
        if s == t:
            continue
        polygon = naive.nofit_polygon(scene, s, t)
        cell = float(g.grid[g.pair_field[s, t], 2])
        for k in range(8):
            at = rng.uniform(polygon.bounds[:2], polygon.bounds[2:])
            if k % 2:  # near the boundary, where depth is exact
                on = polygon.boundary.interpolate(rng.uniform(0, polygon.boundary.length))
                at = np.array([on.x, on.y]) + rng.normal(0, 0.05 * cell, 2)
            true = naive.depth(scene, s, t, *at)
            ours = collide.depth(g, s, t, float(at[0]), float(at[1]), True)
            assert ours == pytest.approx(true, abs=1e-6 if k % 2 else 0.6 * cell)


def test_depth_is_the_same_from_both_sides() -> None:
    scene = turned_scene()
    g = build_ground(scene, cells=CELLS)
    rng = np.random.default_rng(2)
    for _ in range(60):
        s, t = (int(k) for k in rng.integers(len(scene.table.shapes), size=2))
        x, y = rng.uniform(-150, 150, 2)
        a = collide.depth(g, s, t, float(x), float(y), True)
        b = collide.depth(g, t, s, float(-x), float(-y), True)
        assert a == pytest.approx(b, abs=0.6 * float(g.grid[g.pair_field[s, t], 2]))
        assert (a > 1e-6) == (naive.overlap_area(scene, s, t, float(x), float(y)) > 1e-3)


def test_settling_agrees_with_trying_every_tooth() -> None:
    rng = np.random.default_rng(4)
    for _ in range(500):
        low = float(rng.uniform(-50, 50))
        high = low + float(rng.uniform(-5, 90))
        value, phase = rng.uniform(-120, 120, 2).tolist()
        period = float(rng.choice([0.0, 7.0, 40.0, 90.0]))
        ours = places.settle(value, low, high, period, phase, 1.0)
        twin = naive.settle(value, low, high, period, phase, 1.0)
        if math.isnan(twin):
            assert math.isnan(ours)
        else:
            clipped = min(max(value, low), high)
            assert abs(ours - clipped) == pytest.approx(abs(twin - clipped), abs=1e-9)
            assert low <= ours <= high


def separator(seed: int) -> tuple[Scene, Separator]:
    scene = turned_scene(gap=1.0)
    s = Separator(scene, build_ground(scene, cells=CELLS), np.random.default_rng(seed))
    rng = np.random.default_rng(seed)
    for body in range(s.movable):
        s.place(
            body, int(rng.integers(3)), float(rng.uniform(100, 500)), float(rng.uniform(100, 800))
        )
    assert moves.clamp(s.ground, s.state, 600.0)
    return scene, s


def whole_loss(s: Separator, i: int, shape: int, x: float, y: float, *, exact: bool) -> float:
    """Weighted depth against every body, one by one, whatever their boxes say."""
    state = s.state
    others = [j for j in range(len(state.at)) if j != i]
    depths = [
        collide.depth(
            s.ground, int(state.shape[j]), shape, x - float(state.at[j, 0]),
            y - float(state.at[j, 1]), exact,
        )
        for j in others
    ]  # fmt: skip
    return float(sum(d * state.weight[i, j] for d, j in zip(depths, others, strict=True)))


def test_losses_agree_with_counting() -> None:
    scene, s = separator(1)
    s.state.weight[:] = s.ground.scale
    total = collide.all_depths(s.ground, s.state, s.depths)
    twin = naive.all_depths(s.ground, scene, s.state)
    cell = float(s.ground.grid[:, 2].max())
    assert s.depths == pytest.approx(twin, abs=0.6 * cell)
    upper = np.triu(s.depths * s.ground.scale, 1)
    assert total == pytest.approx(float(upper.sum()))
    for i in range(s.movable):
        x, y = s.state.at[i].tolist()
        shape = int(s.state.shape[i])
        ours = whole_loss(s, i, shape, x, y, exact=True)
        assert ours == pytest.approx(float((s.depths[i] * s.state.weight[i]).sum()), abs=cell)
        assert ours == pytest.approx(naive.loss_at(scene, s.state, i, shape, x, y), abs=2 * cell)


def test_bodies_that_are_close_give_the_whole_loss() -> None:
    """Wherever within the reach a body is put, those gathered are all that it can meet."""
    _, s = separator(3)
    s.state.weight[:] = s.ground.scale
    rng = np.random.default_rng(5)
    met = 0
    for _ in range(200):
        i = int(rng.integers(s.movable))
        o = int(rng.integers(s.ground.first_option[i], s.ground.first_option[i + 1]))
        shape = int(s.ground.option_shape[o])
        x, y = (float(v) for v in rng.uniform((0, 0), (600, 900)))
        reach = float(rng.uniform(1, 80))
        count = collide.gather(s.ground, s.state, i, shape, x, y, reach)
        assert i not in s.state.close[:count]
        x, y = x + float(rng.uniform(-reach, reach)), y + float(rng.uniform(-reach, reach))
        whole = whole_loss(s, i, shape, x, y, exact=True)
        close = collide.loss_close(s.ground, s.state, i, shape, x, y, math.inf, True, count)
        assert close == pytest.approx(whole)
        met += whole > 0
    assert met > 20


def test_boxes_lined_up_give_the_whole_loss_wherever_a_body_is_put() -> None:
    _, s = separator(4)
    s.state.weight[:] = s.ground.scale
    rng = np.random.default_rng(6)
    met = 0
    for _ in range(30):
        mover = int(rng.integers(s.movable))
        widest = collide.line_up(s.ground, s.state)
        s.place(mover, int(rng.integers(3)), *(float(v) for v in rng.uniform((0, 0), (600, 900))))
        collide.line_in(s.ground, s.state, mover)
        widest = max(widest, float(s.ground.half[s.state.shape[mover], 0]))
        assert (np.diff(s.state.row[:, 0]) >= 0).all()
        assert sorted(s.state.row_body) == list(range(len(s.state.at)))
        for i in range(s.movable):
            shape = int(s.ground.option_shape[s.ground.first_option[i]])
            x, y = (float(v) for v in rng.uniform((0, 0), (600, 900)))
            whole = whole_loss(s, i, shape, x, y, exact=False)
            lined = collide.loss_anywhere(s.ground, s.state, i, shape, x, y, math.inf, widest)
            assert lined == pytest.approx(whole)
            met += whole > 0
    assert met > 50


def test_a_sweep_parts_pieces_and_keeps_its_books() -> None:
    _, s = separator(2)
    s.state.weight[:] = s.ground.scale
    out = np.zeros(2)
    before = collide.all_depths(s.ground, s.state, s.depths)
    for _ in range(2):
        moves.sweep(s.ground, s.state, 600.0, s.depths, out)
    assert out[0] < before
    again = np.zeros_like(s.depths)
    assert collide.all_depths(s.ground, s.state, again) == pytest.approx(out[0])
    assert np.array_equal(again, s.depths)
    assert out[1] == s.depths.max()
    assert (s.state.weight >= s.ground.scale - 1e-12).all()


def test_contact_lands_exactly_in_a_slot() -> None:
    box = as_points([(0, 0), (100, 0), (100, 100), (0, 100)])
    scene = build_scene(Problem(300.0, (Item("box", box, count=3),)))
    s = Separator(scene, build_ground(scene, cells=CELLS), np.random.default_rng(0))
    s.place(0, 0, 50.0, 50.0)
    s.place(1, 0, 50.0, 250.0)
    spot = np.array([52.3, 148.9, 1.0])
    s.state.weight[:] = s.ground.scale
    moves.contact(s.ground, s.state, 2, int(s.ground.first_option[2]), spot, 5.0, 100.0)
    assert spot == pytest.approx([50.0, 150.0, 0.0], abs=1e-6)


def test_sweeps_are_the_same_compiled_and_interpreted() -> None:
    """A checksum of three sweeps, typed in from the interpreted run (NUMBA_DISABLE_JIT=1)."""
    scene = build_scene(random_problem(1))
    s = Separator(scene, build_ground(scene, cells=CELLS), np.random.default_rng(7))
    s.load([])
    length = 1500.0
    assert moves.clamp(s.ground, s.state, length)
    collide.all_depths(s.ground, s.state, s.depths)
    out = np.zeros(2)
    for _ in range(2):
        moves.sweep(s.ground, s.state, length, s.depths, out)
    assert float(s.state.at.sum()) == pytest.approx(CHECKSUM, abs=1e-6)


CHECKSUM = 10887.783752129068


@pytest.mark.slow
def test_the_twins_agree_without_compiling_too() -> None:
    here = Path(__file__)
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-p",
            "no:cacheprovider",
            "-m",
            "not slow",
            str(here),
        ],
        cwd=here.parents[2],
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout
