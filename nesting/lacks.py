"""What the cloth lacks: flaws and missing parts, from the tape's frame into that of a lay.

A tape measures the opened, unwashed cloth from its raw end and from the outer edge of the near selvedge;
a lay counts from the squared end and from the selvedge's inner edge or the fold, after the wash. In
two plies a spot is in the way wherever either ply has it, so it is seen on both sides of the fold.
Lengths mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from shapely import Polygon, affinity, box

from nesting.cloth import Cloth, Spot, SpotKind
from nesting.polygon import FloatArray, as_points, counter_clockwise
from nesting.tolerance import CONTACT_MM

FAR_MM = 1e7
"""Further along than any cloth."""


@dataclass(frozen=True, slots=True, eq=False)
class Lack:
    """A convex stretch that nothing may touch: ``outline`` (N, 2), counter-clockwise, in the frame of
    the lay; ``zone`` is the stretch of the lay that it lies in."""

    kind: SpotKind
    outline: FloatArray
    name: str = ""
    zone: str = ""


class Across(Protocol):
    """A stretch across the cloth as spread: a band of the lay, or a zone of the layout."""

    @property
    def id(self) -> str: ...
    @property
    def y0(self) -> float: ...
    @property
    def y1(self) -> float: ...
    @property
    def plies(self) -> int: ...
    @property
    def fold_edges(self) -> tuple[str, ...]: ...


class Stretch(Across, Protocol):
    """A zone of a layout: an Across that begins and ends along the cloth."""

    @property
    def x0(self) -> float: ...
    @property
    def x1(self) -> float: ...


def lacks_of(cloth: Cloth) -> tuple[Lack, ...]:
    """What the opened cloth lacks: x from the squared end, y from the near selvedge's inner edge."""
    found = [Lack(s.kind, _rectangle(cloth, s), s.name) for s in cloth.spots]
    slant = _slant(cloth)
    if slant is not None:
        found.append(Lack(SpotKind.MISSING, slant, "slanted end"))
    return tuple(found)


def lacks_in(
    cloth: Cloth, band: Across, start: float = 0.0, end: float = FAR_MM
) -> tuple[Lack, ...]:
    """What the cloth lacks inside a band or zone, from x = ``start`` to ``end``, in the frame of the lay.

    A spot shows once for each ply that has it. The fold's place on the opened cloth follows from the
    band: every fold doubles the cloth about the line that bounds the band. Not for a crosswise fold.
    """
    room = box(start, band.y0, end, band.y1)
    found = []
    for lack in lacks_of(cloth):
        for scale, shift in _plies(band):
            seen = affinity.affine_transform(Polygon(lack.outline), [1, 0, 0, scale, 0, shift])
            part = seen.intersection(room)
            if isinstance(part, Polygon) and part.area > CONTACT_MM:
                ring = counter_clockwise(as_points(np.array(part.exterior.coords[:-1])))
                found.append(replace(lack, outline=ring, zone=band.id))
    return tuple(found)


def lacks_of_zones(cloth: Cloth, zones: Sequence[Stretch]) -> tuple[Lack, ...]:
    """What the cloth lacks, zone by zone. The last ones go on to the end of the cloth."""
    last = max((z.x1 for z in zones), default=0.0)
    return tuple(
        lack for z in zones for lack in lacks_in(cloth, z, z.x0, FAR_MM if z.x1 >= last else z.x1)
    )


def holes_in(cloth: Cloth, bands: tuple[Across, ...], start: float = 0.0) -> tuple[FloatArray, ...]:
    """The same for all bands of a strip that begins at ``start``, counted from there."""
    return tuple(
        as_points(lack.outline - (start, 0.0)) for b in bands for lack in lacks_in(cloth, b, start)
    )


def clean_length(cloth: Cloth, x0: float, x1: float) -> float:
    """The longest stretch between x0 and x1 over which the opened cloth lacks nothing, mm."""
    best, clear = 0.0, x0
    spans = sorted(
        (float(s.outline[:, 0].min()), float(s.outline[:, 0].max())) for s in lacks_of(cloth)
    )
    for low, high in spans:
        if high > x0 and low < x1:
            best, clear = max(best, low - clear), max(clear, high)
    return max(best, x1 - clear, 0.0)


def _plies(band: Across) -> tuple[tuple[float, float], ...]:
    """How each ply's y follows from y across the opened cloth: (scale, shift)."""
    if band.plies == 1:
        # Off centre the single ply is counted from the fold, which lies as deep as the band begins.
        return ((1.0, -band.y0),) if band.y0 > 0 else ((1.0, 0.0),)
    if "y1" in band.fold_edges:
        # Both selvedges to the middle: the far fold lies as far above the middle as the band is deep.
        fold = 2 * band.y1 - band.y0
        return ((1.0, band.y1 - fold), (-1.0, band.y1 + fold))
    return ((1.0, -band.y1), (-1.0, band.y1))


def _rectangle(cloth: Cloth, spot: Spot) -> FloatArray:
    m = spot.margin_mm
    far = cloth.full_width_mm if spot.across_to_mm is None else spot.across_to_mm
    x0, x1 = (_along(cloth, v) for v in (spot.along_from_mm, spot.along_to_mm))
    y0, y1 = (_over(cloth, v) for v in (spot.across_from_mm, far))
    corners = box(x0 - m, y0 - m, x1 + m, y1 + m).exterior.coords[:-1]
    return counter_clockwise(as_points(np.array(corners)))


def _slant(cloth: Cloth) -> FloatArray | None:
    """What is missing before the longer selvedge's end; both ends are squared off on either side."""
    near, far = cloth.available_mm, cloth.far_length_mm
    if near is None or far is None or near == far:
        return None
    near_x, far_x = (_along(cloth, v) - cloth.end_allowance_mm for v in (near, far))
    low, high = -cloth.selvedge_mm, cloth.usable_width_mm + cloth.selvedge_mm
    corner = (near_x, high) if near_x > far_x else (far_x, low)
    return counter_clockwise(as_points([(near_x, low), (far_x, high), corner]))


def _along(cloth: Cloth, mm: float) -> float:
    return mm * (1 - cloth.shrink_along) - cloth.end_allowance_mm


def _over(cloth: Cloth, mm: float) -> float:
    return mm * (1 - cloth.shrink_across) - cloth.selvedge_mm
