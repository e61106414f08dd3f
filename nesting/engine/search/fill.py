"""As much as goes in: which pieces to lay where a fixed container cannot be made to hold all.

From a layout that lacks some pieces, one that is left out is put in, at first beside all that lie
there, then in the place of smaller ones; the overlap that it makes is separated like any other. What
comes out legal holds more area, and the search goes on from it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.random import Generator

from nesting.engine.depth_field import ground_for
from nesting.engine.kernels.ground import Ground
from nesting.engine.problem import Placement, Problem
from nesting.engine.scene import Scene
from nesting.engine.search.clock import Clock
from nesting.engine.search.separate import Separator
from nesting.polygon import signed_area

PATIENCE: Final = 40
"""Sweeps without gain before a piece is held not to go in."""

EXCHANGES: Final = 0.6
"""Share of the attempts in which smaller pieces make room."""

MOST_OUT: Final = 3
"""At most so many pieces make room for one."""

Found = Callable[[Sequence[Placement]], None]


def fill(
    scene: Scene,
    ground: Ground,
    rng: Generator,
    clock: Clock,
    start: Sequence[Placement],
    found: Found,
    *,
    until: float,
) -> Sequence[Placement]:
    """Search from ``start``, a legal layout that lacks pieces, for layouts that hold more area.

    ``found`` gets every better one; the last is returned. Ends when all is laid, or when the share
    ``until`` of the budget is spent.
    """
    length = scene.problem.length
    assert length is not None
    areas = np.array([signed_area(scene.problem.items[i].outline) for i, _ in scene.bodies])
    number = {key: b for b, key in enumerate(scene.bodies)}
    best = list(start)
    while not clock.over() and clock.spent() < until:
        inside = {number[p.item, p.copy] for p in best if (p.item, p.copy) in number}
        outside = sorted(set(range(len(areas))) - inside)
        if not outside:
            break
        coming = int(rng.choice(outside))
        going = _going(rng, areas, sorted(inside), coming)
        laid = sorted(inside - set(going) | {coming})
        clock.steps += 1
        if float(areas[laid].sum()) > room_in(scene.problem):
            continue
        part = replace(scene, bodies=tuple(scene.bodies[b] for b in laid))
        separator = Separator(part, ground_for(part, ground), rng)
        separator.load(best)
        if separator.separate(length, clock, patience=PATIENCE):
            best = separator.placements()
            found(best)
    return best


def room_in(problem: Problem) -> float:
    """Area of a fixed container, flaws not taken off."""
    assert problem.length is not None
    if problem.container is not None:
        return signed_area(problem.container)
    return problem.width * problem.length


def _going(rng: Generator, areas: np.ndarray, inside: list[int], coming: int) -> list[int]:
    """Bodies that make room: none, or some that are together smaller than the one that comes."""
    going: list[int] = []
    if rng.random() >= EXCHANGES:
        return going
    left = float(areas[coming])
    for _ in range(1 + int(rng.integers(MOST_OUT))):
        smaller = [b for b in inside if b not in going and areas[b] < left * (1.0 - 1e-9)]
        if not smaller:
            break
        going.append(int(rng.choice(smaller)))
        left -= float(areas[going[-1]])
    return going
