"""The tape solver against published geometry.

Four points lie in a plane exactly when the Cayley-Menger determinant of their six distances is 0
(Blumenthal, Theory and Applications of Distance Geometry, 1953; Sommerville, An Introduction to the
Geometry of n Dimensions, 1929). The area of a triangle follows from the determinant of three (that
is Heron's formula), a cyclic quadrilateral obeys Ptolemy's theorem (Almagest I.10).
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from calibration.tape import Distance, all_pairs, corner_crosses, solve
from tests.calibration.rigs import CANVAS, rig
from tests.calibration.test_tape import SIX, read

pytestmark = pytest.mark.external


def cayley_menger(d: np.ndarray) -> float:
    """Determinant of the bordered matrix of squared distances ``d`` (n, n)."""
    n = len(d)
    m = np.ones((n + 1, n + 1))
    m[0, 0] = 0
    m[1:, 1:] = d**2
    return float(np.linalg.det(m))


def distances_of(places: np.ndarray) -> np.ndarray:
    return np.linalg.norm(places[:, None] - places[None, :], axis=2)


@pytest.mark.parametrize("seed", range(5))
def test_solved_crosses_lie_in_a_plane(seed: int) -> None:
    """Readings off by 0.5 mm break the identity (they span a thin tetrahedron, or none at all);
    the distances of the solved crosses keep it."""
    crosses = corner_crosses(CANVAS)
    distances = read(crosses, rig(20), SIX, sigma_mm=0.5, seed=seed)
    raw = np.zeros((4, 4))
    for d in distances:
        i, j = "ABCD".index(d.a), "ABCD".index(d.b)
        raw[i, j] = raw[j, i] = d.mm / 1000
    solved = distances_of(np.array(solve(crosses, distances, CANVAS).positions_mm)) / 1000
    assert abs(cayley_menger(solved)) < 1e-9
    assert abs(cayley_menger(raw)) > 1e-5


def test_areas_of_the_solved_triangles_are_heron_s() -> None:
    """16 area^2 = -CM of three points; here from the typed distances, there from the solved places."""
    crosses = corner_crosses(CANVAS)
    distances = read(crosses, rig(25), list(all_pairs(crosses)))
    typed = {frozenset((d.a, d.b)): d.mm for d in distances}
    at = dict(zip("ABCD", solve(crosses, distances, CANVAS).positions_mm, strict=True))
    for a, b, c in combinations("ABCD", 3):
        sides = [typed[frozenset(p)] for p in combinations((a, b, c), 2)]
        s = sum(sides) / 2
        heron = np.sqrt(s * np.prod([s - x for x in sides]))
        (ax, ay), (bx, by), (cx, cy) = at[a], at[b], at[c]
        area = abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay)) / 2
        assert area == pytest.approx(heron, rel=1e-6)


def test_a_rectangle_by_the_3_4_5_rule() -> None:
    """The carpenter's rule: 900 by 1200 has diagonals of 1500 exactly; the solver returns a square
    corner. Ptolemy: AC * BD = AB * CD + BC * DA."""
    sides = [("A", "B", 1200), ("B", "C", 900), ("C", "D", 1200), ("D", "A", 900)]
    diagonals = [("A", "C", 1500), ("B", "D", 1500)]
    result = solve(
        corner_crosses((1600, 1200), inset=0.0625),
        [Distance(a, b, mm) for a, b, mm in sides + diagonals],
        (1600, 1200),
    )
    expected = [(0, 0), (1200, 0), (1200, 900), (0, 900)]
    np.testing.assert_allclose(result.positions_mm, expected, atol=1e-4)
    d = distances_of(np.array(result.positions_mm))
    assert d[0, 2] * d[1, 3] == pytest.approx(d[0, 1] * d[2, 3] + d[1, 2] * d[3, 0], rel=1e-6)
