"""Dart mouths: folding the cut piece along its dart gives back the cut edge of the closed piece.

The reference is made the other way round: a closed top edge is drawn, cut at a point, and its second
part turned about the dart's point. Folding and distances are done here with shapely alone.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nesting.allowances.cut_piece import CutPiece
from nesting.allowances.make import cut_piece, unfold_cut
from nesting.pieces.outline import Allowance, AllowanceState, Edge, EdgeKind
from nesting.pieces.piece import Dart, DartFold, Mark, MarkKind, Piece
from nesting.polygon import FloatArray, as_points, path_length
from tests.examples import examples
from tests.nesting.drafts import add, rectangle


def turn(points: FloatArray, about: FloatArray, angle: float) -> FloatArray:
    c, s = math.cos(angle), math.sin(angle)
    return as_points(about + (points - about) @ np.array([[c, s], [-s, c]]))


def top(bow: float, slope: float) -> FloatArray:
    """A closed top edge from (400, ..) to (0, ..), 400 mm above 0, bowed and sloping."""
    x = np.linspace(400, 0, 81)
    return as_points(
        np.column_stack([x, 400 + slope * (x - 200) + bow * np.cos(math.pi * (x - 200) / 400)])
    )


def opened(
    closed: FloatArray, at: int, point: tuple[float, float], angle: float, fold: DartFold,
    allowance: Allowance,
) -> Piece:  # fmt: skip
    """The closed edge opened at its point ``at`` by ``angle`` about the dart's point."""
    one = closed[: at + 1]
    two = turn(as_points(closed[at:]), np.array(point), angle)
    edge = as_points(np.vstack([one, two]))
    start, end = edge[0], edge[-1]
    legs = path_length(as_points(one)), path_length(as_points(edge)) - path_length(two)
    return Piece(
        "Front",
        (
            Edge("waist", edge, allowance=allowance),
            Edge("left", as_points([end, (end[0], -100.0)]), allowance=add(10)),
            Edge("bottom", as_points([(end[0], -100.0), (start[0], -100.0)]), allowance=add(10)),
            Edge("right", as_points([(start[0], -100.0), start]), allowance=add(10)),
        ),
        grain=rectangle().grain,
        darts=(Dart("dart", "waist", legs[0], legs[1], point, fold),),
    )


def folded(cut: CutPiece, path: FloatArray, angle: float) -> FloatArray:
    """Where the points of the waist's cut line lie when the dart is sewn and pressed."""
    dart = cut.piece.darts[0]
    point = np.array(dart.point)
    first = leg_end(cut.piece, dart.first_mm)
    direction = math.atan2(*(first - point)[::-1])
    lie = []
    for p in path:
        from_first = (math.atan2(*(p - point)[::-1]) - direction + math.pi) % (
            2 * math.pi
        ) - math.pi
        if dart.fold is DartFold.FIRST_LEG:
            if from_first <= 0:
                lie.append(p)
            elif from_first <= angle / 2 + 1e-9:
                lie.append(mirror(p, point, direction))
            else:
                lie.append(turn(as_points([p]), point, -angle)[0])
        elif from_first <= angle / 2 + 1e-9:
            lie.append(p)
        elif from_first <= angle:
            lie.append(mirror(turn(as_points([p]), point, -angle)[0], point, direction))
        else:
            lie.append(turn(as_points([p]), point, -angle)[0])
    return as_points(lie)


def mirror(p: FloatArray, about: FloatArray, direction: float) -> FloatArray:
    u = np.array([math.cos(direction), math.sin(direction)])
    v = p - about
    image: FloatArray = about + 2 * (v @ u) * u - v
    return image


def leg_end(piece: Piece, distance: float) -> FloatArray:
    line = shapely.LineString(piece.edge("waist").points)
    return np.array(line.interpolate(distance).coords[0])


def waist_cut(cut: CutPiece) -> FloatArray:
    return next(path for name, path in cut.runs if name == "waist")


def dense(path: FloatArray) -> FloatArray:
    return as_points(shapely.get_coordinates(shapely.segmentize(shapely.LineString(path), 1.0)))


CASES = [
    # bow, slope, place of the leg on the edge, dart point, angle in degrees, allowance
    pytest.param(0, 0, 40, (200.0, 280.0), 12, 15, id="straight"),
    pytest.param(0, 0, 40, (170.0, 300.0), 15, 15, id="slanted"),
    pytest.param(18, 0, 40, (205.0, 290.0), 14, 12, id="curved out"),
    pytest.param(-14, 0.1, 30, (230.0, 280.0), 10, 20, id="curved in, sloping, slanted"),
    pytest.param(10, -0.15, 52, (150.0, 240.0), 18, 10, id="curved, sloping"),
    pytest.param(0, 0, 40, (200.0, 330.0), 40, 20, id="short and wide"),
]


@pytest.mark.parametrize("fold", DartFold)
@pytest.mark.parametrize(("bow", "slope", "at", "point", "degrees", "allowance"), CASES)
def test_the_folded_dart_gives_the_drawn_cut_edge_to_a_tenth_of_a_millimetre(
    bow: float, slope: float, at: int, point: tuple[float, float], degrees: float, allowance: float,
    fold: DartFold,
) -> None:  # fmt: skip
    closed, angle = top(bow, slope), math.radians(degrees)
    piece = opened(closed, at, point, angle, fold, add(allowance))
    cut = cut_piece(piece)
    lies = folded(cut, dense(waist_cut(cut)), angle)
    # Beyond the ends of the edge its allowance runs on to the corners of the sides.
    inner = lies[(lies[:, 0] > 25) & (lies[:, 0] < 375)]
    away = shapely.distance(shapely.points(inner), shapely.LineString(closed))
    assert np.abs(away - allowance).max() < 0.1
    assert cut.findings == ()


@pytest.mark.parametrize("fold", DartFold)
def test_the_net_line_is_folded_too(fold: DartFold) -> None:
    closed, angle = top(12, 0), math.radians(16)
    piece = opened(closed, 36, (190.0, 290.0), angle, fold, add(15))
    cut = cut_piece(piece)
    net = dense(cut.net_line)
    upper = net[(net[:, 1] > 330) & (net[:, 0] > 1) & (net[:, 0] < 399)]
    away = shapely.distance(shapely.points(folded(cut, upper, angle)), shapely.LineString(closed))
    assert away.max() < 0.1


@given(
    st.floats(-15, 15),
    st.floats(-0.15, 0.15),
    st.integers(25, 55),
    st.floats(-40, 40),
    st.floats(60, 200),
    st.floats(2, 25),
    st.floats(0, 25),
    st.sampled_from(DartFold),
)
@examples(80)
def test_any_dart_folds_back(
    bow: float, slope: float, at: int, aside: float, depth: float, degrees: float, allowance: float,
    fold: DartFold,
) -> None:  # fmt: skip
    closed, angle = top(bow, slope), math.radians(degrees)
    point = (float(closed[at, 0]) + aside, float(closed[at, 1]) - depth)
    cut = cut_piece(opened(closed, at, point, angle, fold, add(allowance)))
    assert shapely.is_valid(shapely.Polygon(cut.cut_line))
    lies = folded(cut, dense(waist_cut(cut)), angle)
    inner = lies[(lies[:, 0] > 40) & (lies[:, 0] < 360)]
    away = shapely.distance(shapely.points(inner), shapely.LineString(closed))
    assert np.abs(away - allowance).max() < 0.1


def test_the_mouth_peaks_between_the_legs_towards_the_fold() -> None:
    closed, angle = top(0, 0), math.radians(12)
    first = waist_cut(
        cut_piece(opened(closed, 40, (170.0, 300.0), angle, DartFold.FIRST_LEG, add(15)))
    )
    second = waist_cut(
        cut_piece(opened(closed, 40, (170.0, 300.0), angle, DartFold.SECOND_LEG, add(15)))
    )
    # A slanted dart needs another mouth for each way it is pressed.
    assert shapely.hausdorff_distance(shapely.LineString(first), shapely.LineString(second)) > 3


def test_each_leg_is_notched_where_it_leaves_the_cut_line_and_the_point_drilled_short() -> None:
    closed, angle = top(0, 0), math.radians(14)
    piece = opened(closed, 40, (170.0, 290.0), angle, DartFold.FIRST_LEG, add(15))
    cut = cut_piece(piece)
    dart, point = piece.darts[0], np.array(piece.darts[0].point)
    for notch, distance in zip(cut.notches, (dart.first_mm, dart.second_mm), strict=True):
        leg = leg_end(piece, distance) - point
        off = float(np.cross(np.append(leg, 0), np.append(np.array(notch.at) - point, 0))[2])
        assert off / np.hypot(*leg) == pytest.approx(0, abs=0.03)
        assert shapely.Point(notch.at).distance(shapely.LinearRing(cut.cut_line)) < 0.03
        assert math.dist(notch.at, notch.tip) == pytest.approx(5)
    reach = [math.dist(n.at, piece.darts[0].point) for n in cut.notches]
    assert reach[0] == pytest.approx(reach[1], abs=0.03)
    (drill,) = (m for m in cut.marks if m.kind is MarkKind.DRILL)
    assert math.dist(drill.points[0], dart.point) == pytest.approx(12)
    middle = (leg_end(piece, dart.first_mm) + leg_end(piece, dart.second_mm)) / 2
    assert math.dist(drill.points[0], tuple(middle)) < math.dist(dart.point, tuple(middle))


def test_a_very_short_dart_is_drilled_half_way() -> None:
    piece = replace(rectangle(), darts=(Dart("tuck", "top", 95, 105, (100, 285)),))
    (drill,) = (m for m in cut_piece(piece).marks if m.kind is MarkKind.DRILL)
    assert drill == Mark(MarkKind.DRILL, ((100.0, 292.5),), "tuck")


def test_unequal_legs_are_said_and_still_cut() -> None:
    piece = replace(rectangle(), darts=(Dart("dart", "top", 60, 100, (100, 200)),))
    cut = cut_piece(piece)
    (finding,) = (f for f in cut.findings if f.code == "dart-legs-unequal")
    assert "107.7 and 100.0 mm long; its mouth is cut as drawn" in finding.message
    assert cut.cut_line == pytest.approx(cut_piece(rectangle()).cut_line)
    nearly = replace(rectangle(), darts=(Dart("dart", "top", 78, 125, (100, 200)),))
    (finding,) = (f for f in cut_piece(nearly).findings if f.code == "dart-legs-unequal")
    assert finding.message.endswith("the folded edge will not be smooth")


def test_a_dart_at_a_corner_is_cut_as_drawn_and_said() -> None:
    piece = replace(rectangle(), darts=(Dart("dart", "top", 0, 30, (150, 200)),))
    cut = cut_piece(piece)
    assert "dart-at-corner" in {f.code for f in cut.findings}
    assert cut.cut_line == pytest.approx(cut_piece(rectangle()).cut_line)


def test_two_darts_on_one_edge_each_fold_their_own_way() -> None:
    piece = replace(
        rectangle(400, 300, 15),
        darts=(
            Dart("one", "top", 100, 120, (290, 200), DartFold.FIRST_LEG),
            Dart("two", "top", 280, 300, (110, 210), DartFold.SECOND_LEG),
        ),
    )
    cut = cut_piece(piece)
    peaks = cut.cut_line[cut.cut_line[:, 1] > 315.5]
    assert len(peaks) == 2
    assert sorted(float(x) for x in peaks[:, 0]) == pytest.approx([110, 290], abs=0.01)
    assert [n.name for n in cut.notches] == ["one", "one", "two", "two"]


def test_a_dart_on_an_edge_drawn_with_its_allowance_keeps_the_drawn_line() -> None:
    piece = rectangle(200, 300, 10)
    included = tuple(
        replace(e, allowance=Allowance(AllowanceState.INCLUDED, 10)) for e in piece.edges
    )
    piece = replace(piece, edges=included, darts=(Dart("dart", "top", 85, 115, (100, 220)),))
    cut = cut_piece(piece)
    assert np.array_equal(cut.cut_line, piece.outline)
    assert cut.notches[0].at == pytest.approx((115, 300))


def test_darts_of_a_half_piece_are_mirrored_with_their_fold() -> None:
    piece = replace(
        rectangle(200, 300, 15),
        darts=(Dart("dart", "top", 80, 100, (115, 200), DartFold.SECOND_LEG),),
    )
    edges = tuple(
        replace(e, kind=EdgeKind.FOLD, allowance=Allowance()) if e.name == "left" else e
        for e in piece.edges
    )
    half = cut_piece(replace(piece, edges=edges))
    whole = unfold_cut(half)
    again = cut_piece(whole.piece)
    gap = shapely.Polygon(whole.cut_line).symmetric_difference(shapely.Polygon(again.cut_line))
    assert gap.area < 2.0
    assert len(whole.notches) == 4
    assert [m.kind for m in whole.marks].count(MarkKind.DRILL) == 2
    places = [np.array(sorted(n.at for n in c.notches)) for c in (whole, again)]
    assert places[0] == pytest.approx(places[1], abs=0.01)
