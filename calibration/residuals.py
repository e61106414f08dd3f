"""Is the picture true enough to cut by? The limits, the lines to check, and the words for it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from calibration.homography import Array
from calibration.table_map import TableMap

State = Literal["good", "warn", "not for cutting"]

SHORT_MM, SHORT_LIMIT_MM = 300.0, 1.0
LONG_MM, LONG_LIMIT_MM = 1000.0, 2.0
"""Off by more than 1 mm over 300 mm or 2 mm over 1 m: a warning. Cut parts are made to +-1 mm at
collars and sleeve heads, +-2 mm at side edges, +-3 mm at hems (Industrial Cutting of Textile
Materials, table 13.1), and the light is only one of the steps on the way."""

NOT_FOR_CUTTING = 2.0
"""How many times the limit makes the picture useless for cutting."""

CHECK_LENGTHS_MM = (1000.0, 600.0, 300.0)
"""Check lines, longest first. 300 mm only where 600 mm cannot be lit."""

MARGIN_PX = 12.0
"""A check line's ends stay this far inside the canvas, so that the ticks at its ends are lit too."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """How far something is off, the limit it was held to, and what that means."""

    state: State
    off_mm: float
    limit_mm: float
    words: str


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A line to light and measure: ends on the table in mm, its length, and which way it runs."""

    name: str
    direction: Literal["along", "across", "diagonal", "other diagonal"]
    start_mm: tuple[float, float]
    end_mm: tuple[float, float]
    length_mm: float


def limit_for(length_mm: float) -> float:
    """Deviation in mm allowed over a length: 1 up to 300 mm, rising evenly to 2 at 1 m, then 2 a m."""
    if length_mm <= SHORT_MM:
        return SHORT_LIMIT_MM
    if length_mm >= LONG_MM:
        return LONG_LIMIT_MM * length_mm / LONG_MM
    share = (length_mm - SHORT_MM) / (LONG_MM - SHORT_MM)
    return SHORT_LIMIT_MM + share * (LONG_LIMIT_MM - SHORT_LIMIT_MM)


def judge_length(asked_mm: float, measured_mm: float) -> Verdict:
    """A lit line that should be ``asked_mm`` long and was measured."""
    off = measured_mm - asked_mm
    way = "long" if off > 0 else "short"
    text = f"The {asked_mm:.0f} mm line measures {measured_mm:.1f} mm"
    text += ", as it should" if abs(off) < 0.05 else f", {abs(off):.1f} mm too {way}"
    return _verdict(off, limit_for(asked_mm), text)


def judge_shift(shift_mm: float) -> Verdict:
    """A mark that should fall on its pencilled place and lies ``shift_mm`` beside it (re-check)."""
    text = (
        "The mark falls on its place"
        if shift_mm < 0.05
        else f"The mark lies {shift_mm:.1f} mm beside its place"
    )
    return _verdict(shift_mm, SHORT_LIMIT_MM, text)


def judge_off(off_mm: float, text: str) -> Verdict:
    """Light that lies ``off_mm`` from where it should; ``text`` says what and where."""
    return _verdict(off_mm, SHORT_LIMIT_MM, text)


def judge_map(table_map: TableMap) -> Verdict:
    """The error that a map states for itself; a map that states none is not for cutting.

    A tape check that found more than the map states is believed instead.
    """
    accuracy = table_map.accuracy
    if accuracy is None:
        return Verdict(
            "not for cutting",
            math.inf,
            SHORT_LIMIT_MM,
            "Nothing is known of this map's error. Calibrate again. Not for cutting.",
        )
    off = max(accuracy.p95_mm, accuracy.verified_mm or 0.0)
    return _verdict(off, SHORT_LIMIT_MM, f"The lines are true to about {off:.1f} mm")


def worst(verdicts: Iterable[Verdict]) -> Verdict | None:
    """The verdict farthest over its limit, or None when there are none."""
    return max(verdicts, key=lambda v: abs(v.off_mm) / v.limit_mm, default=None)


def check_lines(table_map: TableMap) -> tuple[CheckLine, ...]:
    """Lines to light before cutting: along, across and on both diagonals.

    Each runs where it lies farthest inside the canvas. 600 mm (300 mm where that cannot be lit),
    and also 1000 mm where it can. A direction in which not even 300 mm can be lit has no line.
    """
    ways: tuple[tuple[Literal["along", "across", "diagonal", "other diagonal"], float], ...] = (
        ("along", 0.0),
        ("across", 90.0),
        ("diagonal", 45.0),
        ("other diagonal", -45.0),
    )
    lines: list[CheckLine] = []
    for direction, turn in ways:
        found = [line for n in CHECK_LENGTHS_MM if (line := _place(table_map, direction, turn, n))]
        long_enough = [line for line in found if line.length_mm > SHORT_MM]
        lines += long_enough or found
    return tuple(lines)


def _place(
    table_map: TableMap,
    direction: Literal["along", "across", "diagonal", "other diagonal"],
    turn_deg: float,
    length_mm: float,
) -> CheckLine | None:
    """The line of this length and turn that keeps farthest from the canvas edge, or None."""
    w, h = table_map.canvas_px
    share = np.linspace(0.1, 0.9, 17)
    gx, gy = np.meshgrid(share * w, share * h)
    middles = table_map.to_table(np.stack([gx.ravel(), gy.ravel()], axis=1))
    turn = math.radians(turn_deg)
    half = 0.5 * length_mm * np.array([math.cos(turn), math.sin(turn)])
    starts, ends = middles - half, middles + half
    room = np.minimum(_room(table_map, starts), _room(table_map, ends))
    best = int(np.argmax(room))
    if room[best] < MARGIN_PX:
        return None
    (x0, y0), (x1, y1) = starts[best], ends[best]
    return CheckLine(
        f"{length_mm:.0f} mm {direction}",
        direction,
        (float(x0), float(y0)),
        (float(x1), float(y1)),
        length_mm,
    )


def _room(table_map: TableMap, table_mm: Array) -> Array:
    """Distance (N,) in px from the nearest canvas edge; negative outside or out of reach."""
    room = np.full(len(table_mm), -np.inf)
    near = table_map.reaches(table_mm)
    if near.any():
        p = table_map.to_projector(table_mm[near])
        size = np.array(table_map.canvas_px)
        room[near] = np.minimum(p, size - p).min(axis=1)
    return room


def _verdict(off_mm: float, limit_mm: float, text: str) -> Verdict:
    size = abs(off_mm)
    if size <= limit_mm:
        return Verdict("good", off_mm, limit_mm, f"{text}. Good to cut by.")
    if size <= NOT_FOR_CUTTING * limit_mm:
        return Verdict(
            "warn",
            off_mm,
            limit_mm,
            f"{text}; {limit_mm:.1f} mm is the limit. Calibrate again before cutting anything fitted.",
        )
    return Verdict(
        "not for cutting",
        off_mm,
        limit_mm,
        f"{text}; {limit_mm:.1f} mm is the limit. Not for cutting: calibrate again.",
    )
