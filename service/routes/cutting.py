"""A cutting in progress: read it, follow it, move it on, mark what is cut."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable
from functools import partial
from typing import TypeVar

from fastapi import APIRouter, Request
from fastapi.responses import Response, StreamingResponse
from sqlalchemy.orm import Session
from starlette.concurrency import run_in_threadpool

from service import cutting
from service.cutting import Hub
from service.relaying import keep_again, lay_again
from service.routes.styles import database_of
from service.schemas_cutting import (
    ClothWish,
    CuttingList,
    CuttingView,
    LookWish,
    MarkWish,
    RegisterWish,
    RelayWish,
    WalkWish,
)
from service.searches import Listener
from service.visitors import DESK, visitor_of

Wish = TypeVar("Wish")

PAUSE_S = 15.0
"""So often a silent stream says that it is alive."""

RETRY_MS = 1000
"""So soon a page whose stream broke off tries again."""

router = APIRouter(prefix="/api/lays/{lay_id}/cutting", tags=["table"])
list_router = APIRouter(prefix="/api/cuttings", tags=["table"])


@list_router.get("")
def begun(request: Request) -> CuttingList:
    """All cuttings that were begun, the one last moved first: a phone follows the first."""
    with database_of(request).reading() as session:
        return cutting.begun(session)


@list_router.get("/events", response_class=StreamingResponse)
async def events(request: Request) -> Response:
    """Every change of every cutting as a server-sent event ``cutting`` (lay_id, cloth, cutting): one
    stream is enough for all pages of a browser. ``ready`` comes first: what was changed before it has
    to be asked for. Ends with the page."""
    return StreamingResponse(_stream(request), media_type="text/event-stream")


async def _stream(request: Request) -> AsyncIterator[str]:
    listener = Listener(asyncio.get_running_loop())
    with _hub(request).listening(listener):
        yield f"retry: {RETRY_MS}\nevent: ready\ndata: {{}}\n\n"
        async for event in listener.events(pause_s=PAUSE_S):
            if not await run_in_threadpool(_may_stay, request):
                return
            news = event.data if event and event.name == "cutting" else None
            yield _event(news) if news else ": still here\n\n"


@router.get("")
def show(lay_id: str, request: Request, cloth: str = "shell") -> CuttingView:
    """The cutting as it stands."""
    with database_of(request).reading() as session:
        return cutting.show(session, lay_id, cloth)


@router.put("/walk")
def move(lay_id: str, request: Request, wish: WalkWish, cloth: str = "shell") -> CuttingView:
    """Move on, or back. 409 ``moved_on`` when another page was first: look again, then press."""
    may_approve = visitor_of(request).role == DESK
    return _changed(request, lay_id, cloth, partial(cutting.move, may_approve=may_approve), wish)


@router.post("/marks")
def mark(lay_id: str, request: Request, wish: MarkWish, cloth: str = "shell") -> CuttingView:
    """Mark a piece as cut, take the mark back, call a hand spoiled, or call the whole done (refused
    while gaps stand)."""
    return _changed(request, lay_id, cloth, cutting.mark, wish)


@router.post("/registration")
def register(
    lay_id: str, request: Request, wish: RegisterWish, cloth: str = "shell"
) -> CuttingView:
    """Say where the chalked crosses of a window really lie; the answer has the correction."""
    return _changed(request, lay_id, cloth, cutting.register_window, wish)


@router.post("/cloth")
def measure_cloth(
    lay_id: str, request: Request, wish: ClothWish, cloth: str = "shell"
) -> CuttingView:
    """Say what the real cloth measures; the answer says whether the layout fits it."""
    return _changed(request, lay_id, cloth, cutting.measure_cloth, wish)


@router.post("/look")
def ask_look(lay_id: str, request: Request, wish: LookWish, cloth: str = "shell") -> CuttingView:
    """Ask for a bolder line, another light, words for the other side of the table."""
    return _changed(request, lay_id, cloth, cutting.ask_look, wish)


@router.post("/relay")
def relay(lay_id: str, request: Request, wish: RelayWish, cloth: str = "shell") -> CuttingView:
    """Lay the rest again round what is cut and round flaws found late; takes ``seconds``. The new
    layout is looked through and approved before anybody cuts by it."""
    fresh = lay_again(database_of(request), request.app.state.pool, lay_id, cloth, wish)
    return _changed(request, lay_id, cloth, partial(keep_again, fresh=fresh), wish)


def _changed(
    request: Request,
    lay_id: str,
    cloth: str,
    change: Callable[[Session, str, str, Wish], CuttingView],
    wish: Wish,
) -> CuttingView:
    """Keep what ``change`` makes of the cutting and tell every page, one change after the other."""
    hub = _hub(request)
    with hub.lock:
        with database_of(request).writing() as session:
            view = change(session, lay_id, cloth, wish)
        hub.tell(lay_id, cloth, view)
    return view


def _may_stay(request: Request) -> bool:
    """Whether the device that listens was not sent away meanwhile."""
    visitor = visitor_of(request)
    return visitor.role == DESK or request.app.state.visitors.still_in(visitor) is True


def _event(data: object) -> str:
    said = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return f"event: cutting\ndata: {said}\n\n"


def _hub(request: Request) -> Hub:
    hub: Hub = request.app.state.hub
    return hub
