"""The layout seen window by window: how a long lay is lit by a projector that lights less.

Frame: the cloth's, mm. Neighbouring windows overlap, and registration crosses inside the overlap are
chalked in one window and found again in the next.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.errors import LayError
from nesting.layout import Placed
from nesting.polygon import bounds

OVERLAP_MM = 120.0
"""Stretch lit by both of two neighbouring windows, wide enough for crosses that a hand can chalk."""

CROSS_MARGIN_MM = 40.0
"""Crosses keep this distance from the border of the lit window, where focus and map are worst."""


@dataclass(frozen=True, slots=True)
class Window:
    """A lit part of the cloth. ``crosses`` are those shared with the window before (``back``) and
    with the one after (``ahead``), (x, y) in the cloth frame, mm."""

    index: int
    x0: float
    x1: float
    y0: float
    y1: float
    back: tuple[tuple[float, float], ...] = ()
    ahead: tuple[tuple[float, float], ...] = ()


def windows(
    length_mm: float,
    width_mm: float,
    *,
    lit_along_mm: float,
    lit_across_mm: float,
    overlap_mm: float = OVERLAP_MM,
) -> tuple[Window, ...]:
    """Windows that together light every point of a ``length_mm`` by ``width_mm`` lay.

    They run along the cloth first, then across (row by row), neighbours sharing ``overlap_mm``.
    Raises LayError if the lit area is no larger than the overlap.
    """
    if min(lit_along_mm, lit_across_mm) <= overlap_mm:
        raise LayError(
            f"the lit area of {lit_along_mm:.0f} by {lit_across_mm:.0f} mm is too small to move on "
            f"by crosses: it must exceed {overlap_mm:.0f} mm",
            where="lit area",
            hint="Raise the projector, or lessen the overlap.",
        )
    xs = _stretches(length_mm, lit_along_mm, overlap_mm)
    ys = _stretches(width_mm, lit_across_mm, overlap_mm)
    boxes = [(x0, x1, y0, y1) for y0, y1 in ys for x0, x1 in xs]
    shared = [_crosses(a, b) for a, b in itertools.pairwise(boxes)]
    return tuple(
        Window(
            i,
            *box,
            back=shared[i - 1] if i else (),
            ahead=shared[i] if i < len(shared) else (),
        )
        for i, box in enumerate(boxes)
    )


def crossing(window: Window, placed: Sequence[Placed]) -> tuple[int, ...]:
    """Indices of the pieces that this window lights only in part: they are finished in another."""
    return tuple(i for i, p in enumerate(placed) if touches(window, p) and not contains(window, p))


def shown(window: Window, placed: Sequence[Placed]) -> tuple[int, ...]:
    """Indices of the pieces of which this window lights anything."""
    return tuple(i for i, p in enumerate(placed) if touches(window, p))


def touches(window: Window, placed: Placed) -> bool:
    """Whether the window lights any of the piece."""
    x0, y0, x1, y1 = bounds(placed.cut_line)
    return x1 > window.x0 and x0 < window.x1 and y1 > window.y0 and y0 < window.y1


def contains(window: Window, placed: Placed) -> bool:
    """Whether the window lights the whole piece."""
    x0, y0, x1, y1 = bounds(placed.cut_line)
    return x0 >= window.x0 and x1 <= window.x1 and y0 >= window.y0 and y1 <= window.y1


def _stretches(total: float, lit: float, overlap: float) -> list[tuple[float, float]]:
    if total <= lit:
        return [(0.0, max(total, 0.0))]
    count = math.ceil((total - overlap) / (lit - overlap) - 1e-9)
    step = (total - lit) / (count - 1)
    return [(i * step, i * step + lit) for i in range(count)]


def _crosses(
    a: tuple[float, float, float, float], b: tuple[float, float, float, float]
) -> tuple[tuple[float, float], ...]:
    """Three crosses in what both windows light: far apart, not in one line. None if they share
    nothing (a new row begins)."""
    x0, x1 = max(a[0], b[0]), min(a[1], b[1])
    y0, y1 = max(a[2], b[2]), min(a[3], b[3])
    m = min(CROSS_MARGIN_MM, (x1 - x0) / 4, (y1 - y0) / 4)
    if m <= 0:
        return ()
    return ((x0 + m, y0 + m), (x1 - m, y1 - m), (x0 + m, y1 - m))
