"""The table view in a real browser: keys, what is drawn again, refusals, loss of the service."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from calibration import homography
from service.projection import project
from tests.browser.table_rig import (
    GOOD_CHECKS,
    KEYSTONES,
    Running,
    drawn,
    lit,
    open_table,
    ready,
    said,
    waistcoat_cloth,
)

pytestmark = pytest.mark.browser

CLOTH = waistcoat_cloth()
MAP = KEYSTONES["from the far side"]


@pytest.fixture
def lay(running: Running) -> str:
    return running.keep_lay(CLOTH)


@pytest.fixture
def table(device: Callable[..., Page], running: Running, lay: str) -> Callable[..., Page]:
    """Opens the table view in a context of its own, with a fresh map."""

    def make(*, cautions: bool = True, **options: object) -> Page:
        running.keep_map(MAP, **{"checks": GOOD_CHECKS, **options})  # type: ignore[arg-type]
        page = device(f"{running.address}table?lay={lay}&cloth=shell", cautions=cautions)
        if cautions:
            ready(page)
        return page

    return make


def approve(page: Page) -> None:
    """Through guides and layout to the lines to cut by."""
    page.keyboard.press("Enter")
    for _ in project(CLOTH, MAP).windows[1:]:
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    assert said(page).startswith("Everything in this window")


def test_cautions_come_first_and_once_a_day(table: Callable[..., Page]) -> None:
    page = table(cautions=False)
    panel = page.locator("#panel")
    expect(panel).to_contain_text("Do not look into the projector's lens")
    expect(panel).to_contain_text("second tether")
    expect(panel).to_contain_text("Blades")
    expect(panel).to_contain_text("local rules come first")
    assert lit(page)[:40].max() == 0
    page.get_by_role("button", name="Read and understood").click()
    ready(page)
    expect(panel).to_be_hidden()
    page.reload()
    ready(page)
    expect(panel).to_be_hidden()
    # The next day they come again, also where the light was left on over night.
    page.evaluate("localStorage.setItem('grainfold.cautions', '2020-1-1')")
    before = drawn(page)
    page.keyboard.press("Enter")
    expect(panel).to_contain_text("Before the light goes on")
    assert drawn(page) == before
    page.reload()
    expect(panel).to_contain_text("Before the light goes on")


def test_guides_then_layout_then_cutting(table: Callable[..., Page]) -> None:
    page = table()
    assert "Nothing to cut yet" in said(page)
    page.keyboard.press("p")
    assert "Nothing to cut yet" in said(page)
    page.keyboard.press("Enter")
    assert "Dashed: not to cut yet" in said(page)
    page.keyboard.press("Enter")
    assert "Dashed: not to cut yet" in said(page)
    count = len(project(CLOTH, MAP).windows)
    for _ in range(count - 1):
        page.keyboard.press("PageDown")
    assert f"Window {count} of {count}" in said(page)
    page.keyboard.press("Enter")
    assert f"Window 1 of {count}" in said(page)


def test_pedal_keys_step_the_pieces(table: Callable[..., Page]) -> None:
    page = table()
    approve(page)
    page.keyboard.press("Enter")
    order = project(CLOTH, MAP).order
    assert said(page).startswith("Back: on the fold, 2 plies. 1 of 7.")
    page.keyboard.press("PageDown")
    assert f"{order[1].split('#')[0]}: pair, 2 plies. 2 of 7." in said(page)
    page.keyboard.press("PageUp")
    page.keyboard.press("Space")
    page.keyboard.press("ArrowDown")
    assert "3 of 7" in said(page)
    page.keyboard.press("ArrowLeft")
    assert "2 of 7" in said(page)
    page.keyboard.press("End")
    assert "Every piece has been lit" in said(page)
    page.keyboard.press("Home")
    assert "1 of 7" in said(page)
    page.keyboard.press("ArrowLeft")
    assert "1 of 7" in said(page)


def test_between_windows_crosses_are_chalked_and_found_again(table: Callable[..., Page]) -> None:
    page = table()
    approve(page)
    page.keyboard.press("Enter")
    while "Chalk the crosses" not in said(page):
        page.keyboard.press("PageDown")
    shown = project(CLOTH, MAP)
    first, second = shown.windows[:2]
    before = lit(page)
    page.keyboard.press("PageDown")
    assert "Draw the cloth along" in said(page)
    after = lit(page)
    for image, window in ((before, first), (after, second)):
        for cross in first.crosses:
            at = homography.apply(np.array(window.table_from_cloth), [cross])
            for step in ((12, 0), (-12, 0), (0, 12), (0, -12)):
                x, y = MAP.to_projector(at + step)[0]
                assert image[int(y) - 1 : int(y) + 2, int(x) - 1 : int(x) + 2].max() > 200


def test_only_what_changed_is_drawn_again(table: Callable[..., Page]) -> None:
    page = table()
    approve(page)
    page.keyboard.press("Enter")
    base, front, words = drawn(page)
    page.keyboard.press("PageDown")
    assert drawn(page) == [base, front + 1, words + 1]
    page.keyboard.press("q")
    page.mouse.move(300, 300)
    page.keyboard.press("?")
    page.keyboard.press("Escape")
    assert drawn(page) == [base, front + 1, words + 1]
    page.keyboard.press("End")
    page.keyboard.press("End")
    assert drawn(page)[1:] == [front + 2, words + 2]


def test_current_piece_is_bright_and_the_rest_dim(table: Callable[..., Page]) -> None:
    page = table()
    approve(page)
    whole = lit(page)
    page.keyboard.press("Enter")
    alone = lit(page)
    window = project(CLOTH, MAP).windows[0]
    lay_on = np.array(window.table_from_cloth)
    # The middle of the facing's lower edge, and of the back's hem, half a line width outside.
    (fx, fy), (bx, by) = MAP.to_projector(homography.apply(lay_on, [(300.0, 319.0), (19.0, 150.0)]))
    assert whole[int(fy) - 2 : int(fy) + 3, int(fx)].max() > 240
    assert 60 < alone[int(fy) - 2 : int(fy) + 3, int(fx)].max() < 140
    assert alone[int(by), int(bx) - 2 : int(bx) + 3].max() > 240


def test_changed_canvas_is_refused_and_comes_back(table: Callable[..., Page]) -> None:
    page = table()
    approve(page)
    page.set_viewport_size({"width": 1600, "height": 900})
    expect(page.locator("#said")).to_contain_text("Not for cutting")
    window = project(CLOTH, MAP).windows[0]
    image = lit(page)
    assert image.shape[:2] == (900, 1600)
    (bx, by) = MAP.to_projector(
        homography.apply(np.array(window.table_from_cloth), [(19.0, 150.0)])
    )[0]
    assert image[int(by), int(bx) - 4 : int(bx) + 5].max() < 30, "no line to cut by is lit"
    page.keyboard.press("PageDown")
    assert "Not for cutting" in said(page)
    page.set_viewport_size({"width": 1920, "height": 1080})
    expect(page.locator("#said")).to_contain_text("Everything in this window")


@pytest.mark.parametrize(
    ("checks", "words"),
    [
        ((), "Unchecked"),
        ((("along-600", 600.0, 602.0),), "Warning"),
        ((("along-600", 600.0, 604.0),), "Not for cutting"),
    ],
)
def test_what_is_not_checked_or_off_is_said(
    table: Callable[..., Page], checks: tuple[tuple[str, float, float], ...], words: str
) -> None:
    page = table(checks=checks)
    assert words in said(page)
    page.keyboard.press("Enter")
    assert words in said(page)
    if words == "Not for cutting":
        assert "Dashed" not in said(page)


def test_another_screen_is_refused(table: Callable[..., Page]) -> None:
    page = table(screen="3840 x 2160")
    assert "Not for cutting" in said(page)


def test_check_lines_are_lit_at_their_length(table: Callable[..., Page]) -> None:
    page = table()
    page.keyboard.press("c")
    expect(page.locator("#said")).to_contain_text("600 mm along")
    lines = page.request.get(
        f"{page.url.split('table')[0]}api/maps/"
        + page.request.get(page.url.split("table")[0] + "api/maps/current").json()["id"]
        + "/check-lines"
    ).json()["lines"]
    line = next(found for found in lines if found["id"] == "along-600")
    grey = lit(page).mean(axis=2)
    # Along the line's own row the light starts and ends at the outer sides of its ticks.
    t = np.linspace(-0.02, 1.02, 8001)[:, None]
    ends = np.array([line["from"], line["to"]])
    for off in (-12.0, 12.0):
        row = ends[0] + t * (ends[1] - ends[0]) + (0, off)
        px = MAP.to_projector(row)
        light = grey[px[:, 1].astype(int), px[:, 0].astype(int)] > 127
        on = row[light][:, 0]
        # Whole pixels: 0.7 mm at each end.
        assert on.max() - on.min() == pytest.approx(600, abs=1.5)
    page.keyboard.press("Escape")
    assert "600 mm" not in said(page)


def test_words_turn_to_the_other_side_and_lines_stay(table: Callable[..., Page]) -> None:
    page = table()
    approve(page)
    before = lit(page)
    page.keyboard.press("t")
    after = lit(page)
    window = project(CLOTH, MAP).windows[0]
    lay_on = np.array(window.table_from_cloth)
    back = next(p for p in CLOTH["placements"] if p["piece"] == "Back")
    rim = MAP.to_projector(homography.apply(lay_on, np.array(back["cut_line"])))
    x0, y0 = rim.min(axis=0).astype(int) - 3
    x1, y1 = rim.max(axis=0).astype(int) + 3
    changed = np.argwhere(np.abs(before - after)[y0:y1, x0:x1].max(axis=2) > 40)
    assert len(changed) > 200, "the label turned"
    strip = np.abs(before - after)[y1 + 5 :].max(axis=2) > 40
    assert strip.sum() > 500, "and so did the strip"
    for x, y in rim[::6]:
        box = np.s_[int(y) - 2 : int(y) + 3, int(x) - 2 : int(x) + 3]
        assert np.abs(before[box] - after[box]).max() < 1


def test_label_capitals_are_fifteen_mm_on_the_cloth(table: Callable[..., Page]) -> None:
    page = table()
    approve(page)
    grey = lit(page).mean(axis=2)
    strip = project(CLOTH, MAP).strip
    # The strip's first line starts with a capital E: lit from its foot to its top at its left stem.
    t = np.linspace(0, 54, 2000)
    heights = []
    for x in np.linspace(strip[0] + 9, strip[0] + 16, 40):
        px = MAP.to_projector(np.stack([np.full_like(t, x), strip[1] + t], axis=1))
        light = grey[px[:, 1].astype(int), px[:, 0].astype(int)] > 127
        upper = t[light & (t > 30)]
        heights.append(upper.max() - upper.min() if len(upper) else 0)
    assert max(heights) == pytest.approx(15, abs=1.5)


def test_loss_of_the_service_is_said_and_the_light_stays(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    service = Running(tmp_path_factory.mktemp("lost"))
    service.keep_map(MAP, checks=GOOD_CHECKS)
    own_lay = service.keep_lay(CLOTH)
    page = open_table(browser)
    page.goto(f"{service.address}table?lay={own_lay}&cloth=shell")
    ready(page)
    approve(page)
    before = lit(page)
    base = drawn(page)[0]
    service.stop()
    expect(page.locator("#said")).to_contain_text("Service lost", timeout=20_000)
    after = lit(page)
    assert drawn(page)[0] == base
    y = int(MAP.to_projector([(300.0, 60.0)])[0][1])
    assert np.array_equal(before[: y - 60], after[: y - 60])
    page.keyboard.press("Enter")
    assert "1 of 7" in said(page)
    service.start()
    expect(page.locator("#said")).not_to_contain_text("Service lost", timeout=20_000)
    page.context.close()
    service.stop()


def test_reload_opens_where_it_stopped(table: Callable[..., Page]) -> None:
    page = table()
    approve(page)
    for key in ("Enter", "PageDown", "PageDown"):
        page.keyboard.press(key)
    here = said(page)
    assert "3 of 7" in here
    lay = page.url.split("lay=")[1].split("&")[0]
    for _ in range(100):
        kept = page.request.get(f"{page.url.split('table')[0]}api/lays/{lay}/cutting").json()
        if kept["walk"]["view"] == "piece" and kept["walk"]["stop"] == 2:
            break
        page.wait_for_timeout(50)
    page.reload()
    ready(page)
    assert said(page) == here


def test_settings_change_the_light_and_are_kept(table: Callable[..., Page]) -> None:
    page = table()
    page.keyboard.press("m")
    panel = page.locator("#panel")
    expect(panel).to_contain_text("11 : 1, easy to follow")
    page.get_by_label("The room is").select_option("bright")
    expect(panel).to_contain_text("too little: take light out of the room")
    page.get_by_label("The cloth's colour in figures").fill("#f4f0e6")
    page.get_by_label("The cloth's colour in figures").press("Enter")
    page.get_by_role("button", name="Best for this cloth").click()
    assert page.get_by_label("Shown as").input_value() == "unlit lines"
    page.keyboard.press("Escape")
    expect(panel).to_be_hidden()
    image = lit(page)
    assert np.median(image) > 240, "the field is lit"
    page.reload()
    ready(page)
    assert np.median(lit(page)) > 240


def test_cloth_too_small_is_found_before_the_first_cut(table: Callable[..., Page]) -> None:
    """Pieces reach to x = 1620 and, folded, to y = 400: 1660 by 824 mm with ends and selvedges."""
    page = table()
    page.keyboard.press("w")
    panel = page.locator("#panel")
    for name, value in zip(
        ("along one selvedge", "along the other", "squared end", "middle", "far end"),
        ("166.5", "167", "82.6", "81", "82.6"),
        strict=True,
    ):
        page.get_by_label(name).fill(value)
    page.get_by_role("button", name="Does it fit?").click()
    expect(panel).to_contain_text("14 mm too narrow at place 2. Do not cut")
    page.keyboard.press("Escape")
    expect(page.locator("#said")).to_contain_text("14 mm too narrow")
    page.keyboard.press("Enter")
    for _ in project(CLOTH, MAP).windows[1:]:
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    expect(panel).to_contain_text("Do not cut: give the desk the measured width")
    page.get_by_role("button", name="Close").click()
    assert "Is everything there" in said(page)
    page.keyboard.press("w")
    for name, value in zip(
        ("along one selvedge", "along the other", "squared end", "middle", "far end"),
        ("65 1/2 in", "1664 mm", "82.6", "82.5", "82.6"),
        strict=True,
    ):
        page.get_by_label(name).fill(value)
    page.get_by_role("button", name="Does it fit?").click()
    expect(panel).to_contain_text("The cloth holds the layout: 4 mm to spare along, 1 mm across.")
    page.keyboard.press("Escape")
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("Everything in this window")


def test_a_flaw_is_lit_as_it_is_typed(table: Callable[..., Page]) -> None:
    """Dashed and crossed out where it was typed, also with the panel closed; gone when cleared."""
    page = table()
    approve(page)
    before = lit(page)
    window = project(CLOTH, MAP).windows[0]
    spot = homography.apply(np.array(window.table_from_cloth), [(300.0, 90.0)])

    def light() -> float:
        (x, y) = MAP.to_projector(spot)[0]
        box = np.s_[int(y) - 20 : int(y) + 21, int(x) - 20 : int(x) + 21]
        return float(np.abs(lit(page)[box] - before[box]).sum())

    page.keyboard.press("z")
    page.locator("#again-along").fill("30 cm")
    page.locator("#again-across").fill("90")
    base = drawn(page)[0]
    page.locator("#again-size").fill("4 cm")
    expect(page.locator("#base")).not_to_have_attribute("data-drawn", str(base))
    page.keyboard.press("Escape")
    expect(page.locator("#panel")).to_be_hidden()
    assert light() > 10_000
    # What was typed is there again; a second one joins it, and each says where it is lit.
    page.keyboard.press("z")
    expect(page.locator("#again-along")).to_have_value("30 cm")
    page.locator("#again-another").press("Enter")
    expect(page.locator("#panel")).to_contain_text("4 cm wide, lit in windows 1, 2")
    page.locator("#again-more-0").uncheck()
    page.keyboard.press("Escape")
    expect(page.locator("#panel")).to_be_hidden()
    assert light() == 0


def test_escape_leaves_to_the_desk(table: Callable[..., Page]) -> None:
    page = table()
    page.keyboard.press("?")
    expect(page.locator("#panel")).to_contain_text("Page Down")
    page.keyboard.press("Escape")
    assert "/table" in page.url
    lay = page.url.split("lay=")[1].split("&")[0]
    page.keyboard.press("Escape")
    page.wait_for_url(f"**/#/table/{lay}")


def test_the_desk_is_never_a_blank_page(browser: Browser, running: Running) -> None:
    """Left from a phone-sized table page, while the desk's own modules are slow to come."""
    page = open_table(browser, size=(390, 844))
    page.route("**/web/app/desk.js", lambda route: None)
    page.goto(f"{running.address}table")
    expect(page.get_by_role("heading")).to_have_count(2)
    page.keyboard.press("Escape")
    expect(page.get_by_text("The desk is being opened")).to_be_visible()
    page.unroute_all(behavior="ignoreErrors")
    page.reload()
    expect(page.get_by_role("link", name="grainfold")).to_be_visible()
    expect(page.get_by_text("The desk is being opened")).to_be_hidden()
    page.context.close()


def test_full_screen_by_key(table: Callable[..., Page]) -> None:
    page = table()
    page.keyboard.press("f")
    page.wait_for_timeout(300)
    assert page.evaluate("document.fullscreenElement !== null")


def test_no_map_leads_to_calibration(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    service = Running(tmp_path_factory.mktemp("bare"))
    own_lay = service.keep_lay(CLOTH)
    page = open_table(browser)
    page.goto(f"{service.address}table?lay={own_lay}&cloth=shell")
    expect(page.locator("#panel")).to_contain_text("has not been calibrated yet")
    expect(page.get_by_role("link", name="Calibrate")).to_have_attribute("href", "/calibrate")
    page.goto(f"{service.address}table")
    expect(page.get_by_role("link", name="Coachman's waistcoat, shell")).to_be_visible()
    page.context.close()
    service.stop()


@pytest.mark.parametrize("key", ["", "m", "?", "w", "k", "z"])
def test_nothing_for_axe_to_find(
    table: Callable[..., Page], axe: Callable[[Page], list[str]], key: str
) -> None:
    page = table()
    if key:
        page.keyboard.press(key)
    assert axe(page) == []


def test_cautions_pass_axe(table: Callable[..., Page], axe: Callable[[Page], list[str]]) -> None:
    assert axe(table(cautions=False)) == []
