"""A running service on a data directory of its own, spoken to as a browser would."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from pydantic import SecretStr

from service.app import create_app
from service.logs import set_up_logs
from service.settings import Settings
from tests.service.databases import KINDS, fresh_database

ORIGIN = "http://127.0.0.1:8765"


@pytest.fixture(scope="session", autouse=True)
def _plain_logs() -> None:
    set_up_logs(as_json=True)


@pytest.fixture(params=KINDS)
def settings(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Settings]:
    with fresh_database(request.param, tmp_path) as url:
        yield Settings(
            data=tmp_path / "data",
            database_url=None if request.param == "sqlite" else SecretStr(url),
            demo=False,
            warm_up=False,
        )


@pytest.fixture
def make_client(settings: Settings) -> Iterator[Callable[..., TestClient]]:
    """Makes clients of fresh applications, all closed at the end."""
    opened: list[TestClient] = []

    def make(used: Settings = settings, **options: object) -> TestClient:
        client = TestClient(
            create_app(used, **options),  # type: ignore[arg-type]
            base_url=ORIGIN,
            headers={"Origin": ORIGIN},
            client=("127.0.0.1", 50000),
            raise_server_exceptions=True,
        )
        client.__enter__()
        opened.append(client)
        return client

    yield make
    for client in opened:
        client.__exit__(None, None, None)


@pytest.fixture
def client(make_client: Callable[..., TestClient]) -> TestClient:
    return make_client()
