"""The engine against a general research library for strip packing, and on garment lays of our own.

    python -m tests.bench nesting --instances DIR --names shirts,swim,... --seconds 5,10,30 --seeds 5
        --against spyrrow --json
    python -m tests.bench nesting --lays --seconds 2,10

Every run of ours (two processes) is followed by one of the reference (two workers) of equal wall time,
so that both meet the same machine. Medians over the seeds; the load is recorded with every pair.
Instances are files NAME.json: ``strip_height`` and ``items`` (``demand``, ``allowed_orientations`` in
degrees, ``shape.data``); they are not part of the project.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import statistics
import time
from concurrent.futures import ProcessPoolExecutor
from importlib.metadata import version
from pathlib import Path
from typing import Any

from nesting.engine.floor import area_floor, floor_of
from nesting.engine.problem import Item, Pose, Problem
from nesting.engine.scene import build_scene
from nesting.polygon import as_points, counter_clockwise, without_repeats
from tests.bench.garments import LAYS
from tests.bench.proof import wrongs
from tests.bench.searching import lanes, load, search

LANES = 2


def main(argv: list[str]) -> int:
    """Run and print a table, or JSON; 1 if any layout of ours is illegal."""
    options = _options(argv)
    seconds = [float(s) for s in options.seconds.split(",")]
    problems = _problems(options)
    rows = []
    with lanes(LANES) as pool:
        for name, problem in problems.items():
            for limit in seconds:
                row = _row(pool, name, problem, limit, options.seeds, options.against)
                rows.append(row)
                if not options.json:
                    print(_line(row), flush=True)
    report = {"machine": _machine(), "rows": rows, "summary": _summary(rows)}
    print(json.dumps(report, indent=1) if options.json else _summary(rows))
    return 1 if any(row["wrong"] for row in rows) else 0


def read_instance(path: Path, *, half_turns_only: bool = False) -> Problem:
    """A problem from an instance file."""
    data = json.loads(path.read_text(encoding="utf-8"))
    items = []
    for it in data["items"]:
        outline = counter_clockwise(as_points(it["shape"]["data"]))
        turns = [t for t in it["allowed_orientations"] if not half_turns_only or t % 180 == 0]
        poses = tuple(Pose(float(t)) for t in turns)
        points = without_repeats(outline, closed=True)
        items.append(Item(str(it["id"]), points, poses, int(it["demand"])))
    return Problem(float(data["strip_height"]), tuple(items))


def _problems(options: argparse.Namespace) -> dict[str, Problem]:
    problems: dict[str, Problem] = {}
    for name in filter(None, options.names.split(",")):
        base, _, kind = name.partition("@")
        path = Path(options.instances) / f"{base}.json"
        problems[name] = read_instance(path, half_turns_only=kind == "180")
    if options.lays:
        problems |= {name: make() for name, make in LAYS.items()}
    return problems


def _row(
    pool: ProcessPoolExecutor, name: str, problem: Problem, limit: float, seeds: int, against: str
) -> dict[str, Any]:
    scene = build_scene(problem)
    area, floor = area_floor(scene), floor_of(scene)
    ours, theirs, loads, wrong, took = [], [], [], [], []
    for seed in range(1, seeds + 1):
        solution, spent = search(pool, LANES, problem, seconds=limit, seed=seed)
        ours.append(solution.length)
        took.append(spent)
        wrong += wrongs(problem, solution)
        loads.append(load())
        if against:
            theirs.append(_reference(problem, limit, seed))
    row: dict[str, Any] = {
        "name": name,
        "seconds": limit,
        "pieces": sum(i.count for i in problem.items),
        "area_bound": area,
        "floor": floor,
        "lengths": ours,
        "length": statistics.median(ours),
        "density": area / statistics.median(ours),
        "over_floor": statistics.median(ours) / floor - 1,
        "took": max(took),
        "load": statistics.mean(loads),
        "wrong": wrong,
    }
    if theirs:
        row["reference_lengths"] = theirs
        row["reference_density"] = area / statistics.median(theirs)
        row["ratio"] = row["density"] / row["reference_density"]
    return row


def _reference(problem: Problem, limit: float, seed: int) -> float:
    """Length found by the reference with two workers in the same wall time."""
    import spyrrow

    items = [
        spyrrow.Item(
            item.key,
            [tuple(p) for p in item.outline.tolist()],
            demand=item.count,
            allowed_orientations=[p.turn_deg for p in item.poses],
        )
        for item in problem.items
    ]
    instance = spyrrow.StripPackingInstance("lay", strip_height=problem.width, items=items)
    config = spyrrow.StripPackingConfig(
        early_termination=False,
        total_computation_time=round(limit),
        num_workers=LANES,
        seed=seed,
    )
    return float(instance.solve(config).width)


def _summary(rows: list[dict[str, Any]]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for limit in sorted({row["seconds"] for row in rows}):
        ratios = [r["ratio"] for r in rows if r["seconds"] == limit and "ratio" in r]
        if ratios:
            out[f"{limit:g} s"] = {
                "mean_ratio": statistics.mean(ratios),
                "least_ratio": min(ratios),
                "sets_at_or_above_1": sum(r >= 1.0 for r in ratios),
            }
    return out


def _line(row: dict[str, Any]) -> str:
    text = f"{row['name']:12} {row['seconds']:4g} s  {100 * row['density']:6.2f} %"
    if "ratio" in row:
        text += f"  reference {100 * row['reference_density']:6.2f} %  ratio {row['ratio']:.4f}"
    text += f"  {100 * row['over_floor']:5.1f} % over the floor  load {row['load']:.1f}"
    return text + (f"  WRONG {row['wrong'][0]}" if row["wrong"] else "")


def _machine() -> dict[str, Any]:
    names = ("numba", "numpy", "shapely", "pyclipper", "spyrrow")
    return {
        "cores": os.cpu_count(),
        "machine": platform.machine(),
        "python": platform.python_version(),
        "versions": {n: _version(n) for n in names},
        "at": time.strftime("%Y-%m-%d %H:%M"),
        "load": load(),
    }


def _version(name: str) -> str:
    try:
        return version(name)
    except ModuleNotFoundError:
        return "not installed"


def _options(argv: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench nesting")
    parser.add_argument("--instances", default=".", help="directory of the instance files")
    parser.add_argument(
        "--names", default="", help="sets, comma separated; NAME@180: half turns only"
    )
    parser.add_argument("--lays", action="store_true", help="the garment lays of our own as well")
    parser.add_argument("--seconds", default="5,10,30", help="wall seconds, comma separated")
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--against", default="", choices=["", "spyrrow"])
    parser.add_argument("--json", action="store_true")
    return parser.parse_args(argv)
