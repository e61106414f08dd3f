"""CPU seconds from net line to cut line: one dense piece with darts, and a style of sixty pieces.

Targets: the piece under 10 ms (median), the style under 0.5 s.
"""

from __future__ import annotations

import argparse
import json
import math
import platform
import statistics
import time
from dataclasses import replace

import numpy as np

from nesting.allowances.make import cut_piece
from nesting.pieces.outline import Allowance, AllowanceState, Edge, EdgeKind, Pressed
from nesting.pieces.piece import Dart, Grain, Mark, MarkKind, Notch, Piece
from nesting.polygon import FloatArray, as_points

PIECE_MS, STYLE_S = 10.0, 0.5


def dense_piece(points: int = 1000, edges: int = 12, darts: int = 4) -> Piece:
    """A rounded, waving outline of ``points`` points in ``edges`` edges of changing width, hems
    among them, with darts and notches."""
    t = 2 * math.pi * np.arange(points) / points
    r = 300 * (1 + 0.08 * np.cos(3 * t) + 0.03 * np.sin(7 * t))
    xy = np.column_stack([r * np.cos(t), 1.3 * r * np.sin(t)])
    cuts = [round(i * points / edges) for i in range(edges + 1)]
    made = tuple(_edge(i, xy, cuts[i], cuts[i + 1]) for i in range(edges))
    hosts = [e for e in made if e.kind is EdgeKind.SEAM][:darts]
    return Piece(
        "Dense",
        made,
        grain=Grain((0, -100), (0, 100)),
        notches=tuple(Notch(e.name, 0.2 * e.length_mm) for e in made),
        darts=tuple(_dart(e) for e in hosts),
        marks=(Mark(MarkKind.BUTTON, ((0.0, 0.0),)),),
    )


def style(count: int = 60) -> list[Piece]:
    """Pieces of 40 to 400 points, a third of them half pieces."""
    rng = np.random.default_rng(1)
    pieces = []
    for k in range(count):
        piece = dense_piece(int(rng.integers(40, 400)), 6, k % 3)
        pieces.append(replace(piece, name=f"Piece {k + 1}"))
    return pieces


def main(argv: list[str]) -> int:
    """Measure and print; exit 1 when a target is missed."""
    parser = argparse.ArgumentParser(prog="tests.bench allowances")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--repeat", type=int, default=50)
    options = parser.parse_args(argv)
    piece, pieces = dense_piece(), style()
    cut = cut_piece(piece)
    times = sorted(_seconds(lambda: cut_piece(piece)) * 1000 for _ in range(options.repeat))
    whole = sorted(
        _seconds(lambda: [cut_piece(p) for p in pieces])
        for _ in range(max(3, options.repeat // 10))
    )
    result = {
        "piece_points": len(piece.outline),
        "cut_points": len(cut.cut_line),
        "piece_ms_median": round(statistics.median(times), 2),
        "piece_ms_p90": round(times[int(0.9 * (len(times) - 1))], 2),
        "style_pieces": len(pieces),
        "style_s_median": round(statistics.median(whole), 3),
        "python": platform.python_version(),
        "machine": platform.machine(),
    }
    if options.json:
        print(json.dumps(result))
    else:
        print("\n".join(f"{k:18} {v}" for k, v in result.items()))
    met = result["piece_ms_median"] < PIECE_MS and result["style_s_median"] < STYLE_S
    return 0 if met else 1


def _edge(i: int, xy: FloatArray, start: int, end: int) -> Edge:
    points = as_points(xy[np.arange(start, end + 1) % len(xy)])
    hem = i % 4 == 3
    return Edge(
        f"edge {i}",
        points,
        EdgeKind.HEM if hem else EdgeKind.SEAM,
        Allowance(AllowanceState.ADD, 30.0 if hem else 10.0 + 5.0 * (i % 2)),
        pressed=Pressed.OPEN if i % 4 == 1 else Pressed.UNSAID,
    )


def _dart(edge: Edge) -> Dart:
    length = edge.length_mm
    middle = edge.points[len(edge.points) // 2]
    inward = middle * (1 - 90 / float(np.hypot(*middle)))
    return Dart(
        f"dart {edge.name}", edge.name, 0.45 * length, 0.55 * length,
        (float(inward[0]), float(inward[1])),
    )  # fmt: skip


def _seconds(work) -> float:  # type: ignore[no-untyped-def]
    started = time.process_time()
    work()
    return time.process_time() - started
