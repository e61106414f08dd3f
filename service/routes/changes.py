"""Changes to pieces, looked at before they are kept; truing of an unsaved sheet; the body check;
what of a style wants to be looked at."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import JSONResponse, Response

from nesting.allowances.defaults import HEMS_MM, SEAMS_MM
from service.body import body_check
from service.changing import changed_sheet
from service.look import look
from service.routes.styles import database_of
from service.schemas import StyleLooks, TruingView
from service.schemas_changes import (
    BodyCheckAnswer,
    BodyCheckRequest,
    ChangeAnswer,
    ChangeRequest,
    StyleSaid,
    UsualWidths,
)
from service.store import styles
from service.truing import truing_view
from service.wardrobe import style_of

router = APIRouter(prefix="/api", tags=["changes"])


@router.post("/changes", response_model=ChangeAnswer)
def change(request: Request, asked: ChangeRequest) -> Response:
    """A change of one piece, made and drawn but not kept: keep it by saving the sheet that comes back."""
    return JSONResponse(changed_sheet(_sheet(request, asked), asked.piece, asked.change))


@router.post("/truing", response_model=TruingView)
def truing(request: Request, asked: StyleSaid) -> Response:
    """Do the pieces sew together? As for a stored style, but a sheet may come that is not kept yet."""
    return JSONResponse(truing_view(style_of(_sheet(request, asked), source="the sheet")[0]))


@router.post("/body-check", response_model=BodyCheckAnswer)
def check_body(request: Request, asked: BodyCheckRequest) -> Response:
    """Sums across pieces and hands at named lines, darts taken out, against body and ease."""
    style = style_of(_sheet(request, asked), source="the sheet")[0]
    return JSONResponse(body_check(style, asked.measures))


@router.get("/looks", response_model=StyleLooks)
def looks(
    request: Request,
    style: Annotated[list[str], Query(max_length=50, description="ids of styles")] = [],  # noqa: B006
) -> Response:
    """How much of some styles wants to be looked at. A style that is gone is left out."""
    with database_of(request).reading() as session:
        sheets = {
            row.id: styles.get_sheet(session, row.id, row.revision)
            for id_ in style
            if (row := styles.find_style(session, id_)) is not None
        }
    return JSONResponse({"looks": [{"id": i, **look(sheet)} for i, sheet in sheets.items()]})


@router.get("/allowances/usual", response_model=UsualWidths)
def usual() -> Response:
    """Usual allowances by use: a sheet's defaults may name them by these words."""
    return JSONResponse({"seams": _widths(SEAMS_MM), "hems": _widths(HEMS_MM)})


def _widths(table: Any) -> list[dict[str, Any]]:
    return [{"name": name, "mm": mm} for name, mm in table.items()]


def _sheet(request: Request, asked: StyleSaid) -> dict[str, Any]:
    if asked.sheet is not None:
        return asked.sheet
    with database_of(request).reading() as session:
        row = styles.get_style(session, asked.style_id or "")
        return styles.get_sheet(session, row.id, row.revision)
