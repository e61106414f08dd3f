"""Styles in and out of the store: read with the same readers as files, viewed as pieces."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from nesting.findings import Finding
from nesting.pieces.piece import Style
from service import views
from service.errors import FormatError
from service.formats.piece_sheet import read_piece_sheet, write_piece_sheet
from service.store import styles
from service.store.tables import NoteRow, StyleRow

DEMO_DIR = Path(__file__).resolve().parent / "demo"
DEMO_NOTE = "demo wardrobe"

Read = Callable[[bytes], tuple[Style, tuple[Finding, ...]]]


def style_of(sheet: dict[str, Any], source: str) -> tuple[Style, tuple[Finding, ...]]:
    """The style of a piece sheet that came as JSON. Raises FormatError naming piece and field."""
    text = json.dumps(sheet, allow_nan=True)
    return read_piece_sheet(text.encode(), source=source)


def stored_style(
    session: Session, style_id: str, revision: int | None = None
) -> tuple[StyleRow, Style]:
    """A style as kept, in its present revision unless another is named."""
    row = styles.get_style(session, style_id)
    sheet = styles.get_sheet(session, style_id, revision or row.revision)
    return row, style_of(sheet, row.source or row.name)[0]


def as_listed(sheet: dict[str, Any], style: Style, findings: Sequence[Finding]) -> dict[str, Any]:
    """The sheet to keep: as it came, unless an outline was listed the other way round. Then the sheet
    is written anew, so that what a page shows of an edge and what it changes are the same."""
    turned = any(f.code == "clockwise" for f in findings)
    return write_piece_sheet(style) if turned else sheet


def add(
    session: Session, style: Style, *, source: str, sheet: dict[str, Any] | None = None
) -> StyleRow:
    """Keep a style; ``sheet`` is its sheet as it came, else one is written."""
    return styles.add_style(
        session, style.name, sheet or write_piece_sheet(style), note=style.note, source=source
    )


def summary(row: StyleRow, sheet: dict[str, Any]) -> dict[str, Any]:
    """A line of the list of styles. A sheet that this version cannot read any more is still listed."""
    try:
        style, _ = style_of(sheet, row.source or row.name)
    except FormatError:
        style = Style(row.name, ())
    return {
        "id": row.id,
        "name": row.name,
        "note": row.note,
        "pieces": len(style.pieces),
        "cloths": list(style.cloths),
        "source": row.source,
        "updated": row.updated,
        "revision": row.revision,
    }


def detail(
    session: Session, row: StyleRow, *, noticed: tuple[Finding, ...] | None = None
) -> dict[str, Any]:
    """A style with its drawings. ``noticed`` are findings of the file it was just read from."""
    sheet = styles.get_sheet(session, row.id, row.revision)
    style, findings = style_of(sheet, row.source or row.name)
    undo, redo = styles.can_undo_redo(session, row)
    return {
        "id": row.id,
        "name": row.name,
        "note": row.note,
        "source": row.source,
        "sheet": sheet,
        "pieces": [views.piece_view(p) for p in style.pieces],
        "findings": [views.finding_view(f) for f in (findings if noticed is None else noticed)],
        "revision": row.revision,
        "can_undo": undo,
        "can_redo": redo,
    }


def load_demo(session: Session, folder: Path = DEMO_DIR) -> list[StyleRow]:
    """Put the demo wardrobe into a store that never had it. Returns what was added."""
    if session.get(NoteRow, DEMO_NOTE) is not None:
        return []
    added = []
    for file in sorted(folder.glob("*.json")):
        data = file.read_bytes()
        style, findings = read_piece_sheet(data, source=file.name)
        sheet = as_listed(json.loads(data), style, findings)
        added.append(add(session, style, source=file.name, sheet=sheet))
    session.add(NoteRow(name=DEMO_NOTE, value=f"{len(added)} styles"))
    session.flush()
    return added
