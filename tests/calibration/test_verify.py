"""An independent look at a map: tape along lit lines, scale tied by one, the board laid down again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.boards import pattern
from calibration.camera import fit_map
from calibration.errors import FitError, MapError
from calibration.residuals import CheckLine, check_lines, judge_map
from calibration.table_map import TableMap
from calibration.verify import LineRead, measure_again, tie_scale, tie_sigma, verify_by_tape
from tests.calibration.simulator import (
    A3,
    WEBCAM,
    Scene,
    camera,
    centred,
    observed,
    projector,
    truth_errors,
)

THROWN = pattern((1920, 1080))


def made(*, print_scale: float = 1.0, seed: int = 0) -> tuple[Scene, TableMap]:
    """A map from one photo of a board that was printed out of scale, unknown to the solver."""
    rng = np.random.default_rng(seed)
    size = 34.0 * print_scale
    true = replace(A3, square_x_mm=size, square_y_mm=size)
    scene = Scene(projector(15), camera(WEBCAM, 25, -30), (centred(true, 4),))
    fit = fit_map([observed(scene, THROWN, rng=rng, noise_px=0.015)], A3, THROWN)
    assert fit.table_map is not None
    return scene, fit.table_map


def tape(scene: Scene, table_map: TableMap, line: CheckLine) -> float:
    """What the lit line truly measures on the table."""
    ends = scene.projector.on_table(table_map.to_projector([line.start_mm, line.end_mm]))
    return float(np.hypot(*(ends[1] - ends[0])))


def test_a_board_printed_at_99_per_cent_is_found_by_the_tape() -> None:
    scene, table_map = made(print_scale=0.99)
    lines = check_lines(table_map)
    read = [LineRead(line, tape(scene, table_map, line)) for line in lines]
    verified = verify_by_tape(table_map, read)
    assert verified.worst.state == "not for cutting"
    assert verified.table_map.accuracy is not None
    assert verified.table_map.accuracy.verified_mm == pytest.approx(10, abs=2)
    assert judge_map(verified.table_map).state == "not for cutting"


def test_a_sound_map_passes_the_tape() -> None:
    scene, table_map = made()
    read = [LineRead(line, tape(scene, table_map, line)) for line in check_lines(table_map)]
    assert verify_by_tape(table_map, read).worst.state == "good"


def test_one_long_line_cures_the_scale() -> None:
    scene, table_map = made(print_scale=0.995)
    long_one = max(check_lines(table_map), key=lambda line: line.length_mm)
    read = LineRead(long_one, tape(scene, table_map, long_one))
    tied = tie_scale(table_map, read)
    assert np.quantile(truth_errors(scene, table_map), 0.95) > 2
    assert np.quantile(truth_errors(scene, tied), 0.95) < 0.5
    assert tie_sigma(read) == pytest.approx(0.25 / long_one.length_mm)


def test_the_board_laid_down_again_measures_the_light() -> None:
    scene, table_map = made()
    eye = camera(WEBCAM, 20, 35)
    again = Scene(scene.projector, eye, (centred(A3, -9, (12, 6)),))
    seen = observed(again, THROWN, rng=np.random.default_rng(5), noise_px=0.015)
    assert measure_again(table_map, seen, A3, THROWN).state == "good"
    bad = table_map.scaled(1.01)
    assert measure_again(bad, seen, A3, THROWN).state != "good"
    with pytest.raises(FitError, match="does not show the thrown pattern"):
        measure_again(table_map, replace(seen, thrown=None), A3, THROWN)


def test_a_reading_that_is_none_is_refused_by_the_line_s_name() -> None:
    _, table_map = made()
    line = check_lines(table_map)[0]
    for wrong in (0.0, float("nan"), 2 * line.length_mm):
        with pytest.raises(MapError) as caught:
            verify_by_tape(table_map, [LineRead(line, wrong)])
        assert caught.value.where == line.name
    with pytest.raises(MapError, match="No line"):
        verify_by_tape(table_map, [])
