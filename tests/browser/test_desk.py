"""The desk in a real browser: from the demo's pieces over an allowance and a lay to what to buy."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Watch

pytestmark = pytest.mark.browser

Open = Callable[..., Page]
Axe = Callable[[Page], list[str]]
FindStyle = Callable[[str], str]
MakeLay = Callable[..., dict[str, Any]]


def test_the_demo_wardrobe_is_on_the_wall(open_page: Open, axe: Axe) -> None:
    page = open_page("/")
    page.get_by_role("link", name="Waistcoat of the ferryman").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Waistcoat of the ferryman")
    front = page.locator(".wall li").filter(has=page.get_by_text("Front", exact=True)).first
    expect(front).to_contain_text("a pair")
    expect(front).to_contain_text(re.compile(r"\d+\.\d cm tall, \d+\.\d cm wide"))
    expect(front.locator("path.l-cut")).to_have_count(1)
    expect(front.locator("path.l-net")).to_have_count(1)
    assert axe(page) == []


def test_an_allowance_moves_the_cut_line_at_once_and_undo_takes_it_back(
    open_page: Open, style_id: FindStyle, axe: Axe
) -> None:
    page = open_page(f"/#/pieces/{style_id('Waistcoat')}/Front")
    cut = page.locator(".piece-board path.l-cut")
    before = cut.get_attribute("d")
    page.locator(".edges").get_by_role("button", name="side", exact=True).click()
    blank = page.get_by_label("Width of the allowance on side", exact=True)
    expect(blank).to_be_focused()
    blank.fill("1 3/8 in")
    blank.press("Enter")
    expect(blank).to_have_value("3.49 cm")
    expect(cut).not_to_have_attribute("d", before or "")
    expect(page.locator("#live")).to_contain_text("side: 3.5 cm")
    assert axe(page) == []
    page.get_by_role("button", name="Undo").click()
    expect(blank).not_to_have_value("3.49 cm")
    expect(cut).to_have_attribute("d", before or "")
    page.keyboard.press("Control+Shift+Z")
    expect(blank).to_have_value("3.49 cm")
    page.keyboard.press("Control+z")
    expect(blank).not_to_have_value("3.49 cm")


def test_an_edge_is_picked_by_eye(open_page: Open, style_id: FindStyle) -> None:
    page = open_page(f"/#/pieces/{style_id('Waistcoat')}/Front")
    edge = page.locator(".piece-board .l-reach").nth(3)
    x, y = edge.evaluate(
        "e => { const p = e.getPointAtLength(e.getTotalLength() / 2).matrixTransform(e.getScreenCTM());"
        " return [p.x, p.y]; }"
    )
    page.mouse.click(x + 3, y)
    expect(page.locator(".edges tbody tr").nth(3)).to_have_class("picked")


def test_a_notch_is_placed_and_a_partner_named(
    open_page: Open, style_id: FindStyle, axe: Axe
) -> None:
    page = open_page(f"/#/pieces/{style_id('Waistcoat')}/Front")
    page.locator(".edges").get_by_role("button", name="side", exact=True).click()
    notches = page.locator(".piece-board path.l-notch")
    expect(notches.first).to_be_visible()
    before, listed = notches.count(), page.locator(".notch-list li").count()
    page.get_by_role("button", name="Add a notch on side").click()
    expect(notches).to_have_count(before + 1)
    blank = page.get_by_label(f"Notch {listed + 1}: distance along the edge")
    blank.fill("5 cm")
    blank.press("Enter")
    expect(blank).to_have_value("5 cm")
    page.get_by_label("What side is sewn to").select_option("Back/side")
    expect(page.locator("#live")).to_have_text("side is sewn to Back/side.")
    assert axe(page) == []
    page.locator(".notch-list").get_by_role("button", name="take it out").last.click()
    expect(notches).to_have_count(before)


def test_two_windows_do_not_overwrite_each_other(
    open_page: Open, style_id: FindStyle, watch: Watch
) -> None:
    style = style_id("Apron")
    one, two = (open_page(f"/#/pieces/{style}/Bib") for _ in range(2))
    width = r"^Width of the allowance on "
    for page in (one, two):
        expect(page.get_by_label(re.compile(width)).first).to_be_visible()
    blank = one.get_by_label(re.compile(width)).first
    blank.fill("2.3 cm")
    blank.press("Enter")
    expect(one.locator("#live")).to_contain_text("2.3 cm")
    watch.expect("status of 409")
    other = two.get_by_label(re.compile(width)).last
    other.fill("2.6 cm")
    other.press("Enter")
    expect(two.get_by_role("alert")).to_contain_text("changed in another window")
    expect(two.get_by_label(re.compile(width)).first).to_have_value("2.3 cm")


def test_what_cannot_be_read_is_said_and_nothing_is_sent(
    open_page: Open, style_id: FindStyle, api: Callable[..., Any]
) -> None:
    style = style_id("Waistcoat")
    revision = api("GET", f"/styles/{style}")["revision"]
    page = open_page(f"/#/pieces/{style}/Front")
    blank = page.get_by_label("Width of the allowance on side", exact=True)
    blank.fill("two fingers")
    blank.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("cannot be read as a length")
    expect(blank).to_have_attribute("aria-invalid", "true")
    assert api("GET", f"/styles/{style}")["revision"] == revision


def test_from_the_cloth_to_what_to_buy(open_page: Open, style_id: FindStyle, axe: Axe) -> None:
    page = open_page(f"/#/cloth/{style_id('Waistcoat')}")
    page.get_by_label("Width of the shell cloth by its label").fill("137 cm")
    page.get_by_label("How the shell cloth is laid").select_option("lengthwise")
    page.get_by_label("Shrinkage of the shell cloth along the selvedge").fill("3")
    page.get_by_label("Price of the shell cloth").fill("18.50")
    page.get_by_label("Seconds to search").fill("1")
    page.get_by_label("Seconds to search").press("Enter")
    assert axe(page) == []
    page.get_by_role("button", name="Lay it out").click()
    expect(page.locator(".lay-board .laid").first).to_be_visible(timeout=200_000)
    expect(page.locator("#live")).to_contain_text("Done. shell: buy", timeout=200_000)
    expect(page.get_by_role("heading", level=1)).to_have_text("Laid out folded lengthwise")
    expect(page.locator(".lay-board .l-fold")).to_have_count(1)
    assert axe(page) == []
    page.get_by_role("link", name="What to buy").click()
    shell = page.locator(".buy-part").first
    expect(shell).to_contain_text("Shrinkage along, 3 %")
    expect(shell.locator(".figure.great dd")).to_have_text(re.compile(r"^\d\.\d0 m$"))
    expect(shell).to_contain_text("€")
    assert axe(page) == []


def test_a_search_is_stopped_and_its_best_is_kept(open_page: Open, style_id: FindStyle) -> None:
    page = open_page(f"/#/cloth/{style_id('Breeches')}")
    page.get_by_label("Seconds to search").fill("120")
    page.get_by_role("button", name="Lay it out").click()
    expect(page.locator(".lay-board .laid").first).to_be_visible(timeout=200_000)
    expect(page.locator(".curve-floor")).to_have_count(1)
    page.get_by_role("button", name="Stop here").click()
    expect(page.get_by_text("stopped; the best so far is kept")).to_be_visible(timeout=30_000)
    expect(page.locator(".lay-board .laid").first).to_be_visible()


def test_the_shop_card_gives_a_length_for_every_width(
    open_page: Open, finished_lay: MakeLay, axe: Axe
) -> None:
    lay = finished_lay("Coat", fold="open")
    page = open_page(f"/#/buy/{lay['id']}")
    page.get_by_role("button", name="Work out a card for the shop").click()
    expect(page.locator("#live")).to_have_text("The card for the shop is ready.", timeout=150_000)
    card = page.locator("table.card").first
    expect(card.locator("thead th")).to_have_text(["Width", "90 cm", "112 cm", "137 cm", "150 cm"])
    either, one_way = (
        [t.strip() for t in card.locator("tbody tr").nth(i).locator("td").all_inner_texts()]
        for i in (0, 1)
    )
    for a, b in zip(either, one_way, strict=True):
        assert re.fullmatch(r"\d\.\d0 m", a) or a == "too narrow"
        assert b == "too narrow" or float(a.split()[0]) <= float(b.split()[0])
    assert axe(page) == []


def test_a_piece_of_the_layout_is_walked_to_by_keyboard(
    open_page: Open, finished_lay: MakeLay
) -> None:
    lay = finished_lay("Waistcoat", fold="lengthwise")
    page = open_page(f"/#/layout/{lay['id']}/shell")
    first = page.locator(".laid[tabindex='0']")
    first.focus()
    page.keyboard.press("Enter")
    expect(page.locator(".laid.picked")).to_have_count(1)
    key = page.locator(".laid.picked").get_attribute("data-key")
    page.keyboard.press("ArrowRight")
    expect(page.locator(".laid.picked")).not_to_have_attribute("data-key", key or "")
    expect(page.locator(".places tr.picked")).to_have_count(1)
    expect(page.locator(".distances .distance-text").first).to_have_text(re.compile(r"cm$"))
    page.keyboard.press("+")
    expect(page.get_by_role("button", name="All of it")).to_be_enabled()
    page.keyboard.press("0")
    expect(page.get_by_role("button", name="All of it")).to_be_disabled()
    page.keyboard.press("Escape")
    expect(page.locator(".laid.picked")).to_have_count(0)


def test_the_drawing_is_to_scale(open_page: Open, finished_lay: MakeLay) -> None:
    lay = finished_lay("Waistcoat", fold="lengthwise")
    shell = next(c for c in lay["cloths"] if c["cloth"] == "shell")
    page = open_page(f"/#/layout/{lay['id']}/shell")
    expect(page.locator(".laid").first).to_be_visible()
    boxes = page.evaluate(
        "[...document.querySelectorAll('.laid .l-cut')].map(e => e.getBBox()).map(b => [b.width, b.height])"
    )
    assert len(boxes) == len(shell["placements"])
    scales = []
    for (w, h), p in zip(boxes, shell["placements"], strict=True):
        xs, ys = zip(*p["cut_line"], strict=True)
        scales += [w / (max(xs) - min(xs)), h / (max(ys) - min(ys))]
    assert max(scales) / min(scales) < 1.01


def test_a_repeat_is_drawn_on_the_cloth(open_page: Open, finished_lay: MakeLay) -> None:
    lay = finished_lay("Coat", fold="open", repeat_along=60)
    page = open_page(f"/#/layout/{lay['id']}/shell")
    lines = page.locator(".lay-board path.repeat").get_attribute("d") or ""
    shell = next(c for c in lay["cloths"] if c["cloth"] == "shell")
    assert lines.count("M") == int(shell["length_mm"] // 60) + 1
    page.goto(f"/sheet?lay={lay['id']}&cloth=shell")
    expect(page.locator(".sheet-drawing path.repeat")).to_have_count(1)
    page.get_by_role("link", name="Sheet for lining").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("lining")


def test_the_lay_sheet_prints_every_distance(
    open_page: Open, finished_lay: MakeLay, axe: Axe
) -> None:
    lay = finished_lay("Waistcoat", fold="lengthwise")
    shell = next(c for c in lay["cloths"] if c["cloth"] == "shell")
    page = open_page(f"/sheet?lay={lay['id']}&cloth=shell")
    expect(page.locator(".sheet-places tbody tr")).to_have_count(len(shell["placements"]))
    for row, placed in zip(
        page.locator(".sheet-places tbody tr").all(), shell["placements"], strict=True
    ):
        assert ("on it" in row.inner_text()) == placed["on_fold"]
    ticks = sum(a["drawn"] + a["turned"] for a in shell["asked"])
    expect(page.locator(".sheet-cutting .tick")).to_have_count(ticks)
    assert axe(page) == []
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Print")).to_be_hidden()
    expect(page.locator(".sheet-drawing")).to_be_visible()
    colours = page.evaluate(
        "[...document.querySelectorAll('.sheet-drawing .l')].map(e => getComputedStyle(e).stroke)"
    )
    assert set(colours) <= {"rgb(0, 0, 0)"}
    assert page.pdf(format="A4").startswith(b"%PDF")


def test_a_panel_from_the_tape_measure(open_page: Open, axe: Axe) -> None:
    page = open_page("/#/pieces")
    page.get_by_role("button", name="type in a panel").click()
    page.get_by_label("Name of the panel").fill("Prompter's pocket")
    page.get_by_label("Width across the grain").fill("5 1/2 in")
    page.get_by_label("Length along the grain").fill("20 cm")
    assert axe(page) == []
    page.get_by_role("button", name="Enter the panel").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Prompter's pocket")
    expect(page.locator(".wall li")).to_contain_text("20.0 cm tall, 14.0 cm wide")


def test_points_that_are_none_are_named(open_page: Open) -> None:
    page = open_page("/#/pieces")
    page.get_by_role("button", name="type in a panel").click()
    page.get_by_label("Name of the panel").fill("Gore")
    page.get_by_label("How the panel is given").select_option("points")
    page.get_by_label("Points, in centimetres").fill("0 0\n30 0\n0 40")
    expect(page.locator(".panel svg")).to_be_visible()
    page.get_by_label("Points, in centimetres").fill("0 0\n30 o\n0 40")
    page.get_by_role("button", name="Enter the panel").click()
    expect(page.get_by_role("alert")).to_contain_text("Point 2, “30 o”")


def test_a_file_is_brought_in_and_a_bad_one_refused(
    open_page: Open, watch: Watch, downloads: Path
) -> None:
    good = downloads / "belt.json"
    belt = {"name": "Belt", "outline": {"rectangle": {"width": 8, "length": 90}}}
    good.write_text(
        json.dumps(
            {
                "format": "grainfold piece sheet",
                "version": 1,
                "unit": "cm",
                "style": "Belt of the strongman",
                "defaults": {"allowance": {"seam": 1}},
                "pieces": [belt],
            }
        )
    )
    bad = downloads / "bad.json"
    bad.write_text('{"format": "grainfold piece sheet", "version": 1')
    page = open_page("/#/pieces")
    chooser = page.locator("input[type=file]")
    chooser.set_input_files(str(good))
    expect(page.get_by_role("heading", level=1)).to_have_text("Belt of the strongman")
    watch.expect("status of 4")
    chooser.set_input_files(str(bad))
    expect(page.get_by_role("alert")).to_contain_text("Refused.")
    expect(page.get_by_role("heading", level=1)).to_have_text("Belt of the strongman")


def test_both_unit_systems_and_word_sets(open_page: Open, style_id: FindStyle) -> None:
    page = open_page(f"/#/cloth/{style_id('Waistcoat')}")
    page.get_by_label("Units").select_option("imperial")
    expect(page.get_by_label("Width of the shell cloth by its label")).to_have_value("60 in")
    page.get_by_label("Words").select_option("us")
    expect(page.get_by_label("Selvage of the shell cloth")).to_have_value("1/2 in")
    assert "selvedge" not in page.locator("main").inner_text().lower()
    page.reload()
    expect(page.get_by_label("Selvage of the shell cloth")).to_be_visible()


PAGES = ["pieces", "piece", "cloth", "layout", "buy", "table", "sheet"]


@pytest.mark.parametrize("name", PAGES)
def test_a_phone_shows_every_page_without_scrolling_sideways(
    name: str, open_page: Open, style_id: FindStyle, finished_lay: MakeLay, watch: Watch
) -> None:
    style = style_id("Waistcoat")
    lay = finished_lay("Waistcoat", fold="lengthwise")
    addresses = {
        "pieces": f"/#/pieces/{style}",
        "piece": f"/#/pieces/{style}/Front",
        "cloth": f"/#/cloth/{style}",
        "layout": f"/#/layout/{lay['id']}/shell",
        "buy": f"/#/buy/{lay['id']}",
        "table": f"/#/table/{lay['id']}",
        "sheet": f"/sheet?lay={lay['id']}&cloth=shell",
    }
    watch.expect("status of 404")  # no table is measured yet, and the page says so
    page = open_page(addresses[name], width=390, height=844)
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    page.wait_for_timeout(300)
    over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert over <= 0


def test_the_table_page_leads_on(
    open_page: Open, finished_lay: MakeLay, axe: Axe, watch: Watch
) -> None:
    lay = finished_lay("Waistcoat", fold="lengthwise")
    watch.expect("status of 404")
    page = open_page(f"/#/table/{lay['id']}")
    expect(page.get_by_role("link", name=re.compile("^Measure"))).to_have_attribute(
        "href", "/calibrate"
    )
    link = page.get_by_role("link", name="Light Waistcoat of the ferryman, shell")
    expect(link).to_have_attribute("href", f"/table?lay={lay['id']}&cloth=shell")
    assert axe(page) == []


def test_a_code_for_a_phone_is_shown_or_what_to_do_for_one(
    open_page: Open, finished_lay: MakeLay, axe: Axe, watch: Watch
) -> None:
    lay = finished_lay("Waistcoat", fold="lengthwise")
    watch.expect("status of 404")
    watch.expect("status of 409")
    page = open_page(f"/#/table/{lay['id']}")
    page.get_by_role("button", name="Show a code for a phone").click()
    expect(page.get_by_role("alert")).to_contain_text("grainfold serve --lan")
    shown = {"url": "http://192.0.2.7:8765/hand#t=x", "qr": "data:,", "expires": ""}
    page.route("**/api/devices/invites", lambda route: route.fulfill(status=201, json=shown))
    page.get_by_role("button", name="Show a code for a phone").click()
    expect(page.get_by_text("http://192.0.2.7:8765/hand#t=x")).to_be_visible()
    assert axe(page) == []


def test_the_way_to_wrong_places_is_said(open_page: Open, watch: Watch) -> None:
    watch.expect("status of 404")
    page = open_page("/#/layout/none-such")
    expect(page.get_by_role("alert")).to_be_visible()
    page.goto("/sheet?lay=none-such")
    expect(page.get_by_role("alert")).to_be_visible()


def test_axe_has_teeth(open_page: Open, axe: Axe) -> None:
    page = open_page("/#/pieces")
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    page.evaluate("document.querySelector('main').append(document.createElement('button'))")
    assert any(line.startswith("button-name") for line in axe(page))
