"""Changes of a piece on the desk: seen dashed, taken, undone; corners, pressing and notches by eye."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Watch

pytestmark = pytest.mark.browser

Open = Callable[..., Page]
Axe = Callable[[Page], list[str]]
Api = Callable[..., Any]
Copy = Callable[[str], str]


@pytest.fixture
def copy_of(api: Api, style_id: Callable[[str], str]) -> Copy:
    """A style of the test's own, with the pieces of a demo style; returns its id."""

    def copy(name: str) -> str:
        return str(api("POST", "/styles", api("GET", f"/styles/{style_id(name)}")["sheet"])["id"])

    return copy


@pytest.fixture(autouse=True)
def refusals_are_answers(watch: Watch) -> None:
    """A first place that will not do is refused by the service, and said in words on the page."""
    watch.expect("status of 422")


def names(api: Api, style: str) -> list[str]:
    return [p["name"] for p in api("GET", f"/styles/{style}")["pieces"]]


def preview(page: Page) -> None:
    expect(page.locator("[data-preview]")).to_be_visible()
    expect(page.locator(".piece-board .l-preview").first).to_be_visible()
    expect(page.get_by_role("button", name="Take this change")).to_be_enabled()


def choose(page: Page, label: str, value: str) -> None:
    page.get_by_label(label, exact=True).select_option(value)


CHANGES: list[tuple[str, str, Callable[[Page], None], str]] = [
    (
        "Back",
        "move dart",
        lambda page: choose(page, "Edge that the dart opens on", "shoulder"),
        "closed and opened on shoulder",
    ),
    ("Back", "lengthen", lambda page: None, "lengthened by 20 mm"),
    ("Back", "unfold", lambda page: None, "drawn whole"),
    ("Back", "mirror", lambda page: None, "mirror"),
    ("Sleeve", "split", lambda page: None, "split"),
]


@pytest.mark.parametrize(("piece", "kind", "fill", "said"), CHANGES, ids=[c[1] for c in CHANGES])
def test_a_change_is_seen_taken_and_undone(
    open_page: Open,
    copy_of: Copy,
    api: Api,
    piece: str,
    kind: str,
    fill: Callable[[Page], None],
    said: str,
) -> None:
    style = copy_of("Bodice")
    before = api("GET", f"/styles/{style}")["sheet"]
    page = open_page(f"/#/pieces/{style}/{piece}")
    choose(page, "What to change", kind)
    fill(page)
    preview(page)
    expect(page.locator("[data-preview]")).to_contain_text(said)
    assert api("GET", f"/styles/{style}")["sheet"] == before, "a preview keeps nothing"
    page.get_by_role("button", name="Take this change").click()
    expect(page.locator("[data-taken]")).to_contain_text(said)
    after = api("GET", f"/styles/{style}")["sheet"]
    assert after != before
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("button", name="Redo")).to_be_enabled()
    assert api("GET", f"/styles/{style}")["sheet"] == before


def test_a_piece_is_cut_in_two_by_two_clicks(
    open_page: Open, copy_of: Copy, api: Api, axe: Axe
) -> None:
    style = copy_of("Bodice")
    page = open_page(f"/#/pieces/{style}/Sleeve")
    choose(page, "What to change", "split")
    page.get_by_role("button", name="Draw it with clicks").click()
    board = page.locator(".piece-board svg")
    expect(board).to_have_class(re.compile("aiming"))
    box = board.bounding_box()
    assert box is not None
    for share in (0.97, 0.03):
        page.mouse.click(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * share)
    preview(page)
    page.get_by_label("Name of the part on the right of the cut", exact=True).fill("Upper sleeve")
    page.keyboard.press("Tab")
    expect(page.locator("[data-preview]")).to_contain_text("Upper sleeve")
    preview(page)
    assert axe(page) == []
    page.get_by_role("button", name="Take this change").click()
    expect(page.locator("[data-taken]")).to_contain_text("Upper sleeve")
    assert "Upper sleeve" in names(api, style)
    made = next(
        p for p in api("GET", f"/styles/{style}")["sheet"]["pieces"] if p["name"] == "Upper sleeve"
    )
    assert "split" in made["origin"]
    page.goto(page.url.replace(page.url.rsplit("/", 1)[1], "Upper%20sleeve"))
    expect(page.get_by_text("It came from")).to_contain_text("split")


def test_a_piece_is_cut_in_two_along_a_curve_and_from_point_to_point(
    open_page: Open, copy_of: Copy, api: Api, axe: Axe
) -> None:
    """Points are clicked between the ends, typed, and moved by the arrow keys; nothing is kept."""
    style = copy_of("Bodice")
    page = open_page(f"/#/pieces/{style}/Sleeve")
    choose(page, "What to change", "split")
    page.get_by_role("button", name="Draw it with clicks").click()
    board = page.locator(".piece-board svg")
    expect(board).to_have_class(re.compile("aiming"))
    box = board.bounding_box()
    assert box is not None
    points = page.locator(".piece-board .handle[aria-label^='Point']")
    ways = ((0.97, 0.5, 0), (0.6, 0.47, 1), (0.35, 0.54, 2), (0.03, 0.5, 2))
    for down, across, count in ways:
        page.mouse.click(box["x"] + box["width"] * across, box["y"] + box["height"] * down)
        expect(points).to_have_count(count)
    expect(board).not_to_have_class(re.compile("aiming"))
    way = page.get_by_label("How the cut runs", exact=True)
    expect(way).to_have_value("curve")
    preview(page)
    aside = page.get_by_label("Point 1 of the cut, square to the straight line", exact=True)
    aside.fill("2.5 cm")
    aside.press("Enter")
    expect(points.first).to_have_attribute("aria-valuetext", re.compile("2.5 cm to its"))
    # The straight line runs up the piece: an arrow to the side moves the point square to it.
    points.first.focus()
    page.keyboard.press("ArrowRight")
    expect(points.first).to_have_attribute("aria-valuetext", re.compile(r"2\.[46] cm to its"))
    along = points.first.get_attribute("aria-valuenow") or ""
    page.keyboard.press("ArrowUp")
    expect(points.first).not_to_have_attribute("aria-valuenow", along)
    way.select_option("corners")
    preview(page)
    page.get_by_role("button", name="One more point").click()
    expect(points).to_have_count(3)
    page.get_by_role("button", name="Leave out point 2 of the cut").click()
    expect(points).to_have_count(2)
    preview(page)
    assert axe(page) == []
    page.get_by_role("button", name="Take this change").click()
    expect(page.locator("[data-taken]")).to_contain_text("split")
    views = api("GET", f"/styles/{style}")["pieces"]
    # On both parts, straight from point to point: two corners between the ends.
    parts = [p for p in views if p["name"] in ("Sleeve 1", "Sleeve 2")]
    seams = [e["points"] for p in parts for e in p["edges"] if e["name"] == "panel seam"]
    assert [len(points) for points in seams] == [4, 4]


def test_a_facing_comes_beside_its_piece(open_page: Open, copy_of: Copy, api: Api) -> None:
    style = copy_of("Cloak")
    piece = next(
        p
        for p in api("GET", f"/styles/{style}")["pieces"]
        if any(e["kind"] == "hem" for e in p["edges"])
    )
    page = open_page(f"/#/pieces/{style}/{piece['name']}")
    choose(page, "What to change", "hem facing")
    preview(page)
    page.get_by_label("Name of the new piece", exact=True).fill("Hem band")
    page.keyboard.press("Tab")
    expect(page.locator("[data-preview]")).to_contain_text("Hem band")
    preview(page)
    page.get_by_role("button", name="Take this change").click()
    expect(page.locator("[data-taken]")).to_contain_text("Hem band")
    assert "Hem band" in names(api, style)


def test_what_cannot_be_done_is_said(open_page: Open, copy_of: Copy) -> None:
    page = open_page(f"/#/pieces/{copy_of('Bodice')}/Back")
    choose(page, "What to change", "hem facing")
    expect(page.get_by_text("That cannot be done to Back: it has no hem.")).to_be_visible()
    expect(page.get_by_role("button", name="Take this change")).to_be_disabled()


def test_a_corner_and_a_pressing_are_chosen_and_drawn(
    open_page: Open, copy_of: Copy, axe: Axe
) -> None:
    page = open_page(f"/#/pieces/{copy_of('Bodice')}/Back")
    cut = page.locator(".piece-board path.l-cut")
    page.locator(".edges").get_by_role("button", name="side", exact=True).click()
    before = cut.get_attribute("d") or ""
    corner = page.get_by_label(re.compile("Corner at the end of the edge"))
    expect(corner.locator("option").first).to_contain_text("is drawn as its kind asks")
    corner.select_option("blunt")
    expect(cut).not_to_have_attribute("d", before)
    expect(corner).to_have_value("blunt")
    squared = cut.get_attribute("d") or ""
    page.get_by_label("How the seam side is pressed").select_option("open")
    expect(page.get_by_label("How the seam side is pressed")).to_have_value("open")
    corner.select_option("auto")
    expect(cut).not_to_have_attribute("d", squared)
    assert axe(page) == []


def test_a_notch_is_moved_by_the_arrow_keys(open_page: Open, copy_of: Copy, api: Api) -> None:
    style = copy_of("Bodice")
    page = open_page(f"/#/pieces/{style}/Back")
    handle = page.locator(".piece-board .handle").first
    value = float(handle.get_attribute("aria-valuenow") or "nan")
    handle.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    expect(handle).to_have_attribute("aria-valuenow", f"{value + 11:g}")
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Undo")).to_be_enabled()
    page.reload()
    expect(handle).to_have_attribute("aria-valuenow", f"{value + 11:g}")


def test_the_pieces_are_held_against_the_body(open_page: Open, copy_of: Copy, axe: Axe) -> None:
    page = open_page(f"/#/pieces/{copy_of('Waistcoat')}")
    part = page.get_by_role("region", name="Against the body")
    if not part.get_by_label("Line 1 to measure at").count():
        part.get_by_role("button", name="Measure at a line").click()
    line = part.get_by_label("Line 1 to measure at")
    line.select_option("hem")
    expect(line).to_have_value("hem")
    girth = part.locator("[data-girth]").first
    expect(girth).to_contain_text(re.compile(r"The pieces measure \d+\.\d cm"))
    total = re.search(r"measure (\d+\.\d) cm", girth.inner_text())
    assert total is not None
    ease = part.get_by_label(re.compile("Ease at hem"))
    ease.fill("4 cm")
    ease.press("Enter")
    body = part.get_by_label("What the body measures at hem")
    body.fill(f"{float(total[1]) - 4.0 + 2.0:.1f} cm")
    body.press("Enter")
    expect(girth).to_contain_text(re.compile(r"[12]\.\d cm less than asked"))
    expect(page.get_by_role("button", name="Undo")).to_be_enabled()
    assert axe(page) == []


def test_a_proposal_of_the_walk_is_taken_and_undone(
    open_page: Open, copy_of: Copy, api: Api, axe: Axe
) -> None:
    style = copy_of("Waistcoat")
    # A shoulder cut short: the walk finds the other too long and proposes how to mend it.
    sheet = api("GET", f"/styles/{style}")["sheet"]
    change = {"kind": "end edge", "edge": "shoulder", "length": 100.0}
    made = api("POST", "/changes", {"sheet": sheet, "piece": "Front", "change": change})
    style = str(api("POST", "/styles", made["sheet"])["id"])
    page = open_page(f"/truing?style={style}")
    seam = page.locator(".seams > li").filter(has_text="Front/shoulder to Back/shoulder")
    expect(seam).to_contain_text("longer than Front/shoulder")
    expect(seam.locator(".l-preview").first).to_be_attached()
    assert axe(page) == []
    seam.get_by_role("button", name=re.compile("Back, end shoulder")).click()
    expect(page.get_by_role("status")).to_contain_text("Back: end shoulder")
    expect(seam).not_to_contain_text("longer than Front/shoulder")
    page.get_by_role("button", name="Undo").click()
    expect(seam).to_contain_text("longer than Front/shoulder")


def test_a_row_of_edges_is_named_and_walked(open_page: Open, copy_of: Copy, axe: Axe) -> None:
    style = copy_of("Bodice")
    page = open_page(f"/#/pieces/{style}/Back")
    page.locator(".edges").get_by_role("button", name="shoulder", exact=True).click()
    first = page.locator("#edge-partner")
    second = page.get_by_label("Further on shoulder is sewn to, place 2 from its start", exact=True)
    expect(first).to_have_value("Side front/shoulder")
    expect(second).to_have_value("Front/shoulder")
    second.select_option("")
    expect(page.locator("#live")).to_have_text("shoulder is sewn to Side front/shoulder.")
    expect(second).to_have_value("")
    second.select_option("Front/shoulder")
    expect(page.locator("#live")).to_have_text(
        "shoulder is sewn to Side front/shoulder, then to Front/shoulder."
    )
    expect(second).to_have_value("Front/shoulder")
    assert axe(page) == []
    page = open_page(f"/truing?style={style}")
    seam = page.locator(".seams > li").filter(has_text="Back/shoulder to Side front/shoulder")
    expect(seam).to_contain_text("Side front/shoulder and Front/shoulder are laid end to end")
    expect(seam).to_contain_text("difference 0.0 cm")
    # Once where the edges lie as drawn, once on the straight strips.
    expect(seam.locator(".l-join")).to_have_count(2)
    assert axe(page) == []


def test_a_piece_is_counted_in_round_the_body_and_left_out_again(
    open_page: Open, copy_of: Copy, axe: Axe
) -> None:
    style = copy_of("Bodice")
    page = open_page(f"/#/pieces/{style}")
    part = page.get_by_role("region", name="Against the body")
    look = page.locator(f'.styles li:has(a[href="#/pieces/{style}"]) [data-look]')
    expect(look).to_have_text("nothing to mend")
    box = part.get_by_role("checkbox", name=re.compile("^Peplum"))
    expect(part).to_contain_text("Peplum: not counted (as asked)")
    expect(part).to_contain_text("Front facing: not counted (its name says facing)")
    girth = part.locator("[data-girth]")
    box.focus()
    page.keyboard.press("Space")
    expect(part).not_to_contain_text("Peplum: not counted")
    expect(girth).to_contain_text(re.compile(r"measure \d+\.\d cm, [5-9]\d\.\d cm more than asked"))
    expect(look).to_have_text("1 girth to look at")
    expect(box).to_be_checked()
    expect(box).to_be_focused()
    page.keyboard.press("Space")
    expect(part).to_contain_text("Peplum: not counted (as asked)")
    expect(look).to_have_text("nothing to mend")
    assert axe(page) == []


def test_a_notch_moves_by_sixteenths_of_an_inch_where_inches_are_shown(
    open_page: Open, copy_of: Copy
) -> None:
    page = open_page(f"/#/pieces/{copy_of('Bodice')}/Back")
    page.get_by_label("Units").select_option("imperial")
    expect(page.get_by_text("moved by the arrow keys: 1/16 in, with Shift 1/2 in")).to_be_visible()
    handle = page.locator(".piece-board .handle").first
    # 110 mm are 4 5/16 in and a bit.
    expect(handle).to_have_attribute("aria-valuetext", re.compile("^4 5/16 in from the start"))
    handle.focus()
    page.keyboard.press("ArrowRight")
    # To the next whole sixteenth, not a sixteenth on from 110 mm.
    expect(handle).to_have_attribute("aria-valuetext", re.compile("^4 3/8 in from the start"))
    page.keyboard.press("Shift+ArrowRight")
    expect(handle).to_have_attribute("aria-valuetext", re.compile("^4 7/8 in from the start"))
