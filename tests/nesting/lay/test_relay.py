from __future__ import annotations

from dataclasses import replace

from shapely import Polygon

from nesting.cloth import Cloth, Flaw, Fold
from nesting.cutting.ledger import mark_cut, mark_spoiled, open_ledger
from nesting.engine.improve import first_layout
from nesting.invariants import violations_of
from nesting.lay.build import layout_of
from nesting.lay.lay import Lay
from nesting.lay.relay import Relay, relay
from nesting.lay.spread import spread
from nesting.layout import Layout
from nesting.pieces.piece import PAIR, Count, Hand
from tests.nesting.making import halves_and_wholes, polygon_piece, rectangle

FRONT = polygon_piece("Front", [(0, 0), (260, 0), (240, 300), (180, 420), (0, 400)], count=PAIR)
BACK = polygon_piece("Back", [(0, 0), (250, 0), (230, 420), (60, 430), (0, 410)], fold=4)
TAB = rectangle("Tab", 50, 80, count=Count(1, 0))
HALVES, WHOLES = halves_and_wholes((FRONT, BACK, TAB))
CLOTH = Cloth(width_mm=1024)


def laid(fold: Fold) -> Layout:
    plan = spread(Lay(CLOTH, fold, tuple(HALVES.values())))
    return layout_of(plan, tuple(first_layout(s.problem) for s in plan.strips))


def again(layout: Layout, ledger: object, **options: object) -> Relay:
    result = relay(layout, HALVES, WHOLES, ledger, search=first_layout, **options)  # type: ignore[arg-type]
    assert list(violations_of(result.layout, HALVES, WHOLES)) == []
    return result


def test_a_spoiled_hand_is_laid_singly_and_clear_of_all_that_was_cut() -> None:
    layout = laid(Fold.LENGTHWISE)
    ledger = mark_spoiled(mark_cut(open_ledger(layout), ("Front", 1)), ("Front", 1), Hand.TURNED)
    result = again(layout, ledger)
    assert result.moved == (("Front", 2),)
    assert set(result.kept) == {("Back", 1), ("Tab", 1)}
    fresh = result.layout.placed[-1]
    assert (fresh.hands, fresh.plies) == ((Hand.TURNED,), 1)
    cut = next(p for p in layout.placed if p.piece == "Front")
    assert not Polygon(fresh.cut_line).buffer(-0.1).intersects(Polygon(cut.cut_line))
    assert [(a.piece, a.drawn, a.turned) for a in result.layout.asked] == [
        ("Front", 0, 1), ("Back", 1, 0), ("Tab", 1, 0),
    ]  # fmt: skip


def test_nothing_moves_when_nothing_went_wrong() -> None:
    layout = laid(Fold.OPEN)
    result = again(layout, mark_cut(open_ledger(layout), ("Front", 1)))
    assert result.moved == ()
    assert result.layout.length_mm == layout.length_mm


def test_a_flaw_found_late_moves_the_piece_that_lies_on_it() -> None:
    layout = laid(Fold.OPEN)
    tab = next(p for p in layout.placed if p.piece == "Tab")
    x, y = tab.cut_line.mean(axis=0)
    flaw = Flaw(((x - 5, y - 5), (x + 5, y - 5), (x + 5, y + 5), (x - 5, y + 5)), "moth")
    result = again(layout, open_ledger(layout), flaws=(flaw,))
    assert [name for name, _ in result.moved] == ["Tab"]


def test_a_flaw_under_a_doubled_pair_lays_the_pair_again() -> None:
    layout = laid(Fold.LENGTHWISE)
    front = next(p for p in layout.placed if p.piece == "Front")
    x, y = front.cut_line.mean(axis=0)
    flaw = Flaw(((x, y), (x + 4, y), (x, y + 4)))
    result = again(layout, open_ledger(layout), flaws=(flaw,))
    hands = [h for p in result.layout.placed if p.piece == "Front" for h in p.hands]
    assert sorted(hands) == [Hand.DRAWN, Hand.TURNED]


def test_a_change_of_mind_may_move_every_uncut_piece_of_open_cloth() -> None:
    layout = laid(Fold.OPEN)
    result = again(layout, mark_cut(open_ledger(layout), ("Front", 1)), keep=False)
    assert result.kept == ()
    assert len(result.moved) == len(layout.placed) - 1


def test_what_no_longer_fits_is_told() -> None:
    """The cloth's length in hand decides: the answer says how much is lacking."""
    from nesting.answer import answer_for

    layout = laid(Fold.LENGTHWISE)
    owned = replace(layout, cloth=replace(CLOTH, available_mm=layout.length_mm + 40))
    ledger = mark_spoiled(mark_cut(open_ledger(owned), ("Front", 1)), ("Front", 1), Hand.DRAWN)
    fit = answer_for(again(owned, ledger).layout).fit
    assert fit is not None
    assert not fit.fits
    assert fit.blocking_piece == "Front"


def test_a_flaw_taken_back_gives_its_cloth_back() -> None:
    layout = laid(Fold.LENGTHWISE)
    front = next(p for p in layout.placed if p.piece == "Front")
    ledger = mark_cut(open_ledger(layout), ("Front", 1))
    far = 3 * layout.length_mm
    flaw = Flaw(((-1, -1), (far, -1), (far, 1100), (-1, 1100)))
    longer = again(layout, ledger, flaws=(flaw,)).layout
    assert longer.length_mm > far
    whole = replace(longer, cloth=CLOTH, placed=(front, *longer.placed))
    back = again(whole, ledger, keep=False).layout
    assert back.not_laid == ()
    assert back.length_mm == layout.length_mm
