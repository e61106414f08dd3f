"""Zones of the lit table: a linear error has straight levels; zones part the light without a rest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point, Polygon, union_all

from calibration.coverage import HATCH_MM, Coverage, Zone, coverage
from calibration.homography import Array
from calibration.place_errors import PlaceErrors, grid
from calibration.residuals import CheckLine
from calibration.table_map import Accuracy, TableMap, from_dict
from calibration.verify import LineRead, tie_scale

CANVAS = (1600, 900)
HALF_MM_A_PIXEL = np.array([[2.0, 0, 0], [0, -2.0, 900.0], [0, 0, 1.0]])
"""Table mm to px: 800 x 450 mm lit, the origin at the near left corner."""


def a_map(stated_mm: Array, **more: object) -> TableMap:
    plain = TableMap(HALF_MM_A_PIXEL, CANVAS)
    return replace(plain, places=PlaceErrors(stated_mm), **more)  # type: ignore[arg-type]


def along(table_map: TableMap | None = None) -> Array:
    return (table_map or TableMap(HALF_MM_A_PIXEL, CANVAS)).to_table(grid(CANVAS))[:, 0]


def area(zones: list[Zone]) -> float:
    return sum(Polygon(z.rings[0], z.rings[1:]).area for z in zones)


def of(state: str, found: Coverage) -> list[Zone]:
    return [z for z in found.zones if z.state == state]


def test_a_map_without_errors_by_places_has_no_coverage() -> None:
    assert coverage(TableMap(HALF_MM_A_PIXEL, CANVAS)) is None


def test_an_error_that_rises_evenly_has_straight_levels_at_their_places() -> None:
    """0 mm at the left, 4 mm at 800 mm: 1 mm at 200 mm, 2 mm at 400 mm (by the rule of three)."""
    found = coverage(a_map(along() / 200.0))
    assert found is not None
    for level in found.levels:
        for line in level.lines:
            assert np.abs(line[:, 0] - 200.0 * level.mm).max() < 1e-6
            assert LineString(line).length == pytest.approx(448.0, abs=0.01)
    assert [level.mm for level in found.levels] == [0.1, 0.2, 0.5, 1.0, 2.0]
    assert area(of("good", found)) == pytest.approx(200 * 450, rel=1e-9)
    assert area(of("warn", found)) == pytest.approx(200 * 450, rel=1e-9)
    assert area(of("not for cutting", found)) == pytest.approx(400 * 450, rel=1e-9)
    assert found.share == pytest.approx(0.25)


def test_beyond_what_is_trusted_nothing_is_for_cutting_and_it_is_hatched() -> None:
    trusted = np.array([(100.0, 100.0), (500.0, 100.0), (500.0, 400.0), (100.0, 400.0)])
    found = coverage(a_map(np.full(len(grid(CANVAS)), 0.3), trusted_mm=trusted))
    assert found is not None
    (good,), (never,) = of("good", found), of("not for cutting", found)
    assert Polygon(good.rings[0]).equals(Polygon(trusted))
    assert len(never.rings) == 2
    shape = Polygon(never.rings[0], never.rings[1:])
    assert shape.area == pytest.approx(800 * 450 - 400 * 300)
    assert good.hatch == ()
    lines = [LineString(line) for line in never.hatch]
    assert all(line.difference(shape.buffer(1e-6)).is_empty for line in lines)
    # No spot of what must not be cut by is farther from a line than half their distance.
    assert (
        shape.difference(union_all([line.buffer(HATCH_MM / 2) for line in lines])).area
        < 0.02 * shape.area
    )


def test_zones_part_the_light_whatever_the_errors() -> None:
    rng = np.random.default_rng(3)
    for _ in range(20):
        keystone = np.array([[2.0, 0.1, 0], [0, -2.0, 900.0], [1e-4, 2e-4, 1.0]])
        trusted = np.array([(60.0, 40.0), (600.0, 80.0), (420.0, 380.0), (40.0, 300.0)])
        stated = rng.gamma(2.0, 0.5, len(grid(CANVAS)))
        table_map = replace(
            TableMap(keystone, CANVAS, trusted_mm=trusted), places=PlaceErrors(stated)
        )
        found = coverage(table_map)
        assert found is not None
        lit = Polygon(table_map.lit_outline())
        # What is left out are specks below a square centimetre.
        assert area(list(found.zones)) == pytest.approx(lit.area, rel=0.01)
        for a in found.zones:
            assert Polygon(a.rings[0], a.rings[1:]).contains(
                Point(a.label_at).buffer(0.9 * a.room_mm)
            )


def test_errors_by_places_are_kept_with_the_map_and_follow_a_tied_scale() -> None:
    n = len(grid(CANVAS))
    known = Accuracy("camera", 0.5, 0.9, 1.2, 0.1, 40, shape_mm=(0.2, 0.4, 0.5))
    places = PlaceErrors(np.full(n, 0.8), np.full(n, 0.3), (grid(CANVAS)[:4],))
    table_map = replace(TableMap(HALF_MM_A_PIXEL, CANVAS, accuracy=known), places=places)
    again = from_dict(table_map.to_dict())
    assert again.places is not None
    assert np.array_equal(again.places.stated_mm, places.stated_mm)
    assert np.array_equal(again.places.boards_px[0], places.boards_px[0])
    line = CheckLine("600 mm along", "along", (100.0, 200.0), (700.0, 200.0), 600.0)
    tied = tie_scale(table_map, LineRead(line, 600.2))
    assert tied.places is not None
    assert (tied.places.stated_mm >= 0.3).all()
    assert tied.places.stated_mm.max() < 0.8
    # Near the middle the scale does nothing; it adds towards the rim.
    assert tied.places.stated_mm[n // 2] == pytest.approx(0.3, abs=0.01)
    assert tied.places.stated_mm[0] > 0.31


def test_a_level_of_a_bowl_on_a_keystone_is_one_ring() -> None:
    """An error that rises evenly all round: one ring a level, also on a keystone, where the sides
    that triangles share are rounded one by one."""
    keystone = np.array([[1.31, 0.17, 31.0], [-0.09, -1.83, 880.0], [2.3e-4, 1.1e-4, 1.0]])
    table_map = TableMap(keystone, CANVAS)
    places = table_map.to_table(grid(CANVAS))
    for seed in range(3):
        at = np.random.default_rng(seed).normal(table_map.to_table([(800.0, 450.0)])[0], 30.0)
        bowl = np.hypot(*(places - at).T) / 700.0
        found = coverage(replace(table_map, places=PlaceErrors(bowl)))
        assert found is not None
        inner = next(level for level in found.levels if level.mm == 0.1)
        assert [len(line) > 8 for line in inner.lines] == [True]
