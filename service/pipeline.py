"""The whole flow, chained: style -> cut pieces -> lay -> spread -> layout -> answer. Only here."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.allowances.cut_piece import CutPiece
from nesting.allowances.make import cut_piece, unfold_cut
from nesting.answer import Answer, answer_for
from nesting.cloth import Cloth, Fold
from nesting.engine.floor import floor
from nesting.engine.improve import first_layout, improve
from nesting.engine.legal import faults
from nesting.engine.problem import Budget, Problem, Solution
from nesting.invariants import prove
from nesting.lay.build import layout_of, settled
from nesting.lay.lay import Lay
from nesting.lay.matching import lay_findings
from nesting.lay.spread import Spread, off_centre_depths, spread
from nesting.pieces.check import check_piece
from nesting.pieces.piece import Style

OFFERED_FOLDS = (Fold.OPEN, Fold.LENGTHWISE, Fold.OFF_CENTRE, Fold.DOUBLE, Fold.CROSSWISE)
DEPTHS_TRIED = 3
"""Off-centre depths searched by `best`: the widest ones, each at which another piece fits."""


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A style's cut pieces, as cut and unfolded, by piece name."""

    halves: Mapping[str, CutPiece]
    wholes: Mapping[str, CutPiece]


def cut_style(style: Style) -> Cut:
    """Cut pieces of every piece. Raises PieceError or AllowanceError naming the first bad piece."""
    for piece in style.pieces:
        check_piece(piece)
    halves = {p.name: cut_piece(p) for p in style.pieces}
    wholes = {n: unfold_cut(c) if c.fold is not None else c for n, c in halves.items()}
    return Cut(halves, wholes)


def lay_for(
    cut: Cut,
    cloth: Cloth,
    fold: Fold,
    *,
    copies: int = 1,
    gap_mm: float = 0.0,
    fold_depth_mm: float | None = None,
) -> Lay:
    """The lay of the pieces whose role is the cloth's. An off-centre fold without a depth takes the
    deepest at which a piece just fits."""
    pieces = tuple(c for c in cut.halves.values() if c.piece.cloth == cloth.role)
    lay = Lay(cloth, fold, pieces, copies, gap_mm, fold_depth_mm)
    if fold is Fold.OFF_CENTRE and fold_depth_mm is None:
        depths = off_centre_depths(lay)
        lay = replace(lay, fold_depth_mm=depths[0] if depths else cloth.usable_width_mm / 4)
    return lay


def lays_to_try(lay: Lay) -> tuple[Lay, ...]:
    """The lays that `--fold best` searches: every fold that this cloth allows."""
    folds = [f for f in OFFERED_FOLDS if not (f is Fold.CROSSWISE and lay.cloth.nap)]
    if lay.cloth.matched:
        folds = [Fold.OPEN, Fold.LENGTHWISE]
    tries = []
    for fold in folds:
        plain = replace(lay, fold=fold, fold_depth_mm=None)
        if fold is Fold.OFF_CENTRE:
            depths = off_centre_depths(plain)[:DEPTHS_TRIED]
            tries += [replace(plain, fold_depth_mm=d) for d in depths]
        else:
            tries.append(plain)
    return tuple(tries)


def plan(lay: Lay) -> Spread:
    """The lay as packing problems. Raises LayError or ClothError."""
    return spread(lay)


def first_answer(cut: Cut, planned: Spread) -> Answer:
    """A legal answer at once, before any search (no compiled kernels needed)."""
    return finish(cut, *first_layouts(planned))


def first_layouts(planned: Spread) -> tuple[Spread, tuple[Solution, ...]]:
    """A legal solution of every strip without search, and the plan with the strips where they lie."""
    found: list[Solution] = []
    for index in range(len(planned.strips)):
        planned = settled(planned, [s.length for s in found])
        found.append(first_layout(planned.strips[index].problem))
    return planned, tuple(found)


def taken(
    planned: Spread, known: tuple[Solution, ...], best: tuple[Solution, ...]
) -> tuple[Spread, tuple[Solution, ...]]:
    """The plan and the solutions to go on with after ``best`` was found for its strips.

    Where the cloth lacks something and an earlier strip became shorter, a later one meets other flaws:
    its layout is kept if it is legal there, else made anew; and if that costs more than it saved, the
    earlier strip stays as it was.
    """
    moved = settled(planned, [s.length for s in best])
    if all(a is b for a, b in zip(moved.strips, planned.strips, strict=True)):
        return planned, best
    fresh: list[Solution] = []
    for index, solution in enumerate(best):
        moved = settled(moved, [s.length for s in fresh])
        fresh.append(_still(moved.strips[index].problem, solution))
    stayed = (known[0], *best[1:]) if len(best) == 2 else known
    if _total(moved, fresh) < _total(planned, stayed):
        return moved, tuple(fresh)
    return planned, stayed


def _still(problem: Problem, solution: Solution) -> Solution:
    if faults(problem, solution.placements):
        return first_layout(problem)
    return replace(solution, floor=floor(problem))


def _total(planned: Spread, solutions: Sequence[Solution]) -> float:
    return sum(
        s.length * strip.plies_along for strip, s in zip(planned.strips, solutions, strict=True)
    )


def solve(
    planned: Spread,
    *,
    seed: int,
    budget: Budget,
    stop: Callable[[], bool] | None = None,
    incumbents: tuple[Solution | None, ...] | None = None,
) -> tuple[Solution, ...]:
    """Search every strip in this process, the budget shared out by their number of pieces."""
    if len(planned.strips) > 1 and planned.lay.cloth.lacks:
        raise AssertionError("strips that depend on one another are searched in rounds")
    known = incumbents or (None,) * len(planned.strips)
    shares = share_out(planned, budget)
    return tuple(
        improve(strip.problem, incumbent, seed=seed, budget=share, stop=stop)
        for strip, incumbent, share in zip(planned.strips, known, shares, strict=True)
    )


def share_out(planned: Spread, budget: Budget) -> tuple[Budget, ...]:
    """The budget divided among the strips in proportion to their number of pieces."""
    counts = [sum(i.count for i in s.problem.items) for s in planned.strips]
    total = sum(counts) or 1
    if budget.steps is not None:
        return tuple(Budget(steps=max(1, round(budget.steps * n / total))) for n in counts)
    assert budget.seconds is not None
    return tuple(Budget(seconds=budget.seconds * n / total) for n in counts)


def finish(cut: Cut, planned: Spread, solutions: tuple[Solution, ...]) -> Answer:
    """The layout that the solutions make, proved legal, and what it means for the cloth."""
    layout = layout_of(planned, solutions)
    prove(layout, cut.halves, cut.wholes)
    lay = planned.lay
    return answer_for(layout, matched=lay.cloth.matched, findings=lay_findings(lay))
