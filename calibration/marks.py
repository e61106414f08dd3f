"""The quick look when something may have been bumped: four marks on the table, lit where they were made."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from calibration.errors import MapError
from calibration.homography import Array
from calibration.residuals import NOT_FOR_CUTTING, SHORT_LIMIT_MM, State, Verdict, judge_shift
from calibration.rigid import fit_rigid

MARKS = ("A", "B", "C", "D")
"""Near left, near right, far right, far left, as the crosses of the tape route."""

INSET = 0.08
"""Distance of a mark from the edges of the canvas, as a share of it."""

FARTHEST_MM = 100.0
"""A mark farther off than this was not bumped: the projector was hung anew."""

SHAPE_LIMIT_MM = 1.0
"""What may be left at a mark after the best shift and turn: twice what an eye misreads by on a lit
cross (half a millimetre; common practice). More is another shape of the picture, or a slip."""

AGREE_MM = 0.5
"""Three marks that are left with less than this agree."""


@dataclass(frozen=True, slots=True)
class MarksRead:
    """What four marks say. ``shift_mm`` and ``turn_deg``: how the light moved on the table, the shift
    at the marks' middle. ``left_mm``: the most that the best shift and turn leave at a mark.
    ``odd``: the one mark that the other three contradict, by ``odd_mm``."""

    shift_mm: tuple[float, float]
    turn_deg: float
    left_mm: float
    worst: str
    worst_mm: float
    odd: str | None
    odd_mm: float
    verdict: Verdict


def mark_places(canvas_px: tuple[int, int]) -> dict[str, tuple[float, float]]:
    """Canvas px of the four marks: middles of pixels, always the same ones on a canvas.

    They are fixed on the canvas, not on the table: what is lit there does not depend on the map, so
    chalk made under one map serves its tied and raised kin too.
    """
    w, h = canvas_px
    left, right = (math.floor(w * s) + 0.5 for s in (INSET, 1 - INSET))
    far, near = (math.floor(h * s) + 0.5 for s in (INSET, 1 - INSET))
    return {"A": (left, near), "B": (right, near), "C": (right, far), "D": (left, far)}


def read_marks(
    table_mm: Mapping[str, tuple[float, float]], chalk_from_light: Mapping[str, tuple[float, float]]
) -> MarksRead:
    """Judge where the chalk lies from the light.

    ``table_mm``: where each mark is lit, by the map. ``chalk_from_light``: offset of the chalk, mm, x
    to the right and y away; a mark that is not named is still on. Raises MapError for a name that is
    none or an offset that cannot be meant. A shift is told and judged, never applied.
    """
    for name, (x, y) in chalk_from_light.items():
        if name not in table_mm:
            raise MapError(
                f"There is no mark {name!r}.",
                code="marks.name",
                where=name,
                hint=f"The marks are {', '.join(table_mm)}.",
            )
        if not (math.isfinite(x) and math.isfinite(y) and math.hypot(x, y) <= FARTHEST_MM):
            raise MapError(
                f"Mark {name} was said to lie {math.hypot(x, y):.0f} mm from its light.",
                code="marks.offset",
                where=name,
                hint=f"Look whether the unit is right. If it lies more than {FARTHEST_MM:.0f} mm off, "
                "the map is void: make it again.",
            )
    names = list(table_mm)
    lit = np.array([table_mm[n] for n in names], dtype=np.float64)
    chalk = lit + np.array([chalk_from_light.get(n, (0.0, 0.0)) for n in names])
    moved = fit_rigid(chalk, lit)
    at_middle = moved.apply(chalk.mean(axis=0)[None])[0] - chalk.mean(axis=0)
    left = float(np.linalg.norm(moved.left_mm, axis=1).max())
    off = np.linalg.norm(lit - chalk, axis=1)
    farthest = int(np.argmax(off))
    odd, odd_mm = _odd(chalk, lit, left)
    shift = (float(at_middle[0]), float(at_middle[1]))
    verdict = _verdict(float(off[farthest]), shift, moved.turn_deg, left, moved.growth)
    return MarksRead(
        shift, moved.turn_deg, left, names[farthest], float(off[farthest]),
        None if odd is None else names[odd], odd_mm, verdict,
    )  # fmt: skip


def way_words(x: float, y: float) -> str:
    """A shift as the person at the near side sees it: `2.1 mm to the right and 0.4 mm away from you`."""
    said = []
    if abs(x) >= 0.05:
        said.append(f"{abs(x):.1f} mm to the {'right' if x > 0 else 'left'}")
    if abs(y) >= 0.05:
        said.append(f"{abs(y):.1f} mm {'away from you' if y > 0 else 'towards you'}")
    return " and ".join(said) or "nowhere"


def _odd(chalk: Array, lit: Array, left: float) -> tuple[int | None, float]:
    """The one place that the others, which agree among themselves, contradict; and by how many mm."""
    if left <= AGREE_MM:
        return None, 0.0
    without = []
    for n in range(len(lit)):
        rest = np.arange(len(lit)) != n
        of_rest = fit_rigid(chalk[rest], lit[rest])
        among = float(np.linalg.norm(of_rest.left_mm, axis=1).max())
        own = float(np.linalg.norm(lit[n] - of_rest.apply(chalk[n][None])[0]))
        without.append((among, own, n))
    without.sort()
    (best, own, n), (second, _, _) = without[:2]
    if best <= AGREE_MM and second >= 2 * best and own > SHAPE_LIMIT_MM:
        return n, own
    return None, 0.0


def _verdict(
    worst_mm: float,
    shift: tuple[float, float],
    turn_deg: float,
    left: float,
    growth: float,
) -> Verdict:
    if left > SHAPE_LIMIT_MM:
        grown = f"; it is {100 * abs(growth - 1):.2f} % {'larger' if growth > 1 else 'smaller'}"
        text = (
            f"The picture has another shape: after the best shift and turn a mark still lies {left:.1f} "
            f"mm off{grown if abs(growth - 1) > 5e-4 else ''}. Not for cutting: make the map again."
        )
        # Held to its own limit, which is passed: never less than useless.
        over = max(left, NOT_FOR_CUTTING * SHAPE_LIMIT_MM * 1.0001)
        return Verdict("not for cutting", over, SHAPE_LIMIT_MM, text)
    judged = judge_shift(worst_mm)
    state: State = judged.state
    if state == "good":
        seen = (
            "The four marks are on" if worst_mm < 0.05 else f"The marks are on to {worst_mm:.1f} mm"
        )
        return Verdict(state, worst_mm, SHORT_LIMIT_MM, f"{seen}. Good to cut by.")
    turned = f", turned by {abs(turn_deg):.2f} degrees" if abs(turn_deg) >= 0.02 else ""
    text = (
        f"The light has moved {way_words(*shift)}{turned}, up to {worst_mm:.1f} mm at a mark; "
        f"{SHORT_LIMIT_MM:.1f} mm is the limit. Its shape is as it was, to {left:.1f} mm. Nothing is "
        "corrected for it: bring projector or table back until the light lies on the chalk and look "
        "again, or make the map again before the next cut."
    )
    return Verdict(state, worst_mm, SHORT_LIMIT_MM, text)
