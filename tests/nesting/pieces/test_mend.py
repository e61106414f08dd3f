"""Corners moved: an edge ended sooner, an edge redrawn onto a line, and what must stay where it was."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import PieceError
from nesting.pieces.check import check_piece
from nesting.pieces.mend import end_edge, redraw
from nesting.pieces.mirror import mirror
from nesting.pieces.piece import Dart, Notch
from nesting.polygon import as_points, point_along
from tests.examples import examples
from tests.nesting.drafts import half_skirt, rectangle


@given(st.floats(10, 290), st.sampled_from(["start", "end"]))
@examples(40)
def test_an_edge_ends_where_it_is_told_and_the_far_corners_stay(length: float, at: str) -> None:
    piece = rectangle(400.0, 300.0)
    made = end_edge(piece, "right", length, at=at)  # type: ignore[arg-type]
    check_piece(made)
    right = made.edge("right")
    assert right.length_mm == pytest.approx(length)
    # The corner that stays, and both corners of the far side.
    stays = right.points[0] if at == "end" else right.points[-1]
    assert tuple(stays) == pytest.approx((400, 0) if at == "end" else (400, 300))
    assert made.edge("left").points == pytest.approx(piece.edge("left").points)
    assert [e.name for e in made.edges] == [e.name for e in piece.edges]


def test_the_neighbour_is_drawn_smoothly_to_the_new_corner() -> None:
    piece = rectangle(400.0, 300.0)
    top = end_edge(piece, "right", 295.0).edge("top").points
    assert tuple(top[0]) == pytest.approx((400, 295))
    # 60 mm on it is where it was, and it arrives there level.
    beyond = top[np.hypot(*(top - np.array([400.0, 300.0])).T) > 61]
    assert beyond[:, 1] == pytest.approx(np.full(len(beyond), 300.0))
    assert (np.diff(top[:, 1]) >= -1e-9).all()


def test_notches_stay_where_they_are_from_either_end() -> None:
    piece = replace(rectangle(400.0, 300.0), notches=(Notch("right", 100.0), Notch("bottom", 50.0)))
    before = [point_along(piece.edge(n.edge).points, n.distance_mm)[0] for n in piece.notches]
    for at in ("start", "end"):
        made = end_edge(piece, "right", 295.0, at=at)  # type: ignore[arg-type]
        after = [point_along(made.edge(n.edge).points, n.distance_mm)[0] for n in made.notches]
        assert np.array(after) == pytest.approx(np.array(before))


def test_a_dart_that_would_be_cut_off_is_kept_from_it() -> None:
    piece = replace(
        rectangle(400.0, 300.0), darts=(Dart("bust", "right", 250.0, 280.0, (250.0, 265.0)),)
    )
    with pytest.raises(PieceError, match="bust"):
        end_edge(piece, "right", 270.0)
    (kept,) = end_edge(piece, "right", 290.0).darts
    assert (kept.first_mm, kept.second_mm) == pytest.approx((250.0, 280.0))


@pytest.mark.parametrize("length", [0.0, 300.0, 500.0])
def test_ending_sooner_shortens(length: float) -> None:
    with pytest.raises(PieceError, match=r"300\.0 mm long"):
        end_edge(rectangle(400.0, 300.0), "right", length)


def test_an_edge_is_redrawn_up_to_where_the_line_meets_its_neighbour() -> None:
    piece = rectangle(400.0, 300.0)
    # From 60 mm before the corner of the top up to a right side that is drawn on by 12 mm.
    line = as_points([(340.0, 300.0), (400.0, 312.0), (440.0, 320.0)])
    made = redraw(piece, "top", line, at="start")
    check_piece(made)
    assert made.edge("right").points == pytest.approx(np.array([[400, 0], [400, 312]]))
    assert made.edge("top").points == pytest.approx(np.array([[400, 312], [340, 300], [0, 300]]))
    again = redraw(piece, "top", as_points(line[::-1]), at="start")
    assert shapely.Polygon(again.outline).equals_exact(shapely.Polygon(made.outline), 1e-9)


def test_an_edge_is_redrawn_at_its_end_like_its_mirror_image_at_its_start() -> None:
    piece = half_skirt()
    x0, x1 = float(piece.outline[:, 0].min()), float(piece.outline[:, 0].max())
    corner = piece.edge("hem").points[-1]
    line = as_points([corner + (-60.0, 0.0), corner + (0.0, 8.0), corner + (30.0, 15.0)])
    made = redraw(piece, "hem", line, at="end")
    flipped = as_points(np.column_stack([x0 + x1 - line[:, 0], line[:, 1]]))
    other = redraw(mirror(piece), "hem", flipped, at="start")
    check_piece(made)
    assert made.edge("side").length_mm < piece.edge("side").length_mm
    assert made.edge("side").length_mm == pytest.approx(other.edge("side").length_mm)
    assert made.edge("hem").length_mm == pytest.approx(other.edge("hem").length_mm)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ([(340.0, 290.0), (410.0, 310.0)], r"10\.0 mm away"),
        ([(340.0, 300.0), (200.0, 500.0)], "does not meet"),
    ],
)
def test_a_line_that_does_not_fit_is_refused(line: list[tuple[float, float]], said: str) -> None:
    with pytest.raises(PieceError, match=said):
        redraw(rectangle(400.0, 300.0), "top", as_points(line), at="start")
