from __future__ import annotations

import math

import pytest

from service.demo.draft import (
    arc,
    backwards,
    circle_radius,
    curve,
    joined,
    line,
    on_circle,
    part,
    point_on,
    trace,
)
from service.demo.sheet import PieceDraft, StyleDraft, as_sheet
from service.demo.solve import find


def test_an_arc_is_as_long_as_its_circle_says_and_stays_on_it() -> None:
    side = arc("a", (3, 4), 58.6, -90, -12.5)
    assert side.length == pytest.approx(math.radians(77.5) * 58.6, rel=1e-4)
    assert all(abs(math.dist(p, (3, 4)) - 58.6) < 58.6e-6 for p in trace(side))


@pytest.mark.parametrize("free", ["none", "leave", "arrive", "both"])
def test_a_curve_through_points_of_a_circle_is_that_circle(free: str) -> None:
    points = [on_circle((0, 0), 10, a) for a in (0, 30, 60, 90)]
    ends = {"leave": (0.0, 1.0), "arrive": (-1.0, 0.0)}
    given = {k: v for k, v in ends.items() if free in (k, "both")}
    side = curve("c", *points, **given)
    assert all(abs(math.hypot(*p) - 10) < 2e-3 for p in trace(side))


def test_parts_of_a_side_add_up_and_lie_on_it() -> None:
    side = joined(
        "s", line("", (0, 0), (4, 0)), curve("", (4, 0), (9, 5), leave=(1, 0), arrive=(0, 1))
    )
    first, rest = part(side, 0, 6.5), part(side, 6.5, side.length)
    assert first.length == pytest.approx(6.5, abs=1e-3)
    assert first.length + rest.length == pytest.approx(side.length, abs=1e-3)
    assert first.end == pytest.approx(rest.start, abs=1e-3)
    assert point_on(side, 2.5) == pytest.approx((2.5, 0))


def test_backwards_is_the_same_line() -> None:
    side = curve("s", (0, 0), (5, 2), (9, 9), leave=(1, 0))
    back = backwards(side)
    assert (back.start, back.end) == (side.end, side.start)
    assert back.length == pytest.approx(side.length)
    assert backwards(back).steps == side.steps


def test_circles_for_a_girth() -> None:
    assert 2 * math.pi * circle_radius(70, 1) == pytest.approx(70)
    assert math.pi / 2 * circle_radius(70, 4) == pytest.approx(70)


def test_a_length_that_cannot_be_met_is_refused() -> None:
    assert find(lambda x: x * x - 2, 0, 2) == pytest.approx(math.sqrt(2))
    with pytest.raises(ValueError, match="no value"):
        find(lambda x: x * x + 1, 0, 2)


def test_a_draft_whose_sides_do_not_meet_is_refused() -> None:
    sides = (line("a", (0, 0), (1, 0)), line("b", (1, 0.1), (0, 0)))
    style = StyleDraft("S", "cm", "", {}, (PieceDraft("P", sides),))
    with pytest.raises(ValueError, match="P: a ends at"):
        as_sheet(style)
