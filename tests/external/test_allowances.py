"""Allowances against published geometry and a general geometry library.

- Steiner's formula for the area of the parallel body of a convex set: A + P d + pi d^2 (J. Steiner,
  1840; e.g. Schneider, Convex Bodies, ch. 4; formula from memory). With mitred corners each turn t
  adds d^2 (tan(t/2) - t/2) to it.
- GEOS (shapely) buffer with mitred joins, below the mitre limit.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from nesting.allowances.chain import close_chain, offset_chain
from nesting.allowances.make import cut_piece
from nesting.allowances.stretches import outward
from nesting.pieces.outline import Edge
from nesting.pieces.piece import Piece
from nesting.polygon import FloatArray, as_points, signed_area
from tests.examples import examples
from tests.nesting.drafts import (
    add,
    convex_outlines,
    polygon,
    rectangle,
    sharpest_deg,
    wavy_outlines,
)

pytestmark = pytest.mark.external


def turns(ring: FloatArray) -> FloatArray:
    """Outer turn at each corner of a convex counter-clockwise ring, radians."""
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    angles: FloatArray = np.arctan2(cross, np.einsum("ij,ij->i", before, after))
    return angles


def perimeter(ring: FloatArray) -> float:
    return float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum())


@given(convex_outlines(), st.floats(1, 30))
@examples(100)
def test_steiner_with_mitred_corners(ring: FloatArray, width: float) -> None:
    cut = signed_area(cut_piece(polygon(ring, width)).cut_line)
    turn = turns(ring)
    steiner = signed_area(ring) + perimeter(ring) * width + math.pi * width**2
    tips = width**2 * float((np.tan(turn / 2) - turn / 2).sum())
    # Points rounded to 1 um and lines simplified within 0.02 mm.
    assert cut == pytest.approx(steiner + tips, abs=0.022 * perimeter(ring) + 0.5)


@pytest.mark.parametrize(("a", "b", "width"), [(150, 150, 10), (300, 80, 15), (220, 140, 40)])
def test_steiner_on_smooth_convex_outlines(a: float, b: float, width: float) -> None:
    t = np.linspace(0, 2 * math.pi, 1601)
    xy = as_points(np.column_stack([a * np.cos(t), b * np.sin(t)]))
    piece = Piece(
        "Oval",
        (
            Edge("upper", xy[:801], allowance=add(width)),
            Edge("lower", xy[800:], allowance=add(width)),
        ),
        grain=rectangle().grain,
    )
    length = perimeter(as_points(xy[:-1]))
    steiner = math.pi * a * b + length * width + math.pi * width**2
    cut = cut_piece(piece).cut_line
    assert signed_area(cut) == pytest.approx(steiner, abs=0.022 * perimeter(cut))


def test_the_mitre_of_a_right_angle_is_root_two_widths_from_the_corner() -> None:
    """Equal widths a meeting at angle t: the cut corner lies a / sin(t/2) from the net corner."""
    for angle in (60, 75, 90, 120, 150):
        far = (200 * math.cos(math.radians(angle)), 200 * math.sin(math.radians(angle)))
        cut = cut_piece(polygon([(0, 0), (200, 0), far], 12)).cut_line
        reach = 12 / math.sin(math.radians(angle / 2))
        tip = np.array([math.cos(math.radians(angle / 2)), math.sin(math.radians(angle / 2))])
        assert np.hypot(*(cut + reach * tip).T).min() == pytest.approx(0, abs=2e-3), angle


def mitre_buffer(ring: FloatArray, width: float) -> shapely.Polygon:
    """shapely.Polygon(ring).buffer(width, join_style="mitre", mitre_limit=3), outer ring."""
    grown = shapely.Polygon(ring).buffer(width, join_style="mitre", mitre_limit=3.0)
    return shapely.Polygon(grown.exterior)


def gap_mm(one: FloatArray, two: shapely.Polygon) -> float:
    """Greatest distance between two outlines, both ways, vertices of either."""
    a, b = shapely.LinearRing(one), two.exterior
    far_a = shapely.distance(shapely.points(one), b).max()
    far_b = shapely.distance(shapely.points(shapely.get_coordinates(b)), a).max()
    return float(max(far_a, far_b))


@given(convex_outlines(), st.floats(1, 40))
@examples(100)
def test_equal_widths_equal_the_mitred_buffer_of_convex_outlines(
    ring: FloatArray, width: float
) -> None:
    assume(sharpest_deg(ring) > 40)
    assert gap_mm(cut_piece(polygon(ring, width)).cut_line, mitre_buffer(ring, width)) < 0.005


@given(wavy_outlines(), st.floats(1, 40))
@examples(100)
def test_equal_widths_equal_the_mitred_buffer_of_curves_with_bays(
    ring: FloatArray, width: float
) -> None:
    """The construction itself to 0.005 mm; the finished cut line leaves out points within 0.02."""
    piece = polygon(ring, width)
    grown = mitre_buffer(ring, width)
    built = close_chain(offset_chain(outward(piece)), ring)[0]
    assert gap_mm(built, grown) < 0.005
    assert gap_mm(cut_piece(piece).cut_line, grown) < 0.025


BODICE = [
    (0.0, 0.0), (240.0, -8.0), (262.0, 190.0), (228.0, 214.0), (206.0, 262.0), (204.0, 310.0),
    (214.0, 352.0), (92.0, 398.0), (86.0, 364.0), (60.0, 332.0), (24.0, 318.0), (0.0, 316.0),
]  # fmt: skip


@pytest.mark.parametrize("width", [6.0, 10.0, 15.875, 25.0])
def test_a_bodice_outline_equals_the_mitred_buffer(width: float) -> None:
    ring = as_points(BODICE)
    assert gap_mm(cut_piece(polygon(ring, width)).cut_line, mitre_buffer(ring, width)) < 0.005
