"""PDF in: the drawn lines of a document's pages at true size; what lies in an outline belongs to it.

A PDF has no names for lines: every outermost closed line is a piece, called by the largest text in it;
lines inside are kept as marks. Grain, counts and allowances are to be set afterwards, and findings say so.
"""

from __future__ import annotations

import ctypes
import io
import logging
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium

from nesting.findings import Finding, Level
from nesting.pieces.piece import Style
from nesting.polygon import FloatArray
from service.errors import FormatError, TooLargeError
from service.formats.drawing import read_drawing
from service.formats.drawn_lines import DrawnLine, refusal
from service.formats.placing import PlacedText, grouped_by_place
from service.formats.unit_choice import chosen_mm

logging.getLogger("pikepdf").addHandler(logging.NullHandler())
"""The library tells faults of the page tree on stderr; we tell what was read."""

MAX_BYTES: Final = 25_000_000
MAX_PAGES: Final = 50
MAX_OBJECTS: Final = 50_000
MAX_SEGMENTS: Final = 300_000
MAX_DEPTH: Final = 20
MM_PER_POINT: Final = 25.4 / 72
PAGE_GAP: Final = 200.0
"""Points between pages put side by side: nothing on one page may touch the next."""


def read_pdf(
    data: bytes, *, source: str, unit_choice: str | None = None
) -> tuple[Style, tuple[Finding, ...]]:
    """The style of a PDF drawing, and what was noticed. A point is 1/72 in times the page's UserUnit;
    ``unit_choice`` overrules that (``tall drawing = 62.4 cm``). Raises FormatError, TooLargeError."""
    walk = _Walk(source)
    units = _user_units(data, source)
    _read_pages(data, walk, units)
    if not walk.lines:
        raise refusal(source, [_nothing(walk)])
    findings = _told(walk, len(units))
    scale = MM_PER_POINT
    if unit_choice is not None and unit_choice.strip():
        scale = chosen_mm(unit_choice, walk.lines, source)
        findings.append(
            Finding(
                "unit-chosen",
                Level.WARNING,
                f"the size follows from your choice: {unit_choice.strip()}; the file itself says "
                "another",
                where=source,
            )
        )
    lines = [replace(x, segments=tuple(s * scale for s in x.segments)) for x in walk.lines]
    texts = [PlacedText(t.x * scale, t.y * scale, t.size * scale, t.text) for t in walk.texts]
    reading = read_drawing(grouped_by_place(lines, texts), title="", source=source)
    if reading.problems:
        raise refusal(source, reading.problems)
    return reading.style, (*findings, *reading.findings)


@dataclass(slots=True)
class _Walk:
    source: str
    lines: list[DrawnLine] = field(default_factory=list)
    filled: list[DrawnLine] = field(default_factory=list)
    texts: list[PlacedText] = field(default_factory=list)
    pictures: int = 0
    objects: int = 0
    segments: int = 0


def _user_units(data: bytes, source: str) -> list[float]:
    """UserUnit of every page: PDFium does not apply it."""
    if len(data) > MAX_BYTES:
        raise TooLargeError(
            f"{source} has {len(data) / 1e6:.0f} MB; a PDF may have {MAX_BYTES / 1e6:.0f} MB",
            where=source,
            hint="Save only the pages with pieces, without pictures.",
        )
    try:
        with pikepdf.open(io.BytesIO(data)) as document:
            if document.is_encrypted:
                raise FormatError(
                    f"{source} is encrypted", where=source, hint="Save a copy without protection."
                )
            if len(document.pages) > MAX_PAGES:
                raise TooLargeError(
                    f"{source} has {len(document.pages)} pages; at most {MAX_PAGES} are read",
                    where=source,
                    hint="Save the pages with pieces as a file of their own.",
                )
            return [float(page.get("/UserUnit", 1)) for page in document.pages]
    except pikepdf.PasswordError:
        raise FormatError(
            f"{source} is encrypted", where=source, hint="Save a copy without protection."
        ) from None
    except (pikepdf.PdfError, ValueError, TypeError) as e:
        raise FormatError(
            f"{source} cannot be read as PDF: {str(e)[:150]}",
            where=source,
            hint="Save it again from the program that made it.",
        ) from None


def _read_pages(data: bytes, walk: _Walk, units: list[float]) -> None:
    try:
        document = pypdfium2.PdfDocument(data)
        try:
            x = 0.0
            for page, unit in zip(document, units, strict=False):
                x += _read_page(page, unit, x, walk) + PAGE_GAP
                page.close()
        finally:
            document.close()
    except pypdfium2.PdfiumError as e:
        raise FormatError(
            f"{walk.source} cannot be read as PDF: {str(e)[:150]}",
            where=walk.source,
            hint="Save it again from the program that made it.",
        ) from None


def _read_page(page: Any, unit: float, x: float, walk: _Walk) -> float:
    """Collect a page's lines and texts, shifted by ``x``; its width, in points of 1/72 in."""
    if not 0 < unit <= 1000:
        raise FormatError(f"{walk.source} has a page whose UserUnit is {unit:g}", where=walk.source)
    place = np.array([[unit, 0.0, x], [0.0, unit, 0.0], [0.0, 0.0, 1.0]])
    for raw in _objects(page.raw, pdfium.FPDFPage_CountObjects, pdfium.FPDFPage_GetObject):
        _visit(raw, place, walk, 0)
    _texts(page, place, walk)
    return float(page.get_width()) * unit


def _objects(holder: Any, count: Any, get: Any) -> Iterator[Any]:
    for i in range(count(holder)):
        yield get(holder, i)


def _visit(raw: Any, place: FloatArray, walk: _Walk, depth: int) -> None:
    walk.objects += 1
    if walk.objects > MAX_OBJECTS or depth > MAX_DEPTH:
        raise TooLargeError(
            f"{walk.source} holds more than {MAX_OBJECTS} objects, or forms nested more than "
            f"{MAX_DEPTH} deep",
            where=walk.source,
            hint="Save only the pages with pieces.",
        )
    kind = pdfium.FPDFPageObj_GetType(raw)
    if kind == pdfium.FPDF_PAGEOBJ_IMAGE:
        walk.pictures += 1
    elif kind == pdfium.FPDF_PAGEOBJ_FORM:
        inner = place @ _matrix(raw)
        for child in _objects(raw, pdfium.FPDFFormObj_CountObjects, pdfium.FPDFFormObj_GetObject):
            _visit(child, inner, walk, depth + 1)
    elif kind == pdfium.FPDF_PAGEOBJ_PATH:
        _path(raw, place @ _matrix(raw), walk)


def _matrix(raw: Any) -> FloatArray:
    m = pdfium.FS_MATRIX()
    pdfium.FPDFPageObj_GetMatrix(raw, m)
    return np.array([[m.a, m.c, m.e], [m.b, m.d, m.f], [0.0, 0.0, 1.0]], dtype=float)


def _path(raw: Any, matrix: FloatArray, walk: _Walk) -> None:
    fill, stroke = ctypes.c_int(), ctypes.c_int()
    pdfium.FPDFPath_GetDrawMode(raw, fill, stroke)
    if not fill.value and not stroke.value:
        return
    found = walk.lines if stroke.value else walk.filled
    for segments, closed in _runs(raw, walk):
        moved = tuple(s @ matrix[:2, :2].T + matrix[:2, 2] for s in segments)
        if all((np.abs(s) < 1e7).all() for s in moved):
            found.append(DrawnLine("", "", (), moved, closed))


def _runs(raw: Any, walk: _Walk) -> Iterator[tuple[list[FloatArray], bool]]:
    """The runs of a path in its own space: (segments, closed)."""
    count = pdfium.FPDFPath_CountSegments(raw)
    walk.segments += max(count, 0)
    if walk.segments > MAX_SEGMENTS:
        raise TooLargeError(
            f"{walk.source} holds more than {MAX_SEGMENTS} lines and curves",
            where=walk.source,
            hint="Save only the pages with pieces, and take out hatchings.",
        )
    run: list[FloatArray] = []
    here = start = np.zeros(2)
    controls: list[FloatArray] = []
    for i in range(count):
        segment = pdfium.FPDFPath_GetPathSegment(raw, i)
        x, y = ctypes.c_float(), ctypes.c_float()
        pdfium.FPDFPathSegment_GetPoint(segment, x, y)
        point = np.array([x.value, y.value], dtype=float)
        kind = pdfium.FPDFPathSegment_GetType(segment)
        if kind == pdfium.FPDF_SEGMENT_MOVETO:
            if run:
                yield run, False
            run, here, start = [], point, point
        elif kind == pdfium.FPDF_SEGMENT_BEZIERTO:
            controls.append(point)
            if len(controls) == 3:
                run.append(np.array([here, *controls]))
                here, controls = point, []
        elif not np.array_equal(here, point):
            run.append(np.array([here, point]))
            here = point
        if pdfium.FPDFPathSegment_GetClose(segment):
            if not np.array_equal(here, start):
                run.append(np.array([here, start]))
            if run:
                yield run, True
            run, here = [], start
    if run:
        yield run, False


def _texts(page: Any, place: FloatArray, walk: _Walk) -> None:
    textpage = page.get_textpage()
    for i in range(min(textpage.count_rects(), 2000)):
        left, bottom, right, top = textpage.get_rect(i)
        text = textpage.get_text_bounded(left, bottom, right, top).strip().split("\n")[0]
        middle = place @ np.array([(left + right) / 2, (bottom + top) / 2, 1.0])
        if text:
            size = float((top - bottom) * place[0, 0])
            walk.texts.append(PlacedText(float(middle[0]), float(middle[1]), size, text))
    textpage.close()


def _told(walk: _Walk, pages: int) -> list[Finding]:
    findings = []
    if walk.filled:
        findings.append(
            Finding(
                "left-out",
                Level.NOTE,
                f"left out: {len(walk.filled)} filled shape(s) without an outline",
                where=walk.source,
            )
        )
    if walk.pictures:
        findings.append(
            Finding(
                "left-out",
                Level.WARNING,
                f"left out: {walk.pictures} picture(s)",
                where=walk.source,
                hint="Trace the picture's outline with a path; pictures are not measured.",
            )
        )
    if pages > 1:
        findings.append(
            Finding(
                "pages",
                Level.WARNING,
                f"{pages} pages were read one by one; a piece that runs on from page to page is not "
                "joined",
                where=walk.source,
                hint="Save the drawing on one large page instead of on tiles.",
            )
        )
    return findings


def _nothing(walk: _Walk) -> Finding:
    if walk.filled:
        message = "its shapes are filled areas, not drawn lines: where the edge is cannot be told"
    elif walk.pictures:
        message = "it holds pictures only, no drawn lines"
    else:
        message = "it holds no drawn lines"
    return Finding(
        "no-pieces",
        Level.REFUSED,
        message,
        where=walk.source,
        hint="Save the drawing as lines (not filled, not as a picture), as PDF or SVG.",
    )
