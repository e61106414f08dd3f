"""How each corner of a piece is turned by its cut line, in words: what was chosen and what may be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from nesting.allowances.chain import MITRE_LIMIT, Join, Parallel, Run, parallel, plain_joint
from nesting.allowances.corners import chosen_corner, corner_joint
from nesting.allowances.stretches import outward
from nesting.lines import along_of, meet, turn_of
from nesting.pieces.outline import AllowanceState, Corner, Edge, EdgeKind, Pressed
from nesting.pieces.piece import Piece
from nesting.pieces.unfold import unfold
from nesting.polygon import FloatArray
from nesting.tolerance import POINT_MM, SHORT_EDGE_MM

STRAIGHT_DEG: Final = 0.5
"""Edges that turn by less than this are joined without a corner to be seen."""


class Treatment(StrEnum):
    """What the cut line does at a corner."""

    MITRE = "mitre"
    STEP = "step"
    CUT_OFF = "cut off"
    HOLLOW = "hollow"
    TURNED_BACK = "turned back"
    STRAIGHT = "straight"
    AS_DRAWN = "as drawn"
    FOLD = "fold"


@dataclass(frozen=True, slots=True)
class CornerMade:
    """The corner at the end of ``edge``: angle inside the piece, degrees; what was ``said``, what was
    ``made`` of it and why, and the words that may be said instead."""

    edge: str
    angle_deg: float
    said: Corner
    made: Treatment
    text: str
    may: tuple[Corner, ...] = (Corner.AUTO,)


def corners_made(piece: Piece) -> tuple[CornerMade, ...]:
    """Of each edge, in order, the corner at its end. The piece must be fit to be cut."""
    whole = unfold(piece)
    edges = {e.name: e for e in whole.edges}
    runs = [run for run, _ in outward(whole)]
    met = {
        one.name: (one, two)
        for one, two in zip(runs, (*runs[1:], runs[0]), strict=True)
        if one.name != two.name or len(edges) == 1
    }
    made = []
    for edge, after in zip(piece.edges, (*piece.edges[1:], piece.edges[0]), strict=True):
        if EdgeKind.FOLD in (edge.kind, after.kind):
            made.append(_at_fold(edge, after))
        elif edge.name not in met or after.length_mm < SHORT_EDGE_MM:
            made.append(_merged(edge, after))
        else:
            one, two = met[edge.name]
            made.append(_corner(edge, edges[two.name], one, two))
    return tuple(made)


def pressings(edge: Edge) -> tuple[Pressed, ...]:
    """The ways in which an edge may be said to be pressed: of seams with an allowance, all."""
    seam = edge.kind is EdgeKind.SEAM and edge.allowance.state is AllowanceState.ADD
    return tuple(Pressed) if seam else ()


def _corner(edge: Edge, after: Edge, one: Run, two: Run) -> CornerMade:
    angle = 180.0 - math.degrees(_turn(one.points[-2:], two.points[:2]))
    p, q = parallel(one), parallel(two)
    treatment = _treatment(edge, after, p, q, angle)
    if treatment in (Treatment.MITRE, Treatment.STEP, Treatment.CUT_OFF, Treatment.TURNED_BACK):
        may = _may(edge, after)
    else:
        may = (Corner.AUTO,)
    text = _text(treatment, edge, after, p, q)
    return CornerMade(edge.name, angle, edge.corner, treatment, text, may)


def _treatment(edge: Edge, after: Edge, p: Parallel, q: Parallel, angle: float) -> Treatment:
    widths = float(p.run.widths[-1]), float(q.run.widths[0])
    if max(widths) <= POINT_MM:
        return Treatment.AS_DRAWN
    if abs(angle - 180.0) < STRAIGHT_DEG:
        return Treatment.STRAIGHT if abs(widths[0] - widths[1]) <= POINT_MM else Treatment.STEP
    if angle > 180.0:
        return Treatment.HOLLOW
    join, plain = corner_joint(edge, after)(p, q), plain_joint(MITRE_LIMIT)(p, q)
    said = edge.corner if edge.corner is not Corner.AUTO else chosen_corner(edge, after)
    if said in (Corner.THIS_TURNS_BACK, Corner.NEXT_TURNS_BACK) and not _same(join, plain):
        return Treatment.TURNED_BACK
    if said is Corner.STEP:
        return Treatment.STEP
    if len(join.points) == 1:
        return Treatment.MITRE
    if said is Corner.BLUNT:
        return Treatment.CUT_OFF
    found = meet(p.ends[-1], p.along[-1], q.starts[0], q.along[0])
    stepped = found is not None and (found[0] < 0 or found[1] > 0)
    return Treatment.STEP if stepped else Treatment.CUT_OFF


def _same(one: Join, two: Join) -> bool:
    return (
        one.points.shape == two.points.shape
        and (one.keep, one.skip) == (two.keep, two.skip)
        and bool(np.allclose(one.points, two.points, atol=1e-3))
    )


def _may(edge: Edge, after: Edge) -> tuple[Corner, ...]:
    """The words that may be said of a corner that sticks out."""
    words = [Corner.AUTO, Corner.MITRE, Corner.STEP, Corner.BLUNT]
    if edge.allowance.state is AllowanceState.ADD:
        words.append(Corner.THIS_TURNS_BACK)
    if after.allowance.state is AllowanceState.ADD:
        words.append(Corner.NEXT_TURNS_BACK)
    return tuple(words)


def _text(treatment: Treatment, edge: Edge, after: Edge, p: Parallel, q: Parallel) -> str:
    match treatment:
        case Treatment.AS_DRAWN:
            return "nothing is added on either side"
        case Treatment.STRAIGHT:
            return "one edge runs on into the other"
        case Treatment.HOLLOW:
            return "a hollow corner: cut to where both allowances meet, and clipped to just before the seam"
        case Treatment.TURNED_BACK:
            folded, under = _folded_first(edge, after)
            return f"the end of {folded.name} is shaped like {under.name}, on which it will lie"
        case Treatment.STEP:
            wide = edge if p.run.widths[-1] >= q.run.widths[0] else after
            return f"{wide.name} is the wider one and ends square"
        case Treatment.CUT_OFF:
            said = edge.corner is Corner.BLUNT
            why = "as asked" if said else f"it would run on over {MITRE_LIMIT:g} widths"
            return f"the point is cut off: {why}"
        case _:
            return "both allowances run on until they meet"


def _folded_first(edge: Edge, after: Edge) -> tuple[Edge, Edge]:
    said = edge.corner if edge.corner is not Corner.AUTO else chosen_corner(edge, after)
    return (edge, after) if said is Corner.THIS_TURNS_BACK else (after, edge)


def _at_fold(edge: Edge, after: Edge) -> CornerMade:
    angle = 180.0 - math.degrees(_turn(edge.points[-2:], after.points[:2]))
    text = "the cut line runs on square across the fold"
    return CornerMade(edge.name, angle, edge.corner, Treatment.FOLD, text)


def _merged(edge: Edge, after: Edge) -> CornerMade:
    angle = 180.0 - math.degrees(_turn(edge.points[-2:], after.points[:2]))
    text = f"an edge of less than {SHORT_EDGE_MM:g} mm is cut as one with its neighbour"
    return CornerMade(edge.name, angle, edge.corner, Treatment.STRAIGHT, text)


def _turn(first: FloatArray, second: FloatArray) -> float:
    """Turn from the last step of one path to the first of the next, radians, left positive."""
    u, v = first[1] - first[0], second[1] - second[0]
    return math.atan2(turn_of(u, v), along_of(u, v))
