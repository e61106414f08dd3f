"""Lines of drawings that have no groups: what lies inside an outline belongs to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from service.formats.drawn_lines import DrawnLine, Group, is_closed
from service.formats.ring import Ring
from service.formats.words import is_bare_role, is_outline_role


@dataclass(frozen=True, slots=True)
class PlacedText:
    """A text of the drawing where it stands, mm; ``size`` is its height."""

    x: float
    y: float
    size: float
    text: str


def grouped_by_place(lines: Sequence[DrawnLine], texts: Sequence[PlacedText]) -> list[DrawnLine]:
    """The lines with a group for each outermost outline: the lines in it, or touching it, join its
    group, and the largest text in it names the piece. Lines that have a labelled group keep it.

    A line that nothing names is the outline when it is the outermost, and a mark inside one.
    """
    loose = [i for i, line in enumerate(lines) if not any(_names(g) for g in line.groups)]
    shapes: dict[int, BaseGeometry] = {i: _shape(lines[i]) for i in loose if _may_be(lines[i])}
    near = _outermost(shapes)
    made = list(lines)
    key = max((g.key for line in lines for g in line.groups), default=0)
    inner = [j for j in loose if j not in near]
    for number, i in enumerate(near):
        group = Group(key + number + 1, _name(near[i], texts) or f"Piece {number + 1}")
        made[i] = _joined(lines[i], group, "outline")
    for j in inner:
        # Inside first; a notch drawn outwards only touches its outline.
        home = next((i for i in near if near[i].contains(_middle(lines[j]))), None)
        if home is None:
            home = next((i for i in near if near[i].intersects(_ends(lines[j]))), None)
        if home is not None:
            made[j] = _joined(lines[j], made[home].groups[-1], "line")
    return made


def _joined(line: DrawnLine, group: Group, unsaid: str) -> DrawnLine:
    said = line.label or _layer_role(line) or unsaid
    return replace(line, label=said, groups=(*line.groups, group))


def _ends(line: DrawnLine) -> BaseGeometry:
    return MultiPoint([line.segments[0][0], line.segments[-1][-1]])


def _names(group: Group) -> bool:
    return bool(group.label) and not is_bare_role(group.label)


def _may_be(line: DrawnLine) -> bool:
    """Whether a line may be an outline: closed, and called so or by no role at all."""
    role = line.label or _layer_role(line)
    return is_closed(line) and (is_outline_role(role) or not is_bare_role(role))


def _layer_role(line: DrawnLine) -> str:
    label = next((g.label for g in reversed(line.groups) if g.label), "")
    return label if is_bare_role(label) else ""


def _shape(line: DrawnLine) -> BaseGeometry:
    points = line.points
    return Polygon(points).buffer(0) if len(points) > 3 else LineString(points)


def _outermost(shapes: dict[int, BaseGeometry]) -> dict[int, BaseGeometry]:
    """The shapes that lie in no other, by number, each widened by what a hand may be off. Of two alike
    the first counts."""
    found: dict[int, BaseGeometry] = {}
    for i in sorted(shapes, key=lambda i: (-shapes[i].area, i)):
        # Larger ones come first, so whatever lies in another lies in one that is found already.
        if not any(outer.contains(shapes[i]) for outer in found.values()):
            found[i] = shapes[i].buffer(Ring.NEAR_MM)
            shapely.prepare(found[i])
    return dict(sorted(found.items()))


def _middle(line: DrawnLine) -> BaseGeometry:
    points = line.points
    if np.array_equal(points[0], points[-1]) and len(points) > 3:
        return LineString(points).centroid
    return LineString(points).interpolate(0.5, normalized=True)


def _name(outline: BaseGeometry, texts: Sequence[PlacedText]) -> str:
    inside = [t for t in texts if t.text.strip() and outline.contains(shapely.Point(t.x, t.y))]
    return max(inside, key=lambda t: t.size).text.strip() if inside else ""
