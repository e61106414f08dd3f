"""Devices of the network: let in by a code that is good once, bound to their role, sent away."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlsplit

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import update

from service.settings import Settings
from service.store import devices
from service.store.database import Database
from service.store.tables import Base, DeviceRow, InviteRow
from service.visitors import COOKIE, is_this_machine
from tests.service.test_cutting import APPROVED, keep_lay

LAN = "http://192.168.7.20:8765"


@pytest.fixture
def desk(make_client: Callable[..., TestClient], settings: Settings) -> TestClient:
    client = make_client(settings.model_copy(update={"allowed_hosts": ("192.168.7.20",)}))
    client.app.state.lan_address = f"{LAN}/"  # type: ignore[attr-defined]
    return client


@pytest.fixture
def phone(desk: TestClient) -> TestClient:
    """The same service, asked from another machine."""
    return TestClient(
        desk.app, base_url=LAN, headers={"Origin": LAN}, client=("192.168.7.31", 40000)
    )


def token_of(desk: TestClient) -> str:
    invite = desk.post("/api/devices/invites", json={"name": "Mara's phone"}).json()
    assert invite["qr"].startswith("data:image/svg+xml")
    parts = urlsplit(invite["url"])
    assert (f"{parts.scheme}://{parts.netloc}", parts.path, parts.query) == (LAN, "/hand", "")
    return parts.fragment.removeprefix("t=")


def test_a_stranger_sees_pages_and_nothing_else(phone: TestClient) -> None:
    assert phone.get("/").status_code == 200
    assert phone.get("/api/health").status_code == 200
    for path in ("/api/styles", "/api/cuttings", "/api/devices", "/api/openapi.json", "/api/none"):
        answer = phone.get(path)
        assert answer.status_code == 403
        assert answer.json()["error"]["code"] == "not_let_in"


def test_a_code_lets_one_device_in_once(desk: TestClient, phone: TestClient) -> None:
    token = token_of(desk)
    entered = phone.post("/api/devices/enter", json={"token": token})
    assert entered.json() == {"role": "hand", "name": "Mara's phone"}
    cookie = entered.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert phone.get("/api/devices/me").json()["role"] == "hand"
    assert desk.get("/api/devices/me").json()["role"] == "desk"
    again = TestClient(
        desk.app, base_url=LAN, headers={"Origin": LAN}, client=("192.168.7.66", 1)
    ).post("/api/devices/enter", json={"token": token})
    assert again.status_code == 403
    assert again.json()["error"]["code"] == "invite"


def test_a_hand_held_page_follows_walks_and_marks(desk: TestClient, phone: TestClient) -> None:
    lay_id = keep_lay(desk)
    phone.post("/api/devices/enter", json={"token": token_of(desk)})
    address = f"/api/lays/{lay_id}/cutting"
    layout = phone.get(address).json()["layout"]
    wish = {"number": 0, "layout": layout, "walk": APPROVED}
    refused = phone.put(f"{address}/walk", json=wish)
    assert refused.status_code == 403
    assert refused.json()["error"]["code"] == "not_for_hand"
    assert desk.put(f"{address}/walk", json=wish).status_code == 200
    marked = phone.post(f"{address}/marks", json={"do": "cut", "key": "Front#1"})
    assert marked.json()["cut"] == ["Front#1"]
    moved = phone.put(
        f"{address}/walk",
        json={"number": 2, "layout": layout, "walk": {**APPROVED, "view": "piece", "stop": 1}},
    )
    assert moved.json() == desk.get(address).json()
    (listed,) = phone.get("/api/cuttings").json()["cuttings"]
    assert (listed["lay_id"], listed["cloth"], listed["number"]) == (lay_id, "shell", 3)


def test_a_hand_held_page_may_do_nothing_else(desk: TestClient, phone: TestClient) -> None:
    phone.post("/api/devices/enter", json={"token": token_of(desk)})
    for method, path in (
        ("GET", "/api/styles"),
        ("POST", "/api/lays"),
        ("DELETE", "/api/lays/any"),
        ("GET", "/api/lays/any"),
        ("POST", "/api/maps"),
        ("POST", "/api/devices/invites"),
        ("GET", "/api/devices"),
        ("GET", "/api/openapi.json"),
    ):
        answer = phone.request(method, path, json={})
        assert answer.status_code == 403, (method, path)
        assert answer.json()["error"]["code"] == "not_for_hand"


def test_a_device_that_was_sent_away_stays_out(desk: TestClient, phone: TestClient) -> None:
    phone.post("/api/devices/enter", json={"token": token_of(desk)})
    (device,) = desk.get("/api/devices").json()["devices"]
    assert (device["name"], device["role"]) == ("Mara's phone", "hand")
    assert desk.delete(f"/api/devices/{device['id']}").status_code == 204
    assert phone.get("/api/cuttings").status_code == 403
    assert desk.get("/api/devices").json()["devices"] == []
    assert desk.delete(f"/api/devices/{device['id']}").status_code == 404


def test_codes_and_devices_run_out(desk: TestClient, phone: TestClient, settings: Settings) -> None:
    token = token_of(desk)
    late = token_of(desk)
    phone.post("/api/devices/enter", json={"token": token})
    database = Database(settings.url)
    with database.writing() as session:
        for table in (DeviceRow, InviteRow):
            session.execute(update(table).values(expires="2001-01-01T00:00:00.000+00:00"))
    database.close()
    assert phone.get("/api/cuttings").status_code == 403
    assert phone.post("/api/devices/enter", json={"token": late}).status_code == 403


def test_tokens_are_long_and_only_their_hashes_are_kept(
    desk: TestClient, phone: TestClient, settings: Settings
) -> None:
    token = token_of(desk)
    phone.post("/api/devices/enter", json={"token": token})
    own = phone.cookies[COOKIE]
    assert len(token) == len(own) == 43
    database = Database(settings.url)
    with database.reading() as session:
        kept = "\n".join(
            str(session.execute(table.select()).all()) for table in Base.metadata.sorted_tables
        )
    database.close()
    assert token not in kept
    assert own not in kept
    assert devices.hashed(own) in kept


def test_without_lan_no_code_is_given(client: TestClient) -> None:
    answer = client.post("/api/devices/invites", json={})
    assert answer.status_code == 409
    assert "--lan" in answer.json()["error"]["hint"]


@pytest.mark.parametrize(
    ("address", "ours"),
    [
        ("127.0.0.1", True),
        ("::1", True),
        ("::ffff:127.0.0.1", True),
        ("192.168.7.31", False),
        ("testclient", False),
    ],
)
def test_only_this_machine_is_the_desk(address: str, ours: bool) -> None:
    assert is_this_machine({"client": (address, 1)}) is ours
    assert is_this_machine({"client": None}) is False
