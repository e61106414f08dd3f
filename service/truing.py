"""The truing walk as a page draws it: each seam's two edges laid along each other, level with the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from nesting.allowances.included import net_piece
from nesting.errors import NestingError
from nesting.findings import Finding, Level
from nesting.pieces.outline import Edge
from nesting.pieces.piece import Piece, Style
from nesting.pieces.truing import Proposal, Walk, findings_of, walk_style
from nesting.polygon import FloatArray, as_points, path_length, point_along
from service.views import DIGITS, finding_view, points_view

Mouths = Sequence[tuple[float, float]]
"""Dart mouths on an edge: start and width, mm along it."""


def truing_view(style: Style) -> dict[str, Any]:
    """Every declared seam walked once, and what no seam can be blamed for."""
    pieces, lost = net_pieces(style.pieces)
    walks, findings = walk_style(replace(style, pieces=pieces))
    edges = {f"{p.name}/{e.name}": (p, e) for p in pieces for e in p.edges}
    alone = [f for f in findings if f.code == "partner-unknown"]
    return {
        "seams": [_seam(w, edges[w.first], edges[w.second]) for w in walks],
        "findings": [finding_view(f) for f in (*lost, *alone)],
    }


def net_pieces(pieces: Sequence[Piece]) -> tuple[tuple[Piece, ...], list[Finding]]:
    """The pieces as if drawn net. One whose net line cannot be found is walked as drawn, and said."""
    found: list[Piece] = []
    lost: list[Finding] = []
    for piece in pieces:
        try:
            found.append(net_piece(piece))
        except NestingError as error:
            found.append(piece)
            lost.append(
                Finding(
                    error.code,
                    Level.WARNING,
                    f"{piece.name} is walked as it is drawn: {error.message}",
                    where=error.where or piece.name,
                    hint=error.hint,
                )
            )
    return tuple(found), lost


def _seam(walk: Walk, first: tuple[Piece, Edge], second: tuple[Piece, Edge]) -> dict[str, Any]:
    here = first[1].points
    laid = walk.other_laid
    level, level_laid = _Level(here), _Level(laid)
    mouths = _mouths(*first)
    # A piece that is turned over is walked from its edge's start, another from its end.
    there = _mouths(*second)
    if not walk.turned_over:
        whole = second[1].length_mm
        there = sorted((whole - start - width, width) for start, width in there)
    return {
        "first": walk.first,
        "second": walk.second,
        "turned_over": walk.turned_over,
        "first_mm": round(walk.first_mm, 3),
        "second_mm": round(walk.second_mm, 3),
        "difference_mm": round(walk.difference_mm, 3) + 0.0,
        "first_line": points_view(level(here)),
        "second_line": points_view(level_laid(laid)),
        "notches": [
            {
                "name": met.name,
                "first_mm": met.here_mm,
                "second_mm": met.other_mm,
                "miss_mm": round(met.miss_mm, 3) + 0.0,
                "first_at": _place(here, mouths, met.here_mm, walk.first_mm, level),
                "second_at": _place(laid, there, met.other_mm, walk.first_mm, level_laid),
            }
            for met in walk.notches
        ],
        "turn_at_start_deg": round(walk.turn_at_start_deg, 2) + 0.0,
        "turn_at_end_deg": round(walk.turn_at_end_deg, 2) + 0.0,
        "findings": [finding_view(f) for f in findings_of(walk)],
        "proposals": [f"{p.piece}: {p.text}" for p in walk.proposals],
        "mends": [
            _mend(p, level_laid if p.of_second and p.length_mm > 0 else level)
            for p in walk.proposals
        ],
    }


def _mend(proposal: Proposal, level: _Level) -> dict[str, Any]:
    """What would mend the seam: drawn in the piece's frame and in the walk's, and as a change."""
    line = points_view(proposal.points)
    change: dict[str, Any] = {"kind": "redraw", "line": line}
    if proposal.length_mm > 0:
        change = {"kind": "end edge", "length": round(proposal.length_mm, DIGITS)}
    return {
        "piece": proposal.piece,
        "edge": proposal.edge,
        "text": proposal.text,
        "line": line,
        "laid": points_view(level(proposal.laid)),
        "change": {**change, "edge": proposal.edge, "at": proposal.at},
    }


class _Level:
    """Turns an edge so that its ends lie on the x axis, its start at (0, 0)."""

    def __init__(self, path: FloatArray) -> None:
        along = path[-1] - path[0]
        length = float(np.hypot(*along))
        c, s = along / length if length > 0 else (1.0, 0.0)
        self.origin = path[0]
        self.matrix = np.array([[c, -s], [s, c]])

    def __call__(self, points: FloatArray) -> FloatArray:
        return as_points((points - self.origin) @ self.matrix)


def _mouths(piece: Piece, edge: Edge) -> list[tuple[float, float]]:
    darts = [d for d in piece.darts if d.edge == edge.name]
    return sorted((d.first_mm, d.second_mm - d.first_mm) for d in darts)


def _place(
    path: FloatArray, mouths: Mouths, at: float | None, of: float, level: _Level
) -> list[float] | None:
    """Where a notch at ``at`` of ``of`` mm sewn lies on an edge: ease spread evenly, mouths passed over."""
    if at is None or of <= 0:
        return None
    distance = at / of * (path_length(path) - sum(width for _, width in mouths))
    for start, width in mouths:
        if distance > start:
            distance += width
    return points_view(level(as_points([point_along(path, distance)[0]])))[0]
