"""The table map: conventions, inverse, lens, refusals, and the form it is stored in."""

from __future__ import annotations

import json
import pickle

import numpy as np
import pytest

from calibration.errors import CalibrationError, MapError
from calibration.table_map import Accuracy, Lens, TableMap, from_dict
from tests.calibration.rigs import CANVAS, canvas_grid, rig


def plain(px_per_mm: float = 2.0, lens: Lens | None = None) -> TableMap:
    """Origin at the middle of the canvas, x right, y up."""
    h = np.array([[px_per_mm, 0, 960], [0, -px_per_mm, 540], [0, 0, 1.0]])
    return TableMap(h, CANVAS, lens)


def test_convention_canvas_edges_and_table_up() -> None:
    at = plain().to_projector([(0, 0), (480, 270), (-480, -270)])
    np.testing.assert_allclose(at, [(960, 540), (1920, 0), (0, 1080)], atol=1e-9)


def test_convention_lit_outline_runs_counter_clockwise() -> None:
    outline = rig(30).lit_outline()
    x, y = outline.T
    assert np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0


@pytest.mark.parametrize("k1", [0.0, -0.03, 0.02])
def test_there_and_back_gives_the_place_back(k1: float) -> None:
    table_map = rig(30, k1=k1)
    grid = canvas_grid()
    np.testing.assert_allclose(table_map.to_projector(table_map.to_table(grid)), grid, atol=1e-7)


def test_lens_moves_the_corner_by_k1_of_its_distance() -> None:
    lens = Lens(-0.01, 0.0, (960, 540), float(np.hypot(960, 540)))
    (at,) = plain(lens=lens).to_projector([(480, 270)])
    np.testing.assert_allclose(at, (960 + 960 * 0.99, 540 - 540 * 0.99), atol=1e-9)


def test_scale_at_a_place() -> None:
    np.testing.assert_allclose(plain(1.6).px_per_mm([(10, 20)]), [(1.6, 1.6)], rtol=1e-9)
    np.testing.assert_allclose(plain(1.6).mm_per_px([(10, 20)]), [0.625], rtol=1e-9)


def test_tilt_makes_far_pixels_longer_than_near_ones() -> None:
    top, bottom = rig(30).mm_per_px([(960, 1), (960, 1079)])
    assert top > 1.3 * bottom


def test_a_place_behind_the_horizon_is_refused_not_drawn() -> None:
    table_map = rig(30)
    far = (0.0, -1e5)
    assert not table_map.reaches(far).any()
    with pytest.raises(MapError, match="out of the projector's reach"):
        table_map.to_projector(far)
    assert not table_map.lights([far]).any()


def test_a_lens_never_folds_far_places_into_the_picture() -> None:
    """With k1 = -0.1 the polynomial turns back at r = 1.83; beyond 1.5 nothing is drawn."""
    lens = Lens(-0.1, 0.0, (960, 540), 1101.0)
    table_map = plain(lens=lens)
    assert not table_map.reaches([(2000.0, 0.0)]).any()


def test_mirrored_and_horizon_and_flat_maps_are_refused() -> None:
    with pytest.raises(MapError, match="mirrored"):
        TableMap(np.diag([2.0, 2.0, 1.0]), CANVAS)
    with pytest.raises(MapError, match="horizon"):
        TableMap(np.linalg.inv(np.array([[1.0, 0, 0], [0, -1, 0], [1e-3, 0, -1]])), CANVAS)
    with pytest.raises(MapError, match="flattens"):
        TableMap(np.ones((3, 3)), CANVAS)
    with pytest.raises(MapError, match="nine finite numbers"):
        TableMap(np.full((3, 3), np.nan), CANVAS)
    with pytest.raises(MapError, match="canvas"):
        TableMap(plain().projector_from_table, (0, 1080))
    with pytest.raises(MapError, match="fold"):
        plain(lens=Lens(-0.5, 0.0, (960, 540), 1101.0))
    with pytest.raises(MapError, match="fold"):
        plain(lens=Lens(0.0, 0.0, (960, 540), 1101.0, 0.03, 0.0))


def test_turning_the_frame_leaves_the_light_where_it_is() -> None:
    old = rig(15)
    new = old.moved(turn_deg=90, shift_mm=(10, 20))
    np.testing.assert_allclose(
        new.to_projector([(10 - 50, 20 + 100)]), old.to_projector([(100, 50)])
    )
    np.testing.assert_allclose(
        old.scaled(2).to_projector([(200, 100)]), old.to_projector([(100, 50)])
    )


def test_json_form_gives_the_same_map_back() -> None:
    accuracy = Accuracy("tape", 0.1, 0.2, 0.3, 0.15, 6, 1.1, None, ("Measure A-C again.",))
    trusted = np.array([(0, 0), (100, 0), (100, 100.0)])
    lens = Lens(-0.01, 1e-3, (960.0, 540.0), 1101.0, 2e-4, -3e-4)
    before = TableMap(plain().projector_from_table, CANVAS, lens, accuracy, trusted)
    after = from_dict(json.loads(json.dumps(before.to_dict())))
    assert after.to_dict() == before.to_dict()
    assert after.accuracy == accuracy
    assert pickle.loads(pickle.dumps(before)).to_dict() == before.to_dict()


def test_a_map_stored_without_tangential_terms_has_none() -> None:
    data = plain(lens=Lens(-0.01, 1e-3, (960.0, 540.0), 1101.0)).to_dict()
    old = {**data, "lens": {k: v for k, v in data["lens"].items() if k not in ("p1", "p2")}}
    assert from_dict(old).to_dict() == data


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("format", 99),
        ("projector_from_table", "x"),
        ("canvas_px", [1920]),
        ("lens", {"k1": 0}),
        ("accuracy", {"method": "guess"}),
        ("trusted_mm", "all"),
    ],
)
def test_a_wrong_field_is_named(field: str, value: object) -> None:
    with pytest.raises(MapError) as caught:
        from_dict({**plain().to_dict(), field: value})
    assert caught.value.where == field


def test_errors_keep_their_fields_across_processes() -> None:
    error = MapError("words", hint="do this", where="lens", code="map.lens")
    copy = pickle.loads(pickle.dumps(error))
    assert isinstance(copy, CalibrationError)
    assert (str(copy), copy.hint, copy.where, copy.code) == ("words", "do this", "lens", "map.lens")


def test_arrays_cannot_be_written_to() -> None:
    with pytest.raises(ValueError, match="read-only"):
        plain().projector_from_table[0, 0] = 1
