"""The table map: from a place on the table, in mm, to a place on the projector's canvas, in pixels.

Canvas convention: x right, y down, pixel i covers [i, i + 1), so its centre is i + 0.5. Table
convention: x along the table, y up as in a graph, mm. A picture thrown on a table from above is not
mirrored, therefore the determinant of the map is negative (y turns over) and is checked.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from calibration import homography as plane
from calibration.errors import MapError
from calibration.homography import Array
from calibration.place_errors import PlaceErrors
from calibration.place_errors import from_dict as place_errors_from_dict

FORMAT = 1
"""Version of the dictionary form."""

LARGEST_CANVAS_PX = 16384
"""No projector or browser canvas is larger; a larger number is a slip of the keyboard."""

REACH = 1.5
"""How far beyond its half diagonal a bent canvas may be asked about: clipping wants a margin, but a
polynomial far outside the region it was fitted on says nothing."""

MOST_ACROSS = 0.02
"""Largest tangential term: a tenth of it is already a lens that nobody would sell, and within 1.5 half
diagonals its picture cannot fold (6 p r stays below 0.2)."""


@dataclass(frozen=True, slots=True)
class Lens:
    """The projector's lens, ideal px -> canvas px: radial terms, and tangential ones of a lens that is
    not quite square to its picture (see :func:`calibration.homography.bend`).

    Lengths are in ``radius_px``; the centre is in canvas px.
    """

    k1: float
    k2: float
    centre_px: tuple[float, float]
    radius_px: float
    p1: float = 0.0
    p2: float = 0.0

    @property
    def terms(self) -> tuple[float, float, float, float]:
        """k1, k2, p1, p2."""
        return (self.k1, self.k2, self.p1, self.p2)


@dataclass(frozen=True, slots=True)
class Accuracy:
    """What is known of a map's error on the table, in mm, over the canvas (or the trusted part).

    ``p95_mm`` is stated so that the true one is below it nine times in ten; ``rms_mm`` and
    ``max_mm`` belong to the same estimate. ``fit_rms_mm`` is how well the readings or corners
    themselves were met, ``noise_ratio`` that figure over what their noise alone would leave (about
    1 when the model is right). ``verified_mm`` is the largest deviation found by an independent
    tape check, None when there was none. ``shape_mm`` are rms, p95 and max with the common scale left
    out: what stays when one long distance ties it (None: not known). ``words`` say what else the
    person should know.
    """

    method: Literal["tape", "camera"]
    rms_mm: float
    p95_mm: float
    max_mm: float
    fit_rms_mm: float
    readings: int
    noise_ratio: float | None = None
    verified_mm: float | None = None
    words: tuple[str, ...] = ()
    shape_mm: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class TableMap:
    """Where each place of the table is on the canvas.

    ``projector_from_table`` (3, 3): table mm -> ideal px, scaled so that the third homogeneous
    coordinate is positive on the lit side of the horizon; then ``lens`` bends ideal px to canvas
    px. ``canvas_px`` = (width, height) that the map was made for: on any other canvas it is void.
    ``trusted_mm`` (N, 2): outline of the part of the table the figures speak for, or None = all lit.
    ``places``: the stated error place by place, or None where it is not known.
    """

    projector_from_table: Array
    canvas_px: tuple[int, int]
    lens: Lens | None = None
    accuracy: Accuracy | None = None
    trusted_mm: Array | None = None
    places: PlaceErrors | None = None

    def __post_init__(self) -> None:
        _check_canvas(self.canvas_px)
        object.__setattr__(self, "projector_from_table", _checked_homography(self))
        if self.trusted_mm is not None:
            outline = np.array(self.trusted_mm, dtype=np.float64).reshape(-1, 2)
            outline.setflags(write=False)
            object.__setattr__(self, "trusted_mm", outline)

    def __reduce__(self) -> tuple[object, ...]:
        return (from_dict, (self.to_dict(),))

    def reaches(self, table_mm: ArrayLike) -> np.ndarray[Any, np.dtype[np.bool_]]:
        """Mask (N,): is each place (N, 2) on the lit side, near enough for the lens terms to hold?

        True does not mean lit: a place outside the canvas but near it has a pixel position too.
        """
        xy = _points(table_mm)
        ahead = plane.denominators(self.projector_from_table, xy) > 0
        if self.lens is None:
            return np.asarray(ahead)
        q = np.where(ahead[:, None], plane.apply(self.projector_from_table, xy), np.inf)
        away = np.linalg.norm(q - np.array(self.lens.centre_px), axis=1)
        return np.asarray(ahead & (away <= _lens_reach(self.lens, self.canvas_px)))

    def to_projector(self, table_mm: ArrayLike) -> Array:
        """Canvas px (N, 2) of places on the table (N, 2) in mm.

        Raises MapError when a place is not one that :meth:`reaches`; clip outlines to
        :meth:`lit_outline` first.
        """
        xy = _points(table_mm)
        out = ~self.reaches(xy)
        if out.any():
            x, y = xy[int(np.argmax(out))]
            raise MapError(
                f"The place {x:.0f} mm along and {y:.0f} mm across is out of the projector's reach.",
                code="map.out-of-reach",
                hint="Draw only what lies on the lit part of the table.",
            )
        q = plane.apply(self.projector_from_table, xy)
        return q if self.lens is None else _bend(self.lens, q)

    def to_table(self, canvas_px: ArrayLike) -> Array:
        """Places on the table (N, 2) in mm of canvas positions (N, 2) in px. Inverse of the above.

        Raises MapError for positions far outside the canvas, beyond the table's horizon.
        """
        p = _points(canvas_px)
        q = p if self.lens is None else _unbend(self.lens, p)
        table_from_projector = _inverse(self.projector_from_table)
        if (plane.denominators(table_from_projector, q) <= 0).any():
            raise MapError(
                "A canvas position was asked for that shows no place on the table.",
                code="map.out-of-reach",
                hint="Ask only for positions on the canvas.",
            )
        return plane.apply(table_from_projector, q)

    def px_per_mm(self, table_mm: ArrayLike) -> Array:
        """Smallest and largest scale (N, 2), px per mm, at places (N, 2) on the table."""
        xy = _points(table_mm)
        step = 0.5
        dx = self.to_projector(xy + (step, 0.0)) - self.to_projector(xy - (step, 0.0))
        dy = self.to_projector(xy + (0.0, step)) - self.to_projector(xy - (0.0, step))
        jacobian = np.stack([dx, dy], axis=2) / (2 * step)
        return np.asarray(np.linalg.svd(jacobian, compute_uv=False)[:, ::-1], dtype=np.float64)

    def mm_per_px(self, canvas_px: ArrayLike) -> Array:
        """Largest size (N,) of a pixel on the table, mm, at canvas positions (N, 2)."""
        smallest = self.px_per_mm(self.to_table(canvas_px))[:, 0]
        return np.asarray(1.0 / smallest, dtype=np.float64)

    def lit_outline(self, *, margin_px: float = 0.0, per_side: int = 16) -> Array:
        """Outline (4 * per_side, 2) of the lit part of the table, mm, counter-clockwise.

        ``margin_px`` > 0 keeps that far inside the canvas. Sides are subdivided because a lens
        bends them.
        """
        w, h = self.canvas_px
        m = margin_px
        turns = [(m, h - m), (w - m, h - m), (w - m, m), (m, m)]
        share = np.linspace(0, 1, per_side, endpoint=False)[:, None]
        sides = [
            np.array(a) + share * (np.array(b) - np.array(a))
            for a, b in zip(turns, turns[1:] + turns[:1], strict=True)
        ]
        return self.to_table(np.concatenate(sides))

    def lights(
        self, table_mm: ArrayLike, *, margin_px: float = 0.0
    ) -> np.ndarray[Any, np.dtype[np.bool_]]:
        """Mask (N,): is each place (N, 2) inside the canvas by ``margin_px`` or more?"""
        xy = _points(table_mm)
        near = self.reaches(xy)
        lit = np.zeros(len(xy), dtype=np.bool_)
        if near.any():
            p = self.to_projector(xy[near])
            inside = (p >= margin_px) & (p <= np.array(self.canvas_px) - margin_px)
            lit[near] = inside.all(axis=1)
        return lit

    def moved(self, *, turn_deg: float = 0.0, shift_mm: tuple[float, float] = (0, 0)) -> TableMap:
        """The same light in a new table frame: new = turn(old) + shift (turn counter-clockwise)."""
        t = math.radians(turn_deg)
        c, s = math.cos(t), math.sin(t)
        new_from_old = np.array([[c, -s, shift_mm[0]], [s, c, shift_mm[1]], [0, 0, 1.0]])
        return self._reframed(new_from_old)

    def scaled(self, factor: float) -> TableMap:
        """The map when every table length is ``factor`` times what was believed (about the origin)."""
        if not (math.isfinite(factor) and factor > 0):
            raise MapError(f"A scale must be a positive number; {factor} came.", code="map.scale")
        return self._reframed(np.diag([factor, factor, 1.0]))

    def with_accuracy(self, accuracy: Accuracy | None) -> TableMap:
        """The same map with another statement about its error."""
        return replace(self, accuracy=accuracy)

    def to_dict(self) -> dict[str, Any]:
        """JSON-able form; :func:`from_dict` gives the map back exactly."""
        return {
            "format": FORMAT,
            "projector_from_table": self.projector_from_table.tolist(),
            "canvas_px": list(self.canvas_px),
            "lens": None if self.lens is None else _lens_to_dict(self.lens),
            "accuracy": None if self.accuracy is None else _accuracy_to_dict(self.accuracy),
            "trusted_mm": None if self.trusted_mm is None else self.trusted_mm.tolist(),
            "places": None if self.places is None else self.places.to_dict(),
        }

    def _reframed(self, new_from_old: Array) -> TableMap:
        trusted = None if self.trusted_mm is None else plane.apply(new_from_old, self.trusted_mm)
        return replace(
            self,
            projector_from_table=self.projector_from_table @ np.linalg.inv(new_from_old),
            trusted_mm=trusted,
        )


def from_dict(data: Mapping[str, Any]) -> TableMap:
    """Table map of its dictionary form. Raises MapError naming the field that is wrong."""
    field = "format"
    try:
        if data["format"] != FORMAT:
            raise MapError(
                f"This table map is in format {data['format']!r}; format {FORMAT} is expected.",
                code="map.format",
                where="format",
                hint="Calibrate again.",
            )
        field = "projector_from_table"
        matrix = np.array(data[field], dtype=np.float64)
        field = "canvas_px"
        width, height = (int(n) for n in data[field])
        field = "lens"
        lens = None if data.get(field) is None else _lens_from_dict(data[field])
        field = "accuracy"
        accuracy = None if data.get(field) is None else _accuracy_from_dict(data[field])
        field = "trusted_mm"
        trusted = None if data.get(field) is None else np.array(data[field], dtype=np.float64)
        field = "places"
        places = None if data.get(field) is None else place_errors_from_dict(data[field])
    except (KeyError, TypeError, ValueError) as wrong:
        raise MapError(
            f"The table map's field {field!r} is missing or not what it should be.",
            code="map.field",
            where=field,
            hint="Calibrate again.",
        ) from wrong
    return TableMap(matrix, (width, height), lens, accuracy, trusted, places)


def _points(points: ArrayLike) -> Array:
    xy = np.asarray(points, dtype=np.float64)
    if xy.ndim == 1 and xy.shape == (2,):
        xy = xy[None, :]
    if xy.ndim != 2 or xy.shape[1] != 2:
        raise MapError(
            f"Places come as an array of shape (N, 2); shape {xy.shape} came.", code="map.shape"
        )
    if not np.isfinite(xy).all():
        raise MapError("A place must be two finite numbers.", code="map.shape")
    return xy


def _check_canvas(canvas_px: tuple[int, int]) -> None:
    if not all(1 <= n <= LARGEST_CANVAS_PX for n in canvas_px):
        raise MapError(
            f"A canvas is 1 to {LARGEST_CANVAS_PX} px wide and high; {canvas_px} came.",
            code="map.canvas",
            where="canvas_px",
        )


def _checked_homography(candidate: TableMap) -> Array:
    """The homography, read-only and in the fixed scale, if it is one that a projector can throw."""
    h = np.array(candidate.projector_from_table, dtype=np.float64)
    if h.shape != (3, 3) or not np.isfinite(h).all():
        raise MapError(
            "A table map needs nine finite numbers, three by three.",
            code="map.field",
            where="projector_from_table",
        )
    h = h / np.linalg.norm(h)
    if abs(np.linalg.det(h)) < 1e-15:
        raise MapError("This map flattens the table to a line.", code="map.degenerate")
    w, height = candidate.canvas_px
    border = np.array([(0, 0), (w, 0), (w, height), (0, height)], dtype=np.float64)
    if candidate.lens is not None:
        _check_lens(candidate.lens, candidate.canvas_px)
        border = _unbend(candidate.lens, border)
    # w(table) = 1 / w'(px) up to the common factor: same sign all round, or the horizon is lit.
    signs = plane.denominators(np.linalg.inv(h), border)
    if not ((signs > 0).all() or (signs < 0).all()):
        raise MapError(
            "By this map the canvas runs off to beyond the table's horizon.", code="map.horizon"
        )
    if signs[0] < 0:
        h = -h
    if np.linalg.det(h) > 0:
        raise MapError(
            "By this map the picture on the table is mirrored.",
            code="map.mirrored",
            hint="Check that the crosses or corners were not taken in the wrong order, and that the "
            "projector is not set to rear projection.",
        )
    h.setflags(write=False)
    return h


def _check_lens(lens: Lens, canvas_px: tuple[int, int]) -> None:
    numbers = (*lens.terms, *lens.centre_px, lens.radius_px)
    if not all(math.isfinite(n) for n in numbers) or lens.radius_px <= 0:
        raise MapError(
            "The lens terms must be finite numbers, the radius above 0.",
            code="map.field",
            where="lens",
        )
    corners = np.array([(0, 0), (canvas_px[0], 0), (0, canvas_px[1]), canvas_px], dtype=np.float64)
    farthest = float(np.max(np.linalg.norm(corners - np.array(lens.centre_px), axis=1)))
    limit = plane.bend_limit(lens.k1, lens.k2)
    reach = limit * (1 + lens.k1 * limit**2 + lens.k2 * limit**4) if math.isfinite(limit) else limit
    if farthest / lens.radius_px >= reach or math.hypot(lens.p1, lens.p2) > MOST_ACROSS:
        raise MapError(
            "These lens terms fold the picture over before its corners.",
            code="map.lens-folds",
            where="lens",
            hint="Calibrate again with the board laid in more places.",
        )


def _lens_reach(lens: Lens, canvas_px: tuple[int, int]) -> float:
    """Largest |q - c| in ideal px that the lens terms are asked about."""
    half = 0.5 * math.hypot(*canvas_px)
    limit = plane.bend_limit(lens.k1, lens.k2) * lens.radius_px
    return min(REACH * half, limit)


def _bend(lens: Lens, q: Array) -> Array:
    return plane.bend(q, lens.centre_px, lens.radius_px, lens.terms)


def _unbend(lens: Lens, p: Array) -> Array:
    return plane.unbend(p, lens.centre_px, lens.radius_px, lens.terms)


def _inverse(h: Array) -> Array:
    inverse = np.linalg.inv(h)
    return np.asarray(inverse, dtype=np.float64)


def _lens_to_dict(lens: Lens) -> dict[str, Any]:
    return {
        "k1": lens.k1,
        "k2": lens.k2,
        "centre_px": list(lens.centre_px),
        "radius_px": lens.radius_px,
        "p1": lens.p1,
        "p2": lens.p2,
    }


def _lens_from_dict(data: Mapping[str, Any]) -> Lens:
    x, y = (float(n) for n in data["centre_px"])
    # Maps stored before the tangential terms came have none.
    p1, p2 = (float(data.get(name, 0.0)) for name in ("p1", "p2"))
    return Lens(float(data["k1"]), float(data["k2"]), (x, y), float(data["radius_px"]), p1, p2)


def _accuracy_to_dict(accuracy: Accuracy) -> dict[str, Any]:
    names = Accuracy.__slots__
    return {n: list(v) if isinstance(v := getattr(accuracy, n), tuple) else v for n in names}


def _accuracy_from_dict(data: Mapping[str, Any]) -> Accuracy:
    if data["method"] not in ("tape", "camera"):
        raise ValueError(data["method"])
    words = tuple(str(w) for w in data.get("words", ()))
    shape = data.get("shape_mm")
    if shape is not None:
        rms, p95, largest = (float(mm) for mm in shape)
        shape = (rms, p95, largest)
    return Accuracy(**{**data, "words": words, "shape_mm": shape})
