"""Partners are followed through a change, and what cannot be followed is said on both sides."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.errors import PieceError
from nesting.pieces.facing import facing
from nesting.pieces.in_style import exchanged
from nesting.pieces.measures import BodyMeasure
from nesting.pieces.partners import said_row
from nesting.pieces.parts import ORIGIN_CHAPTERS, remembered
from nesting.pieces.piece import Piece, Style
from nesting.pieces.split import split
from nesting.pieces.truing import walk_style
from nesting.polygon import as_points
from tests.nesting.drafts import add, rectangle


def sewn(name: str, edge: str, partner: str) -> Piece:
    piece = replace(rectangle(), name=name)
    edges = tuple(replace(e, partners=(partner,)) if e.name == edge else e for e in piece.edges)
    return replace(piece, edges=edges)


def partners(style: Style) -> dict[str, str]:
    return {
        f"{p.name}/{e.name}": said_row(e.partners)
        for p in style.pieces
        for e in p.edges
        if e.partners
    }


STYLE = Style("Tabard", (sewn("Front", "right", "Back/left"), sewn("Back", "left", "Front/right")))


def test_a_partner_is_followed_to_the_part_that_holds_its_edge() -> None:
    upright = as_points([(100.0, -10.0), (100.0, 310.0)])
    parts = split(STYLE.pieces[0], upright, names=("Side", "Middle"), allowance=add(10))
    done = exchanged(STYLE, "Front", parts)
    assert [p.name for p in done.style.pieces] == ["Side", "Middle", "Back"]
    assert partners(done.style)["Back/left"] == "Side/right"
    assert done.touched == ("Back",)
    assert done.findings == ()


def test_of_a_partner_cut_in_two_both_parts_are_sewn_on_and_that_is_said() -> None:
    level = as_points([(-10.0, 150.0), (210.0, 150.0)])
    parts = split(STYLE.pieces[0], level, names=("Lower", "Upper"), allowance=add(10))
    done = exchanged(STYLE, "Front", parts)
    # The back's left side runs downwards, so it meets the upper part first.
    assert partners(done.style) == {
        "Lower/right": "Back/left",
        "Lower/panel seam": "Upper/panel seam",
        "Upper/right": "Back/left",
        "Upper/panel seam": "Lower/panel seam",
        "Back/left": "Upper/right + Lower/right",
    }
    assert [(f.code, f.where) for f in done.findings] == [("partner-in-parts", "Back/left")]
    assert done.touched == ("Back",)
    walks, findings = walk_style(done.style)
    assert findings == ()
    assert {w.second for w in walks} == {"Upper/right + Lower/right", "Upper/panel seam"}


def test_a_partner_that_is_gone_is_said() -> None:
    front = STYLE.pieces[0]
    other = replace(
        front, edges=(*front.edges[:1], replace(front.edges[1], name="new"), *front.edges[2:])
    )
    done = exchanged(STYLE, "Front", (other,))
    assert [(f.code, f.where) for f in done.findings] == [("partner-lost", "Back/left")]
    assert "Back/left" not in partners(done.style)


def test_a_facing_beside_its_piece_takes_no_partner_away() -> None:
    front = STYLE.pieces[0]
    done = exchanged(STYLE, "Front", (front, facing(front, ["top"], 40.0)))
    assert partners(done.style) == partners(STYLE)
    assert done.touched == ()


def test_a_measure_that_leaves_a_piece_out_leaves_its_parts_out() -> None:
    measure = BodyMeasure("waist", 700, 20, leave_out=("Back", "Front"))
    upright = as_points([(100.0, -10.0), (100.0, 310.0)])
    parts = split(STYLE.pieces[0], upright, names=("Side", "Middle"), allowance=add(10))
    done = exchanged(replace(STYLE, measures=(measure,)), "Front", parts)
    assert done.style.measures[0].leave_out == ("Back", "Side", "Middle")


def test_a_name_that_is_taken_is_refused() -> None:
    with pytest.raises(PieceError, match="'Back' already"):
        exchanged(STYLE, "Front", (replace(STYLE.pieces[0], name="Back"),))


def test_a_seam_that_joins_a_piece_to_itself_is_followed() -> None:
    sleeve = sewn("Sleeve", "right", "Sleeve/left")
    done = exchanged(Style("Shirt", (sleeve,)), "Sleeve", (replace(sleeve, name="Long sleeve"),))
    assert partners(done.style) == {"Long sleeve/right": "Long sleeve/left"}


def test_a_long_story_keeps_its_beginning_and_its_end() -> None:
    piece = rectangle()
    for k in range(30):
        piece = replace(piece, origin=remembered(piece, f"change {k}"))
    told = piece.origin.split("; ")
    assert told[:2] == ["Panel", "..."]
    assert told[-1] == "change 29"
    assert len(told) <= ORIGIN_CHAPTERS + 1
