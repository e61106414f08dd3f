"""Shorter and shorter: shrink the strip after each success, go on from near misses after failures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from nesting.engine.problem import Placement, Solution
from nesting.engine.search.clock import Clock
from nesting.engine.search.compact import compact
from nesting.engine.search.separate import Separator, Snapshot

FIRST_STEP: Final = 0.02
LEAST_STEP: Final = 0.001
LARGEST_STEP: Final = 0.02
PATIENCE: Final = 120
POOL: Final = 10


STAGNANT: Final = 10
"""After so many failures in a row a line of search is left for a fresh construction ..."""

STAGNANT_FRESH: Final = 3
"""... and after so many, if it is a fresh one that has not come up to the record."""

AFTER_RESUMING: Final = 0.004
"""First step from a layout that was searched before."""

OWN_LINE: Final = 0.003
"""A remembered line of search goes on beside a better incumbent if it is behind by less than this."""

EXPLORING: Final = 0.8
"""Share of the budget for exploring; the rest is for compressing the best layout."""

STILL_LARGE: Final = 0.003
"""Exploring goes on to the end while it makes steps larger than this: compression has no such steps."""

COMPRESS_FROM: Final = 0.0005
COMPRESS_TO: Final = 0.00001
COMPRESS_PATIENCE: Final = 30

Found = Callable[[Sequence[Placement]], None]
Fresh = Callable[[], Sequence[Placement] | None]


@dataclass(slots=True, eq=False)
class Line:
    """A line of search: its best legal layout and length, the present step, the near misses."""

    best: Snapshot
    length: float
    step: float = FIRST_STEP
    successes: int = 0
    failures: int = 0
    fresh: bool = False
    pool: list[Snapshot] = field(default_factory=list)


@dataclass(slots=True, eq=False)
class Memory:
    """What a search may remember for the next round on the same problem: its lines, best first."""

    lines: list[Line] = field(default_factory=list)


def explore(
    separator: Separator,
    clock: Clock,
    start: Solution,
    goal: float,
    found: Found,
    fresh: Fresh,
    *,
    memory: Memory | None = None,
    resumed: bool = False,
) -> None:
    """Search from ``start`` until the budget is spent or a length of ``goal`` is reached.

    ``found`` gets every layout that is better than all before; ``fresh`` constructs a new layout.
    ``memory`` carries lines of search from round to round (and is changed); ``resumed`` says that
    ``start`` was searched before.
    """
    separator.load(start.placements)
    if not start.complete and not _fit(separator, clock, found):
        return
    goal = max(goal, separator.least_reach())
    line = Line(separator.snapshot(), separator.reach(), AFTER_RESUMING if resumed else FIRST_STEP)
    hunt = Hunt(separator, clock, goal, found, line, line)
    if memory is not None and memory.lines:
        hunt.resume(memory.lines[0])
    while not hunt.done() and (clock.spent() < EXPLORING or hunt.line.step > STILL_LARGE):
        hunt.shrink()
        if hunt.stagnant():
            hunt.change_line(fresh)
    compress(hunt)
    if memory is not None:
        memory.lines = [hunt.line]


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
    """A hunt for shorter layouts: the line now followed, and the best one of all (the record)."""

    separator: Separator
    clock: Clock
    goal: float
    found: Found
    line: Line
    record: Line

    def done(self) -> bool:
        """Whether the budget is spent or nothing shorter can be."""
        return self.clock.over() or self.record.length <= self.goal

    def stagnant(self) -> bool:
        """Whether the present line seems to lead nowhere."""
        behind = self.line.fresh and self.line.length > self.record.length
        return self.line.failures >= (STAGNANT_FRESH if behind else STAGNANT)

    def resume(self, line: Line) -> None:
        """Go on with a remembered line, from the incumbent unless the line is about as good."""
        if line.length > self.record.length * (1.0 + OWN_LINE):
            line.best, line.length = self.record.best, self.record.length
            line.fresh, line.failures = False, 0
        line.step = max(line.step, LEAST_STEP)
        self.line = line
        if line.length < self.record.length:
            self.record = line
        self.separator.restore(line.best)
        if line.failures and line.pool:
            _take_miss(self.separator, line.pool)

    def success(self) -> None:
        """The separator holds a legal layout: the line's best, and perhaps the record."""
        s, line = self.separator, self.line
        line.best, line.length = s.snapshot(), s.reach()
        if line is self.record or line.length < self.record.length:
            self.record = line
            self.found(s.placements())

    def shrink(self) -> None:
        """One attempt at a shorter strip."""
        s, line = self.separator, self.line
        target = max(self.goal, line.length * (1.0 - line.step))
        if s.separate(target, self.clock, patience=PATIENCE, rounds=2):
            self.success()
            line.pool.clear()
            line.failures = 0
            line.successes += 1
            if line.successes > 1:
                line.step = min(line.step * 1.5, LARGEST_STEP)
            return
        line.successes = 0
        if line.step > LEAST_STEP:
            line.step = max(line.step * 0.5, LEAST_STEP)
            s.restore(line.best)
            return
        line.failures += 1
        _next_miss(s, line.pool)

    def change_line(self, fresh: Fresh) -> None:
        """Leave the present line: for the record's, if this was a fresh one; else for a fresh one."""
        s = self.separator
        self.line.failures = 0
        if self.line is not self.record:
            self.line = self.record
            s.restore(self.line.best)
            _next_miss(s, self.line.pool)
            return
        placements = fresh()
        if placements is None:
            return
        s.load(placements)
        self.line = Line(s.snapshot(), s.reach(), fresh=True)


def _next_miss(s: Separator, pool: list[Snapshot]) -> None:
    """Put the failure into the pool; take one of the pool, the better the likelier; swap two large
    pieces in it."""
    pool.append(s.snapshot())
    pool.sort(key=lambda miss: miss.overlap)
    del pool[POOL:]
    _take_miss(s, pool)


def _take_miss(s: Separator, pool: list[Snapshot]) -> None:
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
    """Spend the rest of the budget on ever smaller steps from the record, pieces right of a random cut
    moved left."""
    s, clock = hunt.separator, hunt.clock
    line = hunt.line = hunt.record
    begun = clock.spent()
    s.restore(line.best)
    if not hunt.done() and compact(s, clock):
        hunt.success()
    while not hunt.done():
        share = (clock.spent() - begun) / max(1e-9, 1.0 - begun)
        step = COMPRESS_FROM * (COMPRESS_TO / COMPRESS_FROM) ** share
        s.restore(line.best)
        target = max(hunt.goal, line.length * (1.0 - step))
        cut = float(s.rng.uniform(0.0, line.length))
        right = s.state.at[: s.movable, 0] > cut
        s.state.at[: s.movable][right, 0] -= line.length - target
        if s.separate(target, clock, patience=COMPRESS_PATIENCE):
            hunt.success()
