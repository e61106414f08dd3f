"""In which order to cut: what is hardest to cut again comes while a second chance exists.

Folded zones come before the part that is opened out. Window by window, so that the cloth is drawn
along once only; within a window the largest piece first, since a small piece can still be cut from
what is left, a large one cannot (count before cutting, big pieces first: common practice).
"""

from __future__ import annotations

from collections.abc import Sequence

from nesting.cutting.windows import Window, contains, touches
from nesting.layout import Layout, Placed
from nesting.polygon import signed_area


def cutting_order(layout: Layout, windows: Sequence[Window] = ()) -> tuple[int, ...]:
    """Indices into ``layout.placed`` in the order of cutting.

    A piece belongs to the first window that lights it whole; if none does, to the last that lights
    any of it.
    """
    start = {z.id: z.x0 for z in layout.zones}  # zones side by side are cut in one go

    def key(index: int) -> tuple[float, int, float, int]:
        placed = layout.placed[index]
        area = abs(signed_area(placed.cut_line))
        return start[placed.zone], _window_of(placed, windows), -area, index

    return tuple(sorted(range(len(layout.placed)), key=key))


def _window_of(placed: Placed, windows: Sequence[Window]) -> int:
    whole = [w.index for w in windows if contains(w, placed)]
    return min(whole) if whole else max((w.index for w in windows if touches(w, placed)), default=0)
