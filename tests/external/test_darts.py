"""Darts against published values.

- A dart's angle is the same wherever it is moved; its spread grows with the distance from the pivot:
  National Instructional Media Institute, Dress Making (trade practical), 2024, p. 180; Practical Dress
  Design (early 20th century), p. 31. In numbers: spread = 2 L sin(a / 2), so 3 cm at 9 cm is 19.188
  degrees, and 6.667 cm at 20 cm.
- Both legs of a dart are equally long; vertical darts are folded to the centre, horizontal ones down;
  a dart's point is kept back, a side dart to 2 1/2 inches: Practical Dress Design, p. 30.
- A notch stays at least 1/8 inch off the stitching and is square to the edge: Industrial Cutting of
  Textile Materials, pp. 92 and 210; a drill mark lies half an inch short of the point (common practice).
- Side-seam difference equals the side dart's value (common practice).
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from nesting.allowances.make import cut_piece
from nesting.pieces.dart_moves import dart_angle_deg, leg_ends, move_dart, shorten_dart
from nesting.pieces.piece import Dart, MarkKind, Piece
from tests.nesting.drafts import bodice, polygon

pytestmark = pytest.mark.external


def block() -> Piece:
    """600 mm square; a dart of 3 cm at 9 cm opens at the top, its point 200 mm above the bottom."""
    half = 15.0
    high = math.sqrt(90.0**2 - half**2)
    top = 200.0 + high
    piece = polygon([(0.0, 0.0), (600.0, 0.0), (600.0, top), (0.0, top)], 15)
    return replace(piece, darts=(Dart("dart", "e2", 300 - half, 300 + half, (300.0, 200.0)),))


def spread(piece: Piece) -> float:
    a, b = leg_ends(piece, piece.darts[0])
    return math.dist(tuple(a), tuple(b))


def test_three_centimetres_at_nine_become_six_and_two_thirds_at_twenty() -> None:
    piece = block()
    assert spread(piece) == pytest.approx(30)
    assert dart_angle_deg(piece, "dart") == pytest.approx(19.188, abs=5e-4)
    moved = move_dart(piece, "dart", "e0", 300)
    a, b = leg_ends(moved, moved.darts[0])
    for leg in (a, b):
        assert math.dist(tuple(leg), moved.darts[0].point) == pytest.approx(200)
    assert spread(moved) == pytest.approx(66.67, abs=0.01)
    assert dart_angle_deg(moved, "dart") == pytest.approx(19.188, abs=5e-4)


@pytest.mark.parametrize("at", [60.0, 150.0, 300.0, 450.0, 540.0])
def test_the_spread_is_twice_the_length_times_the_sine_of_half_the_angle(at: float) -> None:
    moved = move_dart(block(), "dart", "e0", at)
    length = math.hypot(300 - at, 200)
    angle = math.radians(dart_angle_deg(moved, "dart"))
    assert spread(moved) == pytest.approx(2 * length * math.sin(angle / 2), abs=1e-6)


def test_the_side_dart_is_the_difference_of_the_side_seams() -> None:
    piece = bodice()
    side = piece.edge("side").length_mm
    dart = piece.darts[1]
    value = dart.second_mm - dart.first_mm
    closed = move_dart(piece, "side dart", "armhole", 60.0)
    assert side - closed.edge("side").length_mm == pytest.approx(value, abs=0.05)


def test_a_side_dart_kept_back_to_two_and_a_half_inches_keeps_its_mouth() -> None:
    piece = bodice()
    a, _ = leg_ends(piece, piece.darts[1])
    length = math.dist(tuple(a), piece.darts[1].point)
    short = shorten_dart(piece, "side dart", length - 63.5)
    b, c = leg_ends(short, short.darts[1])
    assert math.dist(tuple(b), short.darts[1].point) == pytest.approx(63.5, abs=1.0)
    assert math.dist(tuple(b), tuple(c)) == pytest.approx(
        math.dist(*(tuple(e) for e in leg_ends(piece, piece.darts[1])))
    )


def test_notches_keep_an_eighth_of_an_inch_clear_and_the_drill_half_an_inch_short() -> None:
    piece = replace(block(), name="Front")
    cut = cut_piece(piece)
    net = shapely.LinearRing(piece.outline)
    for notch in cut.notches:
        assert net.distance(shapely.Point(notch.tip)) >= 3.0
    (drill,) = (m.points[0] for m in cut.marks if m.kind is MarkKind.DRILL)
    short = math.dist(drill, piece.darts[0].point)
    assert short == pytest.approx(12.7, abs=0.8)
