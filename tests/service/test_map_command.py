"""``grainfold map``: from photo files to a table map and its error."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from calibration.errors import BoardError, CalibrationError, PhotoError
from calibration.table_map import from_dict
from service.map_command import read_board, read_pattern, run
from tests.calibration.simulator import (
    A3,
    WEBCAM,
    Scene,
    camera,
    centred,
    default_pattern,
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
