"""What the engine costs against the number of pieces: preparation, first layout, speed, memory.

    python -m tests.bench pieces [--counts 10,20,50,100,200] [--steps 8000] [--json]

CPU seconds, so that a busy machine matters less. Each count runs in a process of its own.
"""

from __future__ import annotations

import argparse
import json
import resource
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from typing import Any

import numpy as np

from nesting.engine.depth_field import build_ground
from nesting.engine.improve import improve, warm_up
from nesting.engine.problem import Budget, Problem
from nesting.engine.scene import build_scene
from nesting.engine.search.bottom_left import QUICK_POLYGONS, bottom_left, orders
from tests.bench.garments import WIDTH, blouse_items, one, skirt


def main(argv: list[str]) -> int:
    """Print a table, or JSON."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench pieces")
    parser.add_argument("--counts", default="10,20,50,100,200")
    parser.add_argument("--steps", type=int, default=8000)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args(argv)
    rows = []
    for count in (int(c) for c in options.counts.split(",")):
        with ProcessPoolExecutor(1) as pool:
            rows.append(pool.submit(measure, count, options.steps).result())
        if not options.json:
            print(rows[-1], flush=True)
    if options.json:
        print(json.dumps(rows, indent=1))
    return 0


def lay_of(count: int) -> Problem:
    """``count`` copies of blouse pieces in as many sizes as are needed, 12 shapes a size, 0/180."""
    items = []
    size = 0
    while sum(i.count for i in items) < count:
        items += blouse_items(1.0 + 0.05 * size, f" {size}")
        items.append(one(f"skirt {size}", skirt(1.0 + 0.05 * size)))
        size += 1
    while (over := sum(i.count for i in items) - count) > 0:
        last = items.pop()
        if last.count > over:
            items.append(replace(last, count=last.count - over))
    return Problem(WIDTH, tuple(items))


def measure(count: int, steps: int) -> dict[str, Any]:
    """Costs of one lay."""
    warm_up()
    problem = lay_of(count)
    marks = [time.process_time()]
    scene = build_scene(problem)
    order = next(orders(scene, np.random.default_rng(0)))
    layout = bottom_left(scene, order, 0.0, polygons=QUICK_POLYGONS)
    marks.append(time.process_time())
    layout = replace(layout, steps=1)  # else a layout made in haste is made anew in each search
    ground = build_ground(scene)
    marks.append(time.process_time())
    improve(problem, layout, seed=1, budget=Budget(steps=1))
    before = time.process_time()
    found = improve(problem, layout, seed=1, budget=Budget(steps=steps))
    spent = time.process_time() - before
    return {
        "pieces": count,
        "outlines": len(scene.table.rings),
        "fields": len(ground.grid),
        "first_layout_s": round(marks[1] - marks[0], 3),
        "preparation_s": round(marks[2] - marks[1], 3),
        "moves_per_cpu_s": round(found.steps / spent),
        "fields_mb": round(sum(a.nbytes for a in ground[:-1]) / 1e6, 1),
        "process_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024),
    }
