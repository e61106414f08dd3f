from __future__ import annotations

import pytest

from nesting.cutting.ledger import (
    Ledger,
    check_done,
    gaps,
    lines,
    mark_cut,
    mark_spoiled,
    take_back,
)
from nesting.errors import LayError
from nesting.layout import Asked
from nesting.pieces.piece import Hand

BOTH = (Hand.DRAWN, Hand.TURNED)
LEDGER = Ledger(
    (Asked("Front", 1, 1), Asked("Back", 1, 0), Asked("Strap", 2, 0)),
    (
        (("Front", 1), BOTH),
        (("Back", 1), (Hand.DRAWN,)),
        (("Strap", 1), (Hand.DRAWN, Hand.DRAWN)),
    ),
)


def test_done_is_refused_until_every_hand_is_cut() -> None:
    ledger = mark_cut(LEDGER, ("Front", 1))
    with pytest.raises(LayError, match=r"1 x Back \(drawn\), 2 x Strap \(drawn\)"):
        check_done(ledger)
    ledger = mark_cut(mark_cut(ledger, ("Back", 1)), ("Strap", 1))
    check_done(ledger)
    assert gaps(ledger) == ()


def test_the_same_piece_is_not_cut_twice() -> None:
    ledger = mark_cut(LEDGER, ("Back", 1))
    with pytest.raises(LayError, match="cut already") as caught:
        mark_cut(ledger, ("Back", 1))
    assert caught.value.code == "cut_twice"


def test_the_same_hand_is_not_cut_twice() -> None:
    again = Ledger(LEDGER.asked, (*LEDGER.hands, (("Back", 2), (Hand.DRAWN,))), (("Back", 1),))
    with pytest.raises(LayError, match="is cut already") as caught:
        mark_cut(again, ("Back", 2))
    assert "every Back (drawn)" in caught.value.message


def test_a_spoiled_hand_must_be_cut_again() -> None:
    ledger = mark_spoiled(mark_cut(LEDGER, ("Front", 1)), ("Front", 1), Hand.TURNED)
    left = next(n for n in lines(ledger) if (n.piece, n.hand) == ("Front", Hand.TURNED))
    assert (left.asked, left.cut, left.spoiled, left.gap) == (1, 0, 1, 1)
    with pytest.raises(LayError, match="not among"):
        mark_spoiled(ledger, ("Front", 1), Hand.TURNED)


def test_a_mark_set_by_mistake_is_taken_back() -> None:
    ledger = mark_spoiled(mark_cut(LEDGER, ("Front", 1)), ("Front", 1), Hand.DRAWN)
    assert take_back(ledger, ("Front", 1)) == LEDGER


def test_what_is_not_laid_cannot_be_cut() -> None:
    with pytest.raises(LayError, match="not on this layout"):
        mark_cut(LEDGER, ("Front", 9))
