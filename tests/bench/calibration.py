"""``python -m tests.bench.calibration [--json] [--runs N] [--seconds]``: how true, how honest, how fast.

True: error over the whole lit field against the simulator's truth, after the best rigid fit.
Honest: the stated p95 over the true one, and how often it covers it. Corners carry noise as measured
on simulated photos; ``--seconds`` makes photos and times the whole way. Losses are reported too.
"""

from __future__ import annotations

import argparse
import json
import platform
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace

import cv2
import numpy as np

from calibration.boards import Board, pattern, pattern_image
from calibration.camera import fit_map
from calibration.corners import Seen, detect
from calibration.photo import decode
from calibration.tape import (
    CrossSet,
    Distance,
    all_pairs,
    corner_crosses,
    grid_crosses,
    measured,
    solve,
)
from tests.calibration.rigs import CANVAS, rig, true_errors
from tests.calibration.simulator import (
    A3,
    PHONE,
    WEBCAM,
    Device,
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
FULL = pattern(CANVAS, hole_squares=None)
MAT = Board(21, 12, 50.0, 50.0)
NOISE_PX = 0.025
"""Corner noise of simulated photos: 0.015 on bare ones, more with less light and sharpness."""

Made = tuple[Scene, list[Seen], Board, bool]


@dataclass(frozen=True)
class Row:
    """One family of runs; mm, and ratios of stated to true p95."""

    family: str
    runs: int
    p95_median: float
    p95_worst_twentieth: float
    max: float
    ratio_median: float
    ratio_p90: float
    covered: float


def camera_families() -> dict[str, Callable[[np.random.Generator], Made]]:
    """Scenes by name. "plain": exact board, ideal or known lens; "careful": scale 0.02 % out, paper
    waving 0.3 mm and 0.1 mm high, every lens with terms the model does not know."""
    families: dict[str, Callable[[np.random.Generator], Made]] = {}
    for condition in ("plain", "careful"):
        for kind, name in ((WEBCAM, "webcam"), (PHONE, "phone")):
            for tilt in (15.0, 30.0):
                tag = f"{name} {tilt:.0f} {condition}"
                families[f"nine A3, {tag}"] = _fixed(A3, 9, kind, tilt, condition)
                families[f"one A3, {tag}"] = _held(1, kind, tilt, condition)
        families[f"full mat, webcam 15 {condition}"] = _fixed(MAT, 1, WEBCAM, 15.0, condition)
        families[f"five A3, webcam 15 {condition}"] = _fixed(A3, 5, WEBCAM, 15.0, condition)
        families[f"three photos by hand, webcam 20 {condition}"] = _held(3, WEBCAM, 20.0, condition)
    return families


def measure(family: str, make: Callable[[np.random.Generator], Made], runs: int) -> Row:
    """Run a family over seeds 0 .. runs - 1."""
    true, worst, said = [], [], []
    for seed in range(runs):
        scene, photos, board, fixed = make(np.random.default_rng(seed))
        fit = fit_map(photos, board, FULL if fixed else HOLED, fixed_camera=fixed)
        assert fit.table_map is not None
        assert fit.table_map.accuracy is not None
        errors = truth_errors(scene, fit.table_map)
        true.append(float(np.quantile(errors, 0.95)))
        worst.append(float(errors.max()))
        said.append(fit.table_map.accuracy.p95_mm)
    return _row(family, true, worst, said)


def tape_rows(runs: int) -> list[Row]:
    """The tape's families: tilt 15, standard error 0.5 mm, projector k1 drawn from N(0, 0.0015)."""
    four, nine = corner_crosses(CANVAS), grid_crosses(CANVAS)
    sides = [("A", "B"), ("B", "C"), ("C", "D"), ("D", "A"), ("A", "C"), ("B", "D")]
    long_ones = [("A", "C"), ("C", "I"), ("I", "G"), ("G", "A")]
    long_ones += [("A", "I"), ("C", "G"), ("B", "H"), ("D", "F")]
    sets: list[tuple[str, CrossSet, list[tuple[str, str]]]] = [
        ("four crosses, 5 distances", four, sides[:5]),
        ("four crosses, 6 distances", four, sides),
        ("nine crosses, 8 long ones", nine, long_ones),
        ("nine crosses, all 36", nine, list(all_pairs(nine))),
    ]
    rows = []
    for name, crosses, pairs in sets:
        true, worst, said = [], [], []
        for seed in range(runs):
            rng = np.random.default_rng(seed)
            truth = rig(15, k1=float(rng.normal(0, 0.0015)))
            lengths = measured(crosses, truth, pairs) + rng.normal(0, 0.5, len(pairs))
            readings = [Distance(a, b, float(d)) for (a, b), d in zip(pairs, lengths, strict=True)]
            found = solve(crosses, readings, CANVAS).table_map
            assert found.accuracy is not None
            errors = true_errors(found, truth)
            true.append(float(np.quantile(errors, 0.95)))
            worst.append(float(errors.max()))
            said.append(found.accuracy.p95_mm)
        rows.append(_row(f"tape: {name}", true, worst, said))
    return rows


def seconds() -> dict[str, float]:
    """Median seconds on this machine: a 12-megapixel photo, nine placements, a tape solution."""
    scene = Scene(projector(15), camera(PHONE, 22, -30), (centred(A3, 4),))
    photo = photograph(scene, HOLED_PICTURE, rng=np.random.default_rng(0), samples=1)

    def phone() -> None:
        fit_map([detect(decode(photo), A3, HOLED)], A3, HOLED)

    eye = camera(WEBCAM, 15, 20)
    white = np.full((1080, 1920), 255, np.uint8)
    rng = np.random.default_rng(1)
    laid = [
        photograph(Scene(projector(15), eye, (p,)), white, rng=rng, samples=1)
        for p in spread_places(A3, 9, reach=(330, 100))
    ]
    full = _picture_of_full(eye, rng)

    def nine() -> None:
        photos = [detect(decode(p), A3, None) for p in laid]
        photos.append(detect(decode(full), None, FULL))
        fit_map(photos, A3, FULL, fixed_camera=True)

    crosses, truth = grid_crosses(CANVAS), rig(15)
    pairs = list(all_pairs(crosses))
    readings = [
        Distance(a, b, float(d))
        for (a, b), d in zip(pairs, measured(crosses, truth, pairs), strict=True)
    ]
    return {
        "12-megapixel photo": _timed(phone, 5),
        "nine placements": _timed(nine, 3),
        "tape, 36 distances": _timed(lambda: solve(crosses, readings, CANVAS), 5),
    }


def main(arguments: list[str]) -> int:
    """Print the tables, or JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--runs", type=int, default=20)
    parser.add_argument("--seconds", action="store_true", help="time the whole way too")
    parser.add_argument("--only", default="", help="families whose name contains this")
    options = parser.parse_args(arguments)
    rows = []
    for name, make in camera_families().items():
        if options.only in name:
            rows.append(measure(name, make, options.runs))
            if not options.json:
                print(_line(rows[-1]), flush=True)
    if options.only in "tape":
        for row in tape_rows(options.runs):
            rows.append(row)
            if not options.json:
                print(_line(row), flush=True)
    times = seconds() if options.seconds else {}
    machine = {
        "python": platform.python_version(),
        "opencv": cv2.__version__,
        "numpy": np.__version__,
        "machine": platform.machine(),
    }
    if options.json:
        told = {"rows": [asdict(r) for r in rows], "seconds": times, "machine": machine}
        print(json.dumps(told, indent=1))
    else:
        for name, took in times.items():
            print(f"{name}: {took:.2f} s")
        print(machine)
    return 0


def _fixed(
    board: Board, places: int, kind: tuple[int, int, float], tilt: float, condition: str
) -> Callable[[np.random.Generator], Made]:
    """Camera on a stand: one photo a placement, and one of the full pattern."""

    def make(rng: np.random.Generator) -> Made:
        true = _printed(board, condition, rng)
        laid = [
            _as_laid(replace(p, board=true), condition, rng) for p in spread_places(board, places)
        ]
        eye = camera(
            kind, tilt + rng.uniform(-3, 3), rng.uniform(-40, 40), optics=_lens(condition, rng)
        )
        light = projector(15, optics=_light(condition, rng))
        photos = [observed(Scene(light, eye, (p,)), None, rng=rng, noise_px=NOISE_PX) for p in laid]
        bare = Scene(light, eye, ())
        photos.append(observed(bare, FULL, rng=rng, noise_px=NOISE_PX, printed=None))
        return bare, photos, board, True

    return make


def _held(
    photos: int, kind: tuple[int, int, float], tilt: float, condition: str
) -> Callable[[np.random.Generator], Made]:
    """Camera in the hand: both boards in each photo, from different sides."""

    def make(rng: np.random.Generator) -> Made:
        true = _printed(A3, condition, rng)
        lens = _lens(condition, rng)
        light = projector(15, optics=_light(condition, rng))
        seen = []
        scene = Scene(light, camera(), ())
        for n in range(photos):
            # Not from where the projector is: then the two lenses could not be told apart.
            side = -30 + 30 * n + rng.uniform(-8, 8)
            eye = camera(kind, tilt + rng.uniform(-3, 3), side, optics=lens)
            at = (rng.uniform(-20, 20), rng.uniform(-8, 8))
            place = replace(centred(A3, rng.uniform(-8, 8), at), board=true)
            scene = Scene(light, eye, (_as_laid(place, condition, rng),))
            seen.append(observed(scene, HOLED, rng=rng, noise_px=NOISE_PX))
        return scene, seen, A3, False

    return make


def _printed(board: Board, condition: str, rng: np.random.Generator) -> Board:
    if condition == "plain":
        return board
    sx, sy = 1 + 2e-4 * rng.choice([-1, 1], 2)
    return replace(board, square_x_mm=board.square_x_mm * sx, square_y_mm=board.square_y_mm * sy)


def _as_laid(place: Placement, condition: str, rng: np.random.Generator) -> Placement:
    if condition == "plain":
        return place
    return replace(place, lift_mm=0.1, wave_mm=0.3, phase=float(rng.uniform(0, 6)))


def _lens(condition: str, rng: np.random.Generator) -> Optics | None:
    if condition == "plain":
        return None
    return Optics(rng.uniform(0.02, 0.12), rng.uniform(0, 0.04), 0.01, *rng.normal(0, 8e-4, 2))


def _light(condition: str, rng: np.random.Generator) -> Optics:
    if condition == "plain":
        return Optics()
    return Optics(rng.normal(0, 0.005), rng.normal(0, 0.003), 0, *rng.normal(0, 5e-4, 2))


def _picture_of_full(eye: Device, rng: np.random.Generator) -> bytes:
    return photograph(Scene(projector(15), eye, ()), pattern_image(FULL), rng=rng, samples=1)


def _row(family: str, true: list[float], worst: list[float], said: list[float]) -> Row:
    ratio = np.array(said) / np.array(true)
    return Row(
        family,
        len(true),
        float(np.median(true)),
        float(np.quantile(true, 0.95)),
        max(worst),
        float(np.median(ratio)),
        float(np.quantile(ratio, 0.9)),
        float(np.mean(ratio >= 1)),
    )


def _line(r: Row) -> str:
    return (
        f"{r.family:42s} p95 {r.p95_median:.3f} worst 5 % {r.p95_worst_twentieth:.3f} "
        f"max {r.max:.2f} mm | stated/true {r.ratio_median:.2f} p90 {r.ratio_p90:.2f} "
        f"covered {100 * r.covered:.0f} %"
    )


def _timed(work: Callable[[], object], times: int) -> float:
    took = []
    for _ in range(times):
        started = time.perf_counter()
        work()
        took.append(time.perf_counter() - started)
    return statistics.median(took)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
