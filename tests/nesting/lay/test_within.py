"""As much of a lay as a given length holds, proved like any layout; the rest is named."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.cloth import Cloth, Fold
from nesting.engine.improve import first_layout, improve
from nesting.engine.problem import Budget, Problem, Solution
from nesting.invariants import violations_of
from nesting.lay.lay import Lay
from nesting.lay.spread import spread
from nesting.lay.within import within
from nesting.layout import Layout
from nesting.pieces.piece import PAIR, Count
from tests.nesting.making import halves_and_wholes, polygon_piece, rectangle

FRONT = polygon_piece("Front", [(0, 0), (260, 0), (240, 300), (180, 420), (0, 400)], count=PAIR)
BACK = polygon_piece("Back", [(0, 0), (250, 0), (230, 420), (60, 430), (0, 410)], fold=4)
TAB = rectangle("Tab", 50, 80, count=Count(3, 0))
HALVES, WHOLES = halves_and_wholes((FRONT, BACK, TAB))
CLOTH = Cloth(width_mm=824)


def held(
    room_mm: float,
    *,
    fold: Fold = Fold.LENGTHWISE,
    cloth: Cloth = CLOTH,
    search: object = first_layout,
) -> Layout:
    plan = spread(Lay(cloth, fold, tuple(HALVES.values())))
    layout, _ = within(plan, room_mm, search)  # type: ignore[arg-type]
    assert list(violations_of(layout, HALVES, WHOLES)) == []
    assert layout.length_mm <= room_mm + 1e-6
    return layout


@pytest.mark.parametrize("fold", [Fold.OPEN, Fold.LENGTHWISE, Fold.CROSSWISE])
def test_all_of_it_goes_into_enough_length(fold: Fold) -> None:
    assert held(4000.0, fold=fold).not_laid == ()


@pytest.mark.parametrize("fold", [Fold.OPEN, Fold.LENGTHWISE, Fold.CROSSWISE])
@pytest.mark.parametrize("room", [0.0, 60.0, 120.0, 500.0, 900.0])
def test_what_is_laid_and_what_is_not_add_up(fold: Fold, room: float) -> None:
    layout = held(room, fold=fold)
    laid = sum(len(p.hands) for p in layout.placed)
    assert laid + sum(a.drawn + a.turned for a in layout.not_laid) == 6


def test_pieces_longer_than_the_cloth_do_not_keep_others_off_it() -> None:
    layout = held(120.0, fold=Fold.OPEN)
    assert {p.piece for p in layout.placed} == {"Tab"}
    assert [(a.piece, a.drawn, a.turned) for a in layout.not_laid] == [
        ("Front", 1, 1), ("Back", 1, 0),
    ]  # fmt: skip


def test_stripes_go_on_from_strip_to_strip() -> None:
    striped = replace(CLOTH, repeat_along_mm=60.0, repeat_even=True)
    layout = held(700.0, cloth=striped)
    starts = [z.x0 for z in layout.zones]
    assert all(x % 60.0 == pytest.approx(0.0, abs=1e-6) for x in starts)


def test_a_search_lays_no_less_than_the_first_layout() -> None:
    def searched(problem: Problem) -> Solution:
        return improve(problem, seed=1, budget=Budget(steps=500))

    for room in (430.0, 520.0, 800.0):
        area = [
            sum(float(len(p.hands)) for p in held(room, search=s).placed)
            for s in (first_layout, searched)
        ]
        assert area[1] >= area[0]
