"""Detection: exactness, order, and a reason in words for every failure.

Several cases come from threads of the opencv/opencv tracker (named beside them); the pictures are
our own.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration.boards import Board, board_corners, pattern, pattern_image
from calibration.corners import detect, find_printed, find_thrown
from calibration.errors import DetectionError
from calibration.homography import apply
from tests.calibration.pictures import draw, view

A4 = Board(9, 6, 24.0, 24.0)
THROWN = pattern((1920, 1080))


def off(picture: np.ndarray, board: Board, h: np.ndarray) -> np.ndarray:
    """Errors (N, 2) of the found corners against the drawn ones."""
    return find_printed(picture, board).camera_px - apply(h, board_corners(board))


@pytest.mark.parametrize("turn", [0, 37, 90, 180, 233, 270])
def test_corners_come_in_the_board_s_own_order_however_it_lies(turn: float) -> None:
    """opencv issues 22083 and 9689: the order of the detectors depends on how the board lies."""
    h = view(A4, turn_deg=turn)
    errors = off(draw(A4, h), A4, h)
    assert np.abs(errors).max() < 0.15
    assert np.sqrt(np.mean(errors**2)) < 0.04


def test_convention_half_a_pixel_is_added_once() -> None:
    """opencv issue 24633: centre against edge. A mean error of half a pixel would show here."""
    h = view(A4, turn_deg=8)
    errors = off(draw(A4, h, noise=0), A4, h)
    assert np.abs(errors.mean(axis=0)).max() < 0.01


def test_small_and_slanted_and_dim() -> None:
    for h, light in (
        (view(A4, scale=1.0), (30, 230)),
        (view(A4, slant=1.2e-3, scale=2.2), (30, 230)),
        (view(A4), (20, 60)),
    ):
        errors = off(draw(A4, h, light=light, ground=40), A4, h)
        assert np.sqrt(np.mean(errors**2)) < 0.12


def test_a_board_of_other_counts_is_not_taken_for_it() -> None:
    """opencv issue 26830 and our own find: a smaller grid inside a larger board looks perfect."""
    larger = draw(A4, view(A4))
    for columns, rows in ((8, 5), (4, 3), (10, 7)):
        with pytest.raises(DetectionError) as caught:
            find_printed(larger, Board(columns, rows, 24.0, 24.0))
        assert caught.value.code in ("detection.wrong-count", "detection.unsure")


def test_counts_the_other_way_round_give_the_same_corners() -> None:
    """6 x 9 is the 9 x 6 board turned by a quarter; x then runs along its six corners."""
    h = view(A4)
    found = find_printed(draw(A4, h), Board(6, 9, 24.0, 24.0)).camera_px
    drawn = apply(h, board_corners(A4))
    nearest = np.linalg.norm(found[:, None] - drawn[None], axis=2).min(axis=1)
    assert nearest.max() < 0.2
    table = apply(np.linalg.inv(h), found)
    model = board_corners(Board(6, 9, 24.0, 24.0))
    assert np.linalg.det(np.linalg.lstsq(model - model[0], table - table[0], rcond=None)[0]) > 0


def test_a_board_that_leaves_the_photo_is_said_to() -> None:
    picture = draw(A4, view(A4, middle=(60, 300)))
    with pytest.raises(DetectionError, match="runs out of the photo") as caught:
        find_printed(picture, A4, where="photo 2")
    assert caught.value.where == "photo 2"


def test_a_corner_at_the_very_border_does_not_throw() -> None:
    """opencv issue 26016: cornerSubPix throws for a corner within half a pixel of the border."""
    h = view(A4, slant=0)
    left = apply(h, board_corners(A4))[:, 0].min()
    h = np.array([[1, 0, 1.2 - left], [0, 1, 0], [0, 0, 1]]) @ h
    with pytest.raises(DetectionError):
        find_printed(draw(A4, h), A4)


@pytest.mark.parametrize(
    ("picture", "code"),
    [
        (np.full((480, 640), 18, np.uint8), "detection.dark"),
        (np.full((480, 640), 255, np.uint8), "detection.glare"),
        (draw(A4, view(A4), blur_px=14), "detection.blurred"),
        (draw(A4, view(A4, scale=0.37)), "detection.too-small"),
    ],
)
def test_each_failure_has_its_own_reason(picture: np.ndarray, code: str) -> None:
    """opencv issue 23558: an almost black picture once ran for ever."""
    with pytest.raises(DetectionError) as caught:
        find_printed(picture, A4)
    assert caught.value.code == code
    assert caught.value.hint


def test_an_empty_table_has_no_board() -> None:
    x = np.arange(640)
    stripes = np.tile(np.where(x % 60 < 30, 90, 170).astype(np.uint8), (480, 1))
    with pytest.raises(DetectionError) as caught:
        find_printed(stripes, A4)
    assert caught.value.code == "detection.no-board"


def test_gingham_is_refused() -> None:
    """Checks woven into the cloth are found by the detectors, and pixels wrong."""
    y, x = np.mgrid[0:480, 0:640]
    tones = np.array([40, 120, 220], np.uint8)
    cloth = tones[(x // 34 % 2) + (y // 34 % 2)]
    cloth = cv2.GaussianBlur(cloth, (0, 0), 1.0)
    with pytest.raises(DetectionError):
        find_printed(cloth, A4)


def test_a_coin_on_a_corner_is_noticed() -> None:
    """The second detector invents the corner under it."""
    h = view(A4)
    picture = draw(A4, h)
    x, y = apply(h, board_corners(A4))[22]
    cv2.circle(picture, (int(x), int(y)), 24, 128, -1)
    with pytest.raises(DetectionError):
        find_printed(picture, A4)


def test_the_thrown_pattern_is_known_by_number() -> None:
    picture = pattern_image(THROWN)
    found = find_thrown(picture, THROWN)
    index = {int(n): i for i, n in enumerate(THROWN.corner_ids)}
    true = THROWN.corner_px[[index[int(n)] for n in found.ids]]
    assert len(found.ids) == len(THROWN.corner_ids)
    assert np.abs(found.camera_px - true).max() < 0.02


def test_a_part_of_the_pattern_still_tells_which_corners_they_are() -> None:
    picture = pattern_image(THROWN)
    picture[:, :1300] = 90
    found = find_thrown(picture, THROWN)
    index = {int(n): i for i, n in enumerate(THROWN.corner_ids)}
    true = THROWN.corner_px[[index[int(n)] for n in found.ids]]
    assert 16 <= len(found.ids) < 40
    assert np.abs(found.camera_px - true).max() < 0.1


def test_too_little_of_the_pattern_is_said_and_none_too() -> None:
    picture = pattern_image(THROWN)
    picture[:, :1640] = 90
    with pytest.raises(DetectionError) as caught:
        find_thrown(picture, THROWN)
    assert caught.value.code in ("detection.few-corners", "detection.no-pattern")
    with pytest.raises(DetectionError) as caught:
        find_thrown(draw(A4, view(A4)), THROWN)
    assert caught.value.code == "detection.no-pattern"


def test_a_mirrored_picture_is_not_used() -> None:
    with pytest.raises(DetectionError) as caught:
        find_thrown(np.ascontiguousarray(pattern_image(THROWN)[:, ::-1]), THROWN)
    assert caught.value.code in ("detection.mirrored", "detection.no-pattern")


def test_the_printed_board_is_never_sought_in_the_thrown_squares() -> None:
    """Nothing lies in the hole: the checkers around it must not pass for a printed board."""
    for columns, rows in ((9, 6), (3, 4), (4, 7)):
        with pytest.raises(DetectionError):
            detect(pattern_image(THROWN), Board(columns, rows, 30.0, 30.0), THROWN)
