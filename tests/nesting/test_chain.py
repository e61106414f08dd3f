"""The whole chain on random styles: piece -> cut piece -> lay -> layout -> estimate.

What must hold is said here in shapely's and plain words, apart from ``nesting.invariants``, so that
the proof itself is checked too. Searches stop by steps, never by the clock.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from nesting.allowances.cut_piece import CutPiece
from nesting.allowances.make import cut_piece, unfold_cut
from nesting.answer import Answer, answer_for
from nesting.cloth import Cloth, Fold
from nesting.engine.improve import improve
from nesting.engine.problem import Budget
from nesting.invariants import violations_of
from nesting.lay.build import layout_of
from nesting.lay.lay import Lay
from nesting.lay.spread import spread
from nesting.layout import Layout, Placed
from nesting.pieces.outline import Edge
from nesting.pieces.piece import PAIR, Count, Grain, GrainRule, Hand, Piece
from nesting.polygon import FloatArray, as_points, turned
from tests.nesting.making import halves_and_wholes, polygon_piece

FOLDS = (Fold.OPEN, Fold.LENGTHWISE, Fold.OFF_CENTRE, Fold.DOUBLE)
SMALL_MM2 = 1.0
"""Area by which two laid pieces may overlap: a contact of a metre with a micrometre's rounding."""

NEAR_MM = 1e-3


class Case:
    """A lay with its cut pieces by name, as cut and unfolded."""

    def __init__(self, lay: Lay, halves: dict[str, CutPiece], wholes: dict[str, CutPiece]) -> None:
        self.lay, self.halves, self.wholes = lay, halves, wholes

    def __repr__(self) -> str:
        """Short enough to read when an example fails."""
        lay = self.lay
        said = [f"{lay.fold.value}, {lay.copies} copies, gap {lay.gap_mm:g}, {lay.cloth}"]
        for cut in lay.pieces:
            p = cut.piece
            corners = [tuple(xy) for xy in p.outline.round(3).tolist()]
            said.append(f"{p.name}: {p.count}, {p.grain_rule.value}, {p.grain}, {corners}")
        return "Case(" + "; ".join(said) + ")"


# Styles


@st.composite
def outlines(draw: st.DrawFn) -> list[tuple[float, float]]:
    """A box, a wedge, an L or a fair blob, 60 to 300 mm in each direction."""
    w, h = draw(st.floats(60, 300)), draw(st.floats(60, 300))
    match draw(st.sampled_from(["box", "wedge", "corner", "blob"])):
        case "box":
            return [(0, 0), (w, 0), (w, h), (0, h)]
        case "wedge":
            a, b = draw(st.floats(0, 0.3)), draw(st.floats(0.5, 1))
            return [(0, 0), (w, 0), (b * w, h), (a * w, 0.9 * h)]
        case "corner":
            a, b = draw(st.floats(0.35, 0.7)), draw(st.floats(0.35, 0.7))
            return [(0, 0), (w, 0), (w, b * h), (a * w, b * h), (a * w, h), (0, h)]
        case _:
            bend = draw(st.floats(0, 0.12))
            t = np.arange(24) / 24 * 2 * math.pi
            r = 0.5 + bend * np.sin(3 * t)
            return list(zip(w * r * np.cos(t), h * r * np.sin(t), strict=True))


@st.composite
def half_outlines(draw: st.DrawFn) -> list[tuple[float, float]]:
    """Half a piece to the right of its fold edge, which is the last side, at x = 0."""
    w, h = draw(st.floats(50, 200)), draw(st.floats(80, 300))
    waist, top = draw(st.floats(0.5, 1)), draw(st.floats(0.3, 1))
    return [(0, 0), (w, 0), (waist * w, 0.5 * h), (top * w, h), (0, 0.95 * h)]


@st.composite
def pieces(draw: st.DrawFn, name: str) -> Piece:
    """A piece with an allowance, drawn at any angle; on the fold, a pair, or any other count."""
    add = draw(st.sampled_from([0.0, 6.0, 10.0, 15.0]))
    rule = draw(st.sampled_from([GrainRule.EITHER_WAY, GrainRule.ONE_WAY, GrainRule.QUARTER_TURNS]))
    if draw(st.integers(0, 3)) == 0:
        piece = polygon_piece(name, draw(half_outlines()), fold=4, add=add, rule=rule)
    else:
        counts = st.sampled_from([PAIR, Count(1), Count(2), Count(0, 1), Count(2, 1)])
        piece = polygon_piece(name, draw(outlines()), count=draw(counts), add=add, rule=rule)
    angle = draw(st.sampled_from([0.0, 90.0, 180.0, 17.3]))
    return redrawn(piece, angle, (draw(st.floats(-500, 500)), 250.0))


def redrawn(piece: Piece, angle_deg: float, by: tuple[float, float]) -> Piece:
    """The same piece drawn elsewhere on the paper and at another angle."""

    def there(points: FloatArray) -> FloatArray:
        return as_points(turned(points, angle_deg) + by)

    assert piece.grain is not None
    ends = there(as_points([piece.grain.tail, piece.grain.head]))
    grain = Grain((float(ends[0, 0]), float(ends[0, 1])), (float(ends[1, 0]), float(ends[1, 1])))
    edges = tuple(replace(e, points=there(e.points)) for e in piece.edges)
    return replace(piece, edges=edges, grain=grain)


def mirrored(piece: Piece) -> Piece:
    """The other hand's drawing: reflected left to right, its counts changed over."""

    def over(edge: Edge) -> Edge:
        return replace(edge, points=as_points(edge.points[::-1] * (-1.0, 1.0)))

    assert piece.grain is not None
    (x0, y0), (x1, y1) = piece.grain.tail, piece.grain.head
    return replace(
        piece,
        edges=tuple(over(e) for e in reversed(piece.edges)),
        grain=Grain((-x0, y0), (-x1, y1)),
        count=Count(piece.count.turned, piece.count.drawn),
    )


@st.composite
def cases(draw: st.DrawFn, folds: Sequence[Fold] = FOLDS) -> Case:
    """Two to five pieces on a cloth on which every one of them finds room."""
    style = [draw(pieces(f"Piece {i}")) for i in range(draw(st.integers(2, 5)))]
    cloth = Cloth(
        width_mm=draw(st.floats(1300, 1600)),
        selvedge_mm=draw(st.sampled_from([0.0, 12.0])),
        nap=draw(st.booleans()),
        shrink_along=draw(st.sampled_from([0.0, 0.04])),
        shrink_across=draw(st.sampled_from([0.0, 0.02])),
    )
    return case_of(
        style,
        cloth,
        draw(st.sampled_from(folds)),
        copies=draw(st.integers(1, 2)),
        gap=draw(st.sampled_from([0.0, 3.0])),
    )


def case_of(
    style: Sequence[Piece], cloth: Cloth, fold: Fold, *, copies: int = 1, gap: float = 0.0
) -> Case:
    halves, wholes = halves_and_wholes(style)
    depth = cloth.usable_width_mm / 4 if fold is Fold.OFF_CENTRE else None
    return Case(Lay(cloth, fold, tuple(halves.values()), copies, gap, depth), halves, wholes)


def laid(case: Case, *, seed: int = 1, steps: int = 60) -> Layout:
    plan = spread(case.lay)
    budget = Budget(steps=steps)
    return layout_of(plan, tuple(improve(s.problem, seed=seed, budget=budget) for s in plan.strips))


def answered(case: Case) -> Answer:
    return answer_for(laid(case))


# What must hold

few = settings(max_examples=20 if settings().max_examples <= 100 else settings().max_examples)


@few
@given(cases())
def test_nothing_overlaps_and_everything_lies_on_the_cloth(case: Case) -> None:
    layout = laid(case)
    shapes = [Polygon(p.cut_line) for p in layout.placed]
    starts = {z.id: z.x0 for z in layout.zones}
    for i, one in enumerate(shapes):
        x0, y0, x1, y1 = one.bounds
        assert x0 >= -NEAR_MM
        assert y0 >= -NEAR_MM
        assert x1 <= layout.length_mm + NEAR_MM
        assert y1 <= case.lay.cloth.usable_width_mm + NEAR_MM
        for j, other in enumerate(shapes[:i]):
            assert one.intersection(other).area <= SMALL_MM2
            # The folded part is cut off straight across before the rest is opened: no gap there.
            if starts[layout.placed[i].zone] == starts[layout.placed[j].zone]:
                assert one.distance(other) >= case.lay.gap_mm - 0.01
    assert list(violations_of(layout, case.halves, case.wholes)) == []


@few
@given(cases())
def test_every_hand_is_cut_exactly_as_often_as_asked(case: Case) -> None:
    cut: Counter[tuple[str, Hand]] = Counter()
    for placed in laid(case).placed:
        assert len(placed.hands) == (1 if placed.on_fold else placed.plies)
        cut.update((placed.piece, hand) for hand in placed.hands)
    wanted = Counter(
        {
            (name, hand): count * case.lay.copies
            for name, c in case.halves.items()
            for hand, count in (
                (Hand.DRAWN, c.piece.count.drawn),
                (Hand.TURNED, c.piece.count.turned),
            )
            if count
        }
    )
    assert cut == wanted


@few
@given(cases())
def test_a_hand_is_the_drawing_or_its_mirror_image(case: Case) -> None:
    for placed in laid(case).placed:
        cut = (case.halves if placed.on_fold else case.wholes)[placed.piece]
        back = taken_up(placed, cut.piece)
        assert np.abs(back - sorted_ring(cut.cut_line, back)).max() < 1e-6
        if placed.plies == 1:
            assert placed.hands == ((Hand.TURNED,) if placed.turned_over else (Hand.DRAWN,))


def taken_up(placed: Placed, piece: Piece) -> FloatArray:
    """The laid cut line brought back onto the drawing: the placement undone step by step."""
    assert piece.grain is not None
    (x0, y0), (x1, y1) = piece.grain.tail, piece.grain.head
    drawn_deg = math.degrees(math.atan2(y1 - y0, x1 - x0))
    at_tail = as_points(placed.cut_line - placed.grain[0])
    on_grain = turned(at_tail, -placed.turn_deg)
    if placed.turned_over:
        on_grain = as_points(on_grain[::-1] * (1.0, -1.0))
    return as_points(turned(on_grain, drawn_deg) + (x0, y0))


def sorted_ring(ring: FloatArray, like: FloatArray) -> FloatArray:
    """The same closed line begun at the point nearest to where ``like`` begins."""
    first = int(np.argmin(np.hypot(*(ring - like[0]).T)))
    return np.roll(ring, -first, axis=0)


@few
@given(cases())
def test_the_grain_lies_along_the_selvedge_and_nap_turns_nothing(case: Case) -> None:
    for placed in laid(case).placed:
        x, y = placed.grain[1] - placed.grain[0]
        lies = math.degrees(math.atan2(y, x)) % 360
        one_way = case.lay.cloth.nap or placed.grain_rule is GrainRule.ONE_WAY
        quarter = placed.grain_rule is GrainRule.QUARTER_TURNS and not one_way
        allowed = (0, 90, 180, 270) if quarter else (0,) if one_way else (0, 180)
        assert min(abs((lies - a + 180) % 360 - 180) for a in allowed) < 1e-6


@few
@given(cases())
def test_fold_edges_lie_on_a_fold_or_the_piece_is_whole(case: Case) -> None:
    layout = laid(case)
    doubled = case.lay.cloth.usable_width_mm / 2
    for placed in layout.placed:
        if placed.on_fold:
            folds = [0.0, doubled] if case.lay.fold is Fold.DOUBLE else [0.0]
            y = placed.cut_line[:, 1]
            assert min(abs(edge - f) for edge in (y.min(), y.max()) for f in folds) < 0.05
        elif case.halves[placed.piece].fold is not None:
            half = Polygon(case.halves[placed.piece].cut_line).area
            assert Polygon(placed.cut_line).area == pytest.approx(2 * half, rel=1e-6)


@few
@given(cases())
def test_no_answer_goes_below_area_over_width(case: Case) -> None:
    answer = answered(case)
    cloth = case.lay.cloth
    area = case.lay.copies * sum(
        Polygon(case.wholes[n].cut_line).area * c.piece.count.total for n, c in case.halves.items()
    )
    least = area / cloth.usable_width_mm
    assert answer.layout.length_mm >= least - NEAR_MM
    assert answer.layout.floor_mm >= least - NEAR_MM or case.lay.fold is not Fold.OPEN
    assert answer.layout.floor_mm <= answer.layout.length_mm + 1e-9
    assert answer.estimate.need_mm >= answer.layout.length_mm / (1 - cloth.shrink_along)
    assert answer.estimate.buy_mm >= answer.estimate.need_mm - NEAR_MM
    assert answer.utilisation == pytest.approx(
        area / cloth.usable_width_mm / answer.layout.length_mm
    )


@few
@given(cases(), st.integers(0, 1000))
def test_same_seed_and_steps_same_layout(case: Case, seed: int) -> None:
    one, two = laid(case, seed=seed, steps=30), laid(case, seed=seed, steps=30)
    assert one.length_mm == two.length_mm
    assert all(
        a.piece == b.piece and np.array_equal(a.cut_line, b.cut_line)
        for a, b in zip(one.placed, two.placed, strict=True)
    )


@few
@given(cases(folds=[Fold.OPEN, Fold.LENGTHWISE]))
def test_where_and_how_a_piece_was_drawn_does_not_matter(case: Case) -> None:
    again = case_of(
        [redrawn(c.piece, 63.0, (41.0, -977.0)) for c in case.halves.values()],
        case.lay.cloth, case.lay.fold, copies=case.lay.copies, gap=case.lay.gap_mm,
    )  # fmt: skip
    assert laid(again).floor_mm == pytest.approx(laid(case).floor_mm, abs=0.05)
    for name, cut in case.wholes.items():
        other = Polygon(again.wholes[name].cut_line).area
        assert other == pytest.approx(Polygon(cut.cut_line).area, rel=1e-4)


@few
@given(cases(folds=[Fold.OPEN]))
def test_drawing_the_other_hand_asks_for_the_same_cloth(case: Case) -> None:
    style = [c.piece if c.fold is not None else mirrored(c.piece) for c in case.halves.values()]
    again = case_of(style, case.lay.cloth, Fold.OPEN, copies=case.lay.copies, gap=case.lay.gap_mm)
    layout = laid(again)
    assert list(violations_of(layout, again.halves, again.wholes)) == []
    assert layout.floor_mm == pytest.approx(laid(case).floor_mm, abs=0.05)


@few
@given(pieces("Piece"))
def test_allowances_only_ever_add_and_none_adds_nothing(piece: Piece) -> None:
    cut = cut_piece(piece)
    assert Polygon(cut.cut_line).buffer(NEAR_MM).covers(Polygon(cut.net_line))
    bare = replace(piece, edges=tuple(Edge(e.name, e.points, e.kind) for e in piece.edges))
    same = Polygon(cut_piece(bare).cut_line).symmetric_difference(Polygon(bare.outline))
    assert same.area < 0.05 * Polygon(bare.outline).length
    if cut.fold is not None:
        whole = Polygon(unfold_cut(cut).cut_line).area
        assert whole == pytest.approx(2 * Polygon(cut.cut_line).area, rel=1e-6)


@few
@given(cases(folds=[Fold.OPEN]))
def test_more_to_cut_never_lowers_the_floor(case: Case) -> None:
    # On open cloth: on a fold, a second copy may double a single and so need less.
    more, fewer = (
        Case(lay, case.halves, case.wholes)
        for lay in (
            replace(case.lay, copies=case.lay.copies + 1),
            replace(case.lay, pieces=case.lay.pieces[:-1]),
        )
    )
    floor = laid(case).floor_mm
    assert laid(more).floor_mm >= floor - NEAR_MM
    assert laid(fewer).floor_mm <= floor + NEAR_MM
