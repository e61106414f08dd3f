"""The bodice goes through every change a cutter makes, and what comes out is sewn together."""

from __future__ import annotations

import pytest

from nesting.allowances.make import cut_piece
from nesting.findings import Level
from nesting.pieces.body_check import BodyMeasure, check_body
from nesting.pieces.piece import MarkKind
from nesting.pieces.truing import walk_style
from service.demo.bodice import front_as_drafted, style

PIECES = {p.name: p for p in style().pieces}


def test_its_seams_walk_true() -> None:
    walks, findings = walk_style(style())
    assert findings == ()
    assert {w.first for w in walks} >= {"Front/panel seam", "Side front/side", "Sleeve/back seam"}
    assert all(abs(w.difference_mm) < 0.1 for w in walks)


def test_both_parts_of_the_front_s_shoulder_are_walked_against_the_back_s() -> None:
    walks, _ = walk_style(style())
    (shoulder,) = [w for w in walks if w.first == "Back/shoulder"]
    assert shoulder.second == "Side front/shoulder + Front/shoulder"
    # The back's is 5 mm longer, to be eased in.
    parts = [PIECES[p].edge("shoulder").length_mm for p in ("Side front", "Front")]
    assert PIECES["Back"].edge("shoulder").length_mm == pytest.approx(sum(parts) + 5, abs=0.05)
    assert shoulder.difference_mm == pytest.approx(0, abs=0.05)
    (join,) = shoulder.other_joins
    assert join.at_mm == pytest.approx(parts[0])
    assert abs(join.turn_deg) < 1


def test_every_piece_is_cut_without_a_warning() -> None:
    for piece in PIECES.values():
        assert [f for f in cut_piece(piece).findings if f.level is not Level.NOTE] == []


def test_the_darts_of_the_front_have_become_a_panel_line() -> None:
    assert {d.name for d in front_as_drafted().darts} == {"waist dart", "side dart"}
    assert PIECES["Front"].darts == PIECES["Side front"].darts == ()
    origin = PIECES["Side front"].origin
    for step in ("drafted for bust 92", "moved to shoulder", "split at panel seam"):
        assert step in origin


def test_stand_buttons_facings_and_inlays_are_there() -> None:
    kinds = [m.kind for m in PIECES["Front"].marks]
    assert kinds.count(MarkKind.BUTTON) == kinds.count(MarkKind.BUTTONHOLE) == 7
    assert kinds.count(MarkKind.CENTRE_LINE) == 1
    assert {"Front facing", "Back facing", "Peplum hem facing"} <= set(PIECES)
    assert PIECES["Side front"].edge("side").inlay_mm > 0
    assert PIECES["Sleeve"].edge("hem").folds_mm
    assert len(PIECES["Peplum hem facing"].fold_edges) == 1


def test_the_waist_measures_the_body_with_its_ease() -> None:
    """Waist 72 cm and 2 cm of ease, beside the two stands of 13 mm that overlap."""
    pieces = [PIECES[n] for n in ("Front", "Side front", "Back")]
    girths, findings = check_body(pieces, (BodyMeasure("waist", 720, 20 + 26),))
    assert findings == ()
    assert girths[0].total_mm == pytest.approx(767, abs=2)


def test_every_change_there_is_was_made() -> None:
    told = " ".join(p.origin for p in PIECES.values())
    for change in (
        "moved to shoulder", "shortened", "trued", "split at", "stand of", "buttons", "facing of",
        "hem hem faced", "lengthened by", "unfolded at", "mirrored",
    ):  # fmt: skip
        assert change in told, change
    assert PIECES["Back facing"].fold_edges == ()
