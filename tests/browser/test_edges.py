"""The pages of edges: corner and dart treatments, and seams walked; the first reached from a piece."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser

Open = Callable[..., Page]
Axe = Callable[[Page], list[str]]


def test_every_treatment_is_drawn_and_reached_from_a_piece(
    open_page: Open, axe: Axe, api: Callable[..., Any], style_id: Callable[[str], str]
) -> None:
    page = open_page(f"/#/pieces/{style_id('Waistcoat')}/Front")
    page.get_by_role("link", name="How edges become cut lines").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("How edges become cut lines")
    examples = api("GET", "/edges")["examples"]
    expect(page.get_by_role("heading", level=2)).to_have_text([e["title"] for e in examples])
    for example in examples:
        drawn = page.locator(f"#{example['code']}")
        expect(drawn.locator("path.l-cut")).to_have_count(1)
        expect(drawn.locator("path.l-notch")).to_have_count(len(example["piece"]["notches"]))
        expect(drawn.locator("path.l-folded")).to_have_count(len(example["folded"]))
    expect(page.locator("#mitre")).to_contain_text("1.5 cm")
    expect(page.locator("#inlay path.l-inlay")).to_have_count(1)
    expect(page.locator("#fold path.l-fold")).to_have_count(1)
    assert axe(page) == []
    page.set_viewport_size({"width": 390, "height": 844})
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= 390


def test_seams_walked_are_drawn_beside_their_list(
    open_page: Open, axe: Axe, api: Callable[..., Any], style_id: Callable[[str], str]
) -> None:
    """The waistcoat's seams, once the ease of its back shoulders (1/4 inch) is no longer stated."""
    sheet = api("GET", f"/styles/{style_id('Waistcoat')}")["sheet"]
    back = next(p for p in sheet["pieces"] if p["name"] == "Back")
    for edge in back["outline"]["edges"]:
        edge.pop("ease", None)
    style = api("POST", "/styles", {**sheet, "style": "Uneased waistcoat"})["id"]
    page = open_page(f"/truing?style={style}")
    seams = api("GET", f"/styles/{style}/truing")["seams"]
    expect(page.locator(".seams > li")).to_have_count(len(seams))
    # Each once as it is drawn, once as a straight strip.
    expect(page.locator(".seams path.l-laid")).to_have_count(2 * len(seams))
    shoulder = page.locator(".seams > li").filter(has_text="Front/shoulder to Back/shoulder")
    expect(shoulder).to_contain_text("difference 0.6 cm")
    expect(shoulder.locator("path.seam-excess")).to_have_count(1)
    assert axe(page) == []
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    api("DELETE", f"/styles/{style}")
