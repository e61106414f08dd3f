"""Can this piece be cut? Refuses what cannot, and says what a person should look at before cutting."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from itertools import pairwise
from typing import Final

import numpy as np
import shapely

from nesting.errors import PieceError
from nesting.findings import Finding, Level
from nesting.lines import cross, distance_left, unit
from nesting.pieces.outline import AllowanceState, Edge, EdgeKind
from nesting.pieces.piece import Piece, Point
from nesting.pieces.widths import widest
from nesting.polygon import bounds, signed_area
from nesting.tolerance import CONTACT_MM, SHORT_EDGE_MM

LARGEST_PIECE_MM: Final = 50_000.0
"""Longer than the longest bolt a shop sells: such a piece is a slip of units."""

SMALLEST_PIECE_MM: Final = 1.0
"""No part of a garment is smaller than this in both directions: a slip of units."""

JOIN_MM: Final = 0.01
"""Edges join when the end of one lies this near to the start of the next."""

FOLD_LEAN_DEG: Final = 0.1
"""A fold edge may lean from the grain by this much: 1 mm over 570 mm."""

ALONG_MM: Final = 0.01
"""A notch may lie beyond the end of its edge by this much (rounding of a reader)."""


def check_piece(piece: Piece) -> tuple[Finding, ...]:
    """Findings about a piece that can be cut.

    Raises PieceError, naming the piece and the way out, for a piece that cannot: no or endless
    coordinates, absurd size, open, crossed or without area, doubtful fold edge, notch or dart off
    its edge, negative allowance. Whether allowances fit the piece is seen only when they are added.
    """
    _check_name(piece)
    _check_points(piece)
    _check_joins(piece)
    _check_size(piece)
    _check_ring(piece)
    for edge in piece.edges:
        _check_allowance(piece, edge)
    _check_fold(piece)
    _check_notches(piece)
    _check_darts(piece)
    _check_dart_order(piece)
    return (*_grain_findings(piece), *_allowance_findings(piece), *_short_findings(piece))


def _refuse(piece: Piece, code: str, message: str, hint: str, *, edge: str = "") -> PieceError:
    where = f"{piece.name}/{edge}" if edge else piece.name
    return PieceError(f"{piece.name}: {message}", hint=hint, where=where, code=code)


def _check_name(piece: Piece) -> None:
    if not piece.name.strip():
        raise _refuse(piece, "piece-no-name", "a piece has no name", "give every piece a name")
    if not piece.edges:
        raise _refuse(
            piece, "piece-empty", "the piece has no edges", "draw its outline or leave it out"
        )
    if piece.count.drawn < 0 or piece.count.turned < 0 or piece.count.total == 0:
        raise _refuse(
            piece,
            "piece-count",
            f"it is to be cut {piece.count.drawn} times as drawn and {piece.count.turned} times "
            "turned over",
            "ask for at least one, or leave the piece out",
        )
    if not all(e.name.strip() for e in piece.edges):
        raise _refuse(
            piece, "edge-no-name", "an edge has no name", "give every edge a name of its own"
        )
    twice = [n for n, k in Counter(e.name for e in piece.edges).items() if k > 1]
    if twice:
        raise _refuse(
            piece,
            "edge-twice",
            f"more than one edge is named {twice[0]!r}",
            "give every edge a name of its own",
            edge=twice[0],
        )


def _check_points(piece: Piece) -> None:
    for edge in piece.edges:
        if not np.isfinite(edge.points).all():
            raise _refuse(
                piece,
                "piece-not-finite",
                f"edge {edge.name!r} has a point whose place is not a number",
                "draw the edge again; every point needs two finite numbers",
                edge=edge.name,
            )
        if len(edge.points) < 2:
            raise _refuse(
                piece,
                "piece-too-few-points",
                f"edge {edge.name!r} has {len(edge.points)} point(s)",
                "an edge runs between two corners: give at least two points",
                edge=edge.name,
            )
    points: Iterable[Point] = (p for m in piece.marks for p in m.points)
    grain = (piece.grain.tail, piece.grain.head) if piece.grain else ()
    if not all(math.isfinite(x) for p in (*points, *grain) for x in p):
        raise _refuse(
            piece,
            "piece-not-finite",
            "a mark or the grain line has a point whose place is not a number",
            "set the mark or the grain line again",
        )
    if piece.grain and math.dist(piece.grain.tail, piece.grain.head) < SMALLEST_PIECE_MM:
        raise _refuse(
            piece,
            "grain-no-length",
            "the grain line begins and ends at one point",
            "draw it longer, from tail to head",
        )


def _check_joins(piece: Piece) -> None:
    for edge, after in zip(piece.edges, (*piece.edges[1:], piece.edges[0]), strict=True):
        gap = float(np.hypot(*(after.points[0] - edge.points[-1])))
        if gap > JOIN_MM:
            raise _refuse(
                piece,
                "piece-open",
                f"the outline is open: {gap:.2f} mm between the end of {edge.name!r} and the "
                f"start of {after.name!r}",
                "join the two edges at one corner",
                edge=edge.name,
            )


def _check_size(piece: Piece) -> None:
    x0, y0, x1, y1 = bounds(np.concatenate([e.points for e in piece.edges]))
    longest = max(x1 - x0, y1 - y0)
    hint = "check the unit of the drawing: is one unit a millimetre, a centimetre or an inch?"
    if longest > LARGEST_PIECE_MM:
        raise _refuse(
            piece,
            "piece-too-large",
            f"it would be {longest / 1000:.4g} m long; "
            f"pieces up to {LARGEST_PIECE_MM / 1000:.0f} m are cut",
            hint,
        )
    if longest < SMALLEST_PIECE_MM:
        raise _refuse(piece, "piece-too-small", f"it would be {longest:.3g} mm long", hint)


def _check_ring(piece: Piece) -> None:
    outline = piece.outline
    if len(outline) < 3:
        raise _refuse(
            piece,
            "piece-too-few-points",
            f"the outline has {len(outline)} different point(s)",
            "an outline needs at least three corners",
        )
    area = signed_area(outline)
    if abs(area) < 1.0:
        raise _refuse(
            piece,
            "piece-no-area",
            "the outline encloses no area",
            "draw it as a closed shape, not as a line back and forth",
        )
    shape = shapely.Polygon(outline)
    if not shapely.is_valid(shape):
        reason = shapely.is_valid_reason(shape)
        place = reason[reason.find("[") + 1 : -1].split() if "[" in reason else []
        at = f" at x {float(place[0]):.1f}, y {float(place[1]):.1f} mm" if len(place) == 2 else ""
        raise _refuse(
            piece,
            "piece-crossed",
            f"the outline crosses or touches itself{at}",
            "mend the drawing there; an outline is one loop without crossings",
        )
    if area < 0:
        raise _refuse(
            piece,
            "piece-clockwise",
            "the outline runs clockwise",
            "list its edges and their points counter-clockwise (y up)",
        )


def _check_allowance(piece: Piece, edge: Edge) -> None:
    a = edge.allowance
    widths = [a.width_mm, edge.inlay_mm, *(w for _, w in a.steps)]
    if a.end_width_mm is not None:
        widths.append(a.end_width_mm)
    for width in widths:
        if not math.isfinite(width) or width < 0:
            raise _refuse(
                piece,
                "allowance-width",
                f"edge {edge.name!r} has an allowance of {width:g} mm",
                "give a width of 0 mm or more",
                edge=edge.name,
            )
    places = [d for d, _ in a.steps]
    if places and (
        not all(0.0 < d < edge.length_mm for d in places) or places != sorted(set(places))
    ):
        raise _refuse(
            piece,
            "allowance-step",
            f"the allowance of edge {edge.name!r} steps at "
            + ", ".join(f"{d:g}" for d in places)
            + f" mm, and the edge is {edge.length_mm:.1f} mm long",
            "give the steps in order, each between the edge's start and its end",
            edge=edge.name,
        )
    if places and a.end_width_mm is not None:
        raise _refuse(
            piece,
            "allowance-step",
            f"the allowance of edge {edge.name!r} both steps and changes evenly",
            "choose one: steps, or a width at the end",
            edge=edge.name,
        )
    if not math.isfinite(edge.ease_mm):
        raise _refuse(
            piece,
            "ease-not-finite",
            f"edge {edge.name!r} has an ease that is not a number",
            "give the ease in millimetres, or 0",
            edge=edge.name,
        )
    if list(edge.folds_mm) != sorted(set(edge.folds_mm)) or not all(
        0 < f < widest(edge) for f in edge.folds_mm
    ):
        raise _refuse(
            piece,
            "hem-folds",
            f"the hem {edge.name!r} of {widest(edge):g} mm is to be folded at "
            + ", ".join(f"{f:g}" for f in edge.folds_mm)
            + " mm",
            "give the further folds in order, each between 0 and the hem's width",
            edge=edge.name,
        )
    if edge.kind is EdgeKind.FOLD and a.state is not AllowanceState.NONE and max(widths) > 0:
        raise _refuse(
            piece,
            "fold-allowance",
            f"fold edge {edge.name!r} has an allowance",
            "a fold edge lies on the fold of the cloth: set it to none, or make it a seam",
            edge=edge.name,
        )


def _check_fold(piece: Piece) -> None:
    folds = piece.fold_edges
    if len(folds) > 1:
        raise _refuse(
            piece,
            "two-folds",
            "it has more than one fold edge: " + ", ".join(repr(e.name) for e in folds),
            "keep one fold edge; unfold the piece at the other",
            edge=folds[1].name,
        )
    if not folds:
        return
    edge = folds[0]
    a, b = edge.points[0], edge.points[-1]
    if float(np.hypot(*(b - a))) < SHORT_EDGE_MM:
        raise _refuse(
            piece,
            "fold-short",
            f"fold edge {edge.name!r} has no length",
            "draw the fold edge as the straight line where the piece is doubled",
            edge=edge.name,
        )
    stray = float(np.abs(distance_left(edge.points, a, b)).max())
    if stray > CONTACT_MM:
        raise _refuse(
            piece,
            "fold-not-straight",
            f"fold edge {edge.name!r} is not straight: it strays {stray:.2f} mm",
            "draw the fold edge as one straight line, or make it a seam",
            edge=edge.name,
        )
    if piece.grain is not None:
        grain = unit(np.subtract(piece.grain.head, piece.grain.tail))
        lean = math.degrees(math.asin(min(1.0, abs(float(cross(unit(b - a), grain))))))
        if lean > FOLD_LEAN_DEG:
            raise _refuse(
                piece,
                "fold-off-grain",
                f"fold edge {edge.name!r} leans {lean:.1f} degrees from the grain line",
                "the fold of the cloth runs along the grain: turn the grain line, or unfold "
                "the piece",
                edge=edge.name,
            )
    beyond = float(distance_left(piece.outline, a, b).min())
    if beyond < -CONTACT_MM:
        raise _refuse(
            piece,
            "fold-both-sides",
            f"the piece lies on both sides of fold edge {edge.name!r} (by {-beyond:.1f} mm)",
            "draw only the half on one side of the fold",
            edge=edge.name,
        )


def _check_notches(piece: Piece) -> None:
    lengths = {e.name: e.length_mm for e in piece.edges}
    for notch in piece.notches:
        if notch.edge not in lengths:
            raise _refuse(
                piece,
                "notch-no-edge",
                f"a notch names edge {notch.edge!r}, which the piece does not have",
                "name one of: " + ", ".join(lengths),
                edge=notch.edge,
            )
        if not -ALONG_MM <= notch.distance_mm <= lengths[notch.edge] + ALONG_MM:
            raise _refuse(
                piece,
                "notch-off-edge",
                f"a notch lies {notch.distance_mm:g} mm along edge {notch.edge!r}, which is "
                f"{lengths[notch.edge]:.1f} mm long",
                "move the notch onto its edge",
                edge=notch.edge,
            )
        if notch.marks not in (1, 2, 3):
            raise _refuse(
                piece,
                "notch-marks",
                f"a notch on edge {notch.edge!r} has {notch.marks} marks",
                "a notch is single, double or treble: give 1, 2 or 3",
                edge=notch.edge,
            )


def _check_darts(piece: Piece) -> None:
    lengths = {e.name: e.length_mm for e in piece.edges}
    for dart in piece.darts:
        if dart.edge not in lengths:
            raise _refuse(
                piece,
                "dart-no-edge",
                f"dart {dart.name!r} names edge {dart.edge!r}, which the piece does not have",
                "name one of: " + ", ".join(lengths),
                edge=dart.edge,
            )
        if not (-ALONG_MM <= dart.first_mm < dart.second_mm <= lengths[dart.edge] + ALONG_MM):
            raise _refuse(
                piece,
                "dart-off-edge",
                f"the legs of dart {dart.name!r} end {dart.first_mm:g} and {dart.second_mm:g} mm "
                f"along edge {dart.edge!r}, which is {lengths[dart.edge]:.1f} mm long",
                "give the first leg's place before the second's, both on the edge",
                edge=dart.edge,
            )
        if piece.edge(dart.edge).kind is EdgeKind.FOLD:
            raise _refuse(
                piece,
                "dart-on-fold",
                f"dart {dart.name!r} opens at fold edge {dart.edge!r}",
                "unfold the piece first, or move the dart to another edge",
                edge=dart.edge,
            )
        inside = all(math.isfinite(x) for x in dart.point) and shapely.contains_xy(
            shapely.Polygon(piece.outline), *dart.point
        )
        if not inside:
            raise _refuse(
                piece,
                "dart-point-outside",
                f"the point of dart {dart.name!r} does not lie inside the piece",
                "move the dart's point inside",
                edge=dart.edge,
            )


def _check_dart_order(piece: Piece) -> None:
    darts = sorted(piece.darts, key=lambda d: (d.edge, d.first_mm))
    for one, two in pairwise(darts):
        if one.edge == two.edge and two.first_mm < one.second_mm:
            raise _refuse(
                piece,
                "darts-overlap",
                f"darts {one.name!r} and {two.name!r} overlap on edge {one.edge!r}",
                "move one of them along the edge",
                edge=one.edge,
            )


def _grain_findings(piece: Piece) -> Iterable[Finding]:
    if piece.grain is None:
        yield Finding(
            "no-grain",
            Level.WARNING,
            f"{piece.name}: no grain line is drawn",
            where=piece.name,
            hint="draw the grain line, or say that the piece may lie any way",
        )


def _allowance_findings(piece: Piece) -> Iterable[Finding]:
    bare = [e.name for e in piece.edges if e.kind is EdgeKind.SEAM and not widest(e)]
    if bare:
        yield Finding(
            "seam-without-allowance",
            Level.WARNING,
            f"{piece.name}: no seam allowance on " + _listed(bare),
            where=f"{piece.name}/{bare[0]}",
            hint="add an allowance, or say that the edge is finished",
        )


def _listed(names: list[str]) -> str:
    rest = len(names) - 6
    return ", ".join(names[:6]) + (f" and {rest} more edges" if rest > 0 else "")


def _short_findings(piece: Piece) -> Iterable[Finding]:
    for edge in piece.edges:
        if edge.length_mm < SHORT_EDGE_MM:
            yield Finding(
                "short-edge",
                Level.WARNING,
                f"{piece.name}: edge {edge.name!r} is only {edge.length_mm:.2f} mm long; it is "
                "cut as one with its neighbour",
                where=f"{piece.name}/{edge.name}",
                hint="join it to the edge beside it in the drawing",
            )
