"""Cuttings as kept: one row for each cloth of a lay, every change with the next number."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import NotFoundError
from service.store.lays import get_lay
from service.store.tables import ClothResultRow, CuttingRow, LayRow, now


def layout_of(session: Session, lay_id: str, cloth: str) -> dict[str, Any]:
    """The layout to cut by: the one approved, or the best found so far. Raises NotFoundError."""
    get_lay(session, lay_id)
    row = session.get(CuttingRow, (lay_id, cloth))
    if row is not None and row.data.get("layout"):
        kept: dict[str, Any] = row.data["layout"]
        return kept
    found = session.get(ClothResultRow, (lay_id, cloth))
    if found is None:
        raise NotFoundError(
            f"this lay has no layout for {cloth} yet",
            hint="Wait for the first layout, or choose another cloth.",
            where="cloth",
        )
    return found.result


def get_cutting(session: Session, lay_id: str, cloth: str) -> CuttingRow | None:
    """The cutting of a cloth, or None before anything was done."""
    return session.get(CuttingRow, (lay_id, cloth))


def list_cuttings(session: Session) -> list[tuple[CuttingRow, LayRow]]:
    """All cuttings that were begun, with their lays, the one last moved first."""
    query = (
        select(CuttingRow, LayRow)
        .join(LayRow, LayRow.id == CuttingRow.lay_id)
        .where(LayRow.deleted.is_(None))
        .order_by(CuttingRow.updated.desc())
    )
    return [(cutting, lay) for cutting, lay in session.execute(query)]


def keep_cutting(session: Session, lay_id: str, cloth: str, data: dict[str, Any]) -> CuttingRow:
    """Keep the next state of a cutting."""
    row = session.get(CuttingRow, (lay_id, cloth))
    if row is None:
        row = CuttingRow(lay_id=lay_id, cloth=cloth, number=0, data={})
        session.add(row)
    row.data, row.number, row.updated = data, row.number + 1, now()
    session.flush()
    return row
