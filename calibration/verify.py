"""What a tape says of a map: lit lines measured, the scale tied by a long one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from calibration.errors import MapError
from calibration.place_errors import PlaceErrors, grid
from calibration.residuals import CheckLine, Verdict, judge_length, worst
from calibration.table_map import TableMap

CREDIBLE = 0.05
"""A tape that differs from the map by more than a twentieth was read wrongly, or the map is void."""

TIE_SIGMA_MM = 0.25
"""Standard error of a long distance between two lit ticks, read twice."""

NINE_IN_TEN = 1.645
"""Standard errors within which a normal error stays nine times in ten, either way."""

CONTRADICTED = 3.0
"""Standard errors between tape and map beyond which they are not two readings of one scale."""


@dataclass(frozen=True, slots=True)
class LineRead:
    """A lit check line, and what the tape says of it, mm."""

    line: CheckLine
    measured_mm: float


@dataclass(frozen=True, slots=True)
class Verified:
    """The map with what the tape found noted in it, each line's verdict, and the worst of them."""

    table_map: TableMap
    verdicts: tuple[Verdict, ...]
    worst: Verdict


def verify_by_tape(table_map: TableMap, read: Sequence[LineRead]) -> Verified:
    """Note in the map how far lit lines were off. Raises MapError for a reading that is none."""
    if not read:
        raise MapError("No line was measured.", code="map.verify", hint="Measure one line or more.")
    for r in read:
        _check(r)
    verdicts = tuple(judge_length(r.line.length_mm, r.measured_mm) for r in read)
    far = worst(verdicts)
    assert far is not None
    accuracy = table_map.accuracy
    if accuracy is not None:
        off = max(abs(v.off_mm) for v in verdicts)
        table_map = table_map.with_accuracy(replace(accuracy, verified_mm=off))
    return Verified(table_map, verdicts, far)


def tie_scale(table_map: TableMap, read: LineRead) -> TableMap:
    """The map with its scale taken from one long line, lit by this map and measured by tape.

    What a line of ``length_mm`` truly measures tells how much larger the table is than the map
    believed: the print's scale and the sheet's height both go in this. Where the map says how
    uncertain its own scale is, map and tape are weighed by that (inverse variances) and the stated
    error becomes that of the shape and of the weighed scale; a tape that contradicts the map by more
    than three standard errors is believed alone, for then the print was measured wrongly. Use the
    longest line that can be lit: 0.25 mm on 1000 is 0.025 per cent. Raises MapError.
    """
    _check(read)
    factor, by_tape = read.measured_mm / read.line.length_mm, tie_sigma(read)
    known = table_map.accuracy
    if known is None or known.shape_mm is None:
        return table_map.scaled(factor)
    reach = _reach(table_map)
    of_scale = math.sqrt(max(known.rms_mm**2 - known.shape_mm[0] ** 2, 0.0))
    by_map = of_scale / (NINE_IN_TEN * reach[0])
    weight = by_map**2 / (by_map**2 + by_tape**2)
    if abs(factor - 1) > CONTRADICTED * math.hypot(by_map, by_tape):
        weight = 1.0
    sigma = by_tape if weight == 1.0 else by_tape * math.sqrt(weight)
    rms, p95, largest = (
        math.hypot(mm, NINE_IN_TEN * sigma * r) for mm, r in zip(known.shape_mm, reach, strict=True)
    )
    stated = replace(known, rms_mm=rms, p95_mm=p95, max_mm=largest)
    tied = table_map.scaled(1 + weight * (factor - 1)).with_accuracy(stated)
    return replace(tied, places=_tied_places(table_map, NINE_IN_TEN * sigma))


def _tied_places(table_map: TableMap, of_scale: float) -> PlaceErrors | None:
    """Errors by places once the scale is known to ``of_scale``: that of the shape, and of the scale."""
    known = table_map.places
    if known is None or known.shape_mm is None:
        return known
    lit = table_map.to_table(grid(table_map.canvas_px))
    away = np.linalg.norm(lit - lit.mean(axis=0), axis=1)
    return replace(known, stated_mm=np.hypot(known.shape_mm, of_scale * away))


def _reach(table_map: TableMap) -> tuple[float, float, float]:
    """Root mean square, 95th percentile and greatest distance in mm from the middle of the light."""
    w, h = table_map.canvas_px
    gx, gy = np.meshgrid(np.linspace(0, w, 13), np.linspace(0, h, 13))
    lit = table_map.to_table(np.stack([gx.ravel(), gy.ravel()], axis=1))
    away = np.linalg.norm(lit - lit.mean(axis=0), axis=1)
    return math.sqrt(np.mean(away**2)), float(np.quantile(away, 0.95)), float(away.max())


def growth(before: TableMap, after: TableMap) -> float:
    """How much larger one map's light is on the table than another's, along the canvas' upper side."""
    ends = [(0.0, 0.0), (float(before.canvas_px[0]), 0.0)]
    lengths = [float(np.hypot(*np.diff(m.to_table(ends), axis=0)[0])) for m in (before, after)]
    return lengths[1] / lengths[0]


def tie_sigma(read: LineRead) -> float:
    """Relative standard error of a scale tied by this line."""
    return TIE_SIGMA_MM / read.line.length_mm


def _check(read: LineRead) -> None:
    asked, got = read.line.length_mm, read.measured_mm
    if not (math.isfinite(got) and abs(got / asked - 1) <= CREDIBLE):
        raise MapError(
            f"The {read.line.name} line was typed as {got:g} mm.",
            code="map.verify",
            where=read.line.name,
            hint="Measure it again between the two ticks; if it is truly so far off, calibrate again.",
        )
