from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nesting.allowances.make import cut_piece
from nesting.errors import PieceError
from nesting.pieces.check import check_piece
from nesting.pieces.dart_moves import (
    dart_angle_deg,
    leg_ends,
    move_dart,
    shorten_dart,
    true_dart,
)
from nesting.pieces.facing import INNER, facing
from nesting.pieces.lengthen import lengthen
from nesting.pieces.mirror import mirror
from nesting.pieces.outline import Allowance, AllowanceState, Edge, EdgeKind
from nesting.pieces.piece import Dart, Mark, MarkKind, Notch, Piece
from nesting.pieces.split import split
from nesting.pieces.stand import add_buttons, add_stand, stand_width_mm
from nesting.polygon import as_points, bounds, path_length
from tests.examples import examples
from tests.nesting.drafts import add, bodice, rectangle


def net_area(piece: Piece) -> float:
    """Area of the piece when its darts are sewn, mm2."""
    area = shapely.Polygon(piece.outline)
    for dart in piece.darts:
        a, b = leg_ends(piece, dart)
        area = area.difference(shapely.Polygon([a, dart.point, b]).buffer(1e-9))
    return float(area.area)


def sound(piece: Piece) -> None:
    """Can be checked and cut, and remembers where it came from."""
    check_piece(piece)
    assert shapely.is_valid(shapely.Polygon(cut_piece(piece).cut_line))
    assert piece.origin


def legs(piece: Piece, name: str) -> tuple[float, float]:
    dart = next(d for d in piece.darts if d.name == name)
    a, b = leg_ends(piece, dart)
    return math.dist(tuple(a), dart.point), math.dist(tuple(b), dart.point)


# --- mirror -------------------------------------------------------------------------------------


def test_mirroring_twice_gives_the_piece_back() -> None:
    piece = replace(
        bodice(),
        notches=(Notch("armhole", 60.0, 2),),
        marks=(Mark(MarkKind.DRILL, ((50.0, 80.0),)),),
    )
    once = mirror(piece)
    sound(once)
    twice = mirror(once)
    assert [e.name for e in twice.edges] == [e.name for e in piece.edges]
    for e, f in zip(twice.edges, piece.edges, strict=True):
        assert e.points == pytest.approx(f.points)
    assert twice.notches[0].distance_mm == pytest.approx(60.0)
    assert twice.darts[0].point == pytest.approx(piece.darts[0].point)
    assert twice.darts[0].fold is piece.darts[0].fold
    assert once.darts[0].fold is not piece.darts[0].fold
    assert shapely.Polygon(once.outline).area == pytest.approx(shapely.Polygon(piece.outline).area)


# --- split --------------------------------------------------------------------------------------


def test_a_split_gives_both_new_edges_allowance_and_paired_notches() -> None:
    piece = replace(rectangle(200, 300), notches=(Notch("top", 50.0), Notch("left", 40.0)))
    lower, upper = split(
        piece,
        as_points([(-10, 120), (210, 120)]),
        names=("Lower", "Upper"),
        allowance=add(12),
        seam="yoke seam",
        notches=(60.0,),
    )
    for part, height in ((lower, 120), (upper, 180)):
        sound(part)
        assert bounds(part.outline)[3] - bounds(part.outline)[1] == pytest.approx(height)
        seam = part.edge("yoke seam")
        assert (seam.kind, seam.allowance) == (EdgeKind.SEAM, add(12))
        assert seam.length_mm == pytest.approx(200)
    assert lower.edge("yoke seam").partners == ("Upper/yoke seam",)
    assert upper.edge("yoke seam").partners == ("Lower/yoke seam",)
    places = [
        shapely.LineString(p.edge("yoke seam").points).interpolate(n.distance_mm)
        for p in (lower, upper)
        for n in p.notches
        if n.edge == "yoke seam"
    ]
    assert all(q.distance(shapely.Point(60, 120)) < 1e-6 for q in places)
    assert [n for n in upper.notches if n.edge == "top"] == [Notch("top", 50.0)]
    assert [n.distance_mm for n in upper.notches if n.edge == "left"] == [40.0]
    assert not [n for n in lower.notches if n.edge == "left"]


def test_a_curved_split_loses_nothing() -> None:
    piece = bodice()
    piece = replace(
        piece,
        darts=(),
        marks=(
            Mark(MarkKind.BUTTON, ((12.0, 250.0),)),
            Mark(MarkKind.LINE, ((10.0, 200.0), (240.0, 200.0)), "bust"),
        ),
    )
    t = np.linspace(-0.1, 1.1, 60)
    line = as_points(np.column_stack([60 + 60 * t + 30 * np.sin(3 * t), 400 * t]))
    right, left = split(piece, line, names=("Side front", "Front"), allowance=add(15))
    assert net_area(right) + net_area(left) == pytest.approx(net_area(piece), abs=0.01)
    for part in (right, left):
        sound(part)
        assert part.grain is not None
        shape = shapely.Polygon(part.outline)
        assert shape.covers(shapely.LineString([part.grain.tail, part.grain.head]))
        direction = np.subtract(part.grain.head, part.grain.tail)
        assert direction[0] == pytest.approx(0, abs=1e-9)
        assert direction[1] > 0
    lengths = [
        path_length(as_points(m.points))
        for part in (right, left)
        for m in part.marks
        if m.kind is MarkKind.LINE
    ]
    assert len(lengths) == 2
    assert sum(lengths) == pytest.approx(230)
    assert [m.kind for m in left.marks].count(MarkKind.BUTTON) == 1
    assert MarkKind.BUTTON not in [m.kind for m in right.marks]
    assert path_length(right.edges[-1].points) == pytest.approx(path_length(left.edges[-1].points))


def test_a_split_with_corners_keeps_them_and_clips_the_hollow_ones() -> None:
    """A yoke drawn straight from point to point: 60 mm down the middle, square corners."""
    line = as_points([(-10, 200), (60, 200), (60, 140), (140, 140), (140, 200), (210, 200)])
    lower, upper = split(
        rectangle(200, 300), line, names=("Lower", "Upper"), allowance=add(10), seam="yoke seam"
    )
    assert net_area(lower) == pytest.approx(200 * 200 - 80 * 60)
    assert net_area(upper) == pytest.approx(200 * 100 + 80 * 60)
    for part in (lower, upper):
        sound(part)
        seam = part.edge("yoke seam")
        assert seam.length_mm == pytest.approx(200 + 2 * 60)
        assert len(seam.points) == 6
    # Hollow on the lower part are the two lower corners, on the upper part the two upper ones.
    for part, corners in ((lower, [(60, 140), (140, 140)]), (upper, [(60, 200), (140, 200)])):
        clips = [m.points for m in cut_piece(part).marks if m.name == "clip"]
        tips = sorted(tip for _, tip in clips)
        assert len(tips) == 2
        for (x, y), corner in zip(tips, corners, strict=True):
            assert math.dist((x, y), corner) == pytest.approx(2.0, abs=1e-6)
        for at, tip in clips:
            # From the corner of a 10 mm allowance, which lies 10 mm off both ways.
            assert math.dist(at, tip) == pytest.approx(10 * math.sqrt(2) - 2, abs=0.01)


def test_points_of_a_split_in_the_wrong_order_are_refused() -> None:
    line = as_points([(-10, 100), (120, 180), (120, 60), (60, 200), (210, 200)])
    with pytest.raises(PieceError, match="crosses itself") as refused:
        split(rectangle(200, 300), line, names=("A", "B"), allowance=add(10))
    assert "order" in refused.value.hint


def test_a_split_carries_steps_and_changing_widths() -> None:
    stepped = Allowance(AllowanceState.ADD, 10, steps=((50.0, 20.0), (200.0, 12.0)))
    taper = Allowance(AllowanceState.ADD, 10, end_width_mm=40)
    piece = rectangle(200, 300)
    edges = tuple(
        replace(e, allowance={"right": stepped, "left": taper}.get(e.name, e.allowance))
        for e in piece.edges
    )
    lower, upper = split(
        replace(piece, edges=edges),
        as_points([(-10, 100), (210, 100)]),
        names=("Lower", "Upper"),
        allowance=add(10),
    )
    assert lower.edge("right").allowance == Allowance(AllowanceState.ADD, 10, steps=((50.0, 20.0),))
    assert upper.edge("right").allowance == Allowance(
        AllowanceState.ADD, 20, steps=((100.0, 12.0),)
    )
    assert upper.edge("left").allowance.end_width_mm == pytest.approx(30)
    assert lower.edge("left").allowance.width_mm == pytest.approx(30)


def test_a_split_beside_a_corner_ends_in_it() -> None:
    lower, upper = split(
        rectangle(200, 300),
        as_points([(-10, 0.2), (0.2, 0.2), (199.8, 299.9), (260, 299.9)]),
        names=("Lower", "Upper"),
        allowance=add(10),
    )
    assert len(lower.edges) == 3
    assert len(upper.edges) == 3


def test_a_half_piece_split_across_keeps_its_fold() -> None:
    lower, upper = split(
        replace(bodice(on_fold=True), darts=()),
        as_points([(-5, 150), (300, 150)]),
        names=("Lower", "Upper"),
        allowance=add(10),
    )
    for part in (lower, upper):
        assert len(part.fold_edges) == 1
        sound(part)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ([(-10, 100), (100, 100)], "1 time"),
        ([(-10, 100), (-5, 200)], "0 time"),
        ([(-10, 100), (210, 100), (210, 150), (-10, 150)], "4 time"),
    ],
)
def test_a_line_that_does_not_part_the_piece_is_refused(
    line: list[tuple[float, float]], said: str
) -> None:
    with pytest.raises(PieceError, match=said):
        split(rectangle(), as_points(line), names=("A", "B"), allowance=add(10))


def test_a_split_through_a_dart_or_onto_a_used_name_is_refused() -> None:
    piece = bodice()
    line = as_points([(-10, 100), (300, 100)])
    with pytest.raises(PieceError, match="cuts dart 'waist dart'"):
        split(piece, line, names=("A", "B"), allowance=add(10))
    with pytest.raises(PieceError, match="edge 'top' already"):
        split(
            rectangle(),
            as_points([(-1, 50), (201, 50)]),
            names=("A", "B"),
            allowance=add(10),
            seam="top",
        )
    with pytest.raises(PieceError, match="off the new seam"):
        split(
            rectangle(), as_points([(-1, 50), (201, 50)]), names=("A", "B"), allowance=add(10),
            notches=(500.0,),
        )  # fmt: skip


def test_a_panel_line_through_a_dart_takes_one_leg_on_either_side() -> None:
    piece = bodice()
    piece = replace(piece, darts=piece.darts[:1])
    dart = piece.darts[0]
    line = as_points([dart.point, (120.0, 250.0), (140.0, 420.0)])
    right, left = split(
        piece, line, names=("Side front", "Front"), allowance=add(15), darts=("waist dart", "")
    )
    assert net_area(right) + net_area(left) == pytest.approx(net_area(piece), abs=0.01)
    seams = [p.edge("panel seam") for p in (right, left)]
    assert seams[0].length_mm == pytest.approx(seams[1].length_mm, abs=0.01)
    for part in (right, left):
        assert part.darts == ()
        sound(part)
    # Paired notches lie at equal distances from the waist.
    from_waist = [
        sorted(
            n.distance_mm if left_side else seam.length_mm - n.distance_mm
            for n in part.notches
            if n.edge == "panel seam"
        )
        for part, seam, left_side in ((right, seams[0], False), (left, seams[1], True))
    ]
    assert from_waist[0] == pytest.approx(from_waist[1], abs=0.05)


# --- darts --------------------------------------------------------------------------------------


MOVES = [("armhole", 60.0), ("shoulder", 70.0), ("neck", 60.0), ("waist", 40.0), ("centre", 120.0)]


@pytest.mark.parametrize(("edge", "at"), MOVES)
def test_a_moved_dart_keeps_its_angle_every_length_and_the_sewn_area(edge: str, at: float) -> None:
    piece = replace(bodice(), darts=bodice().darts[1:])
    moved = move_dart(piece, "side dart", edge, at)
    sound(moved)
    (dart,) = moved.darts
    assert dart.edge == edge
    assert dart_angle_deg(moved, dart.name) == pytest.approx(dart_angle_deg(piece, "side dart"))
    assert legs(moved, dart.name)[0] == pytest.approx(legs(moved, dart.name)[1], abs=1e-6)
    assert net_area(moved) == pytest.approx(net_area(piece), abs=0.5)
    mouths = {d.edge: d.second_mm - d.first_mm for d in piece.darts}
    for e in piece.edges:
        now = moved.edge(e.name).length_mm - (
            dart.second_mm - dart.first_mm if e.name == edge else 0
        )
        assert now == pytest.approx(e.length_mm - mouths.get(e.name, 0), abs=0.02), e.name


def test_what_lies_in_the_turned_part_turns_with_it_and_the_grain_stays() -> None:
    piece = bodice()
    piece = replace(
        piece,
        darts=piece.darts[1:],
        notches=(Notch("armhole", 100.0, name="front"), Notch("side", 20.0)),
        marks=(
            Mark(MarkKind.DRILL, ((220.0, 190.0),), "turned"),
            Mark(MarkKind.DRILL, ((20.0, 40.0),), "still"),
        ),
    )
    moved = move_dart(piece, "side dart", "armhole", 60.0)
    assert moved.grain == piece.grain
    marks = {m.name: m.points[0] for m in moved.marks}
    assert marks["still"] == (20.0, 40.0)
    point = piece.darts[0].point
    assert math.dist(marks["turned"], point) == pytest.approx(math.dist((220.0, 190.0), point))
    assert marks["turned"] != (220.0, 190.0)
    # Notches keep their distance along the edge, counted without the new mouth.
    dart = moved.darts[0]
    front = next(n for n in moved.notches if n.name == "front")
    assert front.distance_mm - (dart.second_mm - dart.first_mm) == pytest.approx(100, abs=0.02)
    assert next(n for n in moved.notches if n.edge == "side").distance_mm == pytest.approx(20)


def test_a_fold_edge_never_turns() -> None:
    piece = bodice(on_fold=True)
    for edge, at in (("armhole", 60.0), ("waist", 30.0), ("neck", 40.0)):
        moved = move_dart(replace(piece, darts=piece.darts[1:]), "side dart", edge, at)
        assert moved.edge("centre").points == pytest.approx(piece.edge("centre").points)
        sound(moved)


def test_half_a_dart_may_be_moved() -> None:
    piece = replace(bodice(), darts=bodice().darts[1:])
    moved = move_dart(piece, "side dart", "shoulder", 60.0, share=0.5, name="shoulder dart")
    whole = dart_angle_deg(piece, "side dart")
    assert dart_angle_deg(moved, "side dart") == pytest.approx(whole / 2, abs=1e-6)
    assert dart_angle_deg(moved, "shoulder dart") == pytest.approx(whole / 2)
    sound(moved)


def test_a_dart_moved_there_and_back_is_the_same_dart() -> None:
    piece = replace(bodice(), darts=bodice().darts[1:])
    there = move_dart(piece, "side dart", "armhole", 60.0)
    back = move_dart(there, "side dart", "side", piece.darts[0].first_mm)
    gap = shapely.Polygon(back.outline).symmetric_difference(shapely.Polygon(piece.outline))
    assert gap.area < 1.0
    assert back.darts[0].second_mm - back.darts[0].first_mm == pytest.approx(
        piece.darts[0].second_mm - piece.darts[0].first_mm, abs=0.05
    )


@given(st.floats(4, 20), st.floats(40, 160), st.floats(10, 290), st.floats(0.1, 1))
@examples(60)
def test_any_dart_moves_with_its_angle_kept(
    half: float, depth: float, at: float, share: float
) -> None:
    piece = rectangle(300, 300)
    piece = replace(
        piece, darts=(Dart("dart", "top", 150 - half, 150 + half, (150.0, 300.0 - depth)),)
    )
    moved = move_dart(piece, "dart", "right", at, share=share, name="new")
    new = next(d for d in moved.darts if d.edge == "right")
    assert dart_angle_deg(moved, new.name) == pytest.approx(
        share * dart_angle_deg(piece, "dart"), abs=1e-6
    )
    assert net_area(moved) == pytest.approx(net_area(piece), abs=0.5)
    check_piece(moved)


def test_moves_that_cannot_be_are_refused() -> None:
    piece = bodice()
    with pytest.raises(PieceError, match="there is no dart 'bust'"):
        move_dart(piece, "bust", "neck", 10)
    with pytest.raises(PieceError, match=r"cannot open at 0\.0 mm"):
        move_dart(piece, "side dart", "neck", 0)
    with pytest.raises(PieceError, match="fold edge"):
        move_dart(bodice(on_fold=True), "side dart", "centre", 50)
    with pytest.raises(PieceError, match="through dart 'waist dart'"):
        move_dart(piece, "side dart", "centre", 250)
    uneven = replace(piece, darts=(Dart("d", "waist", 60, 100, (110.0, 150.0)),))
    with pytest.raises(PieceError, match="do not close on each other") as caught:
        move_dart(uneven, "d", "neck", 60)
    assert caught.value.hint == "true the dart first"
    with pytest.raises(PieceError, match="lies in the old dart"):
        move_dart(piece, "side dart", "side", 100)
    with pytest.raises(PieceError, match="share"):
        move_dart(piece, "side dart", "neck", 60, share=0)


def test_truing_a_dart_makes_its_legs_equal_and_keeps_the_rest_of_the_edge() -> None:
    piece = replace(
        rectangle(),
        darts=(
            Dart("d", "top", 60, 100, (110.0, 150.0)),
            Dart("e", "top", 150, 160, (45.0, 250.0)),
        ),
        notches=(Notch("top", 180.0),),
    )
    trued = true_dart(piece, "d")
    one, two = legs(trued, "d")
    assert one == pytest.approx(two, abs=1e-6)
    assert sum(legs(piece, "d")) / 2 == pytest.approx(one)
    top = shapely.LineString(trued.edge("top").points)
    assert top.interpolate(trued.notches[0].distance_mm).distance(shapely.Point(20, 300)) < 1.0
    assert "dart-legs-unequal" in {f.code for f in cut_piece(piece).findings}
    said = [f for f in cut_piece(trued).findings if f.code == "dart-legs-unequal"]
    assert all("'d'" not in f.message for f in said)


def test_shortening_a_dart_moves_its_point_along_the_middle() -> None:
    piece = bodice()
    short = shorten_dart(piece, "side dart", 25)
    a, b = (next(d for d in p.darts if d.name == "side dart") for p in (piece, short))
    assert math.dist(a.point, b.point) == pytest.approx(25)
    assert legs(short, "side dart")[0] == pytest.approx(legs(short, "side dart")[1], abs=0.05)
    with pytest.raises(PieceError, match="mm long"):
        shorten_dart(piece, "side dart", 500)


# --- stand, buttons -----------------------------------------------------------------------------


def test_a_stand_carries_neck_and_waist_on_as_mirror_images() -> None:
    piece = replace(bodice(), notches=(Notch("neck", 30.0, name="shoulder"), Notch("waist", 20.0)))
    made = add_stand(piece, "centre", 20)
    sound(made)
    assert bounds(made.outline)[0] == pytest.approx(-20)
    assert "centre" not in [e.name for e in made.edges]
    # Folded back along the centre line the stand lies inside the piece, edge on edge.
    shape = shapely.Polygon(made.outline)
    stand = shape.intersection(shapely.box(-21, -50, 0, 500))
    lain = shapely.transform(stand, lambda xy: xy * np.array([-1.0, 1.0]))
    under = shape.intersection(shapely.box(0, -50, 20, 500))
    assert lain.symmetric_difference(under).area < 0.05
    (line,) = (m for m in made.marks if m.kind is MarkKind.CENTRE_LINE)
    assert sorted(line.points) == [(0.0, 0.0), (0.0, 300.0)]
    for name in ("neck", "waist"):
        edge = shapely.LineString(made.edge(name).points)
        centre = next(n for n in made.notches if n.edge == name and n.name == "centre")
        assert edge.interpolate(centre.distance_mm).x == pytest.approx(0, abs=1e-6)
    # What was marked before lies where it lay.
    for name, old in (("neck", 30.0), ("waist", 20.0)):
        before = shapely.LineString(piece.edge(name).points).interpolate(old)
        now = [
            shapely.LineString(made.edge(name).points).interpolate(n.distance_mm)
            for n in made.notches
            if n.edge == name and n.name != "centre"
        ]
        assert now[0].distance(before) < 1e-6
    waist = next(d for d in made.darts if d.edge == "waist")
    assert np.array(leg_ends(made, waist)) == pytest.approx(
        np.array(leg_ends(piece, piece.darts[0])), abs=1e-6
    )


def test_a_fold_edge_becomes_a_stand_with_an_edge_of_its_own() -> None:
    made = add_stand(bodice(on_fold=True), "centre", 18)
    assert made.fold_edges == ()
    assert made.edge("stand edge").kind is EdgeKind.SEAM
    sound(made)


def test_a_stand_wider_than_its_neck_is_refused() -> None:
    with pytest.raises(PieceError, match="does not run back"):
        add_stand(bodice(), "centre", 120)
    with pytest.raises(PieceError, match="not straight"):
        add_stand(bodice(), "armhole", 20)


def test_horizontal_buttonholes_begin_three_millimetres_beyond_the_centre_line() -> None:
    made = add_buttons(
        add_stand(bodice(), "centre", 20), count=4, first_mm=15, last_mm=60, diameter_mm=15
    )
    buttons = [m for m in made.marks if m.kind is MarkKind.BUTTON]
    holes = [m for m in made.marks if m.kind is MarkKind.BUTTONHOLE]
    assert [m.points[0][1] for m in buttons] == pytest.approx([285, 210, 135, 60])
    assert all(m.points[0][0] == 0.0 for m in buttons)
    for hole in holes:
        (x0, y0), (x1, y1) = hole.points
        assert (x0, x1) == pytest.approx((-3, 15))
        assert y0 == pytest.approx(y1)
    with pytest.raises(PieceError, match="no centre line"):
        add_buttons(bodice(), count=4, first_mm=15, last_mm=60, diameter_mm=15)
    with pytest.raises(PieceError, match="do not fit"):
        add_buttons(
            add_stand(bodice(), "centre", 20), count=4, first_mm=200, last_mm=160, diameter_mm=15
        )


def test_a_stand_is_wide_enough_by_both_published_rules() -> None:
    for diameter in (10.0, 15.0, 18.0, 25.0, 40.0):
        width = stand_width_mm(diameter)
        assert width >= diameter / 2 + 6.35 - 1e-9
        assert width >= 0.75 * diameter - 1e-9
    assert stand_width_mm(15) == pytest.approx(13.85)


# --- facings ------------------------------------------------------------------------------------


def test_a_hem_facing_follows_the_hem_and_has_the_asked_depth() -> None:
    piece = replace(rectangle(200, 300, 12), notches=(Notch("bottom", 80.0), Notch("top", 10.0)))
    made = facing(piece, ["bottom"], 60, name="Hem facing", inner=add(8))
    sound(made)
    assert bounds(made.outline) == pytest.approx((0, 0, 200, 60))
    assert {e.name for e in made.edges} == {"bottom", "right", INNER, "left"}
    assert made.edge(INNER).allowance == add(8)
    assert made.edge("right").allowance == add(12)
    assert [(n.edge, n.distance_mm) for n in made.notches] == [("bottom", pytest.approx(80.0))]
    assert made.name == "Hem facing"


def test_a_neck_and_front_facing_runs_round_the_corner() -> None:
    piece = add_stand(replace(bodice(), darts=()), "centre", 20)
    made = facing(piece, ["neck", "stand edge"], 50, cloth="interfacing")
    sound(made)
    assert made.cloth == "interfacing"
    assert made.edge("neck").length_mm == pytest.approx(piece.edge("neck").length_mm, abs=0.01)
    inner = shapely.LineString(made.edge(INNER).points)
    faced = shapely.union_all(
        [shapely.LineString(piece.edge(n).points) for n in ("neck", "stand edge")]
    )
    away = [
        faced.distance(inner.interpolate(t, normalized=True)) for t in np.linspace(0.1, 0.9, 40)
    ]
    assert min(away) == pytest.approx(50, abs=0.1)
    assert shapely.Polygon(piece.outline).buffer(0.01).covers(shapely.Polygon(made.outline))


def test_a_facing_on_the_fold_stays_on_the_fold() -> None:
    piece = replace(bodice(on_fold=True), darts=())
    made = facing(piece, ["neck"], 60)
    assert [e.name for e in made.fold_edges] == ["centre"]
    assert made.fold_edges[0].length_mm == pytest.approx(60, abs=0.2)
    sound(made)


def test_a_hem_facing_of_a_curved_hem_has_no_slivers_along_the_sides() -> None:
    t = np.linspace(0, math.radians(105), 300)
    arc = 350 * np.column_stack([np.sin(t), -np.cos(t)])
    top = arc[::-1] * (220 / 350)
    piece = Piece(
        "Peplum",
        (
            Edge("hem", as_points(arc), allowance=add(10)),
            Edge("front", as_points([arc[-1], top[0]]), allowance=add(10)),
            Edge("waist", as_points(top), allowance=add(10)),
            Edge("centre back", as_points([top[-1], arc[0]]), EdgeKind.FOLD),
        ),
        grain=None,
    )
    made = facing(piece, ["hem"], 40)
    assert made.edge("front").length_mm == pytest.approx(40, abs=0.05)
    assert made.edge("centre back").length_mm == pytest.approx(40, abs=0.05)
    assert net_area(made) == pytest.approx(math.radians(105) * (350**2 - 310**2) / 2, rel=1e-3)


def test_facings_that_cannot_be_are_refused() -> None:
    with pytest.raises(PieceError, match="cannot be faced"):
        facing(bodice(), ["waist"], 50)
    with pytest.raises(PieceError, match="close to a ring"):
        facing(rectangle(), ["bottom", "right", "top", "left"], 30)
    with pytest.raises(PieceError, match="an edge and a depth"):
        facing(rectangle(), [], 30)
    with pytest.raises(PieceError, match="no edge 'hem'"):
        facing(rectangle(), ["hem"], 30)


# --- lengthen -----------------------------------------------------------------------------------


@pytest.mark.parametrize("by", [40.0, -40.0])
def test_a_rectangle_lengthened_or_shortened_stays_a_rectangle(by: float) -> None:
    piece = replace(
        rectangle(200, 300),
        notches=(Notch("right", 50.0), Notch("right", 280.0), Notch("top", 30.0)),
        marks=(Mark(MarkKind.DRILL, ((50.0, 250.0),)), Mark(MarkKind.DRILL, ((50.0, 20.0),))),
    )
    made = lengthen(piece, (0, 150), (200, 150), by)
    sound(made)
    assert bounds(made.outline) == pytest.approx((0, 0, 200, 300 + by))
    assert shapely.Polygon(made.outline).area == pytest.approx(200 * (300 + by))
    assert [n.distance_mm for n in made.notches] == pytest.approx([50, 280 + by, 30])
    assert [m.points[0][1] for m in made.marks] == pytest.approx([250 + by, 20])


@pytest.mark.parametrize("by", [30.0, -30.0])
def test_a_shaped_side_is_redrawn_smooth(by: float) -> None:
    side = as_points([(250 - 60 * (y / 400) ** 2, y) for y in np.linspace(0, 400, 41)])
    piece = Piece(
        "Skirt",
        (
            Edge("hem", as_points([(0, 0), (250, 0)]), allowance=add(10)),
            Edge("side", side, allowance=add(10)),
            Edge("waist", as_points([(190, 400), (0, 400)]), allowance=add(10)),
            Edge("centre", as_points([(0, 400), (0, 0)]), EdgeKind.FOLD),
        ),
        grain=rectangle().grain,
    )
    made = lengthen(piece, (0, 200), (250, 200), by)
    sound(made)
    assert bounds(made.outline)[3] == pytest.approx(400 + by)
    assert made.edge("centre").length_mm == pytest.approx(400 + by)
    steps = np.diff(made.edge("side").points, axis=0)
    angles = np.degrees(np.unwrap(np.arctan2(steps[:, 1], steps[:, 0])))
    assert np.abs(np.diff(angles)).max() < 4


def test_a_line_through_a_dart_or_too_little_length_is_refused() -> None:
    with pytest.raises(PieceError, match="cuts dart"):
        lengthen(bodice(), (0, 80), (250, 80), 20)
    with pytest.raises(PieceError, match="enough of the piece"):
        lengthen(rectangle(200, 300), (0, 280), (200, 280), -40)
    with pytest.raises(PieceError, match="no length"):
        lengthen(rectangle(200, 300), (0, 280), (0, 280), 40)


def test_changes_add_up_and_nothing_drawn_is_lost() -> None:
    piece = bodice()
    line = move_dart(piece, "side dart", "armhole", 60.0, name="armhole dart")
    assert piece.darts == bodice().darts
    assert line.origin == "Front; dart side dart moved to armhole"
    assert mirror(line).origin == "Front; dart side dart moved to armhole; mirrored"


def test_a_line_that_only_runs_along_an_edge_cuts_nothing_off() -> None:
    with pytest.raises(PieceError, match="cuts nothing off"):
        split(
            rectangle(200, 300),
            as_points([(-10, 0.2), (210, 0.2)]),
            names=("Low", "High"),
            allowance=add(10),
        )
