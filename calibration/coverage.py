"""Where on the lit table a map may be cut by: zones by stated error, level lines, hatching."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from calibration.homography import Array
from calibration.place_errors import COLUMNS, ROWS, grid
from calibration.residuals import NOT_FOR_CUTTING, SHORT_LIMIT_MM, State
from calibration.table_map import TableMap

LEVELS_MM = (0.1, 0.2, 0.5, 1.0, 2.0)
"""Errors at which a line is drawn."""

HATCH_MM = 60.0
"""Between the lines that shade what must not be cut by: wide enough to be seen as lines in the light."""

SPECK_MM2 = 100.0
"""Smaller zones say nothing to a person at the table."""


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """A part of the lit table: what it is good for, its outlines (holes too), a place for its words.

    Outlines are rings (N, 2) in table mm; ``room_mm`` is how far from the outline ``label_at`` lies.
    ``hatch`` are lines (2, 2) that shade it; none where one may cut.
    """

    state: State
    rings: tuple[Array, ...]
    label_at: tuple[float, float]
    room_mm: float
    area_mm2: float
    hatch: tuple[Array, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """Lines (N, 2), table mm, along which the stated error is ``mm``."""

    mm: float
    lines: tuple[Array, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Coverage:
    """The lit table parted by how true it is. ``boards`` (4, 2) are where the board lay, table mm.

    ``share`` is the part of the lit area, 0 to 1, that is good to cut by.
    """

    zones: tuple[Zone, ...]
    levels: tuple[Level, ...]
    boards: tuple[Array, ...]
    share: float


def coverage(table_map: TableMap) -> Coverage | None:
    """Zones of the lit table. None for a map that keeps no error by places.

    Good up to 1 mm of stated error, to be cut with care up to 2 mm; not for cutting beyond, or
    outside what the map is trusted for. Between the grid's places the error is taken as linear.
    """
    errors = table_map.places
    if errors is None:
        return None
    corners = table_map.to_table(grid(table_map.canvas_px))
    lit = _clean(Polygon(table_map.lit_outline()))
    trusted = lit
    if table_map.trusted_mm is not None:
        trusted = _clean(shapely.intersection(lit, Polygon(table_map.trusted_mm)))
    warn, far = (
        _above(corners, errors.stated_mm, limit)
        for limit in (SHORT_LIMIT_MM, NOT_FOR_CUTTING * SHORT_LIMIT_MM)
    )
    never = shapely.union(shapely.difference(lit, trusted), shapely.intersection(far, lit))
    careful = shapely.difference(shapely.intersection(warn, lit), never)
    good = shapely.difference(shapely.difference(lit, never), careful)
    zones = [
        *_zones("good", good, None),
        *_zones("warn", careful, 2 * HATCH_MM),
        *_zones("not for cutting", never, HATCH_MM),
    ]
    levels = [
        Level(mm, lines)
        for mm in LEVELS_MM
        if (lines := _level(corners, errors.stated_mm, mm, trusted))
    ]
    return Coverage(
        zones=tuple(zones),
        levels=tuple(levels),
        boards=tuple(table_map.to_table(board) for board in errors.boards_px),
        share=float(good.area / lit.area),
    )


def _above(corners: Array, values: Array, limit: float) -> BaseGeometry:
    """Where the error, linear over each half of a grid cell, exceeds ``limit``: table mm."""
    parts = [
        Polygon(ring)
        for triangle in _triangles()
        if len(ring := _part_above(corners[triangle], values[triangle] - limit)) >= 3
    ]
    return _clean(shapely.union_all(parts, grid_size=1e-6)) if parts else Polygon()


def _triangles() -> Iterator[list[int]]:
    for row in range(ROWS - 1):
        for column in range(COLUMNS - 1):
            a = row * COLUMNS + column
            b, c, d = a + 1, a + COLUMNS + 1, a + COLUMNS
            yield [a, b, c]
            yield [a, c, d]


def _part_above(corners: Array, over: Array) -> list[tuple[float, float]]:
    """The corners of a triangle's part on which a linear value is above 0."""
    ring = []
    for i in range(3):
        j = (i + 1) % 3
        if over[i] > 0:
            ring.append((float(corners[i, 0]), float(corners[i, 1])))
        if (over[i] > 0) != (over[j] > 0):
            x, y = corners[i] + (corners[j] - corners[i]) * (over[i] / (over[i] - over[j]))
            ring.append((float(x), float(y)))
    return ring


def _level(corners: Array, values: Array, mm: float, within: BaseGeometry) -> tuple[Array, ...]:
    above = _above(corners, values, mm)
    # The rim of what is above runs along the canvas' own edge too: only what lies inside is a level.
    inner = shapely.intersection(above.boundary, within.buffer(-1.0))
    lines = shapely.line_merge(inner) if not inner.is_empty else inner
    return tuple(
        np.asarray(line.coords)
        for line in _parts(lines)
        if isinstance(line, LineString) and not line.is_empty
    )


def _zones(state: State, shape: BaseGeometry, hatch_mm: float | None) -> Iterator[Zone]:
    for part in _parts(_clean(shape)):
        if not isinstance(part, Polygon) or part.area < SPECK_MM2:
            continue
        middle = shapely.maximum_inscribed_circle(part, tolerance=2.0)
        x, y = middle.coords[0]
        yield Zone(
            state=state,
            rings=tuple(np.asarray(ring.coords)[:-1] for ring in (part.exterior, *part.interiors)),
            label_at=(float(x), float(y)),
            room_mm=float(middle.length),
            area_mm2=float(part.area),
            hatch=() if hatch_mm is None else _hatch(part, hatch_mm),
        )


def _hatch(part: Polygon, apart_mm: float) -> tuple[Array, ...]:
    """Slanted lines over a part, all parts on one set of lines so that they meet."""
    x0, y0, x1, y1 = part.bounds
    step = apart_mm * math.sqrt(2)
    first, last = math.floor((y0 - x1) / step), math.ceil((y1 - x0) / step)
    lines = MultiLineString(
        [[(x0, x0 + k * step), (x1, x1 + k * step)] for k in range(first, last + 1)]
    )
    return tuple(
        np.asarray(line.coords)
        for line in _parts(shapely.intersection(lines, part))
        if isinstance(line, LineString)
    )


def _parts(shape: BaseGeometry) -> Iterable[BaseGeometry]:
    return getattr(shape, "geoms", (shape,))


def _clean(shape: BaseGeometry) -> BaseGeometry:
    """The areas of a shape alone: meets leave points and lines behind, and between triangles that
    share a side holes as thin as a rounding, which would be drawn as lines of error."""
    made = shapely.make_valid(shape)
    areas = [p for p in _parts(made) if isinstance(p, Polygon | MultiPolygon) and p.area > 0]
    whole = shapely.union_all(areas) if areas else Polygon()
    return shapely.union_all(
        [
            Polygon(part.exterior, [r for r in part.interiors if Polygon(r).area >= SPECK_MM2])
            for part in _parts(whole)
            if isinstance(part, Polygon) and part.area >= SPECK_MM2
        ]
    )
