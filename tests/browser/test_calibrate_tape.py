"""Calibration by tape, end to end: crosses lit, the true distances typed, the lines measured back."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from calibration import homography
from calibration.table_map import TableMap
from service.maps import lines_of, stored_map
from service.projection import project
from service.store import maps
from tests.browser.table_rig import (
    CANVAS,
    KEYSTONES,
    Array,
    Running,
    edge_places,
    lit,
    open_table,
    placement,
    ready,
    samples,
    true_map,
)

pytestmark = pytest.mark.browser

CORNERS = [(-60.0, -30.0), (1330.0, 10.0), (1500.0, 860.0), (-180.0, 800.0)]


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    service = Running(tmp_path_factory.mktemp("data"))
    yield service
    service.stop()


@pytest.fixture
def page(browser: Browser, running: Running) -> Iterator[Page]:
    opened = open_table(browser)
    opened.goto(f"{running.address}calibrate")
    yield opened
    opened.context.close()


def lit_crosses(page: Page) -> dict[str, Array]:
    """Where crosses are on the canvas, found in its pixels: their middle is the one lit pixel that
    has lit rows and columns through it and nothing beside it."""
    grey = lit(page).mean(axis=2)
    box = page.locator("#panel").bounding_box()
    if box is not None:
        x, y = int(box["x"]), int(box["y"])
        grey[y : y + int(box["height"]) + 1, x : x + int(box["width"]) + 1] = 0
    h, w = grey.shape
    on = grey[2 : h - 2, 2 : w - 2] > 60
    # A pixel whose row and column are lit for 8 px both ways, and whose diagonals are dark.
    middle = on.copy()
    for step in range(1, 9):
        for dy, dx in ((0, step), (0, -step), (step, 0), (-step, 0)):
            middle &= np.roll(on, (-dy, -dx), axis=(0, 1))
    for step in (2, 5, 8):
        for dy, dx in ((step, step), (step, -step), (-step, step), (-step, -step)):
            middle &= ~np.roll(on, (-dy, -dx), axis=(0, 1))
    found = np.argwhere(middle)[:, ::-1] + 2 + 0.5
    rows = sorted({round(float(y)) for y in found[:, 1]}, reverse=True)
    names = iter("ABCDEFGHI" if len(found) == 9 else "ABDC")
    named = {}
    for row in rows:
        for place in sorted(p.tolist() for p in found if round(float(p[1])) == row):
            named[next(names)] = np.array(place)
    return named


def type_distances(
    page: Page, places: dict[str, Array], *, write: Callable[[float], str], slip: str = ""
) -> list[str]:
    """Answer each distance asked for, until none is; the pair ``slip`` is read 12 mm long at first.
    Returns the headings seen."""
    seen: list[str] = []
    while asked := re.match(r"Measure (\w) to (\w)( again)?", page.text_content("h2") or ""):
        seen.append(asked[0])
        a, b = places[asked[1]], places[asked[2]]
        mm = float(np.hypot(*(a - b)))
        if slip == asked[1] + asked[2] and not asked[3]:
            mm += 12
        count = page.locator("tbody tr").count()
        page.locator("#reading").fill(write(mm))
        page.locator("#reading").press("Enter")
        if asked[3]:
            # The field comes back empty, or all distances agree and there is none.
            expect(page.locator("#reading:enabled, h2:has-text('All dist')")).to_have_count(1)
        else:
            expect(page.locator("tbody tr")).to_have_count(count + 1)
        assert len(seen) < 60
    return seen


def in_cross_frame(true: TableMap, crosses: dict[str, Array], along: str) -> TableMap:
    """The true map in the frame that the crosses give: origin at A, x towards ``along``."""
    a, b = true.to_table([crosses["A"], crosses[along]])
    turn = -float(np.degrees(np.arctan2(*(b - a)[::-1])))
    turned = true.moved(turn_deg=turn)
    x, y = turned.to_table([crosses["A"]])[0]
    return turned.moved(shift_mm=(-float(x), -float(y)))


def square_cloth(side: float) -> dict[str, object]:
    """Open cloth with one square on it."""
    line = [[60.0, 40.0], [60 + side, 40], [60 + side, 40 + side], [60, 40 + side]]
    zone = {"id": "z", "x0": 0, "x1": 500, "y0": 0, "y1": 400, "plies": 1, "fold_edges": []}
    return {
        "cloth": "shell", "fold": "open", "nap": False, "usable_width_mm": 400.0, "selvedge_mm": 10.0,
        "end_allowance_mm": 20.0, "length_mm": 500.0, "buy_text": "50 cm", "zones": [zone],
        "placements": [placement("Square", line, zone="z", plies=1, hands=["drawn"])],
        "steps_text": [], "asked": [{"piece": "Square", "drawn": 1, "turned": 0}],
    }  # fmt: skip


def corners_of(places: Array, nominal: Array) -> Array:
    """Corners (4, 2) of the measured square: a total least squares line per side, intersected."""
    lines = []
    for i in range(4):
        a, b = nominal[i], nominal[(i + 1) % 4]
        way = (b - a) / np.hypot(*(b - a))
        off = (places - a) @ np.array([-way[1], way[0]])
        mine = places[np.abs(off) < 3]
        middle = mine.mean(axis=0)
        _, _, vt = np.linalg.svd(mine - middle)
        lines.append((middle, vt[0]))
    out = []
    for i in range(4):
        (p, u), (q, v) = lines[i - 1], lines[i]
        s = np.linalg.solve(np.stack([u, -v], axis=1), q - p)
        out.append(p + s[0] * u)
    return np.array(out)


@pytest.mark.parametrize(
    ("kind", "k1", "limit_mm"),
    [("Four crosses", 0.0, 0.2), ("Nine crosses", 0.0, 0.2), ("Nine crosses", -0.004, 0.35)],
)
def test_closed_loop_by_tape(
    browser: Browser, running: Running, page: Page, kind: str, k1: float, limit_mm: float
) -> None:
    """closed_loop, tape route: crosses -> true map -> typed distances -> a square of 300 mm, drawn
    by the table view, measured back in size and in position."""
    true = true_map(CORNERS, k1=k1)
    page.get_by_role("button", name=kind).click()
    expect(page.locator("h2")).to_contain_text("Measure A to")
    crosses = lit_crosses(page)
    assert len(crosses) == (4 if kind.startswith("Four") else 9)
    on_table = {name: true.to_table([px])[0] for name, px in crosses.items()}
    type_distances(page, on_table, write=lambda mm: f"{mm:.1f} mm")
    page.get_by_role("button", name="Keep, and check").click()
    expect(page.locator("h2")).to_have_text("Check line: 600 mm along")
    measure_check_lines(page, running, true)
    expect(page.locator("h2")).to_have_text("Good to cut by")

    cloth = square_cloth(300)
    lay = running.keep_lay(cloth, style="square")
    with running.database.reading() as session:
        solved = stored_map(maps.current_map(session))
    page.get_by_role("link", name="To the table").click()
    page.goto(f"{running.address}table?lay={lay}&cloth=shell")
    ready(page)
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    image = lit(page)
    window = project(cloth, solved).windows[0]
    nominal = homography.apply(
        np.array(window.table_from_cloth),
        np.array(cloth["placements"][0]["cut_line"]),  # type: ignore[index]
    )
    framed = in_cross_frame(true, crosses, "B" if kind.startswith("Four") else "C")
    places, normals = samples(nominal)
    assert len(places) > 350
    found = edge_places(image, framed, places, normals)
    off = ((found - places) * normals).sum(axis=1)
    assert np.abs(off).max() < limit_mm + 0.1
    corners = corners_of(found, nominal)
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    assert np.abs(sides - 300).max() < limit_mm
    assert np.hypot(*(corners - nominal).T).max() < limit_mm + 0.1


def measure_check_lines(page: Page, running: Running, true: TableMap) -> None:
    """Read each lit check line off the picture, through the true map, and type what it measures."""
    with running.database.reading() as session:
        solved = stored_map(maps.current_map(session))
    for line in [found for found in lines_of(solved) if found.needed]:
        expect(page.locator("h2")).to_have_text(f"Check line: {line.label}")
        ends = np.array([line.from_, line.to])
        really = true.to_table(solved.to_projector(ends))
        mm = float(np.hypot(*(really[1] - really[0])))
        page.locator("#reading").fill(f"{mm / 10:.2f} cm")
        page.locator("#reading").press("Enter")


def test_panel_never_covers_what_is_lit(page: Page) -> None:
    for kind in ("Four crosses", "Nine crosses"):
        page.get_by_role("button", name=kind).click()
        expect(page.locator("h2")).to_contain_text("Measure A to")
        assert len(lit_crosses(page)) == (4 if kind.startswith("Four") else 9)
        page.get_by_role("button", name="Back").click()
        expect(page.locator("h2")).to_have_text("True size on the table")


def test_slipped_reading_is_asked_for_again_until_the_rest_agrees(page: Page) -> None:
    true = true_map(CORNERS)
    page.get_by_role("button", name="Four crosses").click()
    expect(page.locator("h2")).to_contain_text("Measure A to")
    places = {n: true.to_table([px])[0] for n, px in lit_crosses(page).items()}
    seen = type_distances(page, places, write=lambda mm: f"{mm / 10:.2f}", slip="AC")
    assert "Measure A to C" in seen
    assert "Measure A to C again" in seen
    assert len([s for s in seen if s.endswith("again")]) <= 6
    expect(page.get_by_role("button", name="Keep, and check")).to_be_enabled()
    expect(page.locator("tbody")).not_to_contain_text("measure again")


def test_keeping_waits_for_a_check_and_for_agreement(page: Page) -> None:
    true = true_map(CORNERS)
    page.get_by_role("button", name="Four crosses").click()
    expect(page.locator("h2")).to_contain_text("Measure A to")
    places = {n: true.to_table([px])[0] for n, px in lit_crosses(page).items()}
    keep = page.get_by_role("button", name="Keep, and check")
    for count, pair in enumerate(("AB", "BC", "CD", "AD", "AC"), start=1):
        expect(keep).to_be_disabled()
        mm = float(np.hypot(*(places[pair[0]] - places[pair[1]])))
        page.locator("#reading").fill(f"{mm / 10:.2f}")
        page.locator("#reading").press("Enter")
        expect(page.locator("tbody tr")).to_have_count(count)
    expect(page.locator("#panel")).to_contain_text("Nothing checks these five distances")
    expect(keep).to_be_disabled()


def test_inch_fractions_and_nonsense(page: Page) -> None:
    page.get_by_role("button", name="Four crosses").click()
    page.get_by_label("Unit of bare numbers").select_option("in")
    page.locator("#reading").fill("47 3/8")
    page.locator("#reading").press("Enter")
    expect(page.get_by_label("A to B", exact=True)).to_have_value("47 3/8 in")
    page.locator("#reading").fill("about a yard")
    page.locator("#reading").press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("B-C")
    expect(page.locator("h2")).to_have_text("Measure B to C")
    expect(page.locator("tbody tr")).to_have_count(1)


def test_changed_picture_is_refused(page: Page) -> None:
    page.get_by_role("button", name="Four crosses").click()
    page.locator("#reading").fill("120")
    page.locator("#reading").press("Enter")
    expect(page.locator("tbody tr")).to_have_count(1)
    page.set_viewport_size({"width": 1600, "height": 900})
    expect(page.locator("h2")).to_have_text("The picture has changed")
    expect(page.get_by_role("alert")).to_contain_text("was 1920 x 1080 px and is 1600 x 900 px")
    page.set_viewport_size({"width": CANVAS[0], "height": CANVAS[1]})
    expect(page.locator("h2")).to_have_text("Measure B to C")


def test_reading_survives_a_reload(page: Page) -> None:
    page.get_by_role("button", name="Four crosses").click()
    page.locator("#reading").fill("120")
    page.locator("#reading").press("Enter")
    expect(page.locator("tbody tr")).to_have_count(1)
    page.reload()
    page.get_by_role("button", name="Four crosses").click()
    expect(page.locator("h2")).to_have_text("Measure B to C")
    expect(page.get_by_label("A to B", exact=True)).to_have_value("120 cm")


def test_typing_at_the_desk_while_another_window_lights(browser: Browser, running: Running) -> None:
    desk = open_table(browser, size=(1280, 800))
    desk.goto(f"{running.address}calibrate?window=desk")
    expect(desk.locator("#panel")).to_contain_text("No light is there yet")
    expect(desk.get_by_role("button", name="Four crosses")).to_be_disabled()
    light = desk.context.new_page()
    light.set_viewport_size({"width": 1920, "height": 1080})
    light.goto(f"{running.address}calibrate?window=light")
    light.get_by_role("button", name="Fill the screen").click()
    expect(desk.locator("#panel")).to_contain_text("1920 x 1080 px")
    desk.get_by_role("button", name="Four crosses").click()
    expect(desk.locator("h2")).to_have_text("Measure A to B")
    expect(light.locator("#crosses")).to_have_attribute("data-shown", "crosses")
    assert len(lit_crosses(light)) == 4
    light.close()
    expect(desk.locator("#panel")).to_contain_text("No light is there yet")
    desk.context.close()


def test_cautions_first(browser: Browser, running: Running) -> None:
    page = open_table(browser, cautions=False)
    page.goto(f"{running.address}calibrate")
    expect(page.locator("#panel")).to_contain_text("Do not look into the projector's lens")
    assert lit(page)[0].max() == 0, "nothing is lit before they are read"
    page.get_by_role("button", name="Read and understood").click()
    expect(page.locator("h2")).to_have_text("True size on the table")
    page.context.close()


def test_picture_has_a_thin_line_on_all_four_sides(page: Page) -> None:
    expect(page.locator("#crosses")).to_have_attribute("data-shown", "crosses")
    image = lit(page).min(axis=2)
    for side in (image[0], image[-1], image[:, 0], image[:, -1]):
        assert (side == 255).all()
    for side in (image[1, 1:-1], image[-2, 1:-1], image[1:-1, 1], image[1:-1, -2]):
        assert (side == 0).all()


def test_nothing_for_axe_to_find(page: Page, axe: Callable[[Page], list[str]]) -> None:
    assert axe(page) == []
    page.get_by_role("button", name="Four crosses").click()
    page.locator("#reading").fill("120")
    page.locator("#reading").press("Enter")
    expect(page.locator("tbody tr")).to_have_count(1)
    assert axe(page) == []


def test_scale_from_a_line_and_a_map_for_thick_cloth(
    browser: Browser, tmp_path: Path, axe: Callable[[Page], list[str]]
) -> None:
    service = Running(tmp_path)
    service.keep_map(KEYSTONES["from the left"])
    page = open_table(browser)
    page.goto(f"{service.address}calibrate")

    def measure(readings: list[str]) -> None:
        for reading in readings:
            expect(page.locator("h2")).to_contain_text("Check line")
            label = page.locator("h2").inner_text()
            page.get_by_label("Unit of bare numbers").select_option("mm")
            page.locator("#reading").fill(reading)
            page.get_by_role("button", name="Next").click()
            expect(page.locator("h2")).not_to_have_text(label)

    page.get_by_role("button", name="Only check the map in use").click()
    measure(["600.6", "600.5", "600.6"])
    expect(page.locator("h2")).to_have_text("Good to cut by")
    page.locator("#tie-scale").click()
    measure(["600", "600", "600"])
    expect(page.locator("#panel")).to_contain_text("% larger than was thought")
    page.get_by_text("The cloth lies higher than what was measured on").click()
    for name, text in (("thickness", "3"), ("plies", "2"), ("along", "700"), ("across", "400")):
        page.locator(f"#cloth-{name}").fill(text)
    page.get_by_label("Unit of bare numbers").select_option("mm")
    page.locator("#cloth-tell").click()
    expect(page.get_by_role("alert")).to_contain_text("Height of the lens")
    expect(page.locator("#cloth-along")).to_have_value("700")
    page.locator("#cloth-height").fill("1.9 m")
    page.locator("#cloth-tell").click()
    expect(page.locator("#panel")).to_contain_text(
        "On cloth 6.0 mm high the light would fall up to"
    )
    assert axe(page) == []
    page.locator("#cloth-raise").click()
    measure(["600", "600", "600"])
    expect(page.locator("#panel")).to_contain_text("For cloth 6.0 mm high")
    page.context.close()
    service.stop()
