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
from pathlib import Path
from typing import Any

import uvicorn
from playwright.sync_api import Page, sync_playwright

from service import server
from service.app import create_app
from service.settings import Settings

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "web" / "pictures"
MOST_BYTES = 300_000
STYLE = "Cloak"
CLOTH = {"width": "150 cm", "fold": "lengthwise", "nap": True}
SECONDS = 15


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
            _take(address, _laid(address))
        finally:
            running.should_exit = True
            thread.join()


def _laid(address: str) -> str:
    styles = _ask(address, "GET", "/styles")["styles"]
    style = next(s["id"] for s in styles if s["name"].startswith(STYLE))
    wish = {"style_id": style, "seconds": SECONDS, "cloths": {"shell": CLOTH}}
    lay = _ask(address, "POST", "/lays", wish)
    while lay["state"] in ("queued", "searching"):
        time.sleep(0.5)
        lay = _ask(address, "GET", f"/lays/{lay['id']}")
    return str(lay["id"])


def _take(address: str, lay: str) -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.goto(f"{address}#/layout/{lay}/shell")
        page.locator(".laid").first.wait_for()
        page.wait_for_timeout(500)
        _keep(page, "layout.png")
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
