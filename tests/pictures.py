"""``python -m tests.pictures``: the pictures in the README, taken from a running service.

They go to web/pictures/ and stay below 300 kB each. Run it after the look has changed.
"""

from __future__ import annotations

import json
import shutil
import tempfile
import threading
import time
import urllib.request
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import uvicorn
from playwright.sync_api import Page, sync_playwright

from service import server
from service.app import create_app
from service.settings import Settings
from tests.browser.table_rig import CANVAS, KEYSTONES, open_table, ready

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "web" / "pictures"
MOST_BYTES = 300_000
SECONDS = 15
CROSSES_PX = {"A": (160, 960), "B": (1760, 960), "C": (1760, 120), "D": (160, 120)}
WINDOWS = 8
PIECE = 1
"""The picture of the table lights this piece of the cutting order (from 1)."""


def main() -> None:
    """Start a service with the demo wardrobe, lay one style, take the pictures."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as data:
        settings = Settings(data=Path(data), demo=True, port=0)
        listening = server.bind("127.0.0.1", 0)
        address = server.address_of(listening)
        running = uvicorn.Server(
            uvicorn.Config(create_app(settings), log_level="warning", timeout_graceful_shutdown=1)
        )
        thread = threading.Thread(target=running.run, kwargs={"sockets": [listening]})
        thread.start()
        try:
            while not running.started:
                time.sleep(0.05)
            cloak = _laid(address, "Cloak", {"fold": "lengthwise", "nap": True})
            waistcoat = _laid(address, "Waistcoat", {"fold": "lengthwise"})
            _measure_table(address)
            _take(address, cloak, waistcoat)
        finally:
            running.should_exit = True
            thread.join()


def _laid(address: str, name: str, cloth: dict[str, object]) -> str:
    styles = _ask(address, "GET", "/styles")["styles"]
    style = next(s["id"] for s in styles if s["name"].startswith(name))
    wish = {"style_id": style, "seconds": SECONDS, "cloths": {"shell": cloth}}
    lay = _ask(address, "POST", "/lays", wish)
    while lay["state"] in ("queued", "searching"):
        time.sleep(0.5)
        lay = _ask(address, "GET", f"/lays/{lay['id']}")
    return str(lay["id"])


def _measure_table(address: str) -> None:
    """A table measured by tape, whose true map is known, checked on its lines."""
    true = KEYSTONES["from the far side"]
    at = dict(
        zip(
            CROSSES_PX, true.to_table(np.array(list(CROSSES_PX.values()), dtype=float)), strict=True
        )
    )
    wish = {
        "name": "cutting table, long side",
        "canvas": CANVAS,
        "dpr": 1,
        "screen": f"{CANVAS[0]} x {CANVAS[1]}",
        "crosses": CROSSES_PX,
        "distances": [
            {"from": a, "to": b, "mm": round(float(np.hypot(*(at[a] - at[b]))), 1)}
            for a, b in combinations(at, 2)
        ],
    }
    kept = _ask(address, "POST", "/maps", wish)
    for line in _ask(address, "GET", f"/maps/{kept['id']}/check-lines")["lines"]:
        reading = {"line": line["id"], "measured": line["nominal_mm"]}
        _ask(address, "POST", f"/maps/{kept['id']}/checks", reading)
    _ask(address, "POST", f"/maps/{kept['id']}/use")


def _take(address: str, lay: str, table_lay: str) -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.goto(f"{address}#/layout/{lay}/shell")
        page.locator(".laid").first.wait_for()
        page.wait_for_timeout(500)
        _keep(page, "layout.png")
        table = open_table(browser)
        table.goto(f"{address}table?lay={table_lay}&cloth=shell")
        ready(table)
        # Guides, then the layout window by window, then piece by piece.
        for key in ["Enter", *["PageDown"] * WINDOWS, "Enter", *["Enter"] * PIECE]:
            table.keyboard.press(key)
            table.wait_for_timeout(400)
        _keep(table, "table.png")
        browser.close()


def _keep(page: Page, name: str) -> None:
    path = PICTURES / name
    page.screenshot(path=path)
    size = path.stat().st_size
    assert size < MOST_BYTES, f"{name} has {size} bytes"
    print(f"{path.relative_to(ROOT)}: {size} bytes")


def _ask(address: str, method: str, path: str, body: object = None) -> Any:
    request = urllib.request.Request(
        f"{address}api{path}",
        method=method,
        data=None if body is None else json.dumps(body).encode(),
        headers={"Origin": address.rstrip("/"), "Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=30) as answer:
        return json.load(answer)


if __name__ == "__main__":
    main()
