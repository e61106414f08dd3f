"""How soon an answer is good, how near it is to its floor, and what matching the cloth's pattern costs.

    python -m tests.bench answers [--lays blouse-19,blouse-40,...] [--seconds 2,60] [--seeds 3] [--json]

Our garment lays, searched as the service does (two processes, in rounds), so many wall seconds each;
medians over the seeds. For each lay: length over floor, and the first time's length over the last's.
For lays matched to a stripe or a check, the length over the same lay's free of it. Memory is the
largest of the searching processes. With the load, for a busy machine's seconds are short ones.
"""

from __future__ import annotations

import argparse
import json
import resource
import statistics
from concurrent.futures import ProcessPoolExecutor
from typing import Any

from nesting.engine.floor import area_floor, floor_of
from nesting.engine.problem import Problem
from nesting.engine.scene import build_scene
from tests.bench.garments import LAYS
from tests.bench.proof import wrongs
from tests.bench.searching import lanes, load, search

LANES = 2

FREE_OF = {"blouse-40": "blouse-19", "blouse-60x80": "blouse-19", "blouse-nap": "blouse-19"}
"""Lays with a pattern or a nap, and the same lay without."""


def main(argv: list[str]) -> int:
    """Search and print a table, or JSON; 1 if any layout is wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench answers")
    parser.add_argument("--lays", default=",".join(LAYS), help="comma separated")
    parser.add_argument(
        "--seconds", default="2,60", help="wall seconds, comma separated, ascending"
    )
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args(argv)
    seconds = [float(s) for s in options.seconds.split(",")]
    rows: dict[str, dict[str, Any]] = {}
    with lanes(LANES) as pool:
        for name in options.lays.split(","):
            rows[name] = row = measure(pool, LAYS[name](), seconds, options.seeds)
            compare(rows, name)
            if not options.json:
                print(name, row, flush=True)
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    report = {"lays": rows, "peak_mb": round(peak)}
    print(json.dumps(report, indent=1) if options.json else report["peak_mb"])
    return 1 if any(row["wrong"] for row in rows.values()) else 0


def measure(
    pool: ProcessPoolExecutor, problem: Problem, seconds: list[float], seeds: int
) -> dict[str, Any]:
    """Median lengths of one lay after each of the times, with its floors."""
    scene = build_scene(problem)
    lengths, wrong = [], []
    for limit in seconds:
        found = []
        for seed in range(1, seeds + 1):
            solution, _ = search(pool, LANES, problem, seconds=limit, seed=seed)
            found.append(solution.length)
            wrong += wrongs(problem, solution)
        lengths.append(round(statistics.median(found), 2))
    floor = floor_of(scene)
    return {
        "pieces": sum(i.count for i in problem.items),
        "area_bound": round(area_floor(scene), 2),
        "floor": round(floor, 2),
        "lengths": lengths,
        "over_floor_percent": [percent_over(length, floor) for length in lengths],
        "first_over_last_percent": percent_over(lengths[0], lengths[-1]),
        "load": round(load(), 1),
        "wrong": wrong,
    }


def compare(rows: dict[str, dict[str, Any]], name: str) -> None:
    """Note beside a matched lay how much longer it is than the same lay free of the match."""
    free = rows.get(FREE_OF.get(name, ""))
    if free is not None:
        pairs = zip(rows[name]["lengths"], free["lengths"], strict=True)
        rows[name]["over_free_percent"] = [percent_over(mine, other) for mine, other in pairs]


def percent_over(length: float, other: float) -> float:
    """By how many per cent a length is longer than another."""
    return round(100 * (length / other - 1), 2)
