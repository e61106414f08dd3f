"""The engine's contract: a packing problem and its solution, as plain picklable values.

The engine knows no cloth. A *strip* of given width is to be filled from x = 0 so that the greatest x
in use is least; or a *fixed container* is to be filled at all. Items are polygons with a list of
permitted poses and a list of domains (where they may lie). Lengths are millimetres by convention,
but nothing here depends on it. Frame: x along the strip, y across it, y up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum

from nesting.errors import ProblemError
from nesting.polygon import FloatArray, as_points, signed_area, turned


class Side(StrEnum):
    """A side of a domain's box."""

    X0 = "x0"
    X1 = "x1"
    Y0 = "y0"
    Y1 = "y1"


@dataclass(frozen=True, slots=True)
class Pose:
    """How an outline is held: reflected in the x axis first if ``mirrored``, then turned
    counter-clockwise by ``turn_deg``; then shifted by the placement's x and y."""

    turn_deg: float = 0.0
    mirrored: bool = False


@dataclass(frozen=True, slots=True)
class Lattice:
    """The posed and shifted ``anchor`` (item frame) must lie at phase + k * period, within
    ``tolerance``, along each axis whose period is not None."""

    anchor: tuple[float, float]
    period_x: float | None = None
    period_y: float | None = None
    phase_x: float = 0.0
    phase_y: float = 0.0
    tolerance: float = 1.0


@dataclass(frozen=True, slots=True)
class Domain:
    """One of the places where an item may lie: its whole placed outline within the box.

    ``poses`` restricts the item's poses (indices) inside this domain. ``touch`` says on which sides
    of the box the outline's extreme must lie exactly (a fold edge is one such side).
    """

    x0: float = 0.0
    x1: float = math.inf
    y0: float = 0.0
    y1: float = math.inf
    poses: tuple[int, ...] | None = None
    touch: tuple[Side, ...] = ()
    lattice: Lattice | None = None


@dataclass(frozen=True, slots=True)
class Placement:
    """Where one copy of an item lies: posed outline plus (x, y)."""

    item: int
    copy: int
    pose: int
    x: float
    y: float
    domain: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Item:
    """A polygon to be placed ``count`` times. ``outline`` is (N, 2), counter-clockwise, simple.

    ``pinned`` holds placements of this item that are given and may not move (copy numbers from 0;
    they count towards ``count``).
    """

    key: str
    outline: FloatArray
    poses: tuple[Pose, ...] = (Pose(),)
    count: int = 1
    domains: tuple[Domain, ...] = (Domain(),)
    pinned: tuple[Placement, ...] = ()

    def posed(self, pose: int) -> FloatArray:
        """The outline in pose number ``pose``, (N, 2), before shifting."""
        p = self.poses[pose]
        return turned(self.outline, p.turn_deg, mirrored=p.mirrored)


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """What is to be packed into what.

    ``width`` is the strip's extent in y. ``length`` None means a strip to be kept short; a number
    means a fixed container 0 <= x <= length. ``container`` (M, 2) replaces the rectangle by a simple
    polygon (a remnant) and needs ``length`` (its extent). ``holes`` are polygons that nothing may
    touch. ``gap`` is kept between items, ``edge_gap`` between items and the container's border and
    holes (sides that a domain must touch excepted).
    """

    width: float
    items: tuple[Item, ...]
    length: float | None = None
    container: FloatArray | None = None
    holes: tuple[FloatArray, ...] = ()
    gap: float = 0.0
    edge_gap: float = 0.0


@dataclass(frozen=True, slots=True)
class Progress:
    """An improvement on the way: after ``steps`` steps and ``seconds`` the length was ``length``."""

    steps: int
    seconds: float
    length: float


@dataclass(frozen=True, slots=True)
class Solution:
    """A layout found. ``length`` is the greatest x of any placed outline (0 for no items).

    ``unplaced`` lists (item, copy) that found no room (fixed containers only); a strip's solution
    always places everything. ``floor`` is the proved lower bound on the length.
    """

    placements: tuple[Placement, ...]
    length: float
    floor: float
    steps: int = 0
    unplaced: tuple[tuple[int, int], ...] = ()
    history: tuple[Progress, ...] = field(default=())

    @property
    def complete(self) -> bool:
        """Whether every copy of every item has its place."""
        return not self.unplaced


@dataclass(frozen=True, slots=True)
class Budget:
    """How long to search: a number of ``steps`` (same seed, same result on any machine) or of wall
    ``seconds`` (no repeatability; compile time is not charged). Exactly one must be given."""

    steps: int | None = None
    seconds: float | None = None

    def __post_init__(self) -> None:
        if (self.steps is None) == (self.seconds is None):
            raise ProblemError("a budget is either steps or seconds", hint="Give one of the two.")


def check_problem(problem: Problem) -> None:
    """Raise ProblemError if the problem is not one: bad numbers, bad outlines, or an item that fits
    its container in no pose (the message names it)."""
    if not (math.isfinite(problem.width) and problem.width > 0):
        raise ProblemError(f"the strip's width must be above 0, got {problem.width}")
    for item in problem.items:
        _check_item(item)
        if item.count and not any(fits_alone(problem, item, d, p) for d, p in domain_poses(item)):
            raise ProblemError(
                f"{item.key} does not fit in any permitted pose",
                where=item.key,
                code="too_wide",
            )


def domain_poses(item: Item) -> list[tuple[int, int]]:
    """All (domain, pose) index pairs open to an item."""
    return [
        (d, p)
        for d, domain in enumerate(item.domains)
        for p in (domain.poses if domain.poses is not None else range(len(item.poses)))
    ]


def fits_alone(problem: Problem, item: Item, domain: int, pose: int) -> bool:
    """Whether the posed outline's box is no larger than its domain within the container's box."""
    d = item.domains[domain]
    points = item.posed(pose)
    w, h = points.max(axis=0) - points.min(axis=0)
    e = problem.edge_gap
    x1 = min(d.x1, math.inf if problem.length is None else problem.length - e)
    y0, y1 = max(d.y0, e), min(d.y1, problem.width - e)
    y0 = d.y0 if Side.Y0 in d.touch else y0
    y1 = d.y1 if Side.Y1 in d.touch else y1
    slack = 1e-9 * max(1.0, problem.width)
    return bool(w <= x1 - max(d.x0, 0.0) + slack and h <= y1 - y0 + slack)


def placed_outline(problem: Problem, placement: Placement) -> FloatArray:
    """The (N, 2) outline where the placement puts it."""
    posed = problem.items[placement.item].posed(placement.pose)
    return as_points(posed + (placement.x, placement.y))


def _check_item(item: Item) -> None:
    if len(item.outline) < 3 or not all(math.isfinite(v) for v in item.outline.ravel()):
        raise ProblemError(f"{item.key}: an outline needs three finite points", where=item.key)
    if signed_area(item.outline) <= 0:
        raise ProblemError(f"{item.key}: the outline must run counter-clockwise", where=item.key)
    if item.count < 0 or not item.poses or not item.domains:
        raise ProblemError(f"{item.key}: needs a count, a pose and a domain", where=item.key)
