from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import ClothError
from nesting.lengths import length_to_repeat, whole_lengths, widths_needed

lengths = st.floats(0.1, 1e5)


@given(lengths, lengths)
def test_a_cut_is_covered_by_whole_repeats_and_none_is_wasted(cut: float, repeat: float) -> None:
    padded = length_to_repeat(cut, repeat)
    assert cut - 1e-3 <= padded < cut + repeat + 1e-6
    assert length_to_repeat(padded, repeat) == pytest.approx(padded)


@given(st.integers(1, 200), st.sampled_from([0.1, 11.43, 88.9, 318.0, 25.4 * 3.5, 1 / 3]))
def test_exact_multiples_are_counted_as_people_count_them(n: int, each: float) -> None:
    assert whole_lengths(n * each, each)[0] == n
    assert widths_needed(n * each, each) == n
    assert length_to_repeat(n * each, each) == pytest.approx(n * each)


@given(lengths, lengths)
def test_lengths_and_the_rest_add_up(available: float, each: float) -> None:
    count, rest = whole_lengths(available, each)
    assert count * each + rest == pytest.approx(available, abs=2e-3)
    assert 0 <= rest < each


def test_edges_of_the_range() -> None:
    assert widths_needed(0, 1400) == 0
    assert length_to_repeat(1234.5, 0) == 1234.5
    assert whole_lengths(10, 20) == (0, 10)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ClothError, match="after its joins"):
        widths_needed(1000, 40, join_mm=50)
    with pytest.raises(ClothError, match="repeat"):
        length_to_repeat(100, -1)
    with pytest.raises(ClothError, match="each"):
        whole_lengths(100, 0)
