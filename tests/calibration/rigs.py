"""Projectors over a table, with the true map known: what the solvers are tried on."""

from __future__ import annotations

import numpy as np

from calibration.homography import Array, from_pairs
from calibration.table_map import Lens, TableMap

CANVAS = (1920, 1080)


def rig(
    tilt_deg: float = 15.0,
    *,
    width_mm: float = 1200.0,
    k1: float = 0.0,
    canvas: tuple[int, int] = CANVAS,
) -> TableMap:
    """A projector of throw 1.2 tilted by ``tilt_deg``, its picture about ``width_mm`` wide.

    The frame's origin is under the middle of the picture.
    """
    w, h = canvas
    height = 1.2 * width_mm
    focal = 1.2 * w
    t = np.radians(tilt_deg)
    right = np.array([1.0, 0, 0])
    ahead = np.array([0, np.sin(t), -np.cos(t)])
    down = np.cross(ahead, right)
    turn = np.stack([right, down, ahead])
    place = np.array([0, -height * np.tan(t), height])
    square = np.array([(-300, -200), (300, -200), (300, 200), (-300, 200)], dtype=float)
    seen = (np.column_stack([square, np.zeros(4)]) - place) @ turn.T
    px = focal * seen[:, :2] / seen[:, 2:] + (w / 2, h / 2)
    lens = Lens(k1, 0.0, (w / 2, h / 2), 0.5 * float(np.hypot(w, h))) if k1 else None
    return TableMap(from_pairs(square, px), canvas, lens)


def canvas_grid(canvas: tuple[int, int] = CANVAS, n: int = 13) -> Array:
    """Positions (n * n, 2) over the whole canvas, px."""
    x, y = np.meshgrid(np.linspace(0, canvas[0], n), np.linspace(0, canvas[1], n))
    return np.stack([x.ravel(), y.ravel()], axis=1)


def true_errors(found: TableMap, true: TableMap) -> Array:
    """Distance (N,) in mm, over the lit field, between two maps after the best rigid fit."""
    grid = canvas_grid(true.canvas_px)
    return rigid_misfit(found.to_table(grid), true.to_table(grid))


def rigid_misfit(a: Array, b: Array) -> Array:
    """Distances (N,) left between ``a`` and ``b`` (N, 2) after shifting and turning ``a``."""
    a0, b0 = a - a.mean(axis=0), b - b.mean(axis=0)
    u, _, vt = np.linalg.svd(a0.T @ b0)
    turn = u @ np.diag([1, np.sign(np.linalg.det(u @ vt))]) @ vt
    return np.linalg.norm(a0 @ turn - b0, axis=1)
