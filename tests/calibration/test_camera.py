"""The camera route: true error over the whole lit field, honest figures, faults that must show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import Point, Polygon

from calibration.boards import Board, MeasuredLength, board_outline, measured_board, pattern
from calibration.camera import Fit, fit_map
from calibration.corners import Corners, Seen, detect
from calibration.coverage import coverage
from calibration.errors import CalibrationError, FitError
from calibration.homography import Array
from calibration.photo import decode
from calibration.place_errors import grid
from tests.calibration.simulator import (
    A3,
    PHONE,
    WEBCAM,
    Optics,
    Placement,
    Scene,
    camera,
    centred,
    default_pattern,
    observed,
    photograph,
    projector,
    spread_places,
    truth_errors,
)

HOLED, HOLED_PICTURE = default_pattern()
FULL = pattern((1920, 1080), hole_squares=None)
MAT = Board(21, 12, 50.0, 50.0)


def p95(scene: Scene, fit: Fit) -> float:
    assert fit.table_map is not None
    return float(np.quantile(truth_errors(scene, fit.table_map), 0.95))


def stated(fit: Fit) -> float:
    assert fit.table_map is not None
    assert fit.table_map.accuracy is not None
    return fit.table_map.accuracy.p95_mm


def one_photo(seed: int, *, kp: float = 0.0, tilt: float = 25.0) -> tuple[Scene, Seen]:
    """A3 in the hole, by a webcam from the side."""
    rng = np.random.default_rng(seed)
    scene = Scene(projector(15, kp=kp), camera(WEBCAM, tilt, -30), (centred(A3, 4),))
    return scene, observed(scene, HOLED, rng=rng, noise_px=0.02)


def fixed_camera(
    placements: list[Placement],
    board: Board,
    *,
    seed: int = 0,
    tilt: float = 15.0,
    kp: float = 0.0,
    noise_px: float = 0.025,
    light: Optics | None = None,
    lens: Optics | None = None,
) -> tuple[Scene, Fit]:
    """One photo of each placement and one of the full pattern, the camera standing still."""
    rng = np.random.default_rng(seed)
    eye = camera(WEBCAM, tilt, 20, optics=lens)
    scene = Scene(projector(15, kp=kp, optics=light), eye, tuple(placements))
    photos = [
        observed(replace(scene, placements=(p,)), None, rng=rng, noise_px=noise_px)
        for p in placements
    ]
    empty = replace(scene, placements=())
    photos.append(observed(empty, FULL, rng=rng, noise_px=noise_px, printed=None))
    return scene, fit_map(photos, board, FULL, fixed_camera=True)


@pytest.mark.parametrize("kp", [0.0, -0.01])
def test_full_mat(kp: float) -> None:
    """Asked: p95 < 0.10 mm, max < 0.25 mm."""
    scene, fit = fixed_camera([centred(MAT, 1)], MAT, kp=kp)
    assert fit.table_map is not None
    errors = truth_errors(scene, fit.table_map)
    assert np.quantile(errors, 0.95) < 0.10
    assert errors.max() < 0.25


@pytest.mark.parametrize(("tilt", "limit"), [(15.0, 0.10), (30.0, 0.20)])
@pytest.mark.parametrize("kp", [0.0, -0.01])
def test_nine_placements(tilt: float, limit: float, kp: float) -> None:
    scene, fit = fixed_camera(spread_places(A3, 9), A3, tilt=tilt, kp=kp)
    assert p95(scene, fit) < limit
    assert p95(scene, fit) < stated(fit)


@pytest.mark.parametrize("seed", range(3))
def test_one_photo_of_one_a3_board(seed: int) -> None:
    """Asked: < 0.4 mm with an ideal projector lens, < 1.0 mm with a bent one, and told so."""
    scene, seen = one_photo(seed)
    assert p95(scene, fit_map([seen], A3, HOLED)) < 0.4
    scene, seen = one_photo(seed, kp=-0.01)
    fit = fit_map([seen], A3, HOLED)
    assert p95(scene, fit) < 1.0
    assert p95(scene, fit) < stated(fit)


def test_careful_real_conditions() -> None:
    """Scale 0.02 % out, paper waving by 0.3 mm and lying 0.1 mm high, lenses unlike the model.
    Asked: p95 < 0.3 mm in the median run, < 0.4 in the worst of twenty. The large sample is in the
    bench; here three runs."""
    errors = []
    for seed in range(3):
        rng = np.random.default_rng(100 + seed)
        sx, sy = 1 + 2e-4 * rng.choice([-1, 1], 2)
        true = replace(A3, square_x_mm=34 * sx, square_y_mm=34 * sy)
        laid = [
            replace(p, board=true, lift_mm=0.1, wave_mm=0.3, phase=rng.uniform(0, 6))
            for p in spread_places(A3, 9)
        ]
        scene, fit = fixed_camera(
            laid,
            A3,
            seed=seed,
            light=Optics(0.004, 0, 0, *rng.normal(0, 5e-4, 2)),
            lens=Optics(0.1, 0.03, 0.01, *rng.normal(0, 1e-3, 2)),
        )
        errors.append(p95(scene, fit))
        assert errors[-1] < 2 * stated(fit)
    assert np.median(errors) < 0.3
    assert max(errors) < 0.4


def test_convention_the_frame_is_the_first_board_as_it_lies() -> None:
    """Position, not only shape: half a projector px slipped would be 0.3 mm here."""
    scene, fit = fixed_camera(spread_places(A3, 9), A3, noise_px=0.01)
    assert fit.table_map is not None
    true = scene.projector.on_table(FULL.corner_px)
    in_frame = scene.placements[0].from_table(true)
    off = fit.table_map.to_table(FULL.corner_px) - in_frame
    assert np.abs(off.mean(axis=0)).max() < 0.03
    for laid, placement in zip(fit.laid, scene.placements, strict=True):
        first = scene.placements[0].from_table(placement.to_table(np.zeros((1, 2))))[0]
        assert laid.origin_mm == pytest.approx(first, abs=0.1)


def test_half_a_px_slipped_on_the_projector_shows_in_position_only() -> None:
    _, seen = one_photo(1)
    slipped = replace(HOLED, corner_px=HOLED.corner_px + 0.5)
    sound, faulty = (fit_map([seen], A3, p) for p in (HOLED, slipped))
    assert sound.table_map is not None
    assert faulty.table_map is not None
    assert sound.noise_ratio == pytest.approx(faulty.noise_ratio, abs=0.02)
    middle = [(960.0, 540.0)]
    moved = np.linalg.norm(faulty.table_map.to_table(middle) - sound.table_map.to_table(middle))
    assert 0.3 < moved < 0.6


def test_a_board_printed_at_99_per_cent_shows_in_the_tape_not_in_the_residual() -> None:
    rng = np.random.default_rng(5)
    small = replace(A3, square_x_mm=33.66, square_y_mm=33.66)
    scene = Scene(projector(15), camera(WEBCAM, 25, -30), (centred(small, 4),))
    seen = observed(scene, HOLED, rng=rng, noise_px=0.02)
    believed, measured = (fit_map([seen], b, HOLED) for b in (A3, small))
    assert believed.noise_ratio < 1.3
    assert p95(scene, believed) > 4 > 1 > p95(scene, measured)


def test_one_wrong_corner_does_no_harm_and_is_counted() -> None:
    scene, seen = one_photo(2)
    assert seen.printed is not None
    shifted = seen.printed.camera_px.copy()
    shifted[0] += (2.0, -1.5)
    bad = replace(seen, printed=replace(seen.printed, camera_px=shifted))
    sound, faulty = fit_map([seen], A3, HOLED), fit_map([bad], A3, HOLED)
    assert faulty.photos[0].left_out >= 1
    assert p95(scene, faulty) < p95(scene, sound) + 0.15


def test_corners_far_off_are_sieved_out() -> None:
    """opencv issue 25546: the inlier mask alone is not to be trusted; the soft loss comes after."""
    scene, seen = one_photo(3)
    assert seen.thrown is not None
    rng = np.random.default_rng(0)
    wrong = seen.thrown.camera_px.copy()
    worst = rng.choice(len(wrong), 3, replace=False)
    wrong[worst] += rng.uniform(10, 40, (3, 2))
    bad = replace(seen, thrown=replace(seen.thrown, camera_px=wrong))
    assert p95(scene, fit_map([bad], A3, HOLED)) < 0.5


def test_the_same_photos_give_the_same_map() -> None:
    """opencv issue 28199: the robust search differs between runs unless its seed is set."""
    _, seen = one_photo(4)
    first, second = (fit_map([seen], A3, HOLED).table_map for _ in range(2))
    assert first is not None
    assert second is not None
    assert first.to_dict() == second.to_dict()


class BendsAlongOnly(Optics):
    """x + a x^3 along, nothing across: neither radial nor tangential."""

    def ideal(self, seen: Array) -> Array:
        return seen + np.stack([self.a * seen[:, 0] ** 3, 0 * seen[:, 1]], axis=1)


def test_a_lens_unlike_the_model_is_told() -> None:
    """A projector lens that bends along by a third of a per cent, across not at all: residuals above
    the noise floor."""
    _, fit = fixed_camera([centred(MAT, 1)], MAT, light=BendsAlongOnly(0.02), noise_px=0.02)
    _, plain = fixed_camera([centred(MAT, 1)], MAT, noise_px=0.02)
    assert fit.noise_ratio > 1.5
    assert plain.noise_ratio < 1.1
    assert any("lens unlike the model" in w for w in fit.words)
    assert stated(fit) > 2 * stated(plain)


def test_tangential_terms_of_the_projector_are_found() -> None:
    """A projector lens not square to its picture, by half a per cent at the corner: solved, not told."""
    across = Optics(0.0, 0.0, 0.0, 6e-3, -6e-3)
    scene, fit = fixed_camera([centred(MAT, 1)], MAT, light=across, noise_px=0.02)
    assert p95(scene, fit) < 0.15
    assert fit.noise_ratio < 1.3
    assert fit.table_map is not None
    assert fit.table_map.lens is not None
    lens = fit.table_map.lens
    assert min(abs(lens.p1), abs(lens.p2)) > 2e-3 > max(abs(lens.k1), abs(lens.k2))


def test_a_hand_held_walk_round_the_table() -> None:
    """Three photos from three sides, the board laid elsewhere each time, both boards in each."""
    rng = np.random.default_rng(8)
    light = projector(15, kp=-0.01)
    photos = []
    for side, at in ((-30, (0, 0)), (20, (25, 8)), (60, (-20, -6))):
        scene = Scene(light, camera(WEBCAM, 22, side), (centred(A3, side / 6, at),))
        photos.append(observed(scene, HOLED, rng=rng, noise_px=0.02))
    one, three = fit_map(photos[:1], A3, HOLED), fit_map(photos, A3, HOLED)
    assert len(three.laid) == 3
    assert stated(three) < stated(one)
    assert p95(scene, three) < 0.35


def test_errors_by_places_follow_the_board() -> None:
    _, seen = one_photo(6)
    table_map = fit_map([seen], A3, HOLED).table_map
    assert table_map is not None
    assert table_map.places is not None
    assert table_map.trusted_mm is not None
    trusted = Polygon(table_map.trusted_mm)
    lit = table_map.to_table(grid(table_map.canvas_px))
    inside = np.array([trusted.contains(Point(place)) for place in lit])
    stated_mm = table_map.places.stated_mm
    assert 0 < inside.sum() < len(inside)
    assert stated_mm[inside].mean() < stated_mm[~inside].mean()
    found = coverage(table_map)
    assert found is not None
    assert 0 < found.share < 1
    board = Polygon(found.boards[0])
    assert board.area == pytest.approx(Polygon(board_outline(A3)).area, rel=0.01)
    cuttable = [z for z in found.zones if z.state == "good"]
    assert sum(Polygon(z.rings[0]).intersection(board).area for z in cuttable) > 0.9 * board.area
    assert any("per cent of the lit table" in w for w in table_map.accuracy.words)


def test_a_short_measured_length_widens_the_stated_error() -> None:
    _, seen = one_photo(7)
    short = measured_board(9, 6, MeasuredLength(2, 68.0), MeasuredLength(2, 68.0))
    loose, tight = fit_map([seen], short, HOLED), fit_map([seen], A3, HOLED)
    assert stated(loose) > stated(tight) + 0.3
    assert any("short length" in w for w in loose.words)


def test_photos_of_the_board_alone_give_the_camera_but_no_table_map() -> None:
    _, seen = one_photo(8)
    fit = fit_map([replace(seen, thrown=None)], A3, HOLED)
    assert fit.table_map is None
    assert fit.printed_rms_mm < 0.1
    assert fit.photos[0].camera_from_table.shape == (3, 3)


def test_photos_that_do_not_hang_together_are_refused() -> None:
    _, seen = one_photo(9)
    with pytest.raises(FitError, match="No photo came"):
        fit_map([], A3, HOLED)
    with pytest.raises(FitError, match="different sizes"):
        fit_map([seen, replace(seen, size_px=(1280, 720))], A3, HOLED)
    with pytest.raises(FitError, match="No photo shows the printed board"):
        fit_map([replace(seen, printed=None)], A3, HOLED)
    with pytest.raises(FitError, match="Photo 2 does not show the printed board") as caught:
        fit_map([seen, replace(seen, printed=None)], A3, HOLED)
    assert caught.value.where == "photo 2"
    with pytest.raises(FitError, match="1 photos came with 2 placements"):
        fit_map([seen], A3, HOLED, placements=[0, 1])


def test_corners_that_cannot_be_a_flat_board_are_refused() -> None:
    _, seen = one_photo(10)
    assert seen.printed is not None
    bent = seen.printed.camera_px + 4 * np.sin(seen.printed.camera_px[:, ::-1] / 25)
    bad = Corners(bent, seen.printed.ids, 0.7, 30.0, 2.0)
    with pytest.raises(FitError, match="do not lie as on a flat board"):
        fit_map([replace(seen, printed=bad)], A3, HOLED)


@pytest.mark.parametrize("kp", [0.0, -0.01])
def test_from_a_simulated_photo(kp: float) -> None:
    """The whole way: a JPEG with blur, noise, uneven light and a bent lens, to mm on the table."""
    scene = Scene(projector(15, kp=kp), camera(WEBCAM, 28, -30), (centred(A3, 4),))
    photo = photograph(scene, HOLED_PICTURE, rng=np.random.default_rng(3))
    fit = fit_map([detect(decode(photo), A3, HOLED)], A3, HOLED)
    assert p95(scene, fit) < (0.4 if kp == 0 else 1.0)
    assert p95(scene, fit) < stated(fit)
    assert fit.photos[0].printed_rms_px is not None
    assert fit.photos[0].printed_rms_px < 0.05


@pytest.mark.slow
def test_from_a_simulated_12_megapixel_phone_photo() -> None:
    scene = Scene(projector(15, kp=-0.01), camera(PHONE, 22, -30), (centred(A3, 4),))
    photo = photograph(scene, HOLED_PICTURE, rng=np.random.default_rng(3))
    fit = fit_map([detect(decode(photo), A3, HOLED)], A3, HOLED)
    assert p95(scene, fit) < 0.4
    assert p95(scene, fit) < stated(fit)


@pytest.mark.parametrize("cloth", ["plaid", "gingham"])
def test_patterned_cloth_is_refused_or_told_never_passed_as_good(cloth: str) -> None:
    """The board on its sheet may be found; the light on checks may not be believed blindly."""
    scene = Scene(projector(15), camera(WEBCAM, 25, -30), (centred(A3, 4),), cloth=cloth)
    photo = photograph(scene, HOLED_PICTURE, rng=np.random.default_rng(3), samples=1)
    hint = ""
    try:
        fit = fit_map([detect(decode(photo), A3, HOLED)], A3, HOLED)
    except CalibrationError as refused:
        hint = refused.hint
    assert "white sheet" in hint or p95(scene, fit) < stated(fit)
