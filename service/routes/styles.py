"""Styles: in from files or sheets, out with their drawings, changed by revisions."""

from __future__ import annotations

import json
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from nesting.findings import Finding
from nesting.pieces.piece import Style
from service import wardrobe
from service.errors import FormatError, UnknownTypeError
from service.formats.piece_sheet import read_piece_sheet
from service.formats.reading import FileType, file_type, read_bytes
from service.schemas import StyleDetail, StyleList, StyleUpdate, TruingView
from service.store import styles
from service.store.database import Database
from service.truing import truing_view

SHEET_BODY = "piece sheet"
"""What a JSON body is called in messages: it has no file name, and it cannot be anything else."""

router = APIRouter(prefix="/api/styles", tags=["styles"])

UPLOAD_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            "multipart/form-data": {
                "schema": {
                    "type": "object",
                    "required": ["file"],
                    "properties": {
                        "file": {"type": "string", "format": "binary"},
                        "unit_choice": {
                            "type": "string",
                            "description": "what the drawing's unit is, if it does not say",
                        },
                    },
                }
            },
            "application/json": {
                "schema": {"type": "object", "description": "a piece sheet"},
                "example": {
                    "format": "grainfold piece sheet",
                    "version": 1,
                    "unit": "cm",
                    "style": "Apron of the inn scene",
                    "pieces": [
                        {
                            "name": "Skirt",
                            "outline": {"rectangle": {"width": 90, "length": 60}},
                        }
                    ],
                },
            },
        },
    }
}


def database_of(request: Request) -> Database:
    """The service's database."""
    database: Database = request.app.state.database
    return database


@router.get("", response_model=StyleList)
def list_styles(request: Request) -> Response:
    """All styles, by name."""
    with database_of(request).reading() as session:
        found = [wardrobe.summary(row, sheet) for row, sheet in styles.list_styles(session)]
    return JSONResponse({"styles": found})


@router.post("", response_model=StyleDetail, status_code=201, openapi_extra=UPLOAD_BODY)
async def add_style(request: Request) -> Response:
    """Read a file (multipart field ``file``) or a piece sheet (JSON body) and keep its style."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind == "multipart/form-data":
        name, data, choice = await _uploaded(request)
    elif kind == "application/json":
        name, data, choice = SHEET_BODY, await request.body(), None
    else:
        raise UnknownTypeError(
            f"styles come as multipart/form-data or application/json, not as {kind or 'nothing'}",
            hint="Send the file in the field “file”, or a piece sheet as JSON.",
            where="Content-Type",
        )
    return await run_in_threadpool(_read_and_keep, request, name, data, choice)


@router.get("/{style_id}", response_model=StyleDetail)
def get_style(request: Request, style_id: str) -> Response:
    """A style with its pieces as drawn and as cut."""
    with database_of(request).reading() as session:
        return JSONResponse(wardrobe.detail(session, styles.get_style(session, style_id)))


@router.get("/{style_id}/truing", response_model=TruingView)
def truing(request: Request, style_id: str) -> Response:
    """Do the pieces sew together? Declared partners walked against each other along the net line."""
    with database_of(request).reading() as session:
        _, style = wardrobe.stored_style(session, style_id)
    return JSONResponse(truing_view(style))


@router.put("/{style_id}", response_model=StyleDetail)
def put_style(request: Request, style_id: str, update: StyleUpdate) -> Response:
    """Keep a changed sheet as a new revision."""
    style, findings = wardrobe.style_of(update.sheet, source="the sheet")
    with database_of(request).writing() as session:
        row = styles.save_style(
            session,
            style_id,
            wardrobe.as_listed(update.sheet, style, findings),
            name=style.name,
            note=style.note,
            revision=update.revision,
        )
        return JSONResponse(wardrobe.detail(session, row, noticed=findings))


@router.post("/{style_id}/undo", response_model=StyleDetail)
def undo(request: Request, style_id: str) -> Response:
    """Back to the revision before."""
    with database_of(request).writing() as session:
        return JSONResponse(wardrobe.detail(session, styles.undo(session, style_id)))


@router.post("/{style_id}/redo", response_model=StyleDetail)
def redo(request: Request, style_id: str) -> Response:
    """Forward again."""
    with database_of(request).writing() as session:
        return JSONResponse(wardrobe.detail(session, styles.redo(session, style_id)))


@router.delete("/{style_id}", status_code=204)
def delete_style(request: Request, style_id: str) -> Response:
    """Take a style off the list; its lays stay."""
    with database_of(request).writing() as session:
        styles.delete_style(session, style_id)
    return Response(status_code=204)


async def _uploaded(request: Request) -> tuple[str, bytes, str | None]:
    async with request.form(max_files=1, max_fields=20) as form:
        file = form.get("file")
        if not isinstance(file, UploadFile):
            raise FormatError(
                "no file came in the field “file”", hint="Choose a file first.", where="file"
            )
        choice = form.get("unit_choice")
        name = (file.filename or "file").replace("\\", "/").rpartition("/")[2][:120]
        return name, await file.read(), choice if isinstance(choice, str) and choice else None


def _read_and_keep(request: Request, name: str, data: bytes, choice: str | None) -> Response:
    style, findings, sheet = _read(name, data, choice)
    with database_of(request).writing() as session:
        kept = None if sheet is None else wardrobe.as_listed(sheet, style, findings)
        row = wardrobe.add(session, style, source=name, sheet=kept)
        return JSONResponse(wardrobe.detail(session, row, noticed=findings), status_code=201)


def _read(
    name: str, data: bytes, choice: str | None
) -> tuple[Style, tuple[Finding, ...], dict[str, Any] | None]:
    is_sheet = name == SHEET_BODY or file_type(data, name=name) is FileType.PIECE_SHEET
    if is_sheet:
        style, findings = read_piece_sheet(data, source=name)
    else:
        style, findings = read_bytes(data, name=name, unit_choice=choice)
    return style, findings, json.loads(data.decode("utf-8-sig")) if is_sheet else None
