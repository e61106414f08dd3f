"""Proved lower bounds on the length of any layout of a strip. First bounds: area, longest item,
touching sides."""

from __future__ import annotations

import math

import numpy as np

from nesting.engine.problem import Item, Problem, Side, domain_poses
from nesting.polygon import signed_area


def floor(problem: Problem) -> float:
    """A length below which no layout of the problem's items can go (0 for no items)."""
    return max(0.0, area_floor(problem), longest_floor(problem), touching_floor(problem))


def area_floor(problem: Problem) -> float:
    """All items' area over the width they may use."""
    area = sum(signed_area(item.outline) * item.count for item in problem.items)
    return area / problem.width


def longest_floor(problem: Problem) -> float:
    """The longest reach any one item needs, in the option that needs least; and what is pinned."""
    reach = [0.0]
    for item in problem.items:
        if item.count > len(item.pinned):
            reach.append(min(_least_reach(problem, item)))
        reach += [float((item.posed(p.pose)[:, 0]).max() + p.x) for p in item.pinned]
    return max(reach)


def touching_floor(problem: Problem) -> float:
    """Items that must touch one same line along the strip cannot share any of it near that line.

    Only the depth-zero contact is used: of two outlines that touch the line from the same side, the
    stretches of line that they touch are disjoint.
    """
    best = 0.0
    for side in (Side.Y0, Side.Y1):
        lines: dict[float, float] = {}
        for item in problem.items:
            at = {_line(problem, item, d, side) for d, _ in domain_poses(item)}
            if len(at) != 1 or None in at:
                continue
            contact = min(_contact(item, p, side) for _, p in domain_poses(item))
            line = at.pop()
            assert line is not None
            lines[line] = lines.get(line, 0.0) + item.count * contact
        best = max([best, *lines.values()])
    return best


def _least_reach(problem: Problem, item: Item) -> list[float]:
    reach = []
    for d, p in domain_poses(item):
        domain = item.domains[d]
        width = float(np.ptp(item.posed(p)[:, 0]))
        start = max(domain.x0, 0.0 if Side.X0 in domain.touch else problem.edge_gap)
        reach.append(domain.x1 if Side.X1 in domain.touch else start + width)
    return [r for r in reach if math.isfinite(r)] or [0.0]


def _line(problem: Problem, item: Item, domain: int, side: Side) -> float | None:
    d = item.domains[domain]
    if side not in d.touch:
        return None
    return d.y0 if side is Side.Y0 else min(d.y1, problem.width)


def _contact(item: Item, pose: int, side: Side) -> float:
    """Length of the outline's edges that lie on its lowest (highest) level."""
    points = item.posed(pose)
    level = points[:, 1].min() if side is Side.Y0 else points[:, 1].max()
    on = np.abs(points[:, 1] - level) <= 1e-9 * max(1.0, float(np.ptp(points[:, 1])))
    both = on & np.roll(on, -1)
    steps = np.abs(np.roll(points[:, 0], -1) - points[:, 0])
    return float(steps[both].sum())
