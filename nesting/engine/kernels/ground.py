"""The static data of a search, packed in arrays that every kernel takes as one argument, and how
kernels are compiled."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numba import njit
from numpy.typing import NDArray

F64 = NDArray[np.float64]
F32 = NDArray[np.float32]
I64 = NDArray[np.int64]
I32 = NDArray[np.int32]
F = TypeVar("F", bound=Callable[..., Any])


STARTS = 3
"""Descents a body's search for a place goes on with."""
CONTACT_LINES = 24


def hot(kernel: F) -> F:
    """Compile a kernel that allocates nothing.

    By default every call takes and gives back a reference to each array of its arguments, atomically:
    with 20 arrays a call that cost more than the work itself (the engine ran 2.5 times as fast
    without). The caller holds all arrays meanwhile, so nothing is lost. A numba that does not know
    the switch any more compiles in the usual way.
    """
    compiler: Any = njit
    try:
        compiled: F = compiler(cache=True, error_model="numpy", _nrt=False)(kernel)
    except (KeyError, TypeError, ValueError):
        compiled = compiler(cache=True, error_model="numpy")(kernel)
    return compiled


class Ground(NamedTuple):
    """m shapes (walls last), n bodies (movable first), F depth fields, P options.

    ``pair_field`` (m, m): field of the no-fit polygon of the second shape about the first.
    ``pair_map`` (m, m, 6): from the pair's offset (x, y) to the field's cells, (p0 x + p1 y + p2,
    p3 x + p4 y + p5); an element of the square's symmetry, a scale and a shift.
    ``pair_cells`` (m, m, 4): the field's row of ``cells``.
    ``grid`` (F, 3): x0, y0, cell; ``cells`` (F, 4): nx, ny, first corner, first cell.
    ``corner`` depth at cell corners (negative outside); ``cell`` -1 outside, -2 inside, else where
    its edge list starts in ``near``: 2 * count + (centre inside), then edge numbers.
    ``edge`` (E, 5): x, y of both ends and 1 / length squared.
    ``half`` (m, 2): half boxes, grown so that boxes of pieces that keep their gap do not meet.
    ``option`` (P, 11): x0, x1, y0, y1, half width; period, phase, tolerance along x, then y.
    ``option_shape`` (P,). ``first_option`` (movable + 1,). ``size`` (movable,): smaller half side.
    ``scale`` (n, n): weight of a pair's depth by their areas. ``touch``: depth that counts as none.
    """

    pair_field: I32
    pair_map: F64
    pair_cells: I64
    grid: F64
    cells: I64
    corner: F32
    cell: I32
    near: I32
    edge: F64
    half: F64
    option: F64
    option_shape: I64
    first_option: I64
    size: F64
    scale: F64
    touch: float


class State(NamedTuple):
    """What a search changes: ``at`` (n, 2) box centres, ``shape`` (n,), ``chosen`` (n,) options,
    ``weight`` (n, n) pair weights, ``random`` (1,) the random source's state; and room to work in,
    which holds nothing between calls: ``row`` (n, 4) boxes (x, y and half sides) from left to right and
    ``row_body`` (n,) whose they are, ``close`` (n,) bodies near a place, ``order`` (n,), ``spot`` (3,),
    ``tries`` (STARTS, 3) and ``tried`` (STARTS,) places looked at (x, y, loss) and their options,
    ``lines`` (CONTACT_LINES + 4, 4)."""

    at: F64
    shape: I64
    chosen: I64
    weight: F64
    random: I64
    row: F64
    row_body: I64
    close: I64
    order: I64
    spot: F64
    tries: F64
    tried: I64
    lines: F64


def make_state(at: F64, shape: I64, chosen: I64, weight: F64, seed: int) -> State:
    """A state of n bodies with its room to work in. ``seed`` must not be 0."""
    n = len(at)
    return State(
        at,
        shape,
        chosen,
        weight,
        np.array([seed], np.int64),
        np.zeros((n, 4)),
        np.arange(n, dtype=np.int64),
        np.zeros(n, np.int64),
        np.zeros(n, np.int64),
        np.zeros(3),
        np.zeros((STARTS, 3)),
        np.zeros(STARTS, np.int64),
        np.zeros((CONTACT_LINES + 4, 4)),
    )
