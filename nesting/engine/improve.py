"""The engine's front door: ``improve`` searches from a layout to a better one, within a budget."""

from __future__ import annotations

import hashlib
import math
import pickle
import time
from collections import OrderedDict
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.random import Generator

from nesting.engine.depth_field import Cancelled, build_ground
from nesting.engine.floor import floor_of
from nesting.engine.kernels.ground import Ground
from nesting.engine.legal import faults
from nesting.engine.problem import Budget, Item, Placement, Pose, Problem, Progress, Solution
from nesting.engine.scene import Scene, build_scene
from nesting.engine.search.bottom_left import (
    QUICK_POLYGONS,
    bottom_left,
    is_hasty,
    noisy_order,
    orders,
    solution_of,
)
from nesting.engine.search.clock import Clock, Stop
from nesting.engine.search.explore import Memory, explore
from nesting.engine.search.fill import fill, room_in
from nesting.engine.search.separate import Separator
from nesting.errors import InvariantError, ProblemError
from nesting.polygon import as_points, signed_area

Report = Callable[[Solution], None]

KEPT: Final = 6
"""So many last layouts are kept, should the best ones fail the last check."""

SECOND_ORDER: Final = 0.05
"""A second bottom-left order is tried if the first took less than this share of the budget."""

FILLING: Final = 0.1
"""Share of the budget spent on further bottom-left orders where the first does not fit."""


FILLING_UP: Final = 0.5
"""Share of what is left of the budget that goes into laying more, before all are laid with overlaps."""


def first_layout(problem: Problem) -> Solution:
    """A legal layout at once, by bottom-left filling without compiled code.

    Raises ProblemError if the problem is not one.
    """
    ready = _prepared(problem)
    order = next(orders(ready.scene, np.random.default_rng(0)))
    quick = bottom_left(ready.scene, order, ready.floor, polygons=QUICK_POLYGONS)
    if not quick.complete:
        quick = bottom_left(ready.scene, order, ready.floor)
    return _verified(problem, [quick])


def check_ready(problem: Problem) -> None:
    """Raise ProblemError, naming the item, if the problem cannot be packed at all."""
    build_scene(problem)


def improve(
    problem: Problem,
    incumbent: Solution | None = None,
    *,
    seed: int,
    budget: Budget,
    stop: Stop | None = None,
    report: Report | None = None,
) -> Solution:
    """The best layout found within the budget, never worse than ``incumbent`` and always legal.

    A strip's layout is better if it is shorter; a fixed container's, if it holds more area, and then
    if it is shorter. ``stop()`` is asked between steps and ends the search; ``report(solution)`` gets
    every better layout. A step is one piece moved or laid; with ``budget.steps`` the result depends on
    problem, incumbent, seed and steps alone. Time spent compiling is not charged to ``budget.seconds``.
    Ends early when the floor is met. Raises ProblemError if the problem is not one, or the incumbent
    is no layout of it.
    """
    clock = Clock(budget, stop)
    ready = _prepared(problem)
    if incumbent is not None:
        _check_incumbent(problem, incumbent)
    rng = np.random.default_rng(seed)
    log = _Log(ready, clock, report, incumbent)
    _fill(ready.scene, rng, log)
    if ready.scene.bodies and not (clock.over() or log.at_floor()):
        compiling = time.monotonic()
        if warm_up():
            clock.excuse(time.monotonic() - compiling)
        with suppress(Cancelled):
            _search(ready, rng, log, resumed=incumbent is not None)
    best = _verified(problem, [*log.started_from(), *log.solutions])
    return replace(best, steps=clock.steps, history=tuple(log.history))


_warm = False


def warm_up() -> bool:
    """Compile or load every kernel by solving a tiny problem; True if that was still to be done.

    About 20 s of one core on the first run ever, under a second when numba finds its cache. The cache
    lies beside the modules, or in the directory named by the environment variable NUMBA_CACHE_DIR,
    which must be set before this package is first imported.
    """
    global _warm
    if _warm:
        return False
    _warm = True
    box = as_points([(0, 0), (60, 0), (60, 40), (0, 40)])
    poses = (Pose(0.0), Pose(90.0))
    problem = Problem(100.0, (Item("box", box, poses, 3), Item("pin", box, pinned=_PIN)))
    scene = build_scene(problem)
    separator = Separator(scene, build_ground(scene), np.random.default_rng(1))
    clock = Clock(Budget(steps=400))
    start = bottom_left(scene, range(len(scene.bodies)), 0.0)
    explore(separator, clock, start, 0.0, lambda placements: None, lambda: None)
    return True


_PIN: Final = (Placement(1, 0, 0, 0.0, 0.0),)


def better(problem: Problem, a: Solution, b: Solution) -> bool:
    """Whether ``a`` is the better layout: more area laid, then shorter."""
    left_a, left_b = _area_left(problem, a), _area_left(problem, b)
    return left_a < left_b or (left_a == left_b and a.length < b.length)


@dataclass(slots=True, eq=False)
class _Ready:
    """A problem's scene and floor, and its packed data once they were needed."""

    scene: Scene
    floor: float
    ground: Ground | None = None
    memory: Memory = field(default_factory=Memory)

    def packed(self, stop: Stop) -> Ground:
        if self.ground is None:
            self.ground = build_ground(self.scene, stop=stop)
        return self.ground

    def mb(self) -> float:
        """About what it holds: the fields, and ``SCENE_MB`` for what leads to them."""
        packed = self.ground or ()
        return SCENE_MB + sum(a.nbytes for a in packed if isinstance(a, np.ndarray)) / 1e6


_ready: OrderedDict[bytes, _Ready] = OrderedDict()
"""The last problems made ready, by content: rounds of one search come with equal problems."""

READY_MB: Final = 64.0
"""So much of them is kept: the problems of one search take turns, round after round."""

SCENE_MB: Final = 2.0


def _prepared(problem: Problem) -> _Ready:
    key = hashlib.sha256(pickle.dumps(problem)).digest()
    if key not in _ready:
        scene = build_scene(problem)
        wrong = faults(problem, [p.placement for p in scene.pins])
        if wrong:
            raise ProblemError(
                f"what is pinned cannot lie where it is: {wrong[0]}",
                code="pinned",
                hint="Unpin one of the pieces named, or move it.",
            )
        _ready[key] = _Ready(scene, floor_of(scene))
    _ready.move_to_end(key)
    while len(_ready) > 1 and sum(ready.mb() for ready in _ready.values()) > READY_MB:
        _ready.popitem(last=False)
    return _ready[key]


class _Log:
    """The better and better layouts of one search."""

    def __init__(
        self, ready: _Ready, clock: Clock, report: Report | None, incumbent: Solution | None
    ) -> None:
        self.ready = ready
        self.clock = clock
        self.report = report
        self.start = incumbent
        self.solutions = [] if incumbent is None else [incumbent]
        self.history: list[Progress] = []

    def best(self) -> Solution:
        return self.solutions[-1]

    def started_from(self) -> list[Solution]:
        """What is left if all that the search found should fail the last check."""
        return [] if self.start is None else [self.start]

    def at_floor(self) -> bool:
        best = self.best()
        return best.complete and best.length <= self.ready.floor + self.ready.scene.table.touch

    def offer(self, solution: Solution) -> None:
        """Take a layout in if it is the best so far."""
        problem = self.ready.scene.problem
        if self.solutions and not better(problem, solution, self.best()):
            return
        self.start = self.start or solution
        self.solutions = [*self.solutions[1 - KEPT :], solution]
        self.history.append(Progress(self.clock.steps, self.clock.seconds(), solution.length))
        if self.report is not None:
            self.report(replace(solution, steps=self.clock.steps, history=tuple(self.history)))

    def add(self, placements: Sequence[Placement]) -> None:
        """Take in a layout; copies that it lacks are unplaced."""
        laid = {(p.item, p.copy) for p in placements}
        lacking = [key for key in self.ready.scene.bodies if key not in laid]
        self.offer(solution_of(self.ready.scene, placements, self.ready.floor, lacking))


def _fill(scene: Scene, rng: Generator, log: _Log) -> None:
    """First layouts by bottom-left filling: two orders, more if nothing holds every copy; none, or
    one, if the search starts from a whole layout."""
    clock = log.clock
    if log.solutions and log.best().complete:
        # A first layout (of 0 steps) of many pieces was made in haste: the exact one is shorter.
        if log.best().steps == 0 and is_hasty(scene):
            order = next(orders(scene, rng))
            log.offer(bottom_left(scene, order, log.ready.floor, clock.over))
            clock.steps += len(order)
        return
    for k, order in enumerate(orders(scene, rng)):
        if log.solutions:
            tried = k >= 2 or clock.spent() >= SECOND_ORDER
            enough = tried and (log.best().complete or clock.spent() >= FILLING)
            if enough or clock.over() or log.at_floor():
                return
        first = not log.solutions
        stop = None if first else clock.stopped
        polygons = QUICK_POLYGONS if first else math.inf
        log.offer(bottom_left(scene, order, log.ready.floor, stop, polygons=polygons))
        clock.steps += len(order) + 1


def _fresh(ready: _Ready, rng: Generator, clock: Clock) -> Sequence[Placement] | None:
    """A new bottom-left layout of a random order, if it holds every copy."""
    order = noisy_order(ready.scene, rng)
    clock.steps += len(order)
    solution = bottom_left(ready.scene, order, ready.floor, clock.over)
    return solution.placements if solution.complete else None


def _search(ready: _Ready, rng: Generator, log: _Log, *, resumed: bool) -> None:
    """Search on from the log's best layout."""
    clock = log.clock
    if not log.best().complete:
        _fill_up(ready, rng, log)
    separator = Separator(ready.scene, ready.packed(clock.stopped), rng)
    # Steps promise the same result whatever was searched before: only seconds may remember.
    by_seconds = clock.budget.seconds is not None
    if not (resumed and by_seconds):
        ready.memory = Memory()
    explore(
        separator,
        clock,
        log.best(),
        ready.floor + ready.scene.table.touch,
        log.add,
        lambda: _fresh(ready, rng, clock),
        memory=ready.memory if by_seconds else None,
        resumed=resumed,
    )


def _fill_up(ready: _Ready, rng: Generator, log: _Log) -> None:
    """Lay more of what a container does not hold yet; with the whole budget if it is proved that it
    cannot hold all."""
    scene, clock = ready.scene, log.clock
    problem = scene.problem
    assert problem.length is not None
    areas = sum(signed_area(problem.items[i].outline) for i, _ in scene.bodies)
    hopeless = ready.floor > problem.length or areas > room_in(problem)
    until = 1.0 if hopeless else clock.spent() + FILLING_UP * (1.0 - clock.spent())
    ground = ready.packed(clock.stopped)
    fill(scene, ground, rng, clock, log.best().placements, log.add, until=until)


def _check_incumbent(problem: Problem, incumbent: Solution) -> None:
    wrong = faults(problem, incumbent.placements)
    if wrong:
        raise ProblemError(
            f"the layout to start from does not belong to this problem: {wrong[0]}",
            code="incumbent",
            hint="Start without it.",
        )


def _verified(problem: Problem, found: list[Solution]) -> Solution:
    """The last layout that passes the check on the true outlines."""
    for solution in reversed(found):
        if not faults(problem, solution.placements):
            return solution
    raise InvariantError("the search made no legal layout", hint="Please report this problem.")


def _area_left(problem: Problem, solution: Solution) -> float:
    return sum(signed_area(problem.items[i].outline) for i, _ in solution.unplaced)
