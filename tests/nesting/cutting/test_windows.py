from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.cutting.windows import OVERLAP_MM, windows
from nesting.errors import LayError

sizes = st.floats(200, 6000)
lit = st.floats(OVERLAP_MM + 50, 2000)


@given(sizes, sizes, lit, lit)
def test_windows_cover_the_lay_and_neighbours_share_the_overlap(
    length: float, width: float, along: float, across: float
) -> None:
    found = windows(length, width, lit_along_mm=along, lit_across_mm=across)
    assert min(w.x0 for w in found) == 0 == min(w.y0 for w in found)
    assert max(w.x1 for w in found) == pytest.approx(length)
    assert max(w.y1 for w in found) == pytest.approx(width)
    for one, two in itertools.pairwise(found):
        assert one.ahead == two.back
        if one.y0 == two.y0:
            assert one.x1 - two.x0 >= OVERLAP_MM - 1e-6
            assert len(one.ahead) == 3
    for window in found:
        for x, y in window.back + window.ahead:
            assert window.x0 <= x <= window.x1
            assert window.y0 <= y <= window.y1


def test_a_lay_that_is_lit_whole_needs_one_window() -> None:
    (only,) = windows(900, 700, lit_along_mm=1200, lit_across_mm=700)
    assert (only.x1, only.y1, only.back, only.ahead) == (900, 700, (), ())


def test_exact_multiples_gain_no_window() -> None:
    assert len(windows(2000, 500, lit_along_mm=1060, lit_across_mm=500)) == 2


def test_too_small_a_light_is_refused() -> None:
    with pytest.raises(LayError, match="too small"):
        windows(2000, 500, lit_along_mm=100, lit_across_mm=500)
