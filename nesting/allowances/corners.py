"""Corners of the cut line: which treatment a corner gets, and how an end is shaped to be folded back.

An allowance that is folded back along its edge (a hem, or a seam pressed open) must lie on the
garment without a fold or a gap: its end is the mirror image, in the fold line, of the cut line that
it will lie on. A hem turned more than once repeats this at each of its fold lines.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from nesting.allowances.chain import (
    MITRE_LIMIT,
    Join,
    Joint,
    Parallel,
    blunt,
    crossed,
    meet_join,
    plain_joint,
    step_points,
    wider,
)
from nesting.lines import along_of, cross, meet, turn_of, unit
from nesting.pieces.outline import AllowanceState, Corner, Edge, EdgeKind, Pressed
from nesting.polygon import FloatArray, as_points
from nesting.tolerance import POINT_MM

LONGEST_MITRE: Final = 10.0
"""A mitre asked for by name runs on this many widths (a point of about 12 degrees)."""

BLUNT_REACH: Final = 1.0
"""A point that is cut off on request ends this many widths beyond the net corner."""

SQUARE_MM: Final = 1e-3
"""An end that leans by less than this over its depth is square: a mitre is the same."""

TURNS_BACK_SLOPE: Final = 2.0
"""An end leans at most this much (run over rise) where it is shaped to be folded back; beyond, the
neighbour runs nearly along the fold line and the corner is mitred."""


BENDS_COS: Final = math.cos(math.radians(45.0))

FARTHEST_FOOT: Final = 3.0
"""Where the neighbour's cut line meets the fold line lies within so many of its widths of the corner:
at the flattest slope a straight one meets it at 2.24 widths. Farther off it only bends back to it."""

FOOT_MM: Final = 0.5
"""And this much more, for curves."""


def corner_joint(edge: Edge, after: Edge, *, limit: float = MITRE_LIMIT) -> Joint:
    """The joint at the corner between an edge and the next, as said on the edge or, if it is left to
    us, by kind: hems and pressed seams turn back, everything else is mitred, stepped or cut off at
    ``limit`` widths."""
    corner = edge.corner if edge.corner is not Corner.AUTO else chosen_corner(edge, after)
    if corner is Corner.THIS_TURNS_BACK and _added(edge):
        return _turn_back(limit, edge.folds_mm, first=True)
    if corner is Corner.NEXT_TURNS_BACK and _added(after):
        return _turn_back(limit, after.folds_mm, first=False)
    if corner is Corner.STEP:
        return _square
    if corner is Corner.BLUNT:
        return _cut_off
    return plain_joint(LONGEST_MITRE if edge.corner is Corner.MITRE else limit)


def chosen_corner(edge: Edge, after: Edge) -> Corner:
    """The treatment that kind and pressing ask for; ``mitre`` stands for the plain rules."""
    one, two = _turns_back(edge), _turns_back(after)
    if one == two or EdgeKind.FOLD in (edge.kind, after.kind):
        return Corner.MITRE
    return Corner.THIS_TURNS_BACK if one > two else Corner.NEXT_TURNS_BACK


def _turns_back(edge: Edge) -> int:
    """How surely an allowance is folded back along its edge: hems last of all, over seams."""
    if edge.kind is EdgeKind.HEM:
        return 2
    return int(edge.pressed in (Pressed.OPEN, Pressed.TOWARDS))


def _added(edge: Edge) -> bool:
    return edge.allowance.state is AllowanceState.ADD


def _square(one: Parallel, two: Parallel) -> Join:
    """The wider allowance ends square at the corner and drops to the narrower one."""
    if (hollow := crossed(one, two)) is not None:
        return hollow
    vertex, end, start = one.run.points[-1], one.ends[-1], two.starts[0]
    u, v = one.along[-1], two.along[0]
    if float(cross(u, v)) > 0 and float(u @ v) > 0:
        first_is_wider = bool(one.run.widths[-1] >= two.run.widths[0])
        points = (
            step_points(vertex, end, u, start, v)
            if first_is_wider
            else step_points(vertex, start, v, end, u)[::-1].copy()
        )
        deep, foot = points if first_is_wider else points[::-1]
        if float((foot - vertex) @ (deep - vertex)) <= float((deep - vertex) @ (deep - vertex)):
            return Join(points, 1)
        return plain_joint()(one, two)
    return Join(np.array([end, vertex, start]), 1)


def _cut_off(one: Parallel, two: Parallel) -> Join:
    """The point is cut off square to its bisector."""
    if (hollow := crossed(one, two)) is not None:
        return hollow
    vertex, widest = one.run.points[-1], wider(one, two)
    first, second = (one.ends[-1], one.along[-1]), (two.starts[0], two.along[0])
    join = meet_join(vertex, first, second, widest, float("inf"))
    if len(join.points) != 1:
        return join
    far = join.points[0] - vertex
    reach = max(BLUNT_REACH * widest, POINT_MM)
    if float(np.hypot(*far)) <= reach:
        return join
    return Join(blunt(vertex, first, second, reach, unit(far)), 1)


def _turn_back(limit: float, folds: Sequence[float], *, first: bool) -> Joint:
    plain = plain_joint(limit)

    def join(one: Parallel, two: Parallel) -> Join:
        folding, neighbour = (one, two) if first else (two, one)
        depth = float(folding.run.widths[-1 if first else 0])
        # Turns of the net line: a parallel leans where the width changes.
        into, away = one.run.points[-1] - one.run.points[-2], two.run.points[1] - two.run.points[0]
        turn, ahead = turn_of(into, away), along_of(into, away)
        if depth <= POINT_MM or turn <= 0 or abs(ahead) > TURNS_BACK_SLOPE * turn:
            # Nothing to fold, or a hollow corner, where the fold line runs on into the piece, or a
            # neighbour that leaves along the fold line.
            return plain(one, two)
        path = neighbour.path[::-1] if first else neighbour.path
        step = folding.run.points[-2:] if first else folding.run.points[1::-1]
        # Seen from the corner: away along the folding edge, and into the garment.
        along = unit(step[0] - step[1])
        inward = np.array([-along[1], along[0]]) * (-1.0 if first else 1.0)
        if _bends_away(folding.run.points[::-1] if first else folding.run.points, depth):
            return plain(one, two)
        beside = float(neighbour.run.widths[0 if first else -1])
        end = turned_back(path, step[1], along, inward, depth, folds, beside=beside)
        if end is None:
            return plain(one, two)
        points, kept = end
        points = _on_parallel(points, folding, -1 if first else 0)
        inner = folding.inner[::-1] if first else folding.inner
        lateral = (inner - step[1]) @ along
        passed = float((points[-1] - step[1]) @ along)
        # Only the first points, beside the end: an edge that turns back later passes it again.
        near = np.hypot(*(inner - step[1]).T) <= (1.0 + TURNS_BACK_SLOPE) * depth
        beside_end = np.append((lateral <= passed) & near, False)
        skipped = int(np.argmin(beside_end))
        lost = len(neighbour.inner) - kept
        if first:
            keep = len(one.inner) - skipped
            return Join(points[::-1].copy(), len(points) - 1, keep=keep, skip=lost)
        return Join(points, 0, keep=kept, skip=skipped)

    return join


def _on_parallel(points: FloatArray, folding: Parallel, which: int) -> FloatArray:
    """The end of an allowance whose width changes there, drawn on or cut off where it meets the
    parallel: beside the corner the depth is not what it is in it."""
    widths = folding.run.widths
    if widths[which] == widths[-2 if which else 1]:
        return points
    corner = (folding.ends if which else folding.starts)[which]
    found = meet(points[-2], points[-1] - points[-2], corner, folding.along[which])
    if found is None or found[0] <= 0:
        return points
    met = points[-2] + found[0] * (points[-1] - points[-2])
    return as_points([*points[:-1], met])


def _bends_away(path: FloatArray, depth: float) -> bool:
    """Whether a fold line, from its corner, leaves its first direction by more than 45 degrees within
    a few depths: then there is no one line to fold along."""
    steps = np.diff(path, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    starts = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    near = steps[starts < (1.0 + TURNS_BACK_SLOPE) * depth]
    straight = (near @ steps[0]) / (lengths[: len(near)] * lengths[0])
    return bool((straight < BENDS_COS).any())


def turned_back(
    path: FloatArray,
    corner: FloatArray,
    along: FloatArray,
    inward: FloatArray,
    depth: float,
    folds: Sequence[float] = (),
    *,
    beside: float,
) -> tuple[FloatArray, int] | None:
    """The end of an allowance ``depth`` mm wide that is folded back along its edge.

    ``path`` (N, 2) is the neighbour's cut line, leading to the corner; ``along`` and ``inward`` are
    unit vectors from the net ``corner`` along the folding edge and into the garment; ``folds`` are
    further fold lines, mm outside the first, ``beside`` is the neighbour's width at the corner.
    Returns the end's points from the fold line out to the full depth and how many of the path's
    inner points remain before it; None where the neighbour
    runs so flat to the fold line that no end can be shaped, or square to it, so that none need be.
    """
    heights, laterals = (path - corner) @ inward, (path - corner) @ along
    above = np.flatnonzero(heights > POINT_MM)
    if not len(above):
        return None
    last = int(above[-1])
    h, x = _rising(heights[: last + 1][::-1], laterals[: last + 1][::-1])
    foot = _foot(heights, laterals, last)
    if foot is None or abs(foot) > FARTHEST_FOOT * beside + FOOT_MM:
        return None
    h, x = np.concatenate([[0.0], h]), np.concatenate([[foot], x])
    depths, back = _zigzag(h, depth, folds)
    ends = _lateral(h, x, back)
    if ends is None or float(np.abs(ends - foot).max()) > TURNS_BACK_SLOPE * max(depth, 1.0):
        return None
    if float(np.abs(ends - foot).max()) < SQUARE_MM:
        return None
    points = corner + np.outer(ends, along) - np.outer(depths, inward)
    return as_points(points), min(last, len(path) - 2)


def _rising(heights: FloatArray, laterals: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The part of the path that climbs from the fold line without turning down again."""
    climbs = np.diff(heights) > 0
    count = len(heights) if climbs.all() else int(np.argmin(climbs)) + 1
    return heights[:count], laterals[:count]


def _foot(heights: FloatArray, laterals: FloatArray, last: int) -> float | None:
    """Where the path, or its last segment drawn on, meets the fold line."""
    i = last if last + 1 < len(heights) else last - 1
    if i < 0:
        return None
    drop = float(heights[i] - heights[i + 1])
    if drop <= 0 or abs(float(laterals[i + 1] - laterals[i])) > TURNS_BACK_SLOPE * drop:
        return None
    t = float(heights[i]) / drop
    return float(laterals[i] + t * (laterals[i + 1] - laterals[i]))


def _zigzag(
    heights: FloatArray, depth: float, folds: Sequence[float]
) -> tuple[FloatArray, FloatArray]:
    """Depths at which the end bends, and the height each comes to lie at when all folds are made."""
    lines = [0.0, *(f for f in sorted(folds) if 0 < f < depth), depth]
    depths: list[float] = [0.0]
    backs: list[float] = [0.0]
    for k, (near, far) in enumerate(pairwise(lines)):
        rising = k % 2 == 0
        base = backs[-1]
        top = base + (far - near) * (1 if rising else -1)
        between = [h for h in heights.tolist() if min(base, top) < h < max(base, top)]
        for h in sorted(between, reverse=not rising):
            depths.append(near + abs(h - base))
            backs.append(h)
        depths.append(far)
        backs.append(top)
    return np.array(depths), np.array(backs)


def _lateral(heights: FloatArray, laterals: FloatArray, at: FloatArray) -> FloatArray | None:
    """Lateral place of the path at given heights; beyond its ends it runs on straight."""
    if len(heights) < 2:
        return None
    found = np.interp(at, heights, laterals)
    for beyond, i, j in ((at > heights[-1], -1, -2), (at < heights[0], 0, 1)):
        slope = (laterals[i] - laterals[j]) / (heights[i] - heights[j])
        found[beyond] = laterals[i] + slope * (at[beyond] - heights[i])
    return found
