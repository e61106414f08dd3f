"""``grainfold map``: from photo files to a table map and its error."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from calibration.camera import fit_map
from calibration.errors import BoardError, CalibrationError, PhotoError
from calibration.table_map import from_dict
from service.errors import RefusedError
from service.map_command import read_board, read_pattern, run
from service.map_follow_up import FollowUp, follow_up
from service.photo_file import write_picture
from tests.calibration.simulator import (
    A3,
    WEBCAM,
    Scene,
    camera,
    centred,
    default_pattern,
    observed,
    photograph,
    projector,
    truth_errors,
)


def test_a_photo_of_both_boards_gives_a_map_whose_error_is_true(tmp_path: Path) -> None:
    _, picture = default_pattern()
    scene = Scene(projector(15), camera(WEBCAM, 28, -30), (centred(A3, 4),))
    photo = tmp_path / "table.jpg"
    photo.write_bytes(photograph(scene, picture, rng=np.random.default_rng(1)))
    told = run([photo], board="9x6", measured_x="10:340", measured_y="7:238")
    assert json.loads(json.dumps(told)) == told
    table_map = from_dict(told["table_map"])
    errors = truth_errors(scene, table_map)
    assert np.quantile(errors, 0.95) < 0.4
    assert np.quantile(errors, 0.95) < told["error"]["p95_mm"]
    assert told["error"]["verdict"] in ("good", "warn")
    assert told["photos"][0]["photo"] == "table.jpg"
    assert len(told["error"]["mm_per_px_at_corners"]) == 4


def test_a_photo_of_the_board_alone_says_that_no_map_can_be_made(tmp_path: Path) -> None:
    scene = Scene(projector(15), camera(WEBCAM, 28, -30), (centred(A3, 4),))
    photo = tmp_path / "board.jpg"
    white = np.full((1080, 1920), 255, np.uint8)
    photo.write_bytes(photograph(scene, white, rng=np.random.default_rng(1), samples=1))
    told = run([photo], board="9x6", measured_x="10:340", measured_y="7:238")
    assert told["table_map"] is None
    assert told["printed_rms_mm"] < 0.2
    assert "no map to the projector" in told["words"][0]


@pytest.mark.parametrize(
    ("board", "x", "y", "where"),
    [
        ("9by6", "8:200", "5:125", "--board"),
        ("9x6", "200", "5:125", "--measured-x"),
        ("9x6", "8:200", "5:-3", "--measured-y"),
        ("9x7", "8:200", "5:125", "board"),
    ],
)
def test_a_wrong_option_is_named(board: str, x: str, y: str, where: str) -> None:
    with pytest.raises(BoardError) as caught:
        read_board(board, x, y)
    assert caught.value.where == where


def test_options_read_as_written(tmp_path: Path) -> None:
    assert read_board("9x6", "8:200.3", " 5 : 125.1 mm").square_x_mm == pytest.approx(25.0375)
    assert read_pattern("1280x720", "none").hole_px is None
    with pytest.raises(PhotoError, match="cannot be read"):
        run([tmp_path / "no.jpg"], board="9x6", measured_x="8:200", measured_y="5:125")
    with pytest.raises(CalibrationError, match="No photo"):
        run([], board="9x6", measured_x="8:200", measured_y="5:125")


# -- what follows the map ---------------------------------------------------------------------------

FIRST = Scene(projector(15), camera(WEBCAM, 28, -30), (centred(A3, 4),))
AGAIN = Scene(FIRST.projector, camera(WEBCAM, 20, 35), (centred(A3, -9, (20, -12)),))
SHEET = {"board": "9x6", "measured_x": "10:340", "measured_y": "7:238"}


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The board as it lay for the map, and laid down again."""
    _, picture = default_pattern()
    folder = tmp_path_factory.mktemp("photos")
    paths = folder / "table.jpg", folder / "moved.jpg"
    for n, (path, scene) in enumerate(zip(paths, (FIRST, AGAIN), strict=True)):
        rng = np.random.default_rng(n)
        path.write_bytes(photograph(scene, picture, rng=rng, samples=1))
    return paths


def test_the_board_laid_down_again_from_files(photos: tuple[Path, Path], tmp_path: Path) -> None:
    """The picture that is written is lit, photographed, and read in a second run of the same words."""
    table, moved = photos
    outline, lit = tmp_path / "outline.png", tmp_path / "lit.jpg"
    told = run([table], **SHEET, then=FollowUp(again=moved, outline=outline))["board_again"]
    assert told["verdict"] == "good"
    assert "lit" not in told
    picture = cv2.imread(str(outline), cv2.IMREAD_GRAYSCALE)
    assert picture is not None
    assert picture.shape == (1080, 1920)
    rng = np.random.default_rng(7)
    lit.write_bytes(photograph(AGAIN, np.asarray(picture, dtype=np.uint8), rng=rng, samples=1))
    read = run([table], **SHEET, then=FollowUp(again=moved, lit=lit))["board_again"]["lit"]
    assert read["worst_mm"] < 0.2
    assert np.hypot(read["right_mm"], read["away_mm"]) < 0.15
    assert read["verdict"] == "good"
    assert "Good to cut by." in read["words"]


def test_fault_print_at_99_per_cent_is_caught_by_a_line_and_cured_by_a_tie(
    photos: tuple[Path, Path],
) -> None:
    """Lengths typed one per cent too long: the tape finds it, and a long line takes it out again."""
    wrong = {"board": "9x6", "measured_x": "10:343.4", "measured_y": "7:240.4"}
    table, _ = photos
    believed = run([table], **wrong)
    long = next(line for line in believed["check_lines"] if line["id"] == "along-1000")
    ends = from_dict(believed["table_map"]).to_projector([long["from"], long["to"]])
    on_table = FIRST.projector.on_table(ends)
    reading = float(np.hypot(*(on_table[1] - on_table[0])))
    assert reading == pytest.approx(990, abs=1)
    checked = run([table], **wrong, then=FollowUp(lines=(f"along-1000:{reading:.1f}",)))
    assert checked["checks"][0]["verdict"] == "not for cutting"
    assert checked["error"]["verified_by_tape_mm"] == pytest.approx(10, abs=1)
    assert checked["error"]["verdict"] == "not for cutting"
    tied = run([table], **wrong, then=FollowUp(tie=f"along-1000:{reading:.1f}"))
    assert tied["tied"]["larger_by"] == pytest.approx(-0.01, abs=0.001)
    before, after = (
        np.quantile(truth_errors(FIRST, from_dict(m["table_map"])), 0.95) for m in (believed, tied)
    )
    assert after < 0.3 * before


def test_a_map_raised_to_the_cloth_tells_the_shift_before_and_after(
    photos: tuple[Path, Path],
) -> None:
    table, _ = photos
    wish = FollowUp(ply="2.5", plies=2, lens_height="145 cm", lens_at="600:-30")
    told = run([table], **SHEET, then=wish)
    assert told["cloth"]["thickness_mm"] == 5
    assert told["cloth"]["shift_before_mm"] > 1
    assert told["cloth"]["left_if_0_3_mm_wrong_mm"] < 0.3
    flat = run([table], **SHEET)
    assert told["table_map"] != flat["table_map"]


@pytest.mark.parametrize(
    ("wish", "where"),
    [
        (FollowUp(tie="along-1000"), "--tie"),
        (FollowUp(lines=("slanting-600:600",)), "--line"),
        (FollowUp(lines=("along-600:wide",)), "--line along-600"),
        (FollowUp(ply="2"), "--lens-height"),
        (FollowUp(ply="2", lens_height="1850", lens_at="600"), "--lens-at"),
        (FollowUp(lit=Path("lit.jpg")), "--lit"),
        (FollowUp(outline=Path("outline.png")), "--outline"),
    ],
)
def test_a_wrong_word_of_what_follows_is_named(wish: FollowUp, where: str) -> None:
    thrown, _ = default_pattern()
    rng = np.random.default_rng(1)
    table_map = fit_map([observed(FIRST, thrown, rng=rng)], A3, thrown).table_map
    assert table_map is not None
    with pytest.raises(RefusedError) as caught:
        follow_up(table_map, wish, A3, thrown)
    assert caught.value.where == where
    assert caught.value.hint


def test_a_picture_is_written_as_png_or_refused(tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match=r"\.png|PNG"):
        write_picture(tmp_path / "outline.jpg", b"")
    with pytest.raises(RefusedError, match="cannot be written"):
        write_picture(tmp_path / "none" / "outline.png", b"")
