"""Lengths cut straight across the cloth: how many widths, how long with a repeat, how many from a roll.

Curtains, skirt panels, ruffles and bands are bought this way before any layout. Lengths mm. Whole
widths, whole repeats and whole lengths only: a fraction of a strip cannot be sewn. Counts forgive
``COUNT_SLACK_MM``, so that an exact multiple neither gains nor loses one to floating point.
"""

from __future__ import annotations

import math
from typing import Final

from nesting.errors import ClothError

COUNT_SLACK_MM: Final = 1e-3
"""A micrometre over or under an exact multiple is rounding of floating point, never cloth."""


def widths_needed(wanted_mm: float, width_mm: float, *, join_mm: float = 0.0) -> int:
    """Whole widths of ``width_mm`` that joined side by side cover ``wanted_mm``.

    ``wanted_mm`` is the made-up width times its fullness with side hems; each width loses
    ``join_mm`` to its joins. Nothing wanted needs none. Raises ClothError when nothing of a width
    is left.
    """
    each = width_mm - join_mm
    _must_be_positive(each, "the width that is left of each after its joins")
    return max(math.ceil((wanted_mm - COUNT_SLACK_MM) / each), 0)


def length_to_repeat(length_mm: float, repeat_mm: float) -> float:
    """The least whole number of repeats that covers a cut of ``length_mm``, mm.

    Every cut then starts at the same place of the pattern. 0 is plain cloth: the cut as it is.
    """
    if repeat_mm == 0:
        return length_mm
    _must_be_positive(repeat_mm, "the repeat")
    return max(math.ceil((length_mm - COUNT_SLACK_MM) / repeat_mm), 0) * repeat_mm


def whole_lengths(available_mm: float, each_mm: float) -> tuple[int, float]:
    """How many whole lengths of ``each_mm`` a stretch of cloth yields, and what is left over, mm."""
    _must_be_positive(each_mm, "the length of each")
    count = max(math.floor((available_mm + COUNT_SLACK_MM) / each_mm), 0)
    return count, max(available_mm - count * each_mm, 0.0)


def _must_be_positive(mm: float, what: str) -> None:
    if not (math.isfinite(mm) and mm > 0):
        raise ClothError(f"{what} must be above 0, got {mm:g} mm", code="length")
