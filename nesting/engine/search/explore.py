"""Shorter and shorter: shrink the strip after each success, go on from near misses after failures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from nesting.engine.problem import Placement, Solution
from nesting.engine.search.clock import Clock
from nesting.engine.search.separate import Separator, Snapshot

FIRST_STEP: Final = 0.02
LEAST_STEP: Final = 0.001
LARGEST_STEP: Final = 0.02
PATIENCE: Final = 60
POOL: Final = 10


EXPLORING: Final = 0.8
"""Share of the budget for exploring; the rest is for compressing the best layout."""

COMPRESS_FROM: Final = 0.0005
COMPRESS_TO: Final = 0.00001
COMPRESS_PATIENCE: Final = 30

Found = Callable[[Sequence[Placement]], None]


def explore(separator: Separator, clock: Clock, start: Solution, goal: float, found: Found) -> None:
    """Search from ``start`` until the budget is spent or a length of ``goal`` is reached; ``found``
    gets every better whole layout."""
    separator.load(start.placements)
    if not start.complete and not _fit(separator, clock, found):
        return
    goal = max(goal, separator.least_reach())
    hunt = Hunt(separator, clock, goal, found, separator.snapshot(), separator.reach())
    while not hunt.done() and clock.spent() < EXPLORING:
        hunt.shrink()
    compress(hunt)


def _fit(s: Separator, clock: Clock, found: Found) -> bool:
    """Make room for all pieces in a container that the first layouts did not fit into."""
    length = s.scene.problem.length or s.reach()
    pool: list[Snapshot] = []
    while not clock.over():
        if s.separate(length, clock, patience=PATIENCE, rounds=2):
            found(s.placements())
            return True
        _next_miss(s, pool)
    return False


@dataclass(slots=True, eq=False)
class Hunt:
    """A hunt for shorter layouts from one legal layout: the best one, its length, the near misses."""

    separator: Separator
    clock: Clock
    goal: float
    found: Found
    best: Snapshot
    length: float
    step: float = FIRST_STEP
    successes: int = 0
    failures: int = 0
    pool: list[Snapshot] = field(default_factory=list)

    def done(self) -> bool:
        return self.clock.over() or self.length <= self.goal

    def shrink(self) -> bool:
        """One attempt at a shorter strip; True if it came off."""
        s = self.separator
        target = max(self.goal, self.length * (1.0 - self.step))
        if s.separate(target, self.clock, patience=PATIENCE, rounds=2):
            self.best, self.length = s.snapshot(), s.reach()
            self.found(s.placements())
            self.pool.clear()
            self.failures = 0
            self.successes += 1
            if self.successes > 1:
                self.step = min(self.step * 1.5, LARGEST_STEP)
            return True
        self.successes = 0
        if self.step > LEAST_STEP:
            self.step = max(self.step * 0.5, LEAST_STEP)
            s.restore(self.best)
            return False
        self.failures += 1
        _next_miss(s, self.pool)
        return False


def _next_miss(s: Separator, pool: list[Snapshot]) -> None:
    """Put the failure into the pool; take one of the pool, the better the likelier; swap two large
    pieces in it."""
    pool.append(s.snapshot())
    pool.sort(key=lambda miss: miss.overlap)
    del pool[POOL:]
    rank = int(abs(s.rng.normal()) * len(pool) / 3)
    s.restore(pool[min(rank, len(pool) - 1)])
    swap_large(s)


def swap_large(s: Separator) -> None:
    """Two large pieces of different items change places."""
    items = np.array([item for item, _ in s.scene.bodies])
    sizes = np.array([s.ground.scale[b, b] for b in range(s.movable)])
    order = np.argsort(-sizes, kind="stable")
    share = np.cumsum(sizes[order] ** 2)
    large = order[: int(np.searchsorted(share, 0.75 * share[-1])) + 1]
    first = int(s.rng.choice(large))
    others = [int(b) for b in large if items[b] != items[first]]
    if not others:
        others = [b for b in range(s.movable) if items[b] != items[first]]
    if not others:
        return
    second = int(s.rng.choice(others))
    at = s.state.at
    a, b = at[first].tolist(), at[second].tolist()
    for body, (x, y) in ((first, b), (second, a)):
        options = len(s.scene.options[int(items[body])])
        s.place(body, int(s.rng.integers(options)), x, y)


def compress(hunt: Hunt) -> None:
    """Spend the rest of the budget on ever smaller steps from the best layout, pieces right of a
    random cut moved left."""
    s, clock = hunt.separator, hunt.clock
    begun = clock.spent()
    while not hunt.done():
        share = (clock.spent() - begun) / max(1e-9, 1.0 - begun)
        step = COMPRESS_FROM * (COMPRESS_TO / COMPRESS_FROM) ** share
        s.restore(hunt.best)
        target = max(hunt.goal, hunt.length * (1.0 - step))
        cut = float(s.rng.uniform(0.0, hunt.length))
        right = s.state.at[: s.movable, 0] > cut
        s.state.at[: s.movable][right, 0] -= hunt.length - target
        if s.separate(target, clock, patience=COMPRESS_PATIENCE):
            hunt.best, hunt.length = s.snapshot(), s.reach()
            hunt.found(s.placements())
