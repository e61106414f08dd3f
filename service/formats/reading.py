"""Any file that may hold pieces: what it is (by its content, not its name), and its style."""

from __future__ import annotations

import re
from dataclasses import replace
from enum import StrEnum

from nesting.findings import Finding
from nesting.pieces.piece import Style
from nesting.polygon import as_points
from service.errors import FormatError, UnknownTypeError
from service.formats.guarded import run_guarded
from service.formats.piece_sheet import read_piece_sheet
from service.formats.svg_in import read_svg


class FileType(StrEnum):
    """Kinds of file that are read."""

    PIECE_SHEET = "piece sheet"
    SVG = "SVG"
    DXF = "DXF"
    PDF = "PDF"


_OTHERS = (
    (b"\x89PNG", "a picture", "Trace its outlines as paths and save them as SVG."),
    (b"\xff\xd8\xff", "a picture", "Trace its outlines as paths and save them as SVG."),
    (b"PK\x03\x04", "an archive", "Unpack it and send the drawings in it."),
    (b"\x1f\x8b", "compressed", "Save the drawing as plain SVG, not as compressed SVG."),
    (b"AutoCAD Binary DXF", "a binary DXF", "Save the drawing as a text DXF, or as SVG."),
)


def read_bytes(
    data: bytes, *, name: str, unit_choice: str | None = None, guard: bool = True
) -> tuple[Style, tuple[Finding, ...]]:
    """The style in ``data``, and what was noticed; ``name`` is the file's name, for messages.

    ``unit_choice`` says what a drawing's unit is when the drawing does not (``svg_in.read_svg``).
    Drawings are read in a guarded process of their own unless ``guard`` is False. Raises FormatError
    with every problem found, UnitError with the choices, TooLargeError, TimeUpError, and
    UnknownTypeError for a kind of file that is not read.
    """
    kind = file_type(data, name=name)
    if kind is FileType.PIECE_SHEET:
        return read_piece_sheet(data, source=name)
    if not guard:
        return _read_drawing(kind, data, name, unit_choice)
    style, findings = run_guarded(_read_drawing, kind, data, name, unit_choice, source=name)
    return _read_only(style), findings


def file_type(data: bytes, *, name: str) -> FileType:
    """What ``data`` is, by its content. Raises FormatError when it is empty, UnknownTypeError when it
    is nothing that is read."""
    head = data[:4096]
    if not head.strip(b"\xef\xbb\xbf \t\r\n\x00"):
        raise FormatError(f"{name} is empty", where=name, hint="Save the drawing again.")
    text = _as_text(head).lstrip("\ufeff \t\r\n")
    if text[:1] in ("{", "["):
        return FileType.PIECE_SHEET
    if text[:1] == "<":
        return FileType.SVG
    if b"%PDF-" in head[:1024]:
        return FileType.PDF
    for magic, what, hint in _OTHERS:
        if head.startswith(magic):
            raise UnknownTypeError(
                f"{name} is {what}, which is not read here", where=name, hint=hint
            )
    if re.match(r"\s*(999\s*\n.*\n\s*)*0\s*\n\s*SECTION", text):
        return FileType.DXF
    raise UnknownTypeError(
        f"{name} is neither a piece sheet (JSON) nor a drawing (SVG, DXF, PDF)",
        where=name,
        hint="Save the drawing as plain SVG, or type the pieces into a piece sheet.",
    )


def _as_text(head: bytes) -> str:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return head[: len(head) // 2 * 2].decode("utf-16", errors="ignore")
    return head.decode("utf-8", errors="ignore")


def _read_drawing(
    kind: FileType, data: bytes, name: str, unit_choice: str | None
) -> tuple[Style, tuple[Finding, ...]]:
    # Imported here: in the guarded process, and only what the file needs.
    if kind is FileType.DXF:
        from service.formats.dxf_in import read_dxf

        return read_dxf(data, source=name, unit_choice=unit_choice)
    if kind is FileType.PDF:
        from service.formats.pdf_in import read_pdf

        return read_pdf(data, source=name, unit_choice=unit_choice)
    return read_svg(data, source=name, unit_choice=unit_choice)


def _read_only(style: Style) -> Style:
    """The same values with arrays read-only again: a pickle does not carry that."""
    pieces = tuple(
        replace(p, edges=tuple(replace(e, points=as_points(e.points)) for e in p.edges))
        for p in style.pieces
    )
    return replace(style, pieces=pieces)
