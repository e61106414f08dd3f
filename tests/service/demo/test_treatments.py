"""The wardrobe shows the whole craft: every treatment of an edge, a corner, a dart and a mark."""

from __future__ import annotations

import json

import pytest
import shapely

from nesting.allowances.cut_piece import CutPiece
from nesting.allowances.make import cut_piece
from nesting.allowances.treatments import Treatment, corners_made
from nesting.pieces.outline import AllowanceState, Corner, EdgeKind, Pressed
from nesting.pieces.piece import DartFold, MarkKind, Piece
from service.demo import sheet_texts
from service.wardrobe import style_of


def wardrobe() -> list[Piece]:
    sheets = sheet_texts().items()
    return [p for name, text in sheets for p in style_of(json.loads(text), name)[0].pieces]


@pytest.fixture(scope="module")
def pieces() -> list[Piece]:
    return wardrobe()


@pytest.fixture(scope="module")
def cut(pieces: list[Piece]) -> list[CutPiece]:
    return [cut_piece(p) for p in pieces]


def test_every_kind_of_edge_and_state_of_allowance_is_there(pieces: list[Piece]) -> None:
    edges = [e for p in pieces for e in p.edges]
    assert {e.kind for e in edges} == set(EdgeKind)
    assert {e.allowance.state for e in edges} == set(AllowanceState)
    assert {e.pressed for e in edges} == set(Pressed)
    assert any(e.allowance.steps for e in edges), "a zip seam that steps"
    assert any(e.allowance.end_width_mm is not None for e in edges), "a width that changes"
    assert any(e.inlay_mm for e in edges)
    assert any(e.folds_mm for e in edges), "a hem turned twice"
    assert any(e.partners for e in edges)
    assert any(len(e.partners) > 1 for e in edges), "sewn to a row of edges"
    assert any(e.ease_mm for e in edges)


def test_every_treatment_of_a_corner_is_there(pieces: list[Piece]) -> None:
    corners = [c for p in pieces for c in corners_made(p)]
    assert {c.made for c in corners} == set(Treatment)
    assert {c.said for c in corners} >= {Corner.AUTO, Corner.BLUNT}


def test_every_fold_of_a_dart_and_every_mark_is_there(cut: list[CutPiece]) -> None:
    assert {d.fold for c in cut for d in c.piece.darts} == set(DartFold)
    assert {n.marks for c in cut for n in c.notches} == {1, 2}
    marks = {m.kind for c in cut for m in c.marks}
    assert marks >= {
        MarkKind.DRILL, MarkKind.BUTTON, MarkKind.BUTTONHOLE, MarkKind.CENTRE_LINE, MarkKind.LINE,
        MarkKind.INLAY,
    }  # fmt: skip


def test_the_zip_seam_is_wider_beside_the_zip() -> None:
    (back,) = (c for c in map(cut_piece, wardrobe()) if c.piece.name == "Back" and is_skirt(c))
    centre = shapely.LineString(back.piece.edge("centre").points)
    (path,) = (shapely.LineString(path) for name, path in back.runs if name == "centre")
    places = {mm: path.distance(centre.interpolate(mm)) for mm in (100.0, 600.0)}
    assert places == pytest.approx({100.0: 20.0, 600.0: 15.0}, abs=0.02)


def is_skirt(cut: CutPiece) -> bool:
    return any(n.name == "zip" for n in cut.piece.notches)
