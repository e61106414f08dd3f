"""Lays as kept: the request, how far it is, and the best layout of every cloth so far."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from service.errors import NotFoundError
from service.store.tables import ClothResultRow, LayRow, now

OVER = frozenset({"done", "stopped", "failed"})


def add_lay(
    session: Session, *, style_id: str, revision: int, style: str, request: dict[str, Any]
) -> LayRow:
    """Keep a new lay, waiting for its search."""
    row = LayRow(style_id=style_id, revision=revision, style=style, request=request)
    session.add(row)
    session.flush()
    return row


def get_lay(session: Session, lay_id: str) -> LayRow:
    """The lay, or NotFoundError."""
    row = session.get(LayRow, lay_id)
    if row is None or row.deleted is not None:
        raise NotFoundError(
            f"there is no lay “{lay_id}”",
            hint="It may have been deleted in another window; make a new one from the style.",
            where=lay_id,
        )
    return row


def list_lays(session: Session, style_id: str | None = None) -> list[LayRow]:
    """All lays (of one style), newest first."""
    query = select(LayRow).where(LayRow.deleted.is_(None)).order_by(LayRow.created.desc())
    if style_id is not None:
        query = query.where(LayRow.style_id == style_id)
    return list(session.scalars(query))


def results_of(session: Session, lay_id: str) -> list[dict[str, Any]]:
    """The cloths' results so far, in the style's order."""
    query = (
        select(ClothResultRow.result)
        .where(ClothResultRow.lay_id == lay_id)
        .order_by(ClothResultRow.position)
    )
    return list(session.scalars(query))


def keep_result(session: Session, lay_id: str, position: int, result: dict[str, Any]) -> None:
    """Keep a cloth's result in place of the one before."""
    row = {
        "lay_id": lay_id,
        "cloth": result["cloth"],
        "position": position,
        "result": result,
        "updated": now(),
    }
    insert = sqlite.insert if session.get_bind().dialect.name == "sqlite" else postgresql.insert
    statement = insert(ClothResultRow).values(row)
    session.execute(
        statement.on_conflict_do_update(
            index_elements=["lay_id", "cloth"],
            set_={name: row[name] for name in ("position", "result", "updated")},
        )
    )


def set_state(
    session: Session, lay_id: str, state: str, *, error: dict[str, Any] | None = None
) -> None:
    """Set how far the lay is."""
    session.execute(
        update(LayRow).where(LayRow.id == lay_id).values(state=state, error=error, updated=now())
    )


def unfinished(session: Session) -> list[LayRow]:
    """Lays whose search had not ended when the service last did."""
    query = select(LayRow).where(LayRow.state.not_in(OVER), LayRow.deleted.is_(None))
    return list(session.scalars(query.order_by(LayRow.created)))


def delete_lay(session: Session, lay_id: str) -> None:
    """Take the lay off the list."""
    get_lay(session, lay_id).deleted = now()
