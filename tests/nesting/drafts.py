"""Small pieces and random outlines that the tests of pieces and allowances share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from hypothesis import assume
from hypothesis import strategies as st

from nesting.pieces.outline import Allowance, AllowanceState, Edge, EdgeKind
from nesting.pieces.piece import Dart, Grain, Piece
from nesting.polygon import FloatArray, as_points

Points = Sequence[tuple[float, float]]


def add(width: float) -> Allowance:
    return Allowance(AllowanceState.ADD, width)


def included(width: float) -> Allowance:
    return Allowance(AllowanceState.INCLUDED, width)


def polygon(
    points: Points | FloatArray,
    widths: float | Sequence[float] = 10.0,
    *,
    state: AllowanceState = AllowanceState.ADD,
    name: str = "Panel",
) -> Piece:
    """A piece with one straight edge from each point to the next: edges e0, e1, ..."""
    xy = as_points(points)
    each = [float(widths)] * len(xy) if isinstance(widths, (int, float)) else list(widths)
    edges = tuple(
        Edge(
            f"e{i}",
            as_points(xy[[i, (i + 1) % len(xy)]]),
            allowance=Allowance(state, w),
        )
        for i, w in enumerate(each)
    )
    x, y = float(xy[:, 0].mean()), float(xy[:, 1].mean())
    return Piece(name, edges, grain=Grain((x, y - 1), (x, y + 1)))


def rectangle(width: float = 200.0, height: float = 300.0, allowance: float = 10.0) -> Piece:
    """bottom, right, top, left; grain upwards."""
    corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    piece = polygon(corners, allowance)
    names = ("bottom", "right", "top", "left")
    return replace(
        piece, edges=tuple(replace(e, name=n) for e, n in zip(piece.edges, names, strict=True))
    )


def half_skirt(allowance: float = 15.0, hem: float = 40.0) -> Piece:
    """A flared half front: centre on the fold at x = 0, curved side, hem and waist."""
    side = [
        (260 + 40 * math.sin(math.pi * t / 2) - 60 * t, 600.0 * t) for t in np.linspace(0, 1, 30)
    ]
    waist = [(240 - 240 * t, 600 - 12 * math.sin(math.pi * t / 2)) for t in np.linspace(0, 1, 20)]
    waist[-1] = (0.0, waist[-1][1])
    return Piece(
        "Skirt front",
        (
            Edge("hem", as_points([(0, 0), side[0]]), EdgeKind.HEM, add(hem)),
            Edge("side", as_points(side), allowance=add(allowance)),
            Edge("waist", as_points(waist), allowance=add(allowance)),
            Edge("centre", as_points([waist[-1], (0, 0)]), EdgeKind.FOLD),
        ),
        grain=Grain((60, 100), (60, 500)),
    )


def circle(radius: float, steps: int) -> FloatArray:
    """A regular polygon round the origin."""
    t = np.arange(steps) * 2 * math.pi / steps
    return as_points(np.column_stack([radius * np.cos(t), radius * np.sin(t)]))


def moved(piece: Piece, matrix: FloatArray, shift: tuple[float, float] = (0.0, 0.0)) -> Piece:
    """The piece's outline and grain under a map that keeps distances; a reflection turns the order
    of the edges round so that the outline stays counter-clockwise."""
    flipped = float(np.linalg.det(matrix)) < 0

    def of(points: FloatArray) -> FloatArray:
        image = points @ matrix.T + np.array(shift)
        return as_points(image[::-1] if flipped else image)

    edges = tuple(replace(e, points=of(e.points)) for e in piece.edges)
    grain = piece.grain
    if grain is not None:
        ends = np.array([grain.tail, grain.head]) @ matrix.T + np.array(shift)
        grain = Grain(tuple(ends[0].tolist()), tuple(ends[1].tolist()))
    return replace(piece, edges=edges[::-1] if flipped else edges, grain=grain)


@st.composite
def convex_outlines(draw: st.DrawFn) -> FloatArray:
    """Convex polygons of 4 to 24 corners on an oval 40 to 600 mm across, none sharper than about
    40 degrees."""
    n = draw(st.integers(4, 24))
    gaps = np.array(draw(st.lists(st.floats(0.6, 1), min_size=n, max_size=n)))
    t = 2 * math.pi * np.cumsum(gaps) / gaps.sum() + draw(st.floats(0, 6))
    rx = draw(st.floats(20, 300))
    ry = rx * draw(st.floats(0.6, 1.6))
    return as_points(np.column_stack([rx * np.cos(t), ry * np.sin(t)]))


@st.composite
def wavy_outlines(draw: st.DrawFn) -> FloatArray:
    """Closed curves with bays, 100 to 800 mm across, as 40 to 200 points."""
    n = draw(st.integers(40, 200))
    t = 2 * math.pi * np.arange(n) / n
    wave = np.ones(n)
    for k in range(2, 6):
        wave += draw(st.floats(0, 0.12)) * np.cos(k * t + draw(st.floats(0, 6)))
    radius = draw(st.floats(50, 400))
    return as_points(np.column_stack([radius * wave * np.cos(t), radius * wave * np.sin(t)]))


@st.composite
def outlines(draw: st.DrawFn) -> FloatArray:
    """Star-shaped outlines: curves, slivers, acute and deep concave corners, 5 to 40 points."""
    n = draw(st.integers(5, 40))
    radii = draw(st.lists(st.floats(8, 400), min_size=n, max_size=n))
    lean = draw(st.floats(0, 0.9))
    t = (
        np.arange(n) + lean * np.array(draw(st.lists(st.floats(0, 1), min_size=n, max_size=n)))
    ) / n
    angle = 2 * math.pi * t
    xy = np.column_stack([np.array(radii) * np.cos(angle), np.array(radii) * np.sin(angle)])
    shape = shapely.Polygon(xy)
    assume(shapely.is_valid(shape) and shape.area > 200)
    return as_points(xy)


def sharpest_deg(ring: FloatArray) -> float:
    """Smallest inner angle of a closed outline, degrees (concave corners do not count)."""
    before, after = np.roll(ring, 1, axis=0) - ring, np.roll(ring, -1, axis=0) - ring
    dot = np.einsum("ij,ij->i", before, after)
    side = after[:, 0] * before[:, 1] - after[:, 1] * before[:, 0]
    inner = np.degrees(np.arctan2(side, dot)) % 360
    return float(inner.min())


def curve(*controls: tuple[float, float], steps: int = 24) -> FloatArray:
    """A Bezier curve through its first and last control, as a polyline."""
    t = np.linspace(0, 1, steps + 1)[:, None]
    p = np.array(controls, dtype=float)
    n = len(p) - 1
    return as_points(
        sum(math.comb(n, k) * t**k * (1 - t) ** (n - k) * p[k] for k in range(n + 1))  # type: ignore[arg-type]
    )


def bodice(*, on_fold: bool = False) -> Piece:
    """A bodice front, left of its centre at x = 0 ... 250: waist dart and side dart to one point."""
    centre = Allowance() if on_fold else add(15)
    kind = EdgeKind.FOLD if on_fold else EdgeKind.SEAM
    waist = as_points([(0.0, 0.0), (80.0, 0.0), (108.0, 4.0), (240.0, 14.0)])
    side = as_points([(240.0, 14.0), (246.0, 100.0), (250.0, 130.0), (252.0, 210.0)])
    piece = Piece(
        "Front",
        (
            Edge("waist", waist, allowance=add(15)),
            Edge("side", side, allowance=add(15)),
            Edge(
                "armhole", curve((252, 210), (200, 220), (196, 290), (204, 350)), allowance=add(10)
            ),
            Edge("shoulder", as_points([(204.0, 350.0), (80.0, 390.0)]), allowance=add(15)),
            Edge("neck", curve((80, 390), (76, 320), (40, 300), (0, 300)), allowance=add(6)),
            Edge("centre", as_points([(0.0, 300.0), (0.0, 0.0)]), kind, centre),
        ),
        grain=Grain((30.0, 60.0), (30.0, 260.0)),
    )
    return replace(piece, darts=(_true("waist dart", piece, "waist", 80, 108.3, (94.0, 160.0)),
                                 _true("side dart", piece, "side", 88, 115, (110.0, 150.0))))  # fmt: skip


def _true(
    name: str, piece: Piece, edge: str, first: float, second: float, point: tuple[float, float]
) -> Dart:
    """A dart whose point is moved across its axis until both legs are equally long."""
    line = shapely.LineString(piece.edge(edge).points)
    a, b = (np.array(line.interpolate(d).coords[0]) for d in (first, second))
    across, middle = (b - a) / np.hypot(*(b - a)), (a + b) / 2
    p = np.array(point)
    p = p - across * float((p - middle) @ across)
    return Dart(name, edge, first, second, (float(p[0]), float(p[1])))
