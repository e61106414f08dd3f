"""Pieces as the pages draw them: an inlay shows as a line of its own, between net and cut line."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from nesting.pieces.outline import Allowance, AllowanceState, Edge
from nesting.pieces.piece import Mark, MarkKind, Piece
from nesting.polygon import as_points
from service.views import piece_view

CORNERS = [(0.0, 0.0), (200.0, 0.0), (200.0, 300.0), (0.0, 300.0), (0.0, 0.0)]


def _panel(inlay_mm: float) -> Piece:
    add = Allowance(AllowanceState.ADD, 10.0)
    edges = [
        Edge(name, as_points([a, b]), allowance=add)
        for name, a, b in zip("abcd", CORNERS, CORNERS[1:], strict=False)
    ]
    edges[1] = replace(edges[1], inlay_mm=inlay_mm)
    mark = Mark(MarkKind.DRILL, ((100.0, 100.0),))
    return Piece("Panel", tuple(edges), marks=(mark,))


def test_an_inlay_is_a_line_at_the_allowance() -> None:
    view = piece_view(_panel(25.0))
    drill, inlay = view["marks"]
    assert (drill["kind"], inlay["kind"], inlay["name"]) == ("drill", "inlay", "b")
    inner = shapely.LineString(inlay["points"])
    assert all(
        x == pytest.approx(210.0, abs=1e-3) for x, _ in inlay["points"][1:-1] or inlay["points"]
    )
    assert max(x for x, _ in view["cut_line"]) == pytest.approx(235.0, abs=1e-3)
    assert inner.length >= 300.0


def test_without_an_inlay_the_marks_are_those_drawn() -> None:
    assert [m["kind"] for m in piece_view(_panel(0.0))["marks"]] == ["drill"]
