"""Calibration by photographs, end to end: the lit pattern, a simulated photo, the lines measured back.

The camera's lens is the simulator's own, not the solver's: three radial and two tangential terms, its
middle off the picture's. The map's frame is that of the board as it lies, so that position is compared
too: half a projector pixel slipped shows nowhere else.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from playwright.sync_api import Browser, FileChooser, Page, Request, expect

from calibration import camera as fitting
from calibration import homography
from calibration.boards import Board, Image, pattern, pattern_image
from calibration.camera import Fit, fit_map
from calibration.corners import Seen, detect
from calibration.errors import FitError
from calibration.photo import decode
from calibration.table_map import TableMap
from service.maps import CheckLineView, lines_of, stored_map
from service.projection import project
from service.store import maps
from tests.browser.conftest import CHROMIUM_NAMES, FLAGS
from tests.browser.table_rig import (
    CANVAS,
    Array,
    Light,
    Running,
    band_edges,
    edge_places,
    lit,
    open_table,
    placement,
    ready,
    samples,
)
from tests.browser.test_calibrate_tape import corners_of, square_cloth
from tests.calibration.simulator import (
    A3,
    PHONE,
    WEBCAM,
    Device,
    Optics,
    Placement,
    Scene,
    camera,
    centred,
    photograph,
    projector,
)

LENS = Optics(0.1, 0.03, 0.01, 8e-4, -6e-4)
SCENE = Scene(projector(15), camera(WEBCAM, 25, -30, roll_deg=30, optics=LENS), (centred(A3, 4),))
BENT = projector(15, optics=Optics(0.006, 0.002, 0, 4e-4, -5e-4), middle_off=(0.01, 0.05))
"""A projector's lens with radial and tangential terms, its middle off the picture's: 1.6 px at a corner."""
PHONE_LENS = Optics(0.06, 0.02, 0.005, 5e-4, -4e-4)
WALK = (
    Scene(BENT, camera(PHONE, 24, -30, optics=PHONE_LENS), (centred(A3, 4),)),
    Scene(BENT, camera(PHONE, 22, 35, optics=PHONE_LENS), (centred(A3, -5, (14, -6)),)),
)
"""Two photos by hand, from two sides, the board moved between."""
PATTERN = pattern(CANVAS)
PATTERN_PICTURE = pattern_image(PATTERN)

SIDE_LIMIT_MM = 0.2
"""A side of 300 mm, within the reach of the board."""
OUTLINE_LIMIT_MM = 0.15
"""Anywhere on the drawn outline, position included, the line's own width taken off."""
LINE_LIMIT_MM = 0.4
"""A line of 600 mm runs well past the board (340 x 238 mm): twice the length, twice the limit."""
RESIDUAL_LIMIT_PX = 0.1
"""Rms of a leg's corners in the photo; a sound run has 0.02."""


def true_map(scene: Scene = SCENE) -> TableMap:
    """The projector's true map in the frame of the board as it lies (its lens is ideal here)."""
    w, h = scene.projector.size_px
    px = np.array([(0, 0), (w, 0), (w, h), (0, h)], dtype=float)
    there = scene.placements[0].from_table(scene.projector.on_table(px))
    return TableMap(homography.from_pairs(there, px), (w, h))


@dataclass(frozen=True)
class TrueLight:
    """Where a projector's light truly falls, in the frame of a board as it lies; no solver's model."""

    light: Device
    board: Placement

    def to_projector(self, table_mm: Array, /) -> Array:
        """Canvas px (N, 2) of places (N, 2)."""
        places = self.board.to_table(np.asarray(table_mm, dtype=float))
        return self.light.project(np.column_stack([places, np.zeros(len(places))]))

    def to_table(self, canvas_px: Array, /) -> Array:
        """Places (N, 2) mm of canvas px (N, 2)."""
        return self.board.from_table(self.light.on_table(np.asarray(canvas_px, dtype=float)))


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


def begin(page: Page, board: Board = A3) -> None:
    """Go to the photographs and type the board's two measured lengths."""
    page.get_by_role("button", name="By photographs of a printed board").click()
    expect(page.locator("h2")).to_have_text("True size by photographs")
    page.get_by_label("Length measured along").fill(f"{10 * board.square_x_mm:.1f}")
    page.get_by_label("Length measured across").fill(f"{7 * board.square_y_mm:.1f}")


def frame_buffer(page: Page) -> Image:
    """The pattern as the projector throws it, the panel put away; it is the one that was meant."""
    expect(page.locator("#crosses")).to_have_attribute("data-shown", "pattern")
    page.get_by_role("button", name="Show the pattern alone").click()
    expect(page.locator("#panel")).to_be_hidden()
    thrown = lit(page)[..., 0].astype(np.uint8)
    assert thrown.shape == (CANVAS[1], CANVAS[0])
    assert (thrown == PATTERN_PICTURE).all(), "lit other pixels than were meant"
    page.keyboard.press("Escape")
    expect(page.locator("h2")).to_have_text("True size by photographs")
    return thrown


def solved_map(running: Running) -> TableMap:
    with running.database.reading() as session:
        return stored_map(maps.current_map(session))


def measured_line(image: Array, true: Light, line: CheckLineView) -> tuple[float, Array, Array]:
    """A lit check line, measured: length (mm) between the outer sides of its two ends, how far each
    end lies off its nominal place along the line (2,), and how far the line lies off sideways (N,)."""
    start, end = np.array(line.from_), np.array(line.to)
    way = (end - start) / np.hypot(*(end - start))
    side = np.array([-way[1], way[0]])
    steps = np.concatenate([np.arange(-16, -5.9, 1), np.arange(6, 16.1, 1)])
    off = []
    for at, inward in ((start, way), (end, -way)):
        places = at + steps[:, None] * side
        normals = np.tile(inward, (len(steps), 1))
        found = edge_places(image, true, places, normals)
        off.append(float(np.mean((found - places) @ way)))
    along = np.arange(25.0, line.nominal_mm - 25, 3)
    middle = np.abs(along - line.nominal_mm / 2) > 160  # its words stand over the rest
    places = start + along[middle][:, None] * way
    normals = np.tile(side, (len(places), 1))
    inner, width = band_edges(image, true, places, normals, reach_px=4)
    assert np.isfinite(inner).all(), "a line that is not drawn cannot be measured"
    px_mm = 1 / np.hypot(*(true.to_projector(places + side) - true.to_projector(places)).T)
    sideways = (inner + width / 2) * px_mm
    assert len(sideways) > 60
    length = line.nominal_mm + off[1] - off[0]
    return length, np.array(off), sideways


def read_check_lines(page: Page, running: Running, true: Light) -> None:
    """Measure each check line on the picture and type what it measures, until the verdict."""
    solved = solved_map(running)
    needed = [found for found in lines_of(solved) if found.needed]
    assert len(needed) >= 3
    for line in needed:
        expect(page.locator("h2")).to_have_text(f"Check line: {line.label}")
        length, ends, sideways = measured_line(lit(page), true, line)
        assert abs(length - line.nominal_mm) < LINE_LIMIT_MM
        assert np.abs(ends).max() < LINE_LIMIT_MM
        assert np.abs(sideways).max() < LINE_LIMIT_MM
        page.locator("#reading").fill(f"{length / 10:.2f} cm")
        page.locator("#reading").press("Enter")


def cloth_with(width: float, height: float) -> dict[str, object]:
    """Open cloth with one oblong on it, no larger than the board speaks for."""
    cloth = square_cloth(width)
    line = [[60.0, 20.0], [60 + width, 20], [60 + width, 20 + height], [60, 20 + height]]
    zone = {"id": "z", "x0": 0, "x1": 420, "y0": 0, "y1": 240, "plies": 1, "fold_edges": []}
    piece = placement("Oblong", line, zone="z", plies=1, hands=["drawn"])
    asked = [{"piece": "Oblong", "drawn": 1, "turned": 0}]
    return {
        **cloth, "usable_width_mm": 240.0, "length_mm": 420.0, "zones": [zone],
        "placements": [piece], "asked": asked,
    }  # fmt: skip


def upload(page: Page, *paths: Path) -> None:
    page.locator("#photo-files").set_input_files(paths)
    figures = page.locator("figure")
    expect(figures).to_contain_text(["The sheet: 54 of 54 corners found."] * len(paths))
    expect(figures).to_contain_text(["The light: 66 of 66 corners found."] * len(paths))


def draw_and_measure(page: Page, running: Running, true: Light) -> None:
    """The table view lights an oblong of 300 x 180 mm; every side, corner and place of it is true."""
    cloth = cloth_with(300, 180)
    lay = running.keep_lay(cloth, style="oblong")
    page.goto(f"{running.address}table?lay={lay}&cloth=shell")
    ready(page)
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    image = lit(page)
    nominal = homography.apply(
        np.array(project(cloth, solved_map(running)).windows[0].table_from_cloth),
        np.array(cloth["placements"][0]["cut_line"]),  # type: ignore[index]
    )
    places, normals = samples(nominal)
    assert len(places) > 280
    found = edge_places(image, true, places, normals)
    off = ((found - places) * normals).sum(axis=1)
    corners = corners_of(found, nominal)
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    assert np.abs(off).max() < OUTLINE_LIMIT_MM
    assert np.abs(sides - (300, 180, 300, 180)).max() < SIDE_LIMIT_MM
    assert np.hypot(*(corners - nominal).T).max() < OUTLINE_LIMIT_MM


@pytest.mark.browser
def test_closed_loop_by_photograph(running: Running, page: Page, tmp_path: Path) -> None:
    """closed_loop, camera route: lit pattern -> photo of it with an A3 board -> upload -> map ->
    check lines and a piece's outline measured back through the true map, in size and in position."""
    begin(page)
    path = tmp_path / "table.jpg"
    # Three samples a pixel each way: with two, the print's edges come out stepped and its corners miss
    # by half as much again, which no camera does.
    photo = photograph(SCENE, frame_buffer(page), rng=np.random.default_rng(11), samples=3)
    path.write_bytes(photo)
    upload(page, path)
    page.get_by_role("button", name="Make the map").click()
    expect(page.locator("h2")).to_contain_text("Check line")
    true = true_map()
    read_check_lines(page, running, true)
    expect(page.locator("h2")).to_have_text("Good to cut by")
    draw_and_measure(page, running, true)


@pytest.mark.slow
@pytest.mark.browser
def test_closed_loop_by_two_photos_at_12_megapixels(
    running: Running, page: Page, tmp_path: Path
) -> None:
    """The same by two hand-held photos of 4000 x 3000, under a projector whose lens bends: radially,
    tangentially, off its middle. Measured by the simulator's own optics, which no table map has."""
    begin(page)
    thrown = frame_buffer(page)
    paths = [tmp_path / "left.jpg", tmp_path / "right.jpg"]
    for path, scene, seed in zip(paths, WALK, (21, 22), strict=True):
        photo = photograph(scene, thrown, rng=np.random.default_rng(seed), samples=1)
        path.write_bytes(photo)
    upload(page, *paths)
    page.get_by_role("button", name="Make the map").click()
    expect(page.locator("h2")).to_contain_text("Check line")
    solved, true = solved_map(running), TrueLight(BENT, WALK[0].placements[0])
    assert solved.lens is not None
    assert min(abs(solved.lens.k1), *map(abs, (solved.lens.p1, solved.lens.p2))) > 0
    read_check_lines(page, running, true)
    expect(page.locator("h2")).to_have_text("Good to cut by")
    draw_and_measure(page, running, true)


@pytest.mark.browser
def test_same_photo_through_the_camera(browser: Browser, running: Running, tmp_path: Path) -> None:
    """The live camera: the same photo as a film of one picture (.y4m), and the same corners."""
    photo = photograph(SCENE, PATTERN_PICTURE, rng=np.random.default_rng(11))
    grey = cv2.imdecode(np.frombuffer(photo, np.uint8), cv2.IMREAD_COLOR)
    h, w = grey.shape[:2]
    film = tmp_path / "table.y4m"
    film.write_bytes(
        f"YUV4MPEG2 W{w} H{h} F10:1 Ip A1:1 C420jpeg\nFRAME\n".encode()
        + cv2.cvtColor(grey, cv2.COLOR_BGR2YUV_I420).tobytes()
    )
    path = next(p for n in CHROMIUM_NAMES if (p := shutil.which(n)))
    fake = ["use-fake-device-for-media-stream", "use-fake-ui-for-media-stream"]
    flags = [*FLAGS, *(f"--{f}" for f in fake), f"--use-file-for-fake-video-capture={film}"]
    asked: list[Any] = []

    def keep(request: Request) -> None:
        if "by-photos" in request.url:
            asked.append(request.post_data_json)

    # A browser of its own: the film is chosen when it is started.
    filmed = browser.browser_type.launch(executable_path=path, args=flags)
    page = open_table(filmed)
    page.context.grant_permissions(["camera"])
    page.on("request", keep)
    page.goto(f"{running.address}calibrate")
    begin(page)
    page.get_by_role("button", name="Use this computer's camera").click()
    expect(page.locator("figure")).to_contain_text("The sheet: 54 of 54 corners found.")
    page.get_by_role("button", name="Make the map").click()
    expect(page.locator("h2")).to_contain_text("Check line")
    filmed.close()
    seen = asked[0]["photos"][0]
    assert seen["size_px"] == [w, h]
    by_file = detect(decode(photo), A3, PATTERN)
    assert by_file.printed is not None
    away = np.array(seen["printed"]["camera_px"]) - by_file.printed.camera_px
    assert len(away) == 54
    assert np.abs(away).max() < 0.1  # px
    assert np.abs(slipped_mm(solved_map(running), true_map())).max() < OUTLINE_LIMIT_MM


# -- faults put in on purpose: each must be caught --------------------------------------------------


def slipped_mm(found: TableMap, true: TableMap) -> Array:
    """How far (N, 2) from its place the light falls, on and round the board, in the board's frame."""
    x, y = np.meshgrid(np.linspace(-60, 330, 7), np.linspace(-230, 60, 6))
    there = np.stack([x.ravel(), y.ravel()], axis=1)
    return true.to_table(found.to_projector(there)) - there


def sides_mm(found: TableMap, true: TableMap) -> Array:
    """What sides of 300 mm across and 180 mm down really measure, drawn through the found map."""
    box = np.array([(-14.0, -175.0), (286, -175), (286, 5), (-14, 5)])
    drawn = true.to_table(found.to_projector(box))
    return np.hypot(*(np.roll(drawn, -1, axis=0) - drawn).T) - (300, 180, 300, 180)


def residual_px(fit: Fit) -> float:
    """The larger of the two legs' rms residuals in the photo."""
    one = fit.photos[0]
    assert one.printed_rms_px is not None
    assert one.thrown_rms_px is not None
    return max(one.printed_rms_px, one.thrown_rms_px)


def map_of(fit: Fit) -> TableMap:
    assert fit.table_map is not None
    return fit.table_map


@pytest.fixture(scope="module")
def seen() -> Seen:
    """The photo of the closed loop, made without a browser, as the detector sees it."""
    photo = photograph(SCENE, PATTERN_PICTURE, rng=np.random.default_rng(11))
    return detect(decode(photo), A3, PATTERN)


def test_sound_run_passes_every_check(seen: Seen) -> None:
    fit = fit_map([seen], A3, PATTERN)
    assert np.abs(slipped_mm(map_of(fit), true_map())).max() < OUTLINE_LIMIT_MM
    assert np.abs(sides_mm(map_of(fit), true_map())).max() < SIDE_LIMIT_MM
    assert residual_px(fit) < RESIDUAL_LIMIT_PX
    assert fit.photos[0].left_out == 0


def test_fault_half_a_projector_pixel_is_caught_by_position(seen: Seen) -> None:
    """Sizes and residual stay as they were: only position tells."""
    fit = fit_map([seen], A3, replace(PATTERN, corner_px=PATTERN.corner_px + 0.5))
    assert np.abs(slipped_mm(map_of(fit), true_map()).mean(axis=0)).min() > 1.5 * OUTLINE_LIMIT_MM
    assert np.abs(sides_mm(map_of(fit), true_map())).max() < SIDE_LIMIT_MM
    assert residual_px(fit) < RESIDUAL_LIMIT_PX


def test_fault_distortion_left_out_is_caught_by_the_residual(
    seen: Seen, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fitting, "CAMERA_SIGMAS", (1e-9,) * 7)
    monkeypatch.setattr(fitting, "PROJECTOR_SIGMAS", (1e-9,) * 4)
    with pytest.raises(FitError, match="do not lie as on a flat board") as caught:
        fit_map([seen], A3, PATTERN)
    off = re.search(r"they are ([\d.]+) px off", caught.value.message)
    assert off is not None
    assert float(off[1]) > 5 * RESIDUAL_LIMIT_PX


def test_fault_board_printed_at_99_per_cent_is_caught_by_size_and_position() -> None:
    """The lengths that were meant were typed, not those of the print; the residual cannot tell."""
    small = replace(A3, square_x_mm=0.99 * A3.square_x_mm, square_y_mm=0.99 * A3.square_y_mm)
    scene = replace(SCENE, placements=(centred(small, 4),))
    photo = photograph(scene, PATTERN_PICTURE, rng=np.random.default_rng(12))
    found = detect(decode(photo), A3, PATTERN)
    true = true_map(scene)
    believed, measured = (fit_map([found], board, PATTERN) for board in (A3, small))
    assert sides_mm(map_of(believed), true)[[0, 2]] == pytest.approx([-3.0, -3.0], abs=0.3)
    assert np.abs(slipped_mm(map_of(believed), true)).max() > 10 * OUTLINE_LIMIT_MM
    assert residual_px(believed) < RESIDUAL_LIMIT_PX
    assert np.abs(sides_mm(map_of(measured), true)).max() < SIDE_LIMIT_MM


def test_fault_one_wrong_corner_is_caught_by_the_residual_and_left_out(seen: Seen) -> None:
    assert seen.printed is not None
    at = seen.printed.camera_px.copy()
    at[20] += (2.0, -1.5)
    fit = fit_map([replace(seen, printed=replace(seen.printed, camera_px=at))], A3, PATTERN)
    assert residual_px(fit) > 2 * RESIDUAL_LIMIT_PX
    assert fit.photos[0].left_out == 1
    assert np.abs(slipped_mm(map_of(fit), true_map())).max() < OUTLINE_LIMIT_MM


def test_fault_line_not_drawn_is_caught_by_the_sample_count() -> None:
    """A black picture must not pass as a measured one."""
    true = true_map()
    line = next(found for found in lines_of(true) if found.needed)
    with pytest.raises(AssertionError, match="not drawn"):
        measured_line(np.zeros((CANVAS[1], CANVAS[0], 3)), true, line)


# -- the panel --------------------------------------------------------------------------------------


@pytest.mark.browser
def test_photo_without_a_board_says_why(page: Page, tmp_path: Path) -> None:
    bare = photograph(
        replace(SCENE, placements=()), PATTERN_PICTURE, rng=np.random.default_rng(2), samples=1
    )
    path = tmp_path / "bare.jpg"
    path.write_bytes(bare)
    begin(page)
    page.locator("#photo-files").set_input_files(path)
    alert = page.get_by_role("alert")
    expect(alert).to_contain_text("board")
    assert len((alert.text_content() or "").split()) > 8, "a reason and a way out"
    expect(page.get_by_role("button", name="Make the map")).to_be_disabled()
    expect(page.locator("#photo-files")).to_be_focused()
    page.get_by_role("button", name="Leave bare.jpg out").click()
    expect(page.locator("figure")).to_have_count(0)


@pytest.mark.browser
def test_lengths_not_typed_are_asked_for(page: Page, tmp_path: Path, photo_file: Path) -> None:
    begin(page)
    page.get_by_label("Length measured along").fill("")
    page.locator("#photo-files").set_input_files(photo_file)
    expect(page.get_by_role("alert")).to_contain_text("along")
    page.get_by_label("Length measured along").fill("340")
    page.keyboard.press("Tab")
    expect(page.locator("figure")).to_contain_text("The sheet: 54 of 54 corners found.")


@pytest.fixture(scope="module")
def photo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("photos") / "table.jpg"
    path.write_bytes(photograph(SCENE, PATTERN_PICTURE, rng=np.random.default_rng(11)))
    return path


@pytest.mark.browser
def test_by_keys_alone(page: Page, photo_file: Path) -> None:
    """Every control is reached by Tab, and after a photo the keys stand on what comes next."""
    # Listened for from the start: Chromium hands choosers over only some time after it was asked to.
    choosers: list[FileChooser] = []
    page.on("filechooser", lambda chooser: choosers.append(chooser))
    page.get_by_role("button", name="By photographs").focus()
    page.keyboard.press("Enter")
    expect(page.locator("h2")).to_have_text("True size by photographs")
    reached = []
    for _ in range(20):
        page.keyboard.press("Tab")
        at = page.evaluate("document.activeElement.id || document.activeElement.textContent")
        reached.append(at)
        if at == "board-along":
            page.keyboard.type("34 cm")
        if at == "board-across":
            page.keyboard.type("238")
        if at == "photo-files":
            page.keyboard.press("Enter")
            for _ in range(750):
                if choosers:
                    break
                page.wait_for_timeout(20)
            choosers[0].set_files(photo_file)
            break
    assert reached[-1] == "photo-files", reached
    expect(page.locator("#make-map")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("h2")).to_contain_text("Check line")
    expect(page.locator("#reading")).to_be_focused()


@pytest.mark.browser
def test_picture_that_changes_and_comes_back(page: Page) -> None:
    begin(page)
    page.set_viewport_size({"width": 1600, "height": 900})
    expect(page.locator("h2")).to_have_text("The picture has changed")
    page.set_viewport_size({"width": CANVAS[0], "height": CANVAS[1]})
    expect(page.locator("h2")).to_have_text("True size by photographs")
    expect(page.locator("#crosses")).to_have_attribute("data-shown", "pattern")


@pytest.mark.browser
@pytest.mark.parametrize("size", [(1280, 800), (390, 844)])
def test_nothing_serious_for_axe(
    browser: Browser,
    running: Running,
    axe: Callable[[Page], list[str]],
    size: tuple[int, int],
    photo_file: Path,
) -> None:
    """Empty, and with a photo that does not fit the picture's size: its reason in words."""
    page = open_table(browser, size=size)
    page.goto(f"{running.address}calibrate")
    begin(page)
    assert axe(page) == []
    page.locator("#photo-files").set_input_files(photo_file)
    expect(page.locator("figcaption").get_by_role("alert")).to_be_visible()
    assert axe(page) == []
    panel = "document.getElementById('panel')"
    wide = page.evaluate(f"{panel}.scrollWidth - {panel}.clientWidth")
    assert wide == 0, "nothing runs out of the panel sideways"
    page.context.close()


@pytest.mark.browser
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("NotAllowedError", "The camera may not be used."),
        ("NotReadableError", "The camera is in use elsewhere."),
        ("NotFoundError", "No camera was found."),
    ],
)
def test_a_camera_that_gives_no_picture_is_said(
    browser: Browser, running: Running, name: str, said: str
) -> None:
    page = open_table(browser)
    page.add_init_script(
        "navigator.mediaDevices.getUserMedia = "
        f"() => Promise.reject(new DOMException('no', '{name}'));"
    )
    page.goto(f"{running.address}calibrate")
    begin(page)
    page.get_by_role("button", name="Use this computer's camera").click()
    expect(page.get_by_role("alert")).to_contain_text(said)
    expect(page.get_by_role("alert")).to_contain_text("photograph")
    expect(page.locator("#photo-files")).to_be_attached()
    page.context.close()


@pytest.mark.browser
def test_without_a_live_camera_the_page_says_why(browser: Browser, running: Running) -> None:
    page = open_table(browser)
    page.add_init_script(
        "Object.defineProperty(navigator, 'mediaDevices', {value: undefined});"
        "Object.defineProperty(window, 'isSecureContext', {value: false});"
    )
    page.goto(f"{running.address}calibrate")
    begin(page)
    expect(page.locator("#no-camera")).to_contain_text("Over plain http")
    expect(page.get_by_role("button", name="Use this computer's camera")).to_have_count(0)
    page.context.close()
