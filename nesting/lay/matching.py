"""Stripes and checks: at which place of the repeat each piece must lie so that its seams match.

Matching happens at the stitching line, not the cutting line (common to the handbooks; e.g. PNW 187,
Oregon/Washington/Idaho Extension). Along the cloth, sewing partners whose seams run along the grain
share a *level*: a common height in the garment, measured up the grain. Across the cloth, a centre
line, a fold edge or the grain line of a pair lies on the centre of a bar (Vilumsone-Nemes,
Industrial Cutting of Textile Materials, p. 216). A level holds for one turn; turned by 180 degrees
the piece sees the stripes the other way, which only an even repeat forgives.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nesting.allowances.cut_piece import CutPiece
from nesting.findings import Finding, Level
from nesting.lay.lay import Lay
from nesting.lay.shapes import on_grain
from nesting.pieces.outline import Edge
from nesting.pieces.partners import Seam, declared_seams, edges_by_name
from nesting.pieces.piece import MarkKind, Piece, Point, Style
from nesting.polygon import point_along, signed_area

MATCH_MM = 1.0
"""Seams match when their levels agree within this: 1 mm out is noticed (common practice)."""


@dataclass(frozen=True, slots=True)
class Match:
    """Where a piece sits in the repeat.

    ``anchor`` is a point in the piece's own frame, mm; ``level`` is the anchor's height in the
    garment, None when nothing ties the piece along the cloth; ``centred`` says that the anchor lies
    on the centre of a bar across the cloth.
    """

    anchor: Point
    level: float | None
    centred: bool


def matches(cuts: Sequence[CutPiece]) -> dict[str, Match]:
    """What matching asks of each piece, by name; pieces that nothing ties are left out."""
    by_name = {c.piece.name: c for c in cuts}
    levels = _levels(by_name)
    found = {}
    for name, cut in by_name.items():
        centre = _centre(cut)
        if name in levels or centre is not None:
            anchor = centre if centre is not None else _any_point(cut)
            level = levels[name] + _height(cut, anchor) if name in levels else None
            found[name] = Match(anchor, level, centre is not None)
    return found


def unmatched_seams(cuts: Sequence[CutPiece], repeat_mm: float) -> tuple[Finding, ...]:
    """Seams that cannot match at this repeat because other seams already fix both pieces."""
    by_name = {c.piece.name: c for c in cuts}
    levels = _levels(by_name)
    findings = []
    for one, other, step in _ties(by_name):
        apart = levels[one] + step - levels[other]
        off = abs((apart + repeat_mm / 2) % repeat_mm - repeat_mm / 2)
        if off > MATCH_MM:
            findings.append(
                Finding(
                    "seam_cannot_match",
                    Level.WARNING,
                    f"the seam of {one} and {other} is {off:.0f} mm off the repeat: other seams "
                    "already fix both pieces",
                    where=one,
                    hint="Match the seams that show most, or change the notches.",
                )
            )
    return tuple(findings)


def lay_findings(lay: Lay) -> tuple[Finding, ...]:
    """What cannot be matched on this lay's cloth; nothing on cloth without a repeat along it."""
    repeat = lay.cloth.repeat_along_mm
    return unmatched_seams(lay.pieces, repeat) if repeat > 0 else ()


def _levels(by_name: dict[str, CutPiece]) -> dict[str, float]:
    """Height in the garment of each tied piece's own zero, from the largest piece outwards."""
    ties = list(_ties(by_name))
    near: dict[str, list[tuple[str, float]]] = {}
    for one, other, step in ties:
        near.setdefault(one, []).append((other, step))
        near.setdefault(other, []).append((one, -step))
    levels: dict[str, float] = {}
    for root in sorted(near, key=lambda n: -signed_area(by_name[n].net_line)):
        if root in levels:
            continue
        levels[root] = 0.0
        queue = [root]
        while queue:
            one = queue.pop(0)
            for other, step in near[one]:
                if other not in levels:
                    levels[other] = levels[one] + step
                    queue.append(other)
    return levels


def _ties(by_name: dict[str, CutPiece]) -> list[tuple[str, str, float]]:
    """(piece, partner, level of the partner's zero above the piece's zero) for each seam that runs
    along the grain between two pieces of this cloth."""
    edges = edges_by_name([c.piece for c in by_name.values()])
    ties = []
    for seam in declared_seams(Style("", tuple(c.piece for c in by_name.values()))):
        for one, two, points in _meetings(seam, edges):
            (piece, edge), (other, partner) = edges[one], edges[two]
            cut, there = by_name[piece.name], by_name[other.name]
            if piece is other or not (_runs_along(cut, edge) and _runs_along(there, partner)):
                continue
            step = _height(cut, points[0]) - _height(there, points[1])
            names = (piece.name, other.name)
            # Named in one order, whichever of the two says what it is sewn to.
            tie = (*names, step) if names[0] < names[1] else (names[1], names[0], -step)
            ties.append(tie)
    return ties


def _meetings(
    seam: Seam, edges: dict[str, tuple[Piece, Edge]]
) -> list[tuple[str, str, tuple[Point, Point]]]:
    """(edge, edge, a point of each where they meet) for every two edges of a seam that lie on each
    other; partners that are cut from another cloth are left out."""
    if len(seam.run) == len(seam.row) == 1:
        if seam.run[0] not in edges or seam.row[0] not in edges:
            return []
        return [(seam.run[0], seam.row[0], _meeting_points(edges[seam.run[0]], edges[seam.row[0]]))]
    if any(n not in edges for n in (*seam.run, *seam.row)):
        return []
    met = []
    for one, start in _starts(seam.run, edges):
        for two, other_start in _starts(seam.row, edges):
            (_, edge), (_, partner) = edges[one], edges[two]
            at = max(start, other_start)
            if at < min(start + edge.length_mm, other_start + partner.length_mm) - MATCH_MM:
                # The row lies along the run, each of its edges backwards.
                back = partner.length_mm - (at - other_start)
                met.append((one, two, (_at(edge, at - start), _at(partner, back))))
    return met


def _starts(row: Sequence[str], edges: dict[str, tuple[Piece, Edge]]) -> list[tuple[str, float]]:
    """The edges of a row and where each begins along it, mm."""
    lengths = [edges[n][1].length_mm for n in row]
    return [(n, sum(lengths[:i])) for i, n in enumerate(row)]


def _meeting_points(one: tuple[Piece, Edge], two: tuple[Piece, Edge]) -> tuple[Point, Point]:
    """A point of each seam line that meets the other: the first notches, else the ends."""
    (piece, edge), (other, partner) = one, two
    mine = sorted((n for n in piece.notches if n.edge == edge.name), key=lambda n: n.distance_mm)
    theirs = sorted(
        (n for n in other.notches if n.edge == partner.name), key=lambda n: n.distance_mm
    )
    if mine and theirs:
        named = {n.name: n for n in theirs if n.name}
        # Partners run in opposite directions: the first notch here is the last one there.
        match = named.get(mine[0].name, theirs[-1])
        return _at(edge, mine[0].distance_mm), _at(partner, match.distance_mm)
    return _at(edge, 0.0), _at(partner, partner.length_mm)


def _at(edge: Edge, distance_mm: float) -> Point:
    point, _ = point_along(edge.points, distance_mm)
    return float(point[0]), float(point[1])


def _height(cut: CutPiece, point: Point) -> float:
    return on_grain(cut).point(point)[0]


def _runs_along(cut: CutPiece, edge: Edge) -> bool:
    ends = on_grain(cut).points(edge.points[[0, -1]])
    dx, dy = np.abs(ends[1] - ends[0])
    return bool(dx > dy)


def _centre(cut: CutPiece) -> Point | None:
    """The point that lies on a bar's centre: on the centre line, the fold edge, or the grain line
    of a pair."""
    for mark in cut.piece.marks:
        if mark.kind is MarkKind.CENTRE_LINE:
            return mark.points[0]
    if cut.fold is not None:
        x, y = cut.fold[0]
        return float(x), float(y)
    if cut.piece.count.turned and cut.piece.grain is not None:
        return cut.piece.grain.tail
    return None


def _any_point(cut: CutPiece) -> Point:
    x, y = cut.net_line[0]
    return float(x), float(y)


def phase_along(match: Match, turn_deg: float) -> float | None:
    """Phase of the anchor along the cloth for a turn of 0 or 180 degrees, mm."""
    if match.level is None:
        return None
    return match.level if math.isclose(turn_deg % 360, 0.0) else -match.level
