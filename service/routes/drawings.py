"""Cut pieces to take away: true-size drawings for a printer, a plotter or a cutting machine."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from nesting.allowances.make import cut_piece
from service import wardrobe
from service.formats.writing import Drawing, cut_file, drawing_kind, file_name
from service.routes.styles import database_of

router = APIRouter(prefix="/api/styles", tags=["drawings"])

MEDIA = {
    Drawing.SVG: "image/svg+xml",
    Drawing.PDF: "application/pdf",
    Drawing.DXF: "image/vnd.dxf",
}


@router.get(
    "/{style_id}/cut.{kind}",
    response_class=Response,
    responses={200: {"content": {m: {} for m in MEDIA.values()}, "description": "the drawing"}},
)
def cut_drawing(
    request: Request,
    style_id: str,
    kind: str,
    page: str = Query(default="A4", description="printer's page of the PDF: A4, Letter, A3, A0"),
) -> Response:
    """All cut pieces of a style at true size: one drawing (svg, dxf), or tiles for a printer (pdf)."""
    form = drawing_kind(f"cut.{kind}")
    with database_of(request).reading() as session:
        _, style = wardrobe.stored_style(session, style_id)
    cuts = [cut_piece(p) for p in style.pieces]
    data = cut_file(cuts, style=style.name, kind=form, page=page)
    name = quote(f"{file_name(style.name)}.{form}")
    # As a download: a drawing is never shown inside our own pages.
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{name}"}
    return Response(data, media_type=MEDIA[form], headers=headers)
