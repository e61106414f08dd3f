"""Rows of edges as partners: what a style declares, how rows are walked, and that cutting an edge in
parts changes nothing about its seam."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import PieceError
from nesting.pieces.in_style import exchanged
from nesting.pieces.mirror import mirror
from nesting.pieces.outline import Edge, EdgeKind
from nesting.pieces.partners import declared_seams, read_row, said_row
from nesting.pieces.piece import Dart, Notch, Piece, Style
from nesting.pieces.sides import side_of
from nesting.pieces.split import split
from nesting.pieces.truing import walk_rows, walk_style
from nesting.pieces.walk import Walk
from nesting.polygon import as_points, path_length
from tests.examples import examples
from tests.nesting.drafts import add, curve, rectangle


def panel(name: str, width: float, height: float = 300.0, *, sewn: str = "") -> Piece:
    """Its side is the right edge, running up from the hem."""
    piece = rectangle(width, height)
    names = ("hem", "side", "top", "centre")
    edges = [replace(e, name=n) for e, n in zip(piece.edges, names, strict=True)]
    edges[0] = replace(edges[0], kind=EdgeKind.HEM)
    edges[1] = replace(edges[1], partners=(sewn,) if sewn else ())
    return replace(piece, name=name, edges=tuple(edges))


def shoulders() -> tuple[Piece, Piece, Piece]:
    """A back whose shoulder (100 mm) is sewn to a side front's (40) and a front's (60), which are
    sewn to each other along a panel seam; armhole and neck run on at the ends."""

    def drawn(name: str, corners: list[tuple[float, float]], edges: list[str]) -> Piece:
        paths = [as_points([corners[i], corners[(i + 1) % 4]]) for i in range(4)]
        made = tuple(Edge(e, p, allowance=add(10)) for e, p in zip(edges, paths, strict=True))
        return Piece(name, made, grain=rectangle().grain)

    back = drawn(
        "Back",
        [(0, 0), (100, 0), (100, 300), (0, 300)],
        ["waist", "armhole", "shoulder", "neck"],
    )
    side = drawn(
        "Side front",
        [(0, 0), (40, 0), (40, 300), (0, 300)],
        ["waist", "panel seam", "shoulder", "armhole"],
    )
    front = drawn(
        "Front",
        [(0, 0), (60, 0), (60, 300), (0, 300)],
        ["waist", "neck", "shoulder", "panel seam"],
    )
    side = sew(side, "panel seam", "Front/panel seam")
    front = sew(front, "panel seam", "Side front/panel seam")
    return (
        sew(back, "shoulder", "Side front/shoulder", "Front/shoulder"),
        sew(side, "shoulder", "Back/shoulder"),
        sew(front, "shoulder", "Back/shoulder"),
    )


def sew(piece: Piece, edge: str, *partners: str, **more: object) -> Piece:
    edges = tuple(
        replace(e, partners=partners, **more) if e.name == edge else e  # type: ignore[arg-type]
        for e in piece.edges
    )
    return replace(piece, edges=edges)


def the(walks: tuple[Walk, ...], edge: str) -> Walk:
    """The one walk that an edge takes part in."""
    (walk,) = [w for w in walks if edge in (*read_row(w.first), *read_row(w.second))]
    return walk


def test_a_row_as_text_is_cut_where_all_parts_name_an_edge() -> None:
    assert read_row(" Back/side ") == ("Back/side",)
    assert read_row("") == ()
    row = ("Side front/shoulder", "Front/shoulder")
    assert read_row(said_row(row)) == row
    assert read_row("Front + back/side") == ("Front + back/side",)


def test_a_seam_is_declared_once_whichever_side_says_it() -> None:
    row = ("Side front/shoulder", "Front/shoulder")
    seams = {s.said_on: (s.run, s.row) for s in declared_seams(Style("Trial", shoulders()))}
    assert seams == {
        "Back/shoulder": (("Back/shoulder",), row),
        "Side front/panel seam": (("Side front/panel seam",), ("Front/panel seam",)),
    }
    # From the parts' side alone each part is a seam of its own: nobody said that they are a row.
    back, *fronts = shoulders()
    alone = declared_seams(Style("Trial", (sew(back, "shoulder"), *fronts)))
    assert [s.said_on for s in alone if "Back/shoulder" in s.row] == [*row]


def test_a_row_is_walked_end_to_end_with_its_join_and_no_finding() -> None:
    walks, findings = walk_style(Style("Trial", shoulders()))
    assert findings == ()
    walk = the(walks, "Back/shoulder")
    assert walk.second == "Side front/shoulder + Front/shoulder"
    assert (walk.first_mm, walk.second_mm) == (100, 100)
    assert path_length(walk.other_laid) == pytest.approx(100)
    # The back's shoulder begins at its armhole, where the side front's lies.
    (join,) = walk.other_joins
    assert join.at_mm == pytest.approx(40)
    assert (join.before, join.after) == ("Side front/shoulder", "Front/shoulder")
    assert join.turn_deg == pytest.approx(0)


def test_parts_drawn_for_either_hand_are_laid_as_their_own_seam_puts_them() -> None:
    back, side, front = shoulders()
    for pieces in (
        (back, mirror(side), front),
        (back, side, mirror(front)),
        (mirror(back), side, front),
    ):
        fixed = pieces
        if pieces[0] is not back:
            # Mirrored, the back's shoulder begins at its neck: its row is listed from there.
            assert pieces[0].edge("shoulder").partners == ("Front/shoulder", "Side front/shoulder")
        walk = the(walk_style(Style("Trial", fixed))[0], "Back/shoulder")
        assert walk.difference_mm == pytest.approx(0)
        assert not walk.order_doubted
        ends = walk.other_laid[[0, -1]] - walk.laid[[0, -1]]
        assert np.abs(ends).max() < 1e-6


def test_parts_that_nobody_said_are_a_row_are_told_where_they_fit_together() -> None:
    back, *fronts = shoulders()
    walks, findings = walk_style(Style("Trial", (sew(back, "shoulder"), *fronts)))
    (told,) = [f for f in findings if f.code == "row-unsaid"]
    assert told.where == "Back/shoulder"
    assert told.message.startswith("Side front/shoulder and Front/shoulder are each sewn to Back")
    assert len(walks) == 3


def test_a_row_said_in_the_wrong_order_is_noticed() -> None:
    back, *fronts = shoulders()
    wrong = sew(back, "shoulder", "Front/shoulder", "Side front/shoulder")
    _, findings = walk_style(Style("Trial", (wrong, *fronts)))
    assert [f.code for f in findings] == ["row-order"]


def test_an_edge_of_a_row_that_is_not_there_is_named() -> None:
    back, *fronts = shoulders()
    wrong = sew(back, "shoulder", "Side front/shoulder", "Yoke/shoulder")
    walks, findings = walk_style(Style("Trial", (wrong, *fronts)))
    (unknown,) = [f for f in findings if f.code == "partner-unknown"]
    assert unknown.message.endswith("but the style does not have Yoke/shoulder")
    assert unknown.where == "Back/shoulder"
    assert all("Back/shoulder" not in w.first for w in walks)


def test_a_notch_meets_its_partner_across_the_join_and_stands_well_on_it() -> None:
    back, side, front = shoulders()
    # Shoulders run from the right: the front's begins at the neck, the back's at the armhole.
    front = replace(front, notches=(Notch("shoulder", 25.0, name="middle"),))
    back = replace(
        back,
        notches=(Notch("shoulder", 75.0, name="middle"), Notch("shoulder", 40.0, name="panel")),
    )
    walks, findings = walk_style(Style("Trial", (back, side, front)))
    walk = the(walks, "Back/shoulder")
    # 40 of side front, then 60 - 25 of front: met at 75; the notch at 40 stands where they join.
    met = {m.name: m for m in walk.notches}
    assert met["middle"].here_mm == pytest.approx(75)
    assert met["middle"].miss_mm == pytest.approx(0)
    assert met["middle"].other_at == pytest.approx(75)
    assert met["panel"].other_mm is None
    assert findings == ()
    moved = replace(back, notches=(replace(back.notches[0], distance_mm=70.0), back.notches[1]))
    _, findings = walk_style(Style("Trial", (moved, side, front)))
    assert [f.code for f in findings] == ["notches-miss"]


def test_darts_and_ease_of_every_part_are_taken_out() -> None:
    back, side, front = shoulders()
    back = sew(back, "shoulder", *back.edge("shoulder").partners, ease_mm=5.0)
    longer = [(0, 0), (75, 0), (75, 300), (0, 300)]
    edges = tuple(
        replace(e, points=as_points([longer[i], longer[(i + 1) % 4]]))
        for i, e in enumerate(front.edges)
    )
    front = replace(front, edges=edges, darts=(Dart("dart", "shoulder", 30, 50, (35, 200)),))
    walk = the(walk_style(Style("Trial", (back, side, front)))[0], "Back/shoulder")
    assert (walk.first_mm, walk.second_mm) == (95, 40 + 75 - 20)


def test_where_a_row_does_not_run_smooth_its_own_seam_says_so_with_a_proposal() -> None:
    back, side, front = shoulders()
    tip = [(0, 0), (40, 0), (40, 300), (0, 293)]
    edges = tuple(
        replace(e, points=as_points([tip[i], tip[(i + 1) % 4]]), name=e.name)
        for i, e in enumerate(side.edges)
    )
    edges = tuple(replace(e, name="side shoulder") if e.name == "shoulder" else e for e in edges)
    side = replace(side, edges=edges)
    back = sew(back, "shoulder", "Side front/side shoulder", "Front/shoulder")
    walks, findings = walk_style(Style("Trial", (back, side, front)))
    lean = math.degrees(math.atan(7 / 40))
    (join,) = the(walks, "Back/shoulder").other_joins
    assert join.turn_deg == pytest.approx(lean)
    # The names differ, but the row says that they are one line.
    panel_seam = the(walks, "Front/panel seam")
    assert max(panel_seam.turn_at_start_deg, panel_seam.turn_at_end_deg) == pytest.approx(lean)
    assert {f.code for f in findings} == {"joined-edge-turns"}
    smooth = {(p.piece, p.edge) for p in panel_seam.proposals}
    assert smooth == {("Side front", "side shoulder"), ("Front", "shoulder")}


@pytest.mark.parametrize("over", [False, True])
def test_the_longer_side_is_ended_sooner_at_the_part_that_lies_there(over: bool) -> None:
    back, side, front = shoulders()
    wide = [(0, 0), (66, 0), (66, 300), (0, 300)]
    edges = tuple(
        replace(e, points=as_points([wide[i], wide[(i + 1) % 4]]))
        for i, e in enumerate(front.edges)
    )
    front = replace(front, edges=edges)
    pieces = {p.name: p for p in (back, side, mirror(front) if over else front)}
    walk = the(walk_style(Style("Trial", tuple(pieces.values())))[0], "Back/shoulder")
    assert walk.difference_mm == pytest.approx(-6)
    (sooner,) = [p for p in walk.proposals if p.length_mm > 0]
    made = sooner.applied(pieces[sooner.piece])
    assert path_length(sooner.laid) == pytest.approx(100)
    pieces[sooner.piece] = made
    again = the(walk_style(Style("Trial", tuple(pieces.values())))[0], "Back/shoulder")
    assert again.difference_mm == pytest.approx(0, abs=1e-3)


def test_an_edge_that_is_not_there_is_refused() -> None:
    back, side, front = shoulders()
    with pytest.raises(PieceError, match="no edge 'yoke'"):
        walk_rows([(back, "shoulder")], [(side, "shoulder"), (front, "yoke")])


def test_a_row_of_one_piece_s_own_edges_lies_as_it_is_drawn() -> None:
    piece = rectangle(200, 300)
    side = side_of([(piece, "right"), (piece, "top")])
    assert side.path == pytest.approx(as_points([(200, 0), (200, 300), (0, 300)]))
    assert [j.turn_deg for j in side.joins] == [0.0]


# Cutting an edge in parts.


@st.composite
def tabards(draw: st.DrawFn) -> Style:
    """Front and back, sewn at a curved side: notches, ease, a dart, either hand, any difference."""

    def one(name: str, other: str, *, over: bool, dart: bool) -> Piece:
        height = draw(st.floats(260, 340))
        wave = draw(st.floats(-25, 25))
        side = curve(
            (180, 0), (180 + wave, height / 3), (180 - wave, 2 * height / 3), (180, height)
        )
        paths = [
            as_points([(0, 0), (180, 0)]),
            side,
            as_points([(180, height), (0, height)]),
            as_points([(0, height), (0, 0)]),
        ]
        names = ("hem", "side", "top", "centre")
        edges = [Edge(n, p, allowance=add(10)) for n, p in zip(names, paths, strict=True)]
        edges[0] = replace(edges[0], kind=EdgeKind.HEM)
        edges[1] = replace(
            edges[1], partners=(f"{other}/side",), ease_mm=draw(st.sampled_from((0.0, 6.0)))
        )
        piece = Piece(
            name,
            tuple(edges),
            grain=rectangle().grain,
            notches=tuple(
                Notch("side", d, name=f"n{k}")
                for k, d in enumerate(draw(st.lists(st.floats(30, 220), max_size=2)))
            ),
            darts=(Dart("bust", "side", 120, 140, (90, 130)),) if dart else (),
        )
        return mirror(piece) if over else piece

    front = one("Front", "Back", over=draw(st.booleans()), dart=draw(st.booleans()))
    back = one("Back", "Front", over=draw(st.booleans()), dart=False)
    if draw(st.booleans()):
        # Only one of the two says it.
        back = sew(back, "side", ease_mm=back.edge("side").ease_mm)
    return Style("Tabard", (front, back))


@examples(60)
@given(
    tabards(), st.lists(st.tuples(st.integers(0, 9), st.floats(0.12, 0.88)), min_size=1, max_size=4)
)
def test_cutting_any_edge_in_two_never_changes_the_walk(
    style: Style, cuts: list[tuple[int, float]]
) -> None:
    before, _ = walk_style(style)
    (whole,) = before
    for which, share in cuts:
        piece = style.pieces[which % len(style.pieces)]
        y0, y1 = float(piece.outline[:, 1].min()), float(piece.outline[:, 1].max())
        level = y0 + share * (y1 - y0)
        names = (f"{piece.name} a", f"{piece.name} b")
        try:
            line = as_points([(-900, level), (900, level)])
            seam = f"seam {len(style.pieces)}"
            made = split(piece, line, names=names, allowance=add(10), seam=seam)
        except PieceError:
            continue  # through the dart
        style = exchanged(style, piece.name, made).style
        walks, _ = walk_style(style)
        parts = [w for w in walks if "seam" not in w.first]
        members = {n for w in parts for n in (*read_row(w.first), *read_row(w.second))}
        assert members == {
            f"{p.name}/{e.name}" for p in style.pieces for e in p.edges if e.name == "side"
        }
        assert sum(longer(w) for w in parts) == pytest.approx(longer(whole), abs=0.01)
        assert not any(w.order_doubted for w in parts)
        if len(parts) == 1:
            # Which side comes first may change; misses are told in its length.
            assert missed(parts[0]) == pytest.approx(missed(whole), abs=1e-4)
        else:
            # Cut in the same places on both sides, the seam is sewn part to part.
            assert not any(w.joins or w.other_joins for w in parts)


def longer(walk: Walk) -> float:
    """How much longer the front's side of a seam is than the back's."""
    return walk.difference_mm if walk.first.startswith("Front") else -walk.difference_mm


def missed(walk: Walk) -> list[float]:
    """How far notches miss each other, as shares of the seam."""
    return sorted(abs(m.miss_mm) / walk.first_mm for m in walk.notches)


def test_a_seam_to_its_own_mirror_image_stays_one_in_every_part() -> None:
    style = Style("Trial", (sew(panel("Back", 200), "centre", "Back/centre"),))
    level = as_points([(-10.0, 120.0), (210.0, 120.0)])
    made = split(style.pieces[0], level, names=("Low", "High"), allowance=add(10))
    walks, findings = walk_style(exchanged(style, "Back", made).style)
    assert findings == ()
    assert {(w.first, w.second) for w in walks} >= {
        ("Low/centre", "Low/centre"),
        ("High/centre", "High/centre"),
    }


def test_both_edges_of_one_piece_s_own_seam_cut_level_are_sewn_part_to_part() -> None:
    tube = sew(sew(panel("Sleeve", 200), "side", "Sleeve/centre"), "centre", "Sleeve/side")
    level = as_points([(-10.0, 120.0), (210.0, 120.0)])
    made = split(tube, level, names=("Low", "High"), allowance=add(10))
    done = exchanged(Style("Shirt", (tube,)), "Sleeve", made)
    assert {(f.code, f.where) for f in done.findings} == {
        ("partner-pairs", "Low/centre"),
        ("partner-pairs", "High/centre"),
    }
    walks, findings = walk_style(done.style)
    assert findings == ()
    assert {frozenset((w.first, w.second)) for w in walks} == {
        frozenset(("Low/side", "Low/centre")),
        frozenset(("High/side", "High/centre")),
        frozenset(("Low/panel seam", "High/panel seam")),
    }


def test_both_edges_of_one_piece_s_own_seam_cut_aslant_stay_a_run_and_a_row() -> None:
    tube = sew(sew(panel("Sleeve", 200), "side", "Sleeve/centre"), "centre", "Sleeve/side")
    aslant = as_points([(-10.0, 100.0), (210.0, 180.0)])
    made = split(tube, aslant, names=("Low", "High"), allowance=add(10))
    walks, _ = walk_style(exchanged(Style("Shirt", (tube,)), "Sleeve", made).style)
    walk = the(walks, "Low/side")
    assert {walk.first, walk.second} in (
        {"Low/side + High/side", "Low/centre + High/centre"},
        {"High/side + Low/side", "High/centre + Low/centre"},
    )
    assert walk.difference_mm == pytest.approx(0)


def test_an_edge_of_a_row_cut_again_keeps_its_place_in_the_row() -> None:
    back, side, front = shoulders()
    upright = as_points([(25.0, -10.0), (25.0, 310.0)])
    made = split(
        front, upright, names=("Front neck", "Front panel"), allowance=add(10), seam="new seam"
    )
    names = [p.name for p in made]
    done = exchanged(Style("Trial", (back, side, front)), "Front", made)
    row = done.style.pieces[0].edge("shoulder").partners
    assert row[0] == "Side front/shoulder"
    assert sorted(row[1:]) == sorted(f"{n}/shoulder" for n in names)
    walks, findings = walk_style(done.style)
    assert findings == ()
    walk = the(walks, "Back/shoulder")
    assert walk.difference_mm == pytest.approx(0)
    assert len(walk.other_joins) == 2
    assert walk.other_joins[0].at_mm == pytest.approx(40)
