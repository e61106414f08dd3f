"""Written DXF, read back with ezdxf: units, layers, true size, no audit errors."""

from __future__ import annotations

import io

import numpy as np
import pytest
from ezdxf import recover

from nesting.allowances.make import cut_piece
from nesting.pieces.piece import Style
from service.formats.cut_paper import cut_paper
from service.formats.dxf_out import paper_dxf
from service.formats.paper import Block, Ink, Paper, Stroke
from service.formats.piece_sheet import read_piece_sheet

SHEET = b"""{"format": "grainfold piece sheet", "version": 1, "unit": "cm", "style": "Jerkin",
 "defaults": {"allowance": {"seam": 1.5}},
 "pieces": [
  {"name": "Front", "count": {"pair": 1}, "grain": "up",
   "outline": {"points": [[0, 0], [30, 0], [24, 50], [0, 52]]},
   "notches": [{"edge": "edge 2", "distance": 12}]},
  {"name": "\xc3\x84rmel \xd0\x96", "count": {"on fold": 1}, "grain": "up",
   "outline": {"rectangle": {"width": 25, "length": 52}, "sides": {"left": {"kind": "fold"}}}}]}"""


@pytest.fixture(scope="module")
def style() -> Style:
    return read_piece_sheet(SHEET, source="jerkin.json")[0]


def test_cut_lines_at_true_size_in_mm_on_their_layer(style: Style) -> None:
    cuts = [cut_piece(p) for p in style.pieces]
    document, auditor = recover.read(io.BytesIO(paper_dxf(cut_paper(cuts, style="Jerkin"))))
    assert not auditor.errors
    assert document.header["$INSUNITS"] == 4
    assert document.header["$MEASUREMENT"] == 1
    assert document.dxfversion >= "AC1015"
    lines = [e for e in document.modelspace().query("LWPOLYLINE[layer=='CUT']") if e.closed]
    sizes = sorted(tuple(np.ptp(np.array(e.get_points("xy")), axis=0)) for e in lines)
    assert np.allclose(sizes, sorted(tuple(np.ptp(c.cut_line, axis=0)) for c in cuts), atol=1e-6)
    layers = {e.dxf.layer for e in document.modelspace()}
    assert {"CUT", "NET", "FOLD", "GRAIN", "NOTCH", "TEXT"} <= layers
    assert {layer.dxf.name for layer in document.layers} >= layers


def test_names_survive_and_only_the_cut_layer_is_solid_and_named_cut(style: Style) -> None:
    cuts = [cut_piece(p) for p in style.pieces]
    document, _ = recover.read(io.BytesIO(paper_dxf(cut_paper(cuts, style="Jerkin"))))
    texts = [e.dxf.text for e in document.modelspace().query("TEXT")]
    assert "Ärmel Ж" in texts
    assert document.layers.get("NET").dxf.linetype.upper() == "DASHED"
    assert document.layers.get("CUT").dxf.linetype.upper() == "CONTINUOUS"


def test_every_kind_of_line_has_a_layer() -> None:
    points = np.array([(0.0, 0.0), (10.0, 0.0)])
    items = tuple(Stroke(points, ink) for ink in Ink)
    document, _ = recover.read(io.BytesIO(paper_dxf(Paper(20, 20, "x", (Block("", items),)))))
    assert len(document.modelspace()) == len(Ink)
