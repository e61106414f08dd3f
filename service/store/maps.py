"""Table maps as kept, which one is in use, and the check lines measured on the table."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import NotFoundError
from service.store.tables import CheckRow, MapRow, now


def add_map(session: Session, name: str, route: str, data: dict[str, Any]) -> MapRow:
    """Keep a new map and put it in use."""
    row = MapRow(name=name, route=route, data=data)
    session.add(row)
    session.flush()
    return row


def get_map(session: Session, map_id: str) -> MapRow:
    """The map, or NotFoundError."""
    row = session.get(MapRow, map_id)
    if row is None or row.deleted is not None:
        raise NotFoundError(
            f"there is no table map “{map_id}”",
            hint="It may have been thrown away in another window; calibrate, or choose another.",
            where=map_id,
        )
    return row


def list_maps(session: Session) -> list[MapRow]:
    """All maps, the one in use first."""
    query = select(MapRow).where(MapRow.deleted.is_(None)).order_by(MapRow.used.desc(), MapRow.id)
    return list(session.scalars(query))


def current_map(session: Session) -> MapRow:
    """The map in use, or NotFoundError when the table was never calibrated."""
    rows = list_maps(session)
    if not rows:
        raise NotFoundError(
            "the table has not been calibrated yet",
            hint="Open the calibration page and measure four crosses with a tape.",
            where="map",
            code="no_map",
        )
    return rows[0]


def use_map(session: Session, map_id: str) -> MapRow:
    """Put a map in use."""
    row = get_map(session, map_id)
    row.used = now()
    session.flush()
    return row


def delete_map(session: Session, map_id: str) -> None:
    """Take a map off the list."""
    get_map(session, map_id).deleted = now()


def add_check(
    session: Session, map_id: str, line: str, *, nominal_mm: float, measured_mm: float
) -> None:
    """Keep what a check line measured. Earlier readings of it stay, the newest counts."""
    get_map(session, map_id)
    session.add(CheckRow(map_id=map_id, line=line, nominal_mm=nominal_mm, measured_mm=measured_mm))
    session.flush()


def add_finding(
    session: Session, map_id: str, kind: str, *, off_mm: float, found: dict[str, Any]
) -> None:
    """Keep what a check that is no line found; the newest of its kind counts."""
    get_map(session, map_id)
    session.add(CheckRow(map_id=map_id, line=kind, nominal_mm=0, measured_mm=off_mm, found=found))
    session.flush()


def keep_marks(session: Session, map_id: str) -> MapRow:
    """Note that the four marks were made on the table just now."""
    row = get_map(session, map_id)
    row.data = {**row.data, "marks": {"made": now()}}
    session.flush()
    return row


def checks_of(session: Session, map_id: str) -> list[CheckRow]:
    """The newest reading of each check line, oldest first."""
    query = select(CheckRow).where(CheckRow.map_id == map_id).order_by(CheckRow.when, CheckRow.id)
    newest = {row.line: row for row in session.scalars(query)}
    return sorted(newest.values(), key=lambda row: row.when)
