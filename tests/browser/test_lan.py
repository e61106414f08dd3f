"""A second device, by the machine's network address: let in once by a code, following, sent away.

The phone reaches the service by an address that is not loopback, as any other machine would.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page, expect

from service.store import devices
from service.store.tables import now
from tests.browser.table_rig import (
    KEYSTONES,
    Running,
    ready,
    waistcoat_cloth,
)

pytestmark = pytest.mark.browser

PIECE = {"view": "piece", "window": 0, "stop": 0, "approved": True, "seen": [0, 1, 2, 3]}
PHONE: dict[str, Any] = {"size": (390, 844), "touch": True}
DESK = {"size": (1280, 800)}
MAP = KEYSTONES["from the far side"]
SERVICE = {"lan": True}


def nobody_listens(running: Running) -> None:
    """Wait until the service has noticed that the pages of the test before are gone."""
    deadline = time.monotonic() + 30
    while running.hub.listeners:
        assert time.monotonic() < deadline, "a stream of a closed page stays open"
        time.sleep(0.05)


def code_of(desk: Page) -> str:
    """The address that the desk's code holds."""
    desk.get_by_role("button", name="Show a code for a phone").click()
    return desk.locator("code").inner_text()


def test_a_phone_is_let_in_follows_and_is_sent_away(
    running: Running,
    device: Callable[..., Page],
    axe: Callable[[Page], list[str]],
) -> None:
    lay = running.keep_lay(waistcoat_cloth())
    running.keep_walk(lay, PIECE)
    table = device(f"{running.address}table?lay={lay}&cloth=shell")
    ready(table)
    desk = device(f"{running.address}#/table/{lay}", **DESK)

    # A stranger gets the page and nothing else.
    stranger = device(f"{running.lan_address}hand", **PHONE)
    expect(stranger.get_by_role("heading", name="Not let in")).to_be_visible()
    expect(stranger.get_by_role("alert")).to_contain_text("Let the desk show a code")
    assert axe(stranger) == []

    url = code_of(desk)
    assert url.startswith(running.lan_address)
    assert urlsplit(url).query == ""
    asked: list[str] = []
    phone = device("about:blank", **PHONE)
    phone.on("request", lambda request: asked.append(request.url))
    phone.goto(url)
    expect(phone.get_by_role("button", name="Cut, and next")).to_be_visible()
    assert phone.url == f"{running.lan_address}hand"
    token = urlsplit(url).fragment.removeprefix("t=")
    # The page's own first request keeps its fragment to itself; Playwright reports it all the same.
    assert [u for u in asked if token in u.partition("#")[0]] == []
    (cookie,) = phone.context.cookies()
    assert (cookie["httpOnly"], cookie["sameSite"]) == (True, "Strict")
    assert phone.evaluate("document.cookie") == ""
    expect(desk.locator("code")).to_have_count(0)
    expect(desk.get_by_role("list", name="Phones that were let in")).to_contain_text("phone 1")
    assert axe(desk) == []

    # Once.
    second = device(url, **PHONE)
    expect(second.get_by_role("alert")).to_contain_text("used already")

    # Thumb and clicker step the table, and the table steps the phone.
    phone.get_by_role("button", name="Next", exact=True).tap()
    expect(table.locator("#said")).to_contain_text("2 of 7")
    phone.keyboard.press("PageDown")
    expect(table.locator("#said")).to_contain_text("3 of 7")
    table.keyboard.press("PageUp")
    expect(phone.get_by_role("status")).to_contain_text("2 of 7")
    phone.get_by_role("button", name="Cut, and next").click()
    expect(desk.get_by_role("region", name="Cutting of shell")).to_contain_text("2 of 11 cut")

    # It may walk and mark, and nothing else.
    for path, status in (("cuttings", 200), ("styles", 403), ("lays", 403), ("devices", 403)):
        assert phone.request.get(f"{running.lan_address}api/{path}").status == status, path
    refused = phone.request.post(
        f"{running.lan_address}api/lays/{lay}/cutting/cloth?cloth=shell",
        data={"lengths": ["1"], "widths": ["1"], "unit": "cm"},
        headers={"Origin": running.lan_address.rstrip("/")},
    )
    assert refused.json()["error"]["code"] == "not_for_hand"

    desk.get_by_role("button", name="Send phone 1 away").click()
    expect(desk.get_by_role("list", name="Phones that were let in")).to_have_count(0)
    expect(phone.get_by_role("heading", name="Not let in")).to_be_visible()
    assert phone.request.get(f"{running.lan_address}api/cuttings").status == 403


def test_a_phone_does_not_approve_and_its_time_runs_out(
    running: Running, device: Callable[..., Page]
) -> None:
    lay = running.keep_lay(waistcoat_cloth())
    running.keep_walk(lay, {**PIECE, "view": "look", "approved": False})
    desk = device(f"{running.address}#/table/{lay}", **DESK)
    phone = device(code_of(desk), **PHONE)
    expect(phone.locator("#hand")).to_contain_text("It is approved at the table")
    expect(phone.get_by_role("button", name="Light it to cut by")).to_have_count(0)
    with running.database.writing() as session:
        for row in devices.list_devices(session):
            row.expires = now()
    running.hub.wake()
    expect(phone.get_by_role("heading", name="Not let in")).to_be_visible()


def test_many_windows_of_one_browser_share_a_stream(
    device: Callable[..., Page], running: Running
) -> None:
    """A browser opens six connections to a service; seven streams would leave none to ask with."""
    lay = running.keep_lay(waistcoat_cloth())
    running.keep_walk(lay, PIECE)
    nobody_listens(running)
    url = f"{running.address}table?lay={lay}&cloth=shell"
    first = device(url)
    tables = [first, *(first.context.new_page() for _ in range(6))]
    for table in tables:
        if table is not first:
            table.goto(url)
        ready(table)
    tables[0].keyboard.press("PageDown")
    for table in tables:
        expect(table.locator("#said")).to_contain_text("2 of 7")
    tables[6].keyboard.press("x")
    for table in tables:
        expect(table.locator("#said")).to_contain_text("3 of 7")
    assert running.hub.listeners == 1


def test_a_desk_with_seven_cloths_keeps_one_stream(
    device: Callable[..., Page], running: Running
) -> None:
    names = ["shell", "lining", "interfacing", "pockets", "facing", "collar", "binding"]
    lay = running.keep_lay(*({**waistcoat_cloth(), "cloth": name} for name in names))
    nobody_listens(running)
    desk = device(f"{running.address}#/table/{lay}", **DESK)
    for name in names:
        expect(desk.get_by_role("region", name=f"Cutting of {name}")).to_contain_text("Not begun.")
    table = desk.context.new_page()
    table.set_viewport_size({"width": 1920, "height": 1080})
    table.goto(f"{running.address}table?lay={lay}&cloth=binding")
    ready(table)
    table.keyboard.press("Enter")
    expect(desk.get_by_role("region", name="Cutting of binding")).to_contain_text("looking")
    assert running.hub.listeners == 1
