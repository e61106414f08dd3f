"""PDF drawings: true size, forms, user units, pages, and files that hold no lines."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import numpy as np
import pikepdf
import pytest
from reportlab.pdfgen.canvas import Canvas

from nesting.allowances.make import cut_piece
from nesting.findings import Level
from nesting.pieces.piece import Style
from nesting.polygon import bounds
from service.errors import FormatError, TooLargeError
from service.formats.cut_paper import cut_paper
from service.formats.pdf_in import read_pdf
from service.formats.pdf_out import papers_pdf
from service.formats.piece_sheet import read_piece_sheet

MM = 72 / 25.4


def pdf(draw: Callable[[Any], None], *, size: tuple[float, float] = (400, 700)) -> bytes:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(size[0] * MM, size[1] * MM), invariant=1)
    draw(canvas)
    canvas.save()
    return out.getvalue()


def mm(draw: Callable[[Any], None]) -> Callable[[Any], None]:
    def scaled(canvas: Any) -> None:
        canvas.scale(MM, MM)
        draw(canvas)

    return scaled


def front(canvas: Any) -> None:
    canvas.rect(20, 20, 300, 600)
    canvas.line(100, 100, 100, 500)
    canvas.setFont("Helvetica", 12)
    canvas.drawString(150, 300, "Front")
    canvas.setFont("Helvetica", 5)
    canvas.drawString(150, 200, "small print")


def read(data: bytes, **options: str) -> tuple[Style, tuple[Any, ...]]:
    return read_pdf(data, source="front.pdf", **options)


def size(style: Style, i: int = 0) -> tuple[float, float]:
    return bounds(style.pieces[i].outline)[2:]


def codes(findings: tuple[Any, ...]) -> set[str]:
    return {f.code for f in findings}


def test_an_outline_with_its_name_at_true_size() -> None:
    style, findings = read(pdf(mm(front)))
    (piece,) = style.pieces
    assert piece.name == "Front"
    assert size(style) == pytest.approx((300, 600), abs=1e-3)
    assert [m.kind.value for m in piece.marks] == ["line"]
    assert {"size", "no-grain", "count-unsaid", "line-unsaid", "allowance-unsaid"} <= codes(
        findings
    )


def test_curves_are_curves() -> None:
    style, _ = read(pdf(mm(lambda c: c.circle(200, 300, 150))))
    outline = style.pieces[0].outline
    # The drawing program's own circle of four cubics is off by 2.7e-4 of its radius.
    assert np.abs(np.hypot(*(outline - 150).T) - 150).max() < 150 * 2.8e-4
    assert len(outline) > 60


def test_forms_in_forms_are_placed() -> None:
    def draw(canvas: Any) -> None:
        canvas.beginForm("inner")
        canvas.rect(0, 0, 50, 100)
        canvas.endForm()
        canvas.beginForm("outer")
        canvas.scale(2, 2)
        canvas.doForm("inner")
        canvas.endForm()
        canvas.translate(100, 100)
        canvas.rotate(90)
        canvas.doForm("outer")

    style, _ = read(pdf(draw))
    assert size(style) == pytest.approx((200 / MM, 100 / MM), abs=1e-3)


def changed(data: bytes, change: Callable[[pikepdf.Pdf], None], **saving: Any) -> bytes:
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(data)) as document:
        change(document)
        document.save(out, **saving)
    return out.getvalue()


def test_the_user_unit_of_a_page_counts() -> None:
    def double(document: pikepdf.Pdf) -> None:
        document.pages[0].UserUnit = 2

    style, _ = read(changed(pdf(mm(front)), double))
    assert size(style) == pytest.approx((600, 1200), abs=2e-3)


def test_a_turned_page_does_not_turn_the_piece() -> None:
    def turn(document: pikepdf.Pdf) -> None:
        document.pages[0].Rotate = 90

    style, _ = read(changed(pdf(mm(front)), turn))
    assert size(style) == pytest.approx((300, 600), abs=1e-3)


def test_pages_are_read_one_by_one_and_that_is_told() -> None:
    def draw(canvas: Any) -> None:
        front(canvas)
        canvas.showPage()
        canvas.scale(MM, MM)
        canvas.rect(20, 20, 100, 100)

    style, findings = read(pdf(mm(draw)))
    assert len(style.pieces) == 2
    assert size(style, 1) == pytest.approx((100, 100), abs=1e-3)
    assert next(f for f in findings if f.code == "pages").level is Level.WARNING


def test_a_measured_length_overrules_the_size() -> None:
    style, findings = read(pdf(mm(front)), unit_choice="tall drawing = 624 mm")
    assert size(style)[1] == pytest.approx(624.0)
    assert next(f for f in findings if f.code == "unit-chosen").level is Level.WARNING


def test_our_own_cut_pieces_read_back_at_size() -> None:
    sheet = (
        b'{"format": "grainfold piece sheet", "version": 1, "unit": "cm", "style": "J",'
        b'"defaults": {"allowance": {"seam": 1.5}}, "pieces": ['
        b'{"name": "Front", "grain": "up", "outline": {"points": [[0,0],[30,0],[24,50],[0,52]]}}]}'
    )
    cut = cut_piece(read_piece_sheet(sheet, source="j")[0].pieces[0])
    style, _ = read(papers_pdf([cut_paper([cut], style="J")]))
    assert [p.name for p in style.pieces] == ["Front"]
    assert size(style) == pytest.approx(np.ptp(cut.cut_line, axis=0), abs=2e-3)


def picture(canvas: Any) -> None:
    from PIL import Image
    from reportlab.lib.utils import ImageReader

    canvas.drawImage(ImageReader(Image.new("L", (8, 8), 255)), 0, 0, 100, 100)


@pytest.mark.parametrize(
    ("draw", "words"),
    [
        (lambda c: c.rect(0, 0, 50, 50, stroke=0, fill=1), "filled areas"),
        (picture, "pictures only"),
        (lambda c: c.drawString(50, 50, "Front"), "no drawn lines"),
        (lambda c: c.line(0, 0, 50, 50), "no closed path"),
    ],
)
def test_a_file_without_drawn_outlines_is_refused(draw: Callable[[Any], None], words: str) -> None:
    with pytest.raises(FormatError, match=words):
        read(pdf(draw))


def test_filled_shapes_and_pictures_beside_lines_are_told() -> None:
    def draw(canvas: Any) -> None:
        front(canvas)
        canvas.rect(30, 30, 5, 5, stroke=0, fill=1)
        picture(canvas)

    _, findings = read(pdf(mm(draw)))
    left = [f.message for f in findings if f.code == "left-out"]
    assert left == ["left out: 1 filled shape(s) without an outline", "left out: 1 picture(s)"]


def bomb(levels: int) -> bytes:
    def grow(document: pikepdf.Pdf) -> None:
        content = b"0 0 10 10 re S"
        resources: dict[str, Any] = {}
        for _ in range(levels):
            form = document.make_stream(content)
            form.Type, form.Subtype = pikepdf.Name.XObject, pikepdf.Name.Form
            form.BBox = [0, 0, 100, 100]
            form.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(resources))
            resources, content = {"/F": form}, b"/F Do " * 10
        document.pages[0].Contents = document.make_stream(content)
        document.pages[0].Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(resources))

    return changed(pdf(front), grow)


def test_forms_without_end_are_refused() -> None:
    with pytest.raises(TooLargeError, match="objects"):
        read(bomb(5))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "cannot be read as PDF"),
        (b"%PDF-1.7\nrubbish", "cannot be read as PDF"),
        (pdf(front)[:300], "cannot be read as PDF|no drawn lines"),
    ],
)
def test_damaged_files_are_refused(data: bytes, words: str) -> None:
    with pytest.raises(FormatError, match=words):
        read(data)


def test_a_protected_file_and_a_huge_one_are_refused() -> None:
    locked = changed(pdf(front), lambda d: None, encryption=pikepdf.Encryption(owner="o", user="u"))
    with pytest.raises(FormatError, match="encrypted"):
        read(locked)
    with pytest.raises(TooLargeError, match="50 MB"):
        read(b"%PDF-1.7" + b" " * 50_000_000)


def test_too_many_pages_are_refused() -> None:
    def draw(canvas: Any) -> None:
        for _ in range(51):
            canvas.rect(0, 0, 5, 5)
            canvas.showPage()

    with pytest.raises(TooLargeError, match="at most 50"):
        read(pdf(draw))
