"""Where the cloth really lies after it was drawn along: a shift and a small turn from chalked crosses.

Least-squares rigid motion without scale (Arun, Huang and Blostein 1987; in the plane the turn has a
closed form). Cloth does not change size: what a rigid motion leaves over is told as residual.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nesting.errors import LayError
from nesting.polygon import FloatArray, as_points

MAX_TURN_DEG = 5.0
"""A larger turn is a mistake in typing or a cloth to be laid straight by hand first."""


@dataclass(frozen=True, slots=True)
class Registration:
    """table point = turn about the origin by ``turn_deg`` counter-clockwise, then shift by
    (``dx_mm``, ``dy_mm``). ``residual_mm`` is the largest distance left at a cross; with two
    crosses it is half of the difference between their chalked and their lit distance."""

    dx_mm: float
    dy_mm: float
    turn_deg: float
    residual_mm: float

    def matrix(self) -> FloatArray:
        """The motion as a (3, 3) matrix for column vectors (x, y, 1), table frame, mm."""
        c, s = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        return np.array([[c, -s, self.dx_mm], [s, c, self.dy_mm], [0.0, 0.0, 1.0]])


def register(
    lit: Sequence[tuple[float, float]], chalked: Sequence[tuple[float, float]]
) -> Registration:
    """The motion that takes the crosses as ``lit`` to where they are ``chalked``, table mm.

    Two or more crosses, at least 50 mm apart. Raises LayError when they do not fix a turn, or when
    the turn exceeds MAX_TURN_DEG.
    """
    a, b = as_points(lit), as_points(chalked)
    if len(a) != len(b) or len(a) < 2:
        raise LayError("two crosses or more are needed, each lit and measured", where="crosses")
    p, q = a - a.mean(axis=0), b - b.mean(axis=0)
    if float(np.hypot(*p.T).max()) < 25.0:
        raise LayError("the crosses lie too close together to show a turn", where="crosses")
    along = float((p * q).sum())
    across = float((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum())
    turn = math.atan2(across, along)
    if abs(math.degrees(turn)) > MAX_TURN_DEG:
        raise LayError(
            f"the crosses say that the cloth lies turned by {math.degrees(turn):.1f} degrees",
            where="crosses",
            hint="Lay the cloth straight along the lit selvedge line, then measure again.",
        )
    c, s = math.cos(turn), math.sin(turn)
    moved = p @ np.array([[c, s], [-s, c]])
    mean = a.mean(axis=0)
    shift = b.mean(axis=0) - (c * mean[0] - s * mean[1], s * mean[0] + c * mean[1])
    return Registration(
        dx_mm=float(shift[0]),
        dy_mm=float(shift[1]),
        turn_deg=math.degrees(turn),
        residual_mm=float(np.hypot(*(moved - q).T).max()),
    )
