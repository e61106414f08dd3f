"""Packs a scene for the kernels: one depth field for each no-fit polygon that pairs of bodies need."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from nesting.clipping import Region
from nesting.engine.kernels.fields import TOO_SMALL, fill_field
from nesting.engine.kernels.ground import F32, F64, I32, I64, Ground
from nesting.engine.scene import Scene
from nesting.engine.symmetry import HALF_TURN, INVERSE, MATRICES, PRODUCT
from nesting.polygon import signed_area

CELLS: Final = 2500
"""Cells of a field. Fewer and larger cells cost accuracy deep inside only; near the boundary depth is
exact for any size."""

CELLS_IN_ALL: Final = 5_000_000
"""Cells of all fields together (about 15 bytes each): many small fields rather than much memory."""

LEAST_CELLS: Final = 300


SHIFT_X: Final = 0.3819
SHIFT_Y: Final = 0.4142
"""The grid starts this share of a cell before the polygon, and has one cell more: pieces have round
numbers, and centres of cells must not lie on edges."""

SHIFT_AGAIN: Final = -0.00717


class Cancelled(Exception):  # noqa: N818 (nothing went wrong: somebody asked to stop)
    """The caller's ``stop`` said so before all was ready."""


def build_ground(
    scene: Scene, *, cells: int = CELLS, stop: Callable[[], bool] | None = None
) -> Ground:
    """Everything about a scene that does not change during a search; ``cells`` a field at most.

    Raises Cancelled when ``stop``, asked once for every no-fit polygon, says so.
    """
    pair_field, pair_turn, regions = _pairs(scene, stop or _never)
    cells = int(min(cells, max(LEAST_CELLS, CELLS_IN_ALL / max(1, len(regions)))))
    grid, table, corner, cell, near, edge = _fields(regions, cells, stop or _never)
    element = MATRICES.reshape(8, 2, 2).astype(np.float64)[pair_turn]
    where, step = grid[pair_field][..., :2], grid[pair_field][..., 2:]
    linear = element / step[..., None]
    p = scene.problem
    option, option_shape, first_option = _options(scene)
    return Ground(
        pair_field,
        np.ascontiguousarray(np.concatenate([linear, -(where / step)[..., None]], axis=3)).reshape(
            *pair_field.shape, 6
        ),
        np.ascontiguousarray(table[pair_field]),
        grid,
        table,
        corner,
        cell,
        near,
        edge,
        _half_boxes(scene, max(p.gap, p.edge_gap)),
        option,
        option_shape,
        first_option,
        _sizes(scene),
        _scales(scene),
        scene.table.touch,
    )


def ground_for(part: Scene, ground: Ground) -> Ground:
    """The ground of a scene that has only some of another's bodies, from that one's ground."""
    option, option_shape, first_option = _options(part)
    return ground._replace(
        option=option,
        option_shape=option_shape,
        first_option=first_option,
        size=_sizes(part),
        scale=_scales(part),
    )


def edges_of(region: Region) -> F64:
    """All edges of a region, (E, 5): both ends and 1 / length squared; no edges of length 0."""
    rows = []
    for ring in region:
        following = np.roll(ring, -1, axis=0)
        squared = ((following - ring) ** 2).sum(axis=1)
        keep = squared > 0
        rows.append(np.column_stack([ring[keep], following[keep], 1.0 / squared[keep]]))
    return np.ascontiguousarray(np.concatenate(rows)) if rows else np.zeros((0, 5))


def _never() -> bool:
    return False


def _pairs(scene: Scene, stop: Callable[[], bool]) -> tuple[I32, I32, list[Region]]:
    table, walls = scene.table, scene.walls
    m = len(table.shapes)
    pair_field = np.zeros((m + len(walls), m + len(walls)), np.int32)
    pair_turn = np.zeros_like(pair_field)
    numbers: dict[tuple[int, int, int], int] = {}
    regions: list[Region] = []
    for i, j in sorted(_meeting_shapes(scene)):
        if stop():
            raise Cancelled
        key, element, flipped = scene.nofits.key(i, j)
        if key not in numbers:
            numbers[key] = len(regions)
            regions.append(scene.nofits.region(key))
        pair_field[i, j] = numbers[key]
        pair_turn[i, j] = INVERSE[PRODUCT[HALF_TURN][element] if flipped else element]
    for k in range(len(walls)):
        for j in range(m):
            region = scene.nofits.wall_region(k, j)
            for a, b, turn in ((m + k, j, 0), (j, m + k, HALF_TURN)):
                pair_field[a, b], pair_turn[a, b] = len(regions), turn
            regions.append(region)
    return pair_field, pair_turn, regions


def _meeting_shapes(scene: Scene) -> set[tuple[int, int]]:
    """Ordered pairs of shapes that two different copies may have at the same time."""
    shapes_of = [sorted({o.shape for o in rows}) for rows in scene.options]
    counts = [0] * len(scene.options)
    for item, _ in scene.bodies:
        counts[item] += 1
    present = [i for i, count in enumerate(counts) if count]
    pairs = set()
    for i in present:
        for j in present:
            if i != j or counts[i] > 1:
                pairs |= {(a, b) for a in shapes_of[i] for b in shapes_of[j]}
        for pin in scene.pins:
            pairs |= {(pin.shape, s) for s in shapes_of[i]} | {(s, pin.shape) for s in shapes_of[i]}
    return pairs


def _fields(
    regions: list[Region], cells: int, stop: Callable[[], bool]
) -> tuple[F64, I64, F32, I32, I32, F64]:
    """All fields one after another: grid, table, corner, cell, near, edge (see Ground)."""
    edges = [edges_of(region) for region in regions]
    grid = np.zeros((len(regions), 3))
    table = np.zeros((len(regions), 4), np.int64)
    corners = cells_so_far = 0
    for k, edge in enumerate(edges):
        if not len(edge):
            grid[k] = (0.0, 0.0, 1.0)
            table[k] = (0, 0, corners, cells_so_far)
            continue
        low, high = edge[:, :2].min(axis=0), edge[:, :2].max(axis=0)
        w, h = (high - low).tolist()
        step = max(math.sqrt(w * h / cells), max(w, h) / cells * 4)
        nx, ny = math.ceil(w / step + 1), math.ceil(h / step + 1)
        grid[k] = (low[0] - SHIFT_X * step, low[1] - SHIFT_Y * step, step)
        table[k] = (nx, ny, corners, cells_so_far)
        corners += (nx + 1) * (ny + 1)
        cells_so_far += nx * ny
    edge = np.concatenate([*edges, np.zeros((0, 5))])
    corner = np.zeros(corners, np.float32)
    cell = np.zeros(cells_so_far, np.int32)
    near = np.zeros(max(1024, cells_so_far), np.int32)
    first = at = 0
    for k, rows in enumerate(edges):
        if stop():
            raise Cancelled
        nx, ny, c0, q0 = table[k].tolist()
        last = first + len(rows)
        while len(rows):
            x0, y0, step = grid[k].tolist()
            end = fill_field(
                edge,
                first,
                last,
                x0,
                y0,
                step,
                nx,
                ny,
                corner[c0 : c0 + (nx + 1) * (ny + 1)],
                cell[q0 : q0 + nx * ny],
                near,
                at,
            )
            if end >= 0:
                at = end
                break
            if end == TOO_SMALL:
                near = np.concatenate([near, np.zeros_like(near)])
            else:
                grid[k, :2] += SHIFT_AGAIN * step
        first = last
    return grid, table, corner, cell, near[: max(at, 1)].copy(), edge


def _half_boxes(scene: Scene, gap: float) -> F64:
    halves = [(s.half_w, s.half_h) for s in scene.table.shapes]
    halves += [tuple(np.abs(w.ring).max(axis=0) * scene.table.grid) for w in scene.walls]
    return np.array(halves).reshape(-1, 2) + gap * 0.51


def _options(scene: Scene) -> tuple[F64, I64, I64]:
    rows: list[tuple[float, ...]] = []
    shapes, first = [], [0]
    of_pose = scene.table.of_pose
    for item, _ in scene.bodies:
        for o in scene.options[item]:
            half_w = of_pose[item][o.pose].half[0]
            x, y = o.comb_x, o.comb_y
            combs = (x.period, x.phase, x.tolerance, y.period, y.phase, y.tolerance)
            rows.append((o.x0, o.x1, o.y0, o.y1, half_w, *combs))
            shapes.append(o.shape)
        first.append(len(rows))
    option = np.array(rows, dtype=float).reshape(-1, 11)
    return option, np.array(shapes, np.int64), np.array(first, np.int64)


def _sizes(scene: Scene) -> F64:
    """Smaller half side of each movable body's first shape."""
    first = [scene.table.shapes[scene.options[item][0].shape] for item, _ in scene.bodies]
    return np.array([min(s.half_w, s.half_h) for s in first], dtype=float)


def _scales(scene: Scene) -> F64:
    """Depths count by the fourth root of the product of both areas; a wall, as the piece at it."""
    problem = scene.problem
    areas = [signed_area(problem.items[i].outline) for i, _ in scene.bodies]
    areas += [signed_area(problem.items[p.placement.item].outline) for p in scene.pins]
    fixed = np.array([*areas, *[math.nan] * len(scene.walls)]).reshape(-1)
    top = float(np.nanmax(fixed)) if len(areas) else 1.0
    roots = (fixed / top) ** 0.25
    scale = np.outer(roots, roots)
    own = np.broadcast_to((roots**2)[:, None], scale.shape)
    scale = np.where(np.isnan(scale), own, scale)
    scale = np.where(np.isnan(scale), own.T, scale)
    return np.ascontiguousarray(np.where(np.isnan(scale), 1.0, scale))
