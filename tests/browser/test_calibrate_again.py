"""Checks before cutting on the calibration page: the board laid down again in two photographs, four marks.

closed_loop by a second photo: pattern lit -> photo -> board placed by the map -> its outline lit by the
page -> photo of that light -> error in mm, against what the simulator says is true.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from calibration.boards import Image, pattern
from calibration.camera import fit_map
from calibration.marks import mark_places
from calibration.table_map import TableMap
from service.store import maps as store
from tests.browser.table_rig import CANVAS, Running, lit, open_table
from tests.calibration.simulator import (
    A3,
    WEBCAM,
    Optics,
    Scene,
    camera,
    centred,
    default_pattern,
    observed,
    photograph,
    projector,
)

LENS = Optics(0.1, 0.03, 0.01, 8e-4, -6e-4)
FIRST = Scene(projector(15), camera(WEBCAM, 25, -30, roll_deg=30, optics=LENS), (centred(A3, 4),))
AGAIN = Scene(FIRST.projector, camera(WEBCAM, 20, 35, optics=LENS), (centred(A3, -9, (20, -12)),))


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    service = Running(tmp_path_factory.mktemp("data"))
    yield service
    service.stop()


@pytest.fixture
def page(browser: Browser, running: Running) -> Iterator[Page]:
    """The verdict of a sound map made for this picture, nothing checked yet."""
    opened = open_table(browser)
    opened.goto(f"{running.address}calibrate")
    expect(opened.locator("h2")).to_have_text("True size on the table")
    dpr, screen = opened.evaluate("[devicePixelRatio, `${screen.width} x ${screen.height}`]")
    keep_map(running, dpr=dpr, screen=screen)
    opened.reload()
    opened.get_by_role("button", name="How true the map in use is").click()
    expect(opened.locator("h2")).to_have_text("Not checked yet")
    yield opened
    opened.context.close()


def keep_map(running: Running, *, dpr: float, screen: str) -> TableMap:
    seen = observed(FIRST, pattern(CANVAS), rng=np.random.default_rng(1), noise_px=0.02)
    found = fit_map([seen], A3, pattern(CANVAS)).table_map
    assert found is not None
    with running.database.writing() as session:
        store.add_map(
            session, "table", "camera", {"map": found.to_dict(), "dpr": dpr, "screen": screen}
        )
    return found


def alone(page: Page, name: str) -> Image:
    """The light without the panel, as grey pixels; any key brings the panel back."""
    page.get_by_role("button", name=name).click()
    expect(page.locator("#panel")).to_be_hidden()
    light = lit(page)[..., 0].astype(np.uint8)
    page.keyboard.press("Escape")
    expect(page.locator("#panel")).to_be_visible()
    return light


def photo(light: Image, path: Path, seed: int) -> Path:
    rng = np.random.default_rng(seed)
    path.write_bytes(photograph(AGAIN, light, rng=rng, samples=1))
    return path


@pytest.mark.browser
def test_closed_loop_by_a_second_photo(page: Page, tmp_path: Path) -> None:
    """closed_loop: what the page lights is measured back, in position and in size."""
    page.get_by_role("button", name="Lay the board down again").click()
    expect(page.locator("h2")).to_have_text("Lay the board down again")
    expect(page.locator("#crosses")).to_have_attribute("data-shown", "pattern")
    page.get_by_label("Length measured along").fill("340")
    page.get_by_label("Length measured across").fill("238")
    first = photo(alone(page, "Show the pattern alone"), tmp_path / "again.jpg", 3)
    page.locator("#again-first").set_input_files(first)

    expect(page.locator("h2")).to_have_text("Photograph the lit outline")
    expect(page.locator("#panel")).to_contain_text("The sheet: 54 of 54 corners found.")
    expect(page.locator("#crosses")).to_have_attribute("data-shown", "outline")
    light = alone(page, "Show the outline alone")
    assert 0.9 < np.mean(light > 250) < 0.9999, "dark lines on white"
    page.locator("#again-second").set_input_files(photo(light, tmp_path / "lit.jpg", 4))

    expect(page.locator("h2")).to_have_text("The light falls where it should")
    worst = float((page.locator(".figure").text_content() or "").split()[0])
    assert worst <= 0.2  # mm: the map, the lines as the browser draws them, and the reading
    page.get_by_role("button", name="All that is known of the map").click()
    expect(page.locator("#panel")).to_contain_text("board laid down again:")
    expect(page.locator("#panel")).to_contain_text("last checked")


@pytest.mark.browser
def test_a_second_photo_of_no_use_is_refused_in_words_and_may_be_taken_again(
    page: Page, tmp_path: Path
) -> None:
    page.get_by_role("button", name="Lay the board down again").click()
    page.get_by_label("Length measured along").fill("340")
    page.get_by_label("Length measured across").fill("238")
    _, picture = default_pattern()
    pattern_photo = photo(picture, tmp_path / "again.jpg", 3)
    page.locator("#again-first").set_input_files(pattern_photo)
    expect(page.locator("h2")).to_have_text("Photograph the lit outline")
    # The wrong one of the two: no line is lit in it.
    page.locator("#again-second").set_input_files(pattern_photo)
    expect(page.get_by_role("alert")).to_contain_text("is not seen within")
    expect(page.locator("#again-second")).to_be_focused()
    expect(page.locator("h2")).to_have_text("Photograph the lit outline")


@pytest.mark.browser
def test_four_marks_are_made_and_looked_at(page: Page) -> None:
    page.get_by_role("button", name="Make four marks for a quick look").click()
    expect(page.locator("h2")).to_have_text("Four marks for a quick look")
    expect(page.locator("#crosses")).to_have_attribute("data-shown", "crosses")
    light = lit(page)[..., 0]
    for x, y in mark_places(CANVAS).values():
        assert light[int(y), int(x)] == 255, "the very pixel that the service tells of"
    page.get_by_role("button", name="They are marked").click()
    page.get_by_role("button", name="Look at the four marks").click()
    expect(page.locator("h2")).to_have_text("Are the four marks on?")
    page.get_by_role("button", name="All four are on").click()
    expect(page.locator("h2")).to_have_text("The marks are on")
    page.get_by_role("button", name="All that is known of the map").click()
    expect(page.locator("#panel")).to_contain_text("four marks: The four marks are on.")


@pytest.mark.browser
def test_a_bumped_projector_is_told_and_one_misread_mark_is_named(page: Page) -> None:
    page.get_by_role("button", name="Make four marks for a quick look").click()
    page.get_by_role("button", name="They are marked").click()
    page.get_by_role("button", name="Look at the four marks").click()
    page.get_by_role("button", name="Not on").click()
    page.locator("#marks-unit").select_option("mm")
    for name in "ABD":
        page.locator(f"#mark-{name}-right").fill("-3")
    page.locator("#mark-C-right").fill("3")
    page.get_by_role("button", name="Tell what it means").last.click()
    expect(page.get_by_role("alert")).to_contain_text("Mark C does not agree with the other three")
    expect(page.locator("#mark-C-right")).to_be_focused()
    page.locator("#mark-C-right").fill("-3")
    page.locator("#mark-C-right").press("Enter")
    expect(page.locator("h2")).to_have_text("Not for cutting")
    expect(page.locator("#panel")).to_contain_text("The light has moved 3.0 mm to the right")
    expect(page.locator("#panel")).to_contain_text("Nothing is corrected for it")
    page.get_by_role("button", name="Look again").click()
    expect(page.locator("h2")).to_have_text("Are the four marks on?")
