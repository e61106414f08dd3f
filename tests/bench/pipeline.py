"""Seconds from file to estimate: the demo wardrobe's pieces as one style of 5, 20 and 60 pieces.

``python -m tests.bench pipeline [--json] [--repeats 5]``. Each run reads the sheet's bytes, checks and
offsets every piece, spreads the cloth folded lengthwise, lays a first legal layout, proves it by
shapely, and makes the estimate; then one more search by steps shows what further seconds bring.
"""

from __future__ import annotations

import argparse
import json
import platform
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from importlib.metadata import version
from typing import Any, TypeVar

from nesting.cloth import Cloth, Fold
from nesting.engine.problem import Budget
from nesting.pieces.piece import Style
from service.demo import sheets
from service.formats.piece_sheet import read_piece_sheet, write_piece_sheet
from service.pipeline import cut_style, finish, first_answer, lay_for, plan, solve

SIZES = (5, 20, 60)
SEED = 1
SEARCH_ORDERS = 8
"""The search lays every piece this many times over, in as many orders."""

T = TypeVar("T")


def main(argv: list[str]) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench pipeline")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.add_argument("--repeats", type=int, default=5)
    options = parser.parse_args(argv)
    result = {
        "bench": "pipeline",
        "machine": f"{platform.machine()} {platform.system()}",
        "python": platform.python_version(),
        "versions": {n: version(n) for n in ("numpy", "shapely", "pyclipper", "numba")},
        "seed": SEED,
        "repeats": options.repeats,
        "fold": Fold.LENGTHWISE.value,
        "cases": [measure(n, options.repeats) for n in SIZES],
    }
    print(json.dumps(result, indent=1) if options.json else table(result))
    return 0


def sheet_of(pieces: int) -> bytes:
    """A piece sheet of so many pieces of shell, taken from the wardrobe in turn."""
    styles = [read_piece_sheet(p.read_bytes(), source=p.name)[0] for p in sheets()]
    drawn = [(s.name, p) for s in styles for p in s.pieces]
    taken = [
        replace(p, name=f"{i + 1} {p.name}", cloth="shell")
        for i, (_, p) in enumerate((drawn * (pieces // len(drawn) + 1))[:pieces])
    ]
    return json.dumps(write_piece_sheet(Style(f"{pieces} pieces", tuple(taken)))).encode()


def measure(pieces: int, repeats: int) -> dict[str, Any]:
    """Medians over the repeats, seconds by stage; the first run warms up and is not counted."""
    data = sheet_of(pieces)
    runs = [once(data) for _ in range(repeats + 1)][1:]
    totals = [sum(stages.values()) for stages, _ in runs]
    last = runs[-1][1]
    return {
        "pieces": pieces,
        "cut": sum(len(p.hands) for p in last["layout"].placed),
        "seconds": statistics.median(totals),
        "seconds_least": min(totals),
        "seconds_most": max(totals),
        "stages": {k: statistics.median(s[k] for s, _ in runs) for k in runs[0][0]},
        "length_mm": round(last["layout"].length_mm, 1),
        "floor_mm": round(last["layout"].floor_mm, 1),
        **searched(data),
    }


def once(data: bytes) -> tuple[dict[str, float], dict[str, Any]]:
    """One run from bytes to estimate: seconds by stage, and the answer."""
    stages: dict[str, float] = {}

    def timed(name: str, do: Callable[[], T]) -> T:
        started = time.perf_counter()
        made = do()
        stages[name] = time.perf_counter() - started
        return made

    style = timed("read", lambda: read_piece_sheet(data, source="bench")[0])
    cut = timed("cut pieces", lambda: cut_style(style))
    planned = timed("spread", lambda: plan(lay_for(cut, Cloth(), Fold.LENGTHWISE)))
    answer = timed("layout, proof, estimate", lambda: first_answer(cut, planned))
    return stages, {"layout": answer.layout}


def searched(data: bytes) -> dict[str, float]:
    """What a search of ``SEARCH_ORDERS`` orders takes and brings."""
    cut = cut_style(read_piece_sheet(data, source="bench")[0])
    planned = plan(lay_for(cut, Cloth(), Fold.LENGTHWISE))
    steps = SEARCH_ORDERS * sum(i.count for s in planned.strips for i in s.problem.items)
    started = time.perf_counter()
    layout = finish(cut, planned, solve(planned, seed=SEED, budget=Budget(steps=steps))).layout
    return {
        "search_steps": steps,
        "search_seconds": time.perf_counter() - started,
        "search_length_mm": round(layout.length_mm, 1),
    }


def table(result: dict[str, Any]) -> str:
    """The result for people."""
    head = f"{'pieces':>6} {'cut':>5} {'seconds':>8} {'to':>7} {'length':>9} {'searched':>9}"
    rows = [
        f"{c['pieces']:>6} {c['cut']:>5} {c['seconds']:>8.2f} {c['seconds_most']:>7.2f} "
        f"{c['length_mm']:>9.0f} {c['search_length_mm']:>9.0f}"
        for c in result["cases"]
    ]
    return "\n".join([head, *rows])


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
