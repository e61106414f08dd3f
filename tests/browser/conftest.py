"""A running service and a real browser: the server in a thread of this process, Chromium beside it.

Every page is watched: a console error, an uncaught exception or a request that fails ends the test
red, unless the test says beforehand what it expects (``watch.expect``).
"""

from __future__ import annotations

import json
import re
import shutil
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from service import server
from service.app import create_app
from service.kernels import keep_compiled_in
from service.settings import Settings
from tests.browser.table_rig import GOOD_CHECKS, Running, open_table
from tests.js import node_tools

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-proxy-server",
]
START_PATIENCE_S = 60.0
LAY_PATIENCE_S = 240.0
"""The first lay on a machine waits for the kernels to be compiled."""
ACTION_PATIENCE_MS = 30_000
expect.set_options(timeout=ACTION_PATIENCE_MS)
"""What is expected may take as long as an action: both wait for the same busy machine."""
AXE_RULES = ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="session")
def service_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address (ending in /) of a service with the demo wardrobe, alive for the whole session."""
    keep_compiled_in(node_tools.cache())
    settings = Settings(data=tmp_path_factory.mktemp("data"), demo=True, port=0)
    listening = server.bind("127.0.0.1", 0)
    config = uvicorn.Config(
        create_app(settings), log_level="warning", access_log=False, timeout_graceful_shutdown=1
    )
    running = uvicorn.Server(config)
    thread = threading.Thread(target=running.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    deadline = time.monotonic() + START_PATIENCE_S
    while not running.started:
        assert thread.is_alive(), "the service ended while starting"
        assert time.monotonic() < deadline, "the service does not start"
        time.sleep(0.02)
    yield server.address_of(listening)
    running.should_exit = True
    thread.join(20)


@pytest.fixture(scope="session")
def api(service_address: str) -> Callable[..., Any]:
    """Ask the service directly: ``api("GET", "/styles")`` gives the JSON answer."""

    def ask(method: str, path: str, body: object = None) -> Any:
        request = urllib.request.Request(
            f"{service_address}api{path}",
            method=method,
            data=None if body is None else json.dumps(body).encode(),
            headers={
                "Origin": service_address.rstrip("/"),
                "Content-Type": "application/json",
            },
        )
        with urllib.request.urlopen(request, timeout=30) as answer:
            content = answer.read()
        return json.loads(content) if content else None

    return ask


@pytest.fixture(scope="session")
def style_id(api: Callable[..., Any]) -> Callable[[str], str]:
    """The id of the demo style whose name begins so."""

    def find(name: str) -> str:
        styles = api("GET", "/styles")["styles"]
        return next(str(s["id"]) for s in styles if s["name"].startswith(name))

    return find


@pytest.fixture(scope="session")
def finished_lay(
    api: Callable[..., Any], style_id: Callable[[str], str]
) -> Callable[..., dict[str, Any]]:
    """A finished lay of a demo style, searched for a few steps; made once per wish."""
    known: dict[str, dict[str, Any]] = {}

    def lay(name: str = "Waistcoat", **cloth: object) -> dict[str, Any]:
        wish = {"style_id": style_id(name), "steps": 2, "seed": 1, "cloths": {"shell": cloth}}
        key = json.dumps(wish, sort_keys=True)
        if key not in known:
            made = api("POST", "/lays", wish)
            deadline = time.monotonic() + LAY_PATIENCE_S
            while made["state"] in ("queued", "searching"):
                assert time.monotonic() < deadline, "the lay does not end"
                time.sleep(0.1)
                made = api("GET", f"/lays/{made['id']}")
            assert made["state"] == "done", made["error"]
            known[key] = made
        return known[key]

    return lay


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One headless Chromium for the session."""
    path = next((p for n in CHROMIUM_NAMES if (p := shutil.which(n))), None)
    assert path, "no Chromium on PATH: python -m tests says how to install it"
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def running(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Running]:
    """A service of the module's own, made as its SERVICE says, with its MAP checked and in use."""
    options: dict[str, Any] = getattr(request.module, "SERVICE", {})
    service = Running(tmp_path_factory.mktemp("data"), **options)
    service.keep_map(request.module.MAP, checks=GOOD_CHECKS)
    yield service
    service.stop()


@pytest.fixture
def device(browser: Browser) -> Iterator[Callable[..., Page]]:
    """``device(url, size=(390, 844))``: a page with cookies of its own; all close at the end."""
    opened: list[Page] = []

    def open_at(url: str, **options: Any) -> Page:
        page = open_table(browser, **options)
        opened.append(page)
        page.goto(url)
        return page

    yield open_at
    for page in opened:
        page.context.close()


@dataclass
class Watch:
    """What a page complained of, and what the test expects it to."""

    said: list[str] = field(default_factory=list)
    expected: list[str] = field(default_factory=list)

    def expect(self, pattern: str) -> None:
        """A complaint matching ``pattern`` is meant to happen."""
        self.expected.append(pattern)

    @property
    def unexpected(self) -> list[str]:
        """All that nobody expected."""
        return [s for s in self.said if not any(re.search(p, s) for p in self.expected)]


@pytest.fixture
def watch() -> Iterator[Watch]:
    """Complaints of the test's pages; red at the end if any was unexpected."""
    watching = Watch()
    yield watching
    assert watching.unexpected == []


@pytest.fixture
def open_page(
    browser: Browser, service_address: str, watch: Watch
) -> Iterator[Callable[..., Page]]:
    """``open_page("/#/pieces", width=390, height=844)``: a watched page in a context of its own."""
    contexts: list[BrowserContext] = []

    def open_at(path: str = "/", *, width: int = 1440, height: int = 900, **options: Any) -> Page:
        context = browser.new_context(
            base_url=service_address, viewport={"width": width, "height": height}, **options
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(ACTION_PATIENCE_MS)
        page.on("console", lambda m: watch.said.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda e: watch.said.append(f"uncaught: {e}"))
        page.on("requestfailed", lambda r: watch.said.append(f"failed: {r.url} {r.failure}"))
        # Whatever was still on its way when a page was left: an event stream, a font.
        watch.expect(r"failed: .* net::ERR_ABORTED")
        page.goto(path)
        return page

    yield open_at
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def axe() -> Callable[[Page], list[str]]:
    """Serious and critical findings of axe-core on a page, one line each."""
    source = (node_tools.packages() / "axe-core" / "axe.min.js").read_text()

    def check(page: Page) -> list[str]:
        page.evaluate(source)
        found = page.evaluate(
            "rules => axe.run(document, {runOnly: rules}).then(r => r.violations)", AXE_RULES
        )
        return [
            f"{v['id']} ({v['impact']}): {n['target']} {n['failureSummary']}"
            for v in found
            if v["impact"] in ("serious", "critical")
            for n in v["nodes"]
        ]

    return check


@pytest.fixture(scope="session")
def downloads(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A directory for files that a test hands to the browser."""
    return tmp_path_factory.mktemp("files")
