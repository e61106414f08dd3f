"""Net line to cut line: one piece in, one cut piece out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.allowances.chain import Chain, close_chain, makers_of, offset_chain
from nesting.allowances.cut_piece import CutNotch, CutPiece
from nesting.allowances.notches import carry_notch, notch_findings
from nesting.allowances.widths import has, inward_runs, outward_runs
from nesting.clipping import Fill, intersection, union
from nesting.errors import AllowanceError
from nesting.findings import Finding, Level
from nesting.lines import distance_left, mirrored_across, unit
from nesting.pieces.check import check_piece, widest
from nesting.pieces.outline import AllowanceState, Edge, EdgeKind
from nesting.pieces.piece import DrawnAs, Piece, Point
from nesting.pieces.unfold import OTHER_HALF, unfold
from nesting.polygon import FloatArray, as_points, bounds, signed_area

SIMPLIFY_MM: Final = 0.02
"""The cut line leaves out points that bend it by less than this."""

ADD_BACK_MM: Final = 0.05
"""A net line found inside an included allowance gives the drawn line back to this, or we say so."""

CORNER_CUT: Final = 2.5
"""An edge up to this many times as long as its included allowance may be a cut-off corner, which
has no seam of its own: a right-angled point cut back by one width leaves an edge twice as long."""

ON_FOLD_MM: Final = 0.005
"""Points of the cut line this near to the fold line lie on it."""


BoolArray: TypeAlias = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A closed line (N, 2) and the edge that made each segment to the next point."""

    points: FloatArray
    makers: tuple[str, ...]


def cut_piece(piece: Piece) -> CutPiece:
    """The cut piece of a piece as drafted: every edge ``none``, ``included`` or ``add n``.

    A half piece is unfolded, offset whole, and halved again, so that its allowance is right across
    the fold. Raises PieceError for a piece that cannot be used and AllowanceError where the
    allowance is larger than the piece.
    """
    findings = list(check_piece(piece))
    _check_scale(piece)
    whole = unfold(piece)
    cut = _begun(piece, _cut_line(piece, whole))
    net, said = _net_line(piece, whole)
    findings += [*said, *_swallowed(piece, cut)]
    cut = _simplified(piece, cut)
    if not _holds(cut.points, net):
        raise _too_large(piece, "the net line does not lie inside the cut line")
    notches = tuple(carry_notch(piece, n, cut.points) for n in piece.notches)
    return CutPiece(
        piece=piece,
        cut_line=cut.points,
        net_line=net,
        fold=_fold_on(piece, cut.points),
        notches=notches,
        marks=piece.marks,
        findings=(*findings, *notch_findings(piece, notches)),
        runs=_stretches(cut),
    )


def unfold_cut(cut: CutPiece) -> CutPiece:
    """The whole cut piece of a half one, for cloth that lies open: twice its area, exactly.

    A cut piece without a fold is returned as it is.
    """
    if cut.fold is None:
        return cut
    a, b = cut.fold
    whole = unfold(cut.piece)
    notches = (*cut.notches, *(_mirrored_notch(n, a, b) for n in cut.notches))
    fold = cut.piece.fold_edges[0].name
    runs = tuple((name, path) for name, path in cut.runs if name != fold)
    others = ((n + OTHER_HALF, as_points(mirrored_across(p, a, b)[::-1])) for n, p in runs)
    return CutPiece(
        piece=whole,
        cut_line=_doubled(cut.cut_line, a, b),
        net_line=_doubled(cut.net_line, a, b),
        fold=None,
        notches=notches,
        marks=whole.marks,
        findings=cut.findings,
        runs=(*runs, *reversed(tuple(others))),
    )


def _check_scale(piece: Piece) -> None:
    x0, y0, x1, y1 = bounds(piece.outline)
    longest = max(x1 - x0, y1 - y0)
    for edge in piece.edges:
        if widest(edge) + edge.inlay_mm > longest:
            raise _too_large(
                piece,
                f"edge {edge.name!r} is to have {widest(edge) + edge.inlay_mm:g} mm, and the "
                f"whole piece measures {x1 - x0:.1f} by {y1 - y0:.1f} mm",
                edge.name,
            )


def _too_large(piece: Piece, why: str, edge: str = "") -> AllowanceError:
    return AllowanceError(
        f"{piece.name}: allowance larger than the piece: {why}",
        hint="check the unit of the allowance, or make it narrower",
        where=f"{piece.name}/{edge}" if edge else piece.name,
        code="allowance-too-large",
    )


def _cut_line(piece: Piece, whole: Piece) -> Line:
    if not has(whole.edges, AllowanceState.ADD):
        return _as_drawn(piece.edges)
    chain = offset_chain(outward_runs(whole.edges))
    rings = close_chain(chain, whole.outline)
    if not rings or signed_area(rings[0]) <= 0:
        raise _too_large(whole, "no cut line is left")
    return _halved(piece, Line(rings[0], tuple(makers_of(rings[0], chain, ()))))


def _begun(piece: Piece, line: Line) -> Line:
    """The same closed line, begun where the first edge's stretch begins; that of a half piece ends
    with its fold edge."""
    fold = [i for i, e in enumerate(piece.edges) if e.kind is EdgeKind.FOLD]
    order = [*piece.edges[fold[0] + 1 :], *piece.edges[: fold[0]]] if fold else [*piece.edges]
    for edge in order:
        for i, maker in enumerate(line.makers):
            if maker == edge.name and line.makers[i - 1] != maker:
                makers = (*line.makers[i:], *line.makers[:i])
                return Line(as_points(np.roll(line.points, -i, axis=0)), makers)
    return line


def _as_drawn(edges: Sequence[Edge]) -> Line:
    paths = [e.points[[0, -1]] if e.kind is EdgeKind.FOLD else e.points for e in edges]
    names = [e.name for e, p in zip(edges, paths, strict=True) for _ in range(len(p) - 1)]
    points = np.concatenate([p[:-1] for p in paths])
    keep = np.hypot(*(np.roll(points, -1, axis=0) - points).T) > 0
    return Line(as_points(points[keep]), tuple(n for n, k in zip(names, keep, strict=True) if k))


def _net_line(piece: Piece, whole: Piece) -> tuple[FloatArray, list[Finding]]:
    if not has(whole.edges, AllowanceState.INCLUDED):
        return _begun(piece, _as_drawn(piece.edges)).points, _unknown_net(piece)
    net = _inward(whole)
    return _begun(piece, _halved(piece, net)).points, _added_back(whole, net)


def _inward(whole: Piece) -> Line:
    """The line inside the included allowances: a sheet of cloth round the piece, grown inwards."""
    chain = offset_chain(inward_runs(whole.edges))
    x0, y0, x1, y1 = bounds(whole.outline)
    far = 1.0 + 2.0 * max(x1 - x0, y1 - y0)
    sheet = as_points(
        [(x0 - far, y0 - far), (x1 + far, y0 - far), (x1 + far, y1 + far), (x0 - far, y1 + far)]
    )
    rings = union([sheet, chain.points], fill=Fill.POSITIVE, keep_collinear=True)
    holes = sorted((r for r in rings if signed_area(r) < 0), key=signed_area)
    if not holes or abs(signed_area(holes[0])) < 1.0:
        raise _too_large(whole, "nothing is left inside the included allowances")
    makers = makers_of(holes[0], chain, ())
    for edge in whole.edges:
        # A short edge that only cuts off a corner may well have no seam of its own.
        if edge.name not in makers and edge.length_mm > CORNER_CUT * max(widest(edge), 1.0):
            raise _too_large(whole, f"no net line is left along edge {edge.name!r}", edge.name)
    # Walked backwards, the segment that leaves point i is the one that came to it before.
    return Line(as_points(holes[0][::-1]), (*reversed(makers[:-1]), makers[-1]))


def _added_back(whole: Piece, net: Line) -> list[Finding]:
    """Adds the included widths to the net line again and compares with what was drawn."""
    findings = _lost(whole, net)
    edges = [
        replace(
            whole.edge(name),
            points=path,
            allowance=replace(whole.edge(name).allowance, state=AllowanceState.ADD),
        )
        if whole.edge(name).allowance.state is AllowanceState.INCLUDED
        else replace(whole.edge(name), points=path)
        for name, path in _stretches(net)
    ]
    ring = close_chain(offset_chain(outward_runs(edges, inlay=False)), net.points)[0]
    back = shapely.LinearRing(ring)
    for edge in whole.edges:
        if edge.allowance.state is not AllowanceState.INCLUDED or edge.name.endswith(OTHER_HALF):
            continue
        stray = _stray(edge, back)
        if stray > ADD_BACK_MM:
            findings.append(
                Finding(
                    "included-not-parallel",
                    Level.WARNING,
                    f"{whole.name}: edge {edge.name!r} as drawn bends too tightly for the "
                    f"{widest(edge):g} mm it is said to include: off by {stray:.1f} mm",
                    where=f"{whole.name}/{edge.name}",
                    hint="check the seam line drawn inside it, or make the allowance narrower",
                )
            )
    return findings


def _lost(whole: Piece, net: Line) -> list[Finding]:
    lost = [e.name for e in whole.edges if e.name not in net.makers]
    return [
        Finding(
            "edge-without-seam",
            Level.NOTE,
            f"{whole.name}: edge {name!r} lies wholly in the allowance of its neighbours; it is "
            "taken for a corner cut off",
            where=f"{whole.name}/{name}",
            hint="if it is a seam, its included allowance is too wide",
        )
        for name in lost
        if not name.endswith(OTHER_HALF)
    ]


def _stray(edge: Edge, back: shapely.LinearRing) -> float:
    """Greatest distance of an edge's points from the line added back, away from its corners."""
    steps = np.hypot(*np.diff(edge.points, axis=0).T)
    places = np.concatenate([[0.0], np.cumsum(steps)])
    margin = 2.0 * widest(edge)
    inner = edge.points[(places > margin) & (places < places[-1] - margin)]
    if not len(inner):
        return 0.0
    return float(shapely.distance(shapely.points(inner), back).max())


def _unknown_net(piece: Piece) -> list[Finding]:
    unknown = [
        e.name
        for e in piece.edges
        if e.allowance.state is AllowanceState.INCLUDED and widest(e) == 0
    ]
    if not unknown and piece.drawn_as is DrawnAs.NET:
        return []
    if not unknown and any(e.allowance.state is AllowanceState.INCLUDED for e in piece.edges):
        return []
    return [
        Finding(
            "net-line-unknown",
            Level.NOTE,
            f"{piece.name}: drawn with its allowance, but not how wide; the drawn line is cut",
            where=f"{piece.name}/{unknown[0]}" if unknown else piece.name,
            hint="give the width that is included, so that notches stay clear of the seam",
        )
    ]


def _halved(piece: Piece, line: Line) -> Line:
    """The part of a whole line on the piece's side of its fold edge; the fold closes it."""
    if not piece.fold_edges:
        return line
    fold = piece.fold_edges[0]
    a, b = fold.points[0], fold.points[-1]
    along = unit(b - a)
    left = np.array([-along[1], along[0]])
    reach = 4.0 * float(np.abs(np.ptp(line.points, axis=0)).max())
    middle = (a + b) / 2
    side = as_points(
        [
            middle - along * reach,
            middle + along * reach,
            middle + along * reach + left * reach,
            middle - along * reach + left * reach,
        ]
    )
    rings = sorted(intersection([line.points], [side], keep_collinear=True), key=signed_area)
    ring = np.array(rings[-1])
    on_fold = np.abs(distance_left(as_points(ring), a, b)) <= ON_FOLD_MM
    ring[on_fold] = a + np.outer((ring[on_fold] - a) @ along, along)
    return _named(piece, as_points(ring), on_fold, line)


def _named(piece: Piece, ring: FloatArray, on_fold: BoolArray, line: Line) -> Line:
    fold = piece.fold_edges[0].name
    chain = Chain(line.points, line.makers)
    makers = makers_of(ring, chain, ())
    both = on_fold & np.roll(on_fold, -1)
    makers = [fold if f else m for f, m in zip(both, makers, strict=True)]
    starts = [i for i in range(len(ring)) if both[i] and not both[i - 1]]
    if len(starts) != 1:
        raise _too_large(piece, "the cut line meets the fold in more than one stretch", fold)
    # Begin after the fold edge; drop points inside it; end with the fold as one segment.
    ring, makers = np.roll(ring, -starts[0], axis=0), makers[starts[0] :] + makers[: starts[0]]
    count = next(i for i, m in enumerate(makers) if m != fold)
    points = np.vstack([ring[count:], ring[:1]])
    return Line(as_points(points), (*makers[count:], fold))


def _fold_on(piece: Piece, cut_line: FloatArray) -> FloatArray | None:
    # The cut line of a half piece begins at the end of its fold edge: its last segment is the fold.
    return as_points(cut_line[[-1, 0]]) if piece.fold_edges else None


def _stretches(line: Line) -> tuple[tuple[str, FloatArray], ...]:
    """Open stretches of a line with one maker each, (M, 2), in the line's order."""
    n = len(line.points)
    starts = [i for i in range(n) if line.makers[i] != line.makers[i - 1]] or [0]
    closed = np.vstack([line.points, line.points])
    ends = [*starts[1:], starts[0] + n]
    return tuple(
        (line.makers[i], as_points(closed[i : j + 1])) for i, j in zip(starts, ends, strict=True)
    )


def _simplified(piece: Piece, line: Line) -> Line:
    """The line with fewer points where an allowance was added; corners between edges are kept, and
    so is every point of a line that was drawn to be cut."""
    added = {e.name for e in piece.edges if e.allowance.state is AllowanceState.ADD}
    names: list[str] = []
    points: list[FloatArray] = []
    for name, path in _stretches(line):
        tolerance = SIMPLIFY_MM if name in added else 0.0
        short = shapely.get_coordinates(
            shapely.simplify(shapely.LineString(path), tolerance, preserve_topology=False)
        )
        points.append(short[:-1])
        names += [name] * (len(short) - 1)
    ring = as_points(np.concatenate(points))
    if len(ring) < 3 or not shapely.is_valid(shapely.Polygon(ring)):
        return line
    return Line(ring, tuple(names))


def _holds(cut_line: FloatArray, net: FloatArray) -> bool:
    outer = shapely.Polygon(cut_line)
    return bool(shapely.is_valid(outer)) and bool(
        shapely.covers(shapely.buffer(outer, ADD_BACK_MM), shapely.Polygon(net))
    )


def _swallowed(piece: Piece, cut: Line) -> list[Finding]:
    made = set(cut.makers)
    return [
        Finding(
            "allowance-swallowed",
            Level.WARNING,
            f"{piece.name}: the allowance of edge {e.name!r} lies wholly inside that of its "
            "neighbours",
            where=f"{piece.name}/{e.name}",
            hint="make the allowances there narrower than the feature, or cut the piece in two",
        )
        for e in piece.edges
        if e.name not in made and e.length_mm >= 0.5
    ]


def _doubled(half: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    """A closed half line whose last segment lies on a -> b, and its mirror image, as one."""
    other = mirrored_across(half[1:-1], a, b)[::-1]
    return as_points(np.vstack([half, other]))


def _mirrored_notch(notch: CutNotch, a: FloatArray, b: FloatArray) -> CutNotch:
    at, tip = (_pair(p) for p in mirrored_across(as_points([notch.at, notch.tip]), a, b))
    return replace(notch, at=at, tip=tip)


def _pair(p: FloatArray) -> Point:
    return float(p[0]), float(p[1])
