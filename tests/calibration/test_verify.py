"""An independent look at a map: tape along lit lines, scale tied by one, the board laid down again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.again import measure_again
from calibration.boards import pattern
from calibration.camera import fit_map
from calibration.errors import FitError, MapError
from calibration.residuals import CheckLine, check_lines, judge_map
from calibration.table_map import TableMap
from calibration.verify import LineRead, tie_scale, tie_sigma, verify_by_tape
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


def test_a_long_line_tightens_what_a_loosely_measured_print_leaves_open() -> None:
    """Print measured to 0.1 per cent and out by as much; lines on the tape read 0.2 mm off."""
    rng = np.random.default_rng(11)
    for wrong in (0.999, 1.001):
        true = replace(A3, square_x_mm=34 * wrong, square_y_mm=34 * wrong)
        scene = Scene(projector(15), camera(WEBCAM, 25, -30), (centred(true, 4),))
        seen = observed(scene, THROWN, rng=rng, noise_px=0.015)
        loose = fit_map([seen], replace(A3, scale_sigma=(1e-3, 1e-3)), THROWN).table_map
        assert loose is not None
        line = max(check_lines(loose), key=lambda line: line.length_mm)
        tied = tie_scale(loose, LineRead(line, tape(scene, loose, line) + 0.2))
        assert loose.accuracy is not None
        assert tied.accuracy is not None
        free, held = (float(np.quantile(truth_errors(scene, m), 0.95)) for m in (loose, tied))
        assert held < 0.6 * free
        assert held < tied.accuracy.p95_mm < 0.8 * loose.accuracy.p95_mm


def test_a_tape_never_spoils_a_scale_that_is_known_better() -> None:
    """Print known to 0.002 per cent: a reading half a mm off on the tape hardly moves the map."""
    _, table_map = made()
    assert table_map.accuracy is not None
    exact = replace(
        table_map.accuracy, rms_mm=0.1, p95_mm=0.2, max_mm=0.3, shape_mm=(0.1, 0.2, 0.3)
    )
    sure = table_map.with_accuracy(exact)
    line = max(check_lines(sure), key=lambda line: line.length_mm)
    tied = tie_scale(sure, LineRead(line, line.length_mm + 0.5))
    ends = [line.start_mm, line.end_mm]
    assert np.abs(tied.to_projector(ends) - sure.to_projector(ends)).max() < 0.01
    assert tied.accuracy is not None
    assert tied.accuracy.p95_mm == pytest.approx(0.2)


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
