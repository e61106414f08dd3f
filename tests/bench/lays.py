"""Lays of our own to measure and test with: garment-like pieces, and random constrained problems."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.random import Generator

from nesting.engine.problem import Domain, Item, Lattice, Placement, Pose, Problem, Side
from nesting.polygon import FloatArray, as_points, signed_area

HALF_TURNS = (Pose(0.0), Pose(180.0))


def random_outline(rng: Generator, *, size: float) -> FloatArray:
    """A box, an L, a trapezium or a smooth blob of about the given size."""
    kind = int(rng.integers(4))
    w, h = size * rng.uniform(0.4, 1.6, 2)
    if kind == 0:
        points = [(0, 0), (w, 0), (w, h), (0, h)]
    elif kind == 1:
        a, b = w * rng.uniform(0.3, 0.7), h * rng.uniform(0.3, 0.7)
        points = [(0, 0), (w, 0), (w, b), (a, b), (a, h), (0, h)]
    elif kind == 2:
        a, b = w * rng.uniform(0, 0.4), w * rng.uniform(0.6, 1)
        points = [(0, 0), (w, 0), (b, h), (a, h)]
    else:
        n = int(rng.integers(8, 25))
        t = np.arange(n) / n * 2 * math.pi
        r = (
            0.5
            + 0.15 * np.sin(2 * t + rng.uniform(0, 6))
            + 0.08 * np.sin(3 * t + rng.uniform(0, 6))
        )
        points = list(zip(w * r * np.cos(t), h * r * np.sin(t), strict=True))
    return as_points(points)


def random_problem(seed: int) -> Problem:
    """A random lay in which several constraints meet: touching sides, zones, repeats, pins, flaws,
    gaps, nap, mirrored poses. Always soluble: the strip is open and every item fits somewhere."""
    rng = np.random.default_rng(seed)
    width = float(rng.uniform(600, 1500))
    gap = float(rng.choice([0.0, 0.0, 2.0, 5.0]))
    edge_gap = float(rng.choice([0.0, 0.0, 3.0]))
    items = []
    for k in range(int(rng.integers(3, 9))):
        outline = random_outline(rng, size=width * rng.uniform(0.1, 0.35))
        poses = [Pose(0.0)]
        if rng.random() < 0.7:
            poses.append(Pose(180.0))
        if rng.random() < 0.3:
            poses += [replace(p, mirrored=True) for p in poses]
        if rng.random() < 0.1:
            poses += [Pose(45.0)]
        domains = tuple(_domains(rng, width, outline, len(poses)))
        items.append(Item(f"item {k}", outline, tuple(poses), int(rng.integers(1, 4)), domains))
    holes: tuple[FloatArray, ...] = ()
    if rng.random() < 0.3:
        at = rng.uniform(0.2, 0.8, 2) * width
        holes = (as_points(random_outline(rng, size=width * 0.05) + at),)
    problem = Problem(width, tuple(items), holes=holes, gap=gap, edge_gap=edge_gap)
    return _pinned(problem, rng) if rng.random() < 0.3 else problem


def _domains(rng: Generator, width: float, outline: FloatArray, poses: int) -> list[Domain]:
    lattice = None
    if rng.random() < 0.3:
        anchor = outline[int(rng.integers(len(outline)))]
        lattice = Lattice(
            (float(anchor[0]), float(anchor[1])),
            float(rng.uniform(30, 80)) if rng.random() < 0.7 else None,
            float(rng.uniform(30, 80)) if rng.random() < 0.7 else None,
            float(rng.uniform(0, 50)),
            float(rng.uniform(0, 50)),
            1.0,
        )
    kind = rng.random()
    if kind < 0.2 and lattice is None:
        return [Domain(touch=(Side.Y0,), poses=(0,))]
    if kind < 0.3 and lattice is None:
        return [Domain(touch=(Side.Y0,)), Domain(y1=width, touch=(Side.Y1,))]
    if kind < 0.4:
        return [Domain(x0=float(rng.uniform(0, 500)), lattice=lattice)]
    if kind < 0.5:
        return [Domain(lattice=lattice), Domain(x0=300.0, poses=(poses - 1,), lattice=lattice)]
    return [Domain(lattice=lattice)]


def _pinned(problem: Problem, rng: Generator) -> Problem:
    """The problem with a copy of its largest item pinned clear of everything."""
    k = max(range(len(problem.items)), key=lambda i: signed_area(problem.items[i].outline))
    item = problem.items[k]
    low, high = item.outline.min(axis=0), item.outline.max(axis=0)
    room = problem.width - (high[1] - low[1]) - 2 * problem.edge_gap
    y = problem.edge_gap + float(rng.uniform(0, 1)) * room - low[1]
    pin = Placement(k, 0, 0, float(problem.width * 1.2 - low[0]), float(y))
    items = list(problem.items)
    items[k] = replace(item, pinned=(pin,))
    return replace(problem, items=tuple(items))
