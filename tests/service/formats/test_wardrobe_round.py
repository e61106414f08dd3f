"""The whole demo wardrobe as drawings, and read again: every cut piece comes back at its size."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from nesting.allowances.make import cut_piece
from nesting.pieces.piece import DrawnAs
from nesting.polygon import bounds
from service import demo
from service.formats.cut_paper import cut_paper
from service.formats.pdf_out import papers_pdf
from service.formats.reading import read_bytes
from service.formats.writing import Drawing, cut_file

SHEETS = sorted(Path(demo.__file__).parent.glob("*.json"))


def test_there_is_a_wardrobe() -> None:
    assert len(SHEETS) >= 5


@pytest.mark.parametrize("kind", list(Drawing))
@pytest.mark.parametrize("sheet", SHEETS, ids=lambda s: str(s.stem))
def test_written_and_read_again(sheet: Path, kind: Drawing) -> None:
    style, _ = read_bytes(sheet.read_bytes(), name=sheet.name)
    cuts = {p.name: cut_piece(p) for p in style.pieces}
    if kind is Drawing.PDF:
        data = papers_pdf([cut_paper(list(cuts.values()), style=style.name)])
    else:
        data = cut_file(list(cuts.values()), style=style.name, kind=kind)
    again, _ = read_bytes(data, name=f"a.{kind}", guard=False)
    assert {p.name for p in again.pieces} == set(cuts)
    for piece in again.pieces:
        cut = cuts[piece.name]
        assert bounds(piece.outline)[2:] == pytest.approx(np.ptp(cut.cut_line, axis=0), abs=3e-3)
        if kind is not Drawing.PDF:
            assert piece.drawn_as is DrawnAs.CUT
            assert len(piece.notches) == len(cut.notches)
            assert (piece.grain is None) == (cut.piece.grain is None)
