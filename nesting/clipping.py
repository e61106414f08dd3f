"""The only door to pyclipper: regions, unions, differences and offsets on a grid of integers.

A *region* is a list of closed (N, 2) rings, outer rings counter-clockwise and holes clockwise.
Points are rounded to multiples of ``grid`` (mm) before clipping, because the library truncates.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from enum import Enum
from typing import Any, Final, TypeAlias

import numpy as np
import pyclipper

from nesting.polygon import FloatArray, as_points
from nesting.tolerance import SNAP_MM

Region: TypeAlias = list[FloatArray]

LARGEST: Final = 2**61
"""Greatest integer coordinate handed on; the library refuses more than 2**62."""


class Fill(Enum):
    """Which windings count as inside."""

    EVEN_ODD = pyclipper.PFT_EVENODD
    NON_ZERO = pyclipper.PFT_NONZERO
    POSITIVE = pyclipper.PFT_POSITIVE


class Join(Enum):
    """How an offset turns a corner."""

    ROUND = pyclipper.JT_ROUND
    MITRE = pyclipper.JT_MITER
    SQUARE = pyclipper.JT_SQUARE


def union(
    rings: Iterable[FloatArray],
    *,
    fill: Fill = Fill.NON_ZERO,
    grid: float = SNAP_MM,
    keep_collinear: bool = False,
) -> Region:
    """The union of closed rings under a fill rule; points within a straight line are dropped unless
    ``keep_collinear``."""
    return _clip(pyclipper.CT_UNION, rings, (), fill, grid, keep_collinear=keep_collinear)


def difference(
    rings: Iterable[FloatArray],
    minus: Iterable[FloatArray],
    *,
    fill: Fill = Fill.NON_ZERO,
    grid: float = SNAP_MM,
    keep_collinear: bool = False,
) -> Region:
    """``rings`` without ``minus``."""
    return _clip(pyclipper.CT_DIFFERENCE, rings, minus, fill, grid, keep_collinear=keep_collinear)


def intersection(
    rings: Iterable[FloatArray],
    others: Iterable[FloatArray],
    *,
    fill: Fill = Fill.NON_ZERO,
    grid: float = SNAP_MM,
    keep_collinear: bool = False,
) -> Region:
    """What ``rings`` and ``others`` share."""
    return _clip(
        pyclipper.CT_INTERSECTION, rings, others, fill, grid, keep_collinear=keep_collinear
    )


ARC_ROUNDING = 2.25
"""The clipper rounds the number of chords of an arc to the nearest whole one, so that a chord may span
one and a half times the angle that the error allows: 1.5 squared times the error."""


def offset(
    rings: Iterable[FloatArray],
    distance: float,
    *,
    join: Join = Join.ROUND,
    mitre_limit: float = 2.0,
    chord: float = SNAP_MM,
    grid: float = SNAP_MM,
) -> Region:
    """The region grown by ``distance`` mm (shrunk if negative).

    Round joins are polylines whose chords lie at most ``chord`` mm inside the true arc; a mitre
    longer than ``mitre_limit`` times the distance is squared off.
    """
    tool = pyclipper.PyclipperOffset(mitre_limit, max(chord / grid / ARC_ROUNDING, 0.25))
    added = False
    for ring in rings:
        if len(ring) >= 3:
            tool.AddPath(_to_grid(ring, grid), join.value, pyclipper.ET_CLOSEDPOLYGON)
            added = True
    return _from_grid(tool.Execute(distance / grid), grid) if added else []


def _clip(
    kind: int,
    rings: Iterable[FloatArray],
    clips: Iterable[FloatArray],
    fill: Fill,
    grid: float,
    *,
    keep_collinear: bool = False,
) -> Region:
    tool = pyclipper.Pyclipper()
    tool.PreserveCollinear = keep_collinear
    subjects = _add(tool, rings, pyclipper.PT_SUBJECT, grid)
    others = _add(tool, clips, pyclipper.PT_CLIP, grid)
    if not subjects or (kind == pyclipper.CT_INTERSECTION and not others):
        return []
    return _from_grid(tool.Execute(kind, fill.value, fill.value), grid)


def _add(tool: Any, rings: Iterable[FloatArray], role: int, grid: float) -> bool:
    added = False
    for ring in rings:
        path = _to_grid(ring, grid)
        try:
            tool.AddPath(path, role, True)
            added = True
        except pyclipper.ClipperException:
            # The library refuses a ring that has no area on its grid; nothing is lost with it.
            continue
    return added


def _to_grid(ring: FloatArray, grid: float) -> list[list[int]]:
    scaled = np.rint(ring / grid)
    if len(scaled) and float(np.abs(scaled).max()) > LARGEST:
        raise ValueError("coordinates are too large for the clipping grid")
    path: list[list[int]] = scaled.astype(np.int64).tolist()
    return path


def _from_grid(paths: Sequence[Any], grid: float) -> Region:
    return [as_points(np.array(path, dtype=float) * grid) for path in paths if len(path) >= 3]
