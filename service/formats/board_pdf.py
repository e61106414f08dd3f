"""The printable board as a PDF: one page, squares exact to the printer, two lines to measure."""

from __future__ import annotations

from io import BytesIO

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from calibration.boards import Sheet

TICK_MM = 2.0
GREY = 0.55
"""Lines and words are grey, so that no detector takes them for squares."""


def board_pdf(sheet: Sheet) -> bytes:
    """One page of the sheet's own size, at full scale. Pure: bytes out, no date inside."""
    out = BytesIO()
    page = Canvas(
        out, pagesize=(sheet.width_mm * mm, sheet.height_mm * mm), invariant=True, pageCompression=0
    )
    page.setTitle(f"Board {sheet.columns} x {sheet.rows}, {sheet.paper}")
    page.setFillGray(0)
    page.setStrokeGray(0)
    for x, y, width, height in sheet.black:
        page.rect(x * mm, y * mm, width * mm, height * mm, stroke=0, fill=1)
    _rulers(page, sheet)
    page.showPage()
    page.save()
    return out.getvalue()


def ruler_words(sheet: Sheet) -> tuple[str, str]:
    """What stands beside the two lines."""
    along, across = sheet.ruler_squares
    return (
        f"x: {along} squares. Measure this line and type it; {along * sheet.square_mm:.0f} mm is only "
        "what was meant. Print at 100 %, lay it flat.",
        f"y: {across} squares ({across * sheet.square_mm:.0f} mm meant)",
    )


def _rulers(page: Canvas, sheet: Sheet) -> None:
    page.setStrokeGray(GREY)
    page.setFillGray(GREY)
    page.setLineWidth(0.2 * mm)
    page.setFont("Helvetica", 7)
    (a, b), (c, d) = sheet.rulers
    along, across = ruler_words(sheet)
    page.line(a[0] * mm, a[1] * mm, b[0] * mm, b[1] * mm)
    for x, y in (a, b):
        page.line(x * mm, (y - TICK_MM) * mm, x * mm, (y + TICK_MM) * mm)
    page.drawString(a[0] * mm, (a[1] - 4.0) * mm, along)
    page.line(c[0] * mm, c[1] * mm, d[0] * mm, d[1] * mm)
    for x, y in (c, d):
        page.line((x - TICK_MM) * mm, y * mm, (x + TICK_MM) * mm, y * mm)
    page.saveState()
    page.translate((c[0] + 4.0) * mm, c[1] * mm)
    page.rotate(90)
    page.drawString(0, 0, across)
    page.restoreState()
