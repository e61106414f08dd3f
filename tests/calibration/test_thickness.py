"""Cloth thickness: similar triangles by hand, against rays of a simulated projector, and back."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.errors import MapError
from calibration.homography import from_pairs
from calibration.table_map import TableMap
from calibration.thickness import (
    Above,
    from_two_planes,
    largest_shift,
    left_over,
    on_cloth,
    plies_height,
    shape_error,
    shift,
)
from tests.calibration.simulator import Device, projector

PROJECTOR = projector(30)
ABOVE = Above((float(PROJECTOR.place[0]), float(PROJECTOR.place[1])), float(PROJECTOR.place[2]))
SQUARE = np.array([(-300, -200), (300, -200), (300, 200), (-300, 200)], dtype=float)


def map_at(device: Device, height_mm: float) -> TableMap:
    """The exact map of the plane at that height."""
    px = device.project(np.column_stack([SQUARE, np.full(4, height_mm)]))
    return TableMap(from_pairs(SQUARE, px), device.size_px)


def test_shift_is_h_tan_theta_toward_the_foot_point() -> None:
    """1000 mm up, 577.35 mm beside the foot: theta = 30 degrees, 3 mm of cloth shift 1.732 mm."""
    (moved,) = shift([(577.35, 0)], 3.0, Above((0, 0), 1000.0))
    assert moved == pytest.approx((-3 * np.tan(np.radians(30)), 0), abs=1e-4)


def test_corrected_light_lands_where_it_should_on_the_cloth() -> None:
    """Against the rays themselves: the corrected map is the map of the plane at that height."""
    corrected = on_cloth(map_at(PROJECTOR, 0), 4.0, ABOVE)
    np.testing.assert_allclose(
        corrected.to_projector(SQUARE), map_at(PROJECTOR, 4.0).to_projector(SQUARE), atol=1e-6
    )


def test_sizes_told_before_and_after() -> None:
    """Tilt 30, throw 1.2: 3 mm of cloth shift up to 3.3 mm, 2.1 of which is shape; a thickness
    uncertain by 0.3 mm leaves a tenth of that. Own geometry, no published source."""
    table_map = map_at(PROJECTOR, 0)
    assert largest_shift(table_map, 3.0, ABOVE) == pytest.approx(3.3, abs=0.4)
    assert 0.5 < shape_error(table_map, 3.0, ABOVE) < largest_shift(table_map, 3.0, ABOVE)
    assert left_over(table_map, ABOVE) == pytest.approx(largest_shift(table_map, 0.3, ABOVE))


def test_two_planes_give_height_and_foot_point() -> None:
    found = from_two_planes(map_at(PROJECTOR, 0), map_at(PROJECTOR, 30.0), 30.0)
    assert found.height_mm == pytest.approx(ABOVE.height_mm, rel=1e-6)
    assert found.foot_mm == pytest.approx(ABOVE.foot_mm, abs=1e-3)


def test_impossible_numbers_are_refused() -> None:
    table_map = map_at(PROJECTOR, 0)
    with pytest.raises(MapError, match="more than 0 mm"):
        on_cloth(table_map, 3.0, Above((0, 0), 0.0))
    with pytest.raises(MapError, match="cannot be"):
        on_cloth(table_map, 300.0, ABOVE)
    with pytest.raises(MapError, match="too thin"):
        from_two_planes(table_map, table_map, 1.0)
    with pytest.raises(MapError, match="do not differ"):
        from_two_planes(table_map, table_map, 30.0)
    with pytest.raises(MapError, match="no pile"):
        plies_height(0.4, 0)
    assert plies_height(0.4, 5) == pytest.approx(2.0)
