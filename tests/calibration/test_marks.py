"""Four marks on the table: a known shift told to a tenth of a mm, one slip named, another shape told."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.errors import MapError
from calibration.marks import MARKS, mark_places, read_marks, way_words
from calibration.rigid import fit_rigid
from tests.calibration.rigs import rig

LIT = {
    name: (float(x), float(y))
    for (name, px) in mark_places((1920, 1080)).items()
    for x, y in rig(15).to_table([px])
}


def offsets(
    *, turn_deg: float = 0.0, shift: tuple[float, float] = (0, 0), grown: float = 1.0
) -> dict[str, tuple[float, float]]:
    """Where the chalk lies from the light after the light moved so (turned and grown about the middle)."""
    lit = np.array(list(LIT.values()))
    t = np.radians(turn_deg)
    turn = np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])
    middle = lit.mean(axis=0)
    # The map says where the light is believed to be; the chalk was there before it moved.
    chalk = middle + ((lit - np.array(shift) - middle) @ turn) / grown
    return {n: (float(x), float(y)) for n, (x, y) in zip(LIT, chalk - lit, strict=True)}


def test_the_marks_are_near_the_corners_and_run_round_as_the_crosses_do() -> None:
    assert tuple(LIT) == MARKS
    xy = np.array(list(LIT.values()))
    area = 0.5 * sum(
        a[0] * b[1] - b[0] * a[1] for a, b in zip(xy, np.roll(xy, -1, axis=0), strict=True)
    )
    assert area > 0.6 * 1200 * 675  # counter-clockwise, and most of the light


def test_marks_that_are_still_on_are_good() -> None:
    read = read_marks(LIT, {})
    assert read.verdict.state == "good"
    assert read.verdict.words == "The four marks are on. Good to cut by."
    assert read.odd is None


@pytest.mark.parametrize(
    ("shift", "turn", "state"),
    [((0.6, -0.3), 0.0, "good"), ((1.2, 0.4), 0.0, "warn"), ((-3.0, 2.0), 0.15, "not for cutting")],
)
def test_a_known_shift_is_told_to_a_tenth_of_a_mm_and_never_applied(
    shift: tuple[float, float], turn: float, state: str
) -> None:
    read = read_marks(LIT, offsets(shift=shift, turn_deg=turn))
    assert read.shift_mm == pytest.approx(shift, abs=0.1)
    assert read.turn_deg == pytest.approx(turn, abs=0.01)
    assert read.left_mm < 0.01
    assert read.verdict.state == state
    assert read.odd is None
    if state != "good":
        assert "Nothing is corrected" in read.verdict.words
        assert way_words(*shift) in read.verdict.words


def test_readings_half_a_mm_out_still_tell_the_shift() -> None:
    """Four marks read to half a mm: the shift's standard error is a quarter of a mm a way."""
    rng = np.random.default_rng(3)
    for _ in range(50):
        read_off = {
            n: (x + rng.uniform(-0.5, 0.5), y + rng.uniform(-0.5, 0.5))
            for n, (x, y) in offsets(shift=(2.5, 0)).items()
        }
        read = read_marks(LIT, read_off)
        assert read.shift_mm == pytest.approx((2.5, 0), abs=0.5)
        assert read.verdict.state != "good"


@pytest.mark.parametrize("name", MARKS)
def test_fault_one_mark_misread_among_four_is_named(name: str) -> None:
    slip = offsets(shift=(0.4, 0.2))
    x, y = slip[name]
    slip[name] = (x + 5.0, y)
    read = read_marks(LIT, slip)
    assert read.odd == name
    assert read.odd_mm == pytest.approx(5, abs=0.5)


def test_a_picture_that_grew_is_told_and_no_mark_is_blamed() -> None:
    read = read_marks(LIT, offsets(grown=1.006))
    assert read.odd is None
    assert read.verdict.state == "not for cutting"
    assert "0.60 % larger" in read.verdict.words
    assert "make the map again" in read.verdict.words


def test_marks_read_mirrored_are_no_shift() -> None:
    """Left and right taken for each other on a turned light: that is a contradiction, not a shift."""
    turned = offsets(turn_deg=1.0)
    read = read_marks(LIT, {n: (-x, y) for n, (x, y) in turned.items()})
    assert read.verdict.state == "not for cutting"
    assert read.left_mm > 1


@pytest.mark.parametrize(
    ("said", "where"),
    [({"E": (1.0, 0.0)}, "E"), ({"B": (150.0, 0.0)}, "B"), ({"C": (0.0, float("nan"))}, "C")],
)
def test_what_cannot_be_meant_is_refused_by_the_mark_s_name(
    said: dict[str, tuple[float, float]], where: str
) -> None:
    with pytest.raises(MapError) as caught:
        read_marks(LIT, said)
    assert caught.value.where == where
    assert caught.value.hint


def test_a_mirror_image_is_never_fitted() -> None:
    here = np.array([(0.0, 0.0), (100, 0), (100, 60), (0, 60)])
    mirrored = here * (-1, 1)
    assert np.linalg.norm(fit_rigid(here, mirrored).left_mm, axis=1).max() > 20
