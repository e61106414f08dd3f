"""The engine's own last check: a layout against the problem, on the true outlines, by clipping.

It shares nothing with the searches (no shapes, no no-fit polygons), so an error there cannot hide
here. The proof for the user is nesting.invariants; this check decides what may leave ``improve``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from nesting.clipping import Join, Region, difference, intersection, offset
from nesting.engine.problem import Domain, Placement, Problem, Side, placed_outline
from nesting.polygon import FloatArray, as_points, bounds, signed_area, turned
from nesting.tolerance import OVERLAP_MM

SLACK_PER_WIDTH: Final = 4e-6
"""Depth of overlap, or excess over a bound, still taken for touching: four times what the searches
allow themselves, as a share of the strip's width (5.6 micrometres on 1400 mm)."""


def faults(problem: Problem, placements: Sequence[Placement]) -> list[str]:
    """What is wrong with a layout, one sentence a fault; empty when it is legal.

    Copies may be missing (a fixed container can be too small), but none may be there twice.
    """
    slack = SLACK_PER_WIDTH * problem.width
    found = _count_faults(problem, placements)
    if found:
        return found
    outlines = [placed_outline(problem, p) for p in placements]
    for placement, outline in zip(placements, outlines, strict=True):
        if placement not in problem.items[placement.item].pinned:
            found += _domain_faults(problem, placement, outline, slack)
    return found + _overlap_faults(problem, placements, outlines, slack)


def _count_faults(problem: Problem, placements: Sequence[Placement]) -> list[str]:
    found = []
    seen: set[tuple[int, int]] = set()
    for p in placements:
        if not 0 <= p.item < len(problem.items):
            return [f"there is no item {p.item}"]
        item = problem.items[p.item]
        if not (0 <= p.pose < len(item.poses) and 0 <= p.domain < len(item.domains)):
            found.append(f"{item.key}: has no pose {p.pose} or no domain {p.domain}")
        if (p.item, p.copy) in seen or not 0 <= p.copy < item.count:
            found.append(f"{item.key}: copy {p.copy} is laid twice or was not asked for")
        seen.add((p.item, p.copy))
    given = set(placements)
    for item in problem.items:
        found += [f"{item.key}: a pinned copy was moved" for p in item.pinned if p not in given]
    return found


def _domain_faults(
    problem: Problem, placement: Placement, outline: FloatArray, slack: float
) -> list[str]:
    item = problem.items[placement.item]
    domain = item.domains[placement.domain]
    if domain.poses is not None and placement.pose not in domain.poses:
        return [f"{item.key}: pose {placement.pose} is not allowed there"]
    x0, y0, x1, y1 = bounds(outline)
    low, high = _allowed(problem, domain)
    found = []
    if min(x0 - low[0], y0 - low[1], high[0] - x1, high[1] - y1) < -slack:
        found.append(f"{item.key}: lies outside its domain")
    ends = {Side.X0: x0 - domain.x0, Side.X1: x1 - domain.x1}
    ends |= {Side.Y0: y0 - domain.y0, Side.Y1: y1 - min(domain.y1, problem.width)}
    found += [f"{item.key}: does not touch {s}" for s in domain.touch if abs(ends[s]) > slack]
    lattice = domain.lattice
    if lattice is not None:
        pose = item.poses[placement.pose]
        anchor = turned(as_points([lattice.anchor]), pose.turn_deg, mirrored=pose.mirrored)[0]
        at = anchor + (placement.x, placement.y)
        for value, period, phase in (
            (at[0], lattice.period_x, lattice.phase_x),
            (at[1], lattice.period_y, lattice.phase_y),
        ):
            if period is not None:
                off = abs(math.remainder(value - phase, period))
                if off > lattice.tolerance + slack:
                    found.append(f"{item.key}: {off:.6g} off the repeat")
    return found


def _allowed(problem: Problem, domain: Domain) -> tuple[tuple[float, float], tuple[float, float]]:
    end = math.inf if problem.length is None else problem.length
    low, high = [], []
    for first, last, side0, side1, near, far in (
        (domain.x0, domain.x1, Side.X0, Side.X1, 0.0, end),
        (domain.y0, domain.y1, Side.Y0, Side.Y1, 0.0, problem.width),
    ):
        low.append(max(first, near + (0.0 if side0 in domain.touch else problem.edge_gap)))
        high.append(min(last, far - (0.0 if side1 in domain.touch else problem.edge_gap)))
    return (low[0], low[1]), (high[0], high[1])


def _overlap_faults(
    problem: Problem,
    placements: Sequence[Placement],
    outlines: list[FloatArray],
    slack: float,
) -> list[str]:
    grid = slack / 8
    shrunk = [_shrink([o], slack / 2, grid) for o in outlines]
    grown = [_grow(s, problem.gap, grid) for s in shrunk]
    boxes = np.array([bounds(o) for o in outlines]).reshape(-1, 4)
    names = [problem.items[p.item].key for p in placements]
    pinned = [p in problem.items[p.item].pinned for p in placements]
    found = []
    for i in range(len(placements)):
        for j in range(i):
            near = problem.gap
            apart = (
                boxes[i, 0] >= boxes[j, 2] + near
                or boxes[j, 0] >= boxes[i, 2] + near
                or boxes[i, 1] >= boxes[j, 3] + near
                or boxes[j, 1] >= boxes[i, 3] + near
            )
            if apart:
                continue
            if pinned[i] and pinned[j]:
                # Pins come from outside, rounded: they are held to what may be cut, not to our own.
                deep = OVERLAP_MM / 2
                overlap = intersection(
                    _shrink([outlines[i]], deep, grid),
                    _shrink([outlines[j]], deep, grid),
                    grid=grid,
                )
            else:
                overlap = intersection(grown[i], shrunk[j], grid=grid)
            if _area(overlap) > grid * slack:
                found.append(f"{names[i]} and {names[j]} overlap or lie closer than the gap")
    for k, hole in enumerate(problem.holes):
        keep_off = _grow(_shrink([as_points(hole)], slack / 2, grid), problem.edge_gap, grid)
        found += [
            f"{names[i]} touches hole {k}"
            for i in range(len(placements))
            if _area(intersection(keep_off, shrunk[i], grid=grid)) > grid * slack
        ]
    if problem.container is not None:
        inside = offset([problem.container], slack / 2 - problem.edge_gap, grid=grid)
        found += [
            f"{names[i]} leaves the container"
            for i in range(len(placements))
            if _area(difference(shrunk[i], inside, grid=grid)) > grid * slack
        ]
    return found


def _shrink(region: Region, distance: float, grid: float) -> Region:
    return offset(region, -distance, join=Join.MITRE, grid=grid)


def _grow(region: Region, distance: float, grid: float) -> Region:
    if distance <= 0.0:
        return region
    return offset(region, distance, join=Join.ROUND, chord=grid, grid=grid)


def _area(region: Region) -> float:
    return sum(signed_area(ring) for ring in region)
