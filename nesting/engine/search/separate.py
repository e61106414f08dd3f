"""Overlap minimisation: at a fixed length, move overlapping pieces until none overlaps.

Pairs that stay overlapped gain weight (guided local search; Egeblad, Nielsen and Odgaard 2007), overlap
is measured as penetration depth (Imamichi, Yagiura and Nagamochi 2009), places are found by sampling
and coordinate descent (Gardeyn, Vanden Berghe and Wauters 2025).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.random import Generator

from nesting.engine.kernels.collide import all_depths
from nesting.engine.kernels.ground import F64, I64, Ground, make_state
from nesting.engine.kernels.moves import clamp, sweep
from nesting.engine.kernels.places import settle_x
from nesting.engine.problem import Placement
from nesting.engine.scene import Scene
from nesting.engine.search.clock import Clock

GAIN: Final = 0.98
"""Patience starts anew when the least overlap falls to this share."""


@dataclass(frozen=True, slots=True, eq=False)
class Snapshot:
    """A layout of the movable bodies, legal or not, and its overlap."""

    at: F64
    chosen: I64
    overlap: float


class Separator:
    """A search state on a scene: places, options and weights of all bodies."""

    def __init__(self, scene: Scene, ground: Ground, rng: Generator) -> None:
        self.scene = scene
        self.ground = ground
        self.rng = rng
        self.movable = len(scene.bodies)
        fixed = [(p.x, p.y) for p in scene.pins] + [(w.x, w.y) for w in scene.walls]
        n = self.movable + len(fixed)
        walls = range(len(scene.table.shapes), len(scene.table.shapes) + len(scene.walls))
        shapes = [0] * self.movable + [p.shape for p in scene.pins] + list(walls)
        self.state = make_state(
            np.array([(0.0, 0.0)] * self.movable + fixed, dtype=float).reshape(n, 2),
            np.array(shapes, np.int64),
            ground.first_option[:-1].copy(),
            ground.scale.copy(),
            int(rng.integers(1, 2**32)),
        )
        self.depths = np.zeros((n, n))
        self._out = np.zeros(2)
        problem = scene.problem
        self._pinned_reach = max(
            [
                float(problem.items[p.placement.item].posed(p.placement.pose)[:, 0].max())
                + p.placement.x
                for p in scene.pins
            ],
            default=0.0,
        )

    def place(self, body: int, option: int, x: float, y: float) -> None:
        """Put a body where told, in its option of that number."""
        o = int(self.ground.first_option[body]) + option
        self.state.at[body] = (x, y)
        self.state.chosen[body] = o
        self.state.shape[body] = self.ground.option_shape[o]

    def load(self, placements: Sequence[Placement]) -> None:
        """Take up a layout; bodies that it lacks go to a random place near its end."""
        bodies = {key: b for b, key in enumerate(self.scene.bodies)}
        missing = set(range(self.movable))
        for p in placements:
            body = bodies.get((p.item, p.copy))
            if body is None:
                continue
            option = self._option_of(p)
            cx, cy = self.scene.options[p.item][option].centre
            self.place(body, option, p.x + cx, p.y + cy)
            missing.discard(body)
        reach = max(self.reach(), 1.0)
        for body in sorted(missing):
            options = self.scene.options[self.scene.bodies[body][0]]
            k = int(self.rng.integers(len(options)))
            o = options[k]
            x = self.rng.uniform(o.x0, min(o.x1, max(reach, o.x0)))
            self.place(body, k, float(x), float(self.rng.uniform(o.y0, o.y1)))

    def _option_of(self, p: Placement) -> int:
        """The option a placement stands for: its own, or the equal one that was kept."""
        options = self.scene.options[p.item]
        shape = self.scene.table.of_pose[p.item][p.pose].shape
        for k, o in enumerate(options):
            if (o.domain, o.pose) == (p.domain, p.pose):
                return k
        same = [k for k, o in enumerate(options) if o.shape == shape and o.domain == p.domain]
        return same[0] if same else 0

    def placements(self) -> list[Placement]:
        """The layout as placements, pins included."""
        out = [p.placement for p in self.scene.pins]
        first = self.ground.first_option
        for body in range(self.movable):
            item = self.scene.bodies[body][0]
            option = self.scene.options[item][int(self.state.chosen[body] - first[body])]
            x, y = self.state.at[body].tolist()
            out.append(self.scene.placement(body, option, x, y))
        return out

    def reach(self) -> float:
        """Greatest x of any piece."""
        if not self.movable:
            return self._pinned_reach
        right = self.state.at[: self.movable, 0] + self.ground.option[self.state.chosen, 4]
        return max(self._pinned_reach, float(right.max()))

    def least_reach(self) -> float:
        """A length below which some body has no place at all, whatever the others do."""
        g = self.ground
        reach = [self._pinned_reach]
        for body in range(self.movable):
            rows = range(int(g.first_option[body]), int(g.first_option[body + 1]))
            reach.append(
                min(settle_x(g, o, float(g.option[o, 0]), math.inf) + g.option[o, 4] for o in rows)
            )
        return float(max(reach))

    def snapshot(self) -> Snapshot:
        """A copy of the layout as it is."""
        return Snapshot(
            self.state.at[: self.movable].copy(), self.state.chosen.copy(), float(self._out[0])
        )

    def restore(self, snapshot: Snapshot) -> None:
        """Go back to a copied layout."""
        self.state.at[: self.movable] = snapshot.at
        self.state.chosen[:] = snapshot.chosen
        self.state.shape[: self.movable] = self.ground.option_shape[snapshot.chosen]
        self._out[0] = snapshot.overlap

    def separate(self, length: float, clock: Clock, *, patience: int, rounds: int = 1) -> bool:
        """Part all pieces within ``length``. False, with the least overlapped layout found as the
        state, when ``patience`` sweeps brought no gain in each of ``rounds`` rounds."""
        ground, state = self.ground, self.state
        clock.steps += 1  # an attempt costs a step even where there is nothing to move
        if not clamp(ground, state, length):
            self._out[0] = math.inf
            return False
        state.weight[:] = ground.scale
        self._out[0] = all_depths(ground, state, self.depths)
        best = self.snapshot()
        for attempt in range(rounds):
            if attempt:
                self.restore(best)
                self._out[0] = all_depths(ground, state, self.depths)
            waited, target = 0, GAIN * best.overlap
            while waited < patience:
                if self._out[0] <= 0.0:
                    return True
                if clock.over():
                    self.restore(best)
                    return False
                clock.steps += sweep(ground, state, length, self.depths, self._out)
                waited += 1
                if self._out[0] < best.overlap:
                    best = self.snapshot()
                    if best.overlap < target:
                        waited, target = 0, GAIN * best.overlap
        self.restore(best)
        return bool(self._out[0] <= 0.0)
