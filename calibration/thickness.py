"""Cloth has height: light aimed at the table lands short of it on the cloth, toward the projector.

With the projector's foot point N on the table and its height H above it, a ray aimed at the place T
of the table meets cloth of thickness h at X = T + (N - T) h / H, a shift of h tan(theta) toward N
(similar triangles). To land at X, aim at T = N + (X - N) H / (H - h): a stretch about N.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from calibration.errors import MapError
from calibration.homography import Array
from calibration.table_map import TableMap

THICKEST_SHARE = 0.1
"""Cloth more than a tenth as high as the projector hangs is a slip of the keyboard."""


@dataclass(frozen=True, slots=True)
class Above:
    """Where the projector's lens is: over ``foot_mm`` on the table, ``height_mm`` above it."""

    foot_mm: tuple[float, float]
    height_mm: float


def above_light(table_map: TableMap, *, right_mm: float, away_mm: float, height_mm: float) -> Above:
    """The lens by what a person can measure: the point under it so far to the right of the near left
    corner of the light and so far away from there (table x and y), and its height."""
    _, h = table_map.canvas_px
    x, y = table_map.to_table([(0.0, float(h))])[0].tolist()
    return Above((x + right_mm, y + away_mm), height_mm)


def shift(places: ArrayLike, thickness_mm: float, above: Above) -> Array:
    """Shift (N, 2) in mm, toward the foot point, of light aimed at ``places`` (N, 2)."""
    _check(thickness_mm, above)
    xy = np.asarray(places, dtype=np.float64).reshape(-1, 2)
    moved: Array = (np.array(above.foot_mm) - xy) * (thickness_mm / above.height_mm)
    return moved


def on_cloth(table_map: TableMap, thickness_mm: float, above: Above) -> TableMap:
    """The map for the upper side of cloth ``thickness_mm`` thick, from one made on the bare table.

    The trusted outline and the stated error are kept. Raises MapError for impossible numbers.
    """
    _check(thickness_mm, above)
    nx, ny = above.foot_mm
    f = above.height_mm / (above.height_mm - thickness_mm)
    aim_from_cloth = np.array([[f, 0, nx * (1 - f)], [0, f, ny * (1 - f)], [0, 0, 1.0]])
    return replace(table_map, projector_from_table=table_map.projector_from_table @ aim_from_cloth)


def largest_shift(table_map: TableMap, thickness_mm: float, above: Above) -> float:
    """Largest shift in mm over the lit table: what is wrong before the correction."""
    return float(
        np.max(np.linalg.norm(shift(table_map.lit_outline(), thickness_mm, above), axis=1))
    )


def left_over(table_map: TableMap, above: Above, *, thickness_sigma_mm: float = 0.3) -> float:
    """Largest error in mm that stays after the correction if the thickness is that uncertain."""
    return largest_shift(table_map, thickness_sigma_mm, above)


def from_two_planes(low: TableMap, high: TableMap, slab_mm: float) -> Above:
    """Height and foot point from two maps of one projector: on the table, and on a flat slab.

    Both maps in one table frame (the same crosses, or a board at the same marks). The two give, for
    each canvas place, two points of one ray; rays meet in the lens. Least squares over the canvas.
    Raises MapError when the maps are of different canvases or the slab is too thin to tell.
    """
    if low.canvas_px != high.canvas_px:
        raise MapError("The two maps are of different canvases.", code="map.canvas")
    if not (math.isfinite(slab_mm) and slab_mm >= 5):
        raise MapError(
            f"A slab of {slab_mm:g} mm is too thin to tell the projector's height from.",
            code="map.slab",
            where="slab",
            hint="Use a flat board or book 20 to 50 mm thick.",
        )
    w, h = low.canvas_px
    gx, gy = np.meshgrid(np.linspace(0.05, 0.95, 7) * w, np.linspace(0.05, 0.95, 7) * h)
    canvas = np.stack([gx.ravel(), gy.ravel()], axis=1)
    table, raised = low.to_table(canvas), high.to_table(canvas)
    # raised - table = s (N - table), s = slab / H: linear in (s, s N).
    rows = np.zeros((2 * len(table), 3))
    rows[0::2, 0], rows[0::2, 1] = -table[:, 0], 1
    rows[1::2, 0], rows[1::2, 2] = -table[:, 1], 1
    (s, sx, sy), *_ = np.linalg.lstsq(rows, (raised - table).ravel(), rcond=None)
    if not slab_mm / 20_000 < s < 1:
        raise MapError(
            "The two maps do not differ as a slab would make them.",
            code="map.slab",
            where="slab",
            hint="Measure both again, with the same marks and the projector untouched between.",
        )
    return Above((float(sx / s), float(sy / s)), float(slab_mm / s))


def shape_error(table_map: TableMap, thickness_mm: float, above: Above) -> float:
    """Largest error in mm of the uncorrected picture once it is moved and turned to fit best."""
    outline = table_map.lit_outline()
    wrong = outline + shift(outline, thickness_mm, above)
    a, b = wrong - wrong.mean(axis=0), outline - outline.mean(axis=0)
    u, _, vt = np.linalg.svd(a.T @ b)
    return float(np.max(np.linalg.norm(a @ (u @ vt) - b, axis=1)))


def _check(thickness_mm: float, above: Above) -> None:
    if not (math.isfinite(above.height_mm) and above.height_mm > 0):
        raise MapError(
            "The projector's height above the table must be more than 0 mm.",
            code="map.height",
            where="height",
        )
    if not 0 <= thickness_mm <= THICKEST_SHARE * above.height_mm:
        raise MapError(
            f"Cloth {thickness_mm:g} mm thick under a projector {above.height_mm:g} mm up cannot be.",
            code="map.thickness",
            where="thickness",
            hint="Type the height of the whole pile of plies in mm, and the lens' height by tape.",
        )


def plies_height(thickness_mm: float, plies: int) -> float:
    """Height in mm of a pile of plies."""
    if plies < 1:
        raise MapError(f"{plies} plies make no pile.", code="map.plies", where="plies")
    return thickness_mm * plies


__all__ = [
    "Above",
    "from_two_planes",
    "largest_shift",
    "left_over",
    "on_cloth",
    "plies_height",
    "shape_error",
    "shift",
]
