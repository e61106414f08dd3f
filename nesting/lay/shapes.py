"""A cut piece turned so that its grain runs along +x, ready for the cloth, and back again."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nesting.allowances.cut_piece import CutNotch, CutPiece
from nesting.engine.problem import Pose
from nesting.pieces.piece import Mark, Piece, Point
from nesting.polygon import FloatArray, as_points, bounds, exact_cos_sin


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A rigid motion, possibly with a reflection: ``xy @ linear.T + shift``; (2, 2) and (2,)."""

    linear: FloatArray
    shift: FloatArray

    def points(self, xy: FloatArray) -> FloatArray:
        """Apply to (N, 2) points."""
        return as_points(xy @ self.linear.T + self.shift)

    def point(self, xy: Point) -> Point:
        """Apply to one point."""
        x, y = self.linear @ np.array(xy) + self.shift
        return float(x), float(y)

    def outline(self, xy: FloatArray) -> FloatArray:
        """Apply to a closed outline and keep it counter-clockwise under a reflection."""
        moved = self.points(xy)
        return as_points(moved[::-1]) if np.linalg.det(self.linear) < 0 else moved

    def notch(self, notch: CutNotch) -> CutNotch:
        """Apply to a notch."""
        return CutNotch(self.point(notch.at), self.point(notch.tip), notch.marks, notch.name)

    def mark(self, mark: Mark) -> Mark:
        """Apply to a mark."""
        return Mark(mark.kind, tuple(self.point(p) for p in mark.points), mark.name)


def on_grain(cut: CutPiece) -> Frame:
    """Frame that turns the piece so that its grain runs tail to head along +x, with the centre of
    its cut line's box then at the origin. Angles within 1e-7 degrees of a quarter turn are exact."""
    tail, head = grain_line(cut.piece, cut.net_line)
    angle = math.degrees(math.atan2(head[1] - tail[1], head[0] - tail[0]))
    if abs(angle - 90 * round(angle / 90)) < 1e-7:
        angle = 90.0 * round(angle / 90)
    c, s = exact_cos_sin(-angle)
    linear = np.array([[c, -s], [s, c]])
    x0, y0, x1, y1 = bounds(as_points(cut.cut_line @ linear.T))
    return Frame(linear, np.array([-(x0 + x1) / 2, -(y0 + y1) / 2]))


def placed_frame(base: Frame, pose: Pose, x: float, y: float) -> Frame:
    """cloth_from_piece: the base frame, then the pose (mirror about the grain first, then the
    turn), then the shift."""
    c, s = exact_cos_sin(pose.turn_deg)
    turn = np.array([[c, -s], [s, c]])
    if pose.mirrored:
        turn = turn @ np.diag([1.0, -1.0])
    return Frame(turn @ base.linear, turn @ base.shift + (x, y))


def grain_line(piece: Piece, line: FloatArray) -> tuple[Point, Point]:
    """The grain's tail and head; for a piece that may lie any way and has none, the drawing's
    upright through the middle of ``line``."""
    if piece.grain is not None:
        return piece.grain.tail, piece.grain.head
    x0, y0, x1, y1 = bounds(line)
    x, h = (x0 + x1) / 2, (y1 - y0) / 4
    return (x, (y0 + y1) / 2 - h), (x, (y0 + y1) / 2 + h)
