"""The only door to pyclipper: floats in mm go in and out, integers stay inside.

pyclipper truncates floats, so every coordinate is scaled and rounded here first.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyclipper

from nesting.polygon import FloatArray, as_points
from nesting.tolerance import SNAP_MM


def union(
    rings: Sequence[FloatArray], *, fill: str = "nonzero", grid: float = SNAP_MM
) -> list[FloatArray]:
    """Union of closed (N, 2) rings; outer rings come counter-clockwise, holes clockwise.

    ``fill`` is ``nonzero``, ``positive`` (loops that run clockwise vanish) or ``evenodd``; ``grid``
    is the snapping grid in mm.
    """
    rule = {
        "nonzero": pyclipper.PFT_NONZERO,
        "positive": pyclipper.PFT_POSITIVE,
        "evenodd": pyclipper.PFT_EVENODD,
    }[fill]
    clipper = pyclipper.Pyclipper()
    paths = [np.rint(np.asarray(r) / grid).astype(np.int64).tolist() for r in rings]
    clipper.AddPaths(paths, pyclipper.PT_SUBJECT, True)
    return [
        as_points(np.array(p, dtype=float) * grid)
        for p in clipper.Execute(pyclipper.CT_UNION, rule, rule)
    ]
