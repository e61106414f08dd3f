from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from nesting.cloth import Cloth, Flaw, Fold
from nesting.engine.improve import improve
from nesting.engine.problem import Budget
from nesting.errors import LayError
from nesting.invariants import violations_of
from nesting.lay.build import layout_of
from nesting.lay.lay import Lay
from nesting.lay.spread import off_centre_depths, spread
from nesting.layout import Layout
from nesting.pieces.piece import PAIR, Count, GrainRule, Hand, Notch, Piece
from tests.nesting.making import halves_and_wholes, polygon_piece, rectangle

# Usable 1000 mm: numbers stay readable.
CLOTH = Cloth(width_mm=1024, selvedge_mm=12)

FRONT = polygon_piece("Front", [(0, 0), (260, 0), (240, 300), (180, 420), (0, 400)], count=PAIR)
BACK = polygon_piece("Back", [(0, 0), (250, 0), (230, 420), (60, 430), (0, 410)], fold=4)
STRAP = rectangle("Strap", 60, 500, count=Count(2, 0))
FLAP = polygon_piece("Flap", [(0, 0), (120, 0), (90, 70), (0, 60)], count=Count(1, 0))


def laid(
    *pieces: Piece, fold: Fold = Fold.OPEN, cloth: Cloth = CLOTH, copies: int = 1, **lay: float
) -> Layout:
    halves, wholes = halves_and_wholes(pieces)
    plan = spread(Lay(cloth, fold, tuple(halves.values()), copies, **lay))
    solutions = tuple(improve(s.problem, seed=1, budget=Budget(steps=30)) for s in plan.strips)
    layout = layout_of(plan, solutions)
    assert list(violations_of(layout, halves, wholes)) == []
    return layout


def hands(layout: Layout, piece: str) -> list[tuple[Hand, ...]]:
    return sorted(p.hands for p in layout.placed if p.piece == piece)


def test_open_cloth_lays_each_hand_by_itself() -> None:
    layout = laid(FRONT, BACK)
    assert hands(layout, "Front") == [(Hand.DRAWN,), (Hand.TURNED,)]
    back = next(p for p in layout.placed if p.piece == "Back")
    assert not back.on_fold
    assert np.ptp(back.cut_line[:, 1]) == pytest.approx(500.0)  # unfolded: twice 250 across


def test_lengthwise_fold_doubles_pairs_and_puts_half_pieces_on_the_fold() -> None:
    layout = laid(FRONT, BACK, fold=Fold.LENGTHWISE)
    assert hands(layout, "Front") == [(Hand.DRAWN, Hand.TURNED)]
    back = next(p for p in layout.placed if p.piece == "Back")
    assert back.on_fold
    assert back.cut_line[:, 1].min() == pytest.approx(0.0, abs=1e-6)
    assert back.cut_line[:, 1].max() == pytest.approx(250.0)


def test_singles_go_to_the_opened_out_part_and_its_length_counts() -> None:
    layout = laid(FRONT, FLAP, fold=Fold.LENGTHWISE)
    flap = next(p for p in layout.placed if p.piece == "Flap")
    assert flap.plies == 1
    folded, opened = layout.zones
    assert opened.x0 == pytest.approx(folded.x1)
    assert layout.length_mm == pytest.approx(opened.x1)
    assert "open the remaining" in " ".join(layout.steps_text)


def test_two_alike_pieces_may_be_doubled_but_two_lefts_may_not() -> None:
    assert hands(laid(STRAP, fold=Fold.LENGTHWISE), "Strap") == [(Hand.DRAWN, Hand.DRAWN)]
    two_lefts = replace(FLAP, count=Count(2, 0))
    assert hands(laid(two_lefts, fold=Fold.LENGTHWISE), "Flap") == [(Hand.DRAWN,), (Hand.DRAWN,)]


def test_a_notch_on_one_side_makes_a_strap_handed() -> None:
    notched = replace(STRAP, notches=(Notch("e1", 100.0),))
    assert hands(laid(notched, fold=Fold.LENGTHWISE), "Strap") == [(Hand.DRAWN,), (Hand.DRAWN,)]


def test_nap_turns_nothing() -> None:
    layout = laid(
        FRONT, BACK, STRAP, fold=Fold.LENGTHWISE, cloth=replace(CLOTH, nap=True), copies=2
    )
    assert {p.turn_deg for p in layout.placed} == {0.0}


def test_a_pair_too_wide_for_the_doubled_cloth_is_cut_singly() -> None:
    wide = polygon_piece("Wide", [(0, 0), (700, 0), (600, 300), (0, 280)], count=PAIR)
    assert hands(laid(wide, fold=Fold.LENGTHWISE), "Wide") == [(Hand.DRAWN,), (Hand.TURNED,)]


def test_off_centre_fold_lays_singles_beside_the_doubled_part() -> None:
    halves, _ = halves_and_wholes((FRONT, BACK, FLAP))
    depths = off_centre_depths(Lay(CLOTH, Fold.OFF_CENTRE, tuple(halves.values())))
    assert depths == pytest.approx((260.0, 250.0))
    layout = laid(FRONT, BACK, FLAP, fold=Fold.OFF_CENTRE, fold_depth_mm=depths[0])
    flap = next(p for p in layout.placed if p.piece == "Flap")
    assert flap.cut_line[:, 1].min() >= 260.0 - 1e-6
    assert flap.plies == 1


def test_double_fold_has_a_fold_on_each_side() -> None:
    layout = laid(BACK, copies=2, fold=Fold.DOUBLE, cloth=replace(CLOTH, width_mm=1224))
    ys = sorted(float(p.cut_line[:, 1].min()) for p in layout.placed)
    assert ys == pytest.approx([0.0, 600 - 250])
    assert layout.length_mm == pytest.approx(layout.zones[0].x1)


def test_crosswise_fold_counts_both_plies_and_leaves_one_way_pieces_single() -> None:
    one_way = replace(FRONT, name="Oneway", grain_rule=GrainRule.ONE_WAY)
    layout = laid(FRONT, one_way, fold=Fold.CROSSWISE)
    assert hands(layout, "Front") == [(Hand.DRAWN, Hand.TURNED)]
    assert hands(layout, "Oneway") == [(Hand.DRAWN,), (Hand.TURNED,)]
    folded, opened = layout.zones
    assert layout.length_mm == pytest.approx(2 * folded.x1 + (opened.x1 - opened.x0))


def test_what_cannot_be_laid_is_refused_by_name() -> None:
    def refusal(*pieces: Piece, **options: object) -> LayError:
        with pytest.raises(LayError) as caught:
            laid(*pieces, **options)  # type: ignore[arg-type]
        return caught.value

    assert refusal(replace(FRONT, grain=None)).code == "no_grain"
    assert refusal(rectangle("Sheet", 1001, 300)).where == "Sheet"
    assert refusal(replace(BACK, count=Count(1, 1))).where == "Back"
    flaw = replace(CLOTH, flaws=(Flaw(((0, 0), (9, 0), (0, 9))),))
    assert refusal(FRONT, fold=Fold.LENGTHWISE, cloth=flaw).where == "flaws"
    nap = replace(CLOTH, nap=True)
    assert refusal(FRONT, fold=Fold.CROSSWISE, cloth=nap).where == "fold"


def test_a_piece_as_wide_as_the_cloth_fits() -> None:
    assert laid(rectangle("Sheet", 1000, 300)).length_mm == pytest.approx(300.0)


def test_two_pieces_of_one_name_are_refused() -> None:
    halves, _ = halves_and_wholes((FRONT,))
    with pytest.raises(LayError, match="called “Front”"):
        spread(Lay(CLOTH, Fold.OPEN, (halves["Front"], halves["Front"])))


def test_pieces_are_laid_round_a_flaw() -> None:
    clean = laid(rectangle("Sheet", 1000, 300)).length_mm
    flaw = replace(CLOTH, flaws=(Flaw(((100, 400), (140, 400), (140, 440), (100, 440)), "moth"),))
    assert laid(rectangle("Sheet", 1000, 300), cloth=flaw).length_mm == pytest.approx(
        clean + 140, abs=0.01
    )
