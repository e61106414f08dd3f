"""The board laid down again: its outline lit and measured in a second photo, in position and in size.

Photos are simulated (optics that are not the solver's). Faults put in on purpose, each by name: half a
projector pixel, the lens left out, a print at 99 per cent, one wrong corner.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration import camera as fitting
from calibration import homography
from calibration.again import (
    GAP,
    Relaid,
    band_lines,
    lay_again,
    measure_again,
    outline_picture,
    read_outline,
)
from calibration.boards import Board, Image, board_corners, board_outline
from calibration.camera import fit_map
from calibration.corners import Seen, detect
from calibration.errors import CalibrationError, DetectionError, FitError, MapError
from calibration.photo import decode
from calibration.rigid import fit_rigid
from calibration.table_map import TableMap
from tests.calibration.simulator import (
    A3,
    A4,
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
THROWN, PICTURE = default_pattern()
EYE = camera(WEBCAM, 25, -30, roll_deg=30, optics=LENS)
FIRST = Scene(projector(15), EYE, (centred(A3, 4),))
AGAIN = Scene(FIRST.projector, camera(WEBCAM, 20, 35, optics=LENS), (centred(A3, -9, (20, -12)),))

LOOP_LIMIT_MM = 0.15
"""What a sound loop may tell of: map, place of the board and reading of the lines together."""


def corners(scene: Scene, *, seed: int) -> Seen:
    return observed(scene, THROWN, rng=np.random.default_rng(seed), noise_px=0.02)


def sound_map() -> TableMap:
    found = fit_map([corners(FIRST, seed=1)], A3, THROWN).table_map
    assert found is not None
    return found


@pytest.fixture(scope="module")
def table_map() -> TableMap:
    return sound_map()


def lit_photo(table_map: TableMap, relaid: Relaid, scene: Scene = AGAIN, seed: int = 3) -> Image:
    """The second photo: the outline lit by the map, as the page lights it."""
    picture = outline_picture(table_map, relaid.bands_mm)
    rng = np.random.default_rng(seed)
    return decode(photograph(scene, picture, rng=rng, samples=1))


def test_a_sound_loop_tells_less_than_its_limit_in_position_and_in_size(
    table_map: TableMap,
) -> None:
    relaid = lay_again(table_map, corners(AGAIN, seed=2), A3, THROWN)
    assert relaid.turn_deg == pytest.approx(-13, abs=0.05)  # -9 against 4: the map's frame
    assert relaid.misfit.state == "good"
    read = read_outline(lit_photo(table_map, relaid), A3, turn_deg=relaid.turn_deg)
    assert np.hypot(*read.shift_mm) < LOOP_LIMIT_MM
    assert abs(read.turn_deg) < 0.03
    assert np.abs(read.grown_mm).max() < LOOP_LIMIT_MM
    assert read.worst_mm < LOOP_LIMIT_MM
    assert read.samples > 290
    assert read.verdict.state == "good"


@pytest.mark.parametrize(("shift", "state"), [((1.5, 0.0), "warn"), ((-0.3, 0.5), "good")])
def test_a_known_shift_put_in_is_told_to_a_tenth_of_a_mm(
    table_map: TableMap, shift: tuple[float, float], state: str
) -> None:
    """The board is nudged between the photos: the light then lies the other way, on the table."""
    relaid = lay_again(table_map, corners(AGAIN, seed=2), A3, THROWN)
    nudged = replace(
        AGAIN.placements[0],
        at_mm=(AGAIN.placements[0].at_mm[0] + shift[0], AGAIN.placements[0].at_mm[1] + shift[1]),
    )
    photo = lit_photo(table_map, relaid, replace(AGAIN, placements=(nudged,)))
    # The words are by the table as the map's frame has it; here that is turned by 4 degrees.
    read = read_outline(photo, A3, turn_deg=-9)
    assert read.shift_mm == pytest.approx((-shift[0], -shift[1]), abs=0.1)
    assert read.worst_mm == pytest.approx(max(abs(np.array(shift))), abs=0.25)
    assert read.verdict.state == state


def test_light_that_is_too_large_is_told_in_mm_of_the_board(table_map: TableMap) -> None:
    """A map by which every length is 0.6 per cent too short: the light comes out as much too small."""
    wrong = table_map.scaled(1.006)
    relaid = lay_again(wrong, corners(AGAIN, seed=2), A3, THROWN)
    assert relaid.misfit.off_mm == pytest.approx(1.0, abs=0.15)
    assert "shape and size" in relaid.misfit.words
    read = read_outline(lit_photo(wrong, relaid), A3, turn_deg=relaid.turn_deg)
    length, width = np.ptp(board_outline(A3), axis=0)
    assert read.grown_mm == pytest.approx((-0.006 * length, -0.006 * width), abs=0.15)
    assert np.hypot(*read.shift_mm) < LOOP_LIMIT_MM
    assert read.verdict.state == "warn"
    assert read.worst_side in read.verdict.words


def test_on_dark_cloth_and_with_a_board_turned_about(table_map: TableMap) -> None:
    scene = replace(AGAIN, placements=(centred(A3, 171, (-10, 8)),), cloth="dark")
    relaid = lay_again(table_map, corners(scene, seed=4), A3, THROWN)
    read = read_outline(lit_photo(table_map, relaid, scene), A3, turn_deg=relaid.turn_deg)
    assert read.worst_mm < LOOP_LIMIT_MM


# -- faults put in on purpose ------------------------------------------------------------------------


def test_fault_half_a_projector_pixel_is_caught_by_position() -> None:
    """The same slip in both photos of the pattern agrees with itself; what is drawn does not."""
    slipped = replace(THROWN, corner_px=THROWN.corner_px + 0.5)
    found = fit_map([corners(FIRST, seed=1)], A3, slipped).table_map
    assert found is not None
    relaid = lay_again(found, corners(AGAIN, seed=2), A3, slipped)
    assert relaid.misfit.off_mm < LOOP_LIMIT_MM, "shape and size do not tell"
    read = read_outline(lit_photo(found, relaid), A3, turn_deg=relaid.turn_deg)
    assert np.hypot(*read.shift_mm) > 2 * LOOP_LIMIT_MM
    assert np.abs(read.grown_mm).max() < LOOP_LIMIT_MM
    assert read.worst_mm > 2 * LOOP_LIMIT_MM


def test_fault_distortion_left_out_is_caught_by_shape(monkeypatch: pytest.MonkeyPatch) -> None:
    """A map made as if the camera had no lens; the loop's own photos are read with one."""
    with monkeypatch.context() as without:
        without.setattr(fitting, "CAMERA_SIGMAS", (1e-9,) * 7)
        without.setattr(fitting, "PROJECTOR_SIGMAS", (1e-9,) * 4)
        without.setattr(fitting, "WORST_FIT_PX", 100.0)
        found = fit_map([corners(FIRST, seed=1)], A3, THROWN).table_map
    assert found is not None
    assert measure_again(found, corners(AGAIN, seed=2), A3, THROWN).off_mm > 3 * LOOP_LIMIT_MM
    relaid = lay_again(found, corners(AGAIN, seed=2), A3, THROWN)
    read = read_outline(lit_photo(found, relaid), A3, turn_deg=relaid.turn_deg)
    assert read.worst_mm > 2 * LOOP_LIMIT_MM


def test_fault_board_printed_at_99_per_cent_is_caught_by_another_board() -> None:
    """The board that made the map agrees with it; one whose own lengths were measured does not."""
    small = replace(A3, square_x_mm=0.99 * A3.square_x_mm, square_y_mm=0.99 * A3.square_y_mm)
    first = replace(FIRST, placements=(centred(small, 4),))
    found = fit_map([corners(first, seed=1)], A3, THROWN).table_map
    assert found is not None
    same = replace(AGAIN, placements=(centred(small, -9, (20, -12)),))
    assert measure_again(found, corners(same, seed=2), A3, THROWN).off_mm < LOOP_LIMIT_MM
    other = replace(AGAIN, placements=(centred(A4, -9, (20, -12)),))
    misfit = measure_again(found, corners(other, seed=2), A4, THROWN)
    assert misfit.off_mm == pytest.approx(0.01 * 0.5 * np.hypot(192, 120), abs=0.2)
    relaid = lay_again(found, corners(other, seed=2), A4, THROWN)
    read = read_outline(lit_photo(found, relaid, other), A4, turn_deg=relaid.turn_deg)
    assert abs(read.grown_mm[0]) == pytest.approx(2.4, abs=0.3)


def test_fault_one_wrong_corner_of_four_is_caught_by_shape() -> None:
    """A map drawn through four places of which one is 8 px off: no robust fit saves it."""
    found = sound_map()
    px = np.array([(200.0, 200.0), (1720, 200), (1720, 880), (200, 880)])
    table = found.to_table(px)
    px[2] += (6.0, -5.0)
    wrong = TableMap(homography.from_pairs(table, px), found.canvas_px)
    relaid = lay_again(wrong, corners(AGAIN, seed=2), A3, THROWN)
    assert relaid.misfit.off_mm > 2 * LOOP_LIMIT_MM
    read = read_outline(lit_photo(wrong, relaid), A3, turn_deg=relaid.turn_deg)
    assert read.worst_mm > 2 * LOOP_LIMIT_MM


# -- what cannot be used ------------------------------------------------------------------------------


def refusal(image: Image, board: Board = A3) -> DetectionError:
    with pytest.raises(DetectionError) as caught:
        read_outline(image, board, where="lit.jpg")
    assert caught.value.hint
    assert caught.value.where == "lit.jpg"
    return caught.value


def test_photos_that_are_no_use_are_refused_in_words(table_map: TableMap) -> None:
    relaid = lay_again(table_map, corners(AGAIN, seed=2), A3, THROWN)
    photo = lit_photo(table_map, relaid)
    # Left and right changed, as a mirrored view does: sides would be told wrongly.
    assert refusal(np.ascontiguousarray(photo[:, ::-1])).code == "again.mirrored"
    # No outline lit at all.
    white = np.full((1080, 1920), 255, np.uint8)
    bare = decode(photograph(AGAIN, white, rng=np.random.default_rng(5), samples=1))
    missing = refusal(bare)
    assert missing.code == "again.no-line"
    assert "side of the board is not seen" in missing.message
    # Another board than was said; half of it cut off.
    assert refusal(photo, Board(8, 5, 34.0, 34.0)).code.startswith("detection.")
    assert refusal(np.ascontiguousarray(photo[:, :900])).code.startswith(("detection.", "again."))


def test_a_line_far_off_is_not_called_good(table_map: TableMap) -> None:
    relaid = lay_again(table_map, corners(AGAIN, seed=2), A3, THROWN)
    x, y = AGAIN.placements[0].at_mm
    moved = replace(AGAIN, placements=(replace(AGAIN.placements[0], at_mm=(x + 8, y)),))
    far = refusal(lit_photo(table_map, relaid, moved))
    assert far.code == "again.no-line"
    assert "make it again" in far.hint


def test_a_board_half_out_of_the_light_is_refused(table_map: TableMap) -> None:
    scene = replace(AGAIN, placements=(centred(A3, 0, (470, 0)),))
    with pytest.raises(MapError, match="wholly in the light") as caught:
        lay_again(table_map, corners(scene, seed=2), A3, THROWN)
    assert caught.value.code == "again.outside"


def test_a_photo_without_the_pattern_or_of_another_picture_is_refused(table_map: TableMap) -> None:
    seen = corners(AGAIN, seed=2)
    with pytest.raises(FitError, match="does not show the thrown pattern"):
        lay_again(table_map, replace(seen, thrown=None), A3, THROWN)
    other = TableMap(table_map.projector_from_table, (1900, 1060))
    with pytest.raises(MapError) as caught:
        lay_again(other, seen, A3, THROWN)
    assert caught.value.code == "again.canvas"


def test_a_thrown_pattern_that_is_mirrored_is_refused() -> None:
    """A projector set to rear projection."""
    mirrored = np.ascontiguousarray(PICTURE[:, ::-1])
    photo = decode(photograph(AGAIN, mirrored, rng=np.random.default_rng(5), samples=1))
    with pytest.raises(CalibrationError) as caught:
        detect(photo, A3, THROWN)
    assert caught.value.hint


def test_bands_lie_in_the_white_margin_clear_of_the_print_and_its_rulers() -> None:
    outline = board_outline(A3)
    for (a, b), (low, high) in zip(
        band_lines(A3), zip(outline, np.roll(outline, -1, axis=0), strict=True), strict=True
    ):
        way = (high - low) / np.hypot(*(high - low))
        beyond = (a - low) @ np.array([way[1], -way[0]])
        assert beyond == pytest.approx(0.72 * 34)
        assert beyond + 1 < 0.8 * 34, "within the margin"
        assert beyond - 1 > 0.4 * 34 + 5, "the rulers and their words"
        assert np.hypot(*(b - a)) > 150
    lines = band_lines(A3)
    assert np.hypot(*(lines[0, 1] - lines[0, 0])) == pytest.approx(
        (1 - GAP) * np.hypot(*(lines[2, 1] - lines[2, 0]))
    )


def test_the_pose_is_that_of_the_simulator(table_map: TableMap) -> None:
    relaid = lay_again(table_map, corners(AGAIN, seed=2), A3, THROWN)
    true = FIRST.placements[0].from_table(AGAIN.placements[0].to_table(board_corners(A3)))
    best = fit_rigid(board_corners(A3), true)
    assert relaid.origin_mm == pytest.approx(best.shift_mm, abs=0.3)
    assert relaid.turn_deg == pytest.approx(best.turn_deg, abs=0.05)
