"""Cloth that is already there and too short: what of the lay goes on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from nesting.answer import answer_for
from nesting.engine.problem import Problem, Solution
from nesting.estimate import length_within
from nesting.invariants import prove
from nesting.lay.build import settled
from nesting.lay.within import within
from nesting.layout import Asked, Layout
from nesting.polygon import signed_area
from service import pipeline
from service.answer_json import answer_json
from service.rounds import ClothSearch, Search, Try, search_once

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
    """Every fold that was tried is filled; most pieces, then most area, is best."""
    tries = [t for t in cloth.tries if t.answer is not None]
    tries.sort(key=lambda t: t.need_mm)
    found: list[tuple[int, int, Layout]] = []
    for one in tries:
        layout, solutions = _filled(
            search,
            one,
            seconds=seconds / len(tries),
            steps=None if steps is None else round(steps / len(tries)),
        )
        if not layout.not_laid:
            _keep_whole(search, one, solutions)
            return
        prove(layout, search.cut.halves, search.cut.wholes)
        pieces = sum(len(p.hands) for p in layout.placed)
        # To the square centimetre: the same pieces in another fold are no more.
        area = round(sum(abs(signed_area(p.cut_line)) * p.plies for p in layout.placed) / 100)
        found.append((pieces, area, layout))
    if found:
        # Of equals the first: the fold that needs least cloth.
        layout = max(found, key=lambda f: f[:2])[2]
        cloth.held = _held_json(layout)


def _filled(
    search: Search, one: Try, *, seconds: float, steps: int | None
) -> tuple[Layout, tuple[Solution, ...]]:
    owned = one.spread.lay.cloth
    assert owned.owned_mm is not None

    def most(problem: Problem) -> Solution:
        return search_once(search.runner, problem, seed=search.seed, seconds=seconds, steps=steps)

    return within(one.spread, length_within(owned.owned_mm, owned), most)


def _keep_whole(search: Search, one: Try, solutions: tuple[Solution, ...]) -> None:
    """All of it goes on the cloth: that is the layout of this fold from now on."""
    # The floors of a container are not those of the open strip.
    floors = [s.floor for s in one.solutions]
    one.solutions = tuple(replace(s, floor=f) for s, f in zip(solutions, floors, strict=True))
    one.spread = settled(one.spread, [s.length for s in one.solutions])
    one.answer = pipeline.finish(search.cut, one.spread, one.solutions)


def _held_json(layout: Layout) -> dict[str, Any]:
    sent = answer_json(answer_for(layout, matched=layout.cloth.matched))
    return {key: sent[key] for key in HELD} | {"text": held_text(layout.not_laid)}


HELD = (
    "fold",
    "length_mm",
    "utilisation",
    "zones",
    "placements",
    "not_laid",
    "steps_text",
    "lacks",
)


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
