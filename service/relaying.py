"""Laying the rest again at the table: after a mis-cut, a flaw found late, or a change of mind.

What is cut is gone from the cloth and stays in the ledger; only what is missing is laid anew, round
the holes. The new layout is looked through and approved like the first one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sqlalchemy.orm import Session

from nesting.answer import answer_for
from nesting.cloth import Flaw
from nesting.engine.problem import Problem, Solution
from nesting.errors import LayError
from nesting.lay.relay import relay
from service import cutting, pipeline, wardrobe
from service.answer_json import answer_json
from service.answer_layout import layout_from_json
from service.errors import RefusedError
from service.pool import Runner
from service.rounds import search_once
from service.schemas import ClothRequest, LayRequest
from service.schemas_cutting import CuttingView, RelayWish
from service.store import lays
from service.store.database import Database
from service.wishes import cloth_of

SEED = 1


def lay_again(
    database: Database, runner: Runner, lay_id: str, cloth: str, wish: RelayWish
) -> dict[str, Any]:
    """The layout of what is still to be cut, in its wire form; nothing is kept yet.

    Raises ConflictError if the page saw an older state, RefusedError before the first layout is
    approved, LayError when something missing finds no room (the message names it).
    """
    with database.reading() as session:
        begun = cutting.begun_layout(session, lay_id, cloth, wish.number)
        lay = lays.get_lay(session, lay_id)
        request = LayRequest.model_validate(lay.request)
        _, style = wardrobe.stored_style(session, lay.style_id, lay.revision)
    flaws = _flaws(begun.flaws, wish)
    cut = pipeline.cut_style(style)
    said = request.cloths.get(cloth, ClothRequest())
    # All that ever lay on this cloth: cuttings that were made are holes for what comes now.
    whole = {**begun.layout, "placements": [*begun.gone, *begun.layout["placements"]]}

    def search(problem: Problem) -> Solution:
        return search_once(runner, problem, seed=SEED, seconds=wish.seconds)

    again = relay(
        replace(layout_from_json(whole), cloth=cloth_of(cloth, said)),
        {n: c for n, c in cut.halves.items() if c.piece.cloth == cloth},
        cut.wholes,
        begun.ledger,
        search=search,
        flaws=tuple(Flaw(tuple(outline)) for outline in flaws),
        keep=wish.keep,
    )
    if again.layout.not_laid:
        names = ", ".join(a.piece for a in again.layout.not_laid)
        raise LayError(
            f"no room was found any more for {names}",
            where=again.layout.not_laid[0].piece,
            hint="Take more cloth, or let the search take longer.",
            code="no_room",
        )
    fresh = answer_json(answer_for(again.layout))
    # What the lay could not do before, it cannot do now.
    fresh["findings"] = begun.layout.get("findings", [])
    return {**fresh, "history": [], "searching": False, "tried": []}


def keep_again(
    session: Session, lay_id: str, cloth: str, wish: RelayWish, *, fresh: dict[str, Any]
) -> CuttingView:
    """Keep a layout made by ``lay_again``, if nothing was changed meanwhile (else ConflictError)."""
    begun = cutting.begun_layout(session, lay_id, cloth, wish.number)
    flaws = [[list(point) for point in outline] for outline in _flaws(begun.flaws, wish)]
    return cutting.keep_relaid(session, lay_id, cloth, wish.number, fresh, flaws)


def _flaws(
    known: Sequence[Sequence[tuple[float, float]]], wish: RelayWish
) -> list[Sequence[tuple[float, float]]]:
    """The flaws known so far, less those that were none, and the new ones. Raises RefusedError."""
    unknown = [k for k in wish.take_back if k >= len(known)]
    if unknown:
        raise RefusedError(
            f"there is no flaw number {unknown[0] + 1} to take back",
            code="flaw",
            hint="Look at the list of flaws again.",
            where="take_back",
        )
    kept = [outline for k, outline in enumerate(known) if k not in wish.take_back]
    return [*kept, *wish.flaws]
