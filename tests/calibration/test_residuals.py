"""The limits of what may be cut by, the check lines, and their words."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.residuals import (
    check_lines,
    judge_length,
    judge_map,
    judge_shift,
    limit_for,
    worst,
)
from calibration.table_map import Accuracy
from tests.calibration.rigs import rig


@pytest.mark.parametrize(
    ("length", "limit"), [(100, 1.0), (300, 1.0), (650, 1.5), (1000, 2.0), (2000, 4.0)]
)
def test_limit_rises_from_1_mm_over_300_to_2_over_a_metre(length: float, limit: float) -> None:
    assert limit_for(length) == pytest.approx(limit)


@pytest.mark.parametrize(
    ("asked", "read", "state"),
    [
        (300, 301.0, "good"),
        (300, 298.9, "warn"),
        (300, 302.1, "not for cutting"),
        (1000, 1001.9, "good"),
        (1000, 1003.9, "warn"),
        (1000, 995.9, "not for cutting"),
    ],
)
def test_a_measured_line_is_judged(asked: float, read: float, state: str) -> None:
    assert judge_length(asked, read).state == state


def test_words_say_what_happened_and_what_to_do() -> None:
    assert judge_length(300, 300).words == (
        "The 300 mm line measures 300.0 mm, as it should. Good to cut by."
    )
    words = judge_length(1000, 1005).words
    assert "5.0 mm too long" in words
    assert "Not for cutting: calibrate again." in words
    assert "beside its place" in judge_shift(1.4).words
    assert judge_shift(0.0).state == "good"
    assert judge_shift(1.4).state == "warn"


def test_a_map_is_judged_by_what_it_states_or_by_the_tape_if_that_is_worse() -> None:
    table_map = rig(15)
    assert judge_map(table_map).state == "not for cutting"
    good = Accuracy("camera", 0.1, 0.2, 0.4, 0.1, 100)
    assert judge_map(table_map.with_accuracy(good)).state == "good"
    contradicted = Accuracy("camera", 0.1, 0.2, 0.4, 0.1, 100, verified_mm=1.7)
    assert judge_map(table_map.with_accuracy(contradicted)).state == "warn"


def test_worst_is_the_one_farthest_over_its_own_limit() -> None:
    short, long = judge_length(300, 301.5), judge_length(1000, 1002.5)
    assert worst([long, short]) is short
    assert worst([]) is None


@pytest.mark.parametrize("tilt", [0, 30])
def test_check_lines_lie_in_the_light_at_their_length(tilt: float) -> None:
    table_map = rig(tilt)
    lines = check_lines(table_map)
    assert {line.direction for line in lines} == {"along", "across", "diagonal", "other diagonal"}
    assert {line.length_mm for line in lines if line.direction == "along"} == {1000, 600}
    for line in lines:
        ends = np.array([line.start_mm, line.end_mm])
        assert np.linalg.norm(ends[1] - ends[0]) == pytest.approx(line.length_mm)
        assert table_map.lights(ends, margin_px=10).all()


def test_a_small_picture_gets_300_mm_lines_where_600_cannot_be_lit() -> None:
    lines = check_lines(rig(0, width_mm=700))
    lengths = {line.direction: line.length_mm for line in lines}
    assert lengths["along"] == 600
    assert lengths["across"] == 300
    assert check_lines(rig(0, width_mm=150)) == ()
