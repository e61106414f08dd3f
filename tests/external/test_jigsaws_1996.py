"""A jigsaw with a known answer: a square of side 100, cut into ten pieces that only go together again.

Source of the figures: the set "dighe2" of R. Dighe and M. J. Jakiela, Solving pattern nesting problems
with genetic algorithms employing task decomposition and contact detection, Evolutionary Computation 3
(1996), as kept in the public collection of the EURO working group on cutting and packing.
"""

from __future__ import annotations

import pytest

from nesting.engine.improve import first_layout, improve
from nesting.engine.problem import Budget, Item, Problem
from nesting.polygon import as_points, signed_area
from tests.bench.proof import wrongs

pytestmark = pytest.mark.external

PIECES = [
    [(0, 0), (33, 0), (33, 19), (3, 11)],
    [(0, 0), (42, 0), (37, 30), (0, 19)],
    [(5, 0), (30, 0), (30, 51), (0, 30)],
    [(0, 0), (3, 11), (7, 33), (8, 38), (0, 36)],
    [(0, 0), (30, 8), (67, 19), (56, 29), (4, 22)],
    [(23, 0), (53, 21), (53, 70), (19, 70), (7, 42), (0, 23), (12, 10)],
    [(0, 0), (52, 7), (40, 20), (47, 39), (3, 30), (1, 5)],
    [(0, 0), (8, 2), (10, 27), (12, 64), (0, 64)],
    [(0, 0), (44, 9), (16, 37), (2, 37)],
    [(0, 28), (28, 0), (40, 28)],
]


def jigsaw(side: float) -> Problem:
    items = tuple(Item(str(k), as_points(points)) for k, points in enumerate(PIECES))
    return Problem(side, items)


def test_the_pieces_are_the_whole_square() -> None:
    assert sum(signed_area(as_points(p)) for p in PIECES) == 10000


@pytest.mark.slow
def test_the_jigsaw_goes_together() -> None:
    # The strip is a ten-thousandth wider, as is usual for this set.
    problem = jigsaw(100.01)
    found = improve(problem, seed=1, budget=Budget(steps=150_000))
    assert wrongs(problem, found) == []
    assert found.length <= 101.0
    assert found.length >= found.floor == pytest.approx(99.99)
    assert first_layout(problem).length > 120
