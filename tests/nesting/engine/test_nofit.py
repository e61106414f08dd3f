from __future__ import annotations

import numpy as np
import pytest
from numpy.random import Generator
from shapely import affinity
from shapely.geometry import Point, Polygon

from nesting.engine.nofit import image, nofit
from nesting.engine.problem import Item, Pose, Problem
from nesting.engine.scene import build_scene
from nesting.engine.shapes import build_shapes, to_ring
from nesting.engine.symmetry import INVERSE, MATRICES, PRODUCT, canonical, moved
from nesting.polygon import FloatArray, as_points, signed_area
from tests.bench.lays import random_outline, random_problem

GRID = 2.0**-20


def star(rng: Generator, n: int, rough: float) -> FloatArray:
    t = np.sort(rng.uniform(0, 2 * np.pi, n))
    r = 100 * (1 - rough * rng.random(n))
    return as_points(np.column_stack([r * np.cos(t), r * np.sin(t)]))


def covered(region: list[FloatArray], at: FloatArray) -> bool:
    winding = sum(
        Polygon(r).contains(Point(at)) * (1 if signed_area(r) > 0 else -1) for r in region
    )
    return winding > 0


@pytest.mark.parametrize("seed", range(12))
def test_random_places_agree_with_shapely(seed: int) -> None:
    rng = np.random.default_rng(seed)
    a, b = (to_ring(star(rng, int(rng.integers(4, 40)), 0.8), GRID) for _ in range(2))
    pa, pb = Polygon(a * GRID), Polygon(b * GRID)
    if not (pa.is_valid and pb.is_valid and pa.exterior.is_ccw and pb.exterior.is_ccw):
        a, b = moved(a, 0), to_ring(random_outline(rng, size=90.0), GRID)
        pb = Polygon(b * GRID)
        if not pa.is_valid or not pa.exterior.is_ccw:
            a, pa = b, pb
    region = nofit(a, b, GRID)
    for at in rng.uniform(-200, 200, (60, 2)):
        overlap = pa.intersection(affinity.translate(pb, *at)).area > 1e-6
        assert covered(region, at) == overlap


def test_a_hole_is_kept_where_a_piece_lies_in_a_closed_bay() -> None:
    ring = [(0, 0), (100, 0), (100, 100), (45, 100), (45, 80), (80, 80), (80, 20), (20, 20)]
    ring += [(20, 80), (44, 80), (44, 100), (0, 100)]
    bay = to_ring(as_points(ring) - (50.0, 50.0), GRID)
    square = to_ring(as_points([(-10, -10), (10, -10), (10, 10), (-10, 10)]), GRID)
    region = nofit(bay, square, GRID)
    assert not covered(region, as_points([(0.0, 0.0)])[0])
    assert any(signed_area(r) < 0 for r in region)


def test_the_gap_is_a_distance() -> None:
    square = to_ring(as_points([(-10, -10), (10, -10), (10, 10), (-10, 10)]), GRID)
    region = nofit(square, square, GRID, gap=5.0)
    diagonal = 20.0 + 5.0 / np.sqrt(2)
    for x, y, inside in ((24.99, 0, True), (25.02, 0, False)):
        assert covered(region, np.array([x, y])) is inside
    assert covered(region, np.array([diagonal - 0.01, diagonal - 0.01]))
    assert not covered(region, np.array([diagonal + 0.02, diagonal + 0.02]))


def test_the_symmetry_tables_are_a_group() -> None:
    for g in range(8):
        assert PRODUCT[g][INVERSE[g]] == 0
        for h in range(8):
            assert np.array_equal(MATRICES[PRODUCT[g][h]], MATRICES[g] @ MATRICES[h])


def test_mirrored_and_turned_outlines_share_one_base() -> None:
    rng = np.random.default_rng(5)
    outline = star(rng, 20, 0.5)
    other = as_points((outline * (1.0, -1.0))[::-1] + (33.0, 7.0))
    poses = tuple(Pose(t, m) for t in (0.0, 45.0, 90.0, 180.0, 225.0) for m in (False, True))
    problem = Problem(1000.0, (Item("left", outline, poses), Item("right", other, poses)))
    table = build_shapes(problem)
    assert len(table.rings) == 2  # straight, and at 45 degrees
    assert len(table.shapes) == 10
    for item, row in zip(problem.items, table.of_pose, strict=True):
        for pose, posed_as in enumerate(row):
            posed = Polygon(item.posed(pose) - np.array(posed_as.centre))
            ours = Polygon(table.ring(posed_as.shape) * table.grid)
            assert posed.symmetric_difference(ours).area < 1e-2


def test_every_pair_is_an_image_of_its_key() -> None:
    rng = np.random.default_rng(2)
    poses = tuple(Pose(t, m) for t in (0.0, 90.0, 180.0) for m in (False, True))
    items = tuple(Item(str(k), star(rng, 9, 0.4), poses) for k in range(2))
    scene = build_scene(Problem(1000.0, items))
    for i in range(len(scene.table.shapes)):
        for j in range(len(scene.table.shapes)):
            key, element, flipped = scene.nofits.key(i, j)
            ours = image(scene.nofits.region(key), element, flipped=flipped)
            direct = nofit(scene.table.ring(i), scene.table.ring(j), scene.table.grid)
            assert sum(map(signed_area, ours)) == pytest.approx(sum(map(signed_area, direct)))
            difference = Polygon(ours[0]).symmetric_difference(Polygon(direct[0])).area
            assert difference < 1e-3


def test_a_rectangle_has_one_shape_for_both_half_turns() -> None:
    box = as_points([(0, 0), (30, 0), (30, 20), (0, 20)])
    table = build_shapes(Problem(100.0, (Item("box", box, (Pose(0.0), Pose(180.0), Pose(90.0))),)))
    assert len(table.shapes) == 2


def test_canonical_is_the_same_for_all_images() -> None:
    ring = to_ring(star(np.random.default_rng(1), 11, 0.6), GRID)
    least, back = canonical(ring)
    for k in range(8):
        other, other_back = canonical(moved(ring, k))
        assert np.array_equal(other, least)
        turned_back = moved(other, other_back)
        assert {tuple(p) for p in turned_back.tolist()} == {
            tuple(p) for p in moved(ring, k).tolist()
        }
    assert {tuple(p) for p in moved(least, back).tolist()} == {tuple(p) for p in ring.tolist()}


def test_two_vertices_keep_the_gap_whatever_the_arc_is_cut_into() -> None:
    """Lay 49 of the constrained bench: the clipper cut an arc into one chord too few."""
    lay = random_problem(49)
    outline = lay.items[1].outline
    ring = to_ring(as_points(outline - outline.mean(axis=0)), GRID)
    for k in range(8):
        turned_ring = moved(ring, k)
        region = nofit(turned_ring, turned_ring, GRID, gap=5.0)
        bare = nofit(turned_ring, turned_ring, GRID)
        outer = max(bare, key=signed_area)
        grown = max(region, key=signed_area)
        assert Polygon(grown).exterior.distance(Polygon(outer)) >= 5.0


def test_clipping_leaves_no_slivers_inside() -> None:
    """Sleeves of two sizes, turned over: the crossings of their convolution are rounded to the grid."""
    from nesting.engine.scene import build_scene
    from tests.bench.pieces import lay_of

    scene = build_scene(lay_of(100))
    rings = scene.nofits.region((2, 12, 2))
    assert len(rings) == 1
