"""The mouth of a dart: the cut line that the folded dart would have.

The dart is folded shut (the second leg turned about the point onto the first), the allowance is drawn
along the joined edge, the folded wedge is trimmed along it, and all is opened again. The half of the
wedge that lies against the garment comes out as a mirror image in its leg, the other half as it lay.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np

from nesting.allowances.chain import (
    MITRE_LIMIT,
    Join,
    Joint,
    Parallel,
    Run,
    parallel,
    plain_joint,
    wider,
)
from nesting.lines import along_of, cross, mirrored_across, turn_of, unit
from nesting.pieces.piece import DartFold
from nesting.polygon import FloatArray

FAR_MM: Final = 1e5
"""A joined edge that ends inside the wedge is drawn on straight, this far, mm."""


OUTSIDE_MM: Final = 1e-3
"""A path that strays by less than this from the folded wedge is rounding."""

NEAR: Final = 24
"""The crossing of two hollow parallels is looked for among this many segments on either side."""


@dataclass(frozen=True, slots=True, eq=False)
class Wedge:
    """A dart as drawn: its point, the ends of its legs on the net line, and how it is pressed."""

    point: FloatArray
    first: FloatArray
    second: FloatArray
    fold: DartFold

    @property
    def angle(self) -> float:
        """Angle from the first leg to the second about the point, radians, counter-clockwise."""
        u, v = self.first - self.point, self.second - self.point
        return math.atan2(turn_of(u, v), along_of(u, v))


def mouth_joint(wedge: Wedge, *, limit: float = MITRE_LIMIT) -> Joint:
    """The join of the parallels before and after a dart, as its fold leaves it.

    Where the edge beside the dart never reaches the folded wedge the mouth is cut straight across.
    """
    plain = plain_joint(limit)

    def join(one: Parallel, two: Parallel) -> Join:
        closing, opening = Turn(wedge.point, -wedge.angle), Turn(wedge.point, wedge.angle)
        other = parallel(Run(two.run.name, closing(two.run.points), two.run.widths))
        straight = Join(np.array([one.ends[-1], two.starts[0]]), 1)
        middle = _clean(one, other)
        if middle is None and _cut_off(one, other):
            return straight
        middle = middle or plain(one, other)
        kept = one.inner if middle.keep is None else one.inner[: middle.keep]
        edge = np.concatenate(
            [
                _drawn_on(one.ends[0], one.starts[0]),
                kept,
                middle.points,
                other.inner[middle.skip :],
                _drawn_on(other.starts[-1], other.ends[-1]),
            ]
        )
        found = _crossing(edge, wedge.point, wedge.first - wedge.point)
        mouth = None if found is None else _mouth(edge, found, wedge, opening)
        if found is None or mouth is None:
            return straight
        at = found[0]
        reach = MITRE_LIMIT * wider(one, two) + math.dist(wedge.first, wedge.second)
        # What lies between the leg and the mouth is folded away with it: only ever what is near.
        away = np.concatenate([found[1][None, :], edge[at + 1 : 1 + len(kept)]])
        away = np.concatenate([away, edge[1 + len(kept) + len(middle.points) : at + 1]])
        if float(np.hypot(*(away - wedge.first).T).max()) > reach:
            return straight
        # The points of the joined edge before the leg lie as they are, those after it are opened.
        second = 1 + len(kept) + len(middle.points)
        before, after = edge[1 + len(kept) : at + 1], edge[at + 1 : second]
        return Join(
            np.concatenate([before, mouth, opening(after)]),
            len(before) + len(mouth),
            keep=min(at, len(kept)),
            skip=middle.skip + max(0, at + 1 - second),
        )

    return join


def _clean(one: Parallel, two: Parallel) -> Join | None:
    """The join of two parallels at a hollow corner: their own crossing, so that the joined edge is
    one line that can be folded; None where they do not cross (then they join outside)."""
    if turn_of(one.along[-1], two.along[0]) >= 0:
        return None
    a, b = one.path[-NEAR - 1 :], two.path[: NEAR + 1]
    u, v = a[1:] - a[:-1], b[1:] - b[:-1]
    offset = b[None, :-1] - a[:-1, None]
    turn = cross(u[:, None], v[None])
    safe = np.where(turn == 0, 1.0, turn)
    s, t = cross(offset, v[None]) / safe, cross(offset, u[:, None]) / safe
    met = (turn != 0) & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    pairs = np.argwhere(met)
    if not len(pairs):
        return None
    places = a[pairs[:, 0]] + s[met][:, None] * u[pairs[:, 0]]
    # Of several the one nearest to the net corner: the same whichever way the edge is walked.
    away = np.hypot(*(places - one.run.points[-1]).T)
    nearest = int(away.argmin())
    if float(away[nearest]) > MITRE_LIMIT * wider(one, two):
        # Farther off they belong to other stretches, whose strips would be lost with the loop.
        return None
    i, j = (int(k) for k in pairs[nearest])
    place = places[nearest]
    # Segment i of the last ones ends at inner point i of them; segment j begins at inner j - 1.
    keep = len(one.inner) - (len(u) - 1 - i)
    return Join(place[None, :], 0, keep=keep, skip=j)


def _cut_off(one: Parallel, two: Parallel) -> bool:
    """Whether at a hollow corner one parallel is so short that the other cuts it off whole: beside the
    dart its edge never comes out, and the loop that is left can be folded either way."""
    u, v = one.along[-1], two.along[0]
    turn = math.atan2(turn_of(u, v), along_of(u, v))
    if turn >= 0:
        return False
    lost = wider(one, two) * math.tan(-turn / 2)
    return any(float(np.hypot(*np.diff(p.path, axis=0).T).sum()) < lost for p in (one, two))


@dataclass(frozen=True, slots=True, eq=False)
class Turn:
    """Turns points (N, 2) about ``centre`` by ``angle`` radians, counter-clockwise."""

    centre: FloatArray
    angle: float

    def __call__(self, points: FloatArray) -> FloatArray:
        c, s = math.cos(self.angle), math.sin(self.angle)
        turned: FloatArray = self.centre + (points - self.centre) @ np.array([[c, s], [-s, c]])
        return turned


Crossing: TypeAlias = tuple[int, FloatArray]
"""Segment of a path and the place on it."""


def _mouth(edge: FloatArray, leg: Crossing, wedge: Wedge, opening: Turn) -> FloatArray | None:
    """The mouth from the first leg to the second, (N, 2), in the piece as drawn."""
    at, place = leg
    middle = Turn(np.zeros(2), wedge.angle / 2)
    if wedge.fold is DartFold.FIRST_LEG:
        path = np.concatenate([edge[: at + 1], place[None, :]])
        middle = Turn(np.zeros(2), -wedge.angle / 2)
    else:
        path = np.concatenate([place[None, :], edge[at + 1 :]])
    end = _crossing(path, wedge.point, middle((wedge.first - wedge.point)[None, :])[0])
    if end is None:
        return None
    if wedge.fold is DartFold.FIRST_LEG:
        lain = np.concatenate([end[1][None, :], path[end[0] + 1 :]])
        if not _in_sector(lain - wedge.point, middle, wedge.first - wedge.point):
            return None
        against = mirrored_across(lain[::-1], wedge.point, wedge.first)
        return np.concatenate([against, opening(lain)[1:]])
    lain = np.concatenate([path[: end[0] + 1], end[1][None, :]])
    if not _in_sector((lain - wedge.point)[::-1], middle, wedge.first - wedge.point):
        return None
    against = mirrored_across(lain[::-1], wedge.point, wedge.first)
    return np.concatenate([lain, opening(against)[1:]])


def _in_sector(offsets: FloatArray, middle: Turn, leg: FloatArray) -> bool:
    """Whether a path, (N, 2) from the dart's point, stays between the folded wedge's middle line and
    its leg: an edge that turns back beside the dart does not, and cannot be folded onto it."""
    one, two = unit(middle(leg[None, :])[0]), unit(leg)
    side = 1.0 if turn_of(one, two) > 0 else -1.0
    from_middle = side * (one[0] * offsets[:, 1] - one[1] * offsets[:, 0])
    to_leg = side * (offsets[:, 0] * two[1] - offsets[:, 1] * two[0])
    return bool((from_middle >= -OUTSIDE_MM).all() and (to_leg >= -OUTSIDE_MM).all())


def _drawn_on(inside: FloatArray, end: FloatArray) -> FloatArray:
    """The far end of a segment drawn on beyond its own, (1, 2)."""
    return (end + unit(end - inside) * FAR_MM)[None, :]


def _crossing(path: FloatArray, point: FloatArray, leg: FloatArray) -> Crossing | None:
    """Where ``path`` (N, 2) crosses the line from ``point`` along ``leg``, nearest to the leg's end;
    None if it does not."""
    along = unit(leg)
    offset = path - point
    aside = along[0] * offset[:, 1] - along[1] * offset[:, 0]
    crossed = np.flatnonzero((aside[:-1] <= 0) & (aside[1:] >= 0) & (aside[:-1] != aside[1:]))
    if not len(crossed):
        return None
    t = aside[crossed] / (aside[crossed] - aside[crossed + 1])
    places = path[crossed] + t[:, None] * (path[crossed + 1] - path[crossed])
    reach = (places - point) @ along
    ahead = reach > 0
    if not ahead.any():
        return None
    best = int(np.argmin(np.where(ahead, np.abs(reach - float(np.hypot(*leg))), np.inf)))
    return int(crossed[best]), places[best]
