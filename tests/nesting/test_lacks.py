"""Flaws and missing cloth, from the tape to the lay: on every fold what is laid keeps clear of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box
from shapely.affinity import scale, translate

from nesting.answer import answer_for
from nesting.cloth import Cloth, Fold, Spot, SpotKind, check_cloth
from nesting.engine.improve import first_layout
from nesting.errors import ClothError, InvariantError, LayError
from nesting.estimate import length_within
from nesting.invariants import prove, violations_of
from nesting.lacks import clean_length, lacks_in, lacks_of
from nesting.lay.build import layout_of
from nesting.lay.lay import Lay
from nesting.lay.spread import Band, spread
from nesting.lay.within import within
from nesting.layout import Layout
from nesting.pieces.piece import PAIR, Count
from nesting.polygon import as_points
from service.pipeline import first_layouts
from tests.nesting.making import halves_and_wholes, polygon_piece, rectangle

FRONT = polygon_piece("Front", [(0, 0), (260, 0), (240, 300), (180, 420), (0, 400)], count=PAIR)
BACK = polygon_piece("Back", [(0, 0), (250, 0), (230, 420), (60, 430), (0, 410)], fold=4)
TAB = rectangle("Tab", 50, 80, count=Count(3, 0))
HALVES, WHOLES = halves_and_wholes((FRONT, BACK, TAB))
CLOTH = Cloth(width_mm=1024, end_allowance_mm=20)
FOLDS = [Fold.OPEN, Fold.LENGTHWISE, Fold.OFF_CENTRE, Fold.DOUBLE]


def flaw(
    x0: float, x1: float, y0: float = 0.0, y1: float | None = None, *, margin: float = 0.0
) -> Spot:
    return Spot(SpotKind.FLAW, x0, x1, y0, y1, margin)


def lay_on(cloth: Cloth, fold: Fold) -> Lay:
    depth = 300.0 if fold is Fold.OFF_CENTRE else None
    return Lay(cloth, fold, tuple(HALVES.values()), fold_depth_mm=depth)


def laid(cloth: Cloth, fold: Fold) -> Layout:
    plan, solutions = first_layouts(spread(lay_on(cloth, fold)))
    return layout_of(plan, solutions)


def plies_of(layout: Layout, cloth: Cloth, fold: Fold) -> list[Polygon]:
    """Every ply of every piece on the opened cloth, folded back by hand: raw end and selvedge edge 0."""
    usable = cloth.usable_width_mm
    found = []
    for p in layout.placed:
        shape, zone = Polygon(p.cut_line), next(z for z in layout.zones if z.id == p.zone)
        crease = {
            "folded": 300.0 if fold is Fold.OFF_CENTRE else usable / 2,
            "first fold": usable / 4,
            "second fold": usable * 3 / 4,
        }.get(p.zone)
        if crease is None:
            plies = [translate(shape, 0, 300.0 if p.zone == "single" else 0.0)]
        else:
            height = usable / 2 if p.zone == "second fold" else 0.0
            up = translate(shape, 0, crease - height)
            plies = [up, scale(up, 1, -1, origin=(0, crease))]
        assert len(plies) == zone.plies
        found += [translate(s, cloth.end_allowance_mm, cloth.selvedge_mm) for s in plies]
    return found


@pytest.mark.parametrize("fold", FOLDS)
def test_no_ply_touches_a_flaw_on_any_fold(fold: Fold) -> None:
    cloth = replace(CLOTH, spots=(flaw(100, 180, 200, 260), flaw(500, 520, 880, 1000, margin=15)))
    layout = laid(cloth, fold)
    prove(layout, HALVES, WHOLES)
    spots = [box(100, 200, 180, 260), box(485, 865, 535, 1015)]
    for ply in plies_of(layout, cloth, fold):
        assert not any(ply.buffer(-0.05).intersects(s) for s in spots)


@pytest.mark.parametrize("fold", FOLDS)
def test_flaws_cost_nothing_where_nothing_lies(fold: Fold) -> None:
    plain = laid(CLOTH, fold)
    far = laid(replace(CLOTH, spots=(flaw(5000, 5100),)), fold)
    assert far.length_mm == pytest.approx(plain.length_mm)
    assert far.floor_mm <= far.length_mm


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_random_remnants_hold_what_is_laid_on_them(data: st.DataObject) -> None:
    fold = data.draw(st.sampled_from(FOLDS))
    near, distance = data.draw(st.integers(300, 1500)), data.draw(st.integers(-250, 250))
    spots = []
    for _ in range(data.draw(st.integers(0, 4))):
        x, y = data.draw(st.integers(0, 900)), data.draw(st.integers(0, 1000))
        w, h = data.draw(st.integers(1, 300)), data.draw(st.integers(1, 300))
        kind = data.draw(st.sampled_from(SpotKind))
        spots.append(Spot(kind, x, x + w, y, min(y + h, 1024), margin_mm=w % 3))
    cloth = replace(
        CLOTH,
        available_mm=float(near),
        far_length_mm=float(near + distance),
        spots=tuple(s for s in spots if s.along_from_mm < max(near, near + distance)),
    )
    owned = cloth.owned_mm
    assert owned is not None
    room = length_within(owned, cloth)
    layout, _ = within(spread(lay_on(cloth, fold)), room, first_layout)
    assert list(violations_of(layout, HALVES, WHOLES)) == []
    # By hand, from the raw edges: inside the remnant's outline, clear of what was found on it.
    cloth_outline = Polygon([(0, 0), (near, 0), (near + distance, 1024), (0, 1024)]).buffer(0.02)
    for ply in plies_of(layout, cloth, fold):
        assert cloth_outline.covers(ply)
        for s in cloth.spots:
            m, far = s.margin_mm, s.across_to_mm
            assert far is not None
            there = box(s.along_from_mm - m, s.across_from_mm - m, s.along_to_mm + m, far + m)
            assert not ply.buffer(-0.05).intersects(there)


def test_the_tape_measures_before_the_wash() -> None:
    cloth = replace(CLOTH, shrink_along=0.1, shrink_across=0.05, spots=(flaw(500, 600, 100, 200),))
    (lack,) = lacks_of(cloth)
    assert lack.outline.min(axis=0) == pytest.approx((500 * 0.9 - 20, 100 * 0.95 - 12))
    assert lack.outline.max(axis=0) == pytest.approx((600 * 0.9 - 20, 200 * 0.95 - 12))


def test_a_flaw_shows_once_for_each_ply_and_only_inside_its_band() -> None:
    cloth = replace(CLOTH, spots=(flaw(100, 200, 462, 612),))  # the fold lies at 512
    band = Band("folded", 0.0, 500.0, 2, ())
    spans = sorted((k.outline[:, 1].min(), k.outline[:, 1].max()) for k in lacks_in(cloth, band))
    assert np.array(spans) == pytest.approx(np.array([(0, 50), (0, 100)]))
    assert lacks_in(cloth, Band("open", 0.0, 1000.0, 1), start=181.0) == ()


def test_the_offcut_ends_where_cloth_is_missing() -> None:
    cloth = replace(CLOTH, available_mm=2000.0, far_length_mm=1900.0, spots=(flaw(1500, 1520),))
    assert clean_length(cloth, 500.0, 1960.0) == pytest.approx(1480 - 500)
    assert clean_length(cloth, 1600.0, 1960.0) == pytest.approx(1860 - 1600)
    assert clean_length(replace(CLOTH), 500.0, 1960.0) == 1460


def test_what_fits_says_how_much_of_the_full_width_is_left() -> None:
    cloth = replace(CLOTH, available_mm=3000.0, far_length_mm=2800.0)
    answer = answer_for(laid(cloth, Fold.OPEN))
    assert answer.fit is not None
    assert answer.fit.fits
    assert answer.fit.slack_mm == pytest.approx(2760 - answer.layout.length_mm)


def test_the_proof_finds_a_piece_over_the_slant_and_over_a_flaw_of_the_upper_ply() -> None:
    plain = laid(CLOTH, Fold.LENGTHWISE)
    back = next(p for p in plain.placed if p.piece == "Back")
    x, y = Polygon(back.cut_line).representative_point().coords[0]
    tape = (x + 20 - 5, x + 20 + 5, 512 - y - 5, 512 - y + 5)  # seen by one ply only
    spotted = replace(plain, cloth=replace(CLOTH, spots=(flaw(*tape),)))
    with pytest.raises(InvariantError, match=r"Back no. 1 lies over a flaw"):
        prove(spotted, HALVES, WHOLES)
    slanted = replace(plain, cloth=replace(CLOTH, available_mm=2000.0, far_length_mm=100.0))
    with pytest.raises(InvariantError, match="over the slanted end"):
        prove(slanted, HALVES, WHOLES)


def test_a_fold_across_is_refused_where_something_is_missing() -> None:
    with pytest.raises(LayError, match="fold across"):
        spread(lay_on(replace(CLOTH, spots=(flaw(10, 20),)), Fold.CROSSWISE))


@pytest.mark.parametrize(
    ("spot", "where"),
    [
        (flaw(200, 100), "along_to"),
        (flaw(100, 200, 300, 300), "across_to"),
        (flaw(100, 200, 300, 1100), "across_to"),
        (flaw(-1, 200), "along_from"),
        (flaw(1600, 1700), "along_from"),
        (flaw(1, float("nan")), "along_from"),
    ],
)
def test_measures_that_cannot_be_are_refused_by_name(spot: Spot, where: str) -> None:
    with pytest.raises(ClothError, match=r"flaw no. 1") as caught:
        check_cloth(replace(CLOTH, available_mm=1500.0, spots=(spot,)))
    assert caught.value.where == f"spots.0.{where}"


def test_outlines_are_convex_and_counter_clockwise() -> None:
    cloth = replace(CLOTH, available_mm=900.0, far_length_mm=1200.0, spots=(flaw(1, 2, 3, 4),))
    for lack in lacks_of(cloth):
        shape = Polygon(as_points(lack.outline))
        assert shape.exterior.is_ccw
        assert shape.convex_hull.area == pytest.approx(shape.area)
