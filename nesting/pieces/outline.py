"""The outline of a piece: edges between corners, each with its kind and its allowance.

Frame: the piece as drawn, mm, y up, as seen on the right side of the cloth; the outline runs
counter-clockwise and edge i ends where edge i + 1 begins. Curves are polylines already (chord error
at most ``tolerance.CHORD_MM``); corners exist only between edges.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from nesting.polygon import FloatArray, as_points, path_length, without_repeats


class EdgeKind(StrEnum):
    """What an edge is in the finished garment."""

    SEAM = "seam"
    HEM = "hem"
    FOLD = "fold"
    FINISHED = "finished"


class AllowanceState(StrEnum):
    """What is known about an edge's allowance: there is ``none`` and none is wanted; it is
    ``included`` in the drawn line; or it is to be ``add``-ed outside it."""

    NONE = "none"
    INCLUDED = "included"
    ADD = "add"


@dataclass(frozen=True, slots=True)
class Allowance:
    """Width outside an edge, mm. ``end_width_mm`` differs from ``width_mm`` only where the width
    changes evenly from the edge's start to its end; ``steps`` are (distance along the edge from its
    start, width from there on) in mm for a seam that steps."""

    state: AllowanceState = AllowanceState.NONE
    width_mm: float = 0.0
    end_width_mm: float | None = None
    steps: tuple[tuple[float, float], ...] = ()


NO_ALLOWANCE = Allowance()


class Corner(StrEnum):
    """How the cut line turns a corner of the outline.

    ``auto``: chosen from the edges' kinds, widths and angle. ``mitre``: both allowances run on until
    they meet. ``step``: the wider one ends square at the corner. ``blunt``: cut off square, one
    width beyond the point. ``this``/``next edge turns back``: that edge's allowance will be folded
    back along the edge, and its end is shaped like the garment it will lie on.
    """

    AUTO = "auto"
    MITRE = "mitre"
    STEP = "step"
    BLUNT = "blunt"
    THIS_TURNS_BACK = "this edge turns back"
    NEXT_TURNS_BACK = "next edge turns back"


class Pressed(StrEnum):
    """How a seam is pressed when it is sewn: where it says so, the ends of its allowance are shaped
    to lie inside the piece that they are folded onto."""

    UNSAID = "unsaid"
    OPEN = "open"
    TOWARDS = "towards this piece"
    AWAY = "away from this piece"


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """A stretch of outline between two corners.

    ``points`` is (N, 2), from corner to corner, both included. ``inlay_mm`` is extra left outside
    the allowance to let out later. ``partners`` names what it is sewn to, as "piece/edge": one edge,
    or a row of edges in the order in which they lie along this one from its start; ``run`` names the
    edges that are sewn to that row as one, this one among them, in their order along the seam (empty:
    it is sewn alone). ``ease_mm`` is how much longer than its partner this edge is meant to be.
    ``corner`` treats the corner at the edge's end. ``folds_mm`` are the fold lines of a hem that is
    turned more than once, as distances outside the net line: a 20 mm double hem is 40 mm wide with a
    fold at 20.
    """

    name: str
    points: FloatArray
    kind: EdgeKind = EdgeKind.SEAM
    allowance: Allowance = NO_ALLOWANCE
    inlay_mm: float = 0.0
    partners: tuple[str, ...] = ()
    run: tuple[str, ...] = ()
    corner: Corner = Corner.AUTO
    pressed: Pressed = Pressed.UNSAID
    folds_mm: tuple[float, ...] = ()
    ease_mm: float = 0.0

    @property
    def length_mm(self) -> float:
        """Length along the edge, mm."""
        return path_length(self.points)


def closed_line(edges: tuple[Edge, ...]) -> FloatArray:
    """The edges' points as one closed (N, 2) outline, no point repeated."""
    if not edges:
        return as_points([])
    return without_repeats(np.concatenate([e.points[:-1] for e in edges]), closed=True)
