from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from nesting.allowances.included import ADD_BACK_MM
from nesting.allowances.make import cut_piece, unfold_cut
from nesting.errors import AllowanceError, PieceError
from nesting.findings import Level
from nesting.pieces.outline import Allowance, AllowanceState, Edge, EdgeKind
from nesting.pieces.piece import DrawnAs, Mark, MarkKind, Notch, Piece
from nesting.polygon import FloatArray, as_points, bounds, signed_area
from tests.examples import examples
from tests.nesting.drafts import (
    add,
    circle,
    half_skirt,
    included,
    moved,
    outlines,
    polygon,
    rectangle,
)


def area(points: FloatArray) -> float:
    return float(shapely.Polygon(points).area)


def has_point(points: FloatArray, x: float, y: float) -> bool:
    return bool((np.hypot(*(points - np.array([x, y])).T) < 2e-3).any())


def test_a_rectangle_grows_on_every_side_and_keeps_its_corners_square() -> None:
    cut = cut_piece(rectangle(200, 300, 10))
    assert bounds(cut.cut_line) == pytest.approx((-10, -10, 210, 310))
    assert len(cut.cut_line) == 4
    assert signed_area(cut.cut_line) == pytest.approx(220 * 320)
    assert [name for name, _ in cut.runs] == ["bottom", "right", "top", "left"]
    assert cut.runs[0][1] == pytest.approx(np.array([(-10, -10), (210, -10)]))
    assert cut.findings == ()


def test_no_allowance_changes_nothing() -> None:
    piece = polygon([(0, 0), (100.1234567, 0), (90, 80), (3, 77)], 0)
    cut = cut_piece(piece)
    assert np.array_equal(cut.cut_line, piece.outline)
    assert np.array_equal(cut.net_line, piece.outline)


def test_widths_may_differ_from_edge_to_edge() -> None:
    cut = cut_piece(polygon([(0, 0), (100, 0), (100, 50), (0, 50)], [40, 15, 10, 0]))
    assert bounds(cut.cut_line) == pytest.approx((0, -40, 115, 60))


def test_collinear_edges_of_different_width_make_a_step() -> None:
    piece = polygon([(0, 0), (60, 0), (100, 0), (100, 50), (0, 50)], [20, 10, 10, 10, 10])
    cut = cut_piece(piece).cut_line
    assert has_point(cut, 60, -20)
    assert has_point(cut, 60, -10)


def test_a_zip_seam_steps_within_an_edge() -> None:
    wide = Allowance(AllowanceState.ADD, 12, steps=((200.0, 19.0), (250.0, 12.0)))
    piece = rectangle(100, 300, 12)
    piece = replace(
        piece,
        edges=tuple(replace(e, allowance=wide) if e.name == "right" else e for e in piece.edges),
    )
    cut = cut_piece(piece)
    for place in ((112, 200), (119, 200), (119, 250), (112, 250)):
        assert has_point(cut.cut_line, *place)
    assert [name for name, _ in cut.runs] == ["bottom", "right", "top", "left"]


def test_an_allowance_may_change_evenly_along_an_edge() -> None:
    piece = rectangle(100, 300, 10)
    taper = Allowance(AllowanceState.ADD, 10, end_width_mm=25)
    piece = replace(
        piece,
        edges=tuple(replace(e, allowance=taper) if e.name == "right" else e for e in piece.edges),
    )
    line = shapely.Polygon(cut_piece(piece).cut_line)
    for y in (0, 100, 150, 300):
        reach = line.intersection(shapely.LineString([(50, y), (400, y)])).bounds[2]
        assert reach == pytest.approx(110 + 15 * y / 300, abs=0.02)


def test_a_sharp_point_is_cut_back_at_the_limit() -> None:
    cut = cut_piece(polygon([(0, 0), (300, -10), (300, 10)], 10)).cut_line
    assert bounds(cut)[0] == pytest.approx(-30, abs=0.01)


def test_a_concave_corner_keeps_both_widths() -> None:
    el = [(0, 0), (200, 0), (200, 100), (100, 100), (100, 200), (0, 200)]
    cut = cut_piece(polygon([(float(x), float(y)) for x, y in el], 12)).cut_line
    assert has_point(cut, 112, 112)
    assert len(cut) == 6


def test_allowances_that_meet_across_a_slot_close_it_and_a_lost_edge_is_said() -> None:
    slot = [(0, 0), (200, 0), (200, 200), (105, 200), (105, 50), (95, 50), (95, 200), (0, 200)]
    piece = polygon([(float(x), float(y)) for x, y in slot], 10)
    cut = cut_piece(piece)
    assert area(cut.cut_line) == pytest.approx(220 * 220, abs=0.1)
    swallowed = [f for f in cut.findings if f.code == "allowance-swallowed"]
    assert {f.where for f in swallowed} == {"Panel/e3", "Panel/e4", "Panel/e5"}
    assert all(f.level is Level.WARNING for f in swallowed)


def test_an_edge_shorter_than_half_a_millimetre_is_merged_and_said() -> None:
    piece = polygon([(0, 0), (100, 0), (100.2, 0.2), (100, 100), (0, 100)], 10)
    cut = cut_piece(piece)
    assert any(f.code == "short-edge" for f in cut.findings)
    assert bounds(cut.cut_line)[2] < 111
    assert shapely.Polygon(cut.cut_line).covers(shapely.Polygon(piece.outline))


def test_an_allowance_larger_than_the_piece_is_refused() -> None:
    with pytest.raises(AllowanceError, match="allowance larger than the piece") as caught:
        cut_piece(polygon([(0, 0), (60, 0), (60, 40), (0, 40)], [10, 10, 80, 10], name="Cuff"))
    assert caught.value.where == "Cuff/e2"
    assert caught.value.hint


def test_a_piece_that_cannot_be_used_is_refused_first() -> None:
    with pytest.raises(PieceError, match="Cuff"):
        cut_piece(polygon([(0, 0), (100, 0), (0, 100), (90, 100)], name="Cuff"))


# --- drawn with allowance -----------------------------------------------------------------------


def test_an_included_allowance_cuts_on_the_drawn_line_and_finds_the_net_line() -> None:
    piece = polygon(
        [(0, 0), (100, 0), (100, 100), (0, 100)], [40, 15, 10, 15], state=AllowanceState.INCLUDED
    )
    cut = cut_piece(replace(piece, drawn_as=DrawnAs.CUT))
    assert np.array_equal(cut.cut_line, piece.outline)
    assert bounds(cut.net_line) == pytest.approx((15, 40, 85, 90))


def test_included_and_added_allowances_meet_at_a_corner() -> None:
    piece = polygon([(0, 0), (100, 0), (100, 50), (0, 50)], 10)
    edges = (replace(piece.edges[0], allowance=included(20)), *piece.edges[1:])
    cut = cut_piece(replace(piece, edges=edges))
    assert bounds(cut.cut_line) == pytest.approx((-10, 0, 110, 60))
    assert bounds(cut.net_line) == pytest.approx((0, 20, 100, 50))


@given(outlines(), st.floats(1, 15))
@examples(40)
def test_adding_back_an_included_allowance_gives_the_drawn_line(
    outline: FloatArray, width: float
) -> None:
    """Drawn = net grown by us; the net line found inside it is the one it was grown from, wherever
    the growing lost nothing (corners that were cut back or swallowed may differ)."""
    grown = cut_piece(polygon(outline, width)).cut_line
    assume(shortest_mm(grown) > 0.5)
    again = cut_piece(polygon(grown, width, state=AllowanceState.INCLUDED))
    net = shapely.Polygon(again.net_line)
    assert net.is_valid
    back = net.buffer(width, quad_segs=64)
    assert shapely.Polygon(grown).buffer(ADD_BACK_MM).covers(back.buffer(-0.03))


def test_an_included_allowance_that_leaves_no_piece_is_refused() -> None:
    strip = polygon([(0, 0), (300, 0), (300, 18), (0, 18)], 10, state=AllowanceState.INCLUDED)
    with pytest.raises(AllowanceError, match="allowance larger than the piece"):
        cut_piece(strip)


def test_a_drawn_cut_line_too_tight_for_its_allowance_is_said() -> None:
    t = np.linspace(0, math.pi, 60)
    bay = [(100 - 8 * math.cos(a), 100 - 60 * math.sin(a)) for a in t]
    piece = Piece(
        "Yoke",
        (
            Edge("lower", as_points([(0, 0), (200, 0)]), allowance=included(10)),
            Edge("right", as_points([(200, 0), (200, 100)]), allowance=included(10)),
            Edge("upper right", as_points([(200, 100), bay[-1]]), allowance=included(10)),
            Edge("bay", as_points(bay[::-1]), allowance=included(20)),
            Edge("upper left", as_points([bay[0], (0, 100)]), allowance=included(10)),
            Edge("left", as_points([(0, 100), (0, 0)]), allowance=included(10)),
        ),
        grain=rectangle().grain,
        drawn_as=DrawnAs.CUT,
    )
    assert "included-not-parallel" not in {f.code for f in cut_piece(piece).findings}
    tight = [(100 - 8 * math.cos(a), 100 + 60 * math.sin(a)) for a in t]
    edges = list(piece.edges)
    edges[2] = replace(edges[2], points=as_points([(200, 100), tight[-1]]))
    edges[3] = replace(edges[3], points=as_points(tight[::-1]))
    edges[4] = replace(edges[4], points=as_points([tight[0], (0, 100)]))
    with pytest.raises(AllowanceError, match="bay"):
        cut_piece(replace(piece, edges=tuple(edges)))


def test_an_unknown_included_width_is_a_note() -> None:
    piece = polygon([(0, 0), (100, 0), (0, 80)], 0, state=AllowanceState.INCLUDED)
    codes = [f.code for f in cut_piece(replace(piece, drawn_as=DrawnAs.CUT)).findings]
    assert "net-line-unknown" in codes


# --- half pieces --------------------------------------------------------------------------------


def test_a_half_piece_has_no_allowance_at_its_fold_edge() -> None:
    cut = cut_piece(half_skirt(15, 40))
    assert cut.fold is not None
    x0, y0, _, y1 = bounds(cut.cut_line)
    assert x0 == 0.0
    assert y0 == pytest.approx(-40)
    assert cut.fold == pytest.approx(np.array([(0, y1), (0, -40)]), abs=20)
    assert cut.fold[:, 0] == pytest.approx([0, 0])
    assert cut.cut_line[[-1, 0]] == pytest.approx(cut.fold)
    assert [name for name, _ in cut.runs] == ["hem", "side", "waist", "centre"]


def test_a_waist_that_slopes_at_the_fold_is_offset_across_it() -> None:
    """Halved after offsetting the whole: a point at the fold is a mitre, not a square end."""
    piece = Piece(
        "Vee",
        (
            Edge("lower", as_points([(0, 0), (100, 0)]), allowance=add(10)),
            Edge("side", as_points([(100, 0), (100, 100)]), allowance=add(10)),
            Edge("neck", as_points([(100, 100), (0, 200)]), allowance=add(10)),
            Edge("centre", as_points([(0, 200), (0, 0)]), EdgeKind.FOLD),
        ),
        grain=rectangle().grain,
    )
    cut = cut_piece(piece)
    assert cut.fold is not None
    assert cut.fold[0] == pytest.approx((0, 200 + 10 * math.sqrt(2)), abs=2e-3)


def test_unfolding_doubles_the_area_exactly_and_mirrors_everything() -> None:
    half = half_skirt()
    half = replace(
        half,
        notches=(Notch("side", 200.0, name="hip"),),
        marks=(
            Mark(MarkKind.DRILL, ((120.0, 480.0),), "dart"),
            Mark(MarkKind.CENTRE_LINE, ((0.0, 10.0), (0.0, 500.0))),
        ),
    )
    cut = cut_piece(half)
    whole = unfold_cut(cut)
    assert whole.fold is None
    assert area(whole.cut_line) == pytest.approx(2 * area(cut.cut_line), rel=1e-12)
    assert area(whole.net_line) == pytest.approx(2 * area(cut.net_line), rel=1e-12)
    assert shapely.is_valid(shapely.Polygon(whole.cut_line))
    mirror = shapely.Polygon(whole.cut_line * np.array([-1.0, 1.0]))
    assert shapely.Polygon(whole.cut_line).symmetric_difference(mirror).area < 1e-6
    x, y = cut.notches[0].at
    assert whole.notches[0].at == (x, y)
    assert whole.notches[1].at == pytest.approx((-x, y))
    assert [m.kind for m in whole.marks].count(MarkKind.DRILL) == 2
    assert [m.kind for m in whole.marks].count(MarkKind.CENTRE_LINE) == 1
    assert whole.piece.fold_edges == ()
    assert unfold_cut(whole) is whole
    lengths = sum(float(np.hypot(*np.diff(p, axis=0).T).sum()) for _, p in whole.runs)
    assert lengths == pytest.approx(shapely.Polygon(whole.cut_line).exterior.length)


def test_the_unfolded_cut_piece_is_the_cut_piece_of_the_unfolded_piece() -> None:
    cut = cut_piece(half_skirt())
    again = cut_piece(unfold_cut(cut).piece)
    gap = shapely.Polygon(unfold_cut(cut).cut_line).symmetric_difference(
        shapely.Polygon(again.cut_line)
    )
    assert gap.area < 0.05 * shapely.Polygon(again.cut_line).exterior.length


def test_a_fold_edge_at_any_angle_is_met_exactly() -> None:
    c, s = math.cos(0.4), math.sin(0.4)
    cut = cut_piece(moved(half_skirt(), np.array([[c, -s], [s, c]]), (31.7, -12.3)))
    assert cut.fold is not None
    straight = cut_piece(half_skirt())
    assert area(cut.cut_line) == pytest.approx(area(straight.cut_line), rel=1e-6)
    assert straight.fold is not None
    assert math.dist(*cut.fold) == pytest.approx(math.dist(*straight.fold), abs=2e-3)


# --- notches ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("width", "depth"), [(15.0, 5.0), (10.0, 5.0), (6.0, 3.0), (4.0, 1.0), (3.0, 0.0), (0.0, 0.0)]
)
def test_a_notch_is_snipped_square_to_the_edge_and_stays_clear_of_the_seam(
    width: float, depth: float
) -> None:
    piece = replace(rectangle(200, 300, width), notches=(Notch("right", 120.0, 2, "hip"),))
    cut = cut_piece(piece)
    (notch,) = cut.notches
    assert notch.at == pytest.approx((200 + width, 120))
    assert notch.tip == pytest.approx((200 + width - depth, 120))
    assert (notch.marks, notch.name) == (2, "hip")
    assert ("notch-no-room" in {f.code for f in cut.findings}) is (depth == 0.0)


def test_a_notch_on_an_included_edge_begins_at_the_drawn_line() -> None:
    piece = replace(
        polygon([(0, 0), (100, 0), (100, 80), (0, 80)], 10, state=AllowanceState.INCLUDED),
        notches=(Notch("e1", 30.0),),
    )
    (notch,) = cut_piece(piece).notches
    assert notch.at == pytest.approx((100, 30))
    assert notch.tip == pytest.approx((95, 30))


@given(outlines(), st.data())
@examples(60)
def test_notches_lie_on_the_cut_line_and_never_reach_the_seam(
    outline: FloatArray, data: st.DataObject
) -> None:
    width = data.draw(st.floats(0, min(30.0, float(np.ptp(outline[:, 0])))))
    piece = polygon(outline, width)
    edge = data.draw(st.sampled_from(piece.edges))
    at = data.draw(st.floats(0, 1)) * edge.length_mm
    cut = cut_piece(replace(piece, notches=(Notch(edge.name, at),)))
    (notch,) = cut.notches
    assert shapely.Point(notch.at).distance(shapely.LinearRing(cut.cut_line)) < 0.03
    assert math.dist(notch.at, notch.tip) <= max(0.0, width - 3) + 1e-9


# --- properties ---------------------------------------------------------------------------------


def random_widths(data: st.DataObject, n: int) -> list[float]:
    return data.draw(
        st.lists(
            st.sampled_from([0.0, 0.0, 3.0, 6.0, 10.0, 15.0, 40.0, 60.0]), min_size=n, max_size=n
        )
    )


@given(outlines(), st.data())
@examples(150)
def test_every_strip_lies_inside_the_cut_line_and_reaches_its_width(
    outline: FloatArray, data: st.DataObject
) -> None:
    widths = random_widths(data, len(outline))
    x0, y0, x1, y1 = bounds(outline)
    widths = [min(w, x1 - x0, y1 - y0) for w in widths]
    assume(shortest_mm(outline) > 0.5)
    piece = polygon(outline, widths)
    cut = cut_piece(piece)
    shape = shapely.Polygon(cut.cut_line)
    assert shape.is_valid
    loose = shape.buffer(0.03)
    assert loose.covers(shapely.Polygon(piece.outline))
    strips = {
        e.name: strip(e) for e in piece.edges if e.length_mm > 0.5 and e.allowance.width_mm > 0
    }
    for name, quad in strips.items():
        assert loose.covers(quad), name
    ring = shapely.LinearRing(cut.cut_line)
    everything = shapely.union_all([*strips.values(), shapely.Polygon(piece.outline)])
    for edge in piece.edges:
        if edge.name not in strips:
            continue
        for outer in outer_points(edge):
            others = [q for n, q in strips.items() if n != edge.name]
            covered = any(q.buffer(0.03).covers(outer) for q in others)
            corner = min(
                outer.distance(shapely.Point(edge.points[0])),
                outer.distance(shapely.Point(edge.points[1])),
            )
            if not covered and everything.boundary.distance(outer) < 0.03:
                near_corner = corner < 3.2 * max(widths) + 0.1
                assert ring.distance(outer) < 0.03 or near_corner


def shortest_mm(ring: FloatArray) -> float:
    return float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).min())


def strip(edge: Edge) -> shapely.Polygon:
    (ax, ay), (bx, by) = edge.points.tolist()
    n = np.array([by - ay, ax - bx]) / edge.length_mm * edge.allowance.width_mm
    return shapely.Polygon([(ax, ay), (ax + n[0], ay + n[1]), (bx + n[0], by + n[1]), (bx, by)])


def outer_points(edge: Edge) -> list[shapely.Point]:
    (ax, ay), (bx, by) = edge.points.tolist()
    n = np.array([by - ay, ax - bx]) / edge.length_mm * edge.allowance.width_mm
    return [
        shapely.Point(ax + t * (bx - ax) + n[0], ay + t * (by - ay) + n[1])
        for t in (0.25, 0.5, 0.75)
    ]


@given(outlines(), st.data())
@examples(50)
def test_mirrored_input_gives_a_mirrored_cut_line(outline: FloatArray, data: st.DataObject) -> None:
    widths = random_widths(data, len(outline))
    x0, y0, x1, y1 = bounds(outline)
    piece = polygon(outline, [min(w, x1 - x0, y1 - y0) for w in widths])
    mirror = np.array([[-1.0, 0.0], [0.0, 1.0]])
    one = shapely.Polygon(cut_piece(piece).cut_line)
    two = shapely.Polygon(cut_piece(moved(piece, mirror)).cut_line @ mirror)
    assert one.symmetric_difference(two).area < 0.05 * one.exterior.length


@given(outlines(), st.floats(1, 15))
@examples(50)
def test_runs_put_together_are_the_cut_line(outline: FloatArray, width: float) -> None:
    cut = cut_piece(polygon(outline, width))
    joined = np.concatenate([path[:-1] for _, path in cut.runs])
    assert joined == pytest.approx(cut.cut_line)
    for name, path in cut.runs:
        edge = shapely.LineString(cut.piece.edge(name).points)
        reach = max(edge.distance(shapely.Point(p)) for p in path)
        assert reach <= 3.2 * width + 0.1


def test_a_cut_line_has_few_points() -> None:
    ring = np.vstack([circle(150, 2000), [(150.0, 0.0)]])
    piece = Piece(
        "Disc",
        (
            Edge("one", as_points(ring[:1001]), allowance=add(10)),
            Edge("two", as_points(ring[1000:]), allowance=add(10)),
        ),
        grain=rectangle().grain,
    )
    cut = cut_piece(piece)
    assert len(cut.cut_line) < 300
    radii = np.hypot(*cut.cut_line.T)
    assert radii == pytest.approx(160, abs=0.02)
    assert area(cut.cut_line) == pytest.approx(math.pi * 160**2, rel=3e-4)


def test_at_a_hollow_corner_a_wide_allowance_runs_on_to_a_narrow_one() -> None:
    """120 degrees outside, 20 mm against none: the strip ends where it meets the other edge's line."""
    far = (200 + 100 * math.cos(math.radians(-60)), 100 * math.sin(math.radians(-60)))
    points = [(0.0, 0.0), (200.0, 0.0), far, (400.0, 200.0), (0.0, 200.0)]
    cut = cut_piece(polygon(points, [20, 0, 10, 10, 10])).cut_line
    assert has_point(cut, 200 + 20 / math.tan(math.radians(60)), -20)
    assert not has_point(cut, 200, 0)
