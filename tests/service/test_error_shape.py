"""Every route answers every mistake in the one error shape, and never with a stack trace."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from service.errors import BusyError, ErrorShape
from service.schemas import ErrorAnswer
from service.store import styles
from service.store.database import Database
from tests.service.sheets import APRON

METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")


def check(answer: Any) -> None:
    assert 400 <= answer.status_code < 600
    assert answer.headers["content-type"] == "application/json"
    error = ErrorAnswer.model_validate(answer.json()).error
    assert error.code
    assert error.message
    assert "Traceback" not in answer.text


STREAMS = {"/api/cuttings/events"}
"""Streams that nobody can be refused and that never end: asked in test_events."""


def routes(client: TestClient) -> Iterator[tuple[str, set[str]]]:
    found: dict[str, set[str]] = {}

    def walk(routes: Any) -> None:
        for route in routes:
            if isinstance(route, APIRoute):
                found.setdefault(route.path, set()).update(route.methods)
            elif hasattr(route, "original_router"):
                walk(route.original_router.routes)

    walk(client.app.routes)  # type: ignore[attr-defined]
    documented = client.get("/api/openapi.json").json()["paths"]
    for path, operations in documented.items():
        found.setdefault(path, set()).update(m.upper() for m in operations)
    yield from found.items()


def filled(path: str) -> str:
    while "{" in path:
        start, end = path.index("{"), path.index("}")
        path = path[:start] + "unknown" + path[end + 1 :]
    return path


def test_every_route_refuses_in_the_same_shape(client: TestClient) -> None:
    seen = 0
    for path, methods in routes(client):
        for method in METHODS:
            if method == "GET" and path in STREAMS:
                continue
            answer = client.request(method, filled(path))
            if method not in methods:
                check(answer)
                assert answer.status_code in (404, 405)
            elif "{" in path or method in ("POST", "PUT"):
                check(answer)
                assert answer.status_code < 500
            else:
                assert answer.status_code in (200, 404)
            seen += 1
    assert seen > 100


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"[]", b"null", b"3", b"NaN", b"[" * 5000, b"\xff\xfe", b'{"a":1e999}', b'"text"'],
)
def test_bodies_that_are_no_object_are_refused_everywhere(client: TestClient, body: bytes) -> None:
    for path, methods in routes(client):
        for method in methods & {"POST", "PUT"}:
            if path.endswith(("/undo", "/redo", "/stop", "/use")):
                continue
            answer = client.request(
                method,
                filled(path),
                content=body,
                headers={"Content-Type": "application/json"},
            )
            check(answer)
            assert answer.status_code in (400, 404, 422)


def test_a_mistake_of_ours_says_nothing_of_the_inside(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: object) -> list[object]:
        raise RuntimeError("secret inside")

    monkeypatch.setattr(styles, "list_styles", broken)
    answer = client.get("/api/styles")
    check(answer)
    assert answer.status_code == 500
    assert answer.json()["error"]["code"] == "unexpected"
    assert "secret" not in answer.text


def test_the_shape_is_documented_for_every_operation(client: TestClient) -> None:
    for path, operations in client.get("/api/openapi.json").json()["paths"].items():
        for method, operation in operations.items():
            assert "4XX" in operation["responses"], (path, method)
            assert operation["summary"], (path, method)


@pytest.mark.parametrize(
    ("shape", "line"),
    [
        (ErrorShape("c", "Front has no grain", "Set it.", "Front"), "Front has no grain. Set it."),
        (ErrorShape("c", "it is empty", "", "coat.svg"), "coat.svg: it is empty."),
    ],
)
def test_a_line_names_the_place_once(shape: ErrorShape, line: str) -> None:
    assert shape.as_line() == line


def test_errors_cross_process_borders() -> None:
    import pickle

    error = BusyError("workers died", hint="Try again.", where="pool", code="workers_lost")
    back = pickle.loads(pickle.dumps(error))
    assert (back.message, back.hint, back.where, back.code, back.status) == (
        "workers died",
        "Try again.",
        "pool",
        "workers_lost",
        503,
    )


def test_a_locked_database_is_said_and_nothing_is_lost(
    make_client: Callable[..., TestClient], settings: Any
) -> None:
    client = make_client(settings.model_copy(update={"lock_wait_ms": 100}))
    style = client.post("/api/styles", json=APRON).json()
    other = Database(settings.url)
    with other.writing() as session:
        session.connection()  # the lock is taken with the first word to the database
        change = {"sheet": {**APRON, "style": "Another"}, "revision": 1}
        for answer in (
            client.put(f"/api/styles/{style['id']}", json=change),
            client.post("/api/styles", json=APRON),
            client.post("/api/lays", json={"style_id": style["id"]}),
            client.delete(f"/api/styles/{style['id']}"),
        ):
            check(answer)
            assert answer.status_code == 503
            assert answer.json()["error"]["code"] == "database_locked"
            assert "try again" in answer.json()["error"]["hint"]
        # Reading goes on beside the lock.
        assert client.get(f"/api/styles/{style['id']}").json() == style
    other.close()
    assert client.put(f"/api/styles/{style['id']}", json=change).json()["name"] == "Another"
