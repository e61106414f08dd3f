"""The eight ways of quarter turns and mirroring: tables that let one no-fit polygon serve many pairs.

Element ``k`` is: mirror in the x axis if ``k >= 4``, then turn by ``k % 4`` quarters.
"""

from __future__ import annotations

from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

IntArray: TypeAlias = NDArray[np.int64]


def _matrices() -> IntArray:
    quarter = np.array([[0, -1], [1, 0]])
    mirror = np.array([[1, 0], [0, -1]])
    turns = [np.linalg.matrix_power(quarter, k) for k in range(4)]
    return np.array(turns + [t @ mirror for t in turns], dtype=np.int64)


MATRICES: Final[IntArray] = _matrices()
"""(8, 2, 2); apply to points as ``points @ MATRICES[k].T``."""


def _find(matrix: IntArray) -> int:
    return next(k for k in range(8) if np.array_equal(MATRICES[k], matrix))


PRODUCT: Final[tuple[tuple[int, ...], ...]] = tuple(
    tuple(_find(a @ b) for b in MATRICES) for a in MATRICES
)
"""``PRODUCT[g][h]``: first h, then g."""

INVERSE: Final[tuple[int, ...]] = tuple(_find(m.T) for m in MATRICES)

HALF_TURN: Final = 2
MIRROR: Final = 4


def moved(ring: IntArray, element: int) -> IntArray:
    """The counter-clockwise (N, 2) ring under an element, again counter-clockwise."""
    points = ring @ MATRICES[element].T
    return np.ascontiguousarray(points[::-1] if element >= MIRROR else points)


def canonical(ring: IntArray) -> tuple[IntArray, int]:
    """The smallest of the ring's eight images (by its points read from the smallest one on), and the
    element that leads from that image back to ``ring``."""
    images = [_rolled(moved(ring, k)) for k in range(8)]
    best = min(range(8), key=lambda k: images[k].ravel().tolist())
    return images[best], INVERSE[best]


def _rolled(ring: IntArray) -> IntArray:
    start = int(np.lexsort((ring[:, 1], ring[:, 0]))[0])
    return np.roll(ring, -start, axis=0)
