"""Random constrained lays, each proved by shapely outside the engine: none may be wrong.

    python -m tests.bench constrained [--lays 1000] [--steps 1500] [--first 0] [--json]

Folds, zones, repeats, pins, flaws, gaps, nap and mirrored poses meet at random; every fourth lay goes
into a fixed container, of which half are irregular.
"""

from __future__ import annotations

import argparse
import json
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import numpy as np

from nesting.engine.improve import improve, warm_up
from nesting.engine.problem import Budget, Problem
from nesting.polygon import as_points, signed_area
from tests.bench.lays import random_problem
from tests.bench.proof import wrongs


def main(argv: list[str]) -> int:
    """Prove every lay; 1 if any is wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench constrained")
    parser.add_argument("--lays", type=int, default=1000)
    parser.add_argument("--steps", type=int, default=1500)
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args(argv)
    started = time.monotonic()
    seeds = range(options.first, options.first + options.lays)
    with ProcessPoolExecutor(2, initializer=warm_up) as pool:
        calls = [pool.submit(prove, seed, options.steps) for seed in seeds]
        wrong = {
            seed: bad for seed, call in zip(seeds, calls, strict=True) if (bad := call.result())
        }
    report = {"lays": options.lays, "wrong": wrong, "seconds": time.monotonic() - started}
    print(json.dumps(report, indent=1) if options.json else report)
    return 1 if wrong else 0


def prove(seed: int, steps: int) -> list[str]:
    """What is wrong with the layout of one random lay; empty if nothing."""
    problem = constrained(seed)
    found = improve(problem, seed=seed, budget=Budget(steps=steps))
    bad = wrongs(problem, found, whole=problem.length is None)
    if found.length < found.floor - 1e-9:
        bad.append("shorter than its floor")
    return bad


def constrained(seed: int) -> Problem:
    """A random strip, or, every fourth time, a container that may be too small."""
    problem = random_problem(seed)
    if seed % 4 or any(item.pinned for item in problem.items):
        return problem
    rng = np.random.default_rng(seed)
    area = sum(signed_area(i.outline) * i.count for i in problem.items)
    longest = max(
        float(np.ptp(i.posed(p), axis=0).max()) for i in problem.items for p in range(len(i.poses))
    )
    starts = max((d.x0 for i in problem.items for d in i.domains), default=0.0)
    length = starts + longest + 100.0 + float(rng.uniform(0.9, 1.6)) * area / problem.width
    if seed % 8:
        return replace(problem, length=length)
    w = problem.width
    corners = [
        (0, 0),
        (length * 0.9, 0),
        (length, w * 0.4),
        (length, w),
        (length * 0.1, w),
        (0, w * 0.95),
    ]
    return replace(problem, length=length, container=as_points(corners))
