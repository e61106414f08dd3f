"""The application: routes, guards in front of them, and what lives as long as the service runs."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI
from starlette.middleware import Middleware

from service import errors_http
from service.access import AccessGuard, allowed_hosts
from service.routes import health, maps, pages
from service.schemas import EngineState, ErrorAnswer
from service.settings import Settings, data_dir_ok, prepare_data_dir
from service.store.database import Database
from service.uploads import UploadLimit

DESCRIPTION = """From drafted pieces to correctly cut cloth.

All lengths are mm. Every error has the shape `{"error": {code, message, hint, where}}`. A request
that changes something must come from one of the service's own pages: browsers say so by themselves,
a program sends `Origin: http://127.0.0.1:8765` (the service's own address).
"""

ERRORS: dict[int | str, dict[str, object]] = {
    "4XX": {"model": ErrorAnswer, "description": "What was asked cannot be done, and why"},
    "5XX": {"model": ErrorAnswer, "description": "Not now: what stands in the way"},
}


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
        app.state.database = database
        if on_start is not None:
            on_start(app)
        yield
        database.close()

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
            Middleware(AccessGuard, hosts=allowed_hosts(settings)),
            Middleware(UploadLimit, limit=settings.upload_limit),
        ],
    )
    app.state.settings = settings
    app.state.engine_state = lambda: EngineState(state="ready", text="ready")
    app.state.data_dir_ok = lambda: data_dir_ok(settings)
    errors_http.install(app)
    app.include_router(health.router)
    app.include_router(maps.router)
    pages.install(app, web_dir)
    return app
