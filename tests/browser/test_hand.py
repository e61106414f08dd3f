"""The page in the hand, at phone size, beside table pages: one cutting, all in step."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from calibration import homography
from service.projection import project
from tests.browser.table_rig import (
    KEYSTONES,
    Held,
    Running,
    band_edges,
    lit,
    ready,
    samples,
    waistcoat_cloth,
)

pytestmark = pytest.mark.browser

CLOTH = waistcoat_cloth()
MAP = KEYSTONES["from the left"]


@pytest.fixture
def both(device: Callable[..., Page], running: Running) -> tuple[Page, Page]:
    """A table page and a hand page on a fresh cutting."""
    lay = running.keep_lay(CLOTH)
    table = device(f"{running.address}table?lay={lay}&cloth=shell")
    ready(table)
    hand = device(f"{running.address}hand?lay={lay}&cloth=shell", size=(390, 844))
    expect(hand.get_by_role("button", name="Look at the layout")).to_be_visible()
    return table, hand


def approve(hand: Page) -> None:
    hand.get_by_role("button", name="Look at the layout").click()
    for _ in project(CLOTH, MAP).windows[1:]:
        hand.get_by_role("button", name="Next", exact=True).click()
    hand.get_by_role("button", name="Light it to cut by").click()
    hand.get_by_role("button", name="One piece at a time").click()
    expect(hand.locator("h1")).to_have_text("Back")


def test_hand_steps_and_marks_and_the_table_follows(both: tuple[Page, Page]) -> None:
    table, hand = both
    approve(hand)
    expect(table.locator("#said")).to_contain_text("Back: on the fold, 2 plies. 1 of 7.")
    hand.get_by_role("button", name="Cut, and next").click()
    expect(hand.locator("h1")).to_have_text("Front")
    expect(table.locator("#said")).to_contain_text("2 of 7")
    hand.get_by_role("button", name="Back", exact=True).click()
    expect(hand.get_by_role("status")).to_contain_text("Cut already.")
    expect(hand.get_by_role("button", name="Cut, and next")).to_be_disabled()
    # Pressed before the table has heard, a step would count as the slower of two.
    expect(table.locator("#said")).to_contain_text("1 of 7")
    table.keyboard.press("PageDown")
    expect(hand.locator("h1")).to_have_text("Front")
    hand.keyboard.press("PageDown")
    expect(table.locator("#said")).to_contain_text("3 of 7")
    hand.get_by_role("button", name="What is cut").click()
    expect(hand.locator("#panel")).to_contain_text("Still to be cut: 1 x Front (as drawn)")


def test_bolder_line_from_the_hand_keeps_its_inner_edge(both: tuple[Page, Page]) -> None:
    table, hand = both
    approve(hand)
    expect(table.locator("#said")).to_contain_text("1 of 7")
    words = int(table.get_attribute("#words", "data-drawn") or 0)
    hand.get_by_role("button", name="Bolder line").click()
    expect(table.locator("#words")).not_to_have_attribute("data-drawn", str(words))
    shown = project(CLOTH, MAP)
    window = shown.windows[0]
    back = next(p for p in shown.pieces if p.piece == "Back")
    place = np.array(window.table_from_cloth)
    line = homography.apply(place, np.array(back.placement["cut_line"]))
    notch = homography.apply(place, [back.placement["notches"][0]["at"]])
    places, normals = samples(line, avoid=notch)
    fold = homography.apply(place, [(0.0, 0.0)])[0, 1]
    keep = places[:, 1] > fold + 10
    inner, width = band_edges(lit(table), MAP, places[keep], normals[keep])
    assert len(inner) > 300
    assert np.abs(inner).max() < 0.25
    # 3 mm at about 1.25 px per mm.
    assert 2.8 < np.median(width) < 5
    hand.get_by_role("button", name="Turn the words").click()
    expect(table.locator("#words")).not_to_have_attribute("data-drawn", str(words + 1))


def test_buttons_are_large_enough_for_a_thumb(both: tuple[Page, Page]) -> None:
    _, hand = both
    approve(hand)
    for name in ("Cut, and next", "Back", "Next"):
        box = hand.get_by_role("button", name=name, exact=True).bounding_box()
        assert box is not None
        assert box["height"] >= 72
        assert box["width"] >= 150
        assert box["y"] + box["height"] <= 844, "reached without scrolling"
    assert hand.evaluate("document.documentElement.scrollWidth") <= 390


def test_two_hands_and_a_table_press_next_at_once(both: tuple[Page, Page]) -> None:
    table, hand = both
    approve(hand)
    expect(table.locator("#said")).to_contain_text("1 of 7")
    held = Held(table, hand)
    table.keyboard.press("PageDown")
    hand.get_by_role("button", name="Next", exact=True).click()
    assert held.release() == [200, 409]
    expect(hand.get_by_role("status")).to_contain_text("2 of 7")
    expect(table.locator("#said")).to_contain_text("2 of 7")


def test_wrong_address_says_so(device: Callable[..., Page], running: Running) -> None:
    page = device(f"{running.address}hand?lay=nowhere", size=(390, 844))
    expect(page.get_by_role("alert")).to_contain_text("nowhere")
    expect(page.get_by_role("link", name="Choose a layout")).to_be_visible()


def test_nothing_for_axe_to_find(both: tuple[Page, Page], axe: Callable[[Page], list[str]]) -> None:
    _, hand = both
    assert axe(hand) == []
    approve(hand)
    assert axe(hand) == []
    hand.get_by_role("button", name="What is cut").click()
    expect(hand.locator("#panel")).to_contain_text("Marks")
    assert hand.evaluate("document.querySelector('#panel').scrollWidth") <= 390
    assert axe(hand) == []
