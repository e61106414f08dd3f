"""Does it fit? Sums across pieces and hands at named lines, darts taken out, against body and ease."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from nesting.errors import PieceError
from nesting.findings import Finding, Level
from nesting.lines import unit
from nesting.pieces.layers import lies_under
from nesting.pieces.measures import BodyMeasure
from nesting.pieces.piece import Piece
from nesting.pieces.sides import sewn_length
from nesting.polygon import FloatArray, as_points, bounds, point_along

GIRTH_MM: Final = 5.0
"""A garment's girth may differ from body and ease by this much: below a tape's own error over
clothes (common practice: a quarter inch)."""


AS_ASKED: Final = "as asked"
"""Why a piece is left out that somebody left out."""

OTHER_CLOTH: Final = "it is cut from "
"""Why a piece is left out that is another cloth's."""


@dataclass(frozen=True, slots=True)
class Girth:
    """A garment's girth at a line, mm, and what each piece that counts gives to it (all hands);
    ``left_out`` are the pieces that have the line and do not count, each with why."""

    measure: BodyMeasure
    total_mm: float
    parts: tuple[tuple[str, float], ...]
    left_out: tuple[tuple[str, str], ...] = ()

    @property
    def difference_mm(self) -> float:
        """Garment less body and ease, mm."""
        return self.total_mm - self.measure.body_mm - self.measure.ease_mm


def check_body(
    pieces: Sequence[Piece], measures: Sequence[BodyMeasure]
) -> tuple[tuple[Girth, ...], tuple[Finding, ...]]:
    """The girths of a garment's pieces (drawn net), what does not fit, and which pieces were not
    counted without anybody having said so.

    Raises PieceError for a line that no piece has.
    """
    girths = tuple(girth_at(pieces, m) for m in measures)
    findings = [f for g in girths for f in (*_off(g), *_uncounted(g), *_unknown(g))]
    return girths, tuple(findings)


def girth_at(pieces: Sequence[Piece], measure: BodyMeasure) -> Girth:
    """Sum at one line over the pieces that have it and lie outside; a half piece counts twice."""
    parts: list[tuple[str, float]] = []
    left_out: list[tuple[str, str]] = []
    for piece in pieces:
        if piece.cloth != measure.cloth and piece.name not in measure.count_in:
            if _has_line(piece, measure.line):
                left_out.append((piece.name, f"{OTHER_CLOTH}{piece.cloth}"))
            continue
        width = width_at_line(piece, measure.line, measure.below_mm)
        if width is None:
            continue
        why = _why_not(piece, pieces, measure)
        if why:
            left_out.append((piece.name, why))
            continue
        halves = 2 if piece.fold_edges else 1
        parts.append((piece.name, width * piece.count.total * halves))
    if not parts and all(why.startswith(OTHER_CLOTH) for _, why in left_out):
        raise PieceError(
            f"no piece that is cut from {measure.cloth} has a line or an edge {measure.line!r}",
            hint="mark the line on the pieces that cross it, or name the edge that lies there",
            where=measure.line,
            code="line-unknown",
        )
    return Girth(measure, sum(w for _, w in parts), tuple(parts), tuple(left_out))


def _why_not(piece: Piece, pieces: Sequence[Piece], measure: BodyMeasure) -> str:
    if piece.name in measure.leave_out:
        return AS_ASKED
    return "" if piece.name in measure.count_in else lies_under(piece, pieces)


def _has_line(piece: Piece, line: str) -> bool:
    marks = any(m.name == line and len(m.points) > 1 for m in piece.marks)
    return marks or any(e.name == line for e in piece.edges)


def _off(g: Girth) -> list[Finding]:
    if abs(g.difference_mm) <= GIRTH_MM:
        return []
    counted = ", ".join(name for name, _ in g.parts) or "no piece"
    return [
        Finding(
            "girth-off",
            Level.WARNING,
            f"at the {said(g.measure)} the garment measures {g.total_mm:.0f} mm: "
            f"{abs(g.difference_mm):.0f} mm {'more' if g.difference_mm > 0 else 'less'} than "
            f"{g.measure.body_mm:.0f} mm and {g.measure.ease_mm:.0f} mm of ease (counted: {counted})",
            where=g.measure.line,
            hint="check darts and side seams there, the ease, or which pieces count",
        )
    ]


def _uncounted(g: Girth) -> list[Finding]:
    mine = [
        f"{name} ({why})"
        for name, why in g.left_out
        if why != AS_ASKED and not why.startswith(OTHER_CLOTH)
    ]
    if not mine:
        return []
    return [
        Finding(
            "girth-left-out",
            Level.NOTE,
            f"at the {said(g.measure)} these are not counted: {', '.join(mine)}",
            where=g.measure.line,
            hint="count a piece in if it is part of the garment's outside there",
        )
    ]


def _unknown(g: Girth) -> list[Finding]:
    known = {name for name, _ in (*g.parts, *g.left_out)}
    asked = (*g.measure.leave_out, *g.measure.count_in)
    return [
        Finding(
            "girth-piece-unknown",
            Level.WARNING,
            f"{name} is to be {'left out' if name in g.measure.leave_out else 'counted in'} at the "
            f"{said(g.measure)}, but no piece of that name has the line",
            where=name,
            hint="name a piece that has the line: " + ", ".join(sorted(known)),
        )
        for name in asked
        if name not in known
    ]


def width_at_line(piece: Piece, line: str, below_mm: float = 0.0) -> float | None:
    """Width of a piece along a marked line, or along an edge of that name, without darts, mm; None
    for a piece that has neither. A level below a line is taken straight across the grain."""
    marks = [m for m in piece.marks if m.name == line and len(m.points) > 1]
    edges = [e for e in piece.edges if e.name == line]
    if below_mm == 0.0 and not marks and edges:
        return sewn_length(piece, edges[0])
    if marks:
        path = as_points(marks[0].points)
    elif edges:
        path = edges[0].points
    else:
        return None
    if below_mm == 0.0:
        return _inside(piece, _through(piece, path))
    return _inside(piece, _level(piece, path, below_mm))


def _through(piece: Piece, path: FloatArray) -> FloatArray:
    """A marked line drawn on to the outline at both ends."""
    x0, y0, x1, y1 = bounds(piece.outline)
    far = (x1 - x0) + (y1 - y0)
    start = path[0] + unit(path[0] - path[1]) * far
    end = path[-1] + unit(path[-1] - path[-2]) * far
    return as_points(np.vstack([start, path, end]))


def _level(piece: Piece, path: FloatArray, below_mm: float) -> FloatArray:
    if piece.grain is None:
        raise PieceError(
            f"{piece.name}: without a grain line there is no level below another",
            hint="draw the grain line, head up",
            where=piece.name,
            code="no-grain",
        )
    up = unit(np.subtract(piece.grain.head, piece.grain.tail))
    across = np.array([up[1], -up[0]])
    # The waist is measured at its lowest: a level below is counted from where the body's is.
    low = path[int(np.argmin(path @ up))] - up * below_mm
    x0, y0, x1, y1 = bounds(piece.outline)
    far = 2.0 * ((x1 - x0) + (y1 - y0))
    return as_points([low - across * far, low + across * far])


def _inside(piece: Piece, path: FloatArray) -> float:
    """Length of a path inside the piece and outside its darts, mm."""
    line = shapely.intersection(shapely.LineString(path), shapely.Polygon(piece.outline))
    for dart in piece.darts:
        points = piece.edge(dart.edge).points
        a, b = (point_along(points, d)[0] for d in (dart.first_mm, dart.second_mm))
        line = shapely.difference(line, shapely.Polygon([a, np.array(dart.point), b]))
    return float(line.length)


def said(measure: BodyMeasure) -> str:
    """The line in words."""
    if measure.below_mm:
        return f"level {measure.below_mm:g} mm below the {measure.line}"
    return measure.line
