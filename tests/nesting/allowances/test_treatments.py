"""Which corner gets which treatment, by angle and kind, and that every said word is what is made."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.allowances.treatments import Treatment, corners_made, pressings
from nesting.pieces.outline import Corner, Edge, EdgeKind, Pressed
from nesting.pieces.piece import Piece
from tests.nesting.drafts import add, half_skirt, polygon, rectangle


def changed(piece: Piece, name: str, **about: object) -> Piece:
    edges = tuple(
        replace(e, **about) if e.name == name else e  # type: ignore[arg-type]
        for e in piece.edges
    )
    return replace(piece, edges=edges)


def made(piece: Piece) -> dict[str, Treatment]:
    return {c.edge: c.made for c in corners_made(piece)}


def test_square_corners_of_seams_are_mitred() -> None:
    assert set(made(rectangle()).values()) == {Treatment.MITRE}
    assert [c.angle_deg for c in corners_made(rectangle())] == pytest.approx([90.0] * 4)


def test_a_sharp_point_is_cut_off_and_says_so() -> None:
    # atan(1 / 8): the mitre would run on 1 / sin(7.1 / 2) = 16 widths.
    corners = corners_made(polygon([(0, 0), (400, 0), (400, 50)]))
    (point,) = [c for c in corners if c.angle_deg < 10]
    assert point.made is Treatment.CUT_OFF
    assert "3 widths" in point.text


def test_a_hollow_corner_and_a_straight_join() -> None:
    hollow = polygon([(0, 0), (200, 0), (200, 300), (100, 300), (100, 150), (0, 150)])
    assert made(hollow)["e3"] is Treatment.HOLLOW
    straight = polygon([(0, 0), (100, 0), (200, 0), (200, 300), (0, 300)])
    assert made(straight)["e0"] is Treatment.STRAIGHT
    stepped = polygon([(0, 0), (100, 0), (200, 0), (200, 300), (0, 300)], [10, 20, 10, 10, 10])
    assert made(stepped)["e0"] is Treatment.STEP


def test_a_flared_hem_turns_back_a_square_one_need_not() -> None:
    flared = polygon([(0, 0), (300, 0), (250, 300), (50, 300)])
    flared = changed(flared, "e0", kind=EdgeKind.HEM, allowance=add(40))
    corners = {c.edge: c for c in corners_made(flared)}
    assert corners["e0"].made is corners["e3"].made is Treatment.TURNED_BACK
    assert corners["e0"].text == "the end of e0 is shaped like e1, on which it will lie"
    assert corners["e3"].text == "the end of e0 is shaped like e3, on which it will lie"
    square = changed(rectangle(), "bottom", kind=EdgeKind.HEM, allowance=add(40))
    assert made(square)["bottom"] is Treatment.MITRE


def test_nothing_added_nothing_made() -> None:
    assert set(made(rectangle(allowance=0.0)).values()) == {Treatment.AS_DRAWN}


@pytest.mark.parametrize(
    ("word", "treatment"),
    [
        (Corner.MITRE, Treatment.MITRE),
        (Corner.STEP, Treatment.STEP),
        (Corner.BLUNT, Treatment.CUT_OFF),
        (Corner.THIS_TURNS_BACK, Treatment.TURNED_BACK),
        (Corner.NEXT_TURNS_BACK, Treatment.TURNED_BACK),
    ],
)
def test_what_is_said_is_made_and_is_among_what_may_be_said(
    word: Corner, treatment: Treatment
) -> None:
    piece = polygon([(0, 0), (300, 0), (240, 300), (0, 300)])
    (corner,) = [c for c in corners_made(changed(piece, "e0", corner=word)) if c.edge == "e0"]
    assert corner.made is treatment
    assert corner.said is word
    assert set(corner.may) == set(Corner)


def test_corners_at_the_fold_are_not_ours_to_choose() -> None:
    corners = {c.edge: c for c in corners_made(half_skirt())}
    assert corners["waist"].made is corners["centre"].made is Treatment.FOLD
    assert corners["centre"].may == (Corner.AUTO,)
    assert corners["hem"].made is Treatment.TURNED_BACK


def test_an_edge_too_short_is_said_to_be_merged() -> None:
    piece = polygon([(0, 0), (200, 0), (200.2, 0.2), (200.2, 300), (0, 300)])
    corners = {c.edge: c for c in corners_made(piece)}
    assert "cut as one" in corners["e0"].text
    assert "cut as one" in corners["e1"].text


def test_only_seams_with_an_allowance_are_pressed() -> None:
    seam = rectangle().edges[0]
    assert pressings(seam) == tuple(Pressed)
    assert pressings(replace(seam, kind=EdgeKind.HEM)) == ()
    assert pressings(Edge("raw", seam.points)) == ()
