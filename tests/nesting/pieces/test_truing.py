from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from nesting.errors import PieceError
from nesting.pieces.check import check_piece
from nesting.pieces.mirror import mirror
from nesting.pieces.outline import Edge, EdgeKind
from nesting.pieces.piece import Dart, Notch, Piece, Style
from nesting.pieces.sides import sewn_length
from nesting.pieces.split import split
from nesting.pieces.truing import walk_seam, walk_style
from nesting.polygon import as_points, path_length
from tests.nesting.drafts import add, bodice, rectangle


def front(lean: float = 0.0, notch: float = 100.0) -> Piece:
    """200 by 300, its right side leaning out by ``lean`` degrees going up."""
    out = 300 * math.tan(math.radians(lean))
    corners = [(0.0, 0.0), (200.0, 0.0), (200.0 + out, 300.0), (0.0, 300.0)]
    names = ("hem", "side", "top", "centre")
    edges = tuple(
        Edge(n, as_points([corners[i], corners[(i + 1) % 4]]), allowance=add(10))
        for i, n in enumerate(names)
    )
    edges = (
        replace(edges[0], kind=EdgeKind.HEM),
        replace(edges[1], partners=("Back/side",)),
        *edges[2:],
    )
    return Piece(
        "Front", edges, grain=rectangle().grain, notches=(Notch("side", notch, name="hip"),)
    )


def back(height: float = 300.0, lean: float = 0.0, notch: float = 100.0) -> Piece:
    """The same for the other side of the seam: its left side leans; the side runs downwards."""
    out = height * math.tan(math.radians(lean))
    corners = [(0.0, 0.0), (150.0, 0.0), (150.0, height), (-out, height)]
    names = ("hem", "centre", "top", "side")
    edges = tuple(
        Edge(n, as_points([corners[i], corners[(i + 1) % 4]]), allowance=add(10))
        for i, n in enumerate(names)
    )
    length = math.hypot(height, out)
    edges = (
        replace(edges[0], kind=EdgeKind.HEM),
        *edges[1:3],
        replace(edges[3], partners=("Front/side",)),
    )
    return Piece(
        "Back",
        edges,
        grain=rectangle().grain,
        notches=(Notch("side", length - notch, name="hip"),),
    )


def codes(*pieces: Piece) -> list[str]:
    return [f.code for f in walk_style(Style("Trial", pieces))[1]]


def test_a_true_seam_is_walked_once_and_nothing_is_said() -> None:
    walks, findings = walk_style(Style("Trial", (front(), back())))
    assert findings == ()
    (walk,) = walks
    assert (walk.first, walk.second) == ("Front/side", "Back/side")
    assert walk.difference_mm == pytest.approx(0)
    assert walk.notches[0].miss_mm == pytest.approx(0)
    assert walk.turn_at_start_deg == pytest.approx(0)
    assert walk.proposals == ()


def test_a_longer_edge_is_said_in_millimetres_with_the_place_to_end_it() -> None:
    walks, findings = walk_style(Style("Trial", (front(), back(height=306.0))))
    assert "Back/side is 6.0 mm longer than Front/side" in findings[0].message
    (proposal,) = walks[0].proposals
    assert (proposal.piece, proposal.edge) == ("Back", "side")
    assert path_length(proposal.points) == pytest.approx(300)


def test_stated_ease_is_no_error() -> None:
    piece = back(height=306.0)
    eased = (*piece.edges[:3], replace(piece.edges[3], ease_mm=6.0))
    assert codes(front(), replace(piece, edges=eased)) == []


def test_darts_are_taken_out_of_the_length_and_out_of_notch_places() -> None:
    piece = front()
    long = rectangle(200, 330)
    edges = (
        replace(long.edges[0], name="hem"),
        replace(long.edges[1], name="side", partners=("Back/side",)),
        replace(long.edges[2], name="top"),
        replace(long.edges[3], name="centre"),
    )
    darted = replace(
        piece,
        edges=edges,
        darts=(Dart("bust", "side", 40, 70, (100, 55)),),
        notches=(Notch("side", 130.0, name="hip"),),
    )
    assert sewn_length(darted, darted.edge("side")) == pytest.approx(300)
    assert codes(darted, back()) == []


def test_notches_that_fall_apart_or_stand_alone_are_said() -> None:
    walks, findings = walk_style(Style("Trial", (front(notch=100), back(notch=104))))
    assert [f.code for f in findings] == ["notches-miss"]
    assert "4.0 mm apart" in findings[0].message
    assert walks[0].notches[0].miss_mm == pytest.approx(4)
    assert codes(front(), replace(back(), notches=())) == ["notch-alone"]
    assert codes(replace(front(), notches=()), back()) == ["notch-alone"]


def test_a_joined_edge_that_does_not_run_smooth_is_said_with_its_angle() -> None:
    walks, findings = walk_style(Style("Trial", (front(lean=6), back(lean=0))))
    turns = [f for f in findings if f.code == "joined-edge-turns"]
    # 6 degrees at the hem and as much the other way at the top.
    assert len(turns) == 2
    assert walks[0].turn_at_start_deg == pytest.approx(-6)
    assert walks[0].turn_at_end_deg == pytest.approx(6)
    assert "a hollow: it turns by 6.0 degrees" in turns[0].message
    drawn = {(p.piece, p.edge) for p in walks[0].proposals if "smooth" in p.text}
    assert drawn == {("Front", "hem"), ("Back", "hem"), ("Front", "top"), ("Back", "top")}


def test_a_proposed_edge_leaves_both_drawn_edges_in_their_own_direction() -> None:
    walks, _ = walk_style(Style("Trial", (front(lean=6), back(lean=0))))
    line = next(p for p in walks[0].proposals if (p.piece, p.edge) == ("Front", "hem")).points
    first = line[1] - line[0]
    assert abs(first[1] / first[0]) < 0.01
    steps = np.diff(line, axis=0)
    angles = np.degrees(np.unwrap(np.arctan2(steps[:, 1], steps[:, 0])))
    assert np.abs(np.diff(angles)).max() < 2


def test_a_partner_drawn_for_the_other_hand_is_turned_over_first() -> None:
    shaped = back(lean=5)
    plain = walk_seam(front(lean=-5), "side", shaped, "side")
    over = walk_seam(front(lean=-5), "side", mirror(shaped), "side")
    assert over.turn_at_start_deg == pytest.approx(plain.turn_at_start_deg)
    assert over.notches[0].miss_mm == pytest.approx(plain.notches[0].miss_mm)


def test_a_seam_that_joins_a_piece_to_its_own_mirror_image() -> None:
    piece = front()
    edges = (*piece.edges[:3], replace(piece.edges[3], partners=("Front/centre",)))
    walks, findings = walk_style(Style("Trial", (replace(piece, edges=edges), back())))
    assert findings == ()
    own = next(w for w in walks if w.first == w.second)
    assert own.difference_mm == 0


def test_an_unknown_partner_is_said_and_an_unknown_edge_refused() -> None:
    assert codes(front()) == ["partner-unknown"]
    with pytest.raises(PieceError, match="no edge 'yoke'"):
        walk_seam(front(), "yoke", back(), "side")


def test_the_parts_of_a_split_piece_walk_true() -> None:
    piece = replace(bodice(), darts=bodice().darts[:1])
    dart = piece.darts[0]
    parts = split(
        piece,
        as_points([dart.point, (120.0, 250.0), (140.0, 420.0)]),
        names=("Side front", "Front"),
        allowance=add(15),
        darts=("waist dart", ""),
    )
    walks, findings = walk_style(Style("Bodice", parts))
    assert [f.code for f in findings if f.code != "joined-edge-turns"] == []
    assert len(walks) == 1
    assert walks[0].difference_mm == pytest.approx(0, abs=0.05)


def test_a_traced_edge_of_a_lining_is_walked_turned_over_and_its_notch_meets() -> None:
    curve = as_points([(200.0, 0.0), (230.0, 80.0), (215.0, 200.0), (200.0, 300.0)])
    corners = [(0.0, 300.0), (0.0, 0.0)]
    garment = Piece(
        "Front",
        (
            Edge("hem", as_points([corners[1], curve[0]]), EdgeKind.HEM, add(10)),
            Edge("armhole", curve, allowance=add(10), partners=("Lining/armhole",)),
            Edge("top", as_points([curve[-1], corners[0]]), allowance=add(10)),
            Edge("centre", as_points(corners), allowance=add(10)),
        ),
        grain=rectangle().grain,
        notches=(Notch("armhole", 90.0, name="front"),),
    )
    edges = tuple(replace(e, partners=()) for e in garment.edges)
    lining = replace(garment, name="Lining", cloth="lining", edges=edges)
    (walk,), findings = walk_style(Style("Trial", (garment, lining)))
    assert findings == ()
    assert walk.turned_over
    assert walk.notches[0].miss_mm == pytest.approx(0, abs=1e-6)
    moved = replace(lining, notches=(Notch("armhole", 95.0, name="front"),))
    assert codes(garment, moved) == ["notches-miss"]


def mended(pieces: tuple[Piece, ...]) -> tuple[Piece, ...]:
    """The pieces with every proposal of every walk accepted, one after the other."""
    walks, _ = walk_style(Style("Trial", pieces))
    by_name = {p.name: p for p in pieces}
    for walk in walks:
        for proposal in walk.proposals:
            by_name[proposal.piece] = proposal.applied(by_name[proposal.piece])
    for piece in by_name.values():
        check_piece(piece)
    return tuple(by_name.values())


@pytest.mark.parametrize("over", [False, True])
@pytest.mark.parametrize("lean", [6.0, -8.0, 12.0])
def test_accepted_proposals_mend_what_they_were_made_for(lean: float, over: bool) -> None:
    equal = back(300 / math.cos(math.radians(lean)))
    other = mirror(equal) if over else equal
    pieces = (front(lean=lean), other)
    assert "joined-edge-turns" in codes(*pieces)
    walks, findings = walk_style(Style("Trial", mended(pieces)))
    assert [f.message for f in findings if f.code != "notches-miss"] == []
    # Both sides end on the same line, so both seams are as long as before to each other.
    assert walks[0].difference_mm == pytest.approx(0, abs=0.3)


@pytest.mark.parametrize("over", [False, True])
@pytest.mark.parametrize("height", [290.0, 306.0])
def test_the_longer_edge_is_ended_sooner_at_the_hem(height: float, over: bool) -> None:
    other = mirror(back(height)) if over else back(height)
    pieces = (front(), other)
    assert "seam-lengths-differ" in codes(*pieces)
    walks, _ = walk_style(Style("Trial", pieces))
    (sooner,) = walks[0].proposals
    longer = next(p for p in pieces if p.name == sooner.piece)
    assert sooner.piece == ("Front" if height < 300 else "Back")
    made = sooner.applied(longer)
    assert made.edge("side").length_mm == pytest.approx(min(height, 300.0))
    # The end that moves is the one at the hem: the top stays.
    assert made.edge("top").points == pytest.approx(longer.edge("top").points)
    assert "seam-lengths-differ" not in codes(*mended(pieces))


def test_a_proposal_is_drawn_in_the_frame_of_its_piece_also_when_that_was_turned_over() -> None:
    shaped = mirror(back(lean=0))
    (walk,), _ = walk_style(Style("Trial", (front(lean=6), shaped)))
    assert walk.turned_over
    for p in walk.proposals:
        piece = shaped if p.piece == "Back" else front(lean=6)
        outer = shapely.LineString(piece.edge(p.edge).points)
        gaps = [outer.distance(shapely.Point(p.points[k])) for k in (0, -1)]
        assert min(gaps) < 1e-6


def flared(name: str, lean: float, cloth: str = "shell", *, over: bool = False) -> Piece:
    """A panel whose side leans out to its hem, drawn for one hand, or for the other."""
    out = 300 * math.tan(math.radians(lean))
    corners = [(0.0, 0.0), (150.0 + out, 0.0), (150.0, 300.0), (0.0, 300.0)]
    names = ("hem", "side", "waist", "centre")
    edges = tuple(
        Edge(n, as_points([corners[i], corners[(i + 1) % 4]]), allowance=add(10))
        for i, n in enumerate(names)
    )
    edges = (replace(edges[0], kind=EdgeKind.HEM), *edges[1:])
    piece = Piece(name, edges, grain=rectangle().grain, cloth=cloth)
    return mirror(piece) if over else piece


@pytest.mark.parametrize("over", [False, True])
def test_a_hem_is_never_joined_to_a_waist_to_make_a_seam_look_smooth(over: bool) -> None:
    """Two flared panels make a point at the hem; taken the wrong way round hem meets waist, which
    is no line that could turn."""
    walk = walk_seam(flared("Front", 10), "side", flared("Back", 10, over=over), "side")
    # Both hems lean by 10 degrees from square to the seam.
    turns = sorted((walk.turn_at_start_deg, walk.turn_at_end_deg))
    assert turns == pytest.approx([-20, 20])
    assert walk.turned_over is not over


def test_a_lining_lies_on_its_garment_and_makes_no_point_there() -> None:
    lining = flared("Lining", 10, "lining")
    walk = walk_seam(flared("Front", 10), "side", lining, "side")
    assert (walk.turn_at_start_deg, walk.turn_at_end_deg) == (0, 0)
    assert walk.turned_over
