"""A lay on cloth that is too short for it: as much of it as a given length holds.

The same strips as for the whole lay, one after the other, each as a fixed container of what is left.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

from nesting.engine.improve import check_ready
from nesting.engine.problem import Placement, Problem, Solution
from nesting.errors import ProblemError
from nesting.lay.build import layout_of, next_start
from nesting.lay.spread import Spread, Strip, beginning_at
from nesting.layout import Asked, Layout
from nesting.pieces.piece import Hand

Search = Callable[[Problem], Solution]


def within(plan: Spread, room_mm: float, search: Search) -> tuple[Layout, tuple[Solution, ...]]:
    """The layout of as much of the lay as ``room_mm`` of length between the ends holds, and the
    solutions that it came from; what found no room is ``not_laid``.

    ``search`` finds a solution of a packing problem (the rim gives it a budget).
    """
    solutions: list[Solution] = []
    start = used = 0.0
    for given in plan.strips:
        strip = beginning_at(given, start, plan.lay)
        solution = _filled(strip, (room_mm - used) / strip.plies_along, search)
        end = next_start(start + solution.length, plan.lay.cloth)
        used += (end - start) * strip.plies_along
        start = end
        solutions.append(solution)
    layout = layout_of(plan, tuple(solutions))
    return replace(layout, not_laid=_not_laid(plan, solutions)), tuple(solutions)


def _filled(strip: Strip, length: float, search: Search) -> Solution:
    """A solution of the strip's problem in which copies may be unplaced."""
    problem = strip.problem
    kept = _that_fit(problem, length)
    found = Solution((), 0.0, 0.0)
    if kept:
        items = tuple(problem.items[i] for i in kept)
        found = search(replace(problem, items=items, length=length))
    placements = tuple(_renumbered(p, kept) for p in found.placements)
    laid = {(p.item, p.copy) for p in placements}
    copies = [(i, c) for i, item in enumerate(problem.items) for c in range(item.count)]
    unplaced = tuple(key for key in copies if key not in laid)
    return replace(found, placements=placements, unplaced=unplaced)


def _that_fit(problem: Problem, length: float) -> list[int]:
    """Numbers of the items that fit into a container of that length one by one."""
    kept = []
    for index, item in enumerate(problem.items):
        if length <= 0.0 or not item.count:
            continue
        try:
            check_ready(replace(problem, items=(item,), length=length))
        except ProblemError:
            continue
        kept.append(index)
    return kept


def _renumbered(p: Placement, kept: list[int]) -> Placement:
    return replace(p, item=kept[p.item])


def _not_laid(plan: Spread, solutions: list[Solution]) -> tuple[Asked, ...]:
    missing: Counter[tuple[str, Hand]] = Counter()
    for strip, solution in zip(plan.strips, solutions, strict=True):
        for item, _ in solution.unplaced:
            part = strip.parts[item]
            missing.update((part.cut.piece.name, hand) for hand in part.hands)
    names = dict.fromkeys(name for name, _ in missing)
    return tuple(Asked(n, missing[n, Hand.DRAWN], missing[n, Hand.TURNED]) for n in names)
