"""Afternoons of cutting on demo pieces: desk, table and a page of phone size at once."""

from __future__ import annotations

import os
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import shapely
from playwright.sync_api import Browser, Page, expect

from service.store import cuttings
from tests.browser.conftest import LAY_PATIENCE_S
from tests.browser.table_rig import (
    GOOD_CHECKS,
    KEYSTONES,
    Held,
    Running,
    drawn,
    open_table,
    ready,
    said,
)

pytestmark = pytest.mark.browser

MAP = KEYSTONES["from the left"]
SERVICE = {"demo": True}
SHOTS = os.environ.get("GRAINFOLD_SHOTS")


class Afternoon:
    """Three pages on one lay of the waistcoat's shell."""

    def __init__(self, browser: Browser, running: Running, lay: str, desk: Page) -> None:
        self.running, self.lay, self.desk = running, lay, desk
        self.table = open_table(browser)
        self.table.goto(f"{running.address}table?lay={lay}&cloth=shell")
        ready(self.table)
        self.hand = open_table(browser, size=(390, 844))
        self.hand.goto(f"{running.address}hand?lay={lay}&cloth=shell")
        expect(self.hand.get_by_role("button", name="Look at the layout")).to_be_visible()

    def cutting(self) -> dict[str, Any]:
        """The cutting as the service keeps it."""
        url = f"{self.running.address}api/lays/{self.lay}/cutting?cloth=shell"
        found: dict[str, Any] = self.table.request.get(url).json()
        return found

    def projection(self) -> dict[str, Any]:
        url = f"{self.running.address}api/lays/{self.lay}/projection?cloth=shell"
        found: dict[str, Any] = self.table.request.get(url).json()
        return found

    def outlines(self) -> dict[str, shapely.Polygon]:
        """Cut lines of the layout in force, by key."""
        with self.running.database.reading() as session:
            layout = cuttings.layout_of(session, self.lay, "shell")
        return {
            f"{p['piece']}#{p['copy']}": shapely.Polygon(p["cut_line"])
            for p in layout["placements"]
        }

    def measure(self, *, along_mm: float) -> None:
        """Type what the real cloth measures, 150 cm wide, at the table; the layout fits it."""
        self.table.keyboard.press("w")
        for name in ("l1", "l2"):
            self.table.locator(f"#cloth-{name}").fill(f"{along_mm:.1f} mm")
        for name in ("w1", "w2", "w3"):
            self.table.locator(f"#cloth-{name}").fill("150 cm")
        self.table.get_by_role("button", name="Does it fit?").click()
        expect(self.table.locator("#panel")).to_contain_text("The cloth holds the layout")
        self.table.keyboard.press("Escape")

    def approve(self) -> None:
        """Guides, every window, approval, then one piece at a time: by keys at the table."""
        self.table.keyboard.press("Enter")
        windows = len(self.projection()["windows"])
        for i in range(1, windows):
            self.table.keyboard.press("PageDown")
            expect(self.table.locator("#said")).to_contain_text(f"Window {i + 1} of {windows}")
        self.table.keyboard.press("Enter")
        self.table.keyboard.press("Enter")
        expect(self.hand.get_by_role("button", name="Cut, and next")).to_be_visible()

    def close(self) -> None:
        for page in (self.desk, self.table, self.hand):
            page.context.close()


def lay_out(browser: Browser, running: Running, name: str, cloth: dict[str, Any]) -> Afternoon:
    """Three pages on a fresh lay of a demo style's shell, searched for a few steps."""
    desk = open_table(browser, size=(1280, 800))
    desk.goto(running.address)
    api = f"{running.address}api"
    origin = {"Origin": running.address.rstrip("/")}
    styles = desk.request.get(f"{api}/styles").json()["styles"]
    style = next(s["id"] for s in styles if s["name"].startswith(name))
    wish = {
        "style_id": style,
        "steps": 2,
        "seed": 1,
        "workers": 1,
        "cloths": {"shell": cloth},
    }
    made = desk.request.post(f"{api}/lays", data=wish, headers=origin).json()
    for _ in range(int(LAY_PATIENCE_S * 4)):
        if made["state"] not in ("queued", "searching"):
            break
        desk.wait_for_timeout(250)
        made = desk.request.get(f"{api}/lays/{made['id']}").json()
    assert made["state"] == "done", made["error"]
    return Afternoon(browser, running, made["id"], desk)


@pytest.fixture
def afternoon(browser: Browser, running: Running) -> Iterator[Afternoon]:
    opened = lay_out(browser, running, "Waistcoat", {"width": "150 cm", "fold": "lengthwise"})
    yield opened
    opened.close()


@pytest.fixture
def cloak(browser: Browser, tmp_path: Path) -> Iterator[Afternoon]:
    """On a service of its own, which the test may stop."""
    service = Running(tmp_path, demo=True)
    service.keep_map(MAP, checks=GOOD_CHECKS)
    opened = lay_out(browser, service, "Cloak", {"width": "150 cm"})
    yield opened
    opened.close()
    service.stop()


def test_the_cloak_in_an_afternoon_with_everything_that_gets_in_the_way(
    cloak: Afternoon, axe: Callable[[Page], list[str]]
) -> None:
    """Cloth longer than the light: measured, approved, cut window by window by two people, while the
    network fails, the service is started anew and a page is loaded again."""
    desk, table, hand = cloak.desk, cloak.table, cloak.hand
    shown = cloak.projection()
    count = len(shown["order"])
    assert len(shown["windows"]) > 2
    desk.goto(f"{cloak.running.address}#/table/{cloak.lay}")
    far = desk.get_by_role("region", name="Cutting of shell")
    expect(far).to_contain_text("Not begun.")

    # The real cloth first, then the whole layout.
    with cloak.running.database.reading() as session:
        layout = cuttings.layout_of(session, cloak.lay, "shell")
    reach = max(x for p in layout["placements"] for x, _ in p["cut_line"])
    cloak.measure(along_mm=reach + 500)
    cloak.approve()
    expect(far).to_contain_text("one piece at a time")

    # Cut at the table; phone and desk hear of it.
    table.keyboard.press("x")
    expect(far).to_contain_text(re.compile(r"[1-9]\d* of \d+ cut"))
    # Marked first, then on to the next: the desk may hear of the one before the other is shown.
    expect(table.locator("#said")).to_contain_text(f"2 of {count}")
    order = shown["order"]

    def place(page: Page) -> str:
        return said(page).split("Window")[0].strip()

    # The phone loses its network and goes on by itself; when it is back, the table follows.
    at = place(table)
    hand.context.set_offline(True)
    hand.get_by_role("button", name="Next", exact=True).click()
    alone = hand.locator("h1").inner_text()
    assert place(table) == at
    hand.context.set_offline(False)
    expect(table.locator("#said")).not_to_have_text(re.compile(f"^{re.escape(at)}"))
    expect(hand.locator("h1")).to_have_text(alone)

    # The service is started anew in the middle of it: what is lit stays lit, and all come back.
    lines_before = drawn(table)[:2]
    cloak.running.stop()
    assert drawn(table)[:2] == lines_before
    table.keyboard.press("PageUp")
    back = said(table).split("Service lost")[0].strip()
    cloak.running.start()
    stood = cloak.cutting
    deadline = time.monotonic() + 30.0
    while stood()["walk"]["stop"] != 1 and time.monotonic() < deadline:
        table.wait_for_timeout(100)
    assert stood()["cut"] == order[:1]
    expect(table.locator("#said")).to_contain_text(back)
    expect(table.locator("#said")).not_to_contain_text("Service lost", timeout=20_000)

    # Two people press next at once: on by one.
    stop = stood()["walk"]["stop"]
    held = Held(table, hand)
    table.keyboard.press("PageDown")
    hand.get_by_role("button", name="Next", exact=True).click()
    assert held.release() == [200, 409]
    assert stood()["walk"]["stop"] == stop + 1

    # On to the last piece, through every window; the cloth drawn along is measured once.
    followed = False
    for _ in range(200):
        words = said(table)
        if words.startswith("Every piece"):
            break
        if "Draw the cloth along" in words and not followed:
            table.keyboard.press("r")
            for letter in "PQR":
                table.get_by_label(f"{letter}, to the right").fill("2 mm")
                table.get_by_label(f"{letter}, away from you").fill("-1 mm")
            table.get_by_role("button", name="Let the light follow").click()
            expect(table.locator("#said")).to_contain_text("0.0 mm left over at the crosses")
            followed = True
            words = said(table).split("Service lost")[0].strip()
            table.reload()
            ready(table)
            expect(table.locator("#said")).to_have_text(words)
        piece = f" of {count}." in words and "Cut already" not in words
        table.keyboard.press("x" if piece else "PageDown")
        expect(table.locator("#said")).not_to_have_text(words)
    left = [key for key in order if key not in stood()["cut"]]
    assert followed

    # What two hurried presses passed over is still asked for: done is refused until it is cut.
    if left:
        hand.get_by_role("button", name="What is cut").click()
        hand.get_by_role("button", name="Call it done").click()
        expect(hand.get_by_role("alert")).to_contain_text("Not done: still to be cut")
        hand.get_by_role("button", name="Close").click()
        table.keyboard.press("k")
        for key in left:
            table.locator(f"[id='mark-{key}']").click()
            expect(table.locator(f"[id='back-{key}']")).to_be_visible()
    else:
        table.keyboard.press("k")
    expect(table.locator("#panel")).to_contain_text("All that was asked for is cut.")
    table.get_by_role("button", name="Call it done").click()
    expect(table.locator("#panel")).to_contain_text("called done")
    expect(far).to_contain_text("Called done.")
    assert cloak.cutting()["done"] is True
    assert axe(desk) == []
    _shot(desk, "desk-done")


def test_an_afternoon(afternoon: Afternoon, axe: Callable[[Page], list[str]]) -> None:
    table, hand = afternoon.table, afternoon.hand
    afternoon.approve()
    order = afternoon.projection()["order"]
    count = len(order)
    before = afternoon.outlines()

    # Cut at the table, marked on every page.
    table.keyboard.press("x")
    expect(table.locator("#said")).to_contain_text(f"2 of {count}")
    expect(hand.get_by_role("status")).to_contain_text(f"2 of {count}")

    # A warning before the same hand is cut twice; the place on the table stays.
    table.keyboard.press("PageUp")
    expect(table.locator("#said")).to_contain_text("Cut already")
    table.keyboard.press("x")
    expect(table.locator("#panel")).to_contain_text("is cut already")
    table.keyboard.press("Escape")
    table.keyboard.press("PageDown")
    expect(hand.get_by_role("status")).to_contain_text(f"2 of {count}")

    # Two people press next at once: on by one, not by two.
    stop = afternoon.cutting()["walk"]["stop"]
    held = Held(table, hand)
    table.keyboard.press("PageDown")
    hand.get_by_role("button", name="Next", exact=True).click()
    assert held.release() == [200, 409]
    assert afternoon.cutting()["walk"]["stop"] == stop + 1
    table.keyboard.press("PageUp")
    expect(hand.get_by_role("status")).to_contain_text(f"2 of {count}")

    # An interruption: the reloaded table stands where it stood.
    words = said(table)
    table.reload()
    ready(table)
    expect(table.locator("#said")).to_have_text(words)

    # Not done while gaps stand.
    hand.get_by_role("button", name="What is cut").click()
    hand.get_by_role("button", name="Call it done").click()
    expect(hand.get_by_role("alert")).to_contain_text("Not done: still to be cut")
    hand.get_by_role("button", name="Close").click()

    # The shears slip in the second piece: its first hand is spoiled.
    key = order[1]
    piece = next(p for p in afternoon.projection()["pieces"] if p["key"] == key)
    spoiled = piece["hands"][0]
    table.keyboard.press("z")
    expect(table.locator("#panel")).to_contain_text("still has its place on the layout")
    table.locator(f"#again-{spoiled}").press("Enter")
    expect(table.locator("#panel")).to_contain_text("Not on this layout any more: 1 x")
    _shot(table, "spoiled")
    assert axe(table) == []
    assert key in afternoon.cutting()["cut"]
    table.locator("#again-along").fill("wide")
    table.locator("#again-lay").press("Enter")
    expect(table.get_by_role("alert")).to_contain_text("The flaw, along")
    # Two flaws typed, one of them by mistake: it is taken from the list again.
    for along in ("2.9 m", "3.1 m"):
        for name, said_ in (("along", along), ("across", "10 cm"), ("size", "3 cm")):
            table.locator(f"#again-{name}").fill(said_)
        table.locator("#again-another").press("Enter")
        expect(table.locator("#again-along")).to_have_value("")
    expect(table.locator("#panel")).to_contain_text("3.1 m along, 10 cm across, 3 cm wide")
    table.locator("#again-more-1").uncheck()
    base = drawn(table)[0]
    table.locator("#again-lay").press("Enter")
    expect(table.locator("#panel h2")).to_have_text("The rest is laid again", timeout=60_000)
    _shot(table, "laid")
    assert axe(table) == []
    fresh = afternoon.outlines()
    assert order[0] not in fresh
    assert key not in fresh
    assert any(k.startswith(f"{piece['piece']}#") for k in fresh)
    for shape in fresh.values():
        for hole in (before[order[0]], before[key]):
            assert not shape.buffer(-0.05).intersects(hole.buffer(-0.05))
    now = afternoon.cutting()
    assert len(now["flaws"]) == 1
    assert len(now["holes"]) == 2
    assert now["walk"]["approved"] is False
    assert set(now["cut"]) == {order[0], key}

    # Table and hand took the new layout over; it is looked through and approved like the first.
    table.keyboard.press("Enter")
    expect(table.locator("#said")).to_contain_text("The rest is laid again")
    assert drawn(table)[0] > base
    _shot(table, "guides")
    expect(hand.locator("h1")).to_contain_text("The rest is laid again")
    _shot(hand, "hand")
    afternoon.approve()
    left = afternoon.projection()["order"]
    assert set(left) == set(fresh)

    # What was cut before the rest was laid again may still turn out spoiled.
    table.keyboard.press("k")
    expect(table.locator("#panel")).to_contain_text("Cut before the rest was laid again")
    assert table.locator(f"[id='spoiled-{order[0]}-drawn']").count() == 1
    _shot(table, "ledger")
    for k in left:
        table.locator(f"[id='mark-{k}']").click()
        expect(table.locator(f"[id='back-{k}']")).to_be_visible()
    expect(table.locator("#panel")).to_contain_text("All that was asked for is cut.")
    table.get_by_role("button", name="Call it done").click()
    expect(table.locator("#panel")).to_contain_text("called done")
    assert afternoon.cutting()["done"] is True


def test_shortage_is_told_and_not_cut_by(afternoon: Afternoon) -> None:
    """A flaw over all of the cloth that was measured: the rest would end beyond it."""
    table = afternoon.table
    table.keyboard.press("z")
    table.locator("#again-lay").press("Enter")
    alert = table.get_by_role("alert")
    expect(alert).to_contain_text("nothing to lay again before the layout was approved")
    expect(alert).to_contain_text("The layout stands as it was")
    table.keyboard.press("Escape")
    with afternoon.running.database.reading() as session:
        layout = cuttings.layout_of(session, afternoon.lay, "shell")
    reach = max(x for p in layout["placements"] for x, _ in p["cut_line"])
    afternoon.measure(along_mm=reach + 2 * layout["end_allowance_mm"] + 800)
    afternoon.approve()
    table.keyboard.press("x")
    count = len(afternoon.projection()["order"])
    expect(table.locator("#said")).to_contain_text(f"2 of {count}")
    cut = afternoon.cutting()["cut"]
    table.keyboard.press("z")
    for name, mm in (("along", "0"), ("across", "0"), ("size", f"{4 * reach:.0f}")):
        table.locator(f"#again-{name}").fill(mm)
    # Somebody else moves on: what is typed stays.
    words = said(table)
    afternoon.hand.get_by_role("button", name="Next", exact=True).click()
    expect(table.locator("#said")).not_to_have_text(words)
    assert table.locator("#again-size").input_value() == f"{4 * reach:.0f}"
    table.locator("#again-lay").press("Enter")
    expect(table.locator("#panel h2")).to_have_text("The rest is laid again", timeout=60_000)
    short = -afternoon.cutting()["measured"]["spare_length_mm"]
    assert short > 100
    expect(table.locator("#panel")).to_contain_text(f"short by {short:.0f} mm along")
    _shot(table, "short")
    assert afternoon.cutting()["cut"] == cut
    windows = len(afternoon.projection()["windows"])
    table.keyboard.press("Enter")
    table.keyboard.press("Enter")
    for i in range(1, windows):
        table.keyboard.press("PageDown")
        expect(table.locator("#said")).to_contain_text(f"Window {i + 1} of {windows}")
    table.keyboard.press("Enter")
    expect(table.get_by_role("alert")).to_contain_text("too short")
    assert afternoon.cutting()["walk"]["approved"] is False
    table.keyboard.press("Escape")

    # It was only water: the flaw is taken back, laid again without it, and all fits as before.
    table.keyboard.press("z")
    expect(table.locator("#again-size")).to_have_value("")
    known = table.get_by_role("checkbox", name="0 mm along, 0 mm across")
    expect(known).to_be_checked()
    known.press("Space")
    expect(known).not_to_be_checked()
    table.get_by_label("Leave sound pieces where they lie").press("Space")
    table.locator("#again-lay").press("Enter")
    expect(table.locator("#panel")).to_contain_text("The cloth holds the layout", timeout=60_000)
    now = afternoon.cutting()
    assert now["flaws"] == []
    assert now["cut"] == cut
    assert now["measured"]["fits"] is True
    table.keyboard.press("Enter")
    afternoon.approve()
    expect(table.locator("#said")).to_contain_text("1 of ")


def _shot(page: Page, name: str) -> None:
    """Keep a picture to look at, where GRAINFOLD_SHOTS names a folder."""
    if SHOTS:
        page.screenshot(path=str(Path(SHOTS) / f"afternoon-{name}.png"))
