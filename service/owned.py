"""Cloth that is already there and too short: what of the lay goes on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from nesting.answer import answer_for
from nesting.engine.problem import Problem, Solution
from nesting.estimate import length_within
from nesting.invariants import prove
from nesting.lay.within import within
from nesting.layout import Asked
from service import pipeline
from service.answer_json import answer_json
from service.rounds import ClothSearch, Search, search_once

SHARE = 0.3
"""Of the time that was asked for the search, so much may be added for this ..."""

LONGEST_S = 3.0
"""... and no more than this."""


def lay_on_owned(
    search: Search,
    *,
    seconds: float | None = None,
    steps: int | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> None:
    """For every cloth that is too short for the best layout found: search for the most that goes on
    it (``ClothSearch.held``); if all of it does, that is the best layout."""
    for cloth in search.cloths:
        answer = cloth.best.answer
        if answer is None or answer.fit is None or answer.fit.fits or stop():
            continue
        _lay_on(
            search,
            cloth,
            seconds=min(LONGEST_S, SHARE * (seconds or 0.0)),
            steps=None if steps is None else round(SHARE * steps),
        )


def _lay_on(search: Search, cloth: ClothSearch, *, seconds: float, steps: int | None) -> None:
    one = cloth.best
    owned = one.spread.lay.cloth
    assert owned.available_mm is not None

    def most(problem: Problem) -> Solution:
        return search_once(search.runner, problem, seed=search.seed, seconds=seconds, steps=steps)

    layout, solutions = within(one.spread, length_within(owned.available_mm, owned), most)
    if layout.not_laid:
        prove(layout, search.cut.halves, search.cut.wholes)
        answer = answer_for(layout, matched=owned.matched)
        sent = answer_json(answer)
        kept = ("length_mm", "utilisation", "zones", "placements", "not_laid", "steps_text")
        cloth.held = {key: sent[key] for key in kept} | {"text": held_text(layout.not_laid)}
        return
    # The floors of a container are not those of the open strip.
    floors = [s.floor for s in one.solutions]
    one.solutions = tuple(replace(s, floor=f) for s, f in zip(solutions, floors, strict=True))
    one.answer = pipeline.finish(search.cut, one.spread, one.solutions)


def held_text(left_out: tuple[Asked, ...]) -> str:
    """What does not go on the cloth, as a sentence."""
    said = [f"{a.piece}{_times(a)}" for a in left_out]
    listed = said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"
    return f"All but {listed} was found a place on the cloth that is there."


def _times(asked: Asked) -> str:
    count = asked.drawn + asked.turned
    return "" if count == 1 else f" ({count})"


def with_held(result: dict[str, Any], cloth: ClothSearch) -> dict[str, Any]:
    """A cloth's wire object with what goes on the cloth that is there, said in the fit as well."""
    held = None if result["fits"] else cloth.held
    text = result["fits_text"] if held is None else f"{result['fits_text']} {held['text']}"
    return {**result, "fits_text": text, "held": held}
