"""Do the pieces sew together? Declared partners are walked against each other along the net line.

An edge's *sewn length* is its length without dart mouths and stated ease. The two sides of a seam, an
edge or a row of edges each, must agree in it; their notches must meet; and where the seam ends, the
outer edges of the two pieces must run on smoothly. What is wrong is said, with a drawing of what would
mend it; nothing is changed. Method: published practice, see tests/external/test_walking_seams.py.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from nesting.findings import Finding
from nesting.lines import unit
from nesting.pieces.joints import Pose, counter_clockwise_deg, leaving, smooth
from nesting.pieces.layers import faces
from nesting.pieces.mend import At
from nesting.pieces.outline import Edge, EdgeKind
from nesting.pieces.partners import Seam, declared_seams, edges_by_name, said_row
from nesting.pieces.parts import sub_path
from nesting.pieces.piece import Piece, Style
from nesting.pieces.sides import Join, Named, Part, PlacedNotch, Side, side_of
from nesting.pieces.walk import ANGLE_DEG, LENGTH_MM, NOTCH_MM, NotchMeeting, Proposal, Walk
from nesting.pieces.walk_findings import findings_of, no_partner, rows_unsaid
from nesting.polygon import FloatArray, as_points, path_length, point_along
from nesting.tolerance import SHORT_EDGE_MM

JOINED_DEG: Final = 45.0
"""Edges that meet at a greater turn are a corner of the garment, not a line that runs on."""

FIT_MM: Final = 0.5
"""An edge that strays from another by less than this everywhere is of one shape with it."""


Runs = frozenset[frozenset[str]]
"""Pairs of edges that follow each other in a row: one line of the garment."""


def walk_style(style: Style) -> tuple[tuple[Walk, ...], tuple[Finding, ...]]:
    """Every declared seam of a style walked once, and what was found.

    Pieces are taken as drawn net (``allowances.included.net_piece`` makes them so). A partner that
    does not exist is a finding.
    """
    walks: list[Walk] = []
    findings: list[Finding] = []
    edges = edges_by_name(style.pieces)
    seams = declared_seams(style)
    runs = _runs(seams)
    for seam in seams:
        unknown = [n for n in (*seam.run, *seam.row) if n not in edges]
        if unknown:
            findings.append(no_partner(seam, unknown))
            continue
        sides = [[(edges[n][0], edges[n][1].name) for n in row] for row in (seam.run, seam.row)]
        anchor = seam.run.index(seam.said_on) if seam.said_on in seam.run else 0
        walk = walk_rows(sides[0], sides[1], anchor=anchor, runs=runs)
        walks.append(walk)
        findings += findings_of(walk)
    return tuple(walks), (*findings, *rows_unsaid(walks))


def walk_seam(first: Piece, first_edge: str, second: Piece, second_edge: str) -> Walk:
    """One seam of two edges walked, as ``walk_rows`` walks rows."""
    return walk_rows([(first, first_edge)], [(second, second_edge)])


def walk_rows(
    first: Sequence[Named], second: Sequence[Named], *, anchor: int = 0, runs: Runs = frozenset()
) -> Walk:
    """One seam walked: the second side from its end against the first from its start, as two pieces
    meet that are drawn for the same hand. Both rows are given in order along the first side, whose
    part ``anchor`` lies as drawn.

    Where the second piece is drawn for the other hand (or is the first itself: a seam that joins a
    piece to its own mirror image) it is turned over first; that is taken to be so where more outer
    edges then run on (hem to hem, waist to waist), else where notches and outer edges join better.
    Edges that follow each other in ``runs`` run on too. Raises PieceError for an edge that is not
    there.
    """
    one = side_of(first, anchor=anchor)
    # Walked backwards along the first side: the row's last edge comes first on its own way round.
    back = list(reversed(second))
    two = side_of(back), side_of(back, over=True)
    plain, over = (_walk(one, side, runs) for side in two)
    walk = _better(one, two, plain, over, runs)
    if len(second) < 2:
        return walk
    row = [side_of(second, over=o) for o in (False, True)]
    fits = [max(_run_ons(one, side, runs) for side in sides) for sides in (row, two)]
    return replace(walk, order_doubted=fits[0] > fits[1])


def _better(one: Side, two: tuple[Side, Side], plain: Walk, over: Walk, runs: Runs) -> Walk:
    """Of a walk with the second side as drawn and one with it turned over, the one that is sewn."""
    first, second = one.parts[0], two[0].parts[0]
    single = len(one.parts) == len(two[0].parts) == 1
    if single and first.piece is second.piece and first.edge.name == second.edge.name:
        return over
    other_cloth = one.cloths.isdisjoint(two[0].cloths)
    path, other = one.path, two[0].path
    traced = path.shape == other.shape and bool(np.abs(path - other).max() < FIT_MM)
    if single and traced and (other_cloth or faces(first.piece, second.piece)):
        # A copy of the edge in its own place: it lies on it when its piece is turned over.
        return _laid_on(over)
    if _misfit(path, over) < FIT_MM < 2 * FIT_MM < _misfit(path, plain):
        return _laid_on(over) if other_cloth else over
    runs_plain, runs_over = (_run_ons(one, side, runs) for side in two)
    lies_on = other_cloth and _apart(over) <= _apart(plain) + NOTCH_MM
    if lies_on and _same_corners(one, two[0]):
        return _laid_on(over)
    if runs_over != runs_plain:
        # Turned the wrong way round a hem would meet a waist, where nothing can run on smoothly.
        return over if runs_over > runs_plain else plain
    return over if _roughness(over) < _roughness(plain) - ANGLE_DEG else plain


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
    there = Pose.matching(two[0], two[-1] - two[0], one[0], one[-1] - one[0])(two)
    return float(np.hypot(*(there - one).T).max())


def _same_corners(one: Side, two: Side) -> bool:
    """Whether two sides have the same corners in the same order, as one traced from the other has."""
    ends = zip(_corners(one), _corners(two), strict=True)
    return all(abs(a - b) < ANGLE_DEG for a, b in ends)


def _corners(side: Side) -> tuple[float, float]:
    """Inner angles at a side's start and end, degrees."""
    path, before, after = side.path, side.before.points, side.after.points
    start = counter_clockwise_deg(path[1] - path[0], before[-2] - before[-1])
    end = counter_clockwise_deg(after[1] - after[0], path[-2] - path[-1])
    return start, end


def _run_ons(one: Side, two: Side, runs: Runs) -> int:
    """At how many ends of the seam the outer edges are one line of the garment."""
    return sum(_run_on(ends, runs) for ends in (_ends(one, two, True), _ends(one, two, False)))


def _roughness(walk: Walk) -> float:
    """How badly two edges meet as walked: notches apart, mm, and outer edges turning, degrees."""
    return _apart(walk) + abs(walk.turn_at_start_deg) + abs(walk.turn_at_end_deg)


def _apart(walk: Walk) -> float:
    """How far all notches of a seam lie apart together, mm."""
    return sum(abs(m.miss_mm) for m in walk.notches)


def _walk(one: Side, two: Side, runs: Runs) -> Walk:
    start = _joint(one, two, runs, at_start=True)
    end = _joint(one, two, runs, at_start=False)
    walk = Walk(
        first=one.name,
        second=said_row(p.name for p in reversed(two.parts)),
        first_mm=one.sewn_mm,
        second_mm=two.sewn_mm,
        notches=_meetings(one, two),
        turn_at_start_deg=start.turn_deg,
        turn_at_end_deg=end.turn_deg,
        laid=one.path,
        other_laid=_laid_along(one.path, two.path),
        turned_over=two.parts[-1].over,
        turned=frozenset(p.name for p in (*one.parts, *two.parts) if p.over),
        joins=one.joins,
        other_joins=tuple(
            Join(two.drawn_mm - j.at_mm, two.sewn_mm - j.sewn_mm, j.after, j.before, j.turn_deg)
            for j in reversed(two.joins)
        ),
    )
    return _with_proposals(walk, one, two, (start, end))


@dataclass(frozen=True, slots=True, eq=False)
class _Joint:
    """The outer edges of two pieces where their seam ends: how much they turn, and the smooth line
    across the seam: of the first side and of the second, the part it belongs to, the outer edge's
    name and the line in that side's frame."""

    turn_deg: float
    here: tuple[Part, str, FloatArray]
    there: tuple[Part, str, FloatArray]


def _ends(one: Side, two: Side, at_start: bool) -> tuple[tuple[Part, Edge], tuple[Part, Edge]]:
    """The outer edges that meet at an end of the seam, each with the part it belongs to.

    At the first side's start its own neighbour is the edge before; the second side, walked backwards,
    begins at its end, and its neighbour there is the edge after."""
    if at_start:
        return (one.parts[0], one.before), (two.parts[-1], two.after)
    return (one.parts[-1], one.after), (two.parts[0], two.before)


def _joint(one: Side, two: Side, runs: Runs, *, at_start: bool) -> _Joint:
    ends = _ends(one, two, at_start)
    (here, near), (there, far) = ends
    if at_start:
        seam, other = one.path, as_points(two.path[::-1])
        in_path, out_path = as_points(near.points[::-1]), far.points
    else:
        seam, other = as_points(one.path[::-1]), two.path
        in_path, out_path = near.points, as_points(far.points[::-1])
    # Both outer edges lead away from the corner; sewn, they should leave it in one straight line.
    directions = [leaving(p) for p in (seam, in_path, out_path, other)]
    if not at_start:
        directions = [directions[k] for k in (1, 0, 3, 2)]
    inside = counter_clockwise_deg(*directions[:2]) + counter_clockwise_deg(*directions[2:])
    turn = 180.0 - inside if _run_on(ends, runs) and abs(180.0 - inside) < JOINED_DEG else 0.0
    there_in_here = Pose.matching(other[0], other[1] - other[0], seam[0], seam[1] - seam[0])
    line = smooth(in_path, there_in_here(out_path))
    return _Joint(turn, (here, near.name, line), (there, far.name, there_in_here.back(line)))


def _run_on(ends: tuple[tuple[Part, Edge], tuple[Part, Edge]], runs: Runs) -> bool:
    """Whether two outer edges are one line of the garment: both hems, of one name (armhole, neck,
    waist ...), or one after the other in a row. A waistband's end and the skirt's side are not."""
    (here, near), (there, far) = ends
    if EdgeKind.FOLD in (near.kind, far.kind):
        return False
    names = frozenset((f"{here.piece.name}/{near.name}", f"{there.piece.name}/{far.name}"))
    return near.name == far.name or near.kind is far.kind is EdgeKind.HEM or names in runs


def _runs(seams: Sequence[Seam]) -> Runs:
    """Which edges follow each other in a row of the style."""
    rows = [row for seam in seams for row in (seam.run, seam.row)]
    return frozenset(frozenset(two) for row in rows for two in itertools.pairwise(row))


def _with_proposals(walk: Walk, one: Side, two: Side, joints: Sequence[_Joint]) -> Walk:
    proposals: list[Proposal] = []
    if abs(walk.difference_mm) > LENGTH_MM:
        proposals += _sooner(walk, one, two)
    turns = (walk.turn_at_start_deg, walk.turn_at_end_deg)
    ends: tuple[tuple[At, At], ...] = (("end", "start"), ("start", "end"))
    for joint, turn, ats in zip(joints, turns, ends, strict=True):
        if abs(turn) > ANGLE_DEG:
            # The first piece's outer edge ends where its seam starts, the second's starts there.
            sides = (joint.here, joint.there)
            for (part, name, line), at, is_second in zip(sides, ats, (False, True), strict=True):
                proposals.append(
                    Proposal(
                        part.piece.name,
                        name,
                        part.as_drawn(line),
                        f"draw {name} smooth across the seam",
                        _as_drawn(part, at),
                        laid=joint.here[2],
                        of_second=is_second,
                    )
                )
    return replace(walk, proposals=tuple(proposals))


def _sooner(walk: Walk, one: Side, two: Side) -> list[Proposal]:
    """The longer side ended sooner: at the hem if it runs to one, else where it ends. Nothing where
    the edge that lies there is not long enough for that."""
    gap = abs(walk.difference_mm)
    is_second = walk.difference_mm < 0
    side = two if is_second else one
    to_hem = side.before.kind is EdgeKind.HEM and side.after.kind is not EdgeKind.HEM
    at: At = "start" if to_hem else "end"
    part = side.parts[0 if at == "start" else -1]
    edge, whole = part.edge, side.drawn_mm
    length = edge.length_mm - gap
    if length <= SHORT_EDGE_MM:
        return []
    span = (0.0, whole - gap) if at == "end" else (gap, whole)
    # The second side lies backwards along the first.
    laid_span = (whole - span[1], whole - span[0])
    laid = sub_path(walk.other_laid, *laid_span) if is_second else sub_path(side.path, *span)
    text = f"end {edge.name} {gap:.1f} mm sooner"
    kept = (0.0, length) if at == "end" else (gap, edge.length_mm)
    line = part.as_drawn(part.pose(sub_path(edge.points, *kept)))
    there = _as_drawn(part, at)
    return [Proposal(part.piece.name, edge.name, line, text, there, length, laid, is_second)]


def _as_drawn(part: Part, at: At) -> At:
    """Which corner of an edge of the piece as drawn that is, which may have been turned over."""
    other: dict[At, At] = {"start": "end", "end": "start"}
    return other[at] if part.over else at


def _meetings(one: Side, two: Side) -> tuple[NotchMeeting, ...]:
    """Notches paired nearest first; ease is spread evenly over the edge that has it."""
    here, there = one.notches(), two.notches()
    length, other_drawn = one.sewn_mm, two.drawn_mm

    def mine(n: PlacedNotch) -> tuple[float, float]:
        return n.share * length, n.at_mm

    def theirs(n: PlacedNotch) -> tuple[float, float]:
        return (1.0 - n.share) * length, other_drawn - n.at_mm

    pairs = sorted(
        (abs(a.share - (1.0 - b.share)), i, j)
        for i, a in enumerate(here)
        for j, b in enumerate(there)
    )
    met: list[NotchMeeting] = []
    used: tuple[set[int], set[int]] = (set(), set())
    for _, i, j in pairs:
        if i in used[0] or j in used[1]:
            continue
        used[0].add(i)
        used[1].add(j)
        (a, at_a), (b, at_b) = mine(here[i]), theirs(there[j])
        met.append(NotchMeeting(here[i].name, a, b, at_a, at_b))
    for i, n in enumerate(here):
        if i not in used[0]:
            met.append(NotchMeeting(n.name, mine(n)[0], None, mine(n)[1], None))
    for j, n in enumerate(there):
        if j not in used[1]:
            met.append(NotchMeeting(n.name, None, theirs(n)[0], None, theirs(n)[1]))
    return tuple(
        sorted(met, key=lambda m: m.here_mm if m.here_mm is not None else m.other_mm or 0.0)
    )


def _laid_along(one: FloatArray, two: FloatArray) -> FloatArray:
    """The second path, backwards, laid with its first stretch on the first path's."""
    back = as_points(two[::-1])
    pose = Pose.matching(back[0], back[1] - back[0], one[0], one[1] - one[0])
    flipped = pose(back)
    # Right sides together: the second piece is turned over along the seam.
    along = unit(one[1] - one[0])
    offset = flipped - one[0]
    return as_points(one[0] + 2 * np.outer(offset @ along, along) - offset)
