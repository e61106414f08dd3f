"""The engine's front door: ``improve`` searches from a layout to a better one, within a budget."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from nesting.engine.legal import faults
from nesting.engine.problem import Budget, Problem, Progress, Solution
from nesting.engine.scene import Scene, build_scene
from nesting.engine.search.bottom_left import bottom_left, orders
from nesting.errors import InvariantError, ProblemError
from nesting.polygon import signed_area

Stop = Callable[[], bool]
Report = Callable[[Solution], None]


def first_layout(problem: Problem) -> Solution:
    """A legal layout at once, by bottom-left filling without compiled code.

    Raises ProblemError if the problem is not one.
    """
    scene = _checked_scene(problem)
    return _verified(problem, [bottom_left(scene, next(orders(scene, np.random.default_rng(0))))])


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
    every better layout. With ``budget.steps`` the result depends on problem, incumbent, seed and
    steps alone. Raises ProblemError if the problem is not one, or the incumbent is no layout of it.
    """
    scene = _checked_scene(problem)
    if incumbent is not None:
        _check_incumbent(problem, incumbent)
    clock = _Clock(budget, stop or _never)
    rng = np.random.default_rng(seed)
    found = [incumbent] if incumbent is not None else []
    history: list[Progress] = []
    for order in orders(scene, rng):
        if found and (clock.over() or _at_floor(scene, found[-1])):
            break
        solution = bottom_left(scene, order, clock.stopped if found else None)
        clock.steps += max(1, len(order))
        if not found or better(problem, solution, found[-1]):
            found.append(solution)
            history.append(Progress(clock.steps, clock.seconds(), solution.length))
            if report is not None:
                report(replace(solution, steps=clock.steps, history=tuple(history)))
    best = _verified(problem, found)
    return replace(best, steps=clock.steps, history=tuple(history))


def better(problem: Problem, a: Solution, b: Solution) -> bool:
    """Whether ``a`` is the better layout: more area laid, then shorter."""
    left_a, left_b = _area_left(problem, a), _area_left(problem, b)
    return left_a < left_b or (left_a == left_b and a.length < b.length)


class _Clock:
    """Steps and seconds spent of a budget."""

    def __init__(self, budget: Budget, stopped: Stop) -> None:
        self.budget = budget
        self.stopped = stopped
        self.steps = 0
        self.started = time.monotonic()

    def seconds(self) -> float:
        return time.monotonic() - self.started

    def over(self) -> bool:
        if self.stopped():
            return True
        if self.budget.steps is not None:
            return self.steps >= self.budget.steps
        return self.seconds() >= (self.budget.seconds or 0.0)


def _never() -> bool:
    return False


def _checked_scene(problem: Problem) -> Scene:
    scene = build_scene(problem)
    pins = [p.placement for p in scene.pins]
    wrong = faults(problem, pins)
    if wrong:
        raise ProblemError(
            f"what is pinned cannot lie where it is: {wrong[0]}",
            code="pinned",
            hint="Unpin one of the pieces named, or move it.",
        )
    return scene


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


def _at_floor(scene: Scene, solution: Solution) -> bool:
    return solution.complete and solution.length <= solution.floor + scene.table.touch


def _area_left(problem: Problem, solution: Solution) -> float:
    return sum(signed_area(problem.items[i].outline) for i, _ in solution.unplaced)
