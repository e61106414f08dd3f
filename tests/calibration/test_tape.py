"""The camera-free route: exact readings, odd readings, open sets, handedness, scale, accuracy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.errors import TapeError
from calibration.table_map import TableMap
from calibration.tape import (
    CrossSet,
    Distance,
    all_pairs,
    corner_crosses,
    grid_crosses,
    measured,
    next_to_measure,
    solve,
)
from tests.calibration.rigs import CANVAS, rig, true_errors

SIDES = [("A", "B"), ("B", "C"), ("C", "D"), ("D", "A")]
SIX = [*SIDES, ("A", "C"), ("B", "D")]
LONG_EIGHT = [
    ("A", "C"),
    ("C", "I"),
    ("I", "G"),
    ("G", "A"),
    ("A", "I"),
    ("C", "G"),
    ("B", "H"),
    ("D", "F"),
]


def read(
    crosses: CrossSet,
    true: TableMap,
    pairs: list[tuple[str, str]],
    *,
    sigma_mm: float = 0.0,
    seed: int = 0,
    tape_scale: float = 1.0,
) -> list[Distance]:
    noise = np.random.default_rng(seed).normal(0, 1, len(pairs)) * sigma_mm
    lengths = measured(crosses, true, pairs) * tape_scale + noise
    return [Distance(a, b, float(mm)) for (a, b), mm in zip(pairs, lengths, strict=True)]


@pytest.mark.parametrize("tilt", [0, 15, 30])
@pytest.mark.parametrize("pairs", [SIX, SIX[:5]])
def test_exact_readings_give_the_exact_map(tilt: float, pairs: list[tuple[str, str]]) -> None:
    crosses, true = corner_crosses(CANVAS), rig(tilt)
    result = solve(crosses, read(crosses, true, pairs), CANVAS)
    assert true_errors(result.table_map, true).max() < 1e-4
    assert result.again == ()


def test_convention_frame_starts_at_the_named_cross_and_runs_along_the_other() -> None:
    crosses, true = grid_crosses(CANVAS), rig(30)
    result = solve(crosses, read(crosses, true, LONG_EIGHT), CANVAS)
    at = dict(zip("ABCDEFGHI", result.positions_mm, strict=True))
    assert at["A"] == pytest.approx((0, 0), abs=1e-6)
    assert at["C"][1] == pytest.approx(0, abs=1e-6)
    assert at["C"][0] > 0
    assert at["G"][1] > 0, "y runs up the table, as the picture is seen"


def test_nine_crosses_find_the_bend_of_the_lens() -> None:
    crosses, true = grid_crosses(CANVAS), rig(15, k1=-0.004)
    result = solve(crosses, read(crosses, true, list(all_pairs(crosses))), CANVAS, sigma_mm=0.05)
    assert result.table_map.lens is not None
    assert result.table_map.lens.k1 == pytest.approx(-0.004, abs=2e-4)
    assert true_errors(result.table_map, true).max() < 0.05


def test_four_crosses_cannot_see_the_lens_and_say_so_in_the_figure() -> None:
    crosses, true = corner_crosses(CANVAS), rig(15)
    four = solve(crosses, read(crosses, true, SIX), CANVAS)
    nine_crosses = grid_crosses(CANVAS)
    nine = solve(nine_crosses, read(nine_crosses, true, list(all_pairs(nine_crosses))), CANVAS)
    assert four.table_map.accuracy is not None
    assert nine.table_map.accuracy is not None
    assert four.table_map.accuracy.p95_mm > 2 * nine.table_map.accuracy.p95_mm


def test_an_odd_reading_is_named() -> None:
    crosses, true = grid_crosses(CANVAS), rig(15)
    distances = read(crosses, true, list(all_pairs(crosses)), sigma_mm=0.5, seed=4)
    slip = next(i for i, d in enumerate(distances) if (d.a, d.b) == ("A", "I"))
    distances[slip] = Distance("A", "I", distances[slip].mm + 10)
    result = solve(crosses, distances, CANVAS)
    assert result.again[0] == ("A", "I")
    assert "Measure A-I again" in result.words[0]
    assert result.readings[slip].odd
    assert result.readings[slip].off_mm == pytest.approx(10, abs=2.5)


def test_with_one_check_the_odd_reading_is_not_guessed() -> None:
    """Six readings of a quadrilateral share one condition: any of them may be the odd one."""
    crosses, true = corner_crosses(CANVAS), rig(15)
    distances = read(crosses, true, SIX)
    distances[4] = Distance("A", "C", distances[4].mm + 10)
    result = solve(crosses, distances, CANVAS)
    assert len(result.again) == 6
    assert "cannot be told from the rest" in result.words[0]
    assert result.table_map.accuracy is not None
    assert result.table_map.accuracy.p95_mm > 2


def test_five_readings_have_no_check_and_say_so() -> None:
    crosses, true = corner_crosses(CANVAS), rig(15)
    result = solve(crosses, read(crosses, true, SIX[:5]), CANVAS)
    assert result.checks == 0
    assert all(r.standard is None for r in result.readings)
    assert result.words == ("Nothing checks these five distances. Measure a sixth.",)


def test_an_open_set_is_refused_with_the_distance_to_add() -> None:
    crosses, true = corner_crosses(CANVAS), rig(15)
    with pytest.raises(TapeError, match="leave the picture free") as caught:
        solve(crosses, read(crosses, true, SIDES), CANVAS)
    assert caught.value.where in ("A-C", "B-D")
    assert caught.value.hint == f"Measure also {caught.value.where}."


def test_following_the_hints_from_nothing_settles_the_map() -> None:
    crosses, true = grid_crosses(CANVAS), rig(30)
    pairs: list[tuple[str, str]] = []
    for _ in range(8):
        pair = next_to_measure(crosses, [Distance(a, b, 1) for a, b in pairs], CANVAS)
        assert pair is not None
        pairs.append(pair)
    result = solve(crosses, read(crosses, true, pairs), CANVAS)
    assert true_errors(result.table_map, true).max() < 1e-2
    every = [Distance(a, b, 1) for a, b in all_pairs(crosses)]
    assert next_to_measure(crosses, every, CANVAS) is None


def test_many_readings_of_one_row_do_not_settle_the_map() -> None:
    crosses, true = grid_crosses(CANVAS), rig(15)
    row = [("A", "B"), ("B", "C"), ("A", "C"), ("D", "E"), ("E", "F"), ("D", "F")]
    with pytest.raises(TapeError, match="leave the picture free"):
        solve(crosses, read(crosses, true, row), CANVAS)


def test_impossible_readings_are_refused() -> None:
    crosses, true = corner_crosses(CANVAS), rig(15)
    distances = read(crosses, true, SIX[:5])
    distances[4] = Distance("A", "C", 5000)
    with pytest.raises(TapeError) as caught:
        solve(crosses, distances, CANVAS)
    assert caught.value.code == "tape.impossible"
    assert "again first" in caught.value.hint


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (Distance("A", "Z", 100), "no cross Z"),
        (Distance("A", "A", 100), "starts and ends at one cross"),
        (Distance("A", "B", 0), "above 0"),
        (Distance("A", "B", float("nan")), "above 0"),
        (Distance("A", "B", 1e6), "at most 20000 mm"),
    ],
)
def test_a_reading_that_is_none_is_refused_by_name(wrong: Distance, words: str) -> None:
    with pytest.raises(TapeError, match=words) as caught:
        solve(corner_crosses(CANVAS), [wrong], CANVAS)
    assert caught.value.where == f"{wrong.a}-{wrong.b}"


def test_a_long_distance_ties_the_scale_of_a_stretched_tape() -> None:
    """A cloth tape stretched by 0.3 % is 3.6 mm out on 1200 mm; one distance by steel rule cures it."""
    crosses, true = grid_crosses(CANVAS), rig(15)
    distances = read(crosses, true, list(all_pairs(crosses)), tape_scale=1.003)
    (steel,) = read(crosses, true, [("A", "I")])
    loose = solve(crosses, distances, CANVAS)
    tied = solve(crosses, distances, CANVAS, tie=steel)
    assert true_errors(loose.table_map, true).max() > 1.5
    assert true_errors(tied.table_map, true).max() < 0.15
    assert tied.tape_scale == pytest.approx(1.003, abs=2e-4)


@settings(max_examples=25, deadline=None)
@given(st.floats(0, 35), st.floats(700, 2500), st.integers(0, 2**20))
def test_any_rig_comes_back_within_a_few_times_the_stated_error(
    tilt: float, width: float, seed: int
) -> None:
    crosses, true = corner_crosses(CANVAS), rig(tilt, width_mm=width)
    result = solve(crosses, read(crosses, true, SIX, sigma_mm=0.5, seed=seed), CANVAS)
    accuracy = result.table_map.accuracy
    assert accuracy is not None
    assert np.quantile(true_errors(result.table_map, true), 0.95) < 3 * accuracy.p95_mm


def test_same_readings_give_the_same_answer() -> None:
    crosses, true = grid_crosses(CANVAS), rig(15)
    distances = read(crosses, true, LONG_EIGHT, sigma_mm=0.5, seed=1)
    first, second = (solve(crosses, distances, CANVAS).table_map.to_dict() for _ in range(2))
    assert first == second
