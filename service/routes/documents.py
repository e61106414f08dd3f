"""What a program or a drawing must look like to be read: the sheet's schema, the drawing convention."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from fastapi import APIRouter
from fastapi.responses import JSONResponse, Response

from service.formats.piece_sheet import piece_sheet_schema
from service.formats.svg_in import SVG_CONVENTION
from service.schemas import Convention

router = APIRouter(prefix="/api", tags=["documents"])


@router.get("/schema/piece-sheet", response_model=dict[str, Any])
def schema() -> Response:
    """JSON Schema of the piece sheet, every field with description and example."""
    return JSONResponse(_schema(), media_type="application/schema+json")


@router.get("/conventions/svg")
def svg_convention() -> Convention:
    """How grain, fold, notch, net and cut are said in a drawing that any vector editor can make."""
    return Convention(text=SVG_CONVENTION)


@lru_cache(maxsize=1)
def _schema() -> dict[str, Any]:
    return piece_sheet_schema()
