"""The truing walk as a page draws it: each seam's two sides laid along each other, level with the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from nesting.allowances.included import net_piece
from nesting.errors import NestingError
from nesting.findings import Finding, Level
from nesting.pieces.piece import Piece, Style
from nesting.pieces.sides import Join
from nesting.pieces.truing import walk_style
from nesting.pieces.walk import Proposal, Walk
from nesting.pieces.walk_findings import findings_of
from nesting.polygon import FloatArray, as_points, point_along
from service.views import DIGITS, finding_view, points_view

OF_NO_SEAM = ("partner-unknown", "row-unsaid")
"""Findings that no single walk holds."""


def truing_view(style: Style) -> dict[str, Any]:
    """Every declared seam walked once, and what no seam can be blamed for."""
    pieces, lost = net_pieces(style.pieces)
    walks, findings = walk_style(replace(style, pieces=pieces))
    alone = [f for f in findings if f.code in OF_NO_SEAM]
    return {
        "seams": [_seam(w) for w in walks],
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


def _seam(walk: Walk) -> dict[str, Any]:
    level, level_laid = _Level(walk.laid), _Level(walk.other_laid)
    return {
        "first": walk.first,
        "second": walk.second,
        "turned_over": walk.turned_over,
        "first_mm": round(walk.first_mm, 3),
        "second_mm": round(walk.second_mm, 3),
        "difference_mm": round(walk.difference_mm, 3) + 0.0,
        "first_line": points_view(level(walk.laid)),
        "second_line": points_view(level_laid(walk.other_laid)),
        "first_joins": [_join(j, walk.laid, level) for j in walk.joins],
        "second_joins": [_join(j, walk.other_laid, level_laid) for j in walk.other_joins],
        "notches": [
            {
                "name": met.name,
                "first_mm": met.here_mm,
                "second_mm": met.other_mm,
                "miss_mm": round(met.miss_mm, 3) + 0.0,
                "first_at": _place(walk.laid, met.here_at, level),
                "second_at": _place(walk.other_laid, met.other_at, level_laid),
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


def _join(join: Join, path: FloatArray, level: _Level) -> dict[str, Any]:
    """Where two edges of a row meet, and how much the row turns there."""
    return {
        "before": join.before,
        "after": join.after,
        "at": _place(path, join.at_mm, level),
        "sewn_mm": round(join.sewn_mm, 3),
        "turn_deg": round(join.turn_deg, 2) + 0.0,
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


def _place(path: FloatArray, at: float | None, level: _Level) -> list[float] | None:
    """A place on a laid line."""
    if at is None:
        return None
    return points_view(level(as_points([point_along(path, at)[0]])))[0]
