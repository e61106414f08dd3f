"""A left-over piece of cloth in a real browser: typed from the tape, drawn, laid, what it holds shown."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser

Open = Callable[..., Page]
Axe = Callable[[Page], list[str]]


def fill(page: Page, label: str, text: str, shown: str) -> None:
    blank = page.get_by_label(label, exact=True)
    blank.fill(text)
    blank.press("Enter")
    expect(blank).to_have_value(shown)


def test_flaws_and_a_slanted_end_are_typed_and_drawn(
    open_page: Open, style_id: Callable[[str], str], axe: Axe
) -> None:
    page = open_page(f"/#/cloth/{style_id('Apron')}")
    shell = page.get_by_label("Cloth: shell")
    shell.get_by_label("Whether the shell cloth is already there").select_option("have")
    expect(shell.locator(".lack")).to_have_count(0)
    fill(page, "Length of the shell cloth along the far selvedge", "120 cm", "120 cm")
    expect(shell.locator(".lack.missing")).to_have_count(1)
    shell.get_by_role("button", name="The shell cloth has a flaw").click()
    expect(page.get_by_label("Where the flaw 1 of the shell cloth begins along")).to_be_focused()
    expect(shell.locator(".lack.flaw")).to_have_count(1)
    before = shell.locator(".lack.flaw .lack-edge").get_attribute("d") or ""
    fill(page, "Where the flaw 1 of the shell cloth begins along", "50", "50 cm")
    expect(shell.locator(".lack.flaw .lack-edge")).not_to_have_attribute("d", before)
    # Folded, a flaw lies in the way in both plies.
    fill(page, "Where the flaw 1 of the shell cloth begins across", "70", "70 cm")
    shell.get_by_label("How the shell cloth is laid").select_option("lengthwise")
    expect(shell.locator(".lack.flaw")).to_have_count(2)
    assert axe(page) == []
    shell.get_by_role("button", name="Take away the flaw 1 of the shell cloth").click()
    expect(shell.locator(".lack.flaw")).to_have_count(0)


def test_what_goes_on_cloth_that_is_too_short_is_drawn(
    open_page: Open, finished_lay: Callable[..., dict[str, Any]], axe: Axe
) -> None:
    flaw = {"along_from": 100, "along_to": 160, "across_from": 300, "across_to": 360}
    lay = finished_lay("Apron", fold="best", available=500, far_length=440, flaws=[flaw])
    page = open_page(f"/#/layout/{lay['id']}/shell")
    held = page.get_by_label("What goes on the shell cloth that is there")
    expect(held.locator("svg .laid").first).to_be_visible()
    expect(held).to_contain_text(re.compile(r"left over: \w+"))
    expect(held.locator(".lack.missing").first).to_be_visible()
    assert axe(page) == []
