"""Net line to cut line: one piece in, one cut piece out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely

from nesting.allowances.chain import Chain, close_chain, makers_of, offset_chain
from nesting.allowances.cut_piece import CutNotch, CutPiece
from nesting.allowances.findings import allowance_findings
from nesting.allowances.included import ADD_BACK_MM, added_back, net_inside, unknown_net
from nesting.allowances.line import Line, as_drawn, begun, halved, simplified, stretches, too_large
from nesting.allowances.marks import clip_marks, dart_marks, dart_notches, inlay_marks
from nesting.allowances.notches import carry_notch, notch_findings
from nesting.allowances.stretches import (
    Stretch,
    foldable_darts,
    net_of,
    outward,
    straight_mouths,
    wedges_of,
)
from nesting.findings import Finding
from nesting.lines import mirrored_across
from nesting.pieces.check import check_piece
from nesting.pieces.piece import Mark, Piece, Point
from nesting.pieces.unfold import OTHER_HALF, unfold
from nesting.pieces.widths import has_added, has_included, widest
from nesting.polygon import FloatArray, as_points, bounds, signed_area


def cut_piece(piece: Piece) -> CutPiece:
    """The cut piece of a piece as drafted: every edge ``none``, ``included`` or ``add n``.

    A half piece is unfolded, offset whole, and halved again, so that its allowance is right across
    the fold. Raises PieceError for a piece that cannot be used and AllowanceError where the
    allowance is larger than the piece.
    """
    checked = check_piece(piece)
    _check_scale(piece)
    whole, wedges = unfold(piece), wedges_of(piece)
    built = outward(whole)
    folded = _folded(whole, built)
    net_line, said = _net_line(piece, whole, folded)
    chain = offset_chain(built) if has_added(whole.edges) else None
    cut = begun(piece, _cut_line(piece, whole, chain, folded))
    straight = straight_mouths(piece, built, chain) if piece.darts and chain else ()
    findings = (*checked, *said, *allowance_findings(piece, wedges, set(cut.makers), straight))
    inlays = _inlays(piece, whole, folded)
    cut = simplified(piece, cut)
    if not _holds(cut.points, net_line):
        raise too_large(piece, "the net line does not lie inside the cut line")
    clips = () if has_included(piece.edges) else clip_marks(piece, cut.points)
    notches = tuple(carry_notch(piece, n, cut.points) for n in piece.notches)
    notches += dart_notches(piece, wedges, cut.points)
    return CutPiece(
        piece=piece,
        cut_line=cut.points,
        net_line=net_line,
        fold=as_points(cut.points[[-1, 0]]) if piece.fold_edges else None,
        notches=notches,
        marks=(*piece.marks, *dart_marks(wedges), *inlays, *clips),
        findings=(*findings, *notch_findings(piece, notches)),
        runs=stretches(cut),
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
        marks=unfold(replace(cut.piece, marks=cut.marks)).marks,
        findings=cut.findings,
        runs=(*runs, *reversed(tuple(others))),
    )


def _check_scale(piece: Piece) -> None:
    x0, y0, x1, y1 = bounds(piece.outline)
    longest = max(x1 - x0, y1 - y0)
    for edge in piece.edges:
        if widest(edge) + edge.inlay_mm > longest:
            raise too_large(
                piece,
                f"edge {edge.name!r} is to have {widest(edge) + edge.inlay_mm:g} mm, and the "
                f"whole piece measures {x1 - x0:.1f} by {y1 - y0:.1f} mm",
                edge.name,
            )


def _folded(whole: Piece, built: Sequence[Stretch]) -> Chain | None:
    """The net line with its dart mouths as their fold leaves them; None without darts, and where a
    dart is so untrue (its finding says so) that the folded line would cross itself."""
    if not any(foldable_darts(whole, e) for e in whole.edges):
        return None
    chain = offset_chain(net_of(built))
    return chain if shapely.is_valid(shapely.Polygon(chain.points)) else None


def _cut_line(piece: Piece, whole: Piece, chain: Chain | None, folded: Chain | None) -> Line:
    """The line round the chain of what is added; the drawn or folded line where nothing is."""
    if chain is None:
        if folded is None:
            return as_drawn(piece.edges)
        return halved(piece, Line(folded.points, folded.makers))
    rings = close_chain(chain, whole.outline if folded is None else folded.points)
    if not rings or signed_area(rings[0]) <= 0:
        raise too_large(whole, "no cut line is left")
    return halved(piece, Line(rings[0], tuple(makers_of(rings[0], chain, ()))))


def _net_line(piece: Piece, whole: Piece, folded: Chain | None) -> tuple[FloatArray, list[Finding]]:
    """Where the seams run: inside what is included, with dart mouths as their fold leaves them."""
    if has_included(whole.edges):
        inside = net_inside(whole)
        return begun(piece, halved(piece, inside)).points, added_back(whole, inside)
    if folded is None:
        return begun(piece, as_drawn(piece.edges)).points, unknown_net(piece)
    line = halved(piece, Line(folded.points, folded.makers))
    return begun(piece, line).points, unknown_net(piece)


def _inlays(piece: Piece, whole: Piece, folded: Chain | None) -> tuple[Mark, ...]:
    if not any(e.inlay_mm > 0 for e in piece.edges):
        return ()
    chain = offset_chain(outward(whole, inlay=False))
    return inlay_marks(piece, stretches(_cut_line(piece, whole, chain, folded)))


def _holds(cut_line: FloatArray, net_line: FloatArray) -> bool:
    outer = shapely.Polygon(cut_line)
    return bool(shapely.is_valid(outer)) and bool(
        shapely.covers(shapely.buffer(outer, ADD_BACK_MM), shapely.Polygon(net_line))
    )


def _doubled(half: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    """A closed half line whose last segment lies on a -> b, and its mirror image, as one."""
    other = mirrored_across(half[1:-1], a, b)[::-1]
    return as_points([*half.tolist(), *other.tolist()])


def _mirrored_notch(notch: CutNotch, a: FloatArray, b: FloatArray) -> CutNotch:
    at, tip = (_pair(p) for p in mirrored_across(as_points([notch.at, notch.tip]), a, b))
    return replace(notch, at=at, tip=tip)


def _pair(p: FloatArray) -> Point:
    return float(p[0]), float(p[1])
