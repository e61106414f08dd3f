"""Faults that thousands of random pieces found, each as small as it was found."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from nesting.allowances.make import cut_piece
from nesting.allowances.treatments import Treatment, corners_made
from nesting.pieces.mirror import mirror
from nesting.pieces.outline import Allowance, AllowanceState, Corner, Edge, EdgeKind, Pressed
from nesting.pieces.piece import Dart, DartFold, Piece
from nesting.polygon import FloatArray, as_points
from tests.nesting.drafts import add, circle, polygon


def of_edges(*edges: Edge) -> Piece:
    return replace(polygon([(0, 0), (1, 0), (0, 1)]), edges=edges)


def strip_inside(piece: Piece, name: str, width: float, start: int, end: int) -> None:
    """The strip beside the segments ``start`` to ``end`` of an edge lies inside the cut line."""
    loose = shapely.Polygon(cut_piece(piece).cut_line).buffer(0.05)
    points = piece.edge(name).points
    for a, b in zip(points[start:end], points[start + 1 : end + 1], strict=True):
        n = np.array([b[1] - a[1], a[0] - b[0]]) / math.dist(a, b) * width
        assert loose.covers(shapely.Polygon([a, a + n, b + n, b]))


def round_edges(ring: FloatArray, *starts: int) -> list[FloatArray]:
    n = len(ring)
    ends = [*starts[1:], starts[0] + n]
    return [as_points(ring[np.arange(a, b + 1) % n]) for a, b in zip(starts, ends, strict=True)]


def test_a_ring_that_crosses_itself_by_rounding_is_mended_not_refused() -> None:
    t = 2 * math.pi * np.arange(36) / 36
    ring = np.column_stack([8 * np.cos(t), 8 * np.sin(t)])
    ring[32] = (49.793, -41.781)
    ring[35] = (10.833, -1.91)
    widths = [0.0] * 33 + [6.0, 3.0, 0.0]
    cut = cut_piece(polygon(ring, widths))
    assert shapely.Polygon(cut.cut_line).is_valid


def test_a_pressed_seam_does_not_turn_back_onto_an_edge_that_only_bends_back_to_it_far_off() -> (
    None
):
    """The neighbour leaves along the fold line and crosses it sixty millimetres on: its strip was
    lost all the way to there."""
    first, second = round_edges(circle(50.0, 40), 0, 6)
    piece = of_edges(
        Edge("wide", first, allowance=add(12)),
        Edge("pressed", second, allowance=add(3), pressed=Pressed.OPEN),
    )
    strip_inside(piece, "wide", 12.0, 0, 6)
    strip_inside(piece, "pressed", 3.0, 0, 34)


def test_beside_a_width_that_changes_evenly_the_corner_is_judged_by_the_net_line() -> None:
    """The parallel of a width that falls from 40 to 0 leans steeply; the corner itself is straight."""
    first, second = round_edges(circle(80.0, 60), 0, 57)
    piece = of_edges(
        Edge("even", first, allowance=add(20), corner=Corner.NEXT_TURNS_BACK),
        Edge("falls", second, allowance=Allowance(AllowanceState.ADD, 40.0, 0.0)),
    )
    strip_inside(piece, "even", 20.0, 1, 57)
    assert corners_made(piece)[0].made is not Treatment.TURNED_BACK


@pytest.mark.parametrize("beside", [(0.25, 0.0), (0.02, 0.24)])
def test_a_stepping_edge_that_begins_with_a_short_step_keeps_its_places(
    beside: tuple[float, float],
) -> None:
    """Without the short step the edge is shorter: its steps are found again by their points, where
    the last stretch once got a step of no length."""
    ring = np.insert(circle(50.0, 60), 1, np.add(circle(50.0, 60)[0], beside), axis=0)
    stepped, rest = round_edges(as_points(ring), 0, 20)
    piece = of_edges(
        Edge(
            "stepped", stepped, allowance=Allowance(AllowanceState.ADD, 3.0, None, ((50.0, 6.0),))
        ),
        Edge("rest", rest, allowance=add(0)),
    )
    cut = cut_piece(piece)
    assert np.isfinite(cut.cut_line).all()
    strip_inside(piece, "stepped", 3.0, 2, 9)
    strip_inside(piece, "stepped", 6.0, 11, 19)


def test_a_mouth_in_a_narrow_bay_does_not_fold_the_bay_s_other_side() -> None:
    """The edge beside the dart turns back before the folded wedge: the mouth is cut straight, where
    spikes a hundred millimetres long grew."""
    path = [(4.54, 6.58), (-5.99, 5.3), (-111.66, 27.52), (-18.45, -4.55), (-147.46, -130.64)]
    rest = [(-26.24, -69.19), (4.54, -6.58), (8.0, 0.0)]
    hollow = as_points([*path, rest[0]])
    length = float(np.hypot(*np.diff(hollow, axis=0).T).sum())
    wide = Edge("bay", hollow, allowance=add(25))
    piece = of_edges(wide, Edge("end", as_points([*rest, path[0]]), allowance=add(0)))
    plain = cut_piece(piece)
    assert length > 270
    at = float(shapely.LineString(hollow).project(shapely.Point(-50.7, -36.1)))
    dart = Dart("dart", "bay", at, at + 8.0, (-25.62, -67.49))
    cut = cut_piece(replace(piece, darts=(dart,)))
    assert "dart-mouth-straight" in [f.code for f in cut.findings]
    reach = shapely.Polygon(plain.cut_line).buffer(30.0)
    assert reach.covers(shapely.Polygon(cut.cut_line))


def test_the_crossing_of_parallels_far_from_a_mouth_is_none_of_its() -> None:
    """A mouth near a deep hollow: its edge was joined at a crossing of other stretches far along, and
    the strips between were lost."""
    edge = as_points(
        [(78.66, 146.18), (-207.69, 314.63), (-276.43, 289.12), (-121.35, 88.17), (-68.47, 32.98),
         (-353.77, 97.64), (-45.81, 4.12), (-223.1, -20.08), (-193.76, -53.47), (-134.24, -64.65),
         (-323.61, -235.11), (-169.31, -177.08), (-220.36, -333.83), (-3.54, -8.28)]
    )  # fmt: skip
    first, second = (-73.0012886, 37.70092561), (-69.89298506, 33.29684491)
    line = shapely.LineString(edge)
    at = float(line.project(shapely.Point(first)))
    dart = Dart("dart", "bay", at, at + 8.0, (-38.77, 58.56))
    assert line.distance(shapely.Point(second)) < 1.0
    rest = as_points([edge[-1], (8.0, 0.0), edge[0]])
    piece = of_edges(Edge("bay", edge, allowance=add(6)), Edge("rest", rest, allowance=add(0)))
    strip_inside(replace(piece, darts=(dart,)), "bay", 6.0, 5, 9)
    strip_inside(replace(piece, darts=(dart,)), "bay", 6.0, 0, 3)


def test_a_hem_that_turns_off_at_once_is_not_folded_along_its_first_step() -> None:
    """Its first three millimetres were taken for the fold line, and the whole rest of the hem that lay
    behind them was left out."""
    hem = as_points([(9.23, -4.11), (7.83, -1.66), (66.29, 0.0), (209.21, 37.425), (352.13, 74.85)])
    top = as_points([(352.13, 74.85), (149.73, 259.35), (-60.0, 200.0), (-120.0, -243.9)])
    piece = of_edges(
        Edge("hem", hem, EdgeKind.HEM, add(10)),
        Edge("top", top, allowance=add(5)),
        Edge("low", as_points([top[-1], (219.61, -243.9)]), allowance=add(5)),
        Edge("side", as_points([(219.61, -243.9), (6.47, -4.7), hem[0]]), allowance=add(0)),
    )
    assert Treatment.TURNED_BACK not in [c.made for c in corners_made(piece) if c.edge == "side"]
    strip_inside(piece, "hem", 10.0, 2, 3)


def test_a_mouth_keeps_out_of_what_lies_far_from_it() -> None:
    """Where the joined edge meets the leg only far back, everything between was folded away."""
    bay = as_points(
        [(9.95, 1.0), (86.3, 29.63), (29.75, 33.99), (26.24, 49.68), (10.45, 41.25),
         (-36.53, 242.41), (-51.16, 97.14), (-6.76, 5.94), (-33.75, 18.26), (-326.92, 54.55),
         (-41.85, -8.16)]
    )  # fmt: skip
    rest = as_points(
        [(-41.85, -8.16), (-80.45, -183.4), (-19.0, -229.34), (78.85, -153.72), (31.23, -31.48),
         (104.81, -67.73), (292.7, -38.97), (9.95, 1.0)]
    )  # fmt: skip
    piece = of_edges(Edge("bay", bay, allowance=add(40)), Edge("rest", rest, allowance=add(25)))
    dart = Dart("dart", "bay", 613.09, 630.11, (47.63, 25.56), DartFold.SECOND_LEG)
    piece = replace(piece, darts=(dart,))
    for k in (4, 5, 8, 9):
        strip_inside(piece, "bay", 40.0, k, k + 1)


def ring_of(count: int = 72, radius: float = 60.0) -> FloatArray:
    t = 2 * math.pi * np.arange(count) / count
    return as_points(radius * np.column_stack([np.cos(t), np.sin(t)]))


@pytest.mark.parametrize("corner", [Corner.STEP, Corner.MITRE, Corner.AUTO])
@pytest.mark.parametrize("hollow", [False, True])
def test_a_width_that_changes_steeply_round_a_curve_keeps_every_strip(
    corner: Corner, hollow: bool
) -> None:
    """Its parallels lean by more than the curve turns and meet aside: points of the chain lay a
    whole width off, and square millimetres of the edges beside it were lost."""
    ring = ring_of()
    if hollow:
        # A bay of radius 60 on the right, in a piece that lies left of it.
        bay = np.array([120.0, 0.0]) - ring[np.arange(18, -19, -1) % 72]
        ring = as_points(np.vstack([bay, [(-200.0, 60.0), (-200.0, -60.0)]]))
    before, steep, beside, rest = round_edges(ring, 4, 12, 16, 22)
    piece = of_edges(
        Edge("before", before, allowance=add(12)),
        Edge("steep", steep, allowance=Allowance(AllowanceState.ADD, 40.0, 6.0), corner=corner),
        Edge("beside", beside, allowance=add(18)),
        Edge("rest", rest, allowance=add(5)),
    )
    strip_inside(piece, "beside", 18.0, 0, 6)
    strip_inside(piece, "before", 12.0, 0, 8)
    loose = shapely.Polygon(cut_piece(piece).cut_line).buffer(0.05)
    widths = np.linspace(40.0, 6.0, len(steep))
    for k, (a, b) in enumerate(pairwise(steep)):
        n = np.array([b[1] - a[1], a[0] - b[0]]) / math.dist(a, b)
        strip = shapely.Polygon([a, a + n * widths[k], b + n * widths[k + 1], b])
        assert loose.covers(strip), k
    far = shapely.Polygon(ring).buffer(41.0)
    assert far.covers(shapely.Polygon(cut_piece(piece).cut_line))


@pytest.mark.parametrize("corner", [Corner.AUTO, Corner.STEP, Corner.BLUNT, Corner.MITRE])
def test_two_widths_that_are_greatest_at_a_hollow_corner_keep_its_tip(corner: Corner) -> None:
    """Both parallels lean away from the corner and cross before their ends: one strip's tip was
    cut off along the other's end."""
    first = as_points([(60.0, 0.0), (0.0, 0.0)])
    second = as_points([(0.0, 0.0), (-60.0, 6.0)])
    rest = as_points([(-60.0, 6.0), (-60.0, -80.0), (60.0, -80.0), (60.0, 0.0)])
    piece = of_edges(
        Edge("grows", first, allowance=Allowance(AllowanceState.ADD, 6.0, 25.0), corner=corner),
        Edge("falls", second, allowance=Allowance(AllowanceState.ADD, 25.0, 6.0)),
        Edge("rest", rest, allowance=add(10)),
    )
    loose = shapely.Polygon(cut_piece(piece).cut_line).buffer(0.05)
    for path, widths in ((first, (6.0, 25.0)), (second, (25.0, 6.0))):
        a, b = path
        n = np.array([b[1] - a[1], a[0] - b[0]]) / math.dist(a, b)
        assert loose.covers(shapely.Polygon([a, a + n * widths[0], b + n * widths[1], b]))


def test_an_end_that_is_folded_back_stays_on_a_parallel_that_leans() -> None:
    """Drawn to the depth of the corner beyond its end, it pulled the whole cut line askew: at the
    far end, where the allowance begins with nothing, it ran through the piece."""
    low = as_points([(-18.08, -47.69), (5.06, -41.69)])
    side = as_points([(5.06, -41.69), (4.54, 7.0), (-20.0, 7.0), (-8.23, -7.29), (-18.08, -47.69)])
    piece = of_edges(
        Edge("low", low, allowance=Allowance(AllowanceState.ADD, 0.0, 6.0), pressed=Pressed.OPEN),
        Edge("side", side, allowance=add(0)),
    )
    a, b = low
    n = np.array([b[1] - a[1], a[0] - b[0]]) / math.dist(a, b) * 6.0
    cut = shapely.Polygon(cut_piece(piece).cut_line)
    assert Treatment.TURNED_BACK in [c.made for c in corners_made(piece)]
    # Half way along it has half its width.
    middle = (a + b) / 2
    assert shapely.LineString([middle, middle + n]).intersection(cut.exterior).distance(
        shapely.Point(middle)
    ) == pytest.approx(3.0, abs=0.05)


def test_a_mouth_beside_an_edge_that_never_comes_out_is_cut_straight_either_way_round() -> None:
    """The edge steps nine millimetres before the dart; closed, the corner is hollow, and the other
    parallel cuts those nine off whole. The loop that is left was folded one way, and not its mirror."""
    # To the last digit: the two ways of the loop are of equal length.
    start, end = (75.7639471255363, 211.8603887373922), (-25.086625199040068, 386.3311493945995)
    corners = [start, end, (-300.0, 386.3), (-300.0, 0.0), (75.0, 0.0)]
    ring = as_points(corners)
    step = Allowance(AllowanceState.ADD, 15.0, steps=((80.60856953202841, 30.0),))
    piece = of_edges(
        Edge("side", ring[:2], allowance=step, inlay_mm=12.0),
        Edge("rest", ring[[1, 2, 3, 4, 0]], allowance=add(3)),
    )
    point = (-10.157819018837461, 278.57748675773723)
    dart = Dart(
        "dart", "side", 89.39205300328354, 112.12937082678748, point, fold=DartFold.FIRST_LEG
    )
    piece = replace(piece, darts=(dart,))
    one, two = cut_piece(piece), cut_piece(mirror(piece))
    straight = [[f.code for f in cut.findings].count("dart-mouth-straight") for cut in (one, two)]
    assert straight == [1, 1]
    x0, x1 = min(c[0] for c in corners), max(c[0] for c in corners)
    back = two.cut_line * np.array([-1.0, 1.0]) + np.array([x0 + x1, 0.0])
    assert shapely.Polygon(one.cut_line).symmetric_difference(shapely.Polygon(back)).area < 1.0
