"""Boards and patterns as geometry, against OpenCV's own layout and paper sizes."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration.boards import (
    PAPERS,
    WHITE_MARGIN,
    Board,
    MeasuredLength,
    board_corners,
    code_dictionary,
    code_px,
    measured_board,
    pattern,
    pattern_image,
    sheet,
)
from calibration.errors import BoardError


@pytest.mark.parametrize("paper", PAPERS)
def test_a_sheet_keeps_its_white_margin_and_its_rulers_on_paper(paper: str) -> None:
    page = sheet(paper)  # type: ignore[arg-type]
    black = np.array(page.black)
    margin = WHITE_MARGIN * page.square_mm
    assert black[:, 0].min() >= margin
    assert black[:, 1].min() >= margin
    assert (black[:, 0] + black[:, 2]).max() <= page.width_mm - margin
    assert (black[:, 1] + black[:, 3]).max() <= page.height_mm - margin
    for (a, b), squares in zip(page.rulers, page.ruler_squares, strict=True):
        assert np.hypot(b[0] - a[0], b[1] - a[1]) == pytest.approx(squares * page.square_mm)
        assert min(a + b) > 0
        assert max(a[0], b[0]) < page.width_mm
        assert max(a[1], b[1]) < page.height_mm


def test_the_a3_board_has_ten_by_seven_squares_of_34_mm() -> None:
    """A3 is 420 x 297 mm (ISO 216): 34 mm leaves 40 and 29.5 mm of white, 0.8 square is 27.2."""
    page = sheet("A3")
    assert (page.square_mm, len(page.black), page.ruler_squares) == (34, 35, (10, 7))


def test_convention_board_corners_run_down_from_the_dark_corner() -> None:
    corners = board_corners(Board(9, 6, 34, 33))
    assert corners[0].tolist() == [0, 0]
    assert corners[1].tolist() == [34, 0]
    assert corners[9].tolist() == [0, -33]
    page = sheet("A3")
    top = max(y + h for _, y, _, h in page.black)
    left = min(x for x, _, _, _ in page.black)
    assert (left, top - 34, 34, 34) in page.black, "the top left square is dark"


def test_measured_lengths_give_the_squares_their_size_and_their_doubt() -> None:
    board = measured_board(9, 6, MeasuredLength(8, 200.3), MeasuredLength(5, 125.1))
    assert (board.square_x_mm, board.square_y_mm) == pytest.approx((25.0375, 25.02))
    assert board.scale_sigma == pytest.approx((0.2 / 200.3, 0.2 / 125.1))


@pytest.mark.parametrize(
    ("columns", "rows", "along", "across", "words"),
    [
        (9, 7, (8, 200), (5, 125), "looks the same turned"),
        (9, 2, (8, 200), (2, 50), "3 to 40 inner corners"),
        (9, 6, (11, 200), (5, 125), "10 squares along x; 11"),
        (9, 6, (0, 200), (5, 125), "0 were measured"),
        (9, 6, (1, 25), (5, 125), "50 mm or more"),
        (9, 6, (8, float("nan")), (5, 125), "50 mm or more"),
        (9, 6, (8, 200), (5, 130), "a square is 25.00 mm along and 26.00 mm across"),
        (9, 6, (1, 600), (1, 600), "1 to 500 mm wide"),
    ],
)
def test_a_wrong_board_is_refused(
    columns: int, rows: int, along: tuple[int, float], across: tuple[int, float], words: str
) -> None:
    with pytest.raises(BoardError, match=words):
        measured_board(columns, rows, MeasuredLength(*along), MeasuredLength(*across))


def test_full_pattern_is_opencv_s_own_layout() -> None:
    """cv2.aruco.CharucoBoard((16, 9), 120, 72, DICT_4X4_250).generateImage((1920, 1080))."""
    thrown = pattern((1920, 1080), hole_squares=None)
    board = cv2.aruco.CharucoBoard((16, 9), 120.0, float(code_px(120)), code_dictionary())
    np.testing.assert_array_equal(
        pattern_image(thrown), board.generateImage((1920, 1080), marginSize=0, borderBits=1)
    )


@pytest.mark.parametrize(
    "canvas", [(1920, 1080), (1280, 800), (1024, 768), (3840, 2160), (854, 480)]
)
def test_a_pattern_fits_its_canvas_with_the_hole_free(canvas: tuple[int, int]) -> None:
    thrown = pattern(canvas)
    x, y, w, h = thrown.hole_px or (0, 0, 0, 0)
    image = pattern_image(thrown)
    assert image.shape == (canvas[1], canvas[0])
    assert (image[y : y + h, x : x + w] == 255).all()
    assert x + w / 2 == pytest.approx(canvas[0] / 2, abs=1)
    for cx, cy in thrown.corner_px.astype(int):
        around = image[cy - 2 : cy + 2, cx - 2 : cx + 2]
        dark = around[:2, :2].max() == 0
        assert (around[:2, 2:].max() == 0) != dark, "every corner listed is one"
        assert (around[2:, 2:].max() == 0) == dark


def test_a_pattern_that_cannot_be_is_refused() -> None:
    with pytest.raises(BoardError, match="40 are needed"):
        pattern((320, 200))
    with pytest.raises(BoardError, match="leaves too little"):
        pattern((1920, 1080), hole_squares=(14, 8))
    with pytest.raises(BoardError, match="too long"):
        pattern((16000, 1080))
    with pytest.raises(BoardError, match="no board for paper"):
        sheet("B5")  # type: ignore[arg-type]
    with pytest.raises(BoardError, match="squares of 6 mm"):
        sheet("A4", 39, 30)
