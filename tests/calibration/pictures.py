"""Flat pictures of boards under a known homography: quick, for what needs no whole scene."""

from __future__ import annotations

import cv2
import numpy as np

from calibration.boards import Board, Image, board_corners
from calibration.homography import Array, apply

EDGE_MM = 0.4
"""Half the width of a drawn edge."""


def draw(
    board: Board,
    picture_from_board: Array,
    *,
    size: tuple[int, int] = (800, 600),
    margin_mm: float = 28.0,
    ground: int = 150,
    blur_px: float = 0.8,
    noise: float = 1.5,
    seed: int = 0,
    light: tuple[int, int] = (30, 230),
) -> Image:
    """Grey picture (height, width); ``picture_from_board`` is by the edge convention."""
    w, h = size
    samples = 2
    y, x = np.mgrid[0 : h * samples, 0 : w * samples]
    px = np.stack([x.ravel() + 0.5, y.ravel() + 0.5], axis=1) / samples
    xy = apply(np.linalg.inv(picture_from_board), px)
    u, v = xy[:, 0] / board.square_x_mm + 1, -xy[:, 1] / board.square_y_mm + 1
    on = (u >= 0) & (u < board.columns + 1) & (v >= 0) & (v < board.rows + 1)
    m = margin_mm / board.square_x_mm
    sheet = (u >= -m) & (u < board.columns + 1 + m) & (v >= -m) & (v < board.rows + 1 + m)
    # Edges fade over a px: two samples a px then draw them where they are.
    soft = EDGE_MM / board.square_x_mm
    along = np.clip(np.abs((u + 0.5) % 1 - 0.5) / soft, 0, 1)
    across = np.clip(np.abs((v + 0.5) % 1 - 0.5) / soft, 0, 1)
    sign = np.where((np.floor(u) + np.floor(v)) % 2 == 0, 1, -1)
    ink = np.where(on, 0.5 * (1 + sign * along * across), 0)
    tone = np.where(sheet, light[1] - ink * (light[1] - light[0]), ground).astype(np.float32)
    picture = cv2.resize(
        tone.reshape(h * samples, w * samples), (w, h), interpolation=cv2.INTER_AREA
    )
    if blur_px:
        picture = cv2.GaussianBlur(picture, (0, 0), blur_px)
    picture = picture + np.random.default_rng(seed).normal(0, noise, picture.shape)
    return np.clip(np.round(picture), 0, 255).astype(np.uint8)


def view(
    board: Board,
    *,
    turn_deg: float = 0.0,
    scale: float = 2.0,
    slant: float = 1e-4,
    middle: tuple[float, float] = (400, 300),
) -> Array:
    """A homography that shows the board's middle at ``middle``, ``scale`` px a mm, a bit aslant."""
    cx, cy = board_corners(board).mean(axis=0)
    t = np.radians(turn_deg)
    c, s = np.cos(t), np.sin(t)
    centre = np.array([[1, 0, -cx], [0, 1, -cy], [0, 0, 1.0]])
    turn = np.array([[c, -s, 0], [s, c, 0], [slant, 2 * slant, 1.0]])
    screen = np.array([[scale, 0, middle[0]], [0, -scale, middle[1]], [0, 0, 1.0]])
    return screen @ turn @ centre
