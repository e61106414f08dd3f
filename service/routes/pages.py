"""The pages and their files, as they lie in web/: nothing is built, everything is checked by ETag."""

from __future__ import annotations

import re
from pathlib import Path

from fastapi import APIRouter, FastAPI, Request
from starlette.datastructures import MutableHeaders
from starlette.responses import FileResponse, Response
from starlette.staticfiles import NotModifiedResponse, StaticFiles
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.errors import NotFoundError

WEB_DIR = Path(__file__).resolve().parent.parent.parent / "web"
PAGE_NAME = re.compile(r"[a-z][a-z-]{0,30}")

SECURITY_HEADERS = {
    "Content-Security-Policy": "default-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}

router = APIRouter(include_in_schema=False)


def install(app: FastAPI, web_dir: Path = WEB_DIR) -> None:
    """Serve ``web_dir``: its pages by name, all else under /web/. Call after the other routes."""
    app.state.web_dir = web_dir
    app.mount("/web", WebFiles(directory=web_dir, check_dir=False), name="web")
    app.include_router(router)


@router.get("/")
def desk(request: Request) -> Response:
    """The desk."""
    return _page(request, "index")


@router.get("/{name}")
def page(request: Request, name: str) -> Response:
    """One of the other pages: table, calibrate, sheet ..."""
    return _page(request, name)


class WebFiles(StaticFiles):
    """Files that a browser may keep but must ask about each time (by ETag)."""

    def file_response(self, *args: object, **kwargs: object) -> Response:
        """The file, or 304."""
        response = super().file_response(*args, **kwargs)  # type: ignore[arg-type]
        response.headers["Cache-Control"] = "no-cache"
        return response


class SecurityHeaders:
    """ASGI middleware: the same strict headers on every answer."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Add the headers as the answer starts; answers of the API are not to be kept."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in SECURITY_HEADERS.items():
                    headers.setdefault(name, value)
                if scope["path"].startswith("/api/"):
                    headers.setdefault("Cache-Control", "no-store")
            await send(message)

        await self.app(scope, receive, with_headers)


def _page(request: Request, name: str) -> Response:
    file: Path = request.app.state.web_dir / f"{name}.html"
    if not PAGE_NAME.fullmatch(name) or not file.is_file():
        raise NotFoundError(f"there is no page “{name}”", hint="Start at /.", where=name)
    response = FileResponse(file, headers={"Cache-Control": "no-cache"}, stat_result=file.stat())
    asked = request.headers.get("if-none-match", "")
    if response.headers["etag"] in [tag.strip().removeprefix("W/") for tag in asked.split(",")]:
        return NotModifiedResponse(response.headers)
    return response
