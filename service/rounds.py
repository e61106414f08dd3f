"""The search as rounds of about a second: several seeds side by side, the best handed on.

A lay has one or more *tries* a cloth (one fold, or all that ``best`` permits). First every try gets
a layout at once, without search. Then each round gives one try to all lanes, each with a seed of
its own; the best of what they bring back is that try's incumbent from then on. Everything that
crosses a process border is plain data, so progress, stopping, a lost worker and many machines all
come from this one idea.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from nesting.answer import Answer
from nesting.cloth import Cloth, Fold
from nesting.engine.improve import better, first_layout, improve, warm_up
from nesting.engine.problem import Budget, Problem, Solution
from nesting.errors import NestingError
from nesting.lay.spread import Spread
from service import pipeline
from service.answer_json import answer_json
from service.pool import Runner

ROUND_S = 1.0
"""A round's length: stopping from a page takes no longer, and handing on costs little beside it."""

SHORTEST_ROUND_S = 0.2
ROUND_STEPS = 2000
"""The same in steps."""

STEPS_WITHIN_S = 300.0
"""No round of steps takes longer on any machine: beyond it a worker hangs."""

AT_FLOOR_MM = 0.01
"""A layout this near to its floor cannot get shorter: its search ends."""

SECOND_LOOK = 4
"""Every so many rounds go to the second best fold, which may only have started badly."""


@dataclass(frozen=True, slots=True)
class RoundTask:
    """One lane of one round: the strips of a try, what is known of them, and a budget for each."""

    problems: tuple[Problem, ...]
    incumbents: tuple[Solution, ...]
    budgets: tuple[Budget, ...]
    seed: int


@dataclass(frozen=True, slots=True)
class RoundResult:
    """What a lane brings back."""

    solutions: tuple[Solution, ...]
    seconds: float


def run_round(task: RoundTask) -> RoundResult:
    """Search every strip of a try, in this process; a compiler's time is not counted."""
    warm_up()
    started = time.perf_counter()
    solutions = tuple(
        improve(problem, incumbent, seed=task.seed, budget=budget)
        for problem, incumbent, budget in zip(
            task.problems, task.incumbents, task.budgets, strict=True
        )
    )
    return RoundResult(solutions, time.perf_counter() - started)


def prepare(runner: Runner) -> None:
    """Let every lane compile its kernels, or read them from the cache, before a search is timed: one
    first, so that the others find them there."""
    runner.run(_compiled, [0])
    runner.run(_compiled, range(runner.lanes))


def _compiled(_lane: int) -> bool:
    return warm_up()


@dataclass(frozen=True, slots=True)
class Wish:
    """What is asked of one cloth: the cloth, and the folds to try (None: all it allows)."""

    cloth: Cloth
    folds: tuple[Fold, ...] | None
    copies: int = 1
    gap_mm: float = 0.0


@dataclass(slots=True)
class Try:
    """One way to spread one cloth, and how far its search has come."""

    spread: Spread
    solutions: tuple[Solution, ...] = ()
    rounds: int = 0
    answer: Answer | None = None

    @property
    def length_mm(self) -> float:
        """Cloth length of the incumbent."""
        pairs = zip(self.spread.strips, self.solutions, strict=True)
        return sum(solution.length * strip.plies_along for strip, solution in pairs)

    @property
    def at_floor(self) -> bool:
        """Whether nothing shorter can be found."""
        return all(s.length <= s.floor + AT_FLOOR_MM for s in self.solutions)

    @property
    def need_mm(self) -> float:
        """Cloth needed before rounding to the shop's step; the measure of a fold."""
        assert self.answer is not None
        return self.answer.estimate.need_mm


@dataclass(slots=True)
class ClothSearch:
    """The tries of one cloth, and what was spent on them."""

    role: str
    tries: list[Try]
    weight: float
    seconds: float = 0.0
    steps: int = 0
    rounds: int = 0
    history: list[dict[str, float]] = field(default_factory=list)
    held: dict[str, Any] | None = None
    """What of it goes on the cloth that is there, when that is too short (``service.owned``)."""

    @property
    def best(self) -> Try:
        """The try that needs least cloth; of equals the one asked for first."""
        return min((t for t in self.tries if t.answer), key=lambda t: t.need_mm)

    @property
    def finished(self) -> bool:
        """Whether no try that could still win can get shorter."""
        return all(t.at_floor for t in self.tries)

    def next_try(self) -> Try:
        """Each try once, then the best, and now and then the second best."""
        open_tries = [t for t in self.tries if not t.at_floor]
        fresh = [t for t in open_tries if t.rounds == 0]
        if fresh:
            return fresh[0]
        ranked = sorted(open_tries, key=lambda t: t.need_mm)
        second = len(ranked) > 1 and self.rounds % SECOND_LOOK == SECOND_LOOK - 1
        return ranked[1 if second else 0]


Report = Callable[["Search", ClothSearch], None]


class Search:
    """A search over several cloths. ``begin`` finds first layouts, ``run`` improves them."""

    def __init__(
        self, cut: pipeline.Cut, wishes: Sequence[Wish], *, seed: int, runner: Runner
    ) -> None:
        self.cut = cut
        self.cloths = [_cloth_search(cut, wish) for wish in wishes]
        self.seed = seed
        self.runner = runner
        self.seconds = 0.0

    @property
    def steps(self) -> int:
        """Steps spent on all cloths."""
        return sum(c.steps for c in self.cloths)

    def begin(self, report: Report, *, stop: Callable[[], bool] = lambda: False) -> None:
        """A legal layout for every cloth at once, then for its other folds; reports what is better.
        ``stop`` is asked once every cloth has a layout."""
        for cloth in self.cloths:
            self._first_layout(cloth.tries[0])
            self._note(cloth)
            report(self, cloth)
        for cloth in self.cloths:
            for one in cloth.tries[1:]:
                if stop():
                    return
                before = cloth.best.need_mm
                self._first_layout(one)
                if cloth.best.need_mm < before:
                    self._note(cloth)
                    report(self, cloth)

    def run(
        self,
        report: Report,
        *,
        seconds: float | None = None,
        steps: int | None = None,
        stop: Callable[[], bool] = lambda: False,
    ) -> None:
        """Improve until the budget is spent, every cloth is at its floor, or ``stop()``.

        ``seconds`` are shared by all cloths in proportion to their pieces; time spent waiting for a
        free worker is not charged. ``steps`` are for every try of every cloth, in each lane: the
        same seed, steps and number of lanes give the same layouts on any machine.
        """
        if steps is not None:
            self._run_steps(report, steps, stop)
        else:
            self._run_seconds(report, seconds or 0.0, stop)

    def _first_layout(self, one: Try) -> None:
        one.spread, one.solutions = pipeline.first_layouts(one.spread)
        one.answer = pipeline.finish(self.cut, one.spread, one.solutions)

    def _run_seconds(self, report: Report, seconds: float, stop: Callable[[], bool]) -> None:
        tries = sum(len(c.tries) for c in self.cloths)
        length = min(ROUND_S, max(SHORTEST_ROUND_S, seconds / (3 * max(tries, 1))))
        while not stop():
            left = seconds - sum(c.seconds for c in self.cloths)
            cloths = [c for c in self.cloths if not c.finished]
            if not cloths or left < SHORTEST_ROUND_S / 2:
                return
            cloth = min(cloths, key=lambda c: c.seconds / c.weight)
            self._round(report, cloth, cloth.next_try(), Budget(seconds=min(length, left)))

    def _run_steps(self, report: Report, steps: int, stop: Callable[[], bool]) -> None:
        for cloth in self.cloths:
            for one in cloth.tries:
                left = steps
                while left > 0 and not one.at_floor and not stop():
                    budget = min(left, ROUND_STEPS)
                    self._round(report, cloth, one, Budget(steps=budget))
                    left -= budget

    def _round(self, report: Report, cloth: ClothSearch, one: Try, budget: Budget) -> None:
        budgets = pipeline.share_out(one.spread, budget)
        first_seed = self.seed + one.rounds * self.runner.lanes
        tasks = [
            RoundTask(
                tuple(s.problem for s in one.spread.strips),
                one.solutions,
                budgets,
                first_seed + lane,
            )
            for lane in range(self.runner.lanes)
        ]
        results = self.runner.run(run_round, tasks, within_s=budget.seconds or STEPS_WITHIN_S)
        one.rounds += 1
        cloth.rounds += 1
        spent = max(r.seconds for r in results)
        cloth.seconds += spent
        self.seconds += spent
        cloth.steps += budget.steps or sum(s.steps for r in results for s in r.solutions)
        before = cloth.best.need_mm
        best = _best_of([one.solutions, *(r.solutions for r in results)])
        if best != one.solutions:
            one.spread, one.solutions = pipeline.taken(one.spread, one.solutions, best)
            one.answer = pipeline.finish(self.cut, one.spread, one.solutions)
        if cloth.best.need_mm < before:
            self._note(cloth)
            report(self, cloth)

    def _note(self, cloth: ClothSearch) -> None:
        cloth.history.append(
            {
                "seconds": round(cloth.seconds, 3),
                "steps": cloth.steps,
                "length_mm": round(cloth.best.length_mm, 4),
            }
        )


def cloth_json(cloth: ClothSearch, *, searching: bool) -> dict[str, Any]:
    """A cloth's best answer as it is sent: the agreed object with its history."""
    best = cloth.best
    assert best.answer is not None
    return {
        **answer_json(best.answer, seconds=cloth.seconds),
        "history": list(cloth.history),
        "searching": searching,
        "tried": [
            {
                "fold": t.spread.lay.fold.value,
                "fold_depth_mm": t.spread.lay.fold_depth_mm,
                "length_mm": round(t.length_mm, 4),
                "buy_mm": t.answer.estimate.buy_mm,
                "buy_text": t.answer.estimate.buy_text,
            }
            for t in cloth.tries
            if t.answer is not None
        ],
    }


def _cloth_search(cut: pipeline.Cut, wish: Wish) -> ClothSearch:
    spreads = _spreads(cut, wish)
    pieces = sum(i.count for s in spreads[0].strips for i in s.problem.items)
    return ClothSearch(wish.cloth.role, [Try(s) for s in spreads], weight=float(max(pieces, 1)))


def _spreads(cut: pipeline.Cut, wish: Wish) -> list[Spread]:
    """The spreads to search. When all folds are to be tried, those that this cloth cannot take are
    left out; if it can take none, the first reason is told."""
    options: Mapping[str, Any] = {"copies": wish.copies, "gap_mm": wish.gap_mm}
    if wish.folds is not None:
        return [
            pipeline.plan(pipeline.lay_for(cut, wish.cloth, fold, **options)) for fold in wish.folds
        ]
    lay = pipeline.lay_for(cut, wish.cloth, Fold.OPEN, **options)
    spreads: list[Spread] = []
    reasons: list[NestingError] = []
    for one in pipeline.lays_to_try(lay):
        try:
            spreads.append(pipeline.plan(one))
        except NestingError as error:
            reasons.append(error)
    if not spreads:
        raise reasons[0]
    return spreads


def search_once(
    runner: Runner, problem: Problem, *, seed: int, seconds: float, steps: int | None = None
) -> Solution:
    """One round on one problem, a container of given length included: the best of all lanes. With
    ``steps`` the seconds do not count."""
    best = first_layout(problem)
    budget = Budget(seconds=seconds) if steps is None else Budget(steps=steps)
    if not (budget.seconds or budget.steps) or not problem.items:
        return best
    tasks = [RoundTask((problem,), (best,), (budget,), seed + lane) for lane in range(runner.lanes)]
    for found in runner.run(run_round, tasks, within_s=budget.seconds or STEPS_WITHIN_S):
        if better(problem, found.solutions[0], best):
            best = found.solutions[0]
    return best


def _best_of(found: Sequence[tuple[Solution, ...]]) -> tuple[Solution, ...]:
    """For every strip the shortest solution; of equals the first, so that the order decides."""
    return tuple(min(strip, key=lambda s: s.length) for strip in zip(*found, strict=True))
