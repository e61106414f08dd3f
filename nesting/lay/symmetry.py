"""Whether a piece is its own mirror image, so that its two hands are one and the same."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from nesting.allowances.cut_piece import CutPiece
from nesting.lay.shapes import Frame
from nesting.polygon import FloatArray, as_points, turned

ALIKE_MM = 0.05
"""Outlines and marks this close are the same: below what chalk or light can show."""


def is_own_mirror_image(cut: CutPiece, base: Frame, turns: tuple[float, ...]) -> bool:
    """Whether the piece, turned over and then turned by one of the permitted ``turns`` (degrees),
    falls on itself: outline, notches and marks, within ALIKE_MM."""
    line = base.outline(cut.cut_line)
    shape = Polygon(line)
    spots = _spots(cut, base)
    for turn in turns:
        other = turned(line, turn, mirrored=True)
        centre = (line.min(axis=0) + line.max(axis=0) - other.min(axis=0) - other.max(axis=0)) / 2
        if shape.hausdorff_distance(Polygon(other + centre)) <= ALIKE_MM and _same_spots(
            spots, as_points(turned(spots, turn, mirrored=True) + centre)
        ):
            return True
    return False


def _spots(cut: CutPiece, base: Frame) -> FloatArray:
    points = [n.at for n in cut.notches] + [p for m in cut.marks for p in m.points]
    return base.points(as_points(points))


def _same_spots(one: FloatArray, other: FloatArray) -> bool:
    if len(one) == 0:
        return True
    apart = np.hypot(*(one[:, None, :] - other[None, :, :]).transpose(2, 0, 1))
    return bool(np.all(apart.min(axis=1) <= ALIKE_MM) and np.all(apart.min(axis=0) <= ALIKE_MM))
