"""Styles as kept: every save is a revision, undo and redo move between them, nothing is lost."""

from __future__ import annotations

from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.errors import ConflictError, NotFoundError
from service.store.tables import RevisionRow, StyleRow, now


def list_styles(session: Session) -> list[tuple[StyleRow, dict[str, Any]]]:
    """All styles with their present sheets, by name."""
    query = (
        select(StyleRow, RevisionRow.sheet)
        .join(
            RevisionRow,
            (RevisionRow.style_id == StyleRow.id) & (RevisionRow.number == StyleRow.revision),
        )
        .where(StyleRow.deleted.is_(None))
        .order_by(func.lower(StyleRow.name), StyleRow.created)
    )
    return [(row, sheet) for row, sheet in session.execute(query)]


def find_style(session: Session, style_id: str) -> StyleRow | None:
    """The style, or None for one that is not there or was deleted."""
    row = session.get(StyleRow, style_id)
    return None if row is None or row.deleted is not None else row


def get_style(session: Session, style_id: str) -> StyleRow:
    """The style, or NotFoundError."""
    row = find_style(session, style_id)
    if row is None:
        raise NotFoundError(
            f"there is no style “{style_id}”",
            hint="It may have been deleted in another window; the list shows what there is.",
            where=style_id,
        )
    return row


def get_sheet(session: Session, style_id: str, number: int) -> dict[str, Any]:
    """The piece sheet of one revision of a style."""
    row = session.get(RevisionRow, (style_id, number))
    if row is None:
        raise NotFoundError(f"style {style_id} has no revision {number}", where=style_id)
    return row.sheet


def add_style(
    session: Session, name: str, sheet: dict[str, Any], *, note: str = "", source: str = ""
) -> StyleRow:
    """Keep a new style as its revision 1."""
    row = StyleRow(name=name, note=note, source=source, revision=1)
    session.add(row)
    session.flush()
    session.add(RevisionRow(style_id=row.id, number=1, sheet=sheet))
    session.flush()
    return row


def save_style(
    session: Session, style_id: str, sheet: dict[str, Any], *, name: str, note: str, revision: int
) -> StyleRow:
    """Keep a new revision made from ``revision``. Raises ConflictError if that is not the present
    one any more."""
    row = get_style(session, style_id)
    if row.revision != revision:
        raise ConflictError(
            f"{row.name} was changed meanwhile: revision {row.revision} is current, "
            f"yours was made from {revision}",
            hint="Load the style again and make the change there; undo brings the other one back.",
            where="revision",
        )
    query = select(func.max(RevisionRow.number)).where(RevisionRow.style_id == style_id)
    newest = session.execute(query).scalar_one()
    session.add(RevisionRow(style_id=style_id, number=newest + 1, parent=revision, sheet=sheet))
    row.name, row.note, row.revision, row.updated = name, note, newest + 1, now()
    session.flush()
    return row


def undo(session: Session, style_id: str) -> StyleRow:
    """Go back to the revision that the present one was made from."""
    row = get_style(session, style_id)
    present = session.get_one(RevisionRow, (style_id, row.revision))
    if present.parent is None:
        raise ConflictError(
            f"{row.name} has nothing to undo", hint="This is its first state.", code="no_undo"
        )
    return _show(session, row, present.parent)


def redo(session: Session, style_id: str) -> StyleRow:
    """Go forward to the newest revision made from the present one."""
    row = get_style(session, style_id)
    query = select(func.max(RevisionRow.number)).where(
        RevisionRow.style_id == style_id, RevisionRow.parent == row.revision
    )
    child = session.execute(query).scalar_one_or_none()
    if child is None:
        raise ConflictError(
            f"{row.name} has nothing to redo", hint="This is its newest state.", code="no_redo"
        )
    return _show(session, row, child)


def can_undo_redo(session: Session, row: StyleRow) -> tuple[bool, bool]:
    """Whether there is something to undo, and to redo."""
    present = session.get_one(RevisionRow, (row.id, row.revision))
    query = select(func.count()).where(
        RevisionRow.style_id == row.id, RevisionRow.parent == row.revision
    )
    return present.parent is not None, session.execute(query).scalar_one() > 0


def delete_style(session: Session, style_id: str) -> None:
    """Take the style off the list. Its lays stay, and so do its revisions in the database."""
    get_style(session, style_id).deleted = now()


def _show(session: Session, row: StyleRow, number: int) -> StyleRow:
    sheet = get_sheet(session, row.id, number)
    row.revision, row.updated = number, now()
    row.name = str(sheet.get("style", row.name))
    row.note = str(sheet.get("note", ""))
    session.flush()
    return row
