"""Lower bounds from sections: what lines across the strip must have room for, and lines along it.

Along a line, sections of different pieces do not overlap, so a dual feasible function u (``dual``) of
their shares of the line adds up to at most 1. Integrated over all lines:

- *across*: the integral of u(section / width) over a piece's length, at its least over the permitted
  poses and added up over the pieces, is no more than the strip's length;
- *along*: with a trial length as the capacity, the integral over the pieces' extents across is no more
  than the width; u never decreases, so a length that is too short proves all shorter ones too short;
- *boxes*: for rectangles the product of one function of the length and another of the width adds up to
  at most 1 (Fekete and Schepers, *A general framework for bounds for higher-dimensional orthogonal
  packing problems*, Mathematical Methods of Operations Research 60, 2004);
- *columns*: where every section is above 1 / (m + 1) of the width, no line meets more than m pieces;
  intervals of which at most m meet fall into m rows of disjoint ones, and of the largest k m + 1 some
  row holds k + 1.

Sections are grown by the gap (as is the line). Touching pieces may interpenetrate by micrometres, so who
has room beside whom is judged on outlines drawn in by a little more; what that takes off their extents
is given back, and lengths may be off by micrometres, as those of touching pieces are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from nesting.clipping import Region, intersection
from nesting.engine.dual import Functions, functions_of
from nesting.engine.scene import Scene, wall_outlines
from nesting.engine.sections import DRAWN_IN, above, drawn_in, longest_run, spans
from nesting.polygon import FloatArray, as_points, turned

ROWS: Final = 7
"""Columns of up to so many pieces are counted."""

SMALL_SHARES: Final = tuple(k / 24 for k in range(1, 13))
"""Values of e tried in every family, beside those that the pieces' own sections suggest."""

MOST_SMALL: Final = 24

STARTS: Final = 4
"""So many starts of bands along the strip are tried."""

ROUNDING: Final = 1e-9
"""Sums of functions lose less than this share."""

LEAST_GAIN: Final = 1e-5
"""No bound is sought that is better by less than this share."""

SHARPNESS: Final = 1e-8
"""Trial lengths are told apart to this share: a layout that meets its floor ends the search."""


def sections_floor(scene: Scene, known: float) -> float:
    """The best of all four bounds; at least ``known``, a bound that is proved already."""
    if not scene.bodies:
        return known
    best = known
    for start in _starts(scene):
        group = _Group.beyond(scene, start)
        best = max(best, start + group.columns())
        for _ in range(3):  # a longer strip takes in more of what is fixed
            found = start + group.across(best)
            if found <= best:
                break
            best = found
    group = _Group.beyond(scene, -math.inf)
    return group.along(best)


@dataclass(frozen=True, eq=False)
class _Group:
    """The items of a scene with copies that must lie at x >= start: each one's number of copies and
    distinct poses, and the range [low, high] across that none of them can leave."""

    scene: Scene
    start: float
    counts: tuple[int, ...]
    outlines: tuple[tuple[FloatArray, ...], ...]
    low: float
    high: float

    @staticmethod
    def beyond(scene: Scene, start: float) -> _Group:
        """The items that cannot reach below ``start``."""
        counts, outlines = [], []
        low, high = math.inf, -math.inf
        for index, item in enumerate(scene.problem.items):
            count = sum(1 for i, _ in scene.bodies if i == index)
            posed = {o.shape: o for o in scene.options[index]}
            halves = [(scene.table.of_pose[index][o.pose].half, o) for o in scene.options[index]]
            if not count or any(o.x0 - half[0] < start - 1e-9 for half, o in halves):
                continue
            counts.append(count)
            poses = [item.poses[o.pose] for o in posed.values()]
            outlines.append(
                tuple(turned(item.outline, p.turn_deg, mirrored=p.mirrored) for p in poses)
            )
            low = min(low, *(o.y0 - half[1] for half, o in halves))
            high = max(high, *(o.y1 + half[1] for half, o in halves))
        return _Group(scene, start, tuple(counts), tuple(outlines), low, high)

    @cached_property
    def growth(self) -> float:
        """What every section is grown by: the least distance to anything on the same line."""
        problem = self.scene.problem
        return min(problem.gap, problem.edge_gap) if self.scene.walls else problem.gap

    @cached_property
    def inset(self) -> float:
        """How far outlines are drawn in."""
        return DRAWN_IN * self.scene.problem.width

    def columns(self) -> float:
        """The bound of the largest pieces, so many of them on any line across."""
        best = 0.0
        capacity = self.high - self.low + self.growth
        for m in range(1, ROWS + 1):
            limit = capacity / (m + 1) - self.growth
            runs: list[float] = []
            for count, poses in zip(self.counts, self.across_spans, strict=True):
                runs += [min(longest_run(rows, limit) for rows in poses)] * count
            runs.sort(reverse=True)
            for k in range((len(runs) - 1) // m + 1):
                best = max(best, sum(runs[k * m - k : k * m + 1]))
        return best

    def across(self, known: float) -> float:
        """The best integral bound on the length from ``start``; fixed things up to ``known`` count."""
        capacity = self.high - self.low + self.growth
        best = np.zeros(len(self.functions.rises))
        for count, poses in zip(self.counts, self.across_spans, strict=True):
            best += count * np.min(
                [self.integral(self.functions, rows, capacity) for rows in poses], axis=0
            )
        fixed = self._fixed(known)
        if len(fixed):
            best += self.integral(self.functions, fixed, capacity)
        return float(best.max(initial=0.0))

    def along(self, known: float) -> float:
        """The best bound from lines along the strip, and from boxes; at least ``known``."""
        best = known
        for taken_out in {0.0, self.all_full}:
            if taken_out < best:
                best = _Along(self, best, taken_out).best()
        return best

    @cached_property
    def inner(self) -> list[list[Region]]:
        """The outlines drawn in, for every pose."""
        width = self.scene.problem.width
        return [[drawn_in(outline, width) for outline in poses] for poses in self.outlines]

    @cached_property
    def across_spans(self) -> list[list[FloatArray]]:
        """Sections of the drawn-in outlines across. The longest one is there for as much longer as the
        outline was: where a drawn-in outline has a section, the whole one has it for an inset on both
        sides of it."""
        return [
            [_longer(spans(region, across=True), 2 * self.inset) for region in poses]
            for poses in self.inner
        ]

    @cached_property
    def along_spans(self) -> list[list[FloatArray]]:
        """Sections of the whole outlines along, where the drawn-in ones have them."""
        more = np.array([0.0, 2 * self.inset, 2 * self.inset])
        return [[spans(region, across=False) + more for region in poses] for poses in self.inner]

    @cached_property
    def full(self) -> tuple[float, ...]:
        """Over what length each item takes the whole width, in any pose."""
        limit = np.array([self.high - self.low - 3 * self.inset])
        return tuple(
            min(float(above(r, limit)[0][0]) for r in poses) for poses in self.across_spans
        )

    @cached_property
    def all_full(self) -> float:
        return sum(n * full for n, full in zip(self.counts, self.full, strict=True))

    @cached_property
    def functions(self) -> Functions:
        capacity = self.high - self.low + self.growth
        return _suited(
            (rows for poses in self.across_spans for rows in poses), capacity, self.growth
        )

    def integral(
        self, used: Functions, rows: FloatArray, capacity: float, taken_out: float = 0.0
    ) -> FloatArray:
        """The integral (F,) of every function of section / capacity over the rows; every section less
        what was ``taken_out``."""
        grown = rows.copy()
        grown[:, 1:] = np.clip(grown[:, 1:] + self.growth - taken_out, 0.0, None)
        grown[:, 1:] /= capacity
        extents, areas = above(grown, used.thresholds)
        found: FloatArray = used.rises @ extents + used.slopes @ areas
        return found

    def _fixed(self, known: float) -> FloatArray:
        """Sections of pins and flaws between ``start`` and ``known``, one after another."""
        problem = self.scene.problem
        x0 = max(self.start, 0.0)
        if known <= x0 or problem.container is not None:
            return np.zeros((0, 3))
        corners = [(x0, self.low), (known, self.low), (known, self.high), (x0, self.high)]
        things = wall_outlines(problem) + [
            problem.items[p.placement.item].posed(p.placement.pose) + (p.placement.x, p.placement.y)
            for p in self.scene.pins
        ]
        if not things:
            return np.zeros((0, 3))
        # Intersecting their union: flaws may overlap one another.
        grid = problem.width * 1e-7
        return spans(intersection([as_points(corners)], things, grid=grid), across=True)


@dataclass(frozen=True, eq=False)
class _Along:
    """Trial lengths of a group, ``known`` at least, with stretches of the whole width out of the strip
    (``taken_out`` of length in all) or left in (0)."""

    group: _Group
    known: float
    taken_out: float

    def best(self) -> float:
        """The greatest length found that is proved too short."""
        return _too_short(self.has_no_room_for_boxes, _too_short(self.has_no_room, self.known))

    def has_no_room(self, length: float) -> bool:
        """Whether lines along the strip have not room enough in ``length``."""
        group = self.group
        capacity = length - self.taken_out + group.scene.problem.gap
        total = np.zeros(len(self._functions.rises))
        for count, poses, out in zip(group.counts, group.along_spans, self._out, strict=True):
            integrals = [group.integral(self._functions, rows, capacity, out) for rows in poses]
            total += count * np.min(integrals, axis=0)
        return bool(total.max() > (group.high - group.low) * (1 + ROUNDING))

    def has_no_room_for_boxes(self, length: float) -> bool:
        """Whether the rectangles among the items have not room enough in ``length``."""
        group, gap = self.group, self.group.scene.problem.gap
        capacity = np.array([length - self.taken_out + gap, group.high - group.low + gap])
        total = np.zeros((len(self._functions.rises), len(group.functions.rises)))
        for count, poses, out in zip(group.counts, group.outlines, self._out, strict=True):
            if out > 0.0 or not all(_is_box(outline) for outline in poses):
                continue
            sizes = np.array([np.ptp(outline, axis=0) for outline in poses])
            shares = (sizes + gap - (0.0, 2 * group.inset)) / capacity
            u, v = self._functions.at(shares[:, 0]), group.functions.at(shares[:, 1])
            total += count * (u[:, None, :] * v[None, :, :]).min(axis=2)
        return bool(total.max() > 1 + ROUNDING)

    @cached_property
    def _out(self) -> tuple[float, ...]:
        return self.group.full if self.taken_out else (0.0,) * len(self.group.counts)

    @cached_property
    def _functions(self) -> Functions:
        """Functions that suit the sections in a strip of the length known."""
        gap = self.group.scene.problem.gap
        rows = (rows for poses in self.group.along_spans for rows in poses)
        return _suited(rows, self.known - self.taken_out + gap, gap)


def _longer(rows: FloatArray, extent: float) -> FloatArray:
    """The rows, with the longest section held for ``extent`` more."""
    if not len(rows):
        return rows
    k, end = divmod(int(rows[:, 1:].argmax()), 2)
    held = np.array([[extent, rows[k, 1 + end], rows[k, 1 + end]]])
    return np.concatenate([rows[: k + end], held, rows[k + end :]])


def _suited(rows: Iterable[FloatArray], capacity: float, growth: float) -> Functions:
    """Functions with e where the pieces' greatest sections, or what they leave, lie."""
    sizes = {(float(r[:, 1:].max(initial=0.0)) + growth) / capacity for r in rows}
    near = sorted({round(s - 1e-3, 6) for s in sizes} | {round(1 - s, 6) for s in sizes})
    fits = [s for s in near if 0.0 < s <= 0.5]
    picks = np.linspace(0, len(fits) - 1, min(len(fits), MOST_SMALL)).round().astype(int)
    return functions_of([*SMALL_SHARES, *(fits[int(k)] for k in picks)])


def _starts(scene: Scene) -> Sequence[float]:
    """Where bands along the strip begin: the least x of items, a few of them, and everything."""
    least = {
        min(o.x0 - scene.table.of_pose[i][o.pose].half[0] for o in scene.options[i])
        for i, _ in scene.bodies
    }
    distinct = sorted(least)
    picks = np.linspace(0, len(distinct) - 1, min(len(distinct), STARTS)).round().astype(int)
    return [distinct[int(k)] for k in picks]


def _too_short(is_too_short: Callable[[float], bool], known: float) -> float:
    """The greatest length found that is proved too short, ``known`` at least."""
    low, high = known, known * (1 + LEAST_GAIN)
    while is_too_short(high):
        low, high = high, high * 2
    while low > known and high - low > SHARPNESS * low:
        middle = (low + high) / 2
        low, high = (middle, high) if is_too_short(middle) else (low, middle)
    return low


def _is_box(outline: FloatArray) -> bool:
    """Whether an outline is a rectangle along the axes."""
    sides = np.roll(outline, -1, axis=0) - outline
    scale = 1e-9 * float(np.abs(sides).max())
    return len(outline) == 4 and bool((np.abs(sides) <= scale).any(axis=1).all())
