"""The calibration page under slow answers, and what it tells of a map made from nine photographs."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, Route, expect

from calibration.boards import pattern_image
from service.maps import detail, stored_map
from service.store import maps
from tests.browser.table_rig import CANVAS, KEYSTONES, Running, open_table
from tests.browser.test_calibrate_camera import LENS, PATTERN, begin, read_check_lines, true_map
from tests.calibration.simulator import (
    A3,
    Scene,
    camera,
    centred,
    photograph,
    projector,
    truth_errors,
)

pytestmark = pytest.mark.browser

SMALL = (1280, 960, 0.8)
"""Enough for the board: more than 15 px a square, and small photos are seen quickly."""
STATIONS = (
    (25, -30),
    (22, 40),
    (28, 170),
    (20, 120),
    (26, -100),
    (24, 80),
    (21, -150),
    (27, 10),
    (23, -60),
)
"""Tilt and azimuth, degrees, of the camera over the table."""
PLACES = (
    (4, 0, 0),
    (-3, 12, 5),
    (176, -10, 6),
    (2, 8, -8),
    (-5, -12, -4),
    (182, 0, 9),
    (6, 10, 0),
    (-2, -6, 8),
    (178, 5, -7),
)
"""Turn, degrees, and shift, mm, of the board in the white place."""
HOLD_LOOKS = """
  const send = window.fetch;
  const gone = new Promise(done => { window.letGo = done; });
  window.fetch = async (path, how) => {
    if (path === "/api/photos/look") await gone;
    return send(path, how);
  };
"""
"""Photographs are sent to be looked at only when the test lets them go."""
SENSOR_TURNED = bytes.fromhex(
    "ffe10022457869660000"  # APP1, 34 bytes, "Exif"
    "4d4d002a00000008"  # big-endian TIFF, its directory at 8
    "0001011200030000000100060000"  # one entry: orientation = 6, turned a quarter
    "00000000"
)
"""Exif (JEITA CP-3451): held upright by hand; the rows and columns are the sensor's all the same."""


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    service = Running(tmp_path_factory.mktemp("data"))
    yield service
    service.stop()


def held(page: Page, path: str) -> list[Route]:
    """Requests to ``path``, kept back until they are let go."""
    routes: list[Route] = []
    page.route(path, lambda route: routes.append(route))
    return routes


def let_go(page: Page, routes: list[Route]) -> None:
    """Answer what is held, and wait until the page has heard it and drawn twice since."""
    page.wait_for_function("1")
    assert routes
    for route in routes:
        route.continue_()
        answer = route.request.response()
        assert answer is not None
        answer.finished()
    page.evaluate(
        "fetch('/api/maps').then(() => new Promise(done => "
        "requestAnimationFrame(() => requestAnimationFrame(done))))"
    )


def scene_of(i: int) -> Scene:
    (tilt, azimuth), (turn, x, y) = STATIONS[i], PLACES[i]
    device = camera(SMALL, tilt, azimuth, optics=LENS)
    return Scene(projector(15), device, (centred(A3, turn, (x, y)),))


def small_photo(i: int) -> bytes:
    return photograph(scene_of(i), pattern_image(PATTERN), rng=np.random.default_rng(i))


def test_late_answers_draw_over_nothing(browser: Browser, running: Running) -> None:
    running.keep_map(KEYSTONES["from the left"])
    page = open_table(browser)
    tried, lines = held(page, "**/api/maps/try"), held(page, "**/check-lines")
    page.goto(f"{running.address}calibrate")
    title = page.locator("h2")
    page.get_by_role("button", name="Four crosses").click()
    with page.expect_request("**/api/maps/try"):
        page.locator("#reading").fill("120")
        page.locator("#reading").press("Enter")
    page.get_by_role("button", name="Back").click()
    expect(title).to_have_text("True size on the table")
    let_go(page, tried)
    expect(title).to_have_text("True size on the table")
    with page.expect_request("**/check-lines"):
        page.get_by_role("button", name="Only check the map in use").click()
    page.get_by_role("button", name="Nine crosses").click()
    expect(title).to_have_text("Measure A to C")
    page.locator("#reading").fill("half ty")
    let_go(page, lines)
    expect(title).to_have_text("Measure A to C")
    expect(page.locator("#reading")).to_have_value("half ty")
    expect(page.locator("#crosses")).to_have_attribute("data-shown", "crosses")
    page.context.close()


def test_board_half_typed_stays_while_a_photo_is_looked_at(
    browser: Browser, running: Running, tmp_path: Path
) -> None:
    page = open_table(browser)
    page.add_init_script(HOLD_LOOKS)
    page.goto(f"{running.address}calibrate")
    begin(page)
    path = tmp_path / "table.jpg"
    path.write_bytes(small_photo(0))
    page.locator("#photo-files").set_input_files(path)
    expect(page.locator("#panel")).to_contain_text("Looking at table.jpg")
    across = page.get_by_label("Length measured across")
    across.press("Control+a")  # not filled: that would also leave the field
    across.press_sequentially("23")
    page.evaluate("letGo()")
    expect(page.locator("figure")).to_contain_text("The sheet: 54 of 54 corners found.")
    expect(across).to_have_value("23")
    expect(across).to_be_focused()
    # What was found with another board does not hold: it is looked at again when the field is left.
    with page.expect_request("**/api/photos/look") as again:
        across.press_sequentially("8")
        across.press("Tab")
    assert '"length":"238"' in (again.value.post_data or "")
    expect(page.locator("figure")).to_contain_text("The sheet: 54 of 54 corners found.")
    expect(page.locator("figure")).to_have_count(1)
    page.context.close()


def test_nine_photographs_and_what_is_told_of_the_map(
    browser: Browser, running: Running, tmp_path: Path, axe: Callable[[Page], list[str]]
) -> None:
    paths = []
    for i in range(9):
        data = small_photo(i)
        path = tmp_path / f"photo {i + 1}.jpg"
        path.write_bytes(data[:2] + SENSOR_TURNED + data[2:] if i == 4 else data)
        paths.append(path)
    page = open_table(browser)
    page.goto(f"{running.address}calibrate")
    begin(page)
    page.locator("#photo-files").set_input_files(paths)
    for count in range(1, 10):
        expect(page.locator("figure")).to_have_count(count)
        expect(page.locator("figure").nth(count - 1)).to_contain_text("The sheet: 54 of 54")
    # What was found is drawn over each, the one held upright as the sensor saw it.
    expect(page.locator("figure canvas[data-drawn]")).to_have_count(9)
    shapes = page.eval_on_selector_all("figure canvas", "all => all.map(c => [c.width, c.height])")
    assert shapes == [[800, 600]] * 9
    assert axe(page) == []
    page.get_by_role("button", name="Make the map").click()
    # Hundreds of corners in one fit: a while on a busy machine.
    expect(page.locator("h2")).to_contain_text("Check line", timeout=120_000)
    read_check_lines(page, running, true_map(scene_of(0)))
    expect(page.locator("h2")).to_have_text("Good to cut by")

    told = dict(
        zip(page.locator("dt").all_inner_texts(), page.locator("dd").all_inner_texts(), strict=True)
    )
    with running.database.reading() as session:
        row = maps.current_map(session)
        known = detail(row, maps.checks_of(session, row.id))
        solved = stored_map(row)
    assert known.accuracy is not None
    figures = [float(f) for f in re.findall(r"([\d.]+) mm", told["Lines are off by"])]
    stated = (known.accuracy.rms_mm, known.accuracy.p95_mm, known.accuracy.max_mm)
    assert figures == pytest.approx(stated, abs=0.05)
    really = truth_errors(scene_of(0), solved)
    assert np.percentile(really, 95) <= known.accuracy.p95_mm
    # 1.2 m over 1920 px, thrown at a tilt: about 0.6 mm a pixel near by, more far away.
    sizes = [float(f) for f in re.findall(r"([\d.]+) mm", told["One point of light"])]
    assert 0.55 < min(sizes) <= max(sizes) < 0.85
    assert "agree as well as they can be read" in told["Read against each other"]
    assert told["Verified by tape"].startswith("yes, 3 lines: off by")
    assert "last checked" in told["Made"]
    assert told["Made for"].startswith(f"a picture of {CANVAS[0]} x {CANVAS[1]} px")
    page.get_by_role("button", name="Where it is good to cut by").click()
    expect(page.locator("h2")).to_have_text("Where it is good to cut by")
    assert axe(page) == []
    page.locator("#light-coverage").click()
    expect(page.locator("#crosses")).to_have_attribute("data-shown", "coverage")
    page.context.close()
