"""DXF drawings: units, outlines from single lines, blocks, and hostile files."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from typing import Any

import ezdxf
import numpy as np
import pytest

from nesting.allowances.make import cut_piece
from nesting.findings import Level
from nesting.pieces.piece import DrawnAs, Style
from nesting.polygon import bounds
from service.errors import FormatError, TooLargeError, UnitError
from service.formats.cut_paper import cut_paper
from service.formats.dxf_in import read_dxf
from service.formats.dxf_out import paper_dxf
from service.formats.piece_sheet import read_piece_sheet


def dxf(draw: Callable[[Any, Any], None], *, units: int = 4, version: str = "R2010") -> bytes:
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = units
    draw(document.modelspace(), document)
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode()


def read(data: bytes, **options: str) -> tuple[Style, tuple[Any, ...]]:
    return read_dxf(data, source="front.dxf", **options)


def square(space: Any, _: Any, side: float = 100.0) -> None:
    space.add_lwpolyline([(0, 0), (side, 0), (side, side), (0, side)], close=True)


def codes(findings: tuple[Any, ...]) -> set[str]:
    return {f.code for f in findings}


def test_an_outline_with_its_lines_by_layer_and_its_name_by_text() -> None:
    def draw(space: Any, document: Any) -> None:
        for layer in ("CUT", "GRAIN", "NOTCH", "DRILL"):
            document.layers.add(layer)
        space.add_lwpolyline(
            [(10, 10), (310, 10), (310, 610), (10, 610)], close=True, dxfattribs={"layer": "CUT"}
        )
        space.add_line((100, 100), (100, 500), dxfattribs={"layer": "GRAIN"})
        space.add_line((310, 300), (304, 300), dxfattribs={"layer": "NOTCH"})
        space.add_circle((200, 300), 3, dxfattribs={"layer": "DRILL"})
        space.add_text("small print", height=5).set_placement((150, 200))
        space.add_text("Front; pair; lining", height=20).set_placement((150, 300))
        space.add_lwpolyline([(400, 10), (500, 10), (500, 90), (400, 90)], close=True)

    style, findings = read(dxf(draw))
    front, other = style.pieces
    assert (front.name, front.cloth, front.count.turned) == ("Front", "lining", 1)
    assert front.drawn_as is DrawnAs.CUT
    assert bounds(front.outline) == pytest.approx((0, 0, 300, 600))
    assert front.grain is not None
    assert front.grain.head == pytest.approx((90.0, 490.0))
    assert front.notches[0].distance_mm == pytest.approx(290.0)
    assert front.marks[0].points[0] == pytest.approx((190.0, 290.0))
    assert other.name == "Piece 2"
    assert "line-unsaid" in codes(findings)


def test_single_lines_and_arcs_are_joined_to_an_outline() -> None:
    def draw(space: Any, _: Any) -> None:
        space.add_line((0, 0), (100, 0))
        space.add_line((0, 50), (0, 0))
        space.add_line((100, 50), (100, 0.00001))  # drawn the other way, ends a hair apart
        space.add_arc((50, 50), 50, 0, 180)

    style, _ = read(dxf(draw))
    outline = style.pieces[0].outline
    assert bounds(outline) == pytest.approx((0, 0, 100, 100), abs=0.01)
    area = (
        abs(
            float(
                np.sum(
                    outline[:, 0] * np.roll(outline[:, 1], -1)
                    - outline[:, 1] * np.roll(outline[:, 0], -1)
                )
            )
        )
        / 2
    )
    assert area == pytest.approx(5000 + math.pi * 2500 / 2, rel=1e-3)
    assert len(style.pieces[0].edges) == 2  # the arc runs on smoothly from side to side


def test_bulges_splines_and_ellipses_are_true_curves() -> None:
    def draw(space: Any, _: Any) -> None:
        space.add_lwpolyline([(0, 0, 0, 0, 1), (100, 0, 0, 0, 1)], close=True)
        space.add_ellipse((300, 0), major_axis=(80, 0), ratio=0.5)

    style, _ = read(dxf(draw))
    circle, ellipse = (p.outline for p in style.pieces)
    assert bounds(circle) == pytest.approx((0, 0, 100, 100), abs=0.02)
    assert bounds(ellipse) == pytest.approx((0, 0, 160, 80), abs=0.02)
    assert np.abs(np.hypot(*(circle - 50).T) - 50).max() < 1e-4


@pytest.mark.parametrize(
    ("units", "mm"), [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0), (14, 100.0)]
)
def test_the_declared_unit_holds(units: int, mm: float) -> None:
    side = 300 / mm
    style, _ = read(dxf(lambda s, d: square(s, d, side), units=units))
    assert bounds(style.pieces[0].outline)[2] == pytest.approx(300.0, rel=1e-9)


def test_no_unit_is_refused_with_the_choices_and_a_choice_sets_it() -> None:
    data = dxf(square, units=0)
    with pytest.raises(UnitError) as caught:
        read(data)
    choices = dict(caught.value.choices)
    assert list(choices)[:3] == ["mm", "cm", "in"]
    assert "10.0 cm tall" in choices["mm"]
    style, findings = read(data, unit_choice="cm")
    assert bounds(style.pieces[0].outline)[2] == pytest.approx(1000.0)
    assert "unit-chosen" in codes(findings)
    style, _ = read(data, unit_choice="tall drawing = 62.4 cm")
    assert bounds(style.pieces[0].outline)[2] == pytest.approx(624.0)


def test_an_absurd_declared_unit_is_doubted() -> None:
    _, findings = read(
        dxf(lambda s, d: square(s, d, 600.0), units=6, version="R2010").replace(b"600.0", b"30.0")
    )
    assert next(f for f in findings if f.code == "unit-doubtful").level is Level.WARNING


def test_a_block_inserted_mirrored_and_turned() -> None:
    def draw(space: Any, document: Any) -> None:
        document.blocks.new("Cuff").add_lwpolyline([(0, 0), (60, 0), (0, 100)], close=True)
        space.add_blockref("Cuff", (900, 0))
        block = document.blocks.new("SLEEVE")
        block.add_lwpolyline([(0, 0), (60, 0), (0, 100)], close=True)
        block.add_text("Sleeve; pair", height=5)
        space.add_blockref(
            "SLEEVE", (500, 0), dxfattribs={"xscale": -2, "yscale": 2, "rotation": 90}
        )

    style, _ = read(dxf(draw))
    sleeve, cuff = style.pieces
    assert cuff.name == "Cuff"
    assert (sleeve.name, sleeve.count.turned) == ("Sleeve", 1)
    assert bounds(sleeve.outline)[2:] == pytest.approx((200.0, 120.0))
    # Mirrored, then turned by 90 degrees: (x, y) -> (-2 y, -2 x); the right angle lies at the far corner.
    corner = min(sleeve.outline, key=lambda p: float(np.hypot(*(p - [200, 120]))))
    assert corner == pytest.approx([200.0, 120.0])


def test_what_we_write_we_read() -> None:
    sheet = (
        b'{"format": "grainfold piece sheet", "version": 1, "unit": "cm", "style": "J",'
        b'"defaults": {"allowance": {"seam": 1.5}}, "pieces": ['
        b'{"name": "Front", "grain": "up", "outline": {"points": [[0,0],[30,0],[24,50],[0,52]]},'
        b'"notches": [{"edge": "edge 2", "distance": 12}], "marks": [{"kind": "drill", "points": [[9, 9]]}]},'
        b'{"name": "Tie", "outline": {"rectangle": {"width": 6, "length": 80}}}]}'
    )
    cuts = [cut_piece(p) for p in read_piece_sheet(sheet, source="j")[0].pieces]
    style, _ = read(paper_dxf(cut_paper(cuts, style="J")))
    assert {p.name for p in style.pieces} == {"Front", "Tie"}
    for cut in cuts:
        piece = next(p for p in style.pieces if p.name == cut.piece.name)
        assert bounds(piece.outline)[2:] == pytest.approx(np.ptp(cut.cut_line, axis=0), abs=1e-6)
        assert piece.grain is not None
        assert piece.drawn_as is DrawnAs.CUT
    front = next(p for p in style.pieces if p.name == "Front")
    assert len(front.notches) == 1
    assert "drill" in {m.kind.value for m in front.marks}


def test_what_is_not_read_is_listed() -> None:
    def draw(space: Any, document: Any) -> None:
        square(space, document)
        space.add_hatch().paths.add_polyline_path([(0, 0), (1, 0), (1, 1)])
        space.add_point((5, 5))

    _, findings = read(dxf(draw))
    left = next(f for f in findings if f.code == "left-out")
    assert "1 HATCH" in left.message
    assert "1 POINT" in left.message


def self_insert(space: Any, document: Any) -> None:
    block = document.blocks.new("loop")
    for _ in range(2):
        block.add_blockref("loop", (1, 1))
    space.add_blockref("loop", (0, 0))


def grid(space: Any, document: Any) -> None:
    document.blocks.new("one").add_line((0, 0), (1, 1))
    space.add_blockref(
        "one",
        (0, 0),
        dxfattribs={
            "row_count": 30_000,
            "column_count": 30_000,
            "row_spacing": 1,
            "column_spacing": 1,
        },
    )


def doubling(space: Any, document: Any) -> None:
    document.blocks.new("b0").add_line((0, 0), (1, 1))
    for i in range(1, 18):
        block = document.blocks.new(f"b{i}")
        for x in (0, 1):
            block.add_blockref(f"b{i - 1}", (x, 0))
    space.add_blockref("b17", (0, 0))


def deep(space: Any, document: Any) -> None:
    square(document.blocks.new("b0"), document)
    for i in range(1, 40):
        document.blocks.new(f"b{i}").add_blockref(f"b{i - 1}", (0, 0))
    space.add_blockref("b39", (0, 0))


def missing(space: Any, document: Any) -> None:
    square(space, document)
    space.add_blockref("gone", (0, 0))


@pytest.mark.parametrize("draw", [self_insert, grid, doubling])
def test_copies_without_end_are_refused(draw: Callable[[Any, Any], None]) -> None:
    with pytest.raises(TooLargeError, match="copies counted"):
        read(dxf(draw))


def test_blocks_too_deep_and_missing_are_told() -> None:
    with pytest.raises(FormatError, match="20 deep"):
        read(dxf(deep))
    _, findings = read(dxf(missing))
    assert next(f for f in findings if f.code == "mended").level is Level.WARNING


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no piece was found"),
        (b"0\nSECTION\n2\nENTITIES\n0\n", "no piece was found"),
        (b"0\nSECTION\nrubbish\n\n\n", "cannot be read as DXF"),
        (dxf(lambda s, d: None), "no piece was found"),
        (dxf(lambda s, d: s.add_line((0, 0), (5, 5)) and None), "no piece was found"),
        (dxf(square).replace(b"100.0", b"nan"), "no number|no piece"),
        (dxf(square).replace(b"100.0", b"1e300"), "beyond all use"),
    ],
)
def test_damaged_files_are_refused_in_words(data: bytes, words: str) -> None:
    with pytest.raises(FormatError, match=words):
        read(data)


def test_fifty_megabytes_are_refused_before_parsing() -> None:
    with pytest.raises(TooLargeError, match="50 MB"):
        read(b"0\n" * 25_000_000)
