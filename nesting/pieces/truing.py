"""Do the pieces sew together? Declared partners are walked against each other along the net line.

An edge's *sewn length* is its length without dart mouths and stated ease. Two partners must agree in
it; their notches must meet; and where the seam ends, the outer edges of the two pieces must run on
smoothly. What is wrong is said, with a drawing of what would mend it; nothing is changed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import shapely

from nesting.errors import PieceError
from nesting.findings import Finding, Level
from nesting.lines import cross, unit
from nesting.pieces.mend import At, end_edge, redraw
from nesting.pieces.mirror import mirror
from nesting.pieces.outline import Edge, EdgeKind
from nesting.pieces.parts import sub_path
from nesting.pieces.piece import Notch, Piece, Style
from nesting.polygon import FloatArray, as_points, path_length, point_along

LENGTH_MM: Final = 1.0
"""Sewn lengths that differ by more than a cutter's tolerance (1 mm) are said."""

NOTCH_MM: Final = 2.0
"""Notches that miss each other by more than this are said: each is cut to 1 mm."""

ANGLE_DEG: Final = 3.0
"""A joined edge that turns by more than this where the seam meets it is said."""

JOINED_DEG: Final = 45.0
"""Edges that meet at a greater turn are a corner of the garment, not a line that runs on."""

FIT_MM: Final = 0.5
"""An edge that strays from another by less than this everywhere is of one shape with it."""

CURVE_RAD: Final = math.radians(15.0)
"""Two steps of a path that turn by less than this are steps of one curve."""

NARROW: Final = 0.6
"""A facing has less than this share of its piece's area (common practice: 5 to 8 cm of it)."""

BLEND_MM: Final = 60.0
"""A proposed edge joins the drawn one this far from the seam."""


@dataclass(frozen=True, slots=True, eq=False)
class Proposal:
    """What would mend a finding: ``edge`` of ``piece`` redrawn at its corner ``at``, onto the line
    ``points`` (N, 2), mm, in the piece's frame. ``length_mm`` is the edge's new length where it is
    ended sooner, 0 where it is redrawn to run on smooth. ``laid`` is the same line in the frame of
    the first piece, as the walk is drawn; ``of_second`` says that the piece is the walk's second."""

    piece: str
    edge: str
    points: FloatArray
    text: str
    at: At = "end"
    length_mm: float = 0.0
    laid: FloatArray = field(default_factory=lambda: as_points([]))
    of_second: bool = False

    def applied(self, piece: Piece) -> Piece:
        """The piece mended. Raises PieceError where a dart or notch is in the way."""
        if self.length_mm > 0:
            return end_edge(piece, self.edge, self.length_mm, at=self.at)
        return redraw(piece, self.edge, self.points, at=self.at)


@dataclass(frozen=True, slots=True)
class NotchMeeting:
    """A notch of one edge and the one it meets, mm of sewn length from the first edge's start;
    ``other_mm`` is None for a notch that meets none."""

    name: str
    here_mm: float | None
    other_mm: float | None

    @property
    def miss_mm(self) -> float:
        """How far the two lie apart, 0 where one is missing."""
        if self.here_mm is None or self.other_mm is None:
            return 0.0
        return self.other_mm - self.here_mm


@dataclass(frozen=True, slots=True, eq=False)
class Walk:
    """One seam walked: the two edges as "piece/edge", their sewn lengths, mm, notches met, and how
    much the joined outer edges turn at the seam's start and end, degrees (positive: a point sticks
    out; negative: a hollow). ``other_laid`` is the second edge laid along the first, (N, 2);
    ``turned_over`` says that the second piece was turned over first."""

    first: str
    second: str
    first_mm: float
    second_mm: float
    notches: tuple[NotchMeeting, ...]
    turn_at_start_deg: float
    turn_at_end_deg: float
    other_laid: FloatArray
    proposals: tuple[Proposal, ...] = ()
    turned_over: bool = False

    @property
    def difference_mm(self) -> float:
        """Sewn length of the first edge less that of the second, mm."""
        return self.first_mm - self.second_mm


def walk_style(style: Style) -> tuple[tuple[Walk, ...], tuple[Finding, ...]]:
    """Every declared seam of a style walked once, and what was found.

    Pieces are taken as drawn net (``allowances.included.net_piece`` makes them so). A partner that
    does not exist is a finding.
    """
    walks: list[Walk] = []
    findings: list[Finding] = []
    seen: set[frozenset[str]] = set()
    for piece in style.pieces:
        for edge in piece.edges:
            if not edge.partner:
                continue
            here = f"{piece.name}/{edge.name}"
            pair = frozenset((here, edge.partner))
            if pair in seen:
                continue
            seen.add(pair)
            found = _partner(style, edge.partner)
            if found is None:
                findings.append(_no_partner(piece, edge))
                continue
            walk = walk_seam(piece, edge.name, *found)
            walks.append(walk)
            findings += findings_of(walk)
    return tuple(walks), tuple(findings)


def walk_seam(first: Piece, first_edge: str, second: Piece, second_edge: str) -> Walk:
    """One seam walked: the second edge from its end against the first from its start, as two pieces
    meet that are drawn for the same hand.

    Where the second piece is drawn for the other hand (or is the first itself: a seam that joins a
    piece to its own mirror image) it is turned over first; that is taken to be so where more outer
    edges then run on (hem to hem, waist to waist), else where notches and outer edges join better.
    Raises PieceError for an edge that is not there.
    """
    over = _turned_over(_walk(first, first_edge, mirror(second), second_edge), second)
    if first is second and first_edge == second_edge:
        return over
    plain = _walk(first, first_edge, second, second_edge)
    path, other = _edge(first, first_edge).points, _edge(second, second_edge).points
    traced = path.shape == other.shape and bool(np.abs(path - other).max() < FIT_MM)
    if traced and (first.cloth != second.cloth or _faces(first, second)):
        # A copy of the edge in its own place: it lies on it when its piece is turned over.
        return _laid_on(over)
    if _misfit(path, over) < FIT_MM < 2 * FIT_MM < _misfit(path, plain):
        return _laid_on(over) if first.cloth != second.cloth else over
    runs_over = _run_ons(first, first_edge, mirror(second), second_edge)
    runs_plain = _run_ons(first, first_edge, second, second_edge)
    lies_on = first.cloth != second.cloth and _apart(over) <= _apart(plain) + NOTCH_MM
    if lies_on and _same_corners(first, first_edge, second, second_edge):
        return _laid_on(over)
    if runs_over != runs_plain:
        # Turned the wrong way round a hem would meet a waist, where nothing can run on smoothly.
        return over if runs_over > runs_plain else plain
    return over if _roughness(over) < _roughness(plain) - ANGLE_DEG else plain


def _turned_over(walk: Walk, second: Piece) -> Walk:
    """A walk along the second piece's mirror image: what is proposed for it, as it is drawn."""
    x0, x1 = (float(f(second.outline[:, 0])) for f in (np.min, np.max))
    other: dict[At, At] = {"start": "end", "end": "start"}
    proposals = tuple(
        replace(
            p,
            points=as_points(np.column_stack([x0 + x1 - p.points[:, 0], p.points[:, 1]])),
            at=other[p.at],
        )
        if p.of_second
        else p
        for p in walk.proposals
    )
    return replace(walk, proposals=proposals, turned_over=True)


def _laid_on(walk: Walk) -> Walk:
    """An edge traced for a lining or a facing lies on its garment: no outer edges run on there."""
    ends = tuple(p for p in walk.proposals if p.length_mm > 0)
    return replace(walk, turn_at_start_deg=0.0, turn_at_end_deg=0.0, proposals=ends)


def _misfit(path: FloatArray, walk: Walk) -> float:
    """How far the second edge strays from the first when their ends lie on one line, mm."""
    shares = np.linspace(0.0, 1.0, 33)
    one, two = (
        np.array([point_along(line, float(t) * path_length(line))[0] for t in shares])
        for line in (path, walk.other_laid)
    )
    there = _Pose.matching(two[0], two[-1] - two[0], one[0], one[-1] - one[0])(two)
    return float(np.hypot(*(there - one).T).max())


def _faces(first: Piece, second: Piece) -> bool:
    """Whether one piece is a narrow part of the other, in its own place: a facing. A front and a back
    drafted upon each other share an edge too, but are of one size."""
    shapes = sorted((shapely.Polygon(p.outline) for p in (first, second)), key=lambda s: s.area)
    narrow = shapes[0].area < NARROW * shapes[1].area
    return bool(narrow and shapes[1].buffer(FIT_MM).covers(shapes[0]))


def _same_corners(first: Piece, first_edge: str, second: Piece, second_edge: str) -> bool:
    """Whether two edges have the same corners in the same order, as one traced from the other has."""
    one, two = _corners(first, first_edge), _corners(second, second_edge)
    return all(abs(a - b) < ANGLE_DEG for a, b in zip(one, two, strict=True))


def _corners(piece: Piece, name: str) -> tuple[float, float]:
    """Inner angles at an edge's start and end, degrees."""
    edge = _edge(piece, name)
    before, after = _before(piece, edge).points, _after(piece, edge).points
    start = _counter_clockwise_deg(edge.points[1] - edge.points[0], before[-2] - before[-1])
    end = _counter_clockwise_deg(after[1] - after[0], edge.points[-2] - edge.points[-1])
    return start, end


def _run_ons(first: Piece, first_edge: str, second: Piece, second_edge: str) -> int:
    """At how many ends of the seam the outer edges are one line of the garment."""
    one, two = _edge(first, first_edge), _edge(second, second_edge)
    ends = (
        (_before(first, one), _after(second, two)),
        (_after(first, one), _before(second, two)),
    )
    return sum(_run_on(near, far) for near, far in ends)


def _roughness(walk: Walk) -> float:
    """How badly two edges meet as walked: notches apart, mm, and outer edges turning, degrees."""
    return _apart(walk) + abs(walk.turn_at_start_deg) + abs(walk.turn_at_end_deg)


def _apart(walk: Walk) -> float:
    """How far all notches of a seam lie apart together, mm."""
    return sum(abs(m.miss_mm) for m in walk.notches)


def _walk(first: Piece, first_edge: str, second: Piece, second_edge: str) -> Walk:
    one, two = _edge(first, first_edge), _edge(second, second_edge)
    first_mm, second_mm = sewn_length(first, one), sewn_length(second, two)
    start = _joint(first, one, second, two, at_start=True)
    end = _joint(first, one, second, two, at_start=False)
    walk = Walk(
        first=f"{first.name}/{one.name}",
        second=f"{second.name}/{two.name}",
        first_mm=first_mm,
        second_mm=second_mm,
        notches=_meetings(first, one, second, two),
        turn_at_start_deg=start.turn_deg,
        turn_at_end_deg=end.turn_deg,
        other_laid=_laid_along(one, two),
    )
    return _with_proposals(walk, first, one, second, two, (start, end))


def sewn_length(piece: Piece, edge: Edge) -> float:
    """Length of an edge without its dart mouths and its stated ease, mm."""
    return edge.length_mm - sum(m for _, m in _mouths(piece, edge)) - edge.ease_mm


def findings_of(walk: Walk) -> list[Finding]:
    """What a person should look at in a walked seam."""
    where = walk.first
    said: list[Finding] = []
    gap = walk.difference_mm
    if abs(gap) > LENGTH_MM:
        longer, shorter = (walk.first, walk.second) if gap > 0 else (walk.second, walk.first)
        said.append(
            Finding(
                "seam-lengths-differ",
                Level.WARNING,
                f"{longer} is {abs(gap):.1f} mm longer than {shorter} "
                f"({walk.first_mm:.1f} and {walk.second_mm:.1f} mm sewn)",
                where=where,
                hint="shorten or lengthen one edge, or state the difference as ease",
            )
        )
    for met in walk.notches:
        if met.here_mm is None or met.other_mm is None:
            if _at_corner(met, walk.first_mm):
                continue
            on, off = (
                (walk.first, walk.second) if met.other_mm is None else (walk.second, walk.first)
            )
            at = met.here_mm if met.other_mm is None else met.other_mm
            said.append(
                Finding(
                    "notch-alone",
                    Level.WARNING,
                    f"the notch on {on} at {at:.1f} mm meets none on {off}",
                    where=on,
                    hint="add its partner or take it away",
                )
            )
        elif abs(met.miss_mm) > NOTCH_MM:
            said.append(
                Finding(
                    "notches-miss",
                    Level.WARNING,
                    f"a notch on {walk.first} at {met.here_mm:.1f} mm and its partner on "
                    f"{walk.second} lie {abs(met.miss_mm):.1f} mm apart",
                    where=where,
                    hint="move one of them",
                )
            )
    for end, turn in (("start", walk.turn_at_start_deg), ("end", walk.turn_at_end_deg)):
        if abs(turn) > ANGLE_DEG:
            shape = "a point" if turn > 0 else "a hollow"
            said.append(
                Finding(
                    "joined-edge-turns",
                    Level.WARNING,
                    f"at the {end} of {walk.first} the edge joined with {walk.second} makes {shape}: "
                    f"it turns by {abs(turn):.1f} degrees",
                    where=where,
                    hint="redraw both outer edges as one smooth line across the seam",
                )
            )
    return said


def _at_corner(met: NotchMeeting, length_mm: float) -> bool:
    """Whether a notch stands where the seam ends: it meets the other piece's corner."""
    at = met.here_mm if met.other_mm is None else met.other_mm
    return at is not None and min(abs(at), abs(length_mm - at)) <= NOTCH_MM


@dataclass(frozen=True, slots=True, eq=False)
class _Joint:
    """The outer edges of two pieces where their seam ends: how much they turn, and the smooth line
    across the seam as seen in either piece's frame."""

    turn_deg: float
    here: tuple[str, FloatArray]
    there: tuple[str, FloatArray]


def _joint(first: Piece, one: Edge, second: Piece, two: Edge, *, at_start: bool) -> _Joint:
    """At the first edge's start its own neighbour is the edge before; the second edge, walked
    backwards, begins at its end, and its neighbour there is the edge after."""
    if at_start:
        near, far = _before(first, one), _after(second, two)
        seam, other = one.points, two.points[::-1]
        in_path, out_path = near.points[::-1], far.points
    else:
        near, far = _after(first, one), _before(second, two)
        seam, other = one.points[::-1], two.points
        in_path, out_path = near.points, far.points[::-1]
    # Both outer edges lead away from the corner; sewn, they should leave it in one straight line.
    directions = [_leaving(p) for p in (seam, in_path, out_path, other)]
    if not at_start:
        directions = [directions[k] for k in (1, 0, 3, 2)]
    inside = _counter_clockwise_deg(*directions[:2]) + _counter_clockwise_deg(*directions[2:])
    turn = 180.0 - inside if _run_on(near, far) and abs(180.0 - inside) < JOINED_DEG else 0.0
    there_in_here = _Pose.matching(other[0], other[1] - other[0], seam[0], seam[1] - seam[0])
    carried = there_in_here(as_points(out_path))
    smooth = _smooth(as_points(in_path), carried)
    return _Joint(turn, (near.name, smooth), (far.name, there_in_here.back(smooth)))


def _leaving(path: FloatArray) -> FloatArray:
    """The direction in which a path leaves its start: of a curve given by points, that of the circle
    through the first three, (2,)."""
    first: FloatArray = path[1] - path[0]
    if len(path) < 3:
        return first
    second: FloatArray = path[2] - path[1]
    turn = math.atan2(float(cross(first, second)), float(first @ second))
    if abs(turn) > CURVE_RAD:
        return first
    lengths = float(np.hypot(*first)), float(np.hypot(*second))
    back = -turn * lengths[0] / (lengths[0] + lengths[1])
    c, s = math.cos(back), math.sin(back)
    return np.array([c * first[0] - s * first[1], s * first[0] + c * first[1]])


def _run_on(near: Edge, far: Edge) -> bool:
    """Whether two outer edges are one line of the garment: both hems, or of one name (armhole, neck,
    waist ...). A waistband's end and the skirt's side, say, are not."""
    if EdgeKind.FOLD in (near.kind, far.kind):
        return False
    return near.name == far.name or near.kind is far.kind is EdgeKind.HEM


def _counter_clockwise_deg(u: FloatArray, v: FloatArray) -> float:
    """Angle from ``u`` round to ``v``, counter-clockwise, degrees in [0, 360)."""
    return math.degrees(math.atan2(float(cross(u, v)), float(u @ v))) % 360.0


@dataclass(frozen=True, slots=True, eq=False)
class _Pose:
    """A motion of the plane: turn about ``a`` by ``angle`` and bring it to ``b``."""

    a: FloatArray
    b: FloatArray
    angle: float

    @classmethod
    def matching(
        cls, a: FloatArray, along_a: FloatArray, b: FloatArray, along_b: FloatArray
    ) -> _Pose:
        angle = math.atan2(float(cross(along_a, along_b)), float(along_a @ along_b))
        return cls(np.array(a), np.array(b), angle)

    def __call__(self, points: FloatArray) -> FloatArray:
        return as_points(self.b + (points - self.a) @ self._matrix(self.angle))

    def back(self, points: FloatArray) -> FloatArray:
        return as_points(self.a + (points - self.b) @ self._matrix(-self.angle))

    @staticmethod
    def _matrix(angle: float) -> FloatArray:
        c, s = math.cos(angle), math.sin(angle)
        return np.array([[c, s], [-s, c]])


def _smooth(one: FloatArray, two: FloatArray) -> FloatArray:
    """A curve from a point of ``one`` to a point of ``two``, both leading away from the seam, that
    leaves each in its own direction."""
    a, u = point_along(one, min(BLEND_MM, 0.5 * path_length(one)))
    b, v = point_along(two, min(BLEND_MM, 0.5 * path_length(two)))
    span = float(np.hypot(*(b - a)))
    t = np.linspace(0.0, 1.0, 33)[:, None]
    return as_points(
        (2 * t**3 - 3 * t**2 + 1) * a
        + (t**3 - 2 * t**2 + t) * -u * span
        + (-2 * t**3 + 3 * t**2) * b
        + (t**3 - t**2) * v * span
    )


def _with_proposals(
    walk: Walk, first: Piece, one: Edge, second: Piece, two: Edge, joints: Sequence[_Joint]
) -> Walk:
    proposals: list[Proposal] = []
    if abs(walk.difference_mm) > LENGTH_MM:
        proposals.append(_sooner(walk, first, one, second, two))
    turns = (walk.turn_at_start_deg, walk.turn_at_end_deg)
    ends: tuple[tuple[At, At], ...] = (("end", "start"), ("start", "end"))
    for joint, turn, ats in zip(joints, turns, ends, strict=True):
        if abs(turn) > ANGLE_DEG:
            # The first piece's outer edge ends where its seam starts, the second's starts there.
            sides = ((first, joint.here), (second, joint.there))
            for (piece, (name, line)), at, is_second in zip(sides, ats, (False, True), strict=True):
                text = f"draw {name} smooth across the seam"
                proposals.append(
                    Proposal(
                        piece.name, name, line, text, at, laid=joint.here[1], of_second=is_second
                    )
                )
    return replace(walk, proposals=tuple(proposals))


def _sooner(walk: Walk, first: Piece, one: Edge, second: Piece, two: Edge) -> Proposal:
    """The longer edge ended sooner: at the hem if it runs to one, else where it ends."""
    gap = walk.difference_mm
    is_second = gap < 0
    piece, edge = (second, two) if is_second else (first, one)
    at: At = "end"
    if _before(piece, edge).kind is EdgeKind.HEM and _after(piece, edge).kind is not EdgeKind.HEM:
        at = "start"
    length = edge.length_mm - abs(gap)
    span = (0.0, length) if at == "end" else (abs(gap), edge.length_mm)
    # The second edge lies backwards along the first.
    laid_span = (edge.length_mm - span[1], edge.length_mm - span[0])
    laid = sub_path(walk.other_laid, *laid_span) if is_second else sub_path(edge.points, *span)
    text = f"end {edge.name} {abs(gap):.1f} mm sooner"
    cut = sub_path(edge.points, *span)
    return Proposal(piece.name, edge.name, cut, text, at, length, laid, is_second)


def _mouths(piece: Piece, edge: Edge) -> list[tuple[float, float]]:
    """(start, width) of the dart mouths on an edge, mm along it."""
    return [(d.first_mm, d.second_mm - d.first_mm) for d in piece.darts if d.edge == edge.name]


def _sewn_place(piece: Piece, edge: Edge, at: float) -> float:
    """A place on an edge counted without the mouths before it."""
    return at - sum(min(max(at - start, 0.0), width) for start, width in _mouths(piece, edge))


def _meetings(first: Piece, one: Edge, second: Piece, two: Edge) -> tuple[NotchMeeting, ...]:
    """Notches paired nearest first; ease is spread evenly over the edge that has it."""
    here = [(n, _share(first, one, n)) for n in first.notches if n.edge == one.name]
    there = [(n, 1.0 - _share(second, two, n)) for n in second.notches if n.edge == two.name]
    length = sewn_length(first, one)
    pairs = sorted(
        ((abs(a - b), i, j) for i, (_, a) in enumerate(here) for j, (_, b) in enumerate(there)),
    )
    met: list[NotchMeeting] = []
    used: tuple[set[int], set[int]] = (set(), set())
    for _, i, j in pairs:
        if i in used[0] or j in used[1]:
            continue
        used[0].add(i)
        used[1].add(j)
        met.append(NotchMeeting(here[i][0].name, here[i][1] * length, there[j][1] * length))
    met += [
        NotchMeeting(n.name, a * length, None) for i, (n, a) in enumerate(here) if i not in used[0]
    ]
    met += [
        NotchMeeting(n.name, None, b * length) for j, (n, b) in enumerate(there) if j not in used[1]
    ]
    return tuple(
        sorted(met, key=lambda m: m.here_mm if m.here_mm is not None else m.other_mm or 0.0)
    )


def _share(piece: Piece, edge: Edge, notch: Notch) -> float:
    whole = sewn_length(piece, edge) + edge.ease_mm
    return _sewn_place(piece, edge, notch.distance_mm) / whole if whole > 0 else 0.0


def _laid_along(one: Edge, two: Edge) -> FloatArray:
    """The second edge, backwards, laid with its first stretch on the first edge's."""
    back = as_points(two.points[::-1])
    pose = _Pose.matching(back[0], back[1] - back[0], one.points[0], one.points[1] - one.points[0])
    flipped = pose(back)
    # Right sides together: the second piece is turned over along the seam.
    along = unit(one.points[1] - one.points[0])
    offset = flipped - one.points[0]
    return as_points(one.points[0] + 2 * np.outer(offset @ along, along) - offset)


def _edge(piece: Piece, name: str) -> Edge:
    for edge in piece.edges:
        if edge.name == name:
            return edge
    raise PieceError(
        f"{piece.name}: there is no edge {name!r}",
        hint="name one of: " + ", ".join(e.name for e in piece.edges),
        where=piece.name,
        code="edge-unknown",
    )


def _before(piece: Piece, edge: Edge) -> Edge:
    return piece.edges[piece.edges.index(edge) - 1]


def _after(piece: Piece, edge: Edge) -> Edge:
    return piece.edges[(piece.edges.index(edge) + 1) % len(piece.edges)]


def _partner(style: Style, said: str) -> tuple[Piece, str] | None:
    for piece in style.pieces:
        for edge in piece.edges:
            if said == f"{piece.name}/{edge.name}":
                return piece, edge.name
    return None


def _no_partner(piece: Piece, edge: Edge) -> Finding:
    return Finding(
        "partner-unknown",
        Level.WARNING,
        f"{piece.name}/{edge.name} is to be sewn to {edge.partner}, which the style does not have",
        where=f"{piece.name}/{edge.name}",
        hint='name its partner as "piece/edge"',
    )
