"""Boards to print, the pattern to light, photos to look at, and the map they make."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response
from starlette.concurrency import run_in_threadpool

from calibration.boards import pattern, sheet
from service import camera
from service.formats.board_pdf import board_pdf
from service.routes.maps import keep_map
from service.routes.photo_form import photo_body, posted_photo
from service.schemas_camera import LookView, LookWish, PatternView, PhotoMapWish
from service.schemas_maps import MapDetail

router = APIRouter(prefix="/api", tags=["table"])


@router.get("/boards/{paper}.pdf", response_class=Response)
def printable_board(
    paper: Literal["A4", "A3", "Letter"],
    columns: Annotated[int, Query(ge=2, le=40)] = 9,
    rows: Annotated[int, Query(ge=2, le=40)] = 6,
) -> Response:
    """A checkerboard to print at 100 %, with two lines to measure."""
    page = board_pdf(sheet(paper, columns, rows))
    name = f"board-{paper}-{columns}x{rows}.pdf"
    return Response(
        page,
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )


@router.get("/boards/pattern")
def lit_pattern(
    width: Annotated[int, Query(ge=64, le=16384)] = 1920,
    height: Annotated[int, Query(ge=64, le=16384)] = 1080,
    hole: bool = True,
) -> PatternView:
    """The pattern that fills the projector's canvas, with a white place for the sheet or without."""
    thrown = pattern((width, height), hole_squares=(8, 5) if hole else None)
    return PatternView(
        canvas=thrown.canvas_px,
        black=[(int(x), int(y), int(w), int(h)) for x, y, w, h in thrown.black],
        hole=thrown.hole_px,
    )


@router.post("/photos/look", response_model=LookView, openapi_extra=photo_body("LookWish"))
async def look(request: Request) -> LookView:
    """What a photo shows, or why it shows nothing of use. The photo is not kept."""
    data, name, wish = await posted_photo(request, LookWish)
    return await run_in_threadpool(camera.look, data, wish, where=name)


@router.post("/maps/by-photos", status_code=201)
def map_by_photos(wish: PhotoMapWish, request: Request) -> MapDetail:
    """Keep the map that the photos make and put it in use."""
    return keep_map(request, wish.name or "table", "camera", camera.map_by_photos(wish))
