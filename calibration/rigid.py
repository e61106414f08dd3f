"""The shift and turn that lays one set of places best on another: least squares, in closed form."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from calibration.homography import Array


@dataclass(frozen=True, slots=True, eq=False)
class Rigid:
    """``there = turn(here) + shift``: counter-clockwise turn, shift of the origin in mm.

    ``left_mm`` (N, 2): what the best turn and shift leave of ``there`` less the moved ``here``.
    ``growth``: by what factor the second set is larger than the first (1 = the same size).
    """

    turn_deg: float
    shift_mm: tuple[float, float]
    left_mm: Array
    growth: float

    def apply(self, places: ArrayLike) -> Array:
        """Places (N, 2) turned and shifted."""
        t = math.radians(self.turn_deg)
        turn = np.array([[math.cos(t), -math.sin(t)], [math.sin(t), math.cos(t)]])
        xy = np.asarray(places, dtype=np.float64).reshape(-1, 2)
        return np.asarray(xy @ turn.T + np.array(self.shift_mm), dtype=np.float64)


def fit_rigid(here: ArrayLike, there: ArrayLike) -> Rigid:
    """The best shift and turn, never a mirror image, of places (N, 2) onto others, N >= 2, in mm.

    Least squares by the decomposition of the cross-covariance (Arun, Huang and Blostein, IEEE PAMI 9,
    1987, 698-700) with the sign rule of Umeyama (PAMI 13, 1991) against mirror images.
    """
    a = np.asarray(here, dtype=np.float64).reshape(-1, 2)
    b = np.asarray(there, dtype=np.float64).reshape(-1, 2)
    middle_a, middle_b = a.mean(axis=0), b.mean(axis=0)
    u, stretch, vt = np.linalg.svd((a - middle_a).T @ (b - middle_b))
    sign = np.array([1.0, np.sign(np.linalg.det(u @ vt))])
    turn = (u * sign @ vt).T
    shift = middle_b - turn @ middle_a
    moment = float(((a - middle_a) ** 2).sum())
    growth = float((stretch * sign).sum() / moment) if moment > 0 else 1.0
    left = b - (a @ turn.T + shift)
    angle = math.degrees(math.atan2(turn[1, 0], turn[0, 0]))
    return Rigid(angle, (float(shift[0]), float(shift[1])), left, growth)
