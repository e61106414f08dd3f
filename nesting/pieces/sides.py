"""One side of a seam: an edge, or a row of edges laid end to end as they are sewn.

A side is walked counter-clockwise round its pieces, so a row's first part ends where its second
begins. Frame: that of the part named ``anchor``, whose piece lies as drawn unless it is turned over.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from nesting.errors import PieceError
from nesting.pieces.joints import Pose, counter_clockwise_deg, leaving
from nesting.pieces.mirror import mirror
from nesting.pieces.outline import Edge
from nesting.pieces.partners import said_row
from nesting.pieces.parts import joined
from nesting.pieces.piece import Notch, Piece
from nesting.polygon import FloatArray, as_points, bounds

SAME_MM: Final = 0.01
"""Two notches of one name this near to each other across a join are one, cut in two with its edge."""

Named = tuple[Piece, str]
"""A piece and the name of one of its edges."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """An edge of a side: ``piece`` as it is laid (the mirror image of the drawn one where ``over``),
    ``pose`` from its frame into the side's, and where it begins along the side's path, mm."""

    piece: Piece
    edge: Edge
    over: bool
    pose: Pose
    start_mm: float = 0.0

    @property
    def name(self) -> str:
        """ "piece/edge"."""
        return f"{self.piece.name}/{self.edge.name}"

    @property
    def sewn_mm(self) -> float:
        """Its length without dart mouths and stated ease, mm."""
        return sewn_length(self.piece, self.edge)

    def as_drawn(self, points: FloatArray) -> FloatArray:
        """Points (N, 2) of the side's frame in that of the piece as it is drawn."""
        there = self.pose.back(points)
        if not self.over:
            return there
        x0, _, x1, _ = bounds(self.piece.outline)
        return as_points(np.column_stack([x0 + x1 - there[:, 0], there[:, 1]]))


@dataclass(frozen=True, slots=True)
class Join:
    """Where two edges of a side meet: ``at_mm`` along its path, ``sewn_mm`` of its sewn length before
    it, and how much the path turns there, degrees (positive: a point sticks out), 0 where the two
    pieces are not sewn to each other."""

    at_mm: float
    sewn_mm: float
    before: str
    after: str
    turn_deg: float


@dataclass(frozen=True, slots=True)
class PlacedNotch:
    """A notch of a side: its share of the sewn length, ease spread evenly over the edge that has it,
    and its place along the side's path, mm."""

    name: str
    share: float
    at_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """The parts in walking order, their joined path (N, 2), and the joins between them."""

    parts: tuple[Part, ...]
    path: FloatArray
    joins: tuple[Join, ...]

    @property
    def name(self) -> str:
        """The edges in walking order, as a text."""
        return said_row(p.name for p in self.parts)

    @property
    def sewn_mm(self) -> float:
        """Length of the whole side without dart mouths and stated ease, mm."""
        return sum(p.sewn_mm for p in self.parts)

    @property
    def drawn_mm(self) -> float:
        """Length of the whole path, mm."""
        last = self.parts[-1]
        return last.start_mm + last.edge.length_mm

    @property
    def before(self) -> Edge:
        """The edge that ends where the side begins, in the side's frame."""
        first = self.parts[0]
        return _posed(first, edge_before(first.piece, first.edge))

    @property
    def after(self) -> Edge:
        """The edge that begins where the side ends, in the side's frame."""
        last = self.parts[-1]
        return _posed(last, edge_after(last.piece, last.edge))

    @property
    def cloths(self) -> set[str]:
        """The cloth roles of its pieces."""
        return {p.piece.cloth for p in self.parts}

    def notches(self) -> list[PlacedNotch]:
        """All notches of the side in walking order."""
        found: list[PlacedNotch] = []
        whole, done = self.sewn_mm, 0.0
        for part in self.parts:
            for n in sorted(_notches_of(part), key=lambda n: n.distance_mm):
                share = (done + part.sewn_mm * sewn_share(part.piece, part.edge, n.distance_mm)) / (
                    whole if whole > 0 else 1.0
                )
                here = PlacedNotch(n.name, share, part.start_mm + n.distance_mm)
                if not (found and _same(found[-1], here)):
                    found.append(here)
            done += part.sewn_mm
        return found


def side_of(parts: Sequence[Named], *, anchor: int = 0, over: bool = False) -> Side:
    """The side that these edges make, in walking order, laid end to end.

    The part ``anchor`` lies as drawn, or turned over; the others are turned over or not so that the
    edges that meet at each join are the ones sewn together there, or else are of one name. Where they
    are sewn together the parts lie as that seam puts them; else the path runs straight on. Raises
    PieceError for an edge that is not there.
    """
    hands = _hands(parts)
    flip = over != hands[anchor]
    laid = [
        _laid(piece, name, hand != flip) for (piece, name), hand in zip(parts, hands, strict=True)
    ]
    poses, turns = [Pose.still()], []
    for one, two in itertools.pairwise(laid):
        pose, turn = _pose_after(one, two, poses[-1])
        poses.append(pose)
        turns.append(turn)
    start = 0.0
    made: list[Part] = []
    for part, pose in zip(laid, poses, strict=True):
        made.append(replace(part, pose=_within(pose, poses[anchor]), start_mm=start))
        start += part.edge.length_mm
    sewn = itertools.accumulate(p.sewn_mm for p in made)
    joins = tuple(
        Join(two.start_mm, done, one.name, two.name, turn)
        for one, two, done, turn in zip(made, made[1:], sewn, turns, strict=False)
    )
    path = made[0].edge.points if len(made) == 1 else joined(p.pose(p.edge.points) for p in made)
    return Side(tuple(made), path, joins)


def sewn_length(piece: Piece, edge: Edge) -> float:
    """Length of an edge without its dart mouths and its stated ease, mm."""
    return edge.length_mm - sum(width for _, width in mouths(piece, edge)) - edge.ease_mm


def sewn_share(piece: Piece, edge: Edge, at_mm: float) -> float:
    """How much of an edge's length without dart mouths lies before a place on it, 0 to 1."""
    whole = sewn_length(piece, edge) + edge.ease_mm
    before = at_mm - sum(min(max(at_mm - s, 0.0), width) for s, width in mouths(piece, edge))
    return before / whole if whole > 0 else 0.0


def mouths(piece: Piece, edge: Edge) -> list[tuple[float, float]]:
    """(start, width) of the dart mouths on an edge, mm along it."""
    return [(d.first_mm, d.second_mm - d.first_mm) for d in piece.darts if d.edge == edge.name]


def named_edge(piece: Piece, name: str) -> Edge:
    """The edge of that name. Raises PieceError with the names there are."""
    for edge in piece.edges:
        if edge.name == name:
            return edge
    raise PieceError(
        f"{piece.name}: there is no edge {name!r}",
        hint="name one of: " + ", ".join(e.name for e in piece.edges),
        where=piece.name,
        code="edge-unknown",
    )


def edge_before(piece: Piece, edge: Edge) -> Edge:
    """The edge that ends where this one begins."""
    return piece.edges[piece.edges.index(edge) - 1]


def edge_after(piece: Piece, edge: Edge) -> Edge:
    """The edge that begins where this one ends."""
    return piece.edges[(piece.edges.index(edge) + 1) % len(piece.edges)]


def sewn_together(one: Named, two: Named) -> bool:
    """Whether one of two edges names the other, alone or in a row."""
    (p, e), (q, f) = one, two
    edges = named_edge(p, e), named_edge(q, f)
    return f"{q.name}/{f}" in edges[0].partners or f"{p.name}/{e}" in edges[1].partners


def _laid(piece: Piece, name: str, over: bool) -> Part:
    laid = mirror(piece) if over else piece
    return Part(laid, named_edge(laid, name), over, Pose.still())


def _hands(parts: Sequence[Named]) -> list[bool]:
    """Whether each part must be turned over if the first is not."""
    hands = [False]
    for one, two in itertools.pairwise(parts):
        if one[0] is two[0]:
            hands.append(hands[-1])
            continue
        end = _outer(one, after=not hands[-1])
        # Of equal fits the part is taken as it is drawn.
        fits = [_fit((one[0], end), (two[0], _outer(two, after=over))) for over in (False, True)]
        hands.append(fits[1] > fits[0])
    return hands


def _outer(part: Named, *, after: bool) -> str:
    """The name of the neighbour of an edge of the piece as it is drawn."""
    piece, name = part
    return (edge_after if after else edge_before)(piece, named_edge(piece, name)).name


def _fit(one: Named, two: Named) -> int:
    """How well two outer edges suit each other at a join."""
    return 2 * sewn_together(one, two) + (one[1] == two[1])


def _pose_after(one: Part, two: Part, pose: Pose) -> tuple[Pose, float]:
    """Where ``two`` lies behind ``one`` (which lies at ``pose``), and how much the path turns."""
    same = one.piece.name == two.piece.name and one.over == two.over
    if same and edge_after(one.piece, one.edge).name == two.edge.name:
        return pose, 0.0
    end, start = pose(one.edge.points[-1:])[0], two.edge.points[0]
    near, far = edge_after(one.piece, one.edge), edge_before(two.piece, two.edge)
    if not sewn_together((one.piece, near.name), (two.piece, far.name)):
        back = pose(as_points(one.edge.points[::-1]))
        return Pose.matching(start, leaving(two.edge.points), end, -leaving(back)), 0.0
    seam = pose(near.points)
    far_back = as_points(far.points[::-1])
    inside = counter_clockwise_deg(
        leaving(near.points), leaving(as_points(one.edge.points[::-1]))
    ) + counter_clockwise_deg(leaving(two.edge.points), leaving(far_back))
    turn = (180.0 - inside + 180.0) % 360.0 - 180.0
    return Pose.matching(start, leaving(far_back), end, leaving(seam)), turn


def _within(pose: Pose, anchor: Pose) -> Pose:
    """A pose as seen from the anchor's own frame."""
    angle = pose.angle - anchor.angle
    return Pose(pose.a, anchor.back(pose.b[None, :])[0], angle)


def _posed(part: Part, edge: Edge) -> Edge:
    return replace(edge, points=part.pose(edge.points))


def _notches_of(part: Part) -> list[Notch]:
    return [n for n in part.piece.notches if n.edge == part.edge.name]


def _same(one: PlacedNotch, two: PlacedNotch) -> bool:
    return one.name == two.name and abs(one.at_mm - two.at_mm) < SAME_MM
