"""A drawing on paper: strokes and texts in mm, y up, which every writer turns into its own format.

Line kinds differ by dash and weight, never by colour: they must survive a black-and-white print.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np

from nesting.polygon import FloatArray, as_points, bounds


class Ink(StrEnum):
    """Kinds of line."""

    CUT = "cut"
    NET = "net"
    FOLD = "fold"
    GRAIN = "grain"
    NOTCH = "notch"
    MARK = "mark"
    SELVEDGE = "selvedge"
    ZONE = "zone"
    RULER = "ruler"
    HATCH = "hatch"


@dataclass(frozen=True, slots=True)
class Pen:
    """Width and dashes (on, off, ...) in mm on paper."""

    width: float
    dash: tuple[float, ...] = ()


PENS: dict[Ink, Pen] = {
    Ink.CUT: Pen(0.5),
    Ink.NET: Pen(0.25, (2.5, 1.5)),
    Ink.FOLD: Pen(0.7, (8.0, 1.5, 1.5, 1.5)),
    Ink.GRAIN: Pen(0.3),
    Ink.NOTCH: Pen(0.5),
    Ink.MARK: Pen(0.25, (1.0, 1.0)),
    Ink.SELVEDGE: Pen(1.0),
    Ink.ZONE: Pen(0.35, (0.5, 1.5)),
    Ink.RULER: Pen(0.2),
    Ink.HATCH: Pen(0.15),
}


class Anchor(StrEnum):
    """Which point of a text lies at its place."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """A line through ``points`` (N, 2). ``label`` is its name in formats that have names; ``title``
    explains it to whoever points at it."""

    points: FloatArray
    ink: Ink
    closed: bool = False
    label: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class Words:
    """A text; ``size`` is the height of capitals and a bit, mm; ``turn_deg`` counter-clockwise."""

    x: float
    y: float
    text: str
    size: float = 3.0
    anchor: Anchor = Anchor.START
    turn_deg: float = 0.0
    bold: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Things that belong together: a piece, a ruler. ``label`` names the group."""

    label: str
    items: tuple[Stroke | Words, ...]
    title: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Paper:
    """A sheet: (0, 0) is its lower left corner."""

    width: float
    height: float
    title: str
    blocks: tuple[Block, ...] = field(default=())


def line(ink: Ink, *points: tuple[float, float], label: str = "", title: str = "") -> Stroke:
    """A stroke through a few points."""
    return Stroke(as_points(points), ink, label=label, title=title)


def moved(block: Block, *, scale: float = 1.0, dx: float = 0.0, dy: float = 0.0) -> Block:
    """A block scaled about (0, 0) and then shifted; texts keep their size."""
    shift = np.array([dx, dy])
    items: list[Stroke | Words] = [
        replace(i, points=as_points(i.points * scale + shift))
        if isinstance(i, Stroke)
        else replace(i, x=i.x * scale + dx, y=i.y * scale + dy)
        for i in block.items
    ]
    return replace(block, items=tuple(items))


def extent(blocks: Iterable[Block]) -> tuple[float, float, float, float]:
    """(x0, y0, x1, y1) of all strokes, mm."""
    strokes = [i.points for b in blocks for i in b.items if isinstance(i, Stroke)]
    return bounds(np.concatenate(strokes))


def text_width(text: str, size: float) -> float:
    """About how wide a text comes out, mm: 0.55 of its size a letter, the mean of sans-serif faces."""
    return 0.55 * size * len(text)


def arrow(tail: FloatArray, head: FloatArray, *, size: float, both: bool) -> tuple[Stroke, ...]:
    """A grain line with a head of ``size`` mm at its head, and at its tail if ``both``."""
    along = (head - tail) / max(float(np.hypot(*(head - tail))), 1e-9)
    side = np.array([-along[1], along[0]])

    def tip(at: FloatArray, way: float) -> Stroke:
        back = at - way * size * along
        barbs = [back + 0.35 * size * side, at, back - 0.35 * size * side]
        return Stroke(as_points(np.array(barbs)), Ink.GRAIN, label="ignore")

    shaft = Stroke(as_points(np.array([tail, head])), Ink.GRAIN, label="grain", title="grain line")
    return (shaft, tip(head, 1.0), *((tip(tail, -1.0),) if both else ()))
