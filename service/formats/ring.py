"""A closed outline measured along itself: where its corners are, and which stretch a line covers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from shapely.geometry import LineString, Point

from nesting.polygon import FloatArray, as_points, path_length, signed_area, without_repeats
from nesting.tolerance import POINT_MM
from service.formats.curves import flatten_cubic

CORNER_DEG = 20.0
"""Segments that meet at a larger turn meet in a corner. Drawing programs join the segments of a smooth
curve within a degree or so; a cutter clips or mitres from about 30 degrees on (common practice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """``points`` (N + 1, 2) run counter-clockwise and end where they start; ``corners`` are distances
    along them, mm, in order."""

    points: FloatArray
    corners: tuple[float, ...]

    NEAR_MM: ClassVar[float] = 1.0
    """A line drawn over the outline, or a notch touching it, may be this far off: hand and snap."""

    @classmethod
    def of(cls, segments: Sequence[FloatArray]) -> Ring:
        """The ring of an outline's segments, turned counter-clockwise."""
        parts = [s if len(s) == 2 else np.vstack([s[:1], flatten_cubic(*s)]) for s in segments]
        whole = np.vstack([parts[0][:1], *[p[1:] for p in parts]])
        if signed_area(whole[:-1] if np.array_equal(whole[0], whole[-1]) else whole) < 0:
            parts = [p[::-1] for p in reversed(parts)]
        parts = [q for p in parts if len(q := without_repeats(p, closed=False)) > 1]
        if math.dist(parts[0][0], parts[-1][-1]) > POINT_MM:
            parts.append(as_points([parts[-1][-1], parts[0][0]]))
        points = np.vstack([parts[0][:1], *[p[1:] for p in parts]])
        points[-1] = points[0]
        ends = np.cumsum([path_length(p) for p in parts])
        corners = [
            0.0 if i == len(parts) - 1 else float(ends[i])
            for i, p in enumerate(parts)
            if _turn_deg(p, parts[(i + 1) % len(parts)]) > CORNER_DEG
        ]
        return cls(as_points(points), tuple(sorted(corners)))

    @property
    def length(self) -> float:
        """All round, mm."""
        return path_length(self.points)

    def stretch(self, line: FloatArray) -> tuple[float, float] | None:
        """(from, to) along the ring that ``line`` (N, 2) lies over, counter-clockwise, snapped to
        corners; None when it leaves the ring by more than NEAR_MM."""
        ring = LineString(self.points)
        middle = LineString(line).interpolate(0.5, normalized=True)
        if max(ring.distance(Point(p)) for p in (*line, middle.coords[0])) > self.NEAR_MM:
            return None
        a, b = (self._snapped(float(ring.project(Point(p)))) for p in (line[0], line[-1]))
        m = float(ring.project(middle))
        if a == b:
            return (a, a + self.length) if len(line) > 2 else None
        return (a, b) if (m - a) % self.length <= (b - a) % self.length else (b, a)

    def edges(self, cuts: Sequence[float]) -> list[tuple[float, float, FloatArray]]:
        """(from, to, points) of each edge, parted at the corners and at ``cuts``, in order."""
        total = self.length
        at: list[float] = []
        for c in sorted(c % total for c in (*self.corners, *cuts)):
            if (not at or c - at[-1] > POINT_MM) and not (at and at[0] + total - c <= POINT_MM):
                at.append(c)
        at = at or [0.0]
        ends = [*at[1:], at[0] + total]
        return [(a, b, self._between(a, b)) for a, b in zip(at, ends, strict=True)]

    def within(self, a: float, b: float, c: float, d: float) -> bool:
        """Whether the edge from ``a`` to ``b`` lies in the stretch from ``c`` to ``d``."""
        middle = (a + b) / 2
        width = (d - c) % self.length or self.length
        return (middle - c) % self.length < width

    def _between(self, a: float, b: float) -> FloatArray:
        twice = np.vstack([self.points, self.points[1:]])
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(twice, axis=0).T))])
        inner = twice[(along > a + POINT_MM) & (along < b - POINT_MM)]
        return as_points(np.vstack([_at(twice, along, a), inner, _at(twice, along, b)]))

    def _snapped(self, at: float) -> float:
        total = self.length
        near = [c for c in self.corners if abs((at - c + total / 2) % total - total / 2) <= 1.0]
        return (
            min(near, key=lambda c: abs((at - c + total / 2) % total - total / 2)) if near else at
        )


def _at(points: FloatArray, along: FloatArray, distance: float) -> FloatArray:
    i = int(np.searchsorted(along, distance - POINT_MM))
    if i < len(along) and abs(along[i] - distance) <= POINT_MM:
        return np.asarray(points[i])
    t = (distance - along[i - 1]) / (along[i] - along[i - 1])
    return np.asarray(points[i - 1] + t * (points[i] - points[i - 1]))


def _turn_deg(before: FloatArray, after: FloatArray) -> float:
    a, b = before[-1] - before[-2], after[1] - after[0]
    return abs(math.degrees(math.atan2(a[0] * b[1] - a[1] * b[0], float(a @ b))))
