"""The search as rounds: what is shared out, what is handed on, what is told."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from typing import Any

import pytest

from nesting.cloth import Cloth, Fold
from service import pipeline, wardrobe
from service.pool import InProcess
from service.rounds import ClothSearch, RoundResult, Search, Wish, cloth_json
from tests.service.sheets import SEVERAL

CLOTH = Cloth(width_mm=700, selvedge_mm=0)


class Counting(InProcess):
    """Runs lanes in this process and writes down their seeds."""

    def __init__(self, lanes: int) -> None:
        self.lanes = lanes
        self.seeds: list[list[int]] = []

    def run(
        self, function: Callable[[Any], Any], tasks: Sequence[Any], *, within_s: float | None = None
    ) -> list[Any]:
        self.seeds.append([t.seed for t in tasks])
        return super().run(function, tasks)


class Idle(Counting):
    """Brings every lane's incumbent back, as if it had searched for half a second."""

    def run(
        self, function: Callable[[Any], Any], tasks: Sequence[Any], *, within_s: float | None = None
    ) -> list[Any]:
        self.seeds.append([t.seed for t in tasks])
        return [RoundResult(t.incumbents, 0.5) for t in tasks]


def search(runner: Counting, folds: tuple[Fold, ...] | None = (Fold.OPEN,)) -> Search:
    style, _ = wardrobe.style_of(SEVERAL, "patches")
    return Search(pipeline.cut_style(style), [Wish(CLOTH, folds)], seed=5, runner=runner)


def quiet(*_: object) -> None:
    """Nothing."""


def test_every_lane_of_every_round_has_a_seed_of_its_own() -> None:
    runner = Idle(2)
    made = search(runner)
    made.begin(quiet)
    made.run(quiet, steps=6000)
    assert runner.seeds == [[5, 6], [7, 8], [9, 10]]


def test_seconds_are_those_that_rounds_took() -> None:
    runner = Idle(1)
    made = search(runner)
    made.begin(quiet)
    made.run(quiet, seconds=2.0)
    assert len(runner.seeds) == 4
    assert made.seconds == pytest.approx(2.0)


def test_stopping_ends_after_the_round() -> None:
    runner = Idle(1)
    made = search(runner)
    made.begin(quiet)
    made.run(quiet, seconds=600, stop=lambda: len(runner.seeds) >= 3)
    assert len(runner.seeds) == 3


def test_the_best_fold_gets_most_rounds_and_each_gets_one() -> None:
    runner = Idle(1)
    made = search(runner, folds=None)
    made.begin(quiet)
    made.run(quiet, seconds=20.0)
    (cloth,) = made.cloths
    rounds = {t.spread.lay.fold: t.rounds for t in cloth.tries if not t.at_floor}
    assert min(rounds.values()) >= 1
    assert max(cloth.tries, key=lambda t: t.rounds) is cloth.best


def test_improvements_are_told_and_never_longer() -> None:
    lengths: list[float] = []

    def told(_: Search, cloth: ClothSearch) -> None:
        lengths.append(cloth.best.length_mm)

    made = search(Counting(1))
    made.begin(told)
    made.run(told, steps=2000)
    assert lengths == sorted(lengths, reverse=True)
    (cloth,) = made.cloths
    assert lengths[-1] == cloth.best.length_mm >= cloth.best.solutions[0].floor
    shown = cloth_json(cloth, searching=False)
    assert [h["length_mm"] for h in shown["history"]] == [round(n, 4) for n in lengths]
    json.dumps(shown, allow_nan=False)
