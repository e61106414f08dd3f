from __future__ import annotations

import itertools

import numpy as np
import pytest

from nesting.engine.dual import beside, functions_of, steps

EVERY = functions_of(k / 24 for k in range(1, 13))


@pytest.mark.parametrize("parts", range(2, 13))
def test_no_shares_of_a_whole_count_more_than_one(parts: int) -> None:
    """All ways to cut a whole into so many equal units and pack these into shares: each partition."""
    for sizes in _partitions(parts):
        assert (EVERY.at(np.array(sizes) / parts - 1e-9).sum(axis=1) <= 1 + 1e-12).all()


@pytest.mark.parametrize("seed", range(40))
def test_no_random_shares_count_more_than_one(seed: int) -> None:
    rng = np.random.default_rng(seed)
    shares = rng.dirichlet(np.full(int(rng.integers(2, 9)), rng.choice([0.5, 1.0, 5.0])))
    own = functions_of([*(k / 24 for k in range(1, 13)), *shares])
    assert (own.at(shares - 1e-9).sum(axis=1) <= 1 + 1e-12).all()


def test_functions_never_decrease_and_stay_within_one() -> None:
    values = EVERY.at(np.linspace(0.0, 1.0, 2001))
    assert (np.diff(values, axis=1) >= -1e-12).all()
    assert values.min() >= 0.0
    assert values.max() <= 1.0 + 1e-12


def test_values_worked_by_hand() -> None:
    # Three of 0.34 do not go together, so each counts a half; two of 0.51 do not, so each counts one.
    assert EVERY.at(np.array([0.34])).max() == pytest.approx(0.5)
    assert EVERY.at(np.array([0.51])).max() == pytest.approx(1.0)
    assert steps(2) == pytest.approx({1 / 3: 0.5, 2 / 3: 0.5})
    # Units of 0.3: three fit; beside 0.65 one fits, so it counts the two others; 0.3 counts a third.
    rises = beside(0.3)
    assert sum(r for t, r in rises.items() if t < 0.65) == pytest.approx(2 / 3)
    assert sum(r for t, r in rises.items() if t < 0.31) == pytest.approx(1 / 3)


def _partitions(n: int, most: int | None = None) -> list[list[int]]:
    most = n if most is None else most
    if n == 0:
        return [[]]
    parts = itertools.chain.from_iterable(
        ([k, *rest] for rest in _partitions(n - k, k)) for k in range(1, min(n, most) + 1)
    )
    return list(parts)
