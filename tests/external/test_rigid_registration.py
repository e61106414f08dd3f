"""Shift and turn by least squares, against published ground.

Arun, Huang and Blostein, Least-Squares Fitting of Two 3-D Point Sets, IEEE PAMI 9 (1987) 698-700, has
the solution by singular values that calibration/rigid.py uses. Horn, Closed-form solution of absolute
orientation using unit quaternions, JOSA A 4 (1987) 629-642, reaches the same by another road: in the
plane, the turn is the angle of the sum of products of centred places taken as complex numbers, which
is worked out here. scipy.linalg.orthogonal_procrustes and scipy.spatial.transform.Rotation.align_vectors
(Kabsch, Acta Cryst. A32, 1976, 922-923) are general libraries that solve the same. Formulas from memory,
compared with one another.
"""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from scipy.linalg import orthogonal_procrustes
from scipy.spatial.transform import Rotation

from calibration.homography import Array
from calibration.rigid import fit_rigid


def scattered(seed: int, n: int) -> tuple[Array, Array, float, Array]:
    rng = np.random.default_rng(seed)
    here = rng.uniform(-600, 600, (n, 2))
    t = rng.uniform(-math.pi, math.pi)
    turn = np.array([[math.cos(t), -math.sin(t)], [math.sin(t), math.cos(t)]])
    shift = rng.uniform(-50, 50, 2)
    return here, here @ turn.T + shift + rng.normal(0, 2, (n, 2)), t, shift


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("n", [3, 4, 54])
def test_turn_is_that_of_horn_of_kabsch_and_of_procrustes(seed: int, n: int) -> None:
    here, there, _, _ = scattered(seed, n)
    found = fit_rigid(here, there)
    a, b = here - here.mean(axis=0), there - there.mean(axis=0)

    complex_a, complex_b = a[:, 0] + 1j * a[:, 1], b[:, 0] + 1j * b[:, 1]
    horn = cmath.phase((np.conj(complex_a) * complex_b).sum())
    assert math.radians(found.turn_deg) == pytest.approx(horn, abs=1e-9)

    flat = np.zeros(n)
    kabsch, _ = Rotation.align_vectors(np.column_stack([b, flat]), np.column_stack([a, flat]))
    assert found.turn_deg == pytest.approx(kabsch.as_euler("xyz", degrees=True)[2], abs=1e-6)

    matrix, _ = orthogonal_procrustes(a, b)
    assert np.linalg.det(matrix) > 0, "no mirror image fits these better"
    assert found.apply(here) == pytest.approx(a @ matrix + there.mean(axis=0), abs=1e-7)


def test_exact_places_are_met_exactly_and_noise_is_left_as_residual() -> None:
    here, there, turn, shift = scattered(1, 4)
    exact = here @ np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]]).T
    found = fit_rigid(here, exact + shift)
    assert found.shift_mm == pytest.approx(shift, abs=1e-9)
    assert math.radians(found.turn_deg) == pytest.approx(turn, abs=1e-12)
    assert np.abs(found.left_mm).max() < 1e-9
    assert found.growth == pytest.approx(1, abs=1e-12)
    # The residual is the least there is: any other turn leaves more.
    best = (fit_rigid(here, there).left_mm ** 2).sum()
    for more in (-1e-3, 1e-3):
        t = math.radians(fit_rigid(here, there).turn_deg) + more
        turned = here @ np.array([[math.cos(t), -math.sin(t)], [math.sin(t), math.cos(t)]]).T
        left = there - turned - (there - turned).mean(axis=0)
        assert (left**2).sum() > best
