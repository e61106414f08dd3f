from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.errors import PieceError
from nesting.pieces.body_check import BodyMeasure, check_body, girth_at, width_at_line
from nesting.pieces.outline import Edge, EdgeKind
from nesting.pieces.piece import PAIR, Count, Dart, Grain, Mark, MarkKind, Piece
from nesting.polygon import as_points
from tests.nesting.drafts import add, rectangle

HIP, WAIST = 200.0, 0.0


def skirt_half(
    name: str, hip_mm: float, waist_mm: float, dart_mm: float, dart_long: float, *, fold: bool
) -> Piece:
    """A half skirt, waist at y = 0: hip line 200 below, side taken in, one dart in the waist."""
    edges = (
        Edge("centre", as_points([(0, 0), (0, -600)]), EdgeKind.FOLD if fold else EdgeKind.SEAM),
        Edge("hem", as_points([(0, -600), (hip_mm, -600)]), EdgeKind.HEM, add(40)),
        Edge("side", as_points([(hip_mm, -600), (hip_mm, -HIP), (waist_mm, 0)]), allowance=add(15)),
        Edge("waist", as_points([(waist_mm, 0), (0, 0)]), allowance=add(10)),
    )
    middle = waist_mm / 2
    return Piece(
        name,
        edges,
        grain=Grain((50, -500), (50, -100)),
        count=Count(1, 0) if fold else PAIR,
        darts=(
            Dart("dart", "waist", middle - dart_mm / 2, middle + dart_mm / 2,
                 (waist_mm - middle, -dart_long)),
        ),
        marks=(Mark(MarkKind.BALANCE, ((5.0, -HIP), (60.0, -HIP)), "hip"),),
    )  # fmt: skip


def skirt() -> tuple[Piece, Piece]:
    """W 68, H 94 cm by the WikiEducator skirt block: back hip 25.5, front hip 24.0, back waist 20.2,
    front waist 19.0, darts 2 wide, 12 and 10 long (cm)."""
    return (
        skirt_half("Back", 255, 202, 20, 120, fold=True),
        skirt_half("Front", 240, 190, 20, 100, fold=False),
    )


def test_the_published_skirt_block_measures_what_it_should() -> None:
    """Finished waist 70.4 cm = W + 2.4; finished hip 99.0 cm = H + 5."""
    waist = BodyMeasure("waist", 680, 24)
    hip = BodyMeasure("hip", 940, 50)
    girths, findings = check_body(skirt(), (waist, hip))
    assert findings == ()
    assert girths[0].total_mm == pytest.approx(704)
    assert girths[1].total_mm == pytest.approx(990)
    assert girths[1].parts == (("Back", pytest.approx(510)), ("Front", pytest.approx(480)))


def test_a_level_below_the_waist_takes_out_what_the_darts_take_there() -> None:
    piece = skirt()[0]
    at_60 = width_at_line(piece, "waist", below_mm=60.0)
    # Half way down the dart half its width is left; the side has come out 0.3 of its way.
    assert at_60 == pytest.approx(202 + 0.3 * 53 - 10)
    assert girth_at(skirt(), BodyMeasure("waist", 0, 0, below_mm=HIP)).total_mm == pytest.approx(
        990
    )


def test_a_girth_that_does_not_fit_is_said_with_what_it_should_be() -> None:
    girths, findings = check_body(skirt(), (BodyMeasure("hip", 1000, 50),))
    assert girths[0].difference_mm == pytest.approx(-60)
    (finding,) = findings
    assert "990 mm: 60 mm less than 1000 mm and 50 mm of ease" in finding.message


def test_a_line_no_piece_has_is_refused_and_a_level_needs_a_grain() -> None:
    with pytest.raises(PieceError, match="line or an edge 'bust'"):
        girth_at(skirt(), BodyMeasure("bust", 900, 60))
    with pytest.raises(PieceError, match="without a grain line"):
        width_at_line(replace(skirt()[0], grain=None), "waist", 50.0)
    assert width_at_line(rectangle(), "hip") is None


def test_facings_and_linings_do_not_count_and_each_is_named_with_why() -> None:
    back, front = skirt()
    lining = replace(front, name="Front lining", cloth="lining")
    facing = replace(back, name="Back waist facing")
    made = replace(front, name="Belt part", origin="Front; facing of waist")
    girths, findings = check_body(
        (back, front, lining, facing, made), (BodyMeasure("waist", 680, 24),)
    )
    assert [name for name, _ in girths[0].parts] == ["Back", "Front"]
    assert girths[0].left_out == (
        ("Front lining", "it is cut from lining"),
        ("Back waist facing", "its name says facing"),
        ("Belt part", "it was made as a facing"),
    )
    # That a lining is of another cloth needs no telling; what was guessed does.
    (told,) = findings
    assert (told.code, told.where) == ("girth-left-out", "waist")
    assert "Back waist facing (its name says facing)" in told.message
    assert "lining" not in told.message


def test_a_strip_in_its_piece_s_own_place_is_taken_for_a_facing() -> None:
    back, front = skirt()
    corners = [(0, 0), (0, -60), (202, -60), (202, 0)]
    names = ("centre", "inner", "side", "waist")
    edges = tuple(
        Edge(n, as_points([corners[i], corners[(i + 1) % 4]])) for i, n in enumerate(names)
    )
    strip = Piece("Stiffening", edges, grain=back.grain)
    girth = girth_at((back, front, strip), BodyMeasure("waist", 680, 24))
    assert girth.left_out == (("Stiffening", "it lies on Back"),)
    assert girth.total_mm == pytest.approx(704)


def test_pieces_are_left_out_and_counted_in_as_asked() -> None:
    back, front = skirt()
    yoke = replace(front, name="Front facing", cloth="contrast")
    measure = BodyMeasure("waist", 680, 24, leave_out=("Front",), count_in=("Front facing",))
    girths, findings = check_body((back, front, yoke), (measure,))
    assert girths[0].parts == (("Back", pytest.approx(364)), ("Front facing", pytest.approx(340)))
    assert girths[0].left_out == (("Front", "as asked"),)
    assert findings == ()


def test_a_name_that_no_piece_with_the_line_has_is_told() -> None:
    measure = BodyMeasure("waist", 680, 24, leave_out=("Peplum",))
    _, findings = check_body(skirt(), (measure,))
    assert [(f.code, f.where) for f in findings] == [("girth-piece-unknown", "Peplum")]
    assert findings[0].hint.endswith("Back, Front")


def test_a_lining_is_measured_by_itself() -> None:
    back, front = (replace(p, name=f"{p.name} lining", cloth="lining") for p in skirt())
    girth = girth_at((*skirt(), back, front), BodyMeasure("waist", 680, 24, cloth="lining"))
    assert [name for name, _ in girth.parts] == ["Back lining", "Front lining"]
    with pytest.raises(PieceError, match="no piece that is cut from canvas"):
        girth_at(skirt(), BodyMeasure("waist", 680, 24, cloth="canvas"))
