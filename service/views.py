"""Styles and pieces as the pages draw them: plain JSON data from values of the core."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nesting.allowances.cut_piece import CutNotch, CutPiece
from nesting.allowances.make import cut_piece
from nesting.allowances.treatments import CornerMade, corners_made, pressings
from nesting.errors import NestingError
from nesting.findings import Finding, Level
from nesting.pieces.outline import Edge
from nesting.pieces.partners import said_row
from nesting.pieces.piece import Count, Dart, Mark, MarkKind, Piece
from nesting.polygon import FloatArray, as_points, bounds, point_along, signed_area
from nesting.units import show_length
from service.answer_json import finding_json

DIGITS = 4
"""Coordinates on the wire: a tenth of a micrometre."""


def piece_view(piece: Piece) -> dict[str, Any]:
    """A piece with its cut line; one that cannot be cut has none, and a finding that says why."""
    cut, findings = _cut(piece)
    made = () if cut is None else cut.marks
    inlays = tuple(m for m in made if m.kind is MarkKind.INLAY and m not in piece.marks)
    return _view(piece, cut, findings, (*piece.marks, *inlays))


def cut_view(cut: CutPiece) -> dict[str, Any]:
    """A piece already cut, with the marks that are carried to its cut line (darts are drawn as such)."""
    darts = {dart.name for dart in cut.piece.darts}
    marks = tuple(m for m in cut.marks if not (m.kind is MarkKind.LINE and m.name in darts))
    return _view(cut.piece, cut, cut.findings, marks)


def _view(
    piece: Piece, cut: CutPiece | None, findings: tuple[Finding, ...], marks: tuple[Mark, ...]
) -> dict[str, Any]:
    net = piece.outline if cut is None else cut.net_line
    return {
        "name": piece.name,
        "cloth": piece.cloth,
        "count": {"drawn": piece.count.drawn, "turned": piece.count.turned},
        "on_fold": bool(piece.fold_edges),
        "count_text": count_text(piece.count, on_fold=bool(piece.fold_edges)),
        "size_text": size_text(piece.outline),
        "grain": None
        if piece.grain is None
        else {"tail": _point(piece.grain.tail), "head": _point(piece.grain.head)},
        "grain_rule": piece.grain_rule.value,
        "drawn_as": piece.drawn_as.value,
        "edges": _edges(piece, cut is not None),
        "cut_line": None if cut is None else points_view(cut.cut_line),
        "net_line": points_view(net),
        "notches": [] if cut is None else [_notch(n) for n in cut.notches],
        "marks": [_mark(m) for m in marks],
        "darts": [_dart(d, piece) for d in piece.darts],
        "area_mm2": round(abs(signed_area(net)), 2) if len(net) > 2 else 0.0,
        "findings": [finding_view(f) for f in findings],
    }


def finding_view(finding: Finding) -> dict[str, str]:
    """A finding as it is sent."""
    return finding_json(finding)


def points_view(points: FloatArray) -> list[list[float]]:
    """Points (N, 2) as they are sent."""
    return [[round(x, DIGITS) + 0.0, round(y, DIGITS) + 0.0] for x, y in points.tolist()]


def count_text(count: Count, *, on_fold: bool) -> str:
    """How many to cut, in words."""
    if on_fold:
        return "one, on the fold" if count.drawn == 1 else f"{count.drawn}, on the fold"
    if count.drawn == count.turned:
        return "a pair" if count.drawn == 1 else f"{count.drawn} pairs"
    said = [
        f"{n} {how}" for n, how in ((count.drawn, "as drawn"), (count.turned, "turned over")) if n
    ]
    return ", ".join(said) or "none"


def size_text(outline: FloatArray) -> str:
    """The drawn size in words, so that a wrong scale shows."""
    if len(outline) == 0:
        return "no outline"
    x0, y0, x1, y1 = bounds(outline)
    return f"{show_length(y1 - y0)} tall, {show_length(x1 - x0)} wide"


def _cut(piece: Piece) -> tuple[CutPiece | None, tuple[Finding, ...]]:
    try:
        cut = cut_piece(piece)
    except NestingError as error:
        refused = Finding(
            error.code,
            Level.REFUSED,
            error.message,
            where=error.where or piece.name,
            hint=error.hint,
        )
        return None, (refused,)
    return cut, cut.findings


def _edges(piece: Piece, fit: bool) -> list[dict[str, Any]]:
    """The edges, each with the corner at its end; a piece that cannot be cut has no corners made."""
    corners: Sequence[CornerMade | None] = corners_made(piece) if fit else [None] * len(piece.edges)
    return [_edge(e, c) for e, c in zip(piece.edges, corners, strict=True)]


def _edge(edge: Edge, corner: CornerMade | None) -> dict[str, Any]:
    allowance = edge.allowance
    return {
        "name": edge.name,
        "kind": edge.kind.value,
        "allowance": {
            "state": allowance.state.value,
            "width_mm": allowance.width_mm,
            "end_width_mm": allowance.end_width_mm,
            "steps": [list(step) for step in allowance.steps],
        },
        "inlay_mm": edge.inlay_mm,
        "partner": said_row(edge.partners),
        "partners": list(edge.partners),
        "run": list(edge.run),
        "ease_mm": edge.ease_mm,
        "folds_mm": list(edge.folds_mm),
        "pressed": edge.pressed.value,
        "pressed_may": [p.value for p in pressings(edge)],
        "corner": None if corner is None else _corner(corner),
        "length_mm": round(edge.length_mm, DIGITS),
        "points": points_view(edge.points),
    }


def _corner(corner: CornerMade) -> dict[str, Any]:
    return {
        "said": corner.said.value,
        "made": corner.made.value,
        "text": corner.text,
        "angle_deg": round(corner.angle_deg, 2),
        "may": [c.value for c in corner.may],
    }


def _notch(notch: CutNotch) -> dict[str, Any]:
    return {
        "at": _point(notch.at),
        "tip": _point(notch.tip),
        "marks": notch.marks,
        "name": notch.name,
    }


def _mark(mark: Mark) -> dict[str, Any]:
    return {"kind": mark.kind.value, "points": [_point(p) for p in mark.points], "name": mark.name}


def _dart(dart: Dart, piece: Piece) -> dict[str, Any]:
    path = piece.edge(dart.edge).points
    return {
        "name": dart.name,
        "first": points_view(as_points([point_along(path, dart.first_mm)[0]]))[0],
        "second": points_view(as_points([point_along(path, dart.second_mm)[0]]))[0],
        "point": _point(dart.point),
    }


def _point(point: tuple[float, float]) -> list[float]:
    return [round(float(v), DIGITS) + 0.0 for v in point]
