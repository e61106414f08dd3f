from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from nesting.allowances.cut_piece import CutPiece
from nesting.cloth import Cloth, Fold
from nesting.engine.improve import improve
from nesting.engine.problem import Budget
from nesting.errors import LayError
from nesting.invariants import violations_of
from nesting.lay.build import layout_of
from nesting.lay.lay import Lay
from nesting.lay.matching import MATCH_MM, lay_findings, matches, unmatched_seams
from nesting.lay.shapes import on_grain
from nesting.lay.spread import spread
from nesting.layout import Layout, Placed
from nesting.pieces.in_style import exchanged
from nesting.pieces.piece import PAIR, Count, Notch, Piece, Style
from nesting.pieces.split import split
from nesting.polygon import as_points
from tests.nesting.making import halves_and_wholes, polygon_piece

REPEAT = 70.0
CLOTH = Cloth(width_mm=1224, repeat_along_mm=REPEAT, repeat_across_mm=40, repeat_even=True)


def sewn(piece: Piece, edge: str, partner: str) -> Piece:
    edges = tuple(replace(e, partners=(partner,)) if e.name == edge else e for e in piece.edges)
    return replace(piece, edges=edges)


# The side seams meet at their notches, 130 mm and 95 mm above the two hems.
FRONT = sewn(
    polygon_piece(
        "Front",
        [(0, 0), (260, 0), (250, 300), (180, 420), (0, 400)],
        count=PAIR,
        add=10,
        notches=(Notch("e1", 130.0, name="side"),),
    ),
    "e1",
    "Back/e3",
)
BACK = sewn(
    polygon_piece(
        "Back",
        [(0, 30), (240, 0), (240, 400), (20, 390)],
        count=PAIR,
        add=10,
        notches=(Notch("e3", 265.0, name="side"),),
    ),
    "e3",
    "Front/e1",
)


def laid(*pieces: Piece, fold: Fold, cloth: Cloth = CLOTH) -> Layout:
    halves, wholes = halves_and_wholes(pieces)
    plan = spread(Lay(cloth, fold, tuple(halves.values())))
    solutions = tuple(improve(s.problem, seed=1, budget=Budget(steps=20)) for s in plan.strips)
    layout = layout_of(plan, solutions)
    assert list(violations_of(layout, halves, wholes)) == []
    return layout


def notch_phase(placed: Placed) -> float:
    """Where the side notch's stitching point lies in the repeat, read up the garment."""
    at, tip = np.array(placed.notches[0].at), np.array(placed.notches[0].tip)
    inward = (tip - at) / np.hypot(*(tip - at))
    stitch = at + 10.0 * inward
    up = 1.0 if placed.turn_deg == 0 else -1.0
    return float(up * stitch[0] % REPEAT)


@pytest.mark.parametrize("fold", [Fold.OPEN, Fold.LENGTHWISE])
def test_side_seams_meet_at_the_same_place_of_the_repeat(fold: Fold) -> None:
    layout = laid(FRONT, BACK, fold=fold)
    phases = np.array([notch_phase(p) for p in layout.placed])
    apart = np.abs((phases - phases[0] + REPEAT / 2) % REPEAT - REPEAT / 2)
    assert apart.max() <= MATCH_MM
    assert len(phases) == (4 if fold is Fold.OPEN else 2)


def test_plain_cloth_needs_no_more_than_matched_cloth() -> None:
    plain = replace(CLOTH, repeat_along_mm=0, repeat_across_mm=0)
    matched = laid(FRONT, BACK, fold=Fold.OPEN).length_mm
    assert laid(FRONT, BACK, fold=Fold.OPEN, cloth=plain).length_mm <= matched + 1e-6


def test_an_uneven_repeat_lays_every_piece_one_way() -> None:
    layout = laid(FRONT, BACK, fold=Fold.OPEN, cloth=replace(CLOTH, repeat_even=False))
    assert {p.turn_deg for p in layout.placed} == {0.0}


def test_the_opened_out_part_begins_on_a_bar() -> None:
    flap = polygon_piece("Flap", [(0, 0), (120, 0), (90, 70), (0, 60)], count=Count(1, 0))
    layout = laid(FRONT, BACK, flap, fold=Fold.LENGTHWISE)
    assert layout.zones[1].x0 % REPEAT == pytest.approx(0.0, abs=1e-6)


def test_a_seam_that_cannot_match_is_told() -> None:
    # A third piece joined to both, at heights that disagree by 20 mm.
    side = polygon_piece("Side", [(0, 0), (100, 0), (100, 400), (0, 420)], count=PAIR)
    side = sewn(sewn(side, "e1", "Front/e4"), "e3", "Back/e1")
    front = sewn(FRONT, "e4", "Side/e1")
    back = sewn(BACK, "e1", "Side/e3")
    halves, _ = halves_and_wholes((front, back, side))
    findings = unmatched_seams(tuple(halves.values()), REPEAT)
    assert [f.code for f in findings] == ["seam_cannot_match"]
    assert "mm off the repeat" in findings[0].message


def test_folds_that_hide_the_under_ply_are_refused() -> None:
    with pytest.raises(LayError, match="open cloth or on a lengthwise fold"):
        laid(FRONT, fold=Fold.DOUBLE)


def test_a_lay_tells_its_seams_only_where_there_is_something_to_match() -> None:
    side = polygon_piece("Side", [(0, 0), (100, 0), (100, 400), (0, 420)], count=PAIR)
    side = sewn(sewn(side, "e1", "Front/e4"), "e3", "Back/e1")
    pieces = (sewn(FRONT, "e4", "Side/e1"), sewn(BACK, "e1", "Side/e3"), side)
    halves, _ = halves_and_wholes(pieces)
    lay = Lay(CLOTH, Fold.OPEN, tuple(halves.values()))
    assert [f.code for f in lay_findings(lay)] == ["seam_cannot_match"]
    across = replace(CLOTH, repeat_along_mm=0)
    assert lay_findings(replace(lay, cloth=across)) == ()
    halves, _ = halves_and_wholes((FRONT, BACK))
    assert lay_findings(replace(lay, pieces=tuple(halves.values()))) == ()


def test_the_parts_of_a_partner_cut_in_two_lie_where_the_whole_one_would() -> None:
    def level(cuts: dict[str, CutPiece], name: str) -> float:
        """How high the place (20, 180) of a piece lies in the garment above the front's (0, 0)."""
        found = matches(tuple(cuts.values()))

        def height(of: str, place: tuple[float, float]) -> float:
            match, frame = found[of], on_grain(cuts[of])
            assert match.level is not None
            return match.level + frame.point(place)[0] - frame.point(match.anchor)[0]

        return height(name, (20.0, 180.0)) - height("Front", (0.0, 0.0))

    # Tied by the ends of the seam: there are no notches to tie by.
    front, back = (replace(p, notches=()) for p in (FRONT, BACK))
    line = as_points([(-50.0, 180.0), (400.0, 180.0)])
    parts = split(back, line, names=("Low", "High"), allowance=back.edges[0].allowance, notches=())
    style = exchanged(Style("Trial", (front, back)), "Back", parts).style
    assert style.pieces[0].edge("e1").partners == ("Low/e3", "High/e3")
    whole, _ = halves_and_wholes((front, back))
    cut, _ = halves_and_wholes(style.pieces)
    assert level(cut, "Low") == pytest.approx(level(whole, "Back"), abs=0.5)
    # Further up the two sides lean differently, and the parts lie along the front's.
    assert level(cut, "High") == pytest.approx(level(whole, "Back"), abs=2.0)
