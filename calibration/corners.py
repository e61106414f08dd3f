"""Finding the boards in a photo: every corner to a few hundredths of a pixel, or a reason why not.

The printed board is looked for at reduced size and refined at full size with a window below half a
square (cv2.cornerSubPix; Foerstner and Guelch 1987). What the detectors call found is not believed:
cells must alternate, nothing may alternate beyond the board, and every corner must be a saddle.
Corners leave here by the edge convention: pixel i covers [i, i + 1), its centre is i + 0.5.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from calibration import homography as plane
from calibration.boards import (
    Board,
    Image,
    Pattern,
    code_dictionary,
    code_px,
)
from calibration.errors import CalibrationError, DetectionError
from calibration.homography import Array
from calibration.photo import as_grey

CENTRE_TO_EDGE = 0.5
"""OpenCV has a pixel's centre at whole numbers; everything of ours at halves. Added once, here."""

FIND_SIZES_PX = (1200, 2000, 800)
"""Longest side at which the first detector looks, in this order; it needs no more, and on noise its
time grows steeply."""

SECOND_SIZES_PX = (1200,)
"""The same for the second detector, which takes seconds."""

WINDOW_SHARE = 0.3
"""Half window of the refinement as a share of the smallest spacing: half a square would let the next
corner in (it doubles the error on OpenCV's own photos)."""

CODED_WINDOW_SHARE = 0.16
"""The same for the thrown pattern, whose codes begin a fifth of a square from the corner."""

SMALLEST_WINDOW, LARGEST_WINDOW = 2, 15

SMALLEST_SQUARE_PX = 10.0
"""Camera px a square must span: below, refinement has no room."""

LEAST_GAP = 0.12
"""Grey-level gap between light and dark cells, as a share of the light ones, for a board to count."""

FEWEST_THROWN = 16
"""Corners of the thrown pattern that must be seen for it to count as found."""

BLURRED_PX = 6.0
"""Width of an edge from dark to light, px, above which a photo is called blurred."""


@dataclass(frozen=True, slots=True, eq=False)
class Corners:
    """Corners found in one photo: ``camera_px`` (N, 2) with ``ids`` (N,), their index in the board
    or number in the pattern. ``contrast`` is the gap between light and dark, 0 to 1;
    ``square_px`` the smallest spacing in the photo; ``edge_px`` the width of an edge (sharpness).
    """

    camera_px: Array
    ids: NDArray[np.int64]
    contrast: float
    square_px: float
    edge_px: float


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What one photo shows: size (width, height) px, printed corners and thrown ones, or None."""

    size_px: tuple[int, int]
    printed: Corners | None
    thrown: Corners | None


def detect(
    image: Image, board: Board | None, thrown: Pattern | None, *, where: str = "photo"
) -> Seen:
    """Find what is asked for in a grey or colour photo, or raise DetectionError saying why not.

    ``board`` is None when no printed board is to be looked for, ``thrown`` when no pattern.
    """
    grey = as_grey(image, where=where)
    height, width = grey.shape
    light = None if thrown is None else find_thrown(grey, thrown, where=where)
    printed = None
    if board is not None:
        part = grey if light is None or thrown is None else _only_the_hole(grey, light, thrown)
        printed = find_printed(part, board, where=where)
    return Seen((width, height), printed, light)


def detect_what_is_there(
    image: Image, board: Board, thrown: Pattern, *, where: str = "photo"
) -> Seen:
    """As :func:`detect`, but either of the two may be missing; raises when both are.

    The error raised then is the one about the printed board. A pattern that is there but unsure is
    treated as missing only if no code at all was read.
    """
    grey = as_grey(image, where=where)
    height, width = grey.shape
    light: Corners | None = None
    printed: Corners | None = None
    try:
        light = find_thrown(grey, thrown, where=where)
    except DetectionError as missing:
        if missing.code != "detection.no-pattern":
            raise
    try:
        part = grey if light is None else _only_the_hole(grey, light, thrown)
        printed = find_printed(part, board, where=where)
    except DetectionError:
        if light is None:
            raise
    return Seen((width, height), printed, light)


def find_printed(grey: Image, board: Board, *, where: str = "photo") -> Corners:
    """Inner corners of the printed board, all of them, in the order of ``board_corners``.

    Raises DetectionError with a code for each reason: ``detection.no-board``, ``.cut-off``,
    ``.wrong-count``, ``.too-small``, ``.blurred``, ``.glare``, ``.dark``, ``.unsure``.
    """
    refusal: DetectionError | None = None
    for rough in _rough_grids(grey, (board.columns, board.rows)):
        try:
            return _confirm(grey, rough, board, where)
        except DetectionError as unsure:
            refusal = refusal or unsure
    if refusal is not None and refusal.code == "detection.unsure":
        refusal = _poor_photo(grey, where) or refusal
    raise refusal or _why_not(grey, board, where)


def find_thrown(grey: Image, thrown: Pattern, *, where: str = "photo") -> Corners:
    """Corners of the thrown pattern that can be seen, with their numbers.

    Raises DetectionError: ``detection.no-pattern`` when no code is read, ``detection.few-corners``
    when too few corners are seen, ``detection.mirrored`` when the picture is turned over.
    """
    rough, ids = _rough_thrown(grey, thrown)
    if len(ids) == 0:
        raise DetectionError(
            "The pattern that the projector throws is not in the photo.",
            code="detection.no-pattern",
            where=where,
            hint="Light the pattern, dim the room, stand so that the whole of it is in the picture; "
            "on patterned or dark cloth lay a white sheet first.",
        )
    spacing = _spacing_by_id(rough, ids, thrown)
    refined, kept = _refine(grey, rough, spacing, CODED_WINDOW_SHARE)
    sharp, contrast, edge = _saddles(grey, refined, 0.8 * CODED_WINDOW_SHARE * spacing)
    kept &= sharp
    if kept.sum() < FEWEST_THROWN:
        raise DetectionError(
            f"Only {int(kept.sum())} corners of the thrown pattern can be seen clearly; "
            f"{FEWEST_THROWN} are needed.",
            code="detection.few-corners",
            where=where,
            hint="Take in the whole pattern, without shadows, and hold the camera still; on "
            "patterned or dark cloth lay a white sheet first.",
        )
    camera_px, numbers = refined[kept] + CENTRE_TO_EDGE, ids[kept]
    source = _places_of(thrown, numbers)
    if np.linalg.det(plane.from_pairs(source, camera_px)) < 0:
        raise DetectionError(
            "The thrown picture is turned over in the photo, as in a mirror.",
            code="detection.mirrored",
            where=where,
            hint="Set the projector to front projection, and photograph the table, not a mirror.",
        )
    return Corners(camera_px, numbers, float(np.median(contrast[kept])), float(spacing.min()), edge)


def _places_of(thrown: Pattern, numbers: NDArray[np.int64]) -> Array:
    """Canvas px (N, 2) of corner numbers (N,)."""
    index = {int(n): i for i, n in enumerate(thrown.corner_ids)}
    places: Array = thrown.corner_px[[index[int(n)] for n in numbers]]
    return places


# -- the thrown pattern -------------------------------------------------------------------------


def _rough_thrown(grey: Image, thrown: Pattern) -> tuple[Array, NDArray[np.int64]]:
    """Corners (N, 2), OpenCV convention, full-size px, and numbers, from the codes around them."""
    side = thrown.square_px
    layout = cv2.aruco.CharucoBoard(
        (thrown.columns, thrown.rows), float(side), float(code_px(side)), code_dictionary()
    )
    known = set(thrown.corner_ids.tolist())
    best = (np.zeros((0, 2)), np.zeros(0, dtype=np.int64))
    for longest in (2000, 1200):
        small, scale = _shrunk(grey, longest)
        corners, ids, _, _ = cv2.aruco.CharucoDetector(layout).detectBoard(small)
        if ids is None or len(ids) == 0:  # type: ignore[redundant-expr]  # None when nothing is read
            continue
        xy = np.asarray(corners, dtype=np.float64).reshape(-1, 2)
        numbers = np.asarray(ids, dtype=np.int64).ravel()
        mine = np.array([int(n) in known for n in numbers], dtype=np.bool_)
        if mine.sum() > len(best[1]):
            best = (_enlarged(xy[mine], scale), numbers[mine])
        if len(best[1]) >= 0.6 * len(known):
            break
    return best


def _spacing_by_id(xy: Array, ids: NDArray[np.int64], thrown: Pattern) -> Array:
    """Distance (N,) in camera px to the nearest neighbour one square away (estimated if none is)."""
    source = _places_of(thrown, ids)
    apart = np.linalg.norm(source[:, None] - source[None], axis=2)
    seen = np.linalg.norm(xy[:, None] - xy[None], axis=2)
    beside = np.abs(apart - thrown.square_px) < 0.5
    spacing = np.where(beside, seen, np.inf).min(axis=1)
    known = np.isfinite(spacing)
    fallback = float(np.min(spacing[known])) if known.any() else SMALLEST_SQUARE_PX
    return np.asarray(np.where(known, spacing, fallback), dtype=np.float64)


def _only_the_hole(grey: Image, light: Corners, thrown: Pattern) -> Image:
    """The photo with all but the pattern's white hole painted over, if it has one."""
    if thrown.hole_px is None:
        return grey
    x, y, w, h = thrown.hole_px
    source = _places_of(thrown, light.ids)
    camera_from_canvas = plane.from_pairs(source, light.camera_px)
    outline = plane.apply(camera_from_canvas, [(x, y), (x + w, y), (x + w, y + h), (x, y + h)])
    mask = np.zeros_like(grey)
    cv2.fillConvexPoly(mask, np.round(outline).astype(np.int32), 255)
    inside = grey[mask > 0]
    if inside.size == 0:
        return grey
    painted = np.where(mask > 0, grey, np.uint8(np.quantile(inside, 0.8)))
    return np.asarray(painted, dtype=np.uint8)


# -- the printed board --------------------------------------------------------------------------


def _rough_grids(grey: Image, counts: tuple[int, int]) -> Iterator[Array]:
    """Grids (rows * columns, 2) that the detectors call found, OpenCV convention, full-size px."""
    quick = cv2.CALIB_CB_ADAPTIVE_THRESH | cv2.CALIB_CB_NORMALIZE_IMAGE | cv2.CALIB_CB_FAST_CHECK
    for longest in FIND_SIZES_PX:
        small, scale = _shrunk(grey, longest)
        found, xy = cv2.findChessboardCorners(small, counts, flags=quick)
        if found:
            yield _enlarged(np.asarray(xy, dtype=np.float64).reshape(-1, 2), scale)
        if scale == 1.0:
            break
    thorough = cv2.CALIB_CB_EXHAUSTIVE | cv2.CALIB_CB_ACCURACY
    for longest in SECOND_SIZES_PX:
        small, scale = _shrunk(grey, longest)
        found, xy = cv2.findChessboardCornersSB(small, counts, flags=thorough)
        if found:
            yield _enlarged(np.asarray(xy, dtype=np.float64).reshape(-1, 2), scale)
        if scale == 1.0:
            break


def _confirm(grey: Image, rough: Array, board: Board, where: str) -> Corners:
    """The board's corners, refined and in order, or DetectionError when this is not the board."""
    columns, rows = board.columns, board.rows
    grid = rough.reshape(rows, columns, 2)
    spacing = _spacing(grid)
    if spacing.min() < SMALLEST_SQUARE_PX:
        raise DetectionError(
            f"The printed board is too small in the photo: its squares are {spacing.min():.0f} px.",
            code="detection.too-small",
            where=where,
            hint="Go nearer, or print the board larger.",
        )
    refined, kept = _refine(grey, rough, spacing.ravel(), WINDOW_SHARE)
    if not kept.all():
        raise DetectionError(
            "The printed board runs out of the photo.",
            code="detection.cut-off",
            where=where,
            hint="Take in the whole sheet with some table around it.",
        )
    gap = _check_cells(grey, refined.reshape(rows, columns, 2), where)
    sharp, _, edge = _saddles(grey, refined, 0.35 * spacing.ravel())
    if not sharp.all():
        hidden = int((~sharp).sum())
        raise DetectionError(
            f"{hidden} of the board's {len(sharp)} corners cannot be seen clearly.",
            code="detection.unsure",
            where=where,
            hint="See that nothing lies on the board, no shadow or glare falls on it, and that the "
            "cloth's own pattern is not taken for it: lay a white sheet under it.",
        )
    if edge > BLURRED_PX and edge > 0.25 * spacing.min():
        raise _blurred(where)
    ordered = _in_order(grey, refined.reshape(rows, columns, 2))
    return Corners(
        ordered.reshape(-1, 2) + CENTRE_TO_EDGE,
        np.arange(columns * rows, dtype=np.int64),
        gap,
        float(spacing.min()),
        edge,
    )


def _check_cells(grey: Image, grid: Array, where: str) -> float:
    """Gap between dark and light cells; raises unless they alternate, and only as far as said.

    A detector may return a perfect smaller grid inside a larger board by leaving columns out; then
    the cells are of both tones. And a board with more squares than said goes on alternating.
    """
    rows, columns = grid.shape[:2]
    i, j = np.meshgrid(np.arange(-1, columns), np.arange(-1, rows))
    cells = np.stack([i.ravel(), j.ravel()], axis=1)
    # Spots all over each cell but near its edges.
    share = np.linspace(0.2, 0.8, 4)
    spots = np.stack(np.meshgrid(share, share), axis=2).reshape(-1, 2)
    at = _between(grid, (cells[:, None, :] + spots[None]).reshape(-1, 2))
    tone = _sample(grey, at).reshape(len(cells), len(spots))
    parity = np.asarray(cells.sum(axis=1) % 2 == 1, dtype=np.bool_)
    inside = (cells >= 0) & (cells < (columns - 1, rows - 1))
    inner = np.asarray(inside.all(axis=1), dtype=np.bool_)
    if np.median(tone[parity & inner]) > np.median(tone[~parity & inner]):
        parity = ~parity
    dark, light = parity, ~parity
    # Each inner cell is compared with its neighbours only: light may fall off over the board.
    low = np.where(np.isnan(tone), 255, tone).max(axis=1)
    high = np.where(np.isnan(tone), 0, tone).min(axis=1)
    ground = np.median(tone[light & inner])
    table = {tuple(c): n for n, c in enumerate(cells.tolist())}
    gaps = []
    for n in np.flatnonzero(inner & dark):
        a, b = cells[n]
        for beside in ((a + 1, b), (a - 1, b), (a, b + 1), (a, b - 1)):
            m = table.get(beside)
            if m is not None and inner[m]:
                gaps.append(high[m] - low[n])
    gap = float(np.min(gaps)) / max(float(ground), 1.0)
    if gap < LEAST_GAP:
        raise DetectionError(
            "What looks like the printed board is not it: its squares do not alternate.",
            code="detection.unsure",
            where=where,
            hint="See that only one printed board is in the photo, evenly lit, without glare; on "
            "patterned cloth lay a white sheet under it; check the counts typed for the board.",
        )
    _check_ring(grey, grid, where)
    return gap


def _check_ring(grey: Image, grid: Array, where: str) -> None:
    """Beyond the outer squares all must be white paper: else the board has more squares than said."""
    rows, columns = grid.shape[:2]
    alternating = 0
    for side in (
        [(i + 0.5, -1.5) for i in range(-1, columns)],
        [(i + 0.5, rows + 0.5) for i in range(-1, columns)],
        [(-1.5, j + 0.5) for j in range(-1, rows)],
        [(columns + 0.5, j + 0.5) for j in range(-1, rows)],
    ):
        beyond = _sample(grey, _between(grid, side))
        inward = [
            (
                i + (i == -1.5) - (i == columns + 0.5),
                j + (j == -1.5) - (j == rows + 0.5),
            )
            for i, j in side
        ]
        inside = _sample(grey, _between(grid, inward))
        if np.isnan(beyond).any() or np.isnan(inside).any():
            continue
        contrast = np.ptp(inside)
        opposite = (beyond - beyond.mean()) * (inside - inside.mean())
        alternating += bool(
            np.ptp(beyond) > 0.5 * contrast and np.mean(opposite < 0) > 0.8 and contrast > 20
        )
    if alternating:
        raise DetectionError(
            f"The printed board goes on beyond {columns} x {rows} inner corners.",
            code="detection.wrong-count",
            where=where,
            hint="Count the points where four squares meet, along and across, and type those.",
        )


def _in_order(grey: Image, grid: Array) -> Array:
    """The grid turned so that it runs as ``board_corners`` do: not mirrored, dark square first."""
    rows, columns = grid.shape[:2]
    if np.linalg.det(plane.from_pairs(_indices(columns, rows), grid.reshape(-1, 2))) < 0:
        grid = grid[:, ::-1]
    # One odd and one even count: the squares beyond the first and the last corner differ in tone.
    first, last = _sample(
        grey, _between(grid, [(-0.5, -0.5), (columns - 0.5, rows - 0.5)]), radius=2
    )
    inside = _sample(grey, _between(grid, [(0.5, 0.5), (columns - 1.5, rows - 1.5)]), radius=2)
    # Diagonal neighbours share their tone, so the inner ones may speak for hidden outer ones.
    votes = np.nan_to_num(np.array([first - last, inside[0] - inside[1]]))
    return grid[::-1, ::-1] if votes.sum() > 0 else grid


def _between(grid: Array, indices: ArrayLike) -> Array:
    """Px (N, 2) of fractional grid places (N, 2: column, row), by the corners of their own cell.

    Local, because over a whole board a lens bends more than a cell can spare; outside the grid the
    nearest cell is carried on.
    """
    rows, columns = grid.shape[:2]
    at = np.asarray(indices, dtype=np.float64).reshape(-1, 2)
    i = np.clip(np.floor(at[:, 0]), 0, columns - 2).astype(int)
    j = np.clip(np.floor(at[:, 1]), 0, rows - 2).astype(int)
    s, t = (at - np.stack([i, j], axis=1)).T[:, :, None]
    top = grid[j, i] * (1 - s) + grid[j, i + 1] * s
    bottom = grid[j + 1, i] * (1 - s) + grid[j + 1, i + 1] * s
    return np.asarray(top * (1 - t) + bottom * t, dtype=np.float64)


def _indices(columns: int, rows: int) -> Array:
    i, j = np.meshgrid(np.arange(columns), np.arange(rows))
    return np.stack([i.ravel(), j.ravel()], axis=1).astype(np.float64)


def _spacing(grid: Array) -> Array:
    """Distance (rows, columns) in px from each corner to its nearest neighbour in the grid."""
    rows, columns = grid.shape[:2]
    spacing = np.full((rows, columns), np.inf)
    across = np.linalg.norm(np.diff(grid, axis=1), axis=2)
    down = np.linalg.norm(np.diff(grid, axis=0), axis=2)
    spacing[:, :-1] = np.minimum(spacing[:, :-1], across)
    spacing[:, 1:] = np.minimum(spacing[:, 1:], across)
    spacing[:-1] = np.minimum(spacing[:-1], down)
    spacing[1:] = np.minimum(spacing[1:], down)
    return spacing


# -- refinement ---------------------------------------------------------------------------------


def _refine(
    grey: Image, rough: Array, spacing: Array, share: float
) -> tuple[Array, NDArray[np.bool_]]:
    """Refined corners (N, 2) and which of them could be refined (window inside the photo).

    Corners are refined in groups of like spacing, since the window's size is shared by a call.
    """
    height, width = grey.shape
    half = np.clip(np.round(share * spacing), SMALLEST_WINDOW, LARGEST_WINDOW).astype(int)
    # cornerSubPix throws for a corner within half a pixel of the border (OpenCV issue 26016).
    margin = np.minimum(rough, np.array([width - 1, height - 1]) - rough).min(axis=1)
    inside = margin > half + 2
    refined = rough.copy()
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 0.001)
    for size in np.unique(half[inside]):
        group = inside & (half == size)
        start = np.ascontiguousarray(rough[group], dtype=np.float32).reshape(-1, 1, 2)
        window = (int(size), int(size))
        moved = cv2.cornerSubPix(grey, start, window, (-1, -1), criteria)
        refined[group] = np.asarray(moved, dtype=np.float64).reshape(-1, 2)
    # A corner that ran out of its window is another corner, or none.
    strayed = np.linalg.norm(refined - rough, axis=1) > np.maximum(half, 3)
    return refined, np.asarray(inside & ~strayed)


def _saddles(grey: Image, corners: Array, radius: Array) -> tuple[NDArray[np.bool_], Array, float]:
    """Which corners (N,) are saddles: round each, light and dark change four times, evenly.

    Also the contrast (N,) there, and the median width in px of an edge beside them.
    """
    angle = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    round_ = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    at = corners[:, None] + np.maximum(radius, 2.0)[:, None, None] * round_[None]
    tone = _sample(grey, at.reshape(-1, 2)).reshape(len(corners), -1)
    seen = ~np.isnan(tone).any(axis=1)
    tone = np.where(np.isnan(tone), 0, tone)
    middle = 0.5 * (np.quantile(tone, 0.1, axis=1) + np.quantile(tone, 0.9, axis=1))
    light = tone > middle[:, None]
    changes = (light != np.roll(light, 1, axis=1)).sum(axis=1)
    # Opposite points of a saddle are of one tone.
    same = (light == np.roll(light, 24, axis=1)).mean(axis=1)
    low = np.quantile(tone, 0.15, axis=1)
    high = np.quantile(tone, 0.85, axis=1)
    contrast = (high - low) / np.maximum(high, 1)
    steps = np.abs(np.diff(tone, axis=1)).max(axis=1)
    arc = 2 * np.pi * np.maximum(radius, 2.0) / 48
    edge = float(np.median((high - low) / np.maximum(steps, 1e-6) * arc)) if len(tone) else np.inf
    good = seen & (changes == 4) & (same > 0.8) & (contrast > 0.05)
    return np.asarray(good), np.asarray(contrast), edge


def _sample(grey: Image, at: Array, *, radius: int = 0) -> Array:
    """Tone (N,) at places (N, 2), OpenCV convention, interpolated; NaN outside the photo."""
    source = cv2.blur(grey, (2 * radius + 1, 2 * radius + 1)) if radius else grey
    height, width = grey.shape
    x, y = np.asarray(at, dtype=np.float64).T
    inside = (x >= 0) & (y >= 0) & (x <= width - 1) & (y <= height - 1)
    tone = np.full(len(x), np.nan)
    xi, yi = np.floor(x[inside]).astype(int), np.floor(y[inside]).astype(int)
    xi, yi = np.minimum(xi, width - 2), np.minimum(yi, height - 2)
    fx, fy = x[inside] - xi, y[inside] - yi
    g = source.astype(np.float32) if source.size < 4096 else source
    top = g[yi, xi] * (1 - fx) + g[yi, xi + 1] * fx
    bottom = g[yi + 1, xi] * (1 - fx) + g[yi + 1, xi + 1] * fx
    tone[inside] = top * (1 - fy) + bottom * fy
    return tone


def _shrunk(grey: Image, longest: int) -> tuple[Image, float]:
    """The photo with its longest side at most ``longest`` px, and the scale (1 when untouched)."""
    scale = longest / max(grey.shape)
    if scale >= 1:
        return grey, 1.0
    small = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.uint8), scale


def _enlarged(xy: Array, scale: float) -> Array:
    """Corners of the shrunk photo in the full one; both by OpenCV's centre convention."""
    return np.asarray((xy + 0.5) / scale - 0.5, dtype=np.float64)


# -- why not ------------------------------------------------------------------------------------


def _why_not(grey: Image, board: Board, where: str) -> DetectionError:
    """The likeliest reason that no grid was found, in words a person can act on."""
    other = _another_grid(grey)
    if other is not None:
        columns, rows, cut = other
        if cut:
            return DetectionError(
                f"The printed board runs out of the photo: {columns} x {rows} of its inner corners "
                "are in it.",
                code="detection.cut-off",
                where=where,
                hint="Take in the whole sheet with some table around it.",
            )
        return DetectionError(
            f"A board of {columns} x {rows} inner corners is in the photo, not one of "
            f"{board.columns} x {board.rows}.",
            code="detection.wrong-count",
            where=where,
            hint="Count the points where four squares meet, along and across, and type those; if "
            "the count is right, see that nothing covers a part of the board.",
        )
    poor = _poor_photo(grey, where)
    if poor is not None:
        return poor
    return DetectionError(
        f"No printed board of {board.columns} x {board.rows} inner corners is in the photo.",
        code="detection.no-board",
        where=where,
        hint="Lay the whole board flat in the light, with its white margin free; on patterned "
        "cloth lay a white sheet under it.",
    )


def _poor_photo(grey: Image, where: str) -> DetectionError | None:
    """What is wrong with the photo itself, whatever it shows."""
    if float(np.quantile(grey, 0.99)) < 50:
        return DetectionError(
            "The photo is too dark.",
            code="detection.dark",
            where=where,
            hint="Let the projector throw white, or switch a lamp on.",
        )
    if float(np.mean(grey >= 254)) > 0.15:
        return DetectionError(
            "Much of the photo is pure white: glare, or too long an exposure.",
            code="detection.glare",
            where=where,
            hint="Move so that no lamp is mirrored in the paper; touch the board on the phone's "
            "screen so that it sets its exposure there.",
        )
    return _blurred(where) if _sharpness(grey) < 0.08 else None


def _blurred(where: str) -> DetectionError:
    return DetectionError(
        "The photo is blurred.",
        code="detection.blurred",
        where=where,
        hint="Hold the phone still, or rest it on something; touch the board on its screen so that "
        "it focuses there.",
    )


def _another_grid(grey: Image) -> tuple[int, int, bool] | None:
    """Inner corner counts of the largest checkerboard in the photo, and whether it leaves it."""
    small, _ = _shrunk(grey, 800)
    flags = cv2.CALIB_CB_EXHAUSTIVE | cv2.CALIB_CB_LARGER | cv2.CALIB_CB_NORMALIZE_IMAGE
    try:
        found, xy, meta = cv2.findChessboardCornersSBWithMeta(small, (3, 3), flags)
    except cv2.error:
        return None
    if not found or meta is None:
        return None
    rows, columns = meta.shape[:2]
    grid = np.asarray(xy, dtype=np.float64).reshape(rows, columns, 2)
    if _spacing(grid).min() < 4:
        return None
    try:
        h = plane.from_pairs(_indices(columns, rows), grid.reshape(-1, 2))
    except CalibrationError:
        return None
    ring = plane.apply(
        h, [(-1.3, -1.3), (columns + 0.3, -1.3), (columns + 0.3, rows + 0.3), (-1.3, rows + 0.3)]
    )
    height, width = small.shape
    cut = bool((ring < 0).any() or (ring > (width, height)).any())
    return columns, rows, cut


def _sharpness(grey: Image) -> float:
    """Steepest steps between neighbouring px as a share of the photo's range of tones."""
    small, _ = _shrunk(grey, 1600)
    smooth = cv2.GaussianBlur(small, (0, 0), 1.0).astype(np.float32)
    step = np.abs(np.diff(smooth, axis=1))
    span = max(float(np.quantile(smooth, 0.99) - np.quantile(smooth, 0.01)), 1.0)
    return float(np.quantile(step, 0.999)) / span
