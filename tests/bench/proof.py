"""An outside proof of an engine solution, by shapely alone: what it lists is wrong with the layout."""

from __future__ import annotations

import math

from shapely import affinity
from shapely.geometry import Point, Polygon, box

from nesting.engine.problem import Placement, Problem, Side, Solution

DEPTH_PER_WIDTH = 1e-5
"""Interpenetration allowed, as a share of the strip's width (0.014 mm on 1400 mm)."""


def placed(problem: Problem, p: Placement) -> Polygon:
    """The true outline where the placement puts it."""
    item = problem.items[p.item]
    pose = item.poses[p.pose]
    shape = Polygon(item.outline)
    if pose.mirrored:
        shape = affinity.scale(shape, 1.0, -1.0, origin=(0, 0))
    return affinity.translate(affinity.rotate(shape, pose.turn_deg, origin=(0, 0)), p.x, p.y)


def wrongs(problem: Problem, solution: Solution, *, whole: bool = True) -> list[str]:
    """Everything that is wrong with a solution; ``whole`` asks for every copy to be laid."""
    deep = DEPTH_PER_WIDTH * problem.width
    out: list[str] = []
    asked = sorted((i, c) for i, item in enumerate(problem.items) for c in range(item.count))
    laid = [(p.item, p.copy) for p in solution.placements]
    if sorted(laid + list(solution.unplaced)) != asked or (whole and solution.unplaced):
        out.append("copies laid do not match copies asked for")
    shapes = [placed(problem, p) for p in solution.placements]
    reach = max((s.bounds[2] for s in shapes), default=0.0)
    if abs(reach - solution.length) > deep:
        out.append(f"length {solution.length} but the outlines reach {reach}")
    for p, s in zip(solution.placements, shapes, strict=True):
        if p not in problem.items[p.item].pinned:
            out += _own(problem, p, s, deep)
    inner = [s.buffer(-deep / 2, join_style="mitre") for s in shapes]
    for i, s in enumerate(inner):
        for j in range(i):
            if s.distance(inner[j]) < problem.gap or s.intersects(inner[j]):
                out.append(f"{solution.placements[i]} meets {solution.placements[j]}")
        for hole in problem.holes:
            h = Polygon(hole).buffer(-deep / 2, join_style="mitre")
            if s.intersects(h) or s.distance(h) < problem.edge_gap:
                out.append(f"{solution.placements[i]} meets a hole")
        if problem.container is not None and not s.within(
            Polygon(problem.container).buffer(deep / 2 - problem.edge_gap)
        ):
            out.append(f"{solution.placements[i]} leaves the container")
    return out


def _own(problem: Problem, p: Placement, s: Polygon, deep: float) -> list[str]:
    item = problem.items[p.item]
    domain = item.domains[p.domain]
    out = []
    if domain.poses is not None and p.pose not in domain.poses:
        out.append(f"{p}: pose not allowed")
    x0, y0, x1, y1 = s.bounds
    ends = {
        Side.X0: (x0, max(domain.x0, 0.0)),
        Side.X1: (x1, min(domain.x1, math.inf if problem.length is None else problem.length)),
        Side.Y0: (y0, max(domain.y0, 0.0)),
        Side.Y1: (y1, min(domain.y1, problem.width)),
    }
    for side, (at, bound) in ends.items():
        if side in domain.touch:
            if abs(at - bound) > deep:
                out.append(f"{p}: does not touch {side}")
            continue
        rim = {Side.X0: 0.0, Side.Y0: 0.0, Side.Y1: problem.width, Side.X1: problem.length}[side]
        inside = (at - bound) if side in (Side.X0, Side.Y0) else (bound - at)
        gap = 0.0
        if rim is not None:
            gap = problem.edge_gap - abs(at - rim)
        if inside < -deep or gap > deep:
            out.append(f"{p}: outside its domain at {side}")
    if domain.lattice is not None:
        lattice = domain.lattice
        anchor = Point(lattice.anchor)
        pose = item.poses[p.pose]
        if pose.mirrored:
            anchor = affinity.scale(anchor, 1.0, -1.0, origin=(0, 0))
        anchor = affinity.rotate(anchor, pose.turn_deg, origin=(0, 0))
        for at, period, phase in (
            (anchor.x + p.x, lattice.period_x, lattice.phase_x),
            (anchor.y + p.y, lattice.period_y, lattice.phase_y),
        ):
            if period is not None:
                off = abs(math.remainder(at - phase, period))
                if off > lattice.tolerance + deep:
                    out.append(f"{p}: {off} off the repeat")
    return out


def inside_box(problem: Problem, solution: Solution) -> bool:
    """Whether every outline lies in the strip (or the container's box)."""
    frame = box(0, 0, math.inf if problem.length is None else problem.length, problem.width)
    return all(placed(problem, p).within(frame.buffer(1e-6)) for p in solution.placements)
