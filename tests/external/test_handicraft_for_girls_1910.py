"""Small underwaist and small drawers: Idabelle McGlauflin, *Handicraft for Girls*, Peoria, Manual Arts
Press, 1910 (exercises 42 and 46; Project Gutenberg 34854). The drafts are dimensioned figures at
quarter scale, multiplied by four here; seams lie inside. Curves are drawn there, not numbered: their
points are taken to about 1/8 in. Inches."""

from __future__ import annotations

import numpy as np
import pytest

from nesting.cloth import Fold
from nesting.pieces.piece import PAIR, Hand
from service.demo.draft import Point, curve, trace
from tests.external.chain import ROUNDING_IN, answer, length_in, shape

pytestmark = pytest.mark.external

EIGHTH_IN = 0.125


def through(*points: Point) -> list[Point]:
    """A fair curve through the book's points, without its last point."""
    return trace(curve("", *points))[:-1:8]


UNDERWAIST = [
    # Front half, x = 0 the fold: hem, side to the underarm, armhole, shoulder, neck.
    shape(
        "Front",
        [
            (0, 0), (5.5, 0), *through((6, 5), (4, 6.1), (5, 8.5)), (5, 8.5),
            *through((2.5, 9.5), (1.9, 7.9), (0, 7)), (0, 7),
        ],
        fold=-1,
    ),
    # Back, x = 0 the free edge, x = 1 the centre line.
    shape(
        "Back",
        [
            (0, 0), (1, 0), (5.5, 0.5), *through((6, 5.5), (4.65, 7.5), (4.75, 8.25)), (4.75, 8.25),
            *through((2.5, 9.5), (1, 8.5), (0, 8.9)), (0, 8.9),
        ],
        count=PAIR,
    ),
]  # fmt: skip

DRAWERS = shape(
    "Leg",
    [
        # Opened at the side (x = 0): the back to the right, the front inside its line to the left.
        (6, 0), *through((5.9, 2.5), (6.4, 4.2), (7.5, 5.5)), (7.5, 5.5), (6.25, 11), (0, 9.75),
        (-5.7, 10.3), *through((-7.5, 5.5), (-6.4, 4.2), (-5.9, 2.5)), (-5.9, 2.5), (-6, 0),
    ],
    count=PAIR,
)  # fmt: skip


@pytest.mark.parametrize("fold", [Fold.OPEN, Fold.LENGTHWISE])
def test_underwaist_from_24_by_10(fold: Fold) -> None:
    # Stated: muslin 24 in wide and 10 in long. Front and backs are 9.5 tall: nothing below that.
    length = length_in(UNDERWAIST, 24, fold=fold)
    assert 9.5 - EIGHTH_IN <= length <= 10.0
    assert length == pytest.approx(9.5, abs=EIGHTH_IN)


def test_drawers_from_36_by_11() -> None:
    # Stated: muslin 36 in wide and 11 in long; the legs are 11 tall, 30 in of the 36 across.
    laid = answer([DRAWERS], 36)
    assert laid.layout.length_mm / 25.4 == pytest.approx(11.0, abs=ROUNDING_IN)
    ys = np.concatenate([p.cut_line[:, 1] for p in laid.layout.placed])
    assert np.ptp(ys) / 25.4 == pytest.approx(30.0, abs=0.5)
    # "Are both legs the same leg?" is the book's own warning: they must be mirrored.
    assert sorted(h for p in laid.layout.placed for h in p.hands) == [Hand.DRAWN, Hand.TURNED]


def test_narrower_cloth_is_not_enough() -> None:
    assert length_in(UNDERWAIST, 23.5) > 10.0
    assert length_in([DRAWERS], 29) > 11.5
