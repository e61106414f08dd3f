from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nesting.allowances.make import cut_piece, unfold_cut
from nesting.lines import mirrored_across
from nesting.pieces.outline import Allowance, AllowanceState, Corner, Edge, EdgeKind, Pressed
from nesting.pieces.piece import Grain, MarkKind, Piece
from nesting.polygon import FloatArray, as_points, bounds
from tests.examples import examples
from tests.nesting.drafts import add, polygon, rectangle


def panel(
    lean_right: float,
    lean_left: float,
    *,
    hem: float = 40.0,
    seam: float = 15.0,
    folds: tuple[float, ...] = (),
    slope: float = 0.0,
    bow: float = 0.0,
) -> Piece:
    """A skirt or leg panel 300 wide at the hem and 500 tall; leans are mm per mm of height, positive
    where the side leans outwards going up; the hem may slope; sides may bow by ``bow`` mm."""
    low, high = -slope * 150, slope * 150
    a, b = np.array([0.0, low]), np.array([300.0, high])
    c, d = np.array([300 + 500 * lean_right, 500.0]), np.array([-500 * lean_left, 500.0])

    def side(p: FloatArray, q: FloatArray, sign: float) -> FloatArray:
        t = np.linspace(0, 1, 2 if bow == 0 else 60)[:, None]
        out = np.array([sign, 0.0]) * bow * 4 * t * (1 - t)
        return as_points(p + t * (q - p) + out)

    return Piece(
        "Panel",
        (
            Edge("hem", as_points([a, b]), EdgeKind.HEM, add(hem), folds_mm=folds),
            Edge("right", side(b, c, 1.0), allowance=add(seam)),
            Edge("waist", as_points([c, d]), allowance=add(seam)),
            Edge("left", side(d, a, -1.0), allowance=add(seam)),
        ),
        grain=rectangle().grain,
    )


def hem_line(piece: Piece) -> tuple[FloatArray, FloatArray]:
    hem = piece.edge("hem").points
    return hem[0], hem[-1]


def below(
    shape: shapely.Polygon, a: FloatArray, b: FloatArray, depth: float = 0.0
) -> shapely.Geometry:
    """The part of a shape farther than ``depth`` on the right of a -> b."""
    u = (b - a) / np.hypot(*(b - a))
    n = np.array([u[1], -u[0]])
    p, q = a - u * 2000 + n * depth, b + u * 2000 + n * depth
    half_plane = shapely.Polygon([p, p + n * 2000, q + n * 2000, q])
    # On a grid: without one, GEOS has returned the half plane itself for a sloping cut.
    return shapely.intersection(shape, half_plane, grid_size=1e-6)


def mirrored(shape: shapely.Geometry, a: FloatArray, b: FloatArray) -> shapely.Geometry:
    return shapely.transform(shape, lambda xy: mirrored_across(as_points(xy), a, b))


LEANS = [(0.0, 0.0), (-0.15, -0.15), (0.2, 0.2), (-0.3, 0.1), (0.35, -0.2)]


@pytest.mark.parametrize(("right", "left"), LEANS)
@pytest.mark.parametrize("slope", [0.0, 0.08])
def test_a_hem_turned_up_lies_on_the_garment_edge_to_edge(
    right: float, left: float, slope: float
) -> None:
    piece = panel(right, left, slope=slope)
    cut = shapely.Polygon(cut_piece(piece).cut_line)
    a, b = hem_line(piece)
    turned = mirrored(below(cut, a, b), a, b)
    body = cut.difference(below(cut, a, b))
    strip = body.difference(mirrored(below(mirrored(body, a, b), a, b, 40.0), a, b))
    assert turned.symmetric_difference(strip).area < 0.5


@pytest.mark.parametrize("bow", [-12.0, 12.0])
def test_curved_sides_are_mirrored_curved(bow: float) -> None:
    piece = panel(-0.1, -0.1, hem=60, bow=bow)
    cut = shapely.Polygon(cut_piece(piece).cut_line)
    a, b = hem_line(piece)
    turned = mirrored(below(cut, a, b), a, b)
    body = cut.difference(below(cut, a, b))
    assert turned.difference(body).area < 3.0
    assert body.intersection(shapely.box(-500, 0, 900, 60)).difference(turned).area < 3.0


def test_a_mitred_end_would_not_do() -> None:
    """What the turn-back mends: the same corner mitred sticks out when turned up (flared), or is
    too short (tapered)."""
    for lean, area in ((-0.15, 360.0), (0.2, 480.0)):
        piece = panel(lean, lean)
        left = piece.edges[3]
        mitred = (
            replace(piece.edges[0], corner=Corner.MITRE),
            *piece.edges[1:3],
            replace(left, corner=Corner.MITRE),
        )
        a, b = hem_line(piece)
        good = shapely.Polygon(cut_piece(piece).cut_line)
        bad = shapely.Polygon(cut_piece(replace(piece, edges=mitred)).cut_line)
        gap = mirrored(below(bad, a, b), a, b).symmetric_difference(
            mirrored(below(good, a, b), a, b)
        )
        assert gap.area == pytest.approx(2 * abs(lean) * 40 * 40, rel=0.02)
        assert gap.area > area


@pytest.mark.parametrize(("right", "left"), LEANS)
@pytest.mark.parametrize(("hem", "fold"), [(40.0, 20.0), (40.0, 30.0), (25.0, 15.0)])
def test_a_double_hem_lies_flat_in_all_its_layers(
    right: float, left: float, hem: float, fold: float
) -> None:
    piece = panel(right, left, hem=hem, folds=(fold,))
    cut = shapely.Polygon(cut_piece(piece).cut_line)
    a, b = hem_line(piece)
    second = below(cut, a, b, fold)
    first = below(cut, a, b).difference(second)
    shift = np.array([0.0, -fold])
    lower = mirrored(second, a + shift, b + shift)
    assert lower.difference(first.buffer(1e-6)).area < 0.5
    body = cut.difference(below(cut, a, b))
    assert mirrored(first, a, b).difference(body.buffer(1e-6)).area < 0.5
    u = shapely.box(-1000, fold - (hem - fold), 2000, fold)
    assert body.intersection(u).symmetric_difference(mirrored(lower, a, b)).area < 0.5


def test_a_square_end_needs_no_shaping() -> None:
    cut = cut_piece(panel(0, 0)).cut_line
    assert bounds(cut) == pytest.approx((-15, -40, 315, 515))
    assert shapely.Polygon(cut).area == pytest.approx(330 * 555)


def test_a_side_nearly_along_the_hem_is_mitred_instead() -> None:
    piece = panel(3.0, 3.0)
    cut = cut_piece(piece)
    assert shapely.is_valid(shapely.Polygon(cut.cut_line))
    assert bounds(cut.cut_line)[1] == pytest.approx(-40, abs=1e-3)


def test_a_hem_on_a_half_piece_is_mirrored_at_its_side_and_straight_at_the_fold() -> None:
    piece = panel(-0.15, 0.0)
    half = replace(
        piece,
        edges=(
            *piece.edges[:3],
            replace(piece.edges[3], kind=EdgeKind.FOLD, allowance=Allowance()),
        ),
    )
    cut = cut_piece(half)
    assert cut.fold is not None
    assert cut.fold[1] == pytest.approx((0, -40))
    whole = cut_piece(panel(-0.15, -0.15))
    right_whole = max(p[0] for p in whole.cut_line if p[1] < -39)
    right_half = max(p[0] for p in cut.cut_line if p[1] < -39)
    assert right_half == pytest.approx(right_whole, abs=2e-3)


# --- seams --------------------------------------------------------------------------------------


def shoulder(pressed: Pressed) -> Piece:
    """A front: shoulder from (40, 300) to (160, 260); armhole falls steeply from it."""
    points = [(0.0, 0.0), (200.0, 0.0), (200.0, 180.0), (160.0, 260.0), (40.0, 300.0), (0.0, 260.0)]
    piece = polygon(points, [10, 10, 10, 15, 6, 10], name="Front")
    names = ("waist", "side", "armhole", "shoulder", "neck", "centre")
    edges = [replace(e, name=n) for e, n in zip(piece.edges, names, strict=True)]
    edges[3] = replace(edges[3], pressed=pressed)
    return replace(piece, edges=tuple(edges))


@pytest.mark.parametrize("pressed", [Pressed.OPEN, Pressed.TOWARDS])
def test_a_pressed_seam_ends_inside_the_armhole_and_neck_it_is_caught_in(pressed: Pressed) -> None:
    piece = shoulder(pressed)
    cut = shapely.Polygon(cut_piece(piece).cut_line)
    a, b = piece.edge("shoulder").points[[0, -1]]
    strip = below(cut, a, b)
    body = cut.difference(strip)
    folded = mirrored(strip, a, b)
    assert folded.difference(body.buffer(1e-6)).area < 0.05
    # Nothing is missing either: it reaches the raw edges of armhole and neck.
    near = body.difference(mirrored(below(mirrored(body, a, b), a, b, 15.0), a, b))
    assert near.difference(folded.buffer(1e-6)).area < 0.05


def test_an_unpressed_seam_is_mitred_and_would_not_lie_inside() -> None:
    for pressed in (Pressed.UNSAID, Pressed.AWAY):
        piece = shoulder(pressed)
        cut = shapely.Polygon(cut_piece(piece).cut_line)
        a, b = piece.edge("shoulder").points[[0, -1]]
        strip = below(cut, a, b)
        folded = mirrored(strip, a, b)
        assert (
            folded.symmetric_difference(cut.difference(strip)).intersection(folded.union(cut)).area
            > 5
        )
        assert (
            shapely.Polygon(cut_piece(shoulder(Pressed.OPEN)).cut_line)
            .symmetric_difference(cut)
            .area
            > 5.0
        )


def test_of_two_pressed_seams_at_a_corner_neither_turns_back_until_it_is_said() -> None:
    piece = shoulder(Pressed.OPEN)
    both = replace(piece, edges=tuple(replace(e, pressed=Pressed.OPEN) for e in piece.edges))
    none = replace(piece, edges=tuple(replace(e, pressed=Pressed.UNSAID) for e in piece.edges))
    assert cut_piece(both).cut_line == pytest.approx(cut_piece(none).cut_line)
    said = replace(
        both,
        edges=tuple(
            replace(e, corner=Corner.NEXT_TURNS_BACK) if e.name == "armhole" else e
            for e in both.edges
        ),
    )
    assert not np.array_equal(cut_piece(said).cut_line, cut_piece(none).cut_line)


# --- overrides ----------------------------------------------------------------------------------


def wedge(corner: Corner, first: float = 10.0, second: float = 10.0) -> FloatArray:
    """Cut line of a triangle with a 30 degree point at the origin between edges e2 and e0."""
    far = [(200.0, 0.0), (200 * math.cos(math.pi / 6), 200 * math.sin(math.pi / 6))]
    piece = polygon([(0.0, 0.0), *far], [second, 10, first])
    edges = (*piece.edges[:2], replace(piece.edges[2], corner=corner))
    return cut_piece(replace(piece, edges=edges)).cut_line


def reach(cut: FloatArray) -> float:
    """How far the cut line reaches beyond the point, along its bisector."""
    bisector = np.array([math.cos(math.pi / 12), math.sin(math.pi / 12)])
    return float(-(cut @ bisector).min())


def test_a_sharp_point_is_cut_back_mitred_or_blunt_as_said() -> None:
    assert reach(wedge(Corner.AUTO)) == pytest.approx(30, abs=0.02)
    assert reach(wedge(Corner.MITRE)) == pytest.approx(10 / math.sin(math.pi / 12), abs=0.02)
    assert reach(wedge(Corner.BLUNT)) == pytest.approx(10, abs=0.02)


def test_a_right_angle_may_step_or_be_blunt() -> None:
    square = polygon([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)], [20, 10, 10, 10])

    def cut(corner: Corner) -> shapely.Polygon:
        edges = (replace(square.edges[0], corner=corner), *square.edges[1:])
        return shapely.Polygon(cut_piece(replace(square, edges=edges)).cut_line)

    mitre = cut(Corner.AUTO)
    assert mitre.area == pytest.approx(120 * 130)
    assert cut(Corner.STEP).area == pytest.approx(120 * 130 - 10 * 20)
    assert cut(Corner.BLUNT).area < mitre.area
    assert cut(Corner.MITRE).equals_exact(mitre, 1e-6)


@pytest.mark.parametrize(("first", "second"), [(20.0, 8.0), (8.0, 20.0)])
def test_a_step_at_a_shallow_corner_ends_the_wider_allowance_square(
    first: float, second: float
) -> None:
    points = [(0.0, 0.0), (200.0, 0.0), (300.0, 60.0), (150.0, 300.0)]
    piece = polygon(points, [first, second, 10, 10])
    edges = (replace(piece.edges[0], corner=Corner.STEP), *piece.edges[1:])
    cut = cut_piece(replace(piece, edges=edges)).cut_line
    deep = piece.edges[0] if first > second else piece.edges[1]
    u = (deep.points[1] - deep.points[0]) / deep.length_mm
    square_end = np.array([200.0, 0.0]) + np.array([u[1], -u[0]]) * 20
    assert np.hypot(*(cut - square_end).T).min() < 2e-3


# --- inlays, findings -----------------------------------------------------------------------------


def test_an_inlay_lies_outside_the_allowance_with_its_own_line() -> None:
    piece = rectangle(200, 300, 10)
    edges = tuple(replace(e, inlay_mm=25.0) if e.name == "right" else e for e in piece.edges)
    cut = cut_piece(replace(piece, edges=edges))
    assert bounds(cut.cut_line) == pytest.approx((-10, -10, 235, 310))
    (inlay,) = (m for m in cut.marks if m.kind is MarkKind.INLAY)
    assert inlay.name == "right"
    assert {x for x, _ in inlay.points} == {210.0}


def test_an_inlay_on_a_half_piece_is_marked_once() -> None:
    piece = panel(-0.1, 0.0)
    half = replace(
        piece,
        edges=(
            piece.edges[0],
            replace(piece.edges[1], inlay_mm=20.0),
            piece.edges[2],
            replace(piece.edges[3], kind=EdgeKind.FOLD, allowance=Allowance()),
        ),
    )
    assert [m.name for m in cut_piece(half).marks if m.kind is MarkKind.INLAY] == ["right"]


def quarter_circle(radius: float, hem: float) -> Piece:
    t = np.linspace(0, math.pi / 2, 200)
    arc = radius * np.column_stack([np.cos(t), np.sin(t)])
    return Piece(
        "Circle skirt",
        (
            Edge("hem", as_points(arc), EdgeKind.HEM, add(hem)),
            Edge("back", as_points([arc[-1], (0, 0)]), allowance=add(15)),
            Edge("front", as_points([(0, 0), arc[0]]), allowance=add(15)),
        ),
        grain=rectangle().grain,
    )


def test_a_deep_hem_on_a_circle_skirt_is_warned_of_and_a_narrow_one_is_not() -> None:
    deep = [f for f in cut_piece(quarter_circle(700, 40)).findings if "hem" in f.code]
    assert len(deep) == 1
    assert "125 mm longer" in deep[0].message
    assert deep[0].code == "hem-too-deep-for-curve"
    eased = [f for f in cut_piece(quarter_circle(1500, 30)).findings if "hem" in f.code]
    assert [f.code for f in eased] == ["hem-to-be-eased"]
    assert not [f for f in cut_piece(quarter_circle(700, 6)).findings if "hem" in f.code]


def test_a_curved_hem_keeps_its_depth_between_shaped_ends() -> None:
    piece = quarter_circle(700, 20)
    cut = cut_piece(piece)
    hem = next(path for name, path in cut.runs if name == "hem")
    outer = np.hypot(*hem.T)
    # Beyond the net line's ends the hem runs on straight, along the tangent.
    assert outer.max() == pytest.approx(math.hypot(720, 15), abs=0.1)
    assert np.median(outer) == pytest.approx(720, abs=0.05)


@given(
    st.floats(-0.25, 0.5),
    st.floats(-0.25, 0.5),
    st.floats(5, 60),
    st.floats(0, 25),
    st.floats(-20, 20),
    st.booleans(),
)
@examples(80)
def test_turned_back_corners_stay_simple_and_hold_the_net_line(
    right: float, left: float, hem: float, seam: float, bow: float, double: bool
) -> None:
    piece = panel(right, left, hem=hem, seam=seam, bow=bow, folds=(hem / 2,) if double else ())
    cut = shapely.Polygon(cut_piece(piece).cut_line)
    assert cut.is_valid
    assert cut.buffer(0.03).covers(shapely.Polygon(piece.outline))
    assert Allowance(AllowanceState.ADD, hem) == piece.edge("hem").allowance


def test_a_hem_that_ends_in_a_hollow_corner_is_not_turned_back() -> None:
    """Seen by fuzzing: there the fold line runs on into the piece."""
    points = [(0.0, 0.0), (150.0, 0.0), (300.0, -60.0), (320.0, 200.0), (0.0, 200.0)]
    piece = polygon(points, [20, 12, 10, 10, 10])
    edges = (replace(piece.edges[0], kind=EdgeKind.HEM), *piece.edges[1:])
    hem = cut_piece(replace(piece, edges=edges)).cut_line
    assert shapely.Polygon(hem).buffer(0.02).covers(shapely.Polygon(piece.outline))
    plain = (replace(edges[0], corner=Corner.MITRE), *edges[1:])
    assert shapely.Polygon(hem).contains(shapely.Point(140, -15))
    near = shapely.box(100, -50, 220, 10)
    other = cut_piece(replace(piece, edges=plain)).cut_line
    gap = shapely.Polygon(hem).symmetric_difference(shapely.Polygon(other)).intersection(near)
    assert gap.area < 0.01


# --- clips --------------------------------------------------------------------------------------


def test_a_hollow_corner_is_clipped_to_two_millimetres_before_the_seam() -> None:
    hollow = polygon([(0, 0), (200, 0), (200, 300), (100, 300), (100, 150), (0, 150)], 15)
    (clip,) = [m for m in cut_piece(hollow).marks if m.name == "clip"]
    at, tip = clip.points
    # The parallels meet 15 mm out both ways: the clip halves the right angle.
    assert at == pytest.approx((85, 165), abs=1e-3)
    assert tip == pytest.approx((100 - 2 / math.sqrt(2), 150 + 2 / math.sqrt(2)))


@pytest.mark.parametrize("width", [0.0, 3.0])
def test_narrow_allowances_and_convex_corners_are_not_clipped(width: float) -> None:
    hollow = polygon([(0, 0), (200, 0), (200, 300), (100, 300), (100, 150), (0, 150)], width)
    assert [m for m in cut_piece(hollow).marks if m.name == "clip"] == []
    assert cut_piece(polygon([(0, 0), (200, 0), (200, 300)], 15)).marks == ()
    # A turn of 2 atan(1 / 10) = 11 degrees spreads by itself.
    slight = polygon([(0, 0), (200, 0), (200, 300), (100, 290), (0, 300)], 15)
    assert cut_piece(slight).marks == ()


def test_the_clips_of_a_half_piece_are_mirrored_with_it() -> None:
    half = polygon([(0, 0), (200, 0), (200, 100), (100, 100), (100, 300), (0, 300)], 15)
    half = replace(
        half,
        edges=(*half.edges[:5], replace(half.edges[5], kind=EdgeKind.FOLD, allowance=add(0))),
        grain=Grain((50, 50), (50, 250)),
    )
    clips = [m for m in unfold_cut(cut_piece(half)).marks if m.name == "clip"]
    assert len(clips) == 2
    assert clips[0].points[0][0] == pytest.approx(-clips[1].points[0][0])
