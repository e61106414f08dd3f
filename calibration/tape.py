"""A table map without a camera: crosses lit at known pixels, distances between them by tape.

Method: trilateration adjusted by least squares. A picture on a plane has eight numbers, three of
which only say where the table's frame lies; five distances settle the rest and each further one is
a check. The bend of the projector's lens and the scale of the tape enter as two more unknowns with
a prior, so that they are found where the readings can tell and widen the stated error where not.
Odd readings are named by standardised residuals (Baarda, A testing procedure for use in geodetic
networks, 1968).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from calibration import homography as plane
from calibration.errors import CalibrationError, TapeError
from calibration.homography import Array
from calibration.place_errors import PlaceErrors, grid
from calibration.spread import spread_of
from calibration.table_map import Accuracy, Lens, TableMap

SHAPE = 5
"""Numbers that settle a picture on a plane, its frame apart: 8 - 3."""

SIGMA_MM = 0.5
"""Standard error of a reading between two lit crosses with an ordinary tape (sighting both ends)."""

TIE_SIGMA_MM = 0.25
"""Standard error of the one long distance that ties the scale: both ends marked, read twice."""

TAPE_SCALE = 2e-4
"""Standard error of a tape's own scale: class II tapes may err by 0.2 mm a metre beyond their 0.3
(Directive 2014/32/EU, annex X, from memory)."""

UNTIED_TAPE_SCALE = 2e-3
"""The same when another distance ties the scale: then any tape will do, a stretched one too."""

LENS_SIGMA = 0.003
"""Standard error assumed of the projector lens' k1 (canvas half diagonal as radius): 0.3 per cent,
3 px at the corner of 1920 x 1080. Common practice, no published source."""

PRIOR_READINGS = 6.0
"""How many readings the assumed sigma weighs against the scatter found in the readings at hand."""

ODD = 3.29
"""Standardised residual beyond which a reading is called odd (Baarda: one test in a thousand)."""

COVER = 0.92
"""Quantile of the error's distribution that is stated. The model is exact but for the lens, so hardly
more than the nine in ten promised."""

UNSETTLED = 0.02
"""mm of reading per mm of cross below which a way of deforming the picture counts as unseen."""

LONGEST_MM = 20_000.0
"""No table is longer; a larger reading is a slip of the keyboard."""


@dataclass(frozen=True, slots=True)
class Cross:
    """A cross lit at ``px`` on the canvas (pixel i covers [i, i + 1))."""

    name: str
    px: tuple[float, float]


@dataclass(frozen=True, slots=True)
class CrossSet:
    """The crosses lit, and the two that give the table its frame: origin, and x along to ``along``."""

    crosses: tuple[Cross, ...]
    origin: str
    along: str


@dataclass(frozen=True, slots=True)
class Distance:
    """Tape reading between crosses ``a`` and ``b``, mm."""

    a: str
    b: str
    mm: float


@dataclass(frozen=True, slots=True)
class Reading:
    """A distance as it was met: ``off_mm`` = read less computed, ``odd`` when it stands out.

    ``standard`` is the residual over its own standard error; None when nothing checks this reading
    (then ``off_mm`` is 0 whatever was typed).
    """

    distance: Distance
    off_mm: float
    standard: float | None
    odd: bool


@dataclass(frozen=True, slots=True)
class TapeResult:
    """The map, how each reading was met, and what to do next in words.

    ``again`` names the pairs to measure again, most likely first; empty when all agree.
    ``checks`` is how many readings there are beyond the five that settle the map.
    ``tape_scale`` is how long the tape reads for a true mm (1 unless tied by a long distance).
    ``positions_mm`` are the crosses on the table, in the set's order.
    """

    table_map: TableMap
    readings: tuple[Reading, ...]
    again: tuple[tuple[str, str], ...]
    checks: int
    tape_scale: float
    positions_mm: tuple[tuple[float, float], ...]
    words: tuple[str, ...]


def corner_crosses(canvas_px: tuple[int, int], *, inset: float = 0.06) -> CrossSet:
    """Four crosses near the corners of the canvas: A, B along the near edge, C, D back again.

    ``inset`` is the distance from the edges as a share of the canvas. As the picture is seen: A
    bottom left, B bottom right, C top right, D top left; the frame starts at A, x runs to B.
    """
    xs, ys = _lines(canvas_px, inset, 2)
    places = [(xs[0], ys[1]), (xs[1], ys[1]), (xs[1], ys[0]), (xs[0], ys[0])]
    crosses = tuple(Cross(n, p) for n, p in zip("ABCD", places, strict=True))
    return CrossSet(crosses, origin="A", along="B")


def grid_crosses(canvas_px: tuple[int, int], *, inset: float = 0.06) -> CrossSet:
    """Nine crosses, three by three: A B C along the bottom row, D E F, then G H I at the top.

    The frame starts at A, x runs to C.
    """
    xs, ys = _lines(canvas_px, inset, 3)
    places = [(x, y) for y in reversed(ys) for x in xs]
    crosses = tuple(Cross(n, p) for n, p in zip("ABCDEFGHI", places, strict=True))
    return CrossSet(crosses, origin="A", along="C")


def all_pairs(crosses: CrossSet) -> tuple[tuple[str, str], ...]:
    """Every pair of crosses, in the set's order."""
    return tuple(combinations([c.name for c in crosses.crosses], 2))


def measured(crosses: CrossSet, table_map: TableMap, pairs: Sequence[tuple[str, str]]) -> Array:
    """Distances (len(pairs),) in mm that ``table_map`` expects between pairs of crosses."""
    places = table_map.to_table([c.px for c in crosses.crosses])
    index = {c.name: i for i, c in enumerate(crosses.crosses)}
    i = [index[a] for a, _ in pairs]
    j = [index[b] for _, b in pairs]
    return np.asarray(np.linalg.norm(places[i] - places[j], axis=1), dtype=np.float64)


def solve(
    crosses: CrossSet,
    distances: Sequence[Distance],
    canvas_px: tuple[int, int],
    *,
    sigma_mm: float = SIGMA_MM,
    tie: Distance | None = None,
) -> TapeResult:
    """Table map from tape readings; ``tie`` is one long distance that the scale is taken from.

    Raises TapeError when a reading is not one, when the readings leave the map open (the hint says
    which distance to add), or when no picture on a flat table has these distances. Not checked:
    that the table is flat and the crosses were lit where the set says.
    """
    problem = _prepare(crosses, distances, canvas_px, sigma_mm, tie)
    _refuse_unsettled(problem, crosses)
    found, jacobian = _fit(problem)
    readings, again = _judge(problem, found, jacobian)
    checks = len(problem.mm) - SHAPE
    return _result(problem, found, jacobian, readings, again, checks)


def next_to_measure(
    crosses: CrossSet, distances: Sequence[Distance], canvas_px: tuple[int, int]
) -> tuple[str, str] | None:
    """The unmeasured pair that would settle the map best, or None when all pairs are measured."""
    done = {frozenset((d.a, d.b)) for d in distances}
    left = [p for p in all_pairs(crosses) if frozenset(p) not in done]
    if not left:
        return None
    pairs = [(d.a, d.b) for d in distances]
    shape = _shape_of(crosses)

    def worth(pair: tuple[str, str]) -> float:
        singular = _settled(shape, crosses, [*pairs, pair])
        return float(np.sum(np.log(np.maximum(singular, 1e-6))))

    return max(left, key=worth)


@dataclass(frozen=True, slots=True)
class _Problem:
    """Readings as arrays. Parameters: b, cx, cy, dx, dy (mm), k1, tape scale."""

    crosses: CrossSet
    canvas_px: tuple[int, int]
    px: Array
    base: tuple[int, int, int, int]
    start: Array
    pairs: list[tuple[int, int]]
    mm: Array
    sigma: Array
    tied: NDArray[np.bool_]
    scale_sigma: float
    distances: tuple[Distance, ...]

    @property
    def prior(self) -> Array:
        return np.array([LENS_SIGMA, self.scale_sigma])


def _lines(canvas_px: tuple[int, int], inset: float, n: int) -> tuple[list[float], list[float]]:
    if not 0 <= inset < 0.5:
        raise TapeError(f"The inset is a share from 0 to 0.5; {inset} came.", where="inset")
    return tuple(  # type: ignore[return-value]  # two lists, from a comprehension over two sides
        [math.floor(side * (inset + (1 - 2 * inset) * i / (n - 1))) + 0.5 for i in range(n)]
        for side in canvas_px
    )


def _prepare(
    crosses: CrossSet,
    distances: Sequence[Distance],
    canvas_px: tuple[int, int],
    sigma_mm: float,
    tie: Distance | None,
) -> _Problem:
    names = [c.name for c in crosses.crosses]
    if len(set(names)) != len(names) or len(names) < 4:
        raise TapeError("Four crosses or more are needed, each with its own name.", where="crosses")
    for name in (crosses.origin, crosses.along):
        if name not in names:
            raise TapeError(f"There is no cross {name}.", where=name)
    if not (math.isfinite(sigma_mm) and sigma_mm > 0):
        raise TapeError("The reading error must be a number of mm above 0.", where="sigma_mm")
    everything = (*distances, tie) if tie is not None else tuple(distances)
    for d in everything:
        _check_distance(d, names)
    index = {n: i for i, n in enumerate(names)}
    px = np.array([c.px for c in crosses.crosses], dtype=np.float64)
    tied = np.array([tie is not None and d is tie for d in everything], dtype=np.bool_)
    return _Problem(
        crosses=crosses,
        canvas_px=canvas_px,
        px=px,
        base=_base(px),
        start=_shape_of(crosses),
        pairs=[(index[d.a], index[d.b]) for d in everything],
        mm=np.array([d.mm for d in everything], dtype=np.float64),
        sigma=np.where(tied, TIE_SIGMA_MM, sigma_mm),
        tied=tied,
        scale_sigma=TAPE_SCALE if tie is None else UNTIED_TAPE_SCALE,
        distances=everything,
    )


def _check_distance(d: Distance, names: list[str]) -> None:
    where = f"{d.a}-{d.b}"
    for name in (d.a, d.b):
        if name not in names:
            raise TapeError(
                f"There is no cross {name}; the crosses are {', '.join(names)}.",
                code="tape.cross",
                where=where,
                hint="Type the letters that are lit beside the crosses.",
            )
    if d.a == d.b:
        raise TapeError(
            f"{where} is no distance: it starts and ends at one cross.",
            code="tape.reading",
            where=where,
            hint="Name two different crosses.",
        )
    if not (math.isfinite(d.mm) and 0 < d.mm <= LONGEST_MM):
        raise TapeError(
            f"{where} reads {d.mm} mm; a reading is above 0 and at most {LONGEST_MM:.0f} mm.",
            code="tape.reading",
            where=where,
            hint=f"Measure {where} again and type it in mm, or say cm or inches.",
        )


def _base(px: Array) -> tuple[int, int, int, int]:
    """Four crosses of the widest quadrilateral, counter-clockwise as the picture is seen."""
    up = px * (1, -1)
    best = max(
        combinations(range(len(px)), 4),
        key=lambda four: round(_quad_area(up[list(four)]), 6),
    )
    corner = up[list(best)]
    around = np.argsort(np.arctan2(*(corner - corner.mean(axis=0)).T[::-1]))
    a, b, c, d = (best[i] for i in around)
    return a, b, c, d


def _quad_area(corner: Array) -> float:
    """Area of four points in order round their middle, less what makes it thin: 0 if not convex."""
    around = corner[np.argsort(np.arctan2(*(corner - corner.mean(axis=0)).T[::-1]))]
    turn = [
        float(_cross(around[(i + 1) % 4] - around[i], around[(i + 2) % 4] - around[(i + 1) % 4]))
        for i in range(4)
    ]
    return sum(turn) if min(turn) > 0 else 0.0


def _cross(a: Array, b: Array) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _shape_of(crosses: CrossSet) -> Array:
    """Shape parameters when the picture is not distorted and a mm is a px: where fitting starts."""
    px = np.array([c.px for c in crosses.crosses], dtype=np.float64)
    up = px[list(_base(px))] * (1, -1)
    if _quad_area(up) <= 0:
        raise TapeError(
            "The crosses lie on one line, so no distances can settle the map.",
            code="tape.crosses",
            where="crosses",
            hint="Light four crosses near the corners.",
        )
    along = up[1] - up[0]
    length = float(np.hypot(*along))
    c, s = along / length
    turned = (up - up[0]) @ np.array([[c, -s], [s, c]])
    return np.array([length, *turned[2], *turned[3]])


def _table(problem: _Problem, theta: Array, px: Array) -> Array:
    """Places (N, 2), mm, of canvas positions ``px`` (N, 2), in the frame of the base crosses."""
    b, cx, cy, dx, dy, k1, _ = theta
    centre, radius = _optics(problem.canvas_px)
    base_ideal = plane.unbend(problem.px[list(problem.base)], centre, radius, (k1, 0))
    corners = np.array([(0, 0), (b, 0), (cx, cy), (dx, dy)])
    table_from_ideal = _four_point(base_ideal, corners)
    return plane.apply(table_from_ideal, plane.unbend(px, centre, radius, (k1, 0)))


def _four_point(source: Array, destination: Array) -> Array:
    """Homography of exactly four pairs, by one 8 x 8 system (last element 1)."""
    x, y = source.T
    u, v = destination.T
    one, nil = np.ones(4), np.zeros(4)
    rows = np.concatenate(
        [
            np.stack([x, y, one, nil, nil, nil, -u * x, -u * y], axis=1),
            np.stack([nil, nil, nil, x, y, one, -v * x, -v * y], axis=1),
        ]
    )
    return np.append(np.linalg.solve(rows, np.concatenate([u, v])), 1.0).reshape(3, 3)


def _optics(canvas_px: tuple[int, int]) -> tuple[tuple[float, float], float]:
    w, h = canvas_px
    return (w / 2, h / 2), 0.5 * math.hypot(w, h)


def _computed(problem: _Problem, theta: Array) -> Array:
    """What the tape should read (M,), mm."""
    places = _table(problem, theta, problem.px)
    i, j = np.array(problem.pairs).T
    true = np.linalg.norm(places[i] - places[j], axis=1)
    return np.asarray(np.where(problem.tied, true, theta[6] * true), dtype=np.float64)


def _misses(problem: _Problem, theta: Array) -> Array:
    """Residuals in standard errors (M + 2,): readings, then the two priors."""
    readings = (_computed(problem, theta) - problem.mm) / problem.sigma
    return np.append(readings, (theta[5:] - (0, 1)) / problem.prior)


def _settled(shape: Array, crosses: CrossSet, pairs: Sequence[tuple[str, str]]) -> Array:
    """Singular values (5,): how strongly distances between ``pairs`` hold each way of deforming."""
    px = np.array([c.px for c in crosses.crosses], dtype=np.float64)
    base = px[list(_base(px))]
    index = {c.name: n for n, c in enumerate(crosses.crosses)}
    if not pairs:
        return np.zeros(SHAPE)
    i = [index[a] for a, _ in pairs]
    j = [index[b] for _, b in pairs]

    def lengths(five: Array) -> Array:
        b, cx, cy, dx, dy = five
        h = _four_point(base, np.array([(0, 0), (b, 0), (cx, cy), (dx, dy)]))
        places = plane.apply(h, px)
        return np.asarray(np.linalg.norm(places[i] - places[j], axis=1), dtype=np.float64)

    jacobian = _differentiate(lengths, shape, np.full(SHAPE, 1e-4 * shape[0]))
    singular = np.linalg.svd(jacobian, compute_uv=False)
    return np.append(singular, np.zeros(SHAPE - len(singular)))


def _refuse_unsettled(problem: _Problem, crosses: CrossSet) -> None:
    names = [(d.a, d.b) for d in problem.distances]
    if _settled(problem.start, crosses, names)[-1] >= UNSETTLED:
        return
    known = list(problem.distances)
    wanted: list[str] = []
    while True:
        pair = next_to_measure(crosses, known, problem.canvas_px)
        if pair is None:
            break
        wanted.append("-".join(pair))
        known.append(Distance(*pair, 1.0))
        if _settled(problem.start, crosses, [(d.a, d.b) for d in known])[-1] >= UNSETTLED:
            break
    raise TapeError(
        f"The {len(names)} distances measured leave the picture free to change its shape; "
        "five well chosen ones settle it, six check it.",
        code="tape.open",
        where=", ".join(wanted),
        hint=f"Measure also {' and '.join(wanted)}.",
    )


def _fit(problem: _Problem) -> tuple[Array, Array]:
    """Best parameters (7,) and the Jacobian (M + 2, 7) there; raises TapeError if no picture fits."""
    guess = _scaled_start(problem)
    solution = least_squares(
        partial(_misses, problem),
        guess,
        jac=partial(_slopes, problem),
        method="lm",
        xtol=1e-12,
        ftol=1e-12,
    )
    theta = np.asarray(solution.x, dtype=np.float64)
    try:
        _map_of(problem, theta)
    except CalibrationError as impossible:
        worst = _robust_worst(problem, guess)
        raise TapeError(
            "No picture on a flat table has these distances.",
            code="tape.impossible",
            where=f"{worst.a}-{worst.b}",
            hint=f"Measure {worst.a}-{worst.b} again first: it is farthest from the others.",
        ) from impossible
    return theta, _slopes(problem, theta)


def _scaled_start(problem: _Problem) -> Array:
    """The undistorted picture at the scale that the readings have in the middle."""
    unit = np.array([*problem.start, 0.0, 1.0])
    ratio = float(np.median(problem.mm / _computed(problem, unit)))
    return np.array([*(problem.start * ratio), 0.0, 1.0])


def _slopes(problem: _Problem, theta: Array) -> Array:
    steps = np.array([*np.full(SHAPE, 1e-6 * theta[0]), 1e-6, 1e-6])
    return _differentiate(partial(_misses, problem), theta, steps)


def _differentiate(function: Callable[[Array], Array], at: Array, steps: Array) -> Array:
    """Central differences: (len(function), len(at))."""
    columns = []
    for i, step in enumerate(steps):
        shift = np.zeros_like(at)
        shift[i] = step
        columns.append((function(at + shift) - function(at - shift)) / (2 * step))
    return np.stack(columns, axis=-1)


def _robust_worst(problem: _Problem, guess: Array) -> Distance:
    """The reading farthest from a fit that lets single readings go."""
    kept = least_squares(partial(_misses, problem), guess, loss="cauchy", f_scale=1.0)
    off = np.abs(_misses(problem, np.asarray(kept.x))[: len(problem.mm)])
    return problem.distances[int(np.argmax(off))]


def _judge(
    problem: _Problem, theta: Array, jacobian: Array
) -> tuple[tuple[Reading, ...], tuple[tuple[str, str], ...]]:
    """Each reading with its standardised residual, and the pairs to measure again."""
    m = len(problem.mm)
    misses = _misses(problem, theta)
    hat = jacobian @ np.linalg.pinv(jacobian)
    redundancy = 1 - np.diag(hat)[:m]
    standard = np.where(
        redundancy > 1e-6, misses[:m] / np.sqrt(np.maximum(redundancy, 1e-12)), np.nan
    )
    worst = float(np.nanmax(np.abs(standard))) if np.isfinite(standard).any() else 0.0
    # With one check all standardised residuals are alike: the odd one cannot be told from the rest.
    alike = np.abs(standard) > 0.97 * worst
    odd = (np.abs(standard) > ODD) & alike
    off = problem.mm - _computed(problem, theta)
    readings = tuple(
        Reading(d, float(o), None if np.isnan(s) else float(s), bool(flag))
        for d, o, s, flag in zip(problem.distances, off, standard, odd, strict=True)
    )
    order = sorted(range(m), key=lambda i: -abs(float(np.nan_to_num(standard[i]))))
    return readings, tuple(
        (problem.distances[i].a, problem.distances[i].b) for i in order if odd[i]
    )


def _map_of(problem: _Problem, theta: Array, accuracy: Accuracy | None = None) -> TableMap:
    """The table map of parameters, in the frame that the set's crosses name."""
    centre, radius = _optics(problem.canvas_px)
    ideal = plane.unbend(problem.px[list(problem.base)], centre, radius, (theta[5], 0))
    b, cx, cy, dx, dy = theta[:SHAPE]
    corners = np.array([(0, 0), (b, 0), (cx, cy), (dx, dy)])
    index = {c.name: i for i, c in enumerate(problem.crosses.crosses)}
    ends = [index[problem.crosses.origin], index[problem.crosses.along]]
    origin, along = _table(problem, theta, problem.px[ends])
    c, s = (along - origin) / np.hypot(*(along - origin))
    framed = (corners - origin) @ np.array([[c, -s], [s, c]])
    # A k1 that moves the corner by a hundredth of a pixel is not worth a bend.
    lens = None if abs(theta[5]) * radius < 0.01 else Lens(float(theta[5]), 0.0, centre, radius)
    return TableMap(_four_point(framed, ideal), problem.canvas_px, lens, accuracy)


def _result(
    problem: _Problem,
    theta: Array,
    jacobian: Array,
    readings: tuple[Reading, ...],
    again: tuple[tuple[str, str], ...],
    checks: int,
) -> TapeResult:
    misses = _misses(problem, theta)
    scatter = (PRIOR_READINGS + float(misses @ misses)) / (PRIOR_READINGS + max(checks, 0))
    # The scatter widens what the readings say, never what is assumed of lens and tape.
    weight = np.append(np.full(len(problem.mm), 1 / math.sqrt(scatter)), [1.0, 1.0])
    weighted = jacobian * weight[:, None]
    covariance = np.linalg.pinv(weighted.T @ weighted)
    # A deviation in the tape's scale is met by the shape's size: the sixth and seventh parameter
    # are part of the covariance, and the places move with them.
    lit = grid(problem.canvas_px)
    steps = np.array([*np.full(SHAPE, 1e-6 * theta[0]), 1e-6, 1e-6])
    effects = _differentiate(lambda t: _table(problem, t, lit), theta, steps)
    spread = spread_of(effects, covariance, _table(problem, theta, lit), cover=COVER)
    off = np.array([r.off_mm for r in readings])
    words = _words(again, checks)
    accuracy = Accuracy(
        method="tape",
        rms_mm=spread.rms_mm,
        p95_mm=spread.p95_mm,
        max_mm=spread.max_mm,
        fit_rms_mm=float(np.sqrt(np.mean(off**2))),
        readings=len(readings),
        noise_ratio=math.sqrt(float(misses @ misses) / checks) if checks > 0 else None,
        words=words,
    )
    table_map = replace(_map_of(problem, theta, accuracy), places=PlaceErrors(spread.place_mm))
    places = table_map.to_table(problem.px)
    return TapeResult(
        table_map=table_map,
        readings=readings,
        again=again,
        checks=checks,
        tape_scale=float(theta[6]),
        positions_mm=tuple((float(x), float(y)) for x, y in places),
        words=words,
    )


def _words(again: tuple[tuple[str, str], ...], checks: int) -> tuple[str, ...]:
    if checks <= 0:
        return ("Nothing checks these five distances. Measure a sixth.",)
    if not again:
        return ()
    names = [f"{a}-{b}" for a, b in again]
    if len(names) == 1:
        return (f"Measure {names[0]} again: it does not agree with the others.",)
    return (
        f"The distances do not agree. Measure {names[0]} again, then "
        f"{', '.join(names[1:])}: with so few readings the odd one cannot be told from the rest.",
    )
