"""From corners in photos to a table map: everything in one robust least squares.

    canvas px --projector lens--> ideal px --homography--> table mm --homography--> camera ideal
    board mm --pose on the table--> table mm                 camera ideal --camera lens--> photo px

Residuals are in photo pixels, in standard errors of each leg. No focal length is needed: both lenses
work on the picture plane, their radius is the half diagonal. Terms that few placements cannot carry
have a prior instead of a switch: where the corners say nothing of them they stay at rest and widen
the stated error, where they do the prior yields (maximum a posteriori; Triggs, McLauchlan, Hartley
and Fitzgibbon, Bundle Adjustment: A Modern Synthesis, 2000, sections 3 and 9). Paper that does not
lie flat moves neighbouring corners alike: how much is read off the residuals (``paper.py``), and the
corners are weighed, and the error stated, accordingly.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from calibration import homography as plane
from calibration.boards import Board, Pattern, board_corners, board_outline
from calibration.corners import Corners, Seen
from calibration.errors import CalibrationError, FitError
from calibration.homography import Array
from calibration.paper import LEAST_NOISE_PX, read_paper, whitener
from calibration.place_errors import PlaceErrors, grid
from calibration.spread import spread_of
from calibration.table_map import Accuracy, Lens, TableMap

TABLE_UNIT_MM = 500.0
"""Table lengths are divided by this inside the fit, so that all unknowns are of like size."""

CAMERA_SIGMAS = (0.06, 0.006, 0.002, 3e-4, 3e-4, 0.008, 0.008)
"""Priors of the camera: k1, k2, k3, two tangential terms, and its middle in half diagonals. Wide
enough for a wide phone lens; the tangential terms and the middle as makers centre them (common
practice)."""

PROJECTOR_SIGMAS = (0.0012, 0.0003, 3e-4, 3e-4)
"""Priors of the projector's k1, k2: 0.12 per cent at the corner; and of its two tangential terms. With
wider ones a single board would put the camera's bend into the projector; many boards overrule them.
Common practice."""

SHEET_MM, SHEET_SIGMA_MM = 0.03, 0.03
"""Height of a sheet above the cloth that is lit: let into it, or on it by up to its own 0.1 mm."""

LEAN = 0.3
"""Waves show as they are seen from the side: tangent of 15 to 20 degrees off the vertical."""

EYE_MM = 1200.0
"""Height from which one photographs; a sheet that lies h above the cloth looks h / this larger."""

NOISE_PX = 0.05
"""Corner noise assumed to begin with; then each leg's own scatter is used."""

SOFT = 3.0
"""Standard errors at which the loss turns from square to linear."""

STRAY = 6.0
"""Standard errors beyond which a corner is wrong, not noisy: waves reach four."""

MAGSAC_SHARE = 0.006
"""Threshold of the first sieve as a share of the photo's half diagonal: 6 px at 1080p. It must
exceed the lens' bend, which is not modelled yet."""

LENS_SUSPECT = 1.5
"""Residual over noise floor from which the optics are called unlike the model."""

WORST_FIT_PX = 0.5
"""Residual of the printed board, px at 2000 px across, above which the corners are not believed."""

COVER = 0.91
"""Quantile of the error's distribution that is stated, to cover the true error nine times in ten
(tests/bench/calibration.py)."""

HULL = 1.5
"""How far beyond the boards' hull the map is trusted (about the hull's middle)."""

CHECKED = 12
"""Fewest corners in common for a photo to be of use."""


@dataclass(frozen=True, slots=True, eq=False)
class CameraLens:
    """The camera's lens as solved, picture plane, radius = half diagonal: what bends straight lines."""

    k1: float
    k2: float
    k3: float
    p1: float
    p2: float
    middle_px: tuple[float, float]
    radius_px: float

    def bend(self, ideal_px: Array, size_px: tuple[int, int]) -> Array:
        """Photo px (N, 2) of ideal px (N, 2): where the lens puts what straight rays would."""
        middle = 0.5 * np.array(size_px)
        at = (np.array(self.middle_px) - middle) / self.radius_px
        terms = np.array([self.k1, self.k2, self.k3, self.p1, self.p2, *at])
        seen = _bend_camera((ideal_px - middle) / self.radius_px, terms)
        return np.asarray(seen * self.radius_px + middle, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class PhotoFit:
    """One photo as it was met: rms residuals in photo px, and the way from the table into it.

    ``camera_from_table`` (3, 3) leads to ideal px (before the lens bends them).
    """

    camera_from_table: Array
    printed_rms_px: float | None
    thrown_rms_px: float | None
    left_out: int


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """Where a placement of the board lies: its outline (4, 2) on the table, mm, and its pose."""

    outline_mm: Array
    turn_deg: float
    origin_mm: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """All that photos gave. ``table_map`` is None when no photo shows the thrown pattern.

    ``printed_rms_mm`` is what the board's own corners miss by, on the table.
    """

    table_map: TableMap | None
    camera_lens: CameraLens
    photos: tuple[PhotoFit, ...]
    laid: tuple[Laid, ...]
    printed_rms_mm: float
    noise_ratio: float
    print_scale: tuple[float, float]
    words: tuple[str, ...]


def fit_map(
    photos: Sequence[Seen],
    board: Board,
    thrown: Pattern | None,
    *,
    fixed_camera: bool = False,
    placements: Sequence[int] | None = None,
) -> Fit:
    """Table map from what photos show; the first placement of the board is the table's frame.

    Each photo shows the printed board, the thrown pattern, or both. ``fixed_camera``: it stood still
    between photos, so those with the board and those with the pattern need not be the same.
    ``placements`` says which laying-down of the board each photo shows (default: a new one each
    time). Raises FitError when the photos do not hang together or the corners cannot be believed.
    Not checked: that the table is flat, and that the camera truly stood still (the residual tells).
    """
    problem = _prepare(photos, board, thrown, fixed_camera, placements)
    theta = _start(problem)
    for _ in range(2):
        theta, weights = _solve(problem, theta)
        problem = _with_noise(problem, theta)
    _refuse_nonsense(problem, theta, weights)
    return _result(problem, theta, weights)


# -- the problem as arrays ----------------------------------------------------------------------

PRINTED, THROWN = 0, 1


@dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """Rows (one a corner): where it was seen, on which leg, from which station, on which placement.

    ``source`` is board mm (printed) or canvas px (thrown). Parameters, in order: stations x 8,
    placements after the first x 3, camera 7, print scale 2, growth by the sheet's height 1, then (with
    a pattern) projector 8 + 4. ``thrown_px`` is the corners' standard error, but for the rows
    that ``whiteners`` hold; ``wave_mm`` are the paper's waves as seen, on the table.
    """

    board: Board
    thrown: Pattern | None
    size_px: tuple[int, int]
    camera_px: Array
    source: Array
    leg: NDArray[np.int64]
    photo: NDArray[np.int64]
    station: NDArray[np.int64]
    placement: NDArray[np.int64]
    photos: int
    stations: int
    placements: int
    thrown_px: float = NOISE_PX
    whiteners: tuple[tuple[NDArray[np.int64], Array], ...] = ()
    wave_mm: float = 0.0

    @property
    def radius_px(self) -> float:
        return 0.5 * math.hypot(*self.size_px)

    @property
    def at_placements(self) -> int:
        return 8 * self.stations

    @property
    def at_camera(self) -> int:
        return self.at_placements + 3 * (self.placements - 1)

    @property
    def at_scale(self) -> int:
        return self.at_camera + 7

    @property
    def at_projector(self) -> int:
        return self.at_scale + 3

    @property
    def count(self) -> int:
        return self.at_projector + (0 if self.thrown is None else 12)

    @property
    def priors(self) -> tuple[NDArray[np.int64], Array]:
        """Which parameters have a prior, and its standard error; for its middle see ``rest``."""
        index = [*range(self.at_camera, self.at_projector)]
        height = math.hypot(SHEET_SIGMA_MM, self.wave_mm / LEAN)
        sigmas = [*CAMERA_SIGMAS, *self.board.scale_sigma, height / EYE_MM]
        if self.thrown is not None:
            index += [*range(self.at_projector + 8, self.count)]
            sigmas += [*PROJECTOR_SIGMAS]
        return np.array(index), np.array(sigmas)

    @property
    def rest(self) -> Array:
        """Middle of each prior: nothing, but for the height of the sheet, which waves upwards from
        the cloth by about twice their standard deviation."""
        rest = np.zeros(len(self.priors[0]))
        rest[9] = (SHEET_MM + 2 * self.wave_mm / LEAN) / EYE_MM
        return rest

    def sheets(self) -> list[NDArray[np.int64]]:
        """Rows of each sheet in each photo."""
        mine = self.leg == PRINTED
        return [np.flatnonzero(mine & (self.photo == n)) for n in np.unique(self.photo[mine])]

    def whitened(self, misses: Array) -> Array:
        """``misses`` (N, 2, ...) px in independent standard errors."""
        white = misses / self.thrown_px
        for rows, matrix in self.whiteners:
            white[rows] = np.einsum("nm,m...->n...", matrix, misses[rows])
        return np.asarray(white)


def _prepare(
    photos: Sequence[Seen],
    board: Board,
    thrown: Pattern | None,
    fixed_camera: bool,
    placements: Sequence[int] | None,
) -> _Problem:
    if not photos:
        raise FitError("No photo came.", code="fit.no-photo", hint="Take one photo or more.")
    sizes = {p.size_px for p in photos}
    if len(sizes) != 1:
        raise FitError(
            "The photos are of different sizes: "
            + ", ".join(f"{w} x {h}" for w, h in sorted(sizes))
            + " px.",
            code="fit.sizes",
            hint="Take all photos with one camera, at one zoom, held the same way round.",
        )
    if not any(p.printed for p in photos):
        raise FitError(
            "No photo shows the printed board.",
            code="fit.no-board",
            hint="Lay the printed board on the table and take another photo.",
        )
    shown = list(placements) if placements is not None else list(range(len(photos)))
    numbers = {n: i for i, n in enumerate(_in_turn(photos, shown))}
    rows = []
    reference = board_corners(board) - board_corners(board).mean(axis=0)
    for n, seen in enumerate(photos):
        station = 0 if fixed_camera else n
        if seen.printed is not None:
            source = reference[seen.printed.ids]
            rows.append((seen.printed, source, PRINTED, n, station, numbers[shown[n]]))
        if seen.thrown is not None and thrown is not None:
            rows.append((seen.thrown, _thrown_source(thrown, seen.thrown), THROWN, n, station, 0))
    _refuse_loose(rows, len(photos), fixed_camera)
    rows = [_sieved(row, photos[0].size_px) for row in rows]

    def column(k: int) -> NDArray[np.int64]:
        return np.concatenate([np.full(len(r[1]), r[k], dtype=np.int64) for r in rows])

    has_light = any(r[2] == THROWN for r in rows)
    return _Problem(
        board=board,
        thrown=thrown if has_light else None,
        size_px=photos[0].size_px,
        camera_px=np.concatenate([r[0].camera_px for r in rows]),
        source=np.concatenate([r[1] for r in rows]),
        leg=column(2),
        photo=column(3),
        station=column(4),
        placement=column(5),
        photos=len(photos),
        stations=1 if fixed_camera else len(photos),
        placements=max(1, len(numbers)),
    )


_Row = tuple[Corners, Array, int, int, int, int]


def _in_turn(photos: Sequence[Seen], shown: Sequence[int]) -> list[int]:
    """Placement labels in the order in which they first show the board."""
    if len(shown) != len(photos):
        raise FitError(
            f"{len(photos)} photos came with {len(shown)} placements.",
            code="fit.placements",
            where="placements",
        )
    labels = [label for seen, label in zip(photos, shown, strict=True) if seen.printed is not None]
    return list(dict.fromkeys(labels))


def _thrown_source(thrown: Pattern, seen: Corners) -> Array:
    index = {int(n): i for i, n in enumerate(thrown.corner_ids)}
    return np.asarray(thrown.corner_px[[index[int(n)] for n in seen.ids]], dtype=np.float64)


def _refuse_loose(rows: Sequence[_Row], photos: int, fixed_camera: bool) -> None:
    """A hand-held photo must carry the board; the pattern may only be missing altogether."""
    with_board = {r[3] for r in rows if r[2] == PRINTED}
    if not fixed_camera:
        for n in range(photos):
            if n not in with_board:
                raise FitError(
                    f"Photo {n + 1} does not show the printed board, so nothing ties it to the others.",
                    code="fit.loose",
                    where=f"photo {n + 1}",
                    hint="Take it again with both boards in the picture, or keep the camera fixed "
                    "between photos and say so.",
                )


def _sieved(row: _Row, size_px: tuple[int, int]) -> _Row:
    """The row without its gross outliers: MAGSAC, with a threshold above the lens' bend."""
    corners, source, *rest = row
    if len(source) < CHECKED:
        raise FitError(
            f"Only {len(source)} corners of a board are seen in photo {rest[1] + 1}.",
            code="fit.too-few-points",
            where=f"photo {rest[1] + 1}",
            hint="Take that photo again.",
        )
    threshold = MAGSAC_SHARE * 0.5 * math.hypot(*size_px)
    cv2.setRNGSeed(1)  # the search is random inside: the same photo must give the same map
    _, mask = cv2.findHomography(source, corners.camera_px, cv2.USAC_MAGSAC, threshold)
    good = np.ones(len(source), dtype=np.bool_) if mask is None else mask.ravel() > 0  # type: ignore[redundant-expr]
    if good.sum() < max(CHECKED, 0.6 * len(source)):
        good = np.ones(len(source), dtype=np.bool_)
    kept = Corners(
        corners.camera_px[good],
        corners.ids[good],
        corners.contrast,
        corners.square_px,
        corners.edge_px,
    )
    return (kept, source[good], rest[0], rest[1], rest[2], rest[3])


# -- the model ----------------------------------------------------------------------------------


def _predict(problem: _Problem, theta: Array) -> Array:
    """Photo px (N, 2) where the corners should be."""
    return _in_photo(problem, theta, _on_table(problem, theta))


def _in_photo(problem: _Problem, theta: Array, table: Array) -> Array:
    """Photo px (N, 2) of places ``table`` (N, 2, table units), each seen from its own station."""
    stations = np.column_stack(
        [theta[: problem.at_placements].reshape(-1, 8), np.ones(problem.stations)]
    ).reshape(-1, 3, 3)
    h = stations[problem.station]
    top = np.einsum("nij,nj->ni", h[:, :, :2], table) + h[:, :, 2]
    ideal = top[:, :2] / top[:, 2:]
    seen = _bend_camera(ideal, theta[problem.at_camera : problem.at_scale])
    return np.asarray(seen * problem.radius_px + 0.5 * np.array(problem.size_px))


def _on_table(problem: _Problem, theta: Array) -> Array:
    """Places (N, 2) of the corners on the table, in table units."""
    table = np.empty_like(problem.source)
    printed = problem.leg == PRINTED
    scale = _print_scale(problem, theta)
    poses = np.concatenate([np.zeros(3), theta[problem.at_placements : problem.at_camera]])
    turn, x, y = poses.reshape(-1, 3)[problem.placement[printed]].T
    u, v = (problem.source[printed] * scale / TABLE_UNIT_MM).T
    c, s = np.cos(turn), np.sin(turn)
    table[printed] = np.stack([c * u - s * v + x, s * u + c * v + y], axis=1)
    if problem.thrown is not None:
        canvas = problem.thrown.canvas_px
        part = theta[problem.at_projector :]
        table[~printed] = _light_on_table(canvas, part, problem.source[~printed])
    return table


def _print_scale(problem: _Problem, theta: Array) -> Array:
    """How much larger (2,) than measured the print looks along x and y."""
    sx, sy, height = theta[problem.at_scale : problem.at_projector]
    return np.array([1 + sx + height, 1 + sy + height])


def _light_on_table(canvas_px: tuple[int, int], part: Array, px: Array) -> Array:
    """Places (N, 2), table units, of canvas px: ``part`` = 8 of table from ideal, then of the lens."""
    centre, radius = (canvas_px[0] / 2, canvas_px[1] / 2), 0.5 * math.hypot(*canvas_px)
    ideal = (plane.unbend(px, centre, radius, part[8:12]) - centre) / radius
    return plane.apply(np.append(part[:8], 1.0).reshape(3, 3), ideal)


def _bend_camera(ideal: Array, terms: Array) -> Array:
    """Ideal -> seen, both in half diagonals about the picture's middle."""
    k1, k2, k3, p1, p2, cx, cy = terms
    x, y = (ideal - (cx, cy)).T
    r2 = x * x + y * y
    g = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
    dx = 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
    dy = p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
    return np.stack([x * g + dx + cx, y * g + dy + cy], axis=1)


def _misses(problem: _Problem, theta: Array) -> Array:
    """Residuals in standard errors: 2 a corner, then the priors."""
    away = problem.whitened(_predict(problem, theta) - problem.camera_px)
    index, spread = problem.priors
    return np.concatenate([away.ravel(), (theta[index] - problem.rest) / spread])


def _slopes(problem: _Problem, theta: Array) -> Array:
    """Jacobian of :func:`_misses`: like parameters of all stations (and of all placements) are
    moved together, since no corner depends on two of them."""
    n = len(problem.camera_px)
    jacobian = np.zeros((2 * n + len(problem.priors[0]), problem.count))
    step = 1e-6
    table = _on_table(problem, theta)
    of_camera = {*range(problem.at_placements), *range(problem.at_camera, problem.at_scale)}

    def difference(columns: list[int]) -> Array:
        shift = np.zeros_like(theta)
        shift[columns] = step
        if columns[0] in of_camera:  # the places on the table stay where they are
            up, down = (_in_photo(problem, t, table) for t in (theta + shift, theta - shift))
        else:
            up, down = _predict(problem, theta + shift), _predict(problem, theta - shift)
        return np.asarray((up - down) / (2 * step))

    def scatter(columns: list[int], owner: NDArray[np.int64]) -> None:
        change = difference(columns)
        for number, column in enumerate(columns):
            rows = np.flatnonzero(owner == number)
            jacobian[2 * rows, column] = change[rows, 0]
            jacobian[2 * rows + 1, column] = change[rows, 1]

    for k in range(8):
        scatter([8 * s + k for s in range(problem.stations)], problem.station)
    owner = np.where(problem.leg == PRINTED, problem.placement - 1, -1)
    for k in range(3):
        columns = [problem.at_placements + 3 * b + k for b in range(problem.placements - 1)]
        if columns:
            scatter(columns, owner)
    for column in range(problem.at_camera, problem.count):
        jacobian[: 2 * n, column] = difference([column]).ravel()
    corners = jacobian[: 2 * n].reshape(n, 2, -1)
    jacobian[: 2 * n] = problem.whitened(corners).reshape(2 * n, -1)
    index, spread = problem.priors
    jacobian[2 * n + np.arange(len(index)), index] = 1 / spread
    return jacobian


def _start(problem: _Problem) -> Array:
    """First guess from homographies alone."""
    theta = np.zeros(problem.count)
    half = 0.5 * np.array(problem.size_px)
    seen = (problem.camera_px - half) / problem.radius_px
    printed = problem.leg == PRINTED
    poses: dict[int, Array] = {0: np.eye(3)}
    cameras: dict[int, Array] = {}
    waiting = sorted(set(zip(problem.station[printed], problem.placement[printed], strict=True)))
    while waiting:
        ready = [w for w in waiting if w[0] in cameras or w[1] in poses]
        station, placement = ready[0] if ready else waiting[0]
        rows = printed & (problem.station == station) & (problem.placement == placement)
        camera_from_board = plane.from_pairs(problem.source[rows] / TABLE_UNIT_MM, seen[rows])
        if station not in cameras and placement not in poses:
            _tie_by_light(problem, seen, int(station), camera_from_board, cameras, poses)
        if placement in poses:
            cameras.setdefault(int(station), camera_from_board @ np.linalg.inv(poses[placement]))
        else:
            poses[int(placement)] = _rigid(np.linalg.inv(cameras[station]) @ camera_from_board)
        waiting.remove((station, placement))
    for s, h in cameras.items():
        theta[8 * s : 8 * s + 8] = (h / h[2, 2]).ravel()[:8]
    for b, pose in poses.items():
        if b:
            at = problem.at_placements + 3 * (b - 1)
            theta[at : at + 3] = math.atan2(pose[1, 0], pose[0, 0]), pose[0, 2], pose[1, 2]
    if problem.thrown is not None:
        rows = ~printed
        stations = np.array([cameras[int(s)] for s in problem.station[rows]])
        back = np.linalg.inv(stations)
        top = np.einsum("nij,nj->ni", back[:, :, :2], seen[rows]) + back[:, :, 2]
        canvas = np.array(problem.thrown.canvas_px)
        ideal = (problem.source[rows] - canvas / 2) / (0.5 * math.hypot(*canvas))
        light = plane.from_pairs(ideal, top[:, :2] / top[:, 2:])
        theta[problem.at_projector : problem.at_projector + 8] = (light / light[2, 2]).ravel()[:8]
    return theta


def _tie_by_light(
    problem: _Problem,
    seen: Array,
    station: int,
    camera_from_board: Array,
    cameras: dict[int, Array],
    poses: dict[int, Array],
) -> None:
    """Camera of a photo that shares no placement with those known, through the thrown pattern."""
    ideal_scale = 1000.0

    def camera_from_canvas(s: int) -> Array | None:
        rows = (problem.leg == THROWN) & (problem.station == s)
        if rows.sum() < 4:
            return None
        return plane.from_pairs(problem.source[rows] / ideal_scale, seen[rows])

    mine = camera_from_canvas(station)
    for other, camera_from_table in cameras.items():
        theirs = camera_from_canvas(other)
        if mine is not None and theirs is not None:
            cameras[station] = mine @ np.linalg.inv(theirs) @ camera_from_table
            return
    # No light in common: the placement is where this camera's own first one is; its pose stays free.
    cameras[station] = camera_from_board


def _rigid(table_from_board: Array) -> Array:
    """The shift and turn nearest to a homography, near the board's middle."""
    square = np.array([(-0.2, -0.2), (0.2, -0.2), (0.2, 0.2), (-0.2, 0.2)])
    there = plane.apply(table_from_board, square)
    middle = there.mean(axis=0)
    u, _, vt = np.linalg.svd((there - middle).T @ square)
    turn = u @ np.diag([1.0, np.sign(np.linalg.det(u @ vt))]) @ vt
    return np.block([[turn, middle[:, None]], [np.zeros((1, 2)), np.ones((1, 1))]])


# -- solving ------------------------------------------------------------------------------------


def _solve(problem: _Problem, theta: Array) -> tuple[Array, Array]:
    """Best parameters, and the weight (N,) that the soft loss left each corner, 0 to 1."""
    solution = least_squares(
        partial(_misses, problem),
        theta,
        jac=partial(_slopes, problem),
        loss="soft_l1",
        f_scale=SOFT,
        x_scale="jac",
        xtol=1e-8,
        ftol=1e-8,
        max_nfev=40,
    )
    found = np.asarray(solution.x, dtype=np.float64)
    n = len(problem.camera_px)
    away = _misses(problem, found)[: 2 * n].reshape(n, 2)
    weights = 1 / np.sqrt(1 + np.sum(away**2, axis=1) / SOFT**2)
    return found, np.asarray(weights, dtype=np.float64)


def _with_noise(problem: _Problem, theta: Array) -> _Problem:
    """The problem with its corners' standard errors as the residuals tell them.

    The light falls on bare cloth, its corners miss by noise alone: the median length of a plane
    normal deviate is sqrt(2 ln 2) of its standard error; a few wrong corners do not move it.
    """
    misses = _predict(problem, theta) - problem.camera_px
    light = problem.leg == THROWN
    thrown_px = NOISE_PX
    if light.any():
        free = 1 - (problem.count - len(problem.priors[0])) / (2 * len(misses))
        middling = float(np.median(np.linalg.norm(misses[light], axis=1)))
        scatter = middling / math.sqrt(2 * math.log(2) * max(free, 0.2))
        thrown_px = max(scatter, LEAST_NOISE_PX)
    # A wrong corner must not be spread over its neighbours: it keeps to itself, for the soft loss.
    sheets = [rows[_alike(misses[rows])] for rows in problem.sheets()]
    paper = read_paper([(problem.source[rows], misses[rows]) for rows in sheets])
    size = float(np.median(_mm_per_photo_px(problem, theta)[~light]))
    return replace(
        problem,
        thrown_px=thrown_px,
        whiteners=tuple((rows, whitener(problem.source[rows], paper)) for rows in sheets),
        wave_mm=size * paper.wave_px,
    )


def _alike(misses: Array) -> NDArray[np.bool_]:
    """Mask (N,): which corners of a sheet miss by no more than what noise and waves explain."""
    size = np.linalg.norm(misses, axis=1)
    middling = max(float(np.median(size)) / math.sqrt(2 * math.log(2)), LEAST_NOISE_PX)
    return np.asarray(size <= STRAY * middling)


def _refuse_nonsense(problem: _Problem, theta: Array, weights: Array) -> None:
    away = np.linalg.norm(_predict(problem, theta) - problem.camera_px, axis=1)
    allowed = WORST_FIT_PX * max(1.0, max(problem.size_px) / 2000)
    for leg, what in ((PRINTED, "printed board"), (THROWN, "thrown pattern")):
        for n in range(problem.photos):
            rows = (problem.leg == leg) & (problem.photo == n)
            if not rows.any():
                continue
            rms = math.sqrt(float(np.mean(away[rows] ** 2)) / 2)
            middling = float(np.median(away[rows]))
            if middling > 2 * allowed or (rms > 2 * allowed and np.mean(weights[rows]) < 0.8):
                raise FitError(
                    f"The corners of the {what} in photo {n + 1} do not lie as on a flat board: they "
                    f"are {rms:.1f} px off.",
                    code="fit.not-flat",
                    where=f"photo {n + 1}",
                    hint="Press the paper flat; see that the board was not moved and the camera (if "
                    "fixed) not bumped; on patterned cloth lay a white sheet under the board.",
                )


# -- telling ------------------------------------------------------------------------------------


def _result(problem: _Problem, theta: Array, weights: Array) -> Fit:
    ratios = _noise_ratios(problem, theta, weights)
    ratio = max(ratios)
    laid = _laid(problem, theta)
    table_map: TableMap | None = None
    words: tuple[str, ...] = ()
    if problem.thrown is not None:
        table_map = _mapped(problem, theta, weights, ratios, laid)
        words = table_map.accuracy.words if table_map.accuracy else ()
    print_scale = _print_scale(problem, theta)
    return Fit(
        table_map=table_map,
        camera_lens=_camera_lens(problem, theta),
        photos=_photo_fits(problem, theta, weights),
        laid=laid,
        printed_rms_mm=_printed_rms_mm(problem, theta),
        noise_ratio=ratio,
        print_scale=(float(print_scale[0]), float(print_scale[1])),
        words=words,
    )


def _mapped(
    problem: _Problem,
    theta: Array,
    weights: Array,
    ratios: tuple[float, float],
    laid: tuple[Laid, ...],
) -> TableMap:
    """The table map with its stated error, over all and place by place."""
    plain = _map_of(problem, theta, None, None)
    places, effects, covariance = _stated(problem, theta, weights, ratios[THROWN])
    spread = spread_of(effects, covariance, places, cover=COVER)
    shape = spread_of(effects, covariance, places, cover=COVER, free_scale=True)
    trusted = _trusted(plain, laid)
    away = np.linalg.norm(_predict(problem, theta) - problem.camera_px, axis=1)
    lit = plain.lit_outline()
    words = _words(max(ratios), trusted, lit, problem)
    per_px = _mm_per_photo_px(problem, theta)
    accuracy = Accuracy(
        method="camera",
        rms_mm=spread.rms_mm,
        p95_mm=spread.p95_mm,
        max_mm=spread.max_mm,
        fit_rms_mm=float(np.sqrt(np.mean((away * per_px) ** 2))),
        readings=len(away),
        noise_ratio=max(ratios),
        words=words,
        shape_mm=(shape.rms_mm, shape.p95_mm, shape.max_mm),
    )
    errors = PlaceErrors(
        spread.place_mm, shape.place_mm, _on_canvas(plain, [b.outline_mm for b in laid])
    )
    return replace(_map_of(problem, theta, accuracy, trusted), places=errors)


def _stated(
    problem: _Problem, theta: Array, weights: Array, ratio: float
) -> tuple[Array, Array, Array]:
    """Places (N, 2) mm over the canvas, effects (N, 2, P) of the light's terms, covariance (P, P).

    Misses of the light above its noise floor are not noise: they do not average out over corners, so
    their standard error is widened by that ratio. Those of the paper are its waves.
    """
    assert problem.thrown is not None
    canvas = problem.thrown.canvas_px
    jacobian = _slopes(problem, theta)
    n = len(problem.camera_px)
    kept = np.sqrt(weights) / np.where(problem.leg == THROWN, max(1.0, ratio), 1.0)
    jacobian[: 2 * n] *= np.repeat(kept, 2)[:, None]
    covariance: Array = np.linalg.pinv(jacobian.T @ jacobian, hermitian=True).astype(np.float64)
    places = grid(canvas)
    at = problem.at_projector

    def light(part: Array) -> Array:
        return TABLE_UNIT_MM * _light_on_table(canvas, part, places)

    return light(theta[at:]), _differentiate(light, theta[at:], 1e-6), covariance[at:, at:]


def _differentiate_rows(problem: _Problem, theta: Array) -> Array:
    """Derivative (N, 2, 2) of each predicted photo px by its place on the table (table units)."""
    table = _on_table(problem, theta)
    stations = np.column_stack(
        [theta[: problem.at_placements].reshape(-1, 8), np.ones(problem.stations)]
    ).reshape(-1, 3, 3)
    h = stations[problem.station]

    def seen(places: Array) -> Array:
        top = np.einsum("nij,nj->ni", h[:, :, :2], places) + h[:, :, 2]
        terms = theta[problem.at_camera : problem.at_scale]
        return problem.radius_px * _bend_camera(top[:, :2] / top[:, 2:], terms)

    step = 1e-6
    columns = [(seen(table + d) - seen(table - d)) / (2 * step) for d in step * np.eye(2)]
    return np.stack(columns, axis=2)


def _differentiate(function: Callable[[Array], Array], at: Array, step: float) -> Array:
    columns = []
    for i in range(len(at)):
        shift = np.zeros_like(at)
        shift[i] = step
        columns.append((function(at + shift) - function(at - shift)) / (2 * step))
    return np.stack(columns, axis=-1)


def _noise_ratios(problem: _Problem, theta: Array, weights: Array) -> tuple[float, float]:
    """Residual over noise floor, printed and thrown; about 1 when the optics are as modelled.

    The floor is what is left when a cubic in the picture is also taken off the residuals of each
    photo and leg: a lens unlike the model bends smoothly, noise does not.
    """
    away = _predict(problem, theta) - problem.camera_px
    # The fit has taken its unknowns out of all residuals alike; those with a prior count for none.
    free = 1 - (problem.count - len(problem.priors[0])) / (2 * len(away))
    ratios = [1.0, 1.0]
    for leg in (PRINTED, THROWN):
        total, floor, freedom, count = 0.0, 0.0, 0.0, 0.0
        for n in range(problem.photos):
            rows = (problem.leg == leg) & (problem.photo == n) & (weights > 0.5)
            if rows.sum() < 30:
                continue
            xy = problem.source[rows]
            x, y = ((xy - xy.mean(axis=0)) / np.ptp(xy, axis=0)).T
            terms = np.stack([x**a * y**b for a in range(4) for b in range(4 - a)], axis=1)
            basis, _ = np.linalg.qr(terms)
            rest = away[rows] - basis @ (basis.T @ away[rows])
            total += float(np.sum(away[rows] ** 2))
            floor += float(np.sum(rest**2))
            freedom += 2 * (rows.sum() - terms.shape[1])
            count += 2 * rows.sum()
        if count:
            got = total / (count * max(free, 0.2))
            ratios[leg] = max(1.0, math.sqrt(got / max(floor / freedom, 1e-12)))
    return ratios[PRINTED], ratios[THROWN]


def _map_of(
    problem: _Problem, theta: Array, accuracy: Accuracy | None, trusted: Array | None
) -> TableMap:
    """The table map in mm, in the frame of the first placement's board."""
    assert problem.thrown is not None
    w, h = problem.thrown.canvas_px
    radius = 0.5 * math.hypot(w, h)
    part = theta[problem.at_projector :]
    table_from_ideal = np.append(part[:8], 1.0).reshape(3, 3)
    mm = np.diag([TABLE_UNIT_MM, TABLE_UNIT_MM, 1.0])
    px = np.array([[radius, 0, w / 2], [0, radius, h / 2], [0, 0, 1.0]])
    framed = _frame_shift(problem)
    k1, k2, p1, p2 = (float(k) for k in part[8:12])
    bent = max(map(abs, part[8:12])) * radius >= 0.01
    lens = Lens(k1, k2, (w / 2, h / 2), radius, p1, p2) if bent else None
    try:
        return TableMap(
            px @ np.linalg.inv(framed @ mm @ table_from_ideal), (w, h), lens, accuracy, trusted
        )
    except CalibrationError as wrong:
        raise FitError(
            f"The photos do not give a map: {wrong.message}",
            code="fit.no-map",
            hint=wrong.hint
            or "Take the photos again, the whole pattern and the whole board in each.",
        ) from wrong


def _frame_shift(problem: _Problem) -> Array:
    """From the board's middle, where fitting has its origin, to the board's first corner."""
    x, y = board_corners(problem.board).mean(axis=0)
    return np.array([[1.0, 0, x], [0, 1.0, y], [0, 0, 1.0]])


def _laid(problem: _Problem, theta: Array) -> tuple[Laid, ...]:
    poses = np.concatenate([np.zeros(3), theta[problem.at_placements : problem.at_camera]])
    middle = board_corners(problem.board).mean(axis=0)
    placements = []
    for turn, x, y in poses.reshape(-1, 3):
        c, s = math.cos(turn), math.sin(turn)
        at = np.array([x, y]) * TABLE_UNIT_MM + middle
        r = np.array([[c, s], [-s, c]])
        outline = (board_outline(problem.board) - middle) @ r + at
        origin = -middle @ r + at
        placements.append(Laid(outline, math.degrees(turn), (float(origin[0]), float(origin[1]))))
    return tuple(placements)


def _trusted(plain: TableMap, laid: tuple[Laid, ...]) -> Array:
    """The boards' hull, half as large again about its middle, where it is lit: (N, 2) mm."""
    corners = np.concatenate([p.outline_mm for p in laid]).astype(np.float32)
    hull = cv2.convexHull(corners).reshape(-1, 2).astype(np.float64)
    moments = cv2.moments(hull.astype(np.float32).reshape(-1, 1, 2))
    middle = np.array([moments["m10"], moments["m01"]]) / moments["m00"]
    wide = middle + HULL * (hull - middle)
    lit = plain.lit_outline()
    _, part = cv2.intersectConvexConvex(
        cv2.convexHull(wide.astype(np.float32)), cv2.convexHull(lit.astype(np.float32))
    )
    outline = wide if part is None else np.asarray(part, dtype=np.float64).reshape(-1, 2)  # type: ignore[redundant-expr]
    x, y = outline.T
    turn = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return outline if turn > 0 else outline[::-1]


def _words(ratio: float, trusted: Array, lit: Array, problem: _Problem) -> tuple[str, ...]:
    words = []
    if ratio > LENS_SUSPECT:
        words.append(
            "The corners miss by more than their noise: paper that does not lie flat, or a lens "
            "unlike the model. Press the board flat, lay it in five places or more, or check by tape."
        )
    share = abs(_area(trusted)) / abs(_area(lit))
    if share < 0.9:
        words.append(
            f"The boards speak for {100 * share:.0f} per cent of the lit table. Lay the board in "
            "more places to cover the rest."
        )
    if max(problem.board.scale_sigma) > 6e-4:
        words.append(
            "The print was measured over a short length, so the scale is uncertain: measure over "
            "ten squares or more, or tie the scale to one long tape distance."
        )
    return tuple(words)


def _area(outline: Array) -> float:
    x, y = outline.T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _mm_per_photo_px(problem: _Problem, theta: Array) -> Array:
    """Size (N,) of a photo px on the table at each corner, mm (the longer way)."""
    singular = np.linalg.svd(_differentiate_rows(problem, theta), compute_uv=False)
    return np.asarray(TABLE_UNIT_MM / singular[:, 1], dtype=np.float64)


def _printed_rms_mm(problem: _Problem, theta: Array) -> float:
    away = np.linalg.norm(_predict(problem, theta) - problem.camera_px, axis=1)
    mm = away * _mm_per_photo_px(problem, theta)
    return float(np.sqrt(np.mean(mm[problem.leg == PRINTED] ** 2)))


def _camera_lens(problem: _Problem, theta: Array) -> CameraLens:
    k1, k2, k3, p1, p2, cx, cy = (float(t) for t in theta[problem.at_camera : problem.at_scale])
    w, h = problem.size_px
    radius = problem.radius_px
    return CameraLens(k1, k2, k3, p1, p2, (w / 2 + cx * radius, h / 2 + cy * radius), radius)


def _photo_fits(problem: _Problem, theta: Array, weights: Array) -> tuple[PhotoFit, ...]:
    away = _predict(problem, theta) - problem.camera_px
    framed = _frame_shift(problem)
    w, h = problem.size_px
    px = np.array([[problem.radius_px, 0, w / 2], [0, problem.radius_px, h / 2], [0, 0, 1.0]])
    mm = np.diag([TABLE_UNIT_MM, TABLE_UNIT_MM, 1.0])
    fits = []
    for n in range(problem.photos):
        rows = problem.photo == n
        station = int(problem.station[rows][0]) if rows.any() else 0
        inner = np.append(theta[8 * station : 8 * station + 8], 1.0).reshape(3, 3)
        matrix = px @ inner @ np.linalg.inv(framed @ mm)

        def rms(leg: int, rows: NDArray[np.bool_] = rows) -> float | None:
            mine = rows & (problem.leg == leg)
            return float(np.sqrt(np.mean(away[mine] ** 2))) if mine.any() else None

        fits.append(
            PhotoFit(
                matrix / matrix[2, 2], rms(PRINTED), rms(THROWN), int(np.sum(weights[rows] < 0.5))
            )
        )
    return tuple(fits)


def _on_canvas(table_map: TableMap, outlines: Sequence[Array]) -> tuple[Array, ...]:
    """Outlines (4, 2) in canvas px of those that the light can reach."""
    return tuple(
        table_map.to_projector(outline) for outline in outlines if table_map.reaches(outline).all()
    )
