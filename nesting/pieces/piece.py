"""A piece as drafted, and the style it belongs to: values only.

Frame of all points: as drawn, mm, y up, seen on the right side of the cloth.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from nesting.pieces.measures import BodyMeasure
from nesting.pieces.outline import Edge, EdgeKind, closed_line
from nesting.polygon import FloatArray

Point = tuple[float, float]


class DrawnAs(StrEnum):
    """Whether the drawn outline is the net line or the cut line."""

    NET = "net"
    CUT = "cut"


class Hand(StrEnum):
    """The piece as drawn, or turned over (its mirror image)."""

    DRAWN = "drawn"
    TURNED = "turned"


class GrainRule(StrEnum):
    """Which turns from the grain line a piece permits (0 = the grain's head towards +x)."""

    ONE_WAY = "one way"
    EITHER_WAY = "either way"
    QUARTER_TURNS = "quarter turns"
    BIAS = "bias"
    ANY_WAY = "any way"


TURNS_DEG: dict[GrainRule, tuple[float, ...]] = {
    GrainRule.ONE_WAY: (0.0,),
    GrainRule.EITHER_WAY: (0.0, 180.0),
    GrainRule.QUARTER_TURNS: (0.0, 90.0, 180.0, 270.0),
    GrainRule.BIAS: (45.0, 135.0, 225.0, 315.0),
    GrainRule.ANY_WAY: (0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0),
}
"""Turns without nap, degrees counter-clockwise."""

NAP_TURNS_DEG: dict[GrainRule, tuple[float, ...]] = {
    rule: (45.0, 135.0) if rule is GrainRule.BIAS else (0.0,) for rule in GrainRule
}
"""Turns on one-way cloth."""


@dataclass(frozen=True, slots=True)
class Grain:
    """The grain line from tail to head. A one-headed line is ``GrainRule.ONE_WAY``."""

    tail: Point
    head: Point


@dataclass(frozen=True, slots=True)
class Count:
    """How many of each hand one garment needs. A piece on the fold counts whole pieces as drawn."""

    drawn: int = 1
    turned: int = 0

    @property
    def total(self) -> int:
        """All hands together."""
        return self.drawn + self.turned


PAIR = Count(1, 1)


@dataclass(frozen=True, slots=True)
class Notch:
    """A mark to match edges: on edge ``edge``, ``distance_mm`` along the net line from its start.
    ``marks`` is 1 for a single, 2 for a double notch."""

    edge: str
    distance_mm: float
    marks: int = 1
    name: str = ""


class DartFold(StrEnum):
    """Which way a dart is pressed: its mouth is cut as that fold leaves it."""

    FIRST_LEG = "towards the first leg"
    SECOND_LEG = "towards the second leg"


@dataclass(frozen=True, slots=True)
class Dart:
    """A dart with its mouth on edge ``edge``: legs end ``first_mm`` and ``second_mm`` along the net
    line from the edge's start and meet at ``point``. Between the legs the net line is drawn as the
    edge's own points (straight across, or with the peak)."""

    name: str
    edge: str
    first_mm: float
    second_mm: float
    point: Point
    fold: DartFold = DartFold.FIRST_LEG


class MarkKind(StrEnum):
    """Marks inside a piece."""

    DRILL = "drill"
    BUTTON = "button"
    BUTTONHOLE = "buttonhole"
    CENTRE_LINE = "centre line"
    BALANCE = "balance"
    LINE = "line"
    INLAY = "inlay"


@dataclass(frozen=True, slots=True)
class Mark:
    """A point (one) or a line (two or more points) inside the piece."""

    kind: MarkKind
    points: tuple[Point, ...]
    name: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A part as drafted. ``cloth`` names the cloth role (shell, lining, interfacing ...).

    ``origin`` tells where the piece came from (file, or the piece and change that made it).
    """

    name: str
    edges: tuple[Edge, ...]
    grain: Grain | None = None
    grain_rule: GrainRule = GrainRule.EITHER_WAY
    count: Count = field(default_factory=Count)
    cloth: str = "shell"
    drawn_as: DrawnAs = DrawnAs.NET
    notches: tuple[Notch, ...] = ()
    darts: tuple[Dart, ...] = ()
    marks: tuple[Mark, ...] = ()
    origin: str = ""

    @property
    def outline(self) -> FloatArray:
        """The drawn outline, closed, (N, 2), counter-clockwise."""
        return closed_line(self.edges)

    @property
    def fold_edges(self) -> tuple[Edge, ...]:
        """Edges where the piece is doubled: on the fold of the cloth, or unfolded before laying."""
        return tuple(e for e in self.edges if e.kind is EdgeKind.FOLD)

    def edge(self, name: str) -> Edge:
        """The edge of that name. Raises KeyError."""
        for e in self.edges:
            if e.name == name:
                return e
        raise KeyError(name)


@dataclass(frozen=True, slots=True, eq=False)
class Style:
    """One garment design: its pieces and how many of each, and the girths they should give."""

    name: str
    pieces: tuple[Piece, ...]
    note: str = ""
    measures: tuple[BodyMeasure, ...] = ()

    @property
    def cloths(self) -> tuple[str, ...]:
        """The cloth roles in use, in order of first appearance."""
        return tuple(dict.fromkeys(p.cloth for p in self.pieces))
