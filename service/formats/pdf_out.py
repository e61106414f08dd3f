"""PDF out: papers page by page, and true-size papers cut into tiles for an ordinary printer.

True size needs a printer that does not fit pages: the file asks for that, the test square shows it.
"""

from __future__ import annotations

import io
import string
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from reportlab.pdfgen.canvas import Canvas
from shapely import prepare
from shapely.geometry import LineString, MultiLineString, box

from service.errors import WriteError
from service.formats.paper import PENS, Anchor, Paper, Stroke, Words

PAGES: Final[dict[str, tuple[float, float]]] = {
    "A4": (210.0, 297.0),
    "Letter": (215.9, 279.4),
    "A3": (297.0, 420.0),
    "A0": (841.0, 1189.0),
}
"""Portrait pages, mm (ISO 216; ANSI/ASME Y14.1)."""

PT_PER_MM: Final = 72 / 25.4
MARGIN_MM: Final = 10.0
OVERLAP_MM: Final = 10.0
LARGEST_SIDE_MM: Final = 14_400 / 72 * 25.4
"""No side of a PDF page may be longer without a unit of its own (ISO 32000-1, annex C)."""

MOST_TILES: Final = 400


def papers_pdf(papers: Sequence[Paper]) -> bytes:
    """Each paper as a page of its own size. Raises WriteError for a page longer than PDF allows."""
    out = io.BytesIO()
    canvas = _canvas(out, papers[0].title)
    for paper in papers:
        if max(paper.width, paper.height) > LARGEST_SIDE_MM:
            raise WriteError(
                f"“{paper.title}” is {max(paper.width, paper.height) / 1000:.1f} m long; a PDF page "
                f"may be {LARGEST_SIDE_MM / 1000:.1f} m",
                where=paper.title,
                hint="Ask for tiles on A0 or smaller, or for SVG or DXF.",
            )
        canvas.setPageSize((paper.width * PT_PER_MM, paper.height * PT_PER_MM))
        canvas.scale(PT_PER_MM, PT_PER_MM)
        _draw(canvas, paper)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


@dataclass(frozen=True, slots=True)
class Tile:
    """One page of a tiled paper: its name (row letter, column number) and the paper's box it shows."""

    name: str
    x: float
    y: float


def tiles_of(paper: Paper, page: str) -> list[Tile]:
    """The tiles of ``paper`` that show anything, in rows from the top. Raises WriteError."""
    width, height = _inner(page)
    columns, rows = (
        max(int(np.ceil((side - OVERLAP_MM) / (inner - OVERLAP_MM) - 1e-9)), 1)
        for side, inner in ((paper.width, width), (paper.height, height))
    )
    if columns * rows > MOST_TILES:
        raise WriteError(
            f"“{paper.title}” would take {columns * rows} pages of {page}",
            where=paper.title,
            hint="Print on larger pages (A3, A0), or piece by piece.",
        )
    ink = MultiLineString(
        [
            LineString(i.points)
            for b in paper.blocks
            for i in b.items
            if isinstance(i, Stroke) and len(i.points) > 1
        ]
    )
    closing = [
        LineString([i.points[-1], i.points[0]])
        for b in paper.blocks
        for i in b.items
        if isinstance(i, Stroke) and i.closed
    ]
    ink = MultiLineString([*ink.geoms, *closing])
    prepare(ink)
    tiles = []
    for row in range(rows):
        for column in range(columns):
            x = column * (width - OVERLAP_MM)
            y = paper.height - height - row * (height - OVERLAP_MM)
            if ink.intersects(box(x, y, x + width, y + height)):
                tiles.append(Tile(f"{_row_name(row)}{column + 1}", x, y))
    return tiles


def tiled_pdf(papers: Sequence[Paper], *, page: str = "A4") -> bytes:
    """True-size papers on pages of an ordinary printer: a page map (the first with a test square; none
    for a later paper that is one page), then the tiles that show anything, each with its name, joining
    crosses and a 50 mm tick.

    ``page`` is A4, Letter, A3 or A0. Raises WriteError for another page or too many of them.
    """
    width, height = page_size(page)
    out = io.BytesIO()
    canvas = _canvas(out, papers[0].title)
    for i, paper in enumerate(papers):
        tiles = tiles_of(paper, page)
        if i == 0 or len(tiles) > 1:
            _begin(canvas, width, height)
            _map_page(canvas, paper, tiles, page, first=i == 0)
            canvas.showPage()
        for tile in tiles:
            _begin(canvas, width, height)
            _tile_page(canvas, paper, tile, page)
            canvas.showPage()
    canvas.save()
    return out.getvalue()


def page_size(page: str) -> tuple[float, float]:
    """Width and height of a page by its name, mm, portrait. Raises WriteError."""
    if page not in PAGES:
        raise WriteError(
            f"“{page}” is not a page size", where="page", hint=f"Choose {', '.join(PAGES)}."
        )
    return PAGES[page]


def _inner(page: str) -> tuple[float, float]:
    width, height = page_size(page)
    return width - 2 * MARGIN_MM, height - 2 * MARGIN_MM


def _row_name(row: int) -> str:
    name = ""
    row += 1
    while row:
        row, rest = divmod(row - 1, 26)
        name = string.ascii_uppercase[rest] + name
    return name


def _canvas(out: io.BytesIO, title: str) -> Any:
    # ``invariant``: the same drawing makes the same bytes, whatever the clock says.
    canvas = Canvas(out, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator("grainfold")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas


def _begin(canvas: Any, width: float, height: float) -> None:
    canvas.setPageSize((width * PT_PER_MM, height * PT_PER_MM))
    canvas.scale(PT_PER_MM, PT_PER_MM)


def _draw(canvas: Any, paper: Paper) -> None:
    canvas.setLineJoin(1)
    for block in paper.blocks:
        for item in block.items:
            if isinstance(item, Stroke):
                _stroke(canvas, item)
            else:
                _words(canvas, item)


def _stroke(canvas: Any, stroke: Stroke) -> None:
    pen = PENS[stroke.ink]
    canvas.setLineWidth(pen.width)
    canvas.setDash(list(pen.dash))
    _polyline(canvas, stroke.points.tolist(), closed=stroke.closed)


def _polyline(canvas: Any, points: list[Any], *, closed: bool = False) -> None:
    path = canvas.beginPath()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    if closed:
        path.close()
    canvas.drawPath(path, stroke=1, fill=0)


def _words(canvas: Any, words: Words) -> None:
    canvas.saveState()
    canvas.setFont("Helvetica-Bold" if words.bold else "Helvetica", words.size)
    canvas.translate(words.x, words.y)
    canvas.rotate(words.turn_deg)
    draw = {
        Anchor.START: canvas.drawString,
        Anchor.MIDDLE: canvas.drawCentredString,
        Anchor.END: canvas.drawRightString,
    }[words.anchor]
    draw(0, 0, _in_font(words.text))
    canvas.restoreState()


def _in_font(text: str) -> str:
    """What the built-in faces lack (they are Latin) becomes a question mark; numbers still tell."""
    return text.encode("cp1252", errors="replace").decode("cp1252")


def _tile_page(canvas: Any, paper: Paper, tile: Tile, page: str) -> None:
    width, height = _inner(page)
    canvas.saveState()
    clip = canvas.beginPath()
    clip.rect(MARGIN_MM, MARGIN_MM, width, height)
    canvas.clipPath(clip, stroke=0, fill=0)
    canvas.translate(MARGIN_MM - tile.x, MARGIN_MM - tile.y)
    _draw(canvas, paper)
    canvas.restoreState()
    canvas.setLineWidth(0.1)
    canvas.setDash([])
    canvas.rect(MARGIN_MM, MARGIN_MM, width, height)
    half = OVERLAP_MM / 2
    for x in (MARGIN_MM + half, MARGIN_MM + width - half):
        for y in (MARGIN_MM + half, MARGIN_MM + height - half):
            _polyline(canvas, [(x - 4, y), (x + 4, y)])
            _polyline(canvas, [(x, y - 4), (x, y + 4)])
    _words(canvas, Words(MARGIN_MM, 4.0, f"{tile.name}   {paper.title}", 3.5, bold=True))
    right = MARGIN_MM + width
    canvas.setLineWidth(0.25)
    _polyline(canvas, [(right - 50, 6), (right - 50, 3), (right, 3), (right, 6)])
    _words(canvas, Words(right - 25, 4.0, "50 mm", 2.5, Anchor.MIDDLE))


def _map_page(canvas: Any, paper: Paper, tiles: list[Tile], page: str, *, first: bool) -> None:
    width, height = page_size(page)
    inner_w, inner_h = _inner(page)
    top = height - MARGIN_MM - 6
    lines = [
        (paper.title, 5.0),
        (f"{len(tiles)} pages of {page}. Print at 100 %, not fitted to the page.", 3.2),
        (
            "Lay the crosses of neighbouring pages on one another; letters are rows, from the top.",
            3.2,
        ),
        ("Measure the square below before cutting cloth.", 3.2),
    ]
    for i, (text, size) in enumerate(lines):
        _words(canvas, Words(MARGIN_MM, top - 6.0 * i, text, size, bold=not i))
    base = MARGIN_MM
    if first:
        _test_square(canvas, MARGIN_MM + 4, base + 4)
        base += 118.0
    room_w, room_h = width - 2 * MARGIN_MM, top - 28.0 - base
    low = min((t.y for t in tiles), default=0.0)
    wide = max((t.x + inner_w for t in tiles), default=paper.width)
    k = min(room_w / max(wide, paper.width), room_h / (paper.height - min(low, 0.0)))
    canvas.saveState()
    canvas.translate(MARGIN_MM, base - k * min(low, 0.0))
    canvas.scale(k, k)
    canvas.setDash([])
    for block in paper.blocks:
        for item in block.items:
            if isinstance(item, Stroke):
                canvas.setLineWidth(0.15 / k)
                _polyline(canvas, item.points.tolist(), closed=item.closed)
    canvas.setLineWidth(0.3 / k)
    for tile in tiles:
        canvas.rect(tile.x, tile.y, inner_w, inner_h)
        middle = tile.x + inner_w / 2, tile.y + inner_h / 2
        _words(canvas, Words(*middle, tile.name, min(5.0 / k, inner_w / 3), Anchor.MIDDLE))
    canvas.restoreState()


def _test_square(canvas: Any, x: float, y: float) -> None:
    """100 mm and 4 in, with ticks every 10 mm and every quarter inch."""
    canvas.setDash([])
    canvas.setLineWidth(0.3)
    canvas.rect(x, y, 100.0, 100.0)
    for i in range(11):
        length = 4.0 if i % 5 == 0 else 2.5
        _polyline(canvas, [(x + 10 * i, y), (x + 10 * i, y + length)])
        _polyline(canvas, [(x, y + 10 * i), (x + length, y + 10 * i)])
    _polyline(canvas, [(x, y + 106.0), (x + 101.6, y + 106.0)])
    for i in range(17):
        length = 4.0 if i % 4 == 0 else 2.0
        _polyline(canvas, [(x + 6.35 * i, y + 106.0), (x + 6.35 * i, y + 106.0 + length)])
    _words(canvas, Words(x + 50, y + 48, "100 mm x 100 mm", 4.0, Anchor.MIDDLE))
    _words(canvas, Words(x + 103.5, y + 106, "4 in", 4.0))
