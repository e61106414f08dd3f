"""Where two seamed edges end: how much the edges that run on from there turn, and the smooth line."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from nesting.lines import cross
from nesting.polygon import FloatArray, as_points, path_length, point_along

CURVE_RAD: Final = math.radians(15.0)
"""Two steps of a path that turn by less than this are steps of one curve."""

CURVE_STEP_MM: Final = 60.0
"""A longer step is a straight line, such as a dart's leg: a curve is not measured that coarsely."""

BLEND_MM: Final = 60.0
"""A proposed edge joins the drawn one this far from the seam."""


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """A motion of the plane: turn about ``a`` by ``angle`` and bring it to ``b``."""

    a: FloatArray
    b: FloatArray
    angle: float

    @classmethod
    def matching(
        cls, a: FloatArray, along_a: FloatArray, b: FloatArray, along_b: FloatArray
    ) -> Pose:
        """The motion that brings ``a`` to ``b`` and the direction ``along_a`` to ``along_b``."""
        angle = math.atan2(float(cross(along_a, along_b)), float(along_a @ along_b))
        return cls(np.array(a), np.array(b), angle)

    @classmethod
    def still(cls) -> Pose:
        """No motion."""
        return cls(np.zeros(2), np.zeros(2), 0.0)

    def __call__(self, points: FloatArray) -> FloatArray:
        return as_points(self.b + (points - self.a) @ self._matrix(self.angle))

    def back(self, points: FloatArray) -> FloatArray:
        """The inverse motion."""
        return as_points(self.a + (points - self.b) @ self._matrix(-self.angle))

    @staticmethod
    def _matrix(angle: float) -> FloatArray:
        c, s = math.cos(angle), math.sin(angle)
        return np.array([[c, s], [-s, c]])


def leaving(path: FloatArray) -> FloatArray:
    """The direction in which a path leaves its start: of a curve given by points, that of the circle
    through the first three, (2,)."""
    first: FloatArray = path[1] - path[0]
    if len(path) < 3 or float(np.hypot(*first)) > CURVE_STEP_MM:
        return first
    second: FloatArray = path[2] - path[1]
    turn = math.atan2(float(cross(first, second)), float(first @ second))
    if abs(turn) > CURVE_RAD:
        return first
    lengths = float(np.hypot(*first)), float(np.hypot(*second))
    back = -turn * lengths[0] / (lengths[0] + lengths[1])
    c, s = math.cos(back), math.sin(back)
    return np.array([c * first[0] - s * first[1], s * first[0] + c * first[1]])


def counter_clockwise_deg(u: FloatArray, v: FloatArray) -> float:
    """Angle from ``u`` round to ``v``, counter-clockwise, degrees in [0, 360)."""
    return math.degrees(math.atan2(float(cross(u, v)), float(u @ v))) % 360.0


def smooth(one: FloatArray, two: FloatArray) -> FloatArray:
    """A curve from a point of ``one`` to a point of ``two``, both leading away from the seam, that
    leaves each in its own direction."""
    a, u = point_along(one, min(BLEND_MM, 0.5 * path_length(one)))
    b, v = point_along(two, min(BLEND_MM, 0.5 * path_length(two)))
    span = float(np.hypot(*(b - a)))
    t = np.linspace(0.0, 1.0, 33)[:, None]
    return as_points(
        (2 * t**3 - 3 * t**2 + 1) * a
        + (t**3 - 2 * t**2 + t) * -u * span
        + (-2 * t**3 + 3 * t**2) * b
        + (t**3 - t**2) * v * span
    )
