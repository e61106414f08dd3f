"""Lines of drawings that have no groups: what lies inside an outline belongs to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
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
    outlines = [
        i
        for i, shape in shapes.items()
        if not any(j != i and _holds(shapes[j], shape, j < i) for j in shapes)
    ]
    made = list(lines)
    key = max((g.key for line in lines for g in line.groups), default=0)
    for number, i in enumerate(outlines):
        key += 1
        near = shapes[i].buffer(Ring.NEAR_MM)
        shapely.prepare(near)
        label = _name(near, texts) or f"Piece {number + 1}"
        for j in loose:
            if j == i or (j not in outlines and near.contains(_middle(lines[j]))):
                line = made[j]
                said = line.label or _layer_role(line) or ("outline" if j == i else "line")
                made[j] = replace(line, label=said, groups=(*line.groups, Group(key, label)))
    return made


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


def _holds(outer: BaseGeometry, inner: BaseGeometry, first: bool) -> bool:
    """Whether ``outer`` is the outline round ``inner``; of two alike the ``first`` is."""
    if outer.area < inner.area or (outer.area == inner.area and not first):
        return False
    return bool(outer.buffer(Ring.NEAR_MM).contains(inner))


def _middle(line: DrawnLine) -> BaseGeometry:
    points = line.points
    if np.array_equal(points[0], points[-1]) and len(points) > 3:
        return LineString(points).centroid
    return LineString(points).interpolate(0.5, normalized=True)


def _name(outline: BaseGeometry, texts: Sequence[PlacedText]) -> str:
    inside = [t for t in texts if t.text.strip() and outline.contains(shapely.Point(t.x, t.y))]
    return max(inside, key=lambda t: t.size).text.strip() if inside else ""
