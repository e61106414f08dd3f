"""The lines of a drawing, whatever file it was: values in mm, y up, and small facts about them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from nesting.findings import Finding, Level
from nesting.polygon import FloatArray
from service.errors import FormatError
from service.formats.building import JOIN_MM
from service.formats.curves import flatten_cubic
from service.formats.words import is_bare_role


@dataclass(frozen=True, slots=True)
class Group:
    """A group (or layer, or block) that lines lie in; ``key`` tells groups of one label apart."""

    key: int
    label: str


@dataclass(frozen=True, slots=True, eq=False)
class DrawnLine:
    """One run of the pen. ``segments`` are (2, 2) lines or (4, 2) cubics, end to end; ``part`` counts
    the runs of one compound path; ``name`` is for messages and for plain outlines."""

    label: str
    name: str
    groups: tuple[Group, ...]
    segments: tuple[FloatArray, ...]
    closed: bool
    part: int = 0

    @property
    def points(self) -> FloatArray:
        """Flattened, (N, 2), first and last point included."""
        return flattened(self.segments)


@dataclass(slots=True)
class Sketch:
    """The lines of one piece before they are understood."""

    label: str
    lines: list[DrawnLine] = field(default_factory=list)
    plain: bool = False


def flattened(segments: Sequence[FloatArray]) -> FloatArray:
    """Points of ``segments`` end to end, curves at the promised chord error, (N, 2)."""
    parts = [s[1:] if len(s) == 2 else flatten_cubic(s[0], s[1], s[2], s[3]) for s in segments]
    return np.vstack([segments[0][:1], *parts])


def is_closed(line: DrawnLine) -> bool:
    """Whether a line is closed, by its word or because its ends meet."""
    first, last = line.segments[0][0], line.segments[-1][-1]
    return line.closed or (len(line.segments) > 1 and math.dist(first, last) <= JOIN_MM)


def largest_extent(lines: Iterable[DrawnLine]) -> tuple[str, float, float]:
    """(label, width, height) of the largest closed line, in its own units; for choosing a unit."""
    best = ("", 0.0, 0.0)
    for line in lines:
        if is_closed(line):
            w, h = np.ptp(line.points, axis=0)
            if w * h > best[1] * best[2]:
                owner = next((g.label for g in reversed(line.groups) if g.label), "")
                label = line.label if not is_bare_role(line.label) else owner
                best = ((label or owner or line.name).split(";")[0].strip(), float(w), float(h))
    return best


def problem(code: str, where: str, message: str, hint: str) -> Finding:
    """A finding that refuses the file."""
    return Finding(code, Level.REFUSED, message, where=where, hint=hint)


def refusal(source: str, problems: Sequence[Finding]) -> FormatError:
    """One error for a file, with the first problems in its message and all of them in ``problems``."""
    shown = [f"{p.where}: {p.message}" if p.where else p.message for p in problems]
    more = f"; and {len(shown) - 5} more" if len(shown) > 5 else ""
    return FormatError(
        f"{source} cannot be used: " + "; ".join(shown[:5]) + more,
        where=problems[0].where or source,
        hint=problems[0].hint,
        problems=problems,
    )
