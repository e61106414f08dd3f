"""The application: routes, guards in front of them, and what lives as long as the service runs."""

from __future__ import annotations

import threading
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware

from service import errors_http, wardrobe
from service.access import AccessGuard, allowed_hosts
from service.cutting import Hub
from service.errors import BusyError
from service.logs import get_log
from service.pool import WorkerPool
from service.rounds import prepare
from service.routes import (
    camera,
    changes,
    checks,
    cutting,
    devices,
    documents,
    drawings,
    edges,
    health,
    lays,
    maps,
    pages,
    styles,
)
from service.schemas import EngineState, ErrorAnswer
from service.searches import Searches
from service.settings import Settings, data_dir_ok, prepare_data_dir
from service.store.database import Database
from service.uploads import UploadLimit
from service.visitors import Visitors

DESCRIPTION = """From drafted pieces to correctly cut cloth.

All lengths are mm. Every error has the shape `{"error": {code, message, hint, where}}`. A request
that changes something must come from one of the service's own pages: browsers say so by themselves,
a program sends `Origin: http://127.0.0.1:8765` (the service's own address).
"""

ERRORS: dict[int | str, dict[str, object]] = {
    "4XX": {"model": ErrorAnswer, "description": "What was asked cannot be done, and why"},
    "5XX": {"model": ErrorAnswer, "description": "Not now: what stands in the way"},
}


COMPILING = "The search is being prepared; on the first start this takes a while."
COLD = "The search is prepared when it is first used."
log = get_log("app")


def create_app(
    settings: Settings,
    *,
    web_dir: Path = pages.WEB_DIR,
    on_start: Callable[[FastAPI], None] | None = None,
) -> FastAPI:
    """The service as an ASGI application. Raises RefusedError if its data cannot be kept.

    ``on_start`` is called once everything runs.
    """
    prepare_data_dir(settings)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        database = Database(settings.url, lock_wait_ms=settings.lock_wait_ms)
        database.upgrade()
        pool = WorkerPool(settings.workers)
        searches = Searches(database, pool)
        app.state.database, app.state.pool, app.state.searches = database, pool, searches
        app.state.visitors = Visitors(database)
        if settings.demo:
            with database.writing() as session:
                wardrobe.load_demo(session)
        warming = threading.Thread(target=_warm_up, args=(app, pool), daemon=True, name="warm-up")
        if settings.warm_up:
            warming.start()
        searches.recover(lambda lay_id: lays.restart(database, searches, lay_id))
        if on_start is not None:
            on_start(app)
        yield
        searches.stop_all()
        pool.close()
        await run_in_threadpool(searches.close)
        if settings.warm_up:
            await run_in_threadpool(warming.join)
        database.close()

    def visitors() -> Visitors:
        # Made with the database, when the service starts.
        found: Visitors = app.state.visitors
        return found

    app = FastAPI(
        title="grainfold",
        version=health.version(),
        description=DESCRIPTION,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        responses=ERRORS,
        lifespan=lifespan,
        middleware=[
            Middleware(pages.SecurityHeaders),
            Middleware(errors_http.LastResort),
            Middleware(AccessGuard, hosts=allowed_hosts(settings), visitors=visitors),
            Middleware(UploadLimit, limit=settings.upload_limit),
        ],
    )
    app.state.settings = settings
    app.state.hub = Hub()
    app.state.lan_address = None
    app.state.engine = EngineState(state="compiling", text=COMPILING if settings.warm_up else COLD)
    app.state.data_dir_ok = lambda: data_dir_ok(settings)
    errors_http.install(app)
    for routes in (
        health,
        documents,
        edges,
        styles,
        changes,
        drawings,
        lays,
        maps,
        camera,
        checks,
        cutting,
        devices,
    ):
        app.include_router(routes.router)
    app.include_router(cutting.list_router)
    pages.install(app, web_dir)
    return app


def _warm_up(app: FastAPI, pool: WorkerPool) -> None:
    try:
        prepare(pool)
    except BusyError as error:
        if error.code != "ending":
            app.state.engine = EngineState(state="failed", text=error.message)
        return
    except Exception as error:
        log.error("the search could not be prepared", error=repr(error), exc_info=error)
        app.state.engine = EngineState(
            state="failed", text="The search cannot run on this machine; see the log."
        )
        return
    app.state.engine = EngineState(state="ready", text="ready")
