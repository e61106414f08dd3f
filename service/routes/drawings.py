"""Drawings to take away: cut pieces at true size, lay sheets to scale; for a printer, a plotter or a
cutting machine."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from nesting.allowances.make import cut_piece
from service import wardrobe
from service.answer_layout import layout_from_json
from service.errors import NotFoundError
from service.formats.writing import Drawing, buy_line, cut_file, drawing_kind, file_name, lay_file
from service.routes.styles import database_of
from service.store import lays

router = APIRouter(prefix="/api", tags=["drawings"])

MEDIA = {
    Drawing.SVG: "image/svg+xml",
    Drawing.PDF: "application/pdf",
    Drawing.DXF: "image/vnd.dxf",
}


ANSWERS: dict[int | str, dict[str, Any]] = {
    200: {"content": {m: {} for m in MEDIA.values()}, "description": "the drawing"}
}
Page = Query(default="A4", description="printer's page of the PDF: A4, Letter, A3, A0")


@router.get("/styles/{style_id}/cut.{kind}", response_class=Response, responses=ANSWERS)
def cut_drawing(
    request: Request,
    style_id: str,
    kind: str,
    page: str = Page,
) -> Response:
    """All cut pieces of a style at true size: one drawing (svg, dxf), or tiles for a printer (pdf)."""
    form = drawing_kind(f"cut.{kind}")
    with database_of(request).reading() as session:
        _, style = wardrobe.stored_style(session, style_id)
    cuts = [cut_piece(p) for p in style.pieces]
    data = cut_file(cuts, style=style.name, kind=form, page=page)
    return _download(data, style.name, form)


@router.get("/lays/{lay_id}/sheet.{kind}", response_class=Response, responses=ANSWERS)
def lay_drawing(
    request: Request,
    lay_id: str,
    kind: str,
    cloth: str | None = Query(default=None, description="only this cloth, such as shell"),
    page: str = Page,
) -> Response:
    """The lay sheets of a lay's best layouts so far (svg, pdf), or the layouts at true size (dxf)."""
    form = drawing_kind(f"sheet.{kind}")
    with database_of(request).reading() as session:
        row = lays.get_lay(session, lay_id)
        found = lays.results_of(session, row.id)
        style = row.style
    wanted = [c for c in found if cloth in (None, c["cloth"])]
    if not wanted:
        raise NotFoundError(
            f"this lay of {style} has no layout{f' of the cloth “{cloth}”' if cloth else ''} yet",
            where="cloth" if cloth else lay_id,
            hint="Wait for the first layout." if not found else "Choose one of its cloths.",
        )
    layouts = [layout_from_json(c) for c in wanted]
    laid = [(x, buy_line(x, c["buy_text"])) for x, c in zip(layouts, wanted, strict=True)]
    return _download(lay_file(laid, style=style, kind=form, page=page), f"{style} lay", form)


def _download(data: bytes, title: str, form: Drawing) -> Response:
    name = quote(f"{file_name(title)}.{form}")
    # As a download: a drawing is never shown inside our own pages.
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{name}"}
    return Response(data, media_type=MEDIA[form], headers=headers)
