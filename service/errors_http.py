"""Turns whatever went wrong into the one error shape, on every route, and never into a stack trace."""

from __future__ import annotations

import http
from collections.abc import Sequence
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from calibration.errors import CalibrationError
from nesting.errors import NestingError
from service.errors import BusyError, ErrorShape, ServiceError, UnitError
from service.logs import get_log

log = get_log("http")

LOCKED_WORDS = ("locked", "busy", "deadlock", "lock timeout", "could not serialize")


def describe(error: BaseException) -> tuple[int, ErrorShape]:
    """Status and shape of any error. What we did not foresee is 500 and says nothing of the inside."""
    match error:
        case UnitError():
            return error.status, ErrorShape(
                error.code, error.message, error.hint, error.where, error.choices
            )
        case ServiceError():
            return error.status, ErrorShape(error.code, error.message, error.hint, error.where)
        case NestingError() | CalibrationError():
            return 422, ErrorShape(error.code, error.message, error.hint, error.where)
        case RequestValidationError():
            return 422, _of_validation(error.errors())
        case HTTPException(__cause__=ServiceError() as cause):
            # The framework wraps what was raised while it read the body.
            return describe(cause)
        case HTTPException():
            return error.status_code, _of_http(error)
        case SQLAlchemyError():
            return _of_database(error)
        case _:
            return 500, ErrorShape(
                "unexpected",
                "grainfold made a mistake and could not finish this",
                "Nothing saved was changed. Try again; if it stays, report what you did and the "
                "last lines of the log.",
            )


def answer(error: BaseException) -> JSONResponse:
    """The HTTP answer for an error; unforeseen ones are logged with their trace."""
    status, shape = describe(error)
    if status >= 500 and not isinstance(error, BusyError):
        log.error("request failed", error=repr(error), exc_info=error if status == 500 else None)
    headers = getattr(error, "headers", None) if isinstance(error, HTTPException) else None
    return JSONResponse(shape.as_json(), status_code=status, headers=headers)


def install(app: FastAPI) -> None:
    """Let ``app`` answer its own errors in our shape."""
    for kind in (ServiceError, NestingError, CalibrationError, SQLAlchemyError, HTTPException):
        app.add_exception_handler(kind, _handle)
    app.add_exception_handler(RequestValidationError, _handle)


class LastResort:
    """Outermost ASGI middleware: what no handler caught, in middleware or in routes, ends here."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Run the app; turn a raised error into an answer if none has begun."""
        begun = False

        async def noted(message: Message) -> None:
            nonlocal begun
            begun = begun or message["type"] in ("http.response.start", "websocket.accept")
            await send(message)

        try:
            await self.app(scope, receive, noted)
        except Exception as error:
            if begun or scope["type"] not in ("http", "websocket"):
                log.error("answer broke off", error=repr(error), exc_info=error)
                raise
            if scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": 1008, "reason": ""})
                return
            await answer(error)(scope, receive, send)


async def _handle(_request: Request, error: Exception) -> JSONResponse:
    return answer(error)


def _of_validation(problems: Sequence[Any]) -> ErrorShape:
    first = problems[0]
    path = [str(p) for p in first["loc"] if p not in ("body", "query", "path")]
    where = ".".join(path)
    if first["type"] == "json_invalid":
        why = first.get("ctx", {}).get("error", "")
        return ErrorShape(
            "invalid_json", f"the body is not JSON: {why}", "Send a JSON object.", "body"
        )
    more = f" ({len(problems) - 1} more like this)" if len(problems) > 1 else ""
    came = _short(first.get("input"))
    message = f"{where or 'the request'}: {first['msg'][:1].lower()}{first['msg'][1:]}"
    return ErrorShape(
        "invalid",
        f"{message}, got {came}{more}" if first["type"] != "missing" else f"{message}{more}",
        "The fields and their meaning are listed at /api/openapi.json.",
        where,
    )


def _of_http(error: HTTPException) -> ErrorShape:
    if error.status_code == 404:
        return ErrorShape("not_found", "there is nothing at this address", "Start at /.")
    if error.status_code == 405:
        allowed = (error.headers or {}).get("Allow") or (error.headers or {}).get("allow", "")
        return ErrorShape(
            "method_not_allowed",
            "this address does not take that method",
            f"It takes: {allowed}." if allowed else "",
        )
    phrase = http.HTTPStatus(error.status_code).phrase.lower()
    said = error.detail or phrase
    return ErrorShape(phrase.replace(" ", "_"), said)


def _of_database(error: SQLAlchemyError) -> tuple[int, ErrorShape]:
    said = str(error.orig).lower() if isinstance(error, DBAPIError) else ""
    if any(word in said for word in LOCKED_WORDS):
        return 503, ErrorShape(
            "database_locked",
            "the database is locked by another program",
            "Nothing was changed. Close the other program (or a second grainfold on the same data "
            "directory) and try again.",
            "database",
        )
    return 503, ErrorShape(
        "database",
        f"the database cannot be used{': ' + said.splitlines()[0] if said else ''}",
        "Nothing was changed. Look whether the disk is full and the data directory can be written.",
        "database",
    )


def _short(value: object) -> str:
    text = repr(value) if not isinstance(value, str) else f"“{value}”"
    return text if len(text) <= 60 else text[:57] + "…"
