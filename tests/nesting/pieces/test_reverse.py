from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from nesting.pieces.outline import Allowance, AllowanceState, Corner
from nesting.pieces.piece import Dart, DartFold, Notch
from nesting.pieces.reverse import (
    reversed_allowance,
    reversed_dart,
    reversed_edges,
    reversed_notch,
)
from tests.nesting.drafts import rectangle


@given(
    st.floats(0, 40),
    st.lists(
        st.tuples(st.integers(1, 299), st.floats(0, 40)), max_size=4, unique_by=lambda s: s[0]
    ),
)
def test_reversing_twice_gives_the_same_widths(
    width: float, steps: list[tuple[int, float]]
) -> None:
    allowance = Allowance(
        AllowanceState.ADD, width, steps=tuple((float(d), w) for d, w in sorted(steps))
    )
    assert reversed_allowance(reversed_allowance(allowance, 300.0), 300.0) == allowance


def test_a_width_that_changes_evenly_changes_ends() -> None:
    one = Allowance(AllowanceState.ADD, 10, end_width_mm=25)
    assert reversed_allowance(one, 300.0) == Allowance(AllowanceState.ADD, 25, end_width_mm=10)


def test_a_corner_keeps_its_treatment_and_says_which_edge_turns_back() -> None:
    piece = rectangle()
    edges = (replace(piece.edges[0], corner=Corner.THIS_TURNS_BACK), *piece.edges[1:])
    turned = reversed_edges(edges, closed=True)
    assert [e.name for e in turned] == ["left", "top", "right", "bottom"]
    # bottom/right was treated so that bottom turns back; now right comes first.
    assert {e.name: e.corner for e in turned}["right"] is Corner.NEXT_TURNS_BACK
    again = reversed_edges(turned, closed=True)
    assert [(e.name, e.corner) for e in again] == [(e.name, e.corner) for e in edges]
    assert all(np.array_equal(e.points, f.points) for e, f in zip(again, edges, strict=True))


def test_in_an_open_sequence_the_last_corner_is_free() -> None:
    piece = rectangle()
    edges = tuple(replace(e, corner=Corner.BLUNT) for e in piece.edges[:3])
    assert [e.corner for e in reversed_edges(edges, closed=False)] == [
        Corner.BLUNT,
        Corner.BLUNT,
        Corner.AUTO,
    ]


def test_notches_and_darts_are_measured_from_the_other_end() -> None:
    assert reversed_notch(Notch("top", 60.0, 2), 200.0) == Notch("top", 140.0, 2)
    dart = reversed_dart(Dart("d", "top", 50, 80, (100, 150)), 200.0)
    assert dart == Dart("d", "top", 120, 150, (100, 150), DartFold.SECOND_LEG)
