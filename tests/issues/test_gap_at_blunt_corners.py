"""A gap fell short beside a blunt corner, and the engine then found no legal layout at all.

Two round pieces lie point to point; their no-fit polygon turns by 12 degrees there. The clipper
rounds the number of chords of such an arc down to one, whose sagitta is more than twice the error
asked for: 2.9915 mm were left of a gap of 3 mm. Found by ``tests/nesting/test_chain.py``.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely.geometry import Point, Polygon

from nesting.clipping import Join, offset
from nesting.engine.improve import first_layout
from nesting.engine.problem import Item, Pose, Problem, placed_outline
from nesting.polygon import as_points


def oval(corners: int) -> list[tuple[float, float]]:
    t = np.arange(corners) / corners * 2 * math.pi
    return list(zip(42 * np.cos(t), 30 * np.sin(t), strict=True))


@pytest.mark.parametrize("corners", [12, 24, 30, 31, 48])
def test_two_ovals_keep_their_gap(corners: int) -> None:
    item = Item("oval", as_points(oval(corners)), (Pose(0.0), Pose(180.0)), count=3)
    problem = Problem(1300.0, (item,), gap=3.0)
    shapes = [Polygon(placed_outline(problem, p)) for p in first_layout(problem).placements]
    assert all(a.distance(b) >= 3.0 - 1e-3 for i, a in enumerate(shapes) for b in shapes[:i])


@pytest.mark.parametrize("turn_deg", [3.0, 7.0, 10.0, 10.8, 12.0, 17.5, 25.0, 40.0, 80.0])
def test_the_chord_error_of_a_round_join_is_kept(turn_deg: float) -> None:
    distance, chord = 3.0, 0.006
    a = math.radians(turn_deg)
    edge = (-100 * math.cos(a), -100 * math.sin(a))
    wedge = as_points([(0, 0), edge, (-100, -300), (100, -300), (100, 0)])
    (ring,) = offset([wedge], distance, join=Join.ROUND, chord=chord, grid=1e-4)
    assert Polygon(ring).exterior.distance(Point(0, 0)) >= distance - chord - 2e-4
