"""Seams walked against published practice.

Sources: Threads no. 200 (December 2018/January 2019), "10 Patternwork Skills": leave allowances aside,
walk and true every seam line; the author keeps patterns true to 1/16 inch, many are content with 1/8.
The Daily Sew, "How to true a pattern" (2018): walk along the seam line, account for ease, fold darts,
tucks and pleats out of the seam line first. That a row of edges sewn to one edge is walked end to end
is common practice (panel seams, yokes).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.pieces.in_style import exchanged
from nesting.pieces.outline import Edge
from nesting.pieces.piece import Dart, Piece, Style
from nesting.pieces.split import split
from nesting.pieces.truing import walk_style
from nesting.polygon import as_points
from tests.nesting.drafts import add, rectangle

pytestmark = pytest.mark.external

INCH = 25.4


def panel(name: str, other: str, height: float, allowance: float = 10.0) -> Piece:
    """Eight inches wide; its right side is the seam."""
    piece = rectangle(8 * INCH, height, allowance)
    edges = tuple(
        replace(e, name="side", partners=(f"{other}/side",)) if e.name == "right" else e
        for e in piece.edges
    )
    return replace(piece, name=name, edges=edges)


def said(*pieces: Piece) -> list[str]:
    return [f.code for f in walk_style(Style("Trial", pieces))[1] if f.code != "joined-edge-turns"]


@pytest.mark.parametrize("apart", [1 / 16, 1 / 8])
def test_a_sixteenth_of_an_inch_is_said(apart: float) -> None:
    front, back = panel("Front", "Back", 12 * INCH), panel("Back", "Front", (12 + apart) * INCH)
    assert said(front, back) == ["seam-lengths-differ"]


def test_half_of_a_sixteenth_is_true() -> None:
    front, back = panel("Front", "Back", 12 * INCH), panel("Back", "Front", (12 + 1 / 32) * INCH)
    assert said(front, back) == []


def test_allowances_are_left_aside() -> None:
    front = panel("Front", "Back", 12 * INCH, allowance=0.25 * INCH)
    back = panel("Back", "Front", 12 * INCH, allowance=1.5 * INCH)
    assert said(front, back) == []


def test_darts_are_folded_out_and_ease_is_accounted_for() -> None:
    front, back = panel("Front", "Back", 12 * INCH), panel("Back", "Front", 13.25 * INCH)
    dart = Dart("dart", "side", 4 * INCH, 5 * INCH, (4 * INCH, 4.5 * INCH))
    eased = tuple(replace(e, ease_mm=0.25 * INCH) if e.name == "side" else e for e in back.edges)
    assert said(front, replace(back, darts=(dart,), edges=eased)) == []


@pytest.mark.parametrize("level", [2.0, 6.0, 10.5])
def test_a_panel_cut_in_two_is_walked_end_to_end(level: float) -> None:
    style = Style("Trial", (panel("Front", "Back", 12 * INCH), panel("Back", "Front", 12 * INCH)))
    line = as_points([(-INCH, level * INCH), (9 * INCH, level * INCH)])
    parts = split(style.pieces[1], line, names=("Low", "High"), allowance=add(0.5 * INCH))
    cut = exchanged(style, "Back", parts).style
    walks, findings = walk_style(cut)
    assert findings == ()
    row = next(w for w in walks if "Front/side" in (w.first, w.second))
    assert row.difference_mm == pytest.approx(0, abs=1e-6)
    (join,) = (*row.joins, *row.other_joins)
    assert min(join.at_mm, 12 * INCH - join.at_mm) == pytest.approx(min(level, 12 - level) * INCH)
    # A sixteenth taken off one of the parts shows in the whole.
    low = next(p for p in cut.pieces if p.name == "Low")
    short = replace(low, edges=tuple(_shorter(e) for e in low.edges))
    pieces = tuple(short if p is low else p for p in cut.pieces)
    assert "seam-lengths-differ" in [f.code for f in walk_style(replace(cut, pieces=pieces))[1]]


def _shorter(edge: Edge) -> Edge:
    """The low part begun a sixteenth higher."""
    lift = INCH / 16
    points = edge.points.copy()
    points[points[:, 1] < lift, 1] = lift
    return replace(edge, points=as_points(points))
