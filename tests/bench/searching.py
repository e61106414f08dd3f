"""Runs of the engine as the service runs it: several processes, in rounds, best layout handed on."""

from __future__ import annotations

import multiprocessing
import os
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager

from nesting.engine.improve import improve, warm_up
from nesting.engine.problem import Budget, Problem, Solution

ROUND_S = 1.0
"""The shortest full round, as the service has it ..."""

ROUNDS = 4
"""... and so many rounds to a run where that makes longer ones."""

SHORTEST_S = 0.2


@contextmanager
def lanes(count: int) -> Iterator[ProcessPoolExecutor]:
    """``count`` warm worker processes."""
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(count, mp_context=context, initializer=warm_up) as pool:
        list(pool.map(_here, range(count * 4)))
        yield pool


def search(
    pool: ProcessPoolExecutor, count: int, problem: Problem, *, seconds: float, seed: int
) -> tuple[Solution, float]:
    """The best layout after ``seconds`` of wall time (preparation included), and the time taken."""
    started = time.monotonic()
    best: Solution | None = None
    rounds = 0
    while True:
        left = seconds - (time.monotonic() - started)
        if best is not None and (left < SHORTEST_S or best.length <= best.floor):
            return best, time.monotonic() - started
        length = max(ROUND_S, seconds / ROUNDS)
        budget = Budget(seconds=max(0.05, left if left < 1.5 * length else length))
        seeds = [seed * 1000 + rounds * count + lane for lane in range(count)]
        calls = [pool.submit(_round, problem, best, s, budget) for s in seeds]
        results = [call.result() for call in calls]
        best = min(results, key=lambda s: (len(s.unplaced), s.length))
        rounds += 1


def load() -> float:
    """Processes wanting a core over the last minute."""
    return os.getloadavg()[0]


def _round(problem: Problem, incumbent: Solution | None, seed: int, budget: Budget) -> Solution:
    return improve(problem, incumbent, seed=seed, budget=budget)


def _here(k: int) -> int:
    time.sleep(0.2)
    return k
