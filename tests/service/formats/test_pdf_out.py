"""Written PDF, read back with PDFium and pikepdf: sizes, tiles, test square, print setting."""

from __future__ import annotations

import ctypes
import io
from dataclasses import replace

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium
import pytest

from nesting.polygon import as_points
from service.errors import WriteError
from service.formats.paper import Block, Ink, Paper, Stroke, Words, line
from service.formats.pdf_out import (
    LARGEST_SIDE_MM,
    MARGIN_MM,
    OVERLAP_MM,
    PAGES,
    papers_pdf,
    tiled_pdf,
    tiles_of,
)

MM = 25.4 / 72


def paper(
    width: float, height: float, *points: tuple[float, float], title: str = "Jerkin"
) -> Paper:
    stroke = Stroke(as_points(points), Ink.CUT, closed=True)
    return Paper(width, height, title, (Block("a", (stroke, Words(20, 20, "Ærmel ⅛ Ж", 4.0))),))


SQUARE = paper(300, 500, (20, 20), (280, 20), (280, 480), (20, 480))


def page_paths(data: bytes, index: int) -> list[np.ndarray]:
    """Every path of a page as points in mm from its lower left corner, matrices applied."""
    document = pypdfium2.PdfDocument(data)
    page = document[index]
    found = []
    for item in page.get_objects(filter=(pdfium.FPDF_PAGEOBJ_PATH,)):
        a, b, c, d, e, f = item.get_matrix().get()
        points = []
        for i in range(pdfium.FPDFPath_CountSegments(item)):
            segment = pdfium.FPDFPath_GetPathSegment(item, i)
            x, y = ctypes.c_float(), ctypes.c_float()
            pdfium.FPDFPathSegment_GetPoint(segment, x, y)
            points.append((a * x.value + c * y.value + e, b * x.value + d * y.value + f))
        found.append(np.array(points) * MM)
    page.close()
    document.close()
    return found


def test_a_paper_is_a_page_of_its_own_size() -> None:
    data = papers_pdf([SQUARE, paper(100, 50, (10, 10), (60, 10), (60, 40))])
    with pikepdf.open(io.BytesIO(data)) as document:
        boxes = [[float(v) * MM for v in p.mediabox] for p in document.pages]
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
    assert boxes == [pytest.approx([0, 0, 300, 500]), pytest.approx([0, 0, 100, 50])]
    (outline,) = page_paths(data, 0)
    assert outline[:4] == pytest.approx(
        np.array([(20, 20), (280, 20), (280, 480), (20, 480)]), abs=1e-3
    )


def test_the_same_paper_makes_the_same_bytes() -> None:
    assert papers_pdf([SQUARE]) == papers_pdf([SQUARE])


def test_tiles_cover_the_drawing_with_their_overlap_and_skip_what_is_empty() -> None:
    tiles = tiles_of(SQUARE, "A4")
    width, height = (side - 2 * MARGIN_MM for side in PAGES["A4"])
    assert [t.name for t in tiles] == ["A1", "A2", "B1", "B2"]
    assert tiles[1].x - tiles[0].x == pytest.approx(width - OVERLAP_MM)
    assert tiles[0].y - tiles[2].y == pytest.approx(height - OVERLAP_MM)
    points = np.vstack(
        [np.linspace(a, b, 400) for a, b in [((20, 20), (280, 20)), ((280, 20), (280, 480))]]
    )
    for x, y in points:
        assert any(t.x <= x <= t.x + width and t.y <= y <= t.y + height for t in tiles)
    far = replace(SQUARE, width=2000.0, height=2000.0)
    assert len(tiles_of(far, "A4")) == 6  # only the pages that the square touches
    assert [t.name for t in tiles_of(SQUARE, "A0")] == ["A1"]


def test_rows_are_counted_on_after_z() -> None:
    tall = paper(100, 30 * 267, (10, 10), (90, 30 * 267 - 10))
    assert [t.name for t in tiles_of(tall, "A4")][25:28] == ["Z1", "AA1", "AB1"]


@pytest.mark.parametrize("page", list(PAGES))
def test_tiled_pages_put_together_are_the_drawing_at_true_size(page: str) -> None:
    data = tiled_pdf([SQUARE], page=page)
    tiles = tiles_of(SQUARE, page)
    with pikepdf.open(io.BytesIO(data)) as document:
        assert len(document.pages) == len(tiles) + 1
        for p in document.pages:
            assert [float(v) * MM for v in p.mediabox] == pytest.approx(
                [0, 0, *PAGES[page]], abs=1e-3
            )
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
    for i, tile in enumerate(tiles):
        outline = page_paths(data, i + 1)[0] - MARGIN_MM + [tile.x, tile.y]
        assert outline[:4] == pytest.approx(
            np.array([(20, 20), (280, 20), (280, 480), (20, 480)]), abs=2e-3
        )


def test_joining_crosses_of_neighbours_lie_on_one_another() -> None:
    data, tiles = tiled_pdf([SQUARE], page="A4"), tiles_of(SQUARE, "A4")

    def crosses(i: int) -> set[tuple[int, int]]:
        bars = [
            p
            for p in page_paths(data, i + 1)
            if len(p) == 2 and np.allclose(np.ptp(p, axis=0), [8, 0], atol=0.01)
        ]
        shift = np.array([tiles[i].x, tiles[i].y]) - MARGIN_MM
        return {tuple(int(v) for v in np.round((p.mean(0) + shift) * 10)) for p in bars}  # type: ignore[misc]

    assert len(crosses(0)) == 4
    assert len(crosses(0) & crosses(1)) == 2
    assert len(crosses(0) & crosses(2)) == 2


def test_the_first_page_has_a_test_square_of_100_mm_and_four_inches() -> None:
    sizes = [
        tuple(np.round(np.ptp(p, axis=0), 2)) for p in page_paths(tiled_pdf([SQUARE]), 0) if len(p)
    ]
    assert (100.0, 100.0) in sizes
    assert (101.6, 0.0) in sizes


def test_each_tile_says_its_name() -> None:
    document = pypdfium2.PdfDocument(tiled_pdf([SQUARE]))
    texts = [document[i].get_textpage().get_text_range() for i in range(len(document))]
    document.close()
    assert "Print at 100 %" in texts[0]
    assert [t for t in ("A1", "A2", "B1", "B2") if any(t in x for x in texts[1:])] == [
        "A1",
        "A2",
        "B1",
        "B2",
    ]
    # The built-in faces are Latin: what they lack is a question mark, never a failure.
    assert any("Ærmel ? ?" in t for t in texts[1:])


def test_what_cannot_be_printed_is_told() -> None:
    long = paper(LARGEST_SIDE_MM + 1, 100, (10, 10), (90, 90))
    with pytest.raises(WriteError, match=r"5\.1 m long"):
        papers_pdf([long])
    with pytest.raises(WriteError, match="not a page size"):
        tiled_pdf([SQUARE], page="A9")
    with pytest.raises(WriteError, match="pages of A4"):
        tiled_pdf([paper(10_000, 10_000, (10, 10), (90, 90))])


def test_a_line_kind_keeps_its_dash() -> None:
    fold = Paper(50, 50, "f", (Block("", (line(Ink.FOLD, (5, 5), (45, 45)),)),))
    with pikepdf.open(io.BytesIO(papers_pdf([fold]))) as document:
        content = pikepdf.unparse_content_stream(
            pikepdf.parse_content_stream(document.pages[0])
        ).decode()
    assert "[ 8 1.5 1.5 1.5 ] 0 d" in content or "[8 1.5 1.5 1.5] 0 d" in content
