"""Foreign names and foreign pages are refused; the upload limit counts what really comes."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from service.access import allowed_hosts, host_name
from service.settings import Settings
from tests.service.conftest import ORIGIN


@pytest.mark.parametrize(
    ("header", "name"),
    [
        ("127.0.0.1:8765", "127.0.0.1"),
        ("[::1]:8765", "[::1]"),
        ("[::1]", "[::1]"),
        ("LocalHost", "localhost"),
        ("", ""),
    ],
)
def test_host_name_drops_the_port(header: str, name: str) -> None:
    assert host_name(header) == name


def test_a_wildcard_address_is_no_name(tmp_path: object) -> None:
    hosts = allowed_hosts(Settings(host="0.0.0.0", allowed_hosts=("Workroom.local", "fe80::1")))
    assert hosts == {"localhost", "127.0.0.1", "[::1]", "workroom.local", "[fe80::1]"}


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8765", "localhost.:8765", "127.0.0.1.evil.example", ""]
)
def test_a_foreign_host_is_refused_even_for_reading(client: TestClient, host: str) -> None:
    answer = client.get("/api/health", headers={"Host": host})
    assert answer.status_code == 403
    assert answer.json()["error"]["code"] == "host_refused"


@pytest.mark.parametrize("host", ["localhost:8765", "127.0.0.1:8765", "[::1]:8765"])
def test_our_own_names_are_served(client: TestClient, host: str) -> None:
    assert client.get("/api/health", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "http://127.0.0.1:3000"},
        {"Origin": "http://localhost:8765"},
        {"Origin": "null"},
        {"Origin": "file://127.0.0.1:8765"},
        # A rebound name: Origin and Host agree, but neither is ours.
        {"Origin": "http://evil.example:8765", "Host": "evil.example:8765"},
    ],
)
def test_a_change_from_elsewhere_is_refused(client: TestClient, headers: dict[str, str]) -> None:
    answer = client.post("/api/styles", json={}, headers=headers)
    assert answer.status_code == 403
    assert answer.json()["error"]["code"] in ("origin_refused", "host_refused")


@pytest.mark.parametrize(
    ("site", "fine"),
    [("same-origin", True), ("none", True), ("cross-site", False), ("same-site", False), (None, False)],
)  # fmt: skip
def test_without_origin_the_fetch_site_decides(
    client: TestClient, site: str | None, fine: bool
) -> None:
    del client.headers["origin"]
    headers = {} if site is None else {"Sec-Fetch-Site": site}
    answer = client.post("/api/nothing-here", headers=headers)
    assert answer.status_code == (404 if fine else 403)


def test_a_fifty_megabyte_file_is_refused_by_its_header(client: TestClient) -> None:
    answer = client.post("/api/styles", files={"file": ("coat.svg", b"<" * 50_000_000)})
    assert answer.status_code == 413
    assert "50.0 MB" in answer.json()["error"]["message"]
    assert client.get("/api/health").status_code == 200


def test_origin_is_the_address_of_the_tests() -> None:
    assert ORIGIN.endswith(":8765")
