"""Notches carried from the net line to the cut line: square to the edge, never into the seam."""

from __future__ import annotations

from typing import Final

import numpy as np

from nesting.allowances.cut_piece import CutNotch
from nesting.findings import Finding, Level
from nesting.pieces.outline import AllowanceState
from nesting.pieces.piece import Notch, Piece, Point
from nesting.pieces.widths import width_at
from nesting.polygon import FloatArray, point_along

CLEARANCE_MM: Final = 3.0
"""A notch keeps this far from the stitch line (published: at least 1/8 inch)."""

DEPTH_MM: Final = 5.0
"""A notch is no deeper than this (published: 1/8 to 1/4 inch)."""


def carry_notch(piece: Piece, notch: Notch, cut_line: FloatArray) -> CutNotch:
    """The notch on ``cut_line`` (N, 2), closed. Its distance is measured along the edge as drawn.

    Where the allowance leaves no room for a snip, ``tip`` equals ``at``: mark with chalk.
    """
    edge = piece.edge(notch.edge)
    at, along = point_along(edge.points, notch.distance_mm)
    outward = np.array([along[1], -along[0]])
    width = width_at(edge, notch.distance_mm, inlay=True)
    if edge.allowance.state is AllowanceState.ADD and width > 0:
        at = at + outward * first_exit(at, outward, cut_line, width)
    depth = max(0.0, min(DEPTH_MM, width - CLEARANCE_MM))
    return CutNotch(_pair(at), _pair(at - outward * depth), notch.marks, notch.name)


def notch_findings(piece: Piece, notches: tuple[CutNotch, ...]) -> tuple[Finding, ...]:
    """What to do about notches that cannot be snipped."""
    if not any(n.at == n.tip for n in notches):
        return ()
    return (
        Finding(
            "notch-no-room",
            Level.NOTE,
            f"{piece.name}: an allowance of {CLEARANCE_MM:g} mm or less leaves no room to snip "
            "a notch",
            where=piece.name,
            hint="mark these notches with chalk or thread, not with the shears",
        ),
    )


def first_exit(at: FloatArray, outward: FloatArray, ring: FloatArray, usual: float) -> float:
    """How far from ``at`` along unit ``outward`` (both (2,)) the closed ``ring`` (N, 2) is first
    met, mm; ``usual`` if it is not met."""
    ux, uy = float(outward[0]), float(outward[1])
    steps = np.concatenate([ring[1:], ring[:1]]) - ring
    offset = ring - at
    turn = ux * steps[:, 1] - uy * steps[:, 0]
    safe = np.where(turn == 0, 1.0, turn)
    far = (offset[:, 0] * steps[:, 1] - offset[:, 1] * steps[:, 0]) / safe
    place = (offset[:, 0] * uy - offset[:, 1] * ux) / safe
    met = (turn != 0) & (place >= -1e-9) & (place <= 1 + 1e-9) & (far >= -1e-6)
    return max(0.0, float(far[met].min())) if met.any() else usual


def _pair(p: FloatArray) -> Point:
    return float(p[0]), float(p[1])
