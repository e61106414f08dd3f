from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.cutting.register import register
from nesting.errors import LayError

LIT = [(40.0, 40.0), (1100.0, 700.0), (40.0, 700.0)]


@given(st.floats(-50, 50), st.floats(-50, 50), st.floats(-4.9, 4.9))
def test_a_rigid_motion_is_found_again(dx: float, dy: float, turn: float) -> None:
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    moved = [(c * x - s * y + dx, s * x + c * y + dy) for x, y in LIT]
    found = register(LIT, moved)
    assert (found.dx_mm, found.dy_mm, found.turn_deg) == pytest.approx((dx, dy, turn), abs=1e-7)
    assert found.residual_mm == pytest.approx(0.0, abs=1e-7)
    assert found.matrix() @ (*LIT[1], 1.0) == pytest.approx((*moved[1], 1.0))


def test_the_motion_agrees_with_a_general_library() -> None:
    """scipy's Rotation.align_vectors solves the same least squares (Wahba's problem)."""
    from scipy.spatial.transform import Rotation

    rng = np.random.default_rng(3)
    lit = np.array(LIT)
    chalked = lit + rng.normal(0, 2, lit.shape) + (5, -3)
    a, b = lit - lit.mean(axis=0), chalked - chalked.mean(axis=0)
    flat = [np.column_stack([v, np.zeros(3)]) for v in (b, a)]
    rotation, _ = Rotation.align_vectors(flat[0], flat[1])
    found = register([tuple(p) for p in lit], [tuple(p) for p in chalked])
    assert found.turn_deg == pytest.approx(rotation.as_euler("xyz", degrees=True)[2], abs=1e-6)


def test_stretched_cloth_shows_as_residual() -> None:
    found = register(LIT[:2], [(40.0, 40.0), (1104.0, 700.0)])
    assert 1.5 < found.residual_mm < 2.0


def test_what_cannot_be_a_small_turn_is_refused() -> None:
    with pytest.raises(LayError, match="turned by"):
        register(LIT, [(y, -x) for x, y in LIT])
    with pytest.raises(LayError, match="two crosses"):
        register(LIT[:1], LIT[:1])
    with pytest.raises(LayError, match="too close"):
        register([(0, 0), (10, 0)], [(0, 0), (10, 0)])
