"""Lays: a search over one style on given cloths, its progress, its result."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from typing import Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import JSONResponse, Response, StreamingResponse
from sqlalchemy.orm import Session
from starlette.concurrency import run_in_threadpool

from service import wardrobe
from service.routes.styles import database_of
from service.schemas import LayDetail, LayList, LayRequest
from service.searches import Event, Searches
from service.store import lays
from service.store.database import Database
from service.store.tables import LayRow

PAUSE_S = 15.0
"""So often a silent stream says that it is alive."""

router = APIRouter(prefix="/api/lays", tags=["lays"])


def searches_of(request: Request) -> Searches:
    """The service's searches."""
    searches: Searches = request.app.state.searches
    return searches


@router.post("", response_model=LayDetail, status_code=202)
def add_lay(request: Request, wish: LayRequest) -> Response:
    """Begin a search; pieces that cannot be cut or laid are refused at once, by name."""
    answer = begin_lay(database_of(request), searches_of(request), wish)
    return JSONResponse(answer, status_code=202)


@router.get("", response_model=LayList)
def list_lays(request: Request, style: str | None = Query(default=None)) -> Response:
    """All lays (of one style), newest first."""
    with database_of(request).reading() as session:
        found = [_summary(session, row) for row in lays.list_lays(session, style)]
    return JSONResponse({"lays": found})


@router.get("/{lay_id}", response_model=LayDetail)
def get_lay(request: Request, lay_id: str) -> Response:
    """A lay with its best layouts so far."""
    with database_of(request).reading() as session:
        return JSONResponse(lay_detail(session, lays.get_lay(session, lay_id)))


@router.post("/{lay_id}/stop", response_model=LayDetail)
def stop_lay(request: Request, lay_id: str) -> Response:
    """Ask the search to end after its round (about a second); the best so far is kept."""
    with database_of(request).reading() as session:
        row = lays.get_lay(session, lay_id)
        searches_of(request).stop(lay_id)
        return JSONResponse(lay_detail(session, row))


@router.delete("/{lay_id}", status_code=204)
def delete_lay(request: Request, lay_id: str) -> Response:
    """Stop the search and take the lay off the list."""
    with database_of(request).writing() as session:
        lays.delete_lay(session, lay_id)
    searches_of(request).stop(lay_id)
    return Response(status_code=204)


@router.get("/{lay_id}/events", response_class=StreamingResponse)
async def events(request: Request, lay_id: str) -> Response:
    """Progress as server-sent events. First the full state, then each improvement (``cloth``) and
    each change of state (``state``); ends after done, stopped or failed."""
    await run_in_threadpool(_state, request, lay_id)
    return StreamingResponse(_stream(request, lay_id), media_type="text/event-stream")


async def _stream(request: Request, lay_id: str) -> AsyncIterator[str]:
    searches = searches_of(request)
    with searches.listening(lay_id) as listener:
        # The listener stands before the state is read, so that nothing falls between.
        detail = await run_in_threadpool(_state, request, lay_id)
        for cloth in detail["cloths"]:
            yield _event(Event(searches.next_number(), "cloth", cloth))
        state = {"state": detail["state"], "error": detail["error"]}
        yield _event(Event(searches.next_number(), "state", state))
        if listener is None or detail["state"] in lays.OVER:
            return
        shortest = {cloth["cloth"]: cloth["length_mm"] for cloth in detail["cloths"]}
        async for event in listener.events(pause_s=PAUSE_S):
            if event is None:
                yield ": still here\n\n"
            elif not _is_older(event, shortest):
                # Told while the state was read, an event may bear a number below the state's.
                yield _event(Event(searches.next_number(), event.name, event.data))


def _is_older(event: Event, shortest: dict[str, float]) -> bool:
    """Whether the stream has told a better layout of this cloth already; notes it if not."""
    if event.name != "cloth":
        return False
    cloth, length = event.data["cloth"], event.data["length_mm"]
    if length > shortest.get(cloth, length):
        return True
    shortest[cloth] = length
    return False


def _state(request: Request, lay_id: str) -> dict[str, Any]:
    with database_of(request).reading() as session:
        return lay_detail(session, lays.get_lay(session, lay_id))


def _event(event: Event) -> str:
    data = json.dumps(event.data, ensure_ascii=False, separators=(",", ":"))
    return f"id: {event.id}\nevent: {event.name}\ndata: {data}\n\n"


def begin_lay(database: Database, searches: Searches, wish: LayRequest) -> dict[str, Any]:
    """Keep a lay and begin its search. Raises NestingError or ServiceError, naming piece or field,
    before anything is kept."""
    with database.reading() as session:
        row, style = wardrobe.stored_style(session, wish.style_id)
    search = searches.prepare(style, wish)
    with database.writing() as session:
        lay = lays.add_lay(
            session,
            style_id=row.id,
            revision=row.revision,
            style=style.name,
            request=wish.model_dump(mode="json"),
        )
        answer = lay_detail(session, lay)
    searches.start(lay.id, search, wish)
    return answer


def restart(database: Database, searches: Searches, lay_id: str) -> None:
    """Begin a kept lay's search from the start, as after a crash before its first layout."""
    with database.reading() as session:
        lay = lays.get_lay(session, lay_id)
        wish = LayRequest.model_validate(lay.request)
        _, style = wardrobe.stored_style(session, lay.style_id, lay.revision)
    searches.start(lay_id, searches.prepare(style, wish), wish)


def lay_detail(session: Session, row: LayRow) -> dict[str, Any]:
    """A lay as it is sent."""
    return {
        "id": row.id,
        "style_id": row.style_id,
        "style": row.style,
        "revision": row.revision,
        "state": row.state,
        "created": row.created,
        "request": row.request,
        "error": row.error,
        "cloths": lays.results_of(session, row.id),
    }


def _summary(session: Session, row: LayRow) -> dict[str, Any]:
    return {
        "id": row.id,
        "style_id": row.style_id,
        "style": row.style,
        "state": row.state,
        "created": row.created,
        "summary": [
            {"cloth": r["cloth"], "length_mm": r["length_mm"], "buy_text": r["buy_text"]}
            for r in lays.results_of(session, row.id)
        ],
    }
